from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

import chi2
from doors import loop
from throughlight.optics import medium

# Extinction by band, 1/m, and shares of the mixture: skin-like, one band clear, one band out of use, one band alone.
CASES = [
    ((200.0, 900.0, 2500.0), (0.5, 0.3, 0.2)),
    ((0.0, 40.0, 90.0), (0.2, 0.4, 0.4)),
    ((5.0, 700.0, 60.0), (0.5, 0.0, 0.5)),
    ((30.0, 30.0, 30.0), (0.0, 1.0, 0.0)),
]


@loop
def _flights(sigma, choice, u):
    out = np.empty(len(u))
    for i in range(len(u)):
        out[i] = medium.sample_distance(sigma, choice, u[i, 0], u[i, 1])
    return out


@loop
def _weights(t, sigma, choice):
    """(n, 3): each band's own density of collisions over the mixture's; 0 for flights that never end."""
    out = np.zeros((len(t), 3))
    for i in range(len(t)):
        if t[i] < math.inf:
            e = medium.transmittance(t[i], sigma)
            p = medium.density(t[i], sigma, choice)
            out[i] = (sigma[0] * e[0] / p, sigma[1] * e[1] / p, sigma[2] * e[2] / p)
    return out


def edges_of(sigma):
    """Cells of flight, m: spread over all the bands' free paths."""
    lengths = [1.0 / s for s in sigma if s > 0.0]
    return np.concatenate([[0.0], np.geomspace(0.02 * min(lengths), 6.0 * max(lengths), 60)])


@pytest.mark.parametrize(("sigma", "choice"), CASES)
def test_density_is_the_slope_of_reach(sigma, choice):
    """A flight ends in [a, b] with the probability that it reaches a but not b."""
    edges = edges_of(sigma)
    for a, b in zip(edges[:-1:6], edges[1::6], strict=True):
        share, _ = integrate.quad(medium.density, a, b, args=(sigma, choice), epsabs=1e-14)
        assert share == pytest.approx(medium.reach(a, sigma, choice) - medium.reach(b, sigma, choice), abs=1e-12)
    assert medium.reach(0.0, sigma, choice) == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize(("sigma", "choice"), CASES)
def test_flights_are_spread_as_their_density(sigma, choice):
    u = np.random.default_rng(21).random((200_000, 2))
    flights = _flights(sigma, choice, u)
    edges = np.append(edges_of(sigma), np.inf)
    reached = np.array([medium.reach(float(t), sigma, choice) for t in edges[:-1]] + [0.0])
    observed = np.histogram(flights, bins=edges)[0]
    chi2.agrees(observed, -np.diff(reached) * len(flights), tests=len(CASES))
    # Flights that never end are as frequent as bands that meet nothing are chosen.
    clear = sum(p for s, p in zip(sigma, choice, strict=True) if s == 0.0)
    error = math.sqrt(clear * (1.0 - clear) / len(flights))
    assert abs(np.isinf(flights).mean() - clear) <= 4.0 * error


@pytest.mark.parametrize(("sigma", "choice"), CASES)
def test_every_band_collides_by_its_own_law(sigma, choice):
    """Undone by the weights, the mixture leaves each band Beer's law: a share 1 − e^(−σ·T) collides within T; 4 σ."""
    u = np.random.default_rng(22).random((200_000, 2))
    flights = _flights(sigma, choice, u)
    weights = _weights(flights, sigma, choice)
    for band in range(3):
        if choice[band] == 0.0:
            continue  # nothing carries that band
        assert weights[:, band].max() <= 1.0 / choice[band] * (1.0 + 1e-12)
        for limit in (0.002, 0.02):
            counted = np.where(flights < limit, weights[:, band], 0.0)
            expected = -math.expm1(-sigma[band] * limit)
            error = counted.std() / math.sqrt(len(counted))
            assert abs(counted.mean() - expected) <= 4.0 * error + 1e-15


def test_mean_free_path():
    """Of one band alone: mean 1/σ, standard deviation 1/σ (exponential law); 4 σ."""
    u = np.random.default_rng(23).random((100_000, 2))
    flights = _flights((50.0, 50.0, 50.0), (1.0, 0.0, 0.0), u) * 50.0
    assert abs(flights.mean() - 1.0) < 4.0 / math.sqrt(len(flights))
    assert abs(flights.std() - 1.0) < 4.0 * math.sqrt(2.0 / len(flights))  # kurtosis 9: var(s²) = 8/n, of s 2/n


def test_ends_of_the_random_numbers():
    sigma, choice = (3.0, 4.0, 5.0), (0.25, 0.25, 0.5)
    last = 1.0 - 2.0**-53
    assert medium.sample_distance(sigma, choice, 0.0, 0.0) == 0.0
    # The largest number below one in the last band: 53·ln 2 free paths.
    assert medium.sample_distance(sigma, choice, last, last) == pytest.approx(53.0 * math.log(2.0) / 5.0, rel=1e-12)
    # Short flights keep their digits.
    assert medium.sample_distance(sigma, choice, 0.0, 2.0**-52) == pytest.approx(2.0**-52 / 3.0, rel=1e-14)
