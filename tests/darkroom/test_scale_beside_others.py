"""The scale of stops judged by a colour appearance model, and beside every named colour map of a plotting library."""

from __future__ import annotations

import colour
import matplotlib as mpl
import numpy as np
import pytest

from throughlight.darkroom import scale
from throughlight.photometry.exposure import srgb_decode

CLIP = np.log2(7.8)  # ISO 12232:2006: 78/S over 10/S
WHOLE = np.arange(-12.0, 3.0)

pytestmark = pytest.mark.filterwarnings("ignore")


def light(over_mid_grey) -> np.ndarray:
    return srgb_decode(scale.colours(np.asarray(over_mid_grey, dtype=float)) / 255.0)


def cielab(linear) -> np.ndarray:
    return colour.XYZ_to_Lab(colour.RGB_to_XYZ(linear, "sRGB", apply_cctf_decoding=False))


def cam16_ucs(linear) -> np.ndarray:
    """Li et al. 2017, colour-science; a screen in a room of 64 lx (IEC 61966-2-1's reference surround)."""
    xyz = 100.0 * colour.RGB_to_XYZ(linear, "sRGB", apply_cctf_decoding=False)
    seen = colour.XYZ_to_CAM16(xyz, np.array([95.047, 100.0, 108.883]), 64.0 / np.pi * 0.2, 20.0)
    return colour.JMh_CAM16_to_CAM16UCS(np.stack([seen.J, seen.M, seen.h], axis=-1))


def test_steps_are_even_in_ciede2000_and_cam16_ucs():
    # Designed for 7.0 to 7.8 (CIEDE2000) and 6.8 to 7.8 (CAM16-UCS) a stop; rounding to 8 bits adds a few per cent.
    lab = cielab(light(WHOLE))
    ciede = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
    cam16 = np.linalg.norm(np.diff(cam16_ucs(light(WHOLE)), axis=0), axis=1)
    for step in (ciede, cam16):
        assert step.min() > 0.9 * step.mean()
        assert step.max() < 1.13 * step.mean()
        assert step.min() > 6.0


def test_no_two_stops_look_alike_to_anyone():
    # Not neighbours only: a scale whose hue returns could repeat itself to the colour-blind (Machado et al. 2009).
    shades = light(np.concatenate([[-13.0], WHOLE, [CLIP + 0.01, 4.0]]))
    for deficiency in (None, "Protanomaly", "Deuteranomaly", "Tritanomaly"):
        matrix = np.eye(3) if deficiency is None else colour.CVD_MATRICES_MACHADO2010[deficiency][1.0]
        lab = cielab(np.clip(shades @ matrix.T, 0.0, 1.0))
        apart = colour.delta_E(lab[:, None], lab[None, :], method="CIE 2000") + 100.0 * np.eye(len(lab))
        two_apart = apart + 100.0 * (np.eye(len(lab), k=1) + np.eye(len(lab), k=-1))
        assert apart.min() > 2.3
        assert two_apart.min() > 4.6


def test_the_scale_stays_in_the_gamut():
    # A colour cut off at the gamut's edge would show as a band at 0 or 255 over many entries.
    codes = scale.colours(np.linspace(-12.0, CLIP - 1e-6, 2000))
    assert np.count_nonzero(codes == 255) == 0
    assert np.count_nonzero(codes == 0) < 30


def test_the_scale_is_no_named_colour_map():
    # Mean distance in CAM16-UCS at the same place along the scale, each map both ways round. A stop of ours is 7; a map
    # on which every place is more than that off is another map. The nearest are plain greys, 18 off.
    place = np.linspace(0.0, 1.0, 64)
    ours = cam16_ucs(light(-12.0 + place * (CLIP - 1e-6 + 12.0)))
    nearest = min(
        (float(np.linalg.norm(cam16_ucs(srgb_decode(mpl.colormaps[name](place)[:, :3])) - ours, axis=1).mean()), name)
        for name in mpl.colormaps
    )
    assert nearest[0] > 14.0, nearest


@pytest.mark.parametrize("size", [120, 900, 2400])
def test_no_line_runs_round_a_thing_where_no_stop_passes(size):
    # An even disc on an even ground: both are 0.1 stop from a whole stop, which the softened edge alone would cross.
    rows, columns = np.mgrid[: size * 2 // 3, :size]
    disc = np.hypot(rows - size / 3.0, columns - size / 2.0) < size / 5.0
    assert np.count_nonzero(scale.contours(np.where(disc, 1.1, -6.1))) == 0
