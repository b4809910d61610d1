"""Slabs with sharp and rounded edges against closed forms; trimesh judges the skin, scipy the distance to the rim."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh

from throughlight.stage.edges import slab
from throughlight.stage.flat import triangles

H = 0.006
RECTANGLE = shapely.box(-0.04, -0.015, 0.04, 0.015)
CIRCLE = shapely.Point(0.0, 0.0).buffer(0.03, quad_segs=45)
RING = CIRCLE.difference(shapely.Point(0.005, 0.0).buffer(0.01, quad_segs=24))
STAR = shapely.Polygon(
    [(r * math.cos(t), r * math.sin(t)) for r, t in zip([0.03, 0.015] * 5, np.arange(10) * math.pi / 5, strict=True)]
)
TWO = shapely.MultiPolygon([shapely.box(0.0, 0.0, 0.02, 0.02), shapely.box(0.03, 0.0, 0.05, 0.01)])
COMB = shapely.union_all(
    [shapely.box(0.0, 0.0, 0.05, 0.01), *(shapely.box(x, 0.01, x + 0.003, 0.03) for x in (0.0, 0.02, 0.047))]
)
GRID = shapely.box(0, 0, 0.05, 0.05).difference(
    shapely.union_all([shapely.box(x, y, x + 0.005, y + 0.005) for x in (0.01, 0.02, 0.03) for y in (0.01, 0.02, 0.03)])
)
ALL = {"rectangle": RECTANGLE, "circle": CIRCLE, "ring": RING, "star": STAR, "two": TWO, "comb": COMB, "grid": GRID}


def skin_of(area, edge):
    body = slab(area, H, edge)
    return body, trimesh.Trimesh(body.vertices, body.faces, process=False)


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("edge", [0.0, 0.001, 0.003])
def test_the_skin_closes_and_faces_outward(name, edge):
    body, skin = skin_of(ALL[name], edge)
    assert skin.is_watertight
    assert skin.is_winding_consistent
    assert skin.volume > 0.0
    assert skin.bounds[:, 2] == pytest.approx([-H / 2, H / 2], rel=0.1)
    assert np.linalg.norm(body.normals, axis=2) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("name", ALL)
def test_a_sharp_slab_has_its_outline_s_volume_and_area(name):
    area = ALL[name]
    _, skin = skin_of(area, 0.0)
    assert skin.volume == pytest.approx(area.area * H, rel=1e-9)
    assert skin.area == pytest.approx(2.0 * area.area + area.length * H, rel=1e-9)


def rounded_volume(width, height, edge):
    """∫ (w − 2d)(l − 2d) dz with d = r − √(r² − z²), z in the edge: closed form by ∫d dz and ∫d² dz."""
    first = edge**2 * (1.0 - math.pi / 4.0)
    second = edge**3 * (5.0 / 3.0 - math.pi / 2.0)
    both = 2.0 * (width * height * edge - 2.0 * (width + height) * first + 4.0 * second)
    return width * height * (H - 2.0 * edge) + both


@pytest.mark.parametrize("edge", [0.001, 0.003])
def test_volume_of_a_rectangle_with_rounded_edges(edge):
    _, skin = skin_of(RECTANGLE, edge)
    # 18 chords to the quarter circle cut off (1 − sin 5°/5°)·r²π/4 of its section; it is less than half a percent of
    # what the edge takes off the sharp slab
    off = 0.08 * 0.03 * H - rounded_volume(0.08, 0.03, edge)
    assert skin.volume == pytest.approx(rounded_volume(0.08, 0.03, edge), abs=0.008 * off)


@pytest.mark.parametrize("edge", [0.001, 0.003])
def test_volume_of_a_disc_with_rounded_edges(edge):
    """Pappus: the disc less, at each rim, what lies between a corner and its quarter circle, turned about the axis."""
    corner = edge**2 * (1.0 - math.pi / 4.0)
    centroid = 0.03 - edge * (10.0 - 3.0 * math.pi) / (12.0 - 3.0 * math.pi)  # of the spandrel, from the square's side
    by_hand = math.pi * 0.03**2 * H - 2.0 * 2.0 * math.pi * centroid * corner
    _, skin = skin_of(CIRCLE, edge)
    assert skin.volume == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize("name", ["rectangle", "ring", "star", "comb"])
def test_heights_are_those_of_a_quarter_circle_over_the_distance_to_the_rim(name):
    edge = 0.001
    area = ALL[name]
    body, _ = skin_of(area, edge)
    front = body.vertices[body.vertices[:, 2] > H / 2 - edge + 1e-9]
    d = shapely.distance(shapely.points(front[:, :2]), area.boundary)
    due = H / 2 - edge + np.sqrt(np.maximum(0.0, edge**2 - np.maximum(0.0, edge - d) ** 2))
    assert front[:, 2] == pytest.approx(due, abs=0.02 * edge)


@pytest.mark.parametrize("name", ["rectangle", "ring", "star"])
def test_normals_against_finite_differences_of_the_distance(name):
    """n ∝ (−∂z/∂x, −∂z/∂y, 1) with z over the distance to the rim, just within each front triangle's corners."""
    edge, step = 0.002, 1e-7
    area = ALL[name]
    body, _ = skin_of(area, edge)
    corners = body.vertices[body.faces]
    places = corners + 0.02 * (corners.mean(axis=1, keepdims=True) - corners)
    on_edge = (corners[:, :, 2] > H / 2 - edge + 1e-9).any(axis=1) & (corners[:, :, 2].min(axis=1) < H / 2 - 1e-9)
    flat = places[on_edge][:, :, :2].reshape(-1, 2)
    normals = body.normals[on_edge].reshape(-1, 3)
    # places that the bands touch at the very rim have no slope; a quarter of a band inward is the test's limit
    d = shapely.distance(shapely.points(flat), area.boundary)
    tried = (d > 0.02 * edge) & (d < 0.98 * edge)

    def height(x, y):
        deep = np.clip(edge - shapely.distance(shapely.points(x, y), area.boundary), 0.0, edge)
        return np.sqrt(edge**2 - deep**2)

    x, y = flat[tried].T
    gradient = np.stack([height(x + step, y) - height(x - step, y), height(x, y + step) - height(x, y - step)], -1)
    true = np.column_stack([-gradient / (2.0 * step), np.ones(len(x))])
    true /= np.linalg.norm(true, axis=1, keepdims=True)
    lean = np.degrees(np.arccos(np.clip((true * normals[tried]).sum(axis=1), -1.0, 1.0)))
    assert np.quantile(lean, 0.9) < 4.0
    assert np.quantile(lean, 0.98) < 16.0  # corners of the outline that are no edges are smoothed


def test_flat_on_top_and_level_at_the_side():
    body, _ = skin_of(RING, 0.001)
    z = body.vertices[body.faces][:, :, 2]
    assert body.normals[z > H / 2 - 1e-12][:, 2] == pytest.approx(1.0)
    assert body.normals[np.abs(z) < H / 2 - 0.001 + 1e-12][:, 2] == pytest.approx(0.0, abs=1e-12)


def test_corners_of_the_outline_stay_sharp_and_round_ones_smooth():
    body, skin = skin_of(RECTANGLE, 0.0)
    assert (body.normals * skin.face_normals[:, None]).sum(axis=2) == pytest.approx(1.0)
    body, skin = skin_of(CIRCLE, 0.0)
    side = np.abs(skin.face_normals[:, 2]) < 0.5
    radial = body.vertices[body.faces][side][:, :, :2] / 0.03
    assert (body.normals[side][:, :, :2] * radial).sum(axis=2) == pytest.approx(1.0, abs=1e-6)


def test_a_narrow_place_ends_in_a_ridge_of_its_own():
    """A bar 2 mm wide under edges of 3 mm: its ridge is lower than the slab by r − √(r² − (r − 1 mm)²)."""
    _, skin = skin_of(shapely.box(0.0, 0.0, 0.05, 0.002), 0.003)
    ridge = math.sqrt(0.003**2 - 0.002**2)
    assert skin.is_watertight
    assert skin.bounds[1, 2] == pytest.approx(ridge, abs=0.1 * 0.003)
    assert skin.bounds[1, 2] <= ridge


def test_corners_in_line_are_all_used():
    """A grid of holes has many corners in line, which ear cutting passes over."""
    for even in (False, True):
        corners, cut = triangles(GRID, even=even)
        assert len(cut) == len(corners) + 2 * 9 - 2
        assert set(cut.ravel().tolist()) == set(range(len(corners)))
