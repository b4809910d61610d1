"""The layers that guide a denoiser: albedo and normal of what each cell looks at."""

from __future__ import annotations

import math

import iadpython
import numpy as np
import pytest

from stages import Bench
from throughlight.stage.frames import facing
from throughlight.trace.layers import look, returned
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

CELLS = np.arange(9, dtype=np.int64)


def looked(bench, count=64, **lens):
    """Return albedo and normal (3, 3, 3) of a film of 3×3 cells, before a lens on the +z axis that looks along −z."""
    stage = bench.stage(**lens)
    albedo, normal = np.zeros((9, 3)), np.zeros((9, 3))
    look(stage, 3, 3, CELLS, count, 1, 0, albedo, normal)
    return albedo.reshape(3, 3, 3) / count, normal.reshape(3, 3, 3) / count


@pytest.mark.parametrize("a", [0.3, 0.9, 0.99, 0.999])
@pytest.mark.parametrize("g", [0.0, 0.8])
def test_what_matter_returns_against_adding_doubling(a, g):
    """Against iadpython's URU of a slab 1000 mean free paths thick, index-matched; the formula is good to 0.01."""
    thick = iadpython.Sample(a=a, b=1000.0, g=g, n=1.0, quad_pts=16)
    assert returned(a, 1.0 - a, g) == pytest.approx(thick.rt()[2], abs=0.01)


def test_a_square_wall_faces_the_camera_and_a_leaning_one_leans():
    bench = Bench()
    bench.rectangle((0, 0, 0), (0, 0, 1), 2.0, 2.0, reflectance=(0.5, 0.4, 0.3))
    albedo, normal = looked(bench)
    np.testing.assert_allclose(albedo[1, 1], (0.5, 0.4, 0.3))
    np.testing.assert_allclose(normal, np.broadcast_to((0.0, 0.0, 1.0), (3, 3, 3)), atol=1e-12)
    bench = Bench()
    bench.rectangle((0, 0, 0), (1.0, 0, 1.0), 4.0, 4.0, reflectance=0.5)
    _, normal = looked(bench)
    np.testing.assert_allclose(normal[1, 1], (math.sqrt(0.5), 0.0, math.sqrt(0.5)), atol=1e-12)


def test_a_ball_leans_away_from_its_middle_on_every_side():
    """Right is +x, up is +y and the first row is at the top; a cell beside the ball, where nothing is, is empty."""
    bench = Bench()
    sizes = (0.15, 0.0, 0.0)
    bench.shape(ShapeKind.SPHERE, (0, 0, 0), facing((0, 0, 0), (0, 0, 1)), sizes, bench.part(Region.SUBJECT, 0.6))
    albedo, normal = looked(bench)
    assert normal[1, 1, 2] > 0.9
    assert normal[1, 2, 0] > 0.1 > -0.1 > normal[1, 0, 0]
    assert normal[0, 1, 1] > 0.1 > -0.1 > normal[2, 1, 1]
    np.testing.assert_allclose(albedo[1, 1], 0.6)
    bench.shapes.clear()
    albedo, normal = looked(bench)
    assert not albedo.any()
    assert not normal.any()


def test_clear_sheets_are_looked_through_and_others_not():
    for passed, expected in ((0.9, 0.3), (0.2, 0.5)):
        bench = Bench()
        bench.rectangle((0, 0, 0), (0, 0, 1), 2.0, 2.0, reflectance=0.3)
        straight = {f"straight_{band}": passed for band in ("red", "green", "blue")}
        spread = {f"through_{band}": 0.4 for band in ("red", "green", "blue")}
        film = {"reflectance": 0.1, "surface": SurfaceKind.SHEET, "n": 1.0, "spread": 1.0, **straight, **spread}
        bench.rectangle((0, 0, 0.3), (0, 0, 1), 2.0, 2.0, **film)
        albedo, _ = looked(bench)
        np.testing.assert_allclose(albedo[1, 1], expected)


def test_a_metal_shows_its_reflectance_at_normal_incidence():
    """Copper at 589 nm: n = 0.27, k = 3.41 reflect 0.92 (n, k from memory; the law is Fresnel's)."""
    bench = Bench()
    metal = {f"{what}_{band}": value for what, value in (("n", 0.27), ("k", 3.41)) for band in ("red", "green", "blue")}
    bench.rectangle((0, 0, 0), (0, 0, 1), 2.0, 2.0, surface=SurfaceKind.METAL, **metal)
    albedo, _ = looked(bench)
    expected = abs((1 - (0.27 + 3.41j)) / (1 + (0.27 + 3.41j))) ** 2
    np.testing.assert_allclose(albedo[1, 1], expected)


def test_mapped_matter_shows_its_pattern():
    """Left half strongly absorbing, right half weakly: the guide is darker on the left by what each half returns."""
    bench = Bench()
    absorb, scatter = np.array([[900.0, 10.0]]).repeat(20, axis=1), np.full((1, 40), 1000.0)
    medium = bench.mapped(absorb, scatter, 0.0, 1.0, -0.4, 0.4, 0.8, 0.8)
    bench.body(ShapeKind.BOX, (0, 0, 0), facing((0, 0, 0), (0, 0, 1)), (0.4, 0.4, 0.01), medium)
    albedo, _ = looked(bench)
    np.testing.assert_allclose(albedo[1, 0], returned(1000.0, 900.0, 0.0), rtol=1e-6)
    np.testing.assert_allclose(albedo[1, 2], returned(1000.0, 10.0, 0.0), rtol=1e-6)
