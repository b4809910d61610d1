"""Where the frame lies in a photo: planted shifts, scales and turns are found; what can't be laid over is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from throughlight.match.align import AlignError, Alignment, align, places, sampled

ROWS, COLUMNS = 96, 144


def scene(u, v, *, round_one=False):
    """Return luminance at frame places: a bright leaf-like shape, brighter to its left, before a dim backdrop."""
    radius = np.hypot(u / 0.2, (v - 0.02) / (0.2 if round_one else 0.13))
    bump = 0.0 if round_one else 0.25 * np.cos(3.0 * np.arctan2(v - 0.02, u) + 0.4)
    inside = radius < 1.0 + bump
    return np.where(inside, 0.6 * 2.0 ** (-3.0 * u), 0.012 * 2.0 ** (1.5 * v)), inside


def frame(**how):
    # Averaged over 4×4 points of each cell, as light is.
    u, v = places(4 * COLUMNS, 4 * ROWS)
    light, inside = scene(u, v, **how)

    def mean(values):
        return values.reshape(ROWS, 4, COLUMNS, 4).mean(axis=(1, 3))

    return mean(light), mean(inside.astype(float))


def photo(shift=(0.0, 0.0), scale=1.0, turn=0.0, *, seed=1, factor=1.0, noise=0.05, **how):
    """Return a photo of the scene, moved about the middle of the frame."""
    at = Alignment(shift, scale, turn, (0.0, 0.0), 1.0, True)
    x, y = places(4 * COLUMNS, 4 * ROWS)
    light = scene(*at.to_frame(x, y), **how)[0].reshape(ROWS, 4, COLUMNS, 4).mean(axis=(1, 3))
    return factor * light * (1.0 + noise * np.random.default_rng(seed).standard_normal(light.shape))


@pytest.mark.parametrize(
    ("shift", "scale", "turn"),
    [((0.0, 0.0), 1.0, 0.0), ((0.08, -0.05), 1.0, 0.0), ((-0.03, 0.02), 1.2, 0.1), ((0.1, 0.1), 0.8, -0.15)],
)
def test_a_planted_place_is_found(shift, scale, turn):
    predicted, subject = frame()
    found = align(predicted, subject, photo(shift, scale, turn))
    assert found.turn_known
    # A tenth of a cell (0.0007 of the longer side), half a per cent in scale, a third of a degree.
    truth = Alignment(shift, scale, turn, (0.0, 0.0), 1.0, True)
    u = np.array([-0.15, 0.15, 0.0, 0.0])
    v = np.array([0.0, 0.0, -0.1, 0.1])
    np.testing.assert_allclose(found.to_photo(u, v), truth.to_photo(u, v), atol=0.0012)
    assert found.scale == pytest.approx(scale, rel=0.005)
    assert found.turn == pytest.approx(turn, abs=math.radians(0.4))


@pytest.mark.parametrize("turn", [0.0, 0.02, 0.035])
def test_a_straight_edge_is_as_wide_however_it_falls_on_cells(turn):
    """A rectangle whose sides are those of cells in the prediction and cross them in a turned photo, 6 stops over."""

    def rectangle(u, v):
        return np.where((np.abs(u) < 30.0 / COLUMNS) & (np.abs(v) < 20.0 / COLUMNS), 0.6 * 2.0 ** (-3.0 * u), 0.009)

    x, y = places(4 * COLUMNS, 4 * ROWS)
    at = Alignment((0.0, 0.0), 1.0, turn, (0.0, 0.0), 1.0, True)

    def averaged(light):
        return light.reshape(ROWS, 4, COLUMNS, 4).mean(axis=(1, 3))

    predicted = averaged(rectangle(x, y))
    found = align(predicted, (predicted > 0.1).astype(float), averaged(rectangle(*at.to_frame(x, y))))
    assert found.scale == pytest.approx(1.0, abs=0.003)  # a tenth of a cell at the edge
    assert found.turn == pytest.approx(turn, abs=math.radians(0.2))


def test_exposure_does_not_move_it():
    predicted, subject = frame()
    a, b = (align(predicted, subject, photo((0.05, 0.0), factor=factor)) for factor in (1.0, 0.3))
    np.testing.assert_allclose(a.shift, b.shift, atol=1e-3)


def test_a_round_subject_does_not_show_its_turn():
    predicted, subject = frame(round_one=True)
    predicted = 0.6 * subject + 0.012 * (1.0 - subject)
    found = align(
        predicted, subject, predicted * (1.0 + 0.05 * np.random.default_rng(1).standard_normal(subject.shape))
    )
    assert not found.turn_known
    assert found.turn == 0.0
    np.testing.assert_allclose(found.shift, (0.0, 0.0), atol=1e-3)


def test_to_photo_and_back():
    at = Alignment((0.1, -0.2), 1.3, 0.4, (0.05, 0.02), 1.0, True)
    u, v = places(12, 8)
    np.testing.assert_allclose(at.to_frame(*at.to_photo(u, v)), (u, v), atol=1e-12)


def test_sampling_is_exact_on_a_slope():
    slope = np.add.outer(2.0 * np.arange(8.0), 3.0 * np.arange(12.0))
    np.testing.assert_allclose(sampled(slope, np.array([0.0]), np.array([0.0])), [2.0 * 3.5 + 3.0 * 5.5])


def refusal(predicted, subject, picture):
    with pytest.raises(AlignError) as caught:
        align(predicted, subject, picture)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_refusals_say_why():
    predicted, subject = frame()
    assert "shows no subject" in refusal(predicted, np.zeros_like(subject), photo())
    assert "fills the frame" in refusal(predicted, np.ones_like(subject), photo())
    noise = np.exp(np.random.default_rng(1).standard_normal((ROWS, COLUMNS)))
    assert "nowhere near" in refusal(predicted, subject, noise)
    assert "nowhere near" in refusal(predicted, subject, np.full((ROWS, COLUMNS), 0.3))
    words = refusal(predicted, subject, photo(scale=1.75))
    assert "times as large" in words or "nowhere near" in words
