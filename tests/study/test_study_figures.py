"""What sums say: figures of readings, their errors with a replicate left out, and light that is only rescaled."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small_studies import BACKDROP, SET

from throughlight.readings.meter import meter
from throughlight.setup import loads
from throughlight.study.batch import Job, paths_at, trace_job
from throughlight.study.figures import jackknife_error, told
from throughlight.study.light import geometry_key, powers
from throughlight.study.spread import difference, error_of, losses_of, moved
from throughlight.study.staging import Stager

WHOLE = SET + BACKDROP + '\n[[spot]]\nname = "middle"\nx = "50 %"\ny = "50 %"\n\n[ambient]\nilluminance = "300 lx"\n'
T_95 = 2.0395  # the same, 95 %


def read(text, level=3, seed=11, squares=False):
    setup = loads(text)
    staged = Stager().staged("it", setup)
    sums = trace_job(Job("it", 0, staged.stage, staged.looks, 0, paths_at(level), seed, squares))
    return sums, setup


@pytest.fixture(scope="module")
def whole():
    sums, setup = read(WHOLE, squares=True)
    return sums, setup, told(sums, np.ones(3), setup)


def test_error_of_a_mean_is_the_textbooks():
    """Left-out means have the jackknife error s/√n (Tukey 1958; Miller 1974, section 2)."""
    values = np.random.default_rng(1).gamma(2.0, size=32)
    left = (values.sum() - values) / 31
    assert jackknife_error(left) == pytest.approx(values.std(ddof=1) / math.sqrt(32), rel=1e-12)


def test_figures_are_those_of_the_meter(whole):
    """The meter traces for itself, by another stop rule and another seed; each agrees within its own errors."""
    _, _, it = whole
    readings = meter(loads(WHOLE), tolerance=0.02, seed=77, threads=2)
    pairs = {
        "subject": readings.subject.mean,
        "backdrop": readings.backdrop.mean,
        "backdrop_under": readings.backdrop.under_subject,
        "veil": readings.stray.veil,
        "middle": readings.spots["middle"],
    }
    for name, theirs in pairs.items():
        ours = it.figures[name]
        error = math.hypot(ours.half / T_95, theirs.half / 2.131)  # 2.131: t at 95 %, 15 degrees of freedom
        print(f"{name}: {ours.value:.4f}, meter {theirs.value:.4f}, {(ours.value - theirs.value) / error:+.2f} sigmas")
        assert abs(ours.value - theirs.value) <= 4.0 * error + 1e-6
    low, high = readings.stray.outside_interval
    error = math.hypot((it.figures["stray_light"].high - it.figures["stray_light"].low) / 2 / T_95, (high - low) / 4.26)
    assert abs(it.figures["stray_light"].value - readings.stray.outside) <= 4.0 * error
    assert it.figures["worst_patch"].low <= readings.backdrop.worst.exposure.high
    assert it.figures["worst_patch"].high >= readings.backdrop.worst.exposure.low
    part, half = readings.subject.clipped
    assert abs(it.figures["clipped"].value - part) <= half + it.figures["clipped"].half


def test_left_out_values_carry_the_error(whole):
    _, _, it = whole
    for name in ("subject", "backdrop", "veil", "middle"):
        assert jackknife_error(it.left_out[name]) * T_95 == pytest.approx(it.figures[name].half, rel=0.02), name


def test_powers_are_arithmetic(whole):
    """A set whose key is two stops stronger and whose room is half as bright, from the first one's sums alone."""
    sums, setup, _ = whole
    other_text = WHOLE.replace('"100 J"\nstops = "-3 stop"', '"100 J"\nstops = "-1 stop"').replace("300 lx", "150 lx")
    other = loads(other_text)
    assert geometry_key(other) == geometry_key(setup)
    scaled = told(sums, powers(other) / powers(setup), other)
    traced = told(*(lambda s, o: (s, np.ones(3), o))(*read(other_text, seed=12)))
    for name in ("subject", "backdrop", "veil", "middle"):
        ours, theirs = scaled.figures[name], traced.figures[name]
        error = math.hypot(ours.half, theirs.half) / T_95
        assert abs(ours.value - theirs.value) <= 4.0 * error, name
        assert ours.value > whole[2].figures[name].value
    assert scaled.figures["energy"].value == pytest.approx(100 * 2**-1 + 50 * 2**-3)


def test_iso_only_moves_stops(whole):
    sums, setup, it = whole
    faster = loads(WHOLE.replace("iso = 100", "iso = 400"))
    scale = powers(faster) / powers(setup)
    for name in ("subject", "backdrop", "worst_patch", "veil", "middle"):
        assert told(sums, scale, faster).figures[name].value == pytest.approx(it.figures[name].value + 2.0, abs=1e-9)


def test_dark_set_has_finite_losses():
    """No light at all on the subject is a value like others, for losses."""
    text = SET.replace('bearing = "60 deg", distance = "70 cm", height = "20 cm" }', 'bearing = "180 deg", distance = '
                       '"70 cm" }\naim = { bearing = "180 deg", distance = "2 m" }')  # fmt: skip
    a, b = text.index('[[head]]\nname = "fill"'), text.index("[[flag]]")
    sums, setup = read(text[:a] + text[b:], level=1)
    it = told(sums, np.ones(2), setup)
    assert it.figures["subject"].value == -math.inf
    assert np.isfinite(losses_of(it, lambda readings: np.abs(readings["subject"]))).all()


def test_moved_figures_have_the_jackknifes_spread(whole):
    _, _, it = whole
    for name in ("subject", "veil", "worst_patch"):
        assert float(error_of(moved(it)[name])) == pytest.approx(jackknife_error(it.left_out[name]), rel=1e-9)


def test_spread_of_a_loss_that_bends():
    """|x| with x normal about nought, se 1: where it bends the error must be about 1, not nought."""
    from throughlight.readings.intervals import Stops
    from throughlight.study.figures import Told

    values = np.random.default_rng(4).standard_normal(32)
    values = (values - values.mean()) / values.std(ddof=1) * math.sqrt(32)
    left = (values.sum() - values) / 31
    it = Told({"it": Stops(0.0, 0.0, 0.0)}, {"it": left})
    assert float(error_of(losses_of(it, lambda r: np.abs(r["it"])))) == pytest.approx(1.0, rel=1e-9)
    # Two errors inside of what is as good, it may still be outside: seen in the direction that makes it worse.
    met = losses_of(it, lambda r: np.maximum(0.0, r["it"] - 2.0))
    delta, error = difference(np.array([met]), np.full_like(met, 0.5))
    assert delta[0] == -0.5
    assert 0.1 < error[0] < 0.75


def test_one_replicate_that_stands_out():
    """All of the error in one replicate: far moves both lead away from the target, near ones across it."""
    from throughlight.readings.intervals import Stops
    from throughlight.study.figures import Told

    values = np.zeros(32)
    values[5] = 1.0
    values = (values - values.mean()) / values.std(ddof=1) * math.sqrt(32) + 0.7  # mean 0.7, standard error 1
    left = (values.sum() - values) / 31
    off_target = losses_of(Told({"it": Stops(0.7, 0.0, 0.0)}, {"it": left}), lambda r: np.abs(r["it"]))
    delta, error = difference(off_target[None], np.full_like(off_target, 0.3))
    assert delta[0] == pytest.approx(0.4)
    assert error[0] >= 0.39  # a move by one error ends at −0.3, as good as the other
