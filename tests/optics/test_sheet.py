"""Thin sheets: totals along the normal, the energy sum at every angle, reciprocity, and the sampler's own density.

The film's part is checked in test_film.py; here T, T(0) and 2∫T·µ dµ are the closed forms it is checked against.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

import chi2
from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import sheet
from throughlight.trace.tables import PART, SurfaceKind

BANDS = ("red", "green", "blue")

# n: T(0) = 2n/(n² + 1) and 2∫T·µ dµ of a clear plate, closed form and quadrature in double precision (Stokes 1862).
PLATE = {1.0: (1.0, 1.0), 1.33: (2 * 1.33 / (1 + 1.33**2), 0.891534), 1.5: (3.0 / 3.25, 0.850938)}
MIRRORED_60 = {1.0: 0.0, 1.33: 1.0 - 0.893414, 1.5: 1.0 - 0.848128}

RETURNED = (0.2, 0.15, 0.0)
STRAIGHT = (0.3, 0.1, 0.2)
THROUGH = (0.35, 0.5, 0.1)


def record(straight=STRAIGHT, through=THROUGH, n=1.0):
    """Return a table of one PART."""
    row = np.zeros(1, PART)
    row["surface"], row["n"] = SurfaceKind.SHEET, n
    row["spread"] = PLATE[n][1] / PLATE[n][0]
    for band, passed, spread in zip(BANDS, straight, through, strict=True):
        row[f"straight_{band}"], row[f"through_{band}"] = passed, spread
    return row


def direction(mu, phi=0.0):
    sine = math.sqrt(1.0 - mu * mu)
    return (sine * math.cos(phi), sine * math.sin(phi), mu)


@loop
def _sample(parts, returned, wi, u):
    wo, weight, density = np.empty((len(u), 3)), np.empty((len(u), 3)), np.empty(len(u))
    straight = np.empty(len(u), np.bool_)
    for i in range(len(u)):
        wo[i], weight[i], density[i], straight[i] = sheet.sample(parts[0], returned, wi, u[i, 0], u[i, 1], u[i, 2])
    return wo, weight, density, straight


@loop
def _both(parts, returned, wi, wo):
    value, density = np.empty((len(wo), 3)), np.empty(len(wo))
    for i in range(len(wo)):
        o = (wo[i, 0], wo[i, 1], wo[i, 2])
        value[i] = sheet.evaluate(parts[0], returned, wi, o)
        density[i] = sheet.pdf(parts[0], returned, wi, o)
    return value, density


@loop
def _straight(parts, cosine):
    return sheet.straight(parts[0], cosine)


def spread(parts, returned, mu):
    """Return the integrals of f·cos over the side that light comes from and over the other, by band.

    In s = √µ, nodes crowded toward the horizon, where a film changes fast.
    """
    s, w = panels(0.0, 1.0, 8)
    z = s * s
    side = np.stack([np.sqrt(1.0 - z * z), np.zeros_like(z), z], axis=1)
    weights = (2.0 * math.pi * 2.0 * s * w)[:, None]
    back, _ = _both(parts, returned, direction(mu), side)
    forth, _ = _both(parts, returned, direction(mu), side * [1.0, 1.0, -1.0])
    return (back * weights).sum(axis=0), (forth * weights).sum(axis=0)


def mirrored(mu, n):
    """Return 1 − T of a clear plate from the amplitudes' squares in textbook form (Born and Wolf 1999, §1.5.2)."""
    if n == 1.0:
        return 0.0
    bent = math.sqrt(1.0 - (1.0 - mu * mu) / (n * n))
    rs = ((mu - n * bent) / (mu + n * bent)) ** 2
    rp = ((n * mu - bent) / (n * mu + bent)) ** 2
    return 1.0 - 0.5 * ((1.0 - rs) / (1.0 + rs) + (1.0 - rp) / (1.0 + rp))


@pytest.mark.parametrize("n", PLATE)
def test_along_the_normal_the_totals_are_those_given(n):
    parts = record(n=n)
    back, forth = spread(parts, RETURNED, 1.0)
    assert back == pytest.approx(RETURNED, abs=1e-6)
    assert forth == pytest.approx(THROUGH, abs=1e-6)
    assert _straight(parts, 1.0) == pytest.approx(STRAIGHT, abs=1e-12)


@pytest.mark.parametrize("n", PLATE)
def test_at_60_degrees_all_three_go_down_with_the_film(n):
    """T(60°)/T(0) of the plate's published table; the spread lobes as the straight light."""
    parts, share = record(n=n), (1.0 - MIRRORED_60[n]) / PLATE[n][0]
    back, forth = spread(parts, RETURNED, 0.5)
    assert back == pytest.approx(np.multiply(RETURNED, share), abs=2e-6)
    assert forth == pytest.approx(np.multiply(THROUGH, share), abs=2e-6)
    assert _straight(parts, 0.5) == pytest.approx(np.multiply(STRAIGHT, share), abs=2e-6)


@pytest.mark.parametrize("n", PLATE)
@pytest.mark.parametrize("kept", [1.0, 0.6])
def test_no_angle_gives_more_than_it_gets(n, kept):
    """S + D + R = κ·T(0): M(θ) + κ·T(θ) comes out at every angle, all of it when κ = 1."""
    normal = PLATE[n][0]
    parts = record((0.3 * kept * normal,) * 3, (0.5 * kept * normal,) * 3, n)
    returned = (0.2 * kept * normal,) * 3
    for mu in (1.0, 0.9, 0.5, 0.2, 0.05, 1e-3):
        back, forth = spread(parts, returned, mu)
        out = mirrored(mu, n) + np.array(_straight(parts, mu)) + back + forth
        assert out == pytest.approx([1.0 - (1.0 - kept) * (1.0 - mirrored(mu, n))] * 3, abs=1e-6)
        assert (out <= 1.0 + 1e-6).all()


@pytest.mark.parametrize("n", PLATE)
def test_reciprocal_on_both_sides(n):
    """f(i → o) = f(o → i); through the sheet, the way back comes from the other side, whose normal is turned round."""
    parts, rng = record(n=n), np.random.default_rng(3)
    for a, b, phi in rng.uniform(0.01, 1.0, (50, 3)):
        i, o = direction(a), direction(b, 6.0 * phi)
        below = (o[0], o[1], -o[2])
        there, _ = _both(parts, RETURNED, i, np.array([o, below]))
        back, _ = _both(parts, RETURNED, o, np.array([i, (i[0], i[1], -i[2])]))
        assert there / b == pytest.approx(back / a, rel=1e-12)


CASES = [(mu, n) for mu in (1.0, 0.5, 0.05) for n in PLATE]


@pytest.mark.parametrize(("mu", "n"), CASES)
def test_directions_are_spread_as_their_density(mu, n):
    parts, wi, samples = record(n=n), direction(mu), 100_000
    wo, weight, density, straight = _sample(parts, RETURNED, wi, np.random.default_rng(5).random((samples, 3)))
    lobes = density > 0.0
    sphere = Sphere(24, 16, 8)
    _, densities = _both(parts, RETURNED, wi, sphere.nodes)
    # The chance of each way is its mean over the bands over the sum of all means.
    means = np.array([np.mean(STRAIGHT), np.mean(THROUGH), np.mean(RETURNED)])
    means *= (1.0 - mirrored(mu, n)) / PLATE[n][0]
    chances = np.array([mirrored(mu, n), *means]) / (mirrored(mu, n) + means.sum())
    total = chances[2] + chances[3]
    sphere.test(wo[lobes], densities, rejected=int((~lobes).sum()), tests=len(CASES), total=total)
    value, again = _both(parts, RETURNED, wi, wo[lobes])
    assert again == pytest.approx(density[lobes], rel=1e-12)
    assert weight[lobes] == pytest.approx(value / again[:, None], rel=1e-12)
    events = [
        (~lobes & ~straight).sum(),
        straight.sum(),
        (lobes & (wo[:, 2] < 0)).sum(),
        (lobes & (wo[:, 2] > 0)).sum(),
    ]
    chi2.agrees(events, chances * samples, tests=len(CASES))


@pytest.mark.parametrize(("mu", "n"), CASES)
def test_weights_average_to_what_leaves_the_sheet(mu, n):
    """M + (S + D + R)·T(θ)/T(0) by band; z-tests on three bands of all cases, joint level one per cent (Šidák)."""
    parts, wi = record(n=n), direction(mu)
    _, weight, _, _ = _sample(parts, RETURNED, wi, np.random.default_rng(7).random((100_000, 3)))
    share = (1.0 - mirrored(mu, n)) / PLATE[n][0]
    expected = mirrored(mu, n) + np.add(np.add(STRAIGHT, THROUGH), RETURNED) * share
    error = weight.std(axis=0) / math.sqrt(len(weight))
    assert (error < 0.01 * expected).all()
    limit = stats.norm.isf(chi2.level(3 * len(CASES)) / 2.0)
    assert (np.abs(weight.mean(axis=0) - expected) < limit * error + 1e-7).all()


def test_what_is_determined_has_no_density():
    parts, wi = record((0.3,) * 3, (0.2,) * 3, 1.5), direction(0.6)
    wo, weight, density, straight = _sample(parts, RETURNED, wi, np.random.default_rng(9).random((2000, 3)))
    on = straight
    glints = ~straight & (density == 0.0)
    assert on.any()
    assert glints.any()
    assert wo[on] == pytest.approx(np.tile(np.negative(wi), (on.sum(), 1)))
    assert wo[glints] == pytest.approx(np.tile([-wi[0], -wi[1], wi[2]], (glints.sum(), 1)))
    # A mirrored ray has the film's own colour: none.
    assert np.ptp(weight[glints], axis=1).max() == 0.0
    assert (density[on] == 0.0).all()


def test_clear_and_opaque_sheets_have_one_way_only():
    none = (0.0, 0.0, 0.0)
    u = np.random.default_rng(1).random((500, 3))
    _, weight, _, straight = _sample(record((0.7, 0.5, 0.6), none), none, direction(0.3), u)
    assert straight.all()
    assert weight == pytest.approx(np.tile([0.7, 0.5, 0.6], (len(u), 1)))
    wo, weight, density, straight = _sample(record(none, none), (0.4,) * 3, direction(0.3), u)
    assert not straight.any()
    assert (wo[:, 2] > 0.0).all()
    assert (density > 0.0).all()
    assert weight == pytest.approx(0.4)
    _, weight, density, straight = _sample(record(none, none), none, direction(0.3), u)
    assert not weight.any()
    assert not density.any()
    assert not straight.any()


@pytest.mark.parametrize("mu", [1e-3, 1e-9, 1e-300, 0.0])
def test_grazing_light_stays_finite(mu):
    for n in PLATE:
        parts, wi = record(n=n), direction(mu)
        wo, weight, density, _ = _sample(parts, RETURNED, wi, np.random.default_rng(1).random((300, 3)))
        value, again = _both(parts, RETURNED, wi, wo)
        for found in (wo, weight, density, value, again):
            assert np.isfinite(found).all()
        assert weight.min() >= 0.0
        # No way out of any band weighs more than thrice: the rarest band's share is at most three times the mean.
        assert weight.max() <= 3.0
