"""What readings tell of matter: intervals cover the truth as often as they say, and published matter comes back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from jensen import JENSEN, THICKNESSES

from throughlight.swatch.adding_doubling import layer_of, slab_and_glow
from throughlight.swatch.belief import Measured, Prior, believe, quantiles
from throughlight.swatch.slabs import EXACT, Optics, slabs_of

WIDE = Prior((math.log(1e3), 1.5), (math.log(10.0), 2.0))
ERROR, DEPTH_ERROR = 0.05, 0.05e-3  # standard deviations, stops and m
ALONE, TRIES, GRID_TRIES = 64, 14, 36
DARKEST = 25.0  # stops, the most that a meter tells
RANGES = {"g": (0.0, 0.8), "n": (1.48, 1.64), "roughness": (0.0, 0.3)}  # those of stones
MIDDLE = Optics(*(0.5 * (low + high) for low, high in RANGES.values()))
SPREAD = Optics(*((high - low) / math.sqrt(12.0) for low, high in RANGES.values()))  # of an even range


def read(rng, optics, scatter, absorb, thicknesses, card):
    """Return readings of matter with the errors that they are said to have; one bare reading serves all."""
    looks = [*(("light table", d) for d in thicknesses), *([("card", thicknesses[0])] if card else [])]
    true = np.array([d for _, d in looks]) + DEPTH_ERROR * rng.standard_normal(len(looks))
    layer = layer_of(scatter / (1.0 - optics.g) * true, absorb * true, optics.g, optics.n, 1.0)
    flux, glow = slab_and_glow([layer], math.sqrt(0.5), 16 if optics.g > 0.5 else 12, optics.roughness)
    off = ERROR * rng.standard_normal(len(looks))
    bare = ERROR / math.sqrt(2.0) * rng.standard_normal()
    found = []
    for i, (look, d) in enumerate(looks):
        light, error = (glow[i], off[i]) if look == "card" else (flux.T_coll[i], bare + off[i] / math.sqrt(2.0))
        found.append(Measured(look, d, -math.log2(max(light, 1e-300)) + error, ERROR, DEPTH_ERROR))
    return found


def near_95(held_ones):
    """Whether the share of what holds is 0.95 within 4 standard errors (0.11 for 64, 0.15 for 36)."""
    return abs(np.mean(held_ones) - 0.95) < 4.0 * math.sqrt(0.95 * 0.05 / len(held_ones))


def halved(low, middle, high):
    """Return an interval of half the width: it must be found out, or a count of what is held shows nothing."""
    return 0.5 * (low + middle), 0.5 * (middle + high)


def of_the_kind(rng):
    """Return optics, µs′ and µa of matter drawn as its kind says."""
    optics = Optics(*(rng.uniform(*span) for span in RANGES.values()))
    middles, widths = zip(WIDE.scatter, WIDE.absorb, strict=True)
    return optics, np.exp(np.array(middles) + np.array(widths) * rng.standard_normal(2))


def coefficient_held(belief, truth):
    """Return whether the intervals of ln µs′ and ln µa hold the truth, and whether halved ones would."""
    found = []
    for one, value in zip((belief.scatter, belief.absorb), np.log(truth), strict=True):
        low, middle, high = np.log([one.low, one.value, one.high])
        less, more = halved(low, middle, high)
        found.append((low <= value <= high, less <= value <= more))
    return found


def stops_held(slabs, belief, optics, truth, thicknesses):
    """Return the same of the stops lost in slabs of these thicknesses."""
    d = np.array(thicknesses)
    layer = layer_of(truth[0] / (1.0 - optics.g) * d, truth[1] * d, optics.g, optics.n, 1.0)
    flux, _ = slab_and_glow([layer], math.sqrt(0.5), 16 if optics.g > 0.5 else 12, optics.roughness)
    scatter, absorb = belief.draws[:, :1] * d, belief.draws[:, 1:] * d
    lost = slabs.stops_less("light table", scatter, absorb)
    lost += np.einsum("mk,kmt->mt", belief.moves, slabs.lean("light table", scatter, absorb))
    low, middle, high = np.quantile(lost, (0.025, 0.5, 0.975), axis=0)
    less, more = halved(low, middle, high)
    true = -np.log2(np.maximum(flux.T_coll, 1e-300))
    return list(zip((low <= true) & (true <= high), (less <= true) & (true <= more), strict=True))


def test_the_range_of_one_reading_covers_matter_of_the_kind():
    """One reading tells neither coefficient: 95 % of both intervals, and of the bands of stops, hold the truth.

    Matter, index, asymmetry and roughness are drawn as the kind says and read with the errors as said. Halved
    intervals would be found out (they hold 67 %, normal distribution).
    """
    slabs, rng, found, d = slabs_of(*MIDDLE, SPREAD), np.random.default_rng(11), [], 4e-3
    while len(found) < ALONE:
        optics, truth = of_the_kind(rng)
        readings = read(rng, optics, *truth, (d,), False)
        if readings[0].stops > DARKEST:
            continue
        belief = believe(slabs, readings, WIDE)
        found.append(coefficient_held(belief, truth) + stops_held(slabs, belief, optics, truth, (d / 2, d, 2.0 * d)))
    for place, name in enumerate(("µs′", "µa", "stops at half", "stops where read", "stops at twice")):
        assert near_95([one[place][0] for one in found]), name
        assert not near_95([one[place][1] for one in found]), name


def test_intervals_of_several_readings_cover_matter_of_the_kind():
    slabs, rng, found = slabs_of(*MIDDLE, SPREAD), np.random.default_rng(12), []
    for thicknesses, card in (((3e-3, 8e-3), False), ((4e-3,), True), ((3e-3, 8e-3), True)):
        for _ in range(TRIES):
            optics, truth = of_the_kind(rng)
            found.append(coefficient_held(believe(slabs, read(rng, optics, *truth, thicknesses, card), WIDE), truth))
    for place, name in enumerate(("µs′", "µa")):
        assert near_95([one[place][0] for one in found]), name
        assert not near_95([one[place][1] for one in found]), name


def test_intervals_cover_slabs_of_the_grid():
    """Slabs of which two thicknesses and a card tell both coefficients: 95 % hold them, whatever the kind says."""
    rng, d, found = np.random.default_rng(5), 4e-3, []
    grid = ((0.9, 5, 0.0, 1.5), (0.99, 20, 0.5, 1.4), (0.95, 10, 0.8, 1.33))  # albedo, optical thickness, g, n
    for albedo, tau, g, n in grid * (GRID_TRIES // 3):
        truth = albedo * tau / d * (1.0 - g), (1.0 - albedo) * tau / d
        belief = believe(slabs_of(g, n), read(rng, Optics(g, n), *truth, (d, 2.0 * d), True), WIDE)
        assert belief.scatter.told
        assert belief.absorb.told
        found.append(coefficient_held(belief, truth))
    for place, name in enumerate(("µs′", "µa")):
        assert near_95([one[place][0] for one in found]), name
        assert not near_95([one[place][1] for one in found]), name


def test_what_the_kind_leaves_open_of_index_and_skin_widens_intervals():
    """Two thicknesses and a card, tightly read: with n, g and roughness known the intervals are narrower."""
    readings = read(np.random.default_rng(3), MIDDLE, 1000.0, 20.0, (4e-3, 8e-3), True)
    exact, open_ = (believe(slabs_of(*MIDDLE, spread), readings, WIDE) for spread in (EXACT, SPREAD))
    for wide, narrow in ((open_.scatter, exact.scatter), (open_.absorb, exact.absorb)):
        assert math.log(wide.high / wide.low) > 1.15 * math.log(narrow.high / narrow.low)
    # What the three may be is drawn along: at the thickness read all matter still takes the stops read.
    slabs, d = slabs_of(*MIDDLE, SPREAD), 4e-3
    scatter, absorb = (open_.draws * d).T
    stops = slabs.stops_less("light table", scatter, absorb)
    moved = stops + np.sum(open_.moves.T * slabs.lean("light table", scatter, absorb), axis=0)
    assert moved.mean() == pytest.approx(readings[0].stops, abs=3.0 * ERROR)
    assert moved.std() < 1.5 * ERROR


def test_one_reading_leaves_a_range_and_says_so():
    slabs = slabs_of(0.0, 1.5)
    belief = believe(slabs, [Measured("light table", 4e-3, 5.3, ERROR, DEPTH_ERROR)], WIDE)
    assert not belief.scatter.told
    assert belief.scatter.high > 20.0 * belief.scatter.low
    assert belief.absorb.high > 20.0 * belief.absorb.low
    stops = slabs.stops_less("light table", belief.draws[:, 0] * 4e-3, belief.draws[:, 1] * 4e-3)
    assert stops.mean() == pytest.approx(5.3, abs=0.03)  # every matter of the range passes what was read
    assert stops.std() < 0.2
    scatter, absorb = belief.best
    assert slabs.stops_less("light table", scatter * 4e-3, absorb * 4e-3) == pytest.approx(5.3, abs=0.05)


@pytest.mark.parametrize("name", JENSEN)
def test_published_matter_comes_back_from_its_computed_slabs(name):
    """Three thicknesses, computed elsewhere, taken as read to 0.02 stop (95 %): all that they tell is right."""
    scatters, absorbs, n, slabs = JENSEN[name]
    told = 0
    for scatter, absorb, passed in zip(scatters, absorbs, slabs, strict=True):
        readings = [
            Measured("light table", d * 1e-3, -math.log2(t), 0.01, 1e-6)
            for d, t in zip(THICKNESSES, passed, strict=True)
        ]
        belief = believe(slabs_of(0.0, n), readings, WIDE)
        assert belief.scatter.low <= scatter * 1e3 <= belief.scatter.high
        assert belief.absorb.low <= absorb * 1e3 <= belief.absorb.high
        assert belief.misfit < belief.allowed
        told += belief.scatter.told
    assert told >= 2  # what absorbs nearly as much as it scatters tells less of its scattering


@pytest.mark.parametrize("name", ["apple", "marble"])
def test_the_computed_slabs_are_those_of_iadpython(name):
    iadpython = pytest.importorskip("iadpython")
    scatters, absorbs, n, slabs = JENSEN[name]
    scatter, absorb, passed = scatters[2], absorbs[2], slabs[2][1]
    sample = iadpython.Sample(a=scatter / (scatter + absorb), b=(scatter + absorb) * 3.0, g=0.0, d=1, n=n, quad_pts=24)
    assert float(sample.rt()[1]) == pytest.approx(passed, rel=1e-4)


def test_jensen_slabs_as_tabulated():
    # Apple of 1 and 3 mm in blue passes .4455 and .1456, marble of 3 and 5 mm in green .2383 and .1495 (adding–doubling
    # with 48 points, iadpython 0.5.3, error below 2e-5).
    for n, scatter, absorb, slabs in (
        (1.3, 1970.0, 46.0, {1e-3: 0.4455, 3e-3: 0.1456}),
        (1.5, 2620.0, 4.1, {3e-3: 0.2383, 5e-3: 0.1495}),
    ):
        readings = [Measured("light table", d, -math.log2(t), 0.01, 1e-6) for d, t in slabs.items()]
        belief = believe(slabs_of(0.0, n), readings, WIDE)
        assert belief.scatter.low <= scatter <= belief.scatter.high
        assert belief.absorb.low <= absorb <= belief.absorb.high


@pytest.mark.parametrize(("n", "t", "passed"), [(1.5, 0.95, 0.876786), (1.65, 0.98, 0.868646), (1.49, 0.92, 0.851206)])
def test_clear_coloured_plates(n, t, passed):
    # Beer and Lambert with two faces: T of internal transmittance t (e.g. Born and Wolf, Principles of Optics).
    clear = Prior(None, (math.log(50.0), 2.0))
    belief = believe(slabs_of(0.0, n), [Measured("light table", 2e-3, -math.log2(passed), 0.001, 1e-6)], clear)
    expected = -math.log(t) / 2e-3
    assert belief.best[0] == 0.0
    assert belief.absorb.low <= expected <= belief.absorb.high
    assert belief.absorb.value == pytest.approx(expected, rel=0.03)


def test_readings_of_no_one_matter_are_noticed():
    """3 mm taking 3 stops and 6 mm taking 9 can't be: stops grow at most in step with the thickness, plus two faces."""
    readings = [Measured("light table", d, s, ERROR, DEPTH_ERROR) for d, s in ((3e-3, 3.0), (6e-3, 9.0))]
    belief = believe(slabs_of(0.0, 1.5), readings, WIDE)
    assert belief.misfit > belief.allowed


def test_a_card_alone_is_not_enough():
    with pytest.raises(ValueError, match="went through"):
        believe(slabs_of(0.0, 1.5), [Measured("card", 4e-3, 1.0, ERROR, DEPTH_ERROR)], WIDE)


def test_quantiles_of_even_weights():
    # 1 … 1000 with equal weights: the median lies between 500 and 501.
    found = quantiles(np.arange(1000.0, 0.0, -1.0), np.full(1000, 1e-3), (0.25, 0.5))
    assert found == pytest.approx([250.5, 500.5])
