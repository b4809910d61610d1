"""Pictures laid on shapes: lookups against general-purpose libraries, and prints from file to traced luminance."""

from __future__ import annotations

import math

import colour
import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import map_coordinates

from agreement import agrees, seen_luminance
from doors import loop
from stages import LUMINANCE, Bench
from throughlight.setup.pictures import linear_picture
from throughlight.stage.frames import facing
from throughlight.stage.rows import Rows
from throughlight.trace.maps import look_up
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

AT, AIM, ROLL = (0.3, -0.2, 0.7), (-0.4, 0.5, 0.1), 0.4
WIDTH, HEIGHT, MIDDLE = 0.12, 0.07, (0.01, -0.02)


@loop
def _look_up(stage, row, place, points):
    out = np.empty((len(points), 3))
    for i in range(len(points)):
        out[i] = look_up(stage, row, stage.shapes[place], (points[i, 0], points[i, 1], points[i, 2]))
    return out


def laid(picture, shape=ShapeKind.RECTANGLE):
    """Return a stage with a picture (after another one, which is not asked) on a shape that stands askew."""
    rows, bench = Rows(), Bench()
    rows.map(np.full((2, 5, 3), 9.0, np.float32), 1.0, 1.0)
    row = rows.map(picture, WIDTH, HEIGHT, MIDDLE)
    place = bench.shape(shape, AT, facing(AT, AIM, ROLL), (0.2, 0.2, 0.2), bench.part())
    return bench.stage()._replace(**rows.pools()), row, place


def world(local):
    """Return the world points of (n, 3) points in the shape's frame."""
    return local @ facing(AT, AIM, ROLL).T + np.asarray(AT)


@pytest.mark.parametrize("size", [(7, 11), (1, 4), (5, 1), (1, 1), (2, 2)])
def test_lookups_between_pixels_as_scipy_has_them(size):
    """Linear splines between the middles of the pixels, nearest beyond (scipy.ndimage.map_coordinates, order 1)."""
    rng = np.random.default_rng(2)
    picture = rng.random((*size, 3)).astype(np.float32)
    stage, row, place = laid(picture)
    local = np.column_stack([rng.uniform(-0.15, 0.15, (4000, 2)), rng.uniform(-0.2, 0.2, 4000)])
    x, y = local[:, 0] - MIDDLE[0], local[:, 1] - MIDDLE[1]
    across = (x / WIDTH + 0.5) * size[1] - 0.5
    down = (0.5 - y / HEIGHT) * size[0] - 0.5
    expected = [
        map_coordinates(picture[..., band].astype(float), [down, across], order=1, mode="nearest") for band in range(3)
    ]
    # Places are worked out in a frame turned to and fro, which costs a few digits of a pixel.
    assert _look_up(stage, row, place, world(local)) == pytest.approx(np.stack(expected, axis=1), abs=1e-12)


def test_lookups_between_pixels_as_pillow_enlarges():
    """Enlarged eightfold with a triangle filter, pixel by pixel; row 0 at the top, as the shape's y goes up."""
    picture = np.random.default_rng(4).random((6, 9, 3)).astype(np.float32)
    stage, row, place = laid(picture)
    size = (9 * 8, 6 * 8)
    channels = [Image.fromarray(picture[..., band]).resize(size, Image.Resampling.BILINEAR) for band in range(3)]
    expected = np.stack([np.asarray(one) for one in channels], axis=-1)
    x = ((np.arange(size[0]) + 0.5) / size[0] - 0.5) * WIDTH + MIDDLE[0]
    y = (0.5 - (np.arange(size[1]) + 0.5) / size[1]) * HEIGHT + MIDDLE[1]
    local = np.stack([*np.meshgrid(x, y), np.full((size[1], size[0]), 0.03)], axis=-1).reshape(-1, 3)
    # Pillow's weights are single precision.
    assert _look_up(stage, row, place, world(local)).reshape(expected.shape) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(
    ("codes", "most"),
    [
        pytest.param(np.arange(256, dtype=np.uint8).reshape(16, 16), 255, id="grey, 8 bit"),
        pytest.param(np.random.default_rng(1).integers(0, 256, (16, 16, 3)).astype(np.uint8), 255, id="colour, 8 bit"),
        pytest.param(
            (np.arange(65536, dtype=np.uint32)[::101]).astype(np.uint16)[:625].reshape(25, 25), 65535, id="grey, 16 bit"
        ),
    ],
)
def test_code_values_are_decoded_as_a_colour_library_does(tmp_path, codes, most):
    """IEC 61966-2-1, by colour-science's eotf_sRGB."""
    Image.fromarray(codes).save(tmp_path / "print.png")
    expected = colour.models.eotf_sRGB(codes / most)
    expected = np.broadcast_to(expected[..., None] if codes.ndim == 2 else expected, (*codes.shape[:2], 3))
    assert linear_picture(tmp_path / "print.png", "sRGB") == pytest.approx(expected, abs=1e-6)


PRINT = np.array([[0.1, 0.8, 0.3, 0.5], [0.6, 0.2, 0.9, 0.4], [0.7, 0.05, 0.35, 0.95]], np.float32)


@pytest.mark.parametrize(
    ("surface", "back"), [(SurfaceKind.MATTE, False), (SurfaceKind.CLOTH, False), (SurfaceKind.MATTE, True)]
)
@pytest.mark.parametrize("pixel", [(0, 0), (0, 3), (1, 1), (2, 2)])
def test_a_print_in_an_even_room_shows_its_own_reflectance(surface, back, pixel):
    """A flat thing in a surround of luminance 1 has the luminance ρ, so that the middle of each pixel shows its value.

    Looked at squarely from the front, the picture's first row is at the top and its first column on the left; from the
    back it is seen as through the card. A cloth without fibres is its ground.
    """
    rows, bench = Rows(), Bench()
    bands = (PRINT[..., None] * np.array([1.0, 0.5, 0.25])).astype(np.float32)
    row = rows.map(bands, 0.4, 0.3)
    part = bench.part(Region.SUBJECT, 0.0, surface, map=row)
    bench.shape(ShapeKind.RECTANGLE, (0, 0, 0), facing((0, 0, 0), (0, 0, 1)), (0.2, 0.15, 0.0), part)
    side = -1.0 if back else 1.0
    x, y = (pixel[1] + 0.5) * 0.1 - 0.2, 0.15 - (pixel[0] + 0.5) * 0.1
    stage = bench.stage((x, y, side), (x, y, 0.0), room=1.0, half_width=1e-9, half_height=1e-9)
    value, error = seen_luminance(stage._replace(**rows.pools()), Region.SUBJECT, 16)
    agrees((value, error), float(bands[pixel] @ LUMINANCE), 1e-7)


def test_a_print_on_a_ball_lies_along_its_local_z():
    """Flat projection: a place of the sphere shows what stands under it, whatever its depth."""
    picture = np.random.default_rng(6).random((5, 5, 3)).astype(np.float32)
    stage, row, place = laid(picture, ShapeKind.SPHERE)
    angle = np.linspace(0.0, math.pi, 50)
    ball = 0.05 * np.stack([np.cos(angle), np.full(50, 0.3), np.sin(angle)], axis=1)
    flat = ball * [1.0, 1.0, 0.0]
    assert _look_up(stage, row, place, world(ball)) == pytest.approx(
        _look_up(stage, row, place, world(flat)), abs=1e-12
    )
