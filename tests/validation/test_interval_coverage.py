"""A 95 % interval holds the truth 95 times of 100: over many seeds, on sets whose truth is known in closed form.

So many of n intervals cover by the binomial law; a test fails when so few (or, where the interval is to be exact, so
many) would cover by chance with a probability under 1 in 1000. Were it nine times of ten, 800 intervals would show it
99 times of 100. What is covered: the illuminance under a softbox
(Howell B-4, F = 0.3939381136), alone and behind a flag's edge, at the fewest paths that a run begins with.
"""

from __future__ import annotations

import math

import numpy as np
from scipy import stats

from stages import LUMINANCE, Bench, measure
from throughlight.readings.intervals import in_stops, mean_of
from throughlight.readings.meter import meter
from throughlight.setup import loads
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.tables import Region, ShapeKind

SIGNIFICANCE = 1e-3
ONE = np.zeros(1, np.int64)


def bounds(trials):
    """Return the fewest and the most of so many intervals that may cover."""
    law = stats.binom(trials, 0.95)
    return int(law.ppf(SIGNIFICANCE)), int(law.isf(SIGNIFICANCE))


def covered(trials, figure, truth):
    """Return how many intervals in stops, one for each seed, hold the truth."""
    held = 0
    for seed in range(trials):
        stops = in_stops(mean_of(figure(seed)))
        held += stops.low <= math.log2(truth) <= stops.high
    fewest, most = bounds(trials)
    print(f"{held} of {trials} intervals cover, between {fewest} and {most} expected")
    return held


def softbox():
    bench = Bench()
    bench.head(ShapeKind.RECTANGLE, (0, 0, 0.5), (0, 0, 0), (0.3, 0.45, 0))
    return bench


def test_light_on_the_front_element():
    """Smooth light and quasi-random points: sixteen randomisations are still independent and nearly normal."""
    stage = softbox().stage((0, 0, 0), (0, 0, 1), half_width=1e-9, half_height=1e-9)

    def figure(seed):
        tally = measure(stage, Target(FRONT, 1, 1, ONE, 15), 256, seed=seed)
        return tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays

    trials = 800
    fewest, most = bounds(trials)
    assert fewest <= covered(trials, figure, math.pi * 0.3939381136) <= most


def test_patch_in_the_penumbra_of_a_flag():
    """Half of a panel is hidden by a knife edge: 0.3112771121/2 at 0.5 above the middle of 0.6 × 0.6; ρ = 0.5."""
    bench = Bench()
    bench.head(ShapeKind.RECTANGLE, (0, 0, 0.5), (0, 0, 0), (0.3, 0.3, 0))
    bench.rectangle((-5.0, 0.0, 0.25), (-5.0, 0.0, 1.0), 10.0, 10.0)
    bench.rectangle((0, 0, 0), (0, 0, 1), 1e-4, 1e-4, region=Region.SUBJECT, reflectance=0.5)
    stage = bench.stage((0.8, 0, 0.2), (0, 0, 0), half_width=1e-5, half_height=1e-6)

    def figure(seed):
        tally = measure(stage, Target(FILM, 1, 1, ONE, 1 << Region.SUBJECT), 256, seed=seed)
        return tally.cells.sum(axis=(1, 2)) @ LUMINANCE / tally.counts[:, 0, Region.SUBJECT]

    trials = 800
    fewest, most = bounds(trials)
    assert fewest <= covered(trials, figure, 0.5 * 0.3112771121 / 2) <= most


SET = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 16
shutter = "1/125 s"
iso = 100
at = ["0 cm", "30 cm", "40 cm"]
transmittance = 1.0
glare = "0 %"

[subject]
shape = { kind = "slab", outline = { shape = "rectangle", width = "10 mm", height = "10 mm" }, thickness = "1 um" }
aim = ["0 cm", "50 cm", "0 cm"]
surface = { reflectance = 0.18 }

[[head]]
face = { shape = "rectangle", width = "0.6 m", height = "0.9 m" }
at = ["0 cm", "50 cm", "0 cm"]
energy = "100 J"
efficacy = "20 lm*s/J"
"""


def test_subject_reading_of_the_meter():
    """The grey card of the exposure chain, 0.7149 stop over mid-grey, with the stop rule at work.

    The card is a little more than a point: 2e-4 stop is allowed besides. Percentiles of an evenly lit card are its
    mean; their intervals are on the safe side, so only too few is a fault.
    """
    setup, trials = loads(SET), 200
    held = {"mean": 0, "percentile_5": 0, "median": 0, "percentile_95": 0}
    for seed in range(trials):
        reading = meter(setup, seed=seed).subject
        for name in held:
            stops = getattr(reading, name)
            held[name] += stops.low - 2e-4 <= 0.7149 <= stops.high + 2e-4
    fewest, most = bounds(trials)
    print(f"{held} of {trials} intervals cover, at least {fewest} expected")
    assert fewest <= held["mean"] <= most
    assert min(held.values()) >= fewest
