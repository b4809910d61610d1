"""Layers as whole numbers: within the promised hundredth of a stop, whatever is turned up, down or off."""

from __future__ import annotations

import zlib

import numpy as np
import pytest

from report_sets import sphere
from throughlight.photometry.exposure import mid_grey
from throughlight.sheets import layer_codes, page_picture
from throughlight.sheets.page_picture import pack, shrunk

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709


def decoded(coded: layer_codes.Coded, height: int, width: int) -> np.ndarray:
    """Read a layer back number by number, as its description says."""
    kinds = len(layer_codes.LIVELY) + 1
    low, high = (np.frombuffer(zlib.decompress(part), np.uint8) for part in (coded.low, coded.high))
    counts = low[: 12 * kinds].view("<u4").astype(int)
    folded = low[12 * kinds :].astype(int) + 256 * high.astype(int)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    planes = [plane_of(folded, starts[kinds * i : kinds * (i + 1)].copy(), height, width) for i in range(3)]
    codes = np.stack([planes[0] + planes[1], planes[0], planes[0] + planes[2]], axis=2)
    return np.array(coded.offset) * (2.0 ** (codes * layer_codes.STEP) - 1.0)


def plane_of(folded, following, height, width):
    plane, size = np.zeros((height, width), int), np.zeros((height + 1, width + 2), int)
    for row in range(height):
        for column in range(width):
            left = plane[row, column - 1] if column else plane[row - 1, 0] if row else 0
            above = (
                [plane[row - 1, min(max(column + step, 0), width - 1)] for step in (-1, 0, 1)] if row else [left] * 3
            )
            about = size[row + 1, column] + size[row, column : column + 3].sum()
            kind = int(np.digitize(about, layer_codes.LIVELY))
            number = folded[following[kind]]
            following[kind] += 1
            rest = -(number + 1) // 2 if number % 2 else number // 2
            size[row + 1, column + 1] = abs(rest)
            plane[row, column] = rest + (left + sum(above)) // 4
    return plane


def grainy(rng, stops, height=19, width=23):
    """A picture with an edge, a slope and much grain, `stops` over mid-grey at ISO 100 where it is brightest."""
    down, across = np.mgrid[0:height, 0:width]
    slope = stops - 6.0 * across / width - np.where(down > height / 2, 7.0, 0.0)
    colour = np.array([1.2, 1.0, 0.4])
    return mid_grey(100.0) * 2.0 ** (slope + rng.normal(0.0, 0.6, slope.shape))[:, :, None] * colour


@pytest.mark.parametrize("veil_stops", [-9.0, -13.0, -40.0])
@pytest.mark.parametrize("factors", [(1, 1, 1), (8, 1 / 32, 1), (0, 1, 0), (1 / 32, 8, 2)])
def test_sums_of_layers_are_right_to_a_hundredth_of_a_stop(veil_stops, factors):
    """Down to 12 stops under mid-grey, at ISO 100 and as if each layer's veil were its own."""
    rng = np.random.default_rng(7)
    grey = mid_grey(100.0)
    layers = [grainy(rng, stops) for stops in (1.0, -1.0, -8.0)]
    veils = [grey * 2.0 ** (veil_stops + more) * np.array([1.1, 1.0, 0.8]) for more in (0.0, -1.0, 1.0)]
    floor = grey * 2.0**layer_codes.FLOOR_STOPS
    exact, shown = np.zeros_like(layers[0]), np.zeros_like(layers[0])
    for layer, veil, factor in zip(layers, veils, factors, strict=True):
        exact += factor * (layer + veil)
        shown += factor * (decoded(layer_codes.encode(layer, veil, floor), *layer.shape[:2]) + veil)
    light = exact @ LUMINANCE
    shown_enough = light > grey * 2.0**-12
    assert shown_enough.mean() > 0.5
    off = np.abs(np.log2((shown @ LUMINANCE)[shown_enough] / light[shown_enough]))
    assert off.max() < 0.01


def test_no_light_nothing_and_not_a_number_come_back_as_no_light():
    layer = np.zeros((3, 4, 3))
    layer[1, 2] = np.nan
    layer[0, 1] = -1.0
    coded = layer_codes.encode(layer, np.zeros(3), 1e-6)
    assert (decoded(coded, 3, 4) == 0.0).all()


def test_one_pixel_and_one_row():
    for shape in ((1, 1, 3), (1, 9, 3), (9, 1, 3)):
        layer = np.random.default_rng(1).uniform(0.01, 1.0, shape)
        shown = decoded(layer_codes.encode(layer, np.full(3, 1e-3), 1e-6), *shape[:2])
        assert shown == pytest.approx(layer, rel=0.0075)  # half a step of 0.019 stop is 0.66 %


def test_a_picture_that_would_not_fit_is_made_smaller_and_keeps_its_light():
    shot = sphere().shot
    whole = pack(shot, 10**6)
    assert not whole.smaller
    assert (whole.width, whole.height) == (48, 32)
    small = pack(shot, whole.size // 2)
    assert small.smaller
    assert small.size <= whole.size // 2
    assert small.width / small.height == pytest.approx(1.5, rel=0.1)
    less = shrunk(shot.picture.exposure, small.width, small.height)
    assert less.min() >= 0.0
    assert less.mean() == pytest.approx(shot.picture.exposure.mean(), rel=0.02)


def test_a_very_large_picture_is_made_smaller_before_it_is_coded(monkeypatch):
    monkeypatch.setattr(page_picture, "_MOST_PIXELS", 400)
    packed = pack(sphere().shot, 10**6)
    assert packed.smaller
    assert packed.width * packed.height <= 410
    assert packed.full == (48, 32)


def test_a_page_without_room_for_any_picture_is_refused_in_a_sentence():
    with pytest.raises(ValueError, match="can't hold 3 layers"):
        pack(sphere().shot, 10)
