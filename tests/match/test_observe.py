"""What a photo says of its own noise, and how far code values may shift a mean."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from frames import COLUMNS, ROWS, SQUARE, developed, noisy, raw
from scipy import stats

from throughlight.darkroom import tone
from throughlight.match.align import Alignment
from throughlight.match.ends import lift_of
from throughlight.match.observe import Noise, as_fine, luminance_of, noise_of, observe
from throughlight.photometry.exposure import mid_grey, srgb_decode
from throughlight.readings.frame import LUMINANCE
from throughlight.readings.regions import Grid


def slope(height=300, width=450):
    """Return a picture that rises smoothly from 0.02 to 1.5 of mid-grey."""
    return np.exp(np.linspace(np.log(0.02), np.log(1.5), width))[None, :] * np.ones((height, 1))


@pytest.mark.parametrize("block", [1, 3])
def test_planted_noise_is_found_again(block):
    light = noisy(slope(), np.random.default_rng(1), photons=4e-4, reading=5e-3)
    found = noise_of(light, np.zeros(light.shape, bool), block)
    assert found.slope == pytest.approx(4e-4, rel=0.2)
    assert found.floor == pytest.approx(2.5e-5, rel=0.3)


def test_noise_that_goes_with_the_light_is_no_photon_noise():
    # 30 % of the light everywhere, on a picture of which most is nearly black: what is read there is 0.3² · H² still.
    rng = np.random.default_rng(2)
    light = np.where(np.arange(450) < 330, 2e-3, slope())
    found = noise_of(light * (1.0 + 0.3 * rng.standard_normal(light.shape)), np.zeros(light.shape, bool), 1)
    at = np.array([2e-3, 0.5, 1.2])
    np.testing.assert_allclose(found.variance(at), 0.09 * at**2, rtol=0.2)


def test_a_smooth_picture_without_noise_has_none():
    found = noise_of(slope(), np.zeros((300, 450), bool), 2)
    assert float(found.variance(np.array([1.0]))[0]) < 1e-8


def test_a_cell_is_the_mean_of_all_its_pixels():
    light = noisy(slope(120, 180), np.random.default_rng(2), photons=1e-3)
    seen = observe(raw(light), Grid(18, 12), SQUARE)
    expected = luminance_of(raw(light)).reshape(12, 10, 18, 10).mean(axis=(1, 3)).ravel()
    np.testing.assert_allclose(seen.mean, expected, rtol=1e-6)
    assert (seen.pixels == 100).all()


def test_cells_follow_shift_scale_and_turn():
    # A photo with a bright square of which the frame has 4×4 cells; laid over by a known similarity.
    grid, at = Grid(30, 20), Alignment((0.1, -0.05), 1.25, 0.2, (0.0, 0.0), 1.0, True)
    height, width = 400, 600
    x = (np.arange(width) + 0.5 - width / 2) / width
    y = (np.arange(height) + 0.5 - height / 2) / width
    u, v = at.to_frame(x[None, :], y[:, None])
    light = np.where((abs(u) < 2 / 30) & (abs(v) < 2 / 30), 1.0, 0.01)
    seen = observe(raw(light), grid, at).mean.reshape(20, 30)
    np.testing.assert_allclose(seen[8:12, 13:17], 1.0, rtol=0.02)
    outside = seen.copy()
    outside[7:13, 12:18] = 0.01
    assert outside[seen > 0.0].max() < 0.02


def test_rounding_without_noise_is_allowed_for_and_with_noise_is_not():
    # 8-bit sRGB in the dark, 7 codes high: an even patch is off by up to half a code, one with a code of noise is not.
    level = 0.0117
    flat = np.full((60, 90), level)
    grid = Grid(9, 6)
    quiet = observe(developed(flat), grid, SQUARE)
    step = float(developed(flat).step(np.array([level * 0.18116]))[0] / 0.18116)
    assert np.median(quiet.offset) == pytest.approx(step / np.sqrt(2) / np.pi, rel=0.05)
    assert abs(quiet.mean[0] - level) < step / 2
    grainy = observe(developed(noisy(flat, np.random.default_rng(1), reading=step)), grid, SQUARE)
    assert np.median(grainy.offset) < 0.01 * step
    spread = np.sqrt(grainy.variance.mean())
    assert abs(grainy.mean.mean() - level) < 4 * spread / np.sqrt(54) + 0.01 * step


def test_cutting_off_below_black_lifts_the_mean_by_what_is_known_of_a_censored_normal():
    # scipy: mean and standard deviation of max(X, 0), X normal, by integration; the lift is E[max(X, 0)] − µ.
    mu = np.array([0.0, 0.5, 1.0, 3.0])
    left = np.array([stats.norm(m).expect(lambda v: max(v, 0.0), lb=-12, ub=15) for m in mu])
    square = np.array([stats.norm(m).expect(lambda v: max(v, 0.0) ** 2, lb=-12, ub=15) for m in mu])
    found = lift_of(left, np.sqrt(square - left**2), stats.norm.cdf(-mu))
    np.testing.assert_allclose(found, left - mu, atol=2e-4)
    # Without pixels at 0 nothing was cut off, however noisy; nor without noise, however many.
    assert lift_of(left, 2.0 * left, np.zeros(4)).max() < 1e-9
    assert lift_of(left, 0.01 * left, np.full(4, 0.4)).max() < 1e-9


@pytest.mark.parametrize(("reading", "share"), [(2e-3, 0.05), (1e-3, 0.01)])
def test_a_dark_frame_cut_off_at_black_is_read_as_it_was(reading, share):
    """16 bits, linear, 1e-3 of mid-grey: the lift is taken off but for a tenth, and half of it doubted."""
    rng = np.random.default_rng(9)
    light = 1e-3 + reading * rng.standard_normal((ROWS * 4, COLUMNS * 4))
    file = raw(np.maximum(light, 0.0), levels=65535)
    seen = observe(replace(file, kind="linear"), Grid(COLUMNS, ROWS), SQUARE)
    lifted = np.maximum(light, 0.0).mean() - 1e-3
    assert lifted > share * 1e-3
    error = reading / np.sqrt(light.size)
    assert abs(seen.mean.mean() - light.mean()) < 0.1 * lifted + 3.0 * error
    assert seen.offset.mean() == pytest.approx(0.5 * lifted, rel=0.25)


def test_noise_line_needs_no_negative_parts():
    assert Noise(1e-6, 0.0).variance(np.array([-1.0, 2.0])).tolist() == [1e-6, 1e-6]


def test_a_picture_is_averaged_as_a_whole():
    picture = np.random.default_rng(1).random((101, 203))
    small = as_fine(picture, 50)
    assert small.shape == (25, 50)
    assert small.mean() == pytest.approx(picture.mean(), rel=0.01)
    assert as_fine(picture, 300) is picture


def test_what_is_left_out_for_being_bright_is_not_chosen_by_its_grain():
    """Half of a grainy frame is just under what is believed, half far under: what is left has its own mean, 4 sigma."""
    rng = np.random.default_rng(4)
    light = np.full((ROWS * 2, COLUMNS * 2), 0.5)
    light[:, COLUMNS:] = 1.6  # a developed picture is believed up to 2.0 · 0.93
    seen = observe(developed(light * (1.0 + 0.1 * rng.standard_normal(light.shape))), Grid(COLUMNS, ROWS), SQUARE)
    right = np.zeros((ROWS, COLUMNS), bool)
    right[:, COLUMNS // 2 + 2 :] = True
    kept = right.ravel() & seen.used
    assert kept.sum() > 0.95 * right.sum()
    error = 1.6 * 0.1 / 2.0 / np.sqrt(kept.sum())
    assert seen.mean[kept].mean() == pytest.approx(1.6, abs=4.0 * error + 0.002)  # 8 bits round by 0.004


@pytest.mark.parametrize(("shape", "allowed"), [("normal", 0.012), ("exponential", 0.015)])
def test_full_pixels_of_a_grainy_photo_are_allowed_for(shape, allowed):
    """Grain reaches beyond what is believed in one pixel of twenty; the cells' mean is that of the planted light.

    Without the full pixels' cells it would be tenths too dark, and cut off there still 2 to 4 % too dark.
    """
    rng = np.random.default_rng(6)
    draw = rng.standard_normal((ROWS * 4, COLUMNS * 4)) if shape == "normal" else rng.exponential(size=(192, 288)) - 1.0
    level = 0.93 * 7.8 / (1.0 + 0.5 * (1.645 if shape == "normal" else 2.0))
    light = level * (1.0 + 0.5 * draw)
    seen = observe(raw(np.maximum(light, 0.0)), Grid(COLUMNS, ROWS), SQUARE)
    assert seen.used.mean() > 0.97
    share = seen.mean[seen.used].mean() / np.maximum(light, 0.0).mean()
    assert share == pytest.approx(1.0, abs=allowed)
    assert seen.offset[seen.used].mean() > abs(share - 1.0) * level / 2.0


def test_a_smooth_place_whose_middle_is_full_is_not_taken_for_grain():
    """A smooth hill, cut off at its top: cells at the rim are within 1 % of their light, not 5 % too bright."""
    rng = np.random.default_rng(5)
    x, y = np.meshgrid(np.linspace(-1.0, 1.0, COLUMNS * 4), np.linspace(-1.0, 1.0, ROWS * 4))
    light = 7.8 * (1.08 - 0.5 * (x**2 + y**2))
    grainy = light * (1.0 + 0.01 * rng.standard_normal(light.shape))
    seen = observe(raw(grainy), Grid(COLUMNS, ROWS), SQUARE)
    cells = light.reshape(ROWS, 4, COLUMNS, 4).mean(axis=(1, 3)).ravel()
    rim = seen.used & (cells > 0.85 * 7.8)
    assert 50 < rim.sum() < 0.5 * rim.size
    assert (~seen.used).sum() > 100
    assert seen.mean[rim].mean() / cells[rim].mean() == pytest.approx(1.0, abs=0.01)


def test_bands_bent_by_a_developed_file_follow_the_brightest():
    """Amber light whose grain reaches into the shoulder, developed by our own curve, is up to 3 % too bright.

    Normal grain thins out faster than what is taken as its bound; two of the doubts that are told hold it.
    """
    rng = np.random.default_rng(7)
    tint = np.array([1.35, 0.92, 0.76])
    tint /= tint @ LUMINANCE
    light = 1.1 * (1.0 + 0.25 * rng.standard_normal((ROWS * 4, COLUMNS * 4)))
    bands = np.maximum(light, 0.0)[..., None] * tint
    signal = np.rint(255.0 * np.stack([tone.signal(row * mid_grey(100), 100) for row in bands])) / 255.0
    file = developed(light)
    capture = replace(file, linear=srgb_decode(signal).astype(np.float32), clipped=(signal >= 1.0).any(axis=2))
    seen = observe(capture, Grid(COLUMNS, ROWS), SQUARE)
    full = (capture.linear.max(axis=2) > 0.93 * capture.believed).mean()
    assert 0.05 < full < 0.4
    assert seen.used.mean() > 0.97
    off = seen.mean[seen.used].mean() - light.mean()
    assert abs(off) < 0.03 * 1.1
    assert abs(off) < 2.0 * seen.offset[seen.used].mean()


def test_a_place_that_is_bright_and_not_grainy_is_left_out_and_the_dark_round_about_is_not():
    light = np.full((ROWS * 4, COLUMNS * 4), 0.05)
    light[40:80, 40:80] = 20.0
    seen = observe(raw(light), Grid(COLUMNS, ROWS), SQUARE)
    expected = np.ones((ROWS, COLUMNS), bool)
    expected[10:20, 10:20] = False
    np.testing.assert_array_equal(seen.used.reshape(ROWS, COLUMNS), expected)
    np.testing.assert_allclose(seen.mean[seen.used], 0.05, rtol=1e-2)
