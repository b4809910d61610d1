"""Bodies of revolution against Pappus and Guldin, frustum formulas and true normals; trimesh judges the skin."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh

from throughlight.setup.sections import Form, core, half, liquid, section, vessel
from throughlight.stage.revolve import SIDES, revolved

MM = 1e-3
# A regular polygon of n sides in a circle has sin(2π/n)/(2π/n) of its area: that of every cut across the axis.
FACETS = math.sin(2.0 * math.pi / SIDES) / (2.0 * math.pi / SIDES)

CYLINDER = Form(((0.03, 0.0), (0.03, 0.1)))
FRUSTUM = Form(((0.02, -0.01), (0.05, 0.03)))
BALL = Form(tuple((0.03 * math.sin(t), -0.03 * math.cos(t)) for t in np.linspace(0.0, math.pi, 73)))
GLASS = Form(((0.03, 0.0), (0.03, 0.1)), wall=0.002, base=0.005)
FLAT_GLASS = GLASS._replace(round_rim=False)
BOTTLE = Form(
    ((0.03, 0.0), (0.035, 0.05), (0.03, 0.1), (0.012, 0.12), (0.012, 0.15)), smooth=True, wall=0.002, base=0.004
)
BOWL = Form(((0.0, 0.002), (0.018, 0.002), (0.018, 0.0), (0.022, 0.0), (0.05, 0.03), (0.06, 0.05)), wall=0.003)
BAUBLE = Form(((0.0, -0.03), (0.03, 0.0), (0.0, 0.03)), smooth=True, wall=0.001, closed=True)
ALL = {
    "cylinder": CYLINDER,
    "frustum": FRUSTUM,
    "ball": BALL,
    "glass": GLASS,
    "flat glass": FLAT_GLASS,
    "bottle": BOTTLE,
    "bowl": BOWL,
    "bauble": BAUBLE,
}


def skin_of(area):
    body = revolved(half(area))
    return body, trimesh.Trimesh(body.vertices, body.faces, process=False)


def pappus(area):
    """Volume 2π · r of the centroid · area of the half section (Pappus, Guldin 1641)."""
    right = area.intersection(shapely.box(0.0, -1.0, 1.0, 1.0))
    return 2.0 * math.pi * right.centroid.x * right.area


@pytest.mark.parametrize("name", ALL)
def test_the_skin_closes_faces_outward_and_holds_the_volume_of_pappus(name):
    area = section(ALL[name])
    _, skin = skin_of(area)
    assert skin.is_watertight
    assert skin.is_winding_consistent
    assert skin.volume == pytest.approx(pappus(area) * FACETS, rel=1e-5)  # corners within 10⁻⁶ of the size were joined


@pytest.mark.parametrize(
    ("form", "volume", "area"),
    [
        (CYLINDER, math.pi * 0.03**2 * 0.1, 2 * math.pi * 0.03 * (0.03 + 0.1)),
        # h·π/3·(R² + R·r + r²), π(R + r)·slant + πR² + πr²
        (FRUSTUM, math.pi / 3 * 0.04 * (0.05**2 + 0.05 * 0.02 + 0.02**2), math.pi * (0.07 * 0.05 + 0.05**2 + 0.02**2)),
        (BALL, 4 / 3 * math.pi * 0.03**3, 4 * math.pi * 0.03**2),
    ],
)
def test_volume_and_area_of_textbook_bodies(form, volume, area):
    _, skin = skin_of(section(form))
    assert skin.volume == pytest.approx(volume, rel=1.5e-3)
    assert skin.area == pytest.approx(area, rel=1.5e-3)


def test_volume_of_a_glass_by_hand():
    """Wall, base and a rim that is half a torus: π²/4 · (middle radius) · wall² (Pappus for a half disc)."""
    wall = math.pi * (0.03**2 - 0.028**2) * (0.099 - 0.005)
    base = math.pi * 0.03**2 * 0.005
    rim = 2.0 * math.pi * 0.029 * 0.5 * math.pi * 0.001**2
    _, skin = skin_of(section(GLASS))
    assert skin.volume == pytest.approx((wall + base + rim) * FACETS, rel=1e-4)


@pytest.mark.parametrize("name", ["glass", "bottle", "bowl", "bauble"])
def test_the_wall_is_as_thick_as_it_is_said(name):
    """From places on the cavity's rim the outer profile is one wall away, or further over the base."""
    form = ALL[name]
    parts = vessel(form)
    outer = shapely.LineString(section(form._replace(wall=None, base=None)).exterior.coords)
    inner = shapely.get_coordinates(parts.cavity.boundary.segmentize(1e-4))
    inner = inner[inner[:, 1] < parts.rim - 2.0 * form.wall]
    away = shapely.distance(shapely.points(inner), outer)
    assert away.min() == pytest.approx(form.wall, rel=2e-3)
    side = inner[:, 1] > parts.floor + 2e-3
    assert np.percentile(away[side], 90) == pytest.approx(form.wall, rel=2e-3)


@pytest.mark.parametrize("name", ["glass", "bottle", "bauble", "ball"])
def test_normals_are_unit_and_lean_away_from_their_facet_by_no_more_than_half_a_step(name):
    body, skin = skin_of(section(ALL[name]))
    assert np.linalg.norm(body.normals, axis=2) == pytest.approx(1.0, abs=1e-9)
    lean = np.degrees(np.arccos(np.clip((body.normals * skin.face_normals[:, None]).sum(axis=2), -1.0, 1.0)))
    # a step of 2.5° along the profile and 1.9° round the axis; where steps differ in length a little more
    assert np.quantile(lean, 0.99) < 2.6
    assert lean.max() < 31.0


def test_normals_of_a_ball_are_its_radii():
    body, _ = skin_of(section(BALL))
    places = body.vertices[body.faces]
    radii = places / np.linalg.norm(places, axis=2, keepdims=True)
    near_axis = np.hypot(places[..., 0], places[..., 2]) < 1e-9
    lean = np.arccos(np.clip((body.normals * radii).sum(axis=2), -1.0, 1.0))
    assert lean[~near_axis].max() < 1e-6
    assert lean[near_axis].max() < 1e-6


def test_normals_of_a_smooth_bottle_against_finite_differences():
    """Over its outer side the normal is at right angles to the slope of the profile, dr/dy taken between corners."""
    body, _ = skin_of(section(BOTTLE))
    places, normals = body.vertices[body.faces].reshape(-1, 3), body.normals.reshape(-1, 3)
    radius = np.hypot(places[:, 0], places[:, 2])
    aside = (normals[:, 0] * places[:, 0] + normals[:, 2] * places[:, 2]) / radius.clip(1e-12)
    outer = (aside > 0.3) & (places[:, 1] > 0.004) & (places[:, 1] < 0.14)
    y, order = np.unique(places[outer, 1].round(9), return_index=True)
    r, slope = radius[outer][order], (normals[outer, 1] / -aside[outer])[order]
    by_differences = np.gradient(r, y)
    assert len(y) > 40
    assert np.abs(np.arctan(slope) - np.arctan(by_differences))[1:-1].max() < np.radians(1.25)  # half a step


def test_real_corners_stay_sharp():
    body, skin = skin_of(section(CYLINDER))
    upward = np.abs(skin.face_normals[:, 1]) > 0.5
    assert np.abs(body.normals[upward][:, :, 1]) == pytest.approx(1.0)
    assert np.abs(body.normals[~upward][:, :, 1]).max() < 1e-12


@pytest.mark.parametrize("level", [0.01, 0.05, 0.094])
def test_a_liquid_reaches_the_middle_of_the_wall_and_stands_at_its_level(level):
    _, skin = skin_of(liquid(GLASS, level))
    assert skin.is_watertight
    assert skin.bounds[1, 1] == pytest.approx(0.005 + level)
    # radius 30 − 2/2 mm; down to 1 mm over the underside, where it lies within the base
    assert skin.volume == pytest.approx(math.pi * 0.029**2 * (level + 0.004) * FACETS, rel=1e-6)


def test_what_a_photographer_pours_in_is_the_part_within_the_cavity():
    wet = liquid(GLASS, 0.05).intersection(vessel(GLASS).cavity)
    assert pappus(wet) == pytest.approx(math.pi * 0.028**2 * 0.05, rel=1e-9)


@pytest.mark.parametrize("name", ["glass", "flat glass", "bottle", "bowl", "bauble"])
def test_no_gap_between_liquid_and_vessel(name):
    form = ALL[name]
    parts = vessel(form)
    level = 0.6 * (parts.rim - parts.floor)
    wet = liquid(form, level)
    below = shapely.box(-1.0, -1.0, 1.0, parts.floor + level)
    assert parts.cavity.intersection(below).difference(wet).area < 1e-12  # m²; it fills all of the cavity
    assert wet.difference(parts.body.union(parts.cavity)).area < 1e-12  # and stays within the vessel
    _, skin = skin_of(wet)
    assert skin.is_watertight
    assert skin.volume > 0.0


def test_a_wine_bottle_s_dent_holds_no_liquid():
    dent = Form(((0.0, 0.02), (0.025, 0.0), (0.035, 0.0), (0.035, 0.2)), wall=0.003)
    assert vessel(dent).floor == pytest.approx(0.003, abs=1e-4)
    wet = liquid(dent, 0.005)
    assert shapely.get_num_geometries(wet) == 2  # both sides of the dent: a ring
    _, skin = skin_of(wet)
    assert skin.is_watertight


@pytest.mark.parametrize("name", ["cylinder", "glass", "bowl"])
def test_a_core_is_its_body_less_the_coat_all_round(name):
    area = section(ALL[name])
    inner = core(area, 0.0002)
    # round inner corners of the body the coat is cut in steps of 2.5°: a chord is 1 − cos 1.25° nearer
    assert inner.boundary.distance(area.boundary) == pytest.approx(0.0002, rel=2.4e-4)
    assert shapely.hausdorff_distance(inner.boundary.segmentize(1e-3), area.boundary) < 0.0002 * math.sqrt(2) + 1e-6
    _, skin = skin_of(inner)
    assert skin.is_watertight
    assert skin.volume == pytest.approx(pappus(inner) * FACETS, rel=1e-5)
