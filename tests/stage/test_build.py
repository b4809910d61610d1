"""From a setup text to tables: where things stand, which way they face, what they are named, and how bright they are.

Right-handed, +x to camera right, +y up, +z toward the camera; a bearing of 90° is at camera right. Expected places are
worked out by hand beside each check.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from throughlight.setup import SetupError, loads
from throughlight.stage.build import build
from throughlight.trace.tables import Region, ShapeKind, Stage, SurfaceKind

CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
front_element = "60 mm"
hood = "30 mm"
blades = 7
"""


def staged(more: str, camera: str = CAMERA) -> tuple[Stage, tuple[str, ...], tuple[str, ...]]:
    stage, cast = build(loads(camera + more))
    return stage, cast.heads, cast.parts


def axis(row, letter):
    return np.array([row[f"{letter}{i}"] for i in "xyz"])


def test_lens_stands_and_looks_as_written():
    """m = f/(s − f) = 0.25, so the sensor takes in 144 × 96 mm; pupil 100/8/2 mm; x to camera right, z backwards."""
    lens = staged("")[0].lens[0]
    assert axis(lens, "o") == pytest.approx((0, 0, 0.5))
    assert axis(lens, "t") == pytest.approx((1, 0, 0))
    assert axis(lens, "b") == pytest.approx((0, 1, 0))
    assert axis(lens, "n") == pytest.approx((0, 0, 1))
    assert (lens["focus"], lens["half_width"], lens["half_height"]) == pytest.approx((0.5, 0.072, 0.048))
    assert (lens["pupil"], lens["front"], lens["hood"], lens["blades"]) == pytest.approx((0.00625, 0.03, 0.03, 7))


def test_lens_at_another_bearing_and_rolled():
    """From camera right the lens looks along −x; its right is −z. Rolled by 90° its up lies level."""
    camera = CAMERA.replace('at = ["0 cm", "0 cm", "50 cm"]', 'at = { bearing = "90 deg", distance = "50 cm" }')
    lens = staged("", camera)[0].lens[0]
    assert axis(lens, "o") == pytest.approx((0.5, 0, 0))
    assert axis(lens, "n") == pytest.approx((1, 0, 0))
    assert axis(lens, "t") == pytest.approx((0, 0, -1))
    rolled = staged("", CAMERA + 'roll = "90 deg"\n')[0].lens[0]
    assert axis(rolled, "n") == pytest.approx((0, 0, 1))
    assert abs(axis(rolled, "b")[0]) == pytest.approx(1)
    assert np.cross(axis(rolled, "t"), axis(rolled, "b")) == pytest.approx(axis(rolled, "n"))


DISC = """
[[head]]
name = "left head"
face = { shape = "disc", diameter = "20 cm" }
at = { bearing = "-90 deg", distance = "40 cm", height = "10 cm" }
aim = ["0 cm", "10 cm", "0 cm"]
energy = "100 J"
efficacy = "30 lm*s/J"
efficiency = 0.5
stops = "-1 stop"
"""


def test_disc_head():
    """Half of 3000 lm·s, one stop down: 750 lm·s from a Lambertian face of π/100 m², L = 750/(π·A), I = 750/π."""
    stage, heads, parts = staged(DISC)
    head, shape = stage.heads[0], stage.shapes[0]
    assert heads == ("left head",)
    assert parts == ("left head, face", "left head, back")
    assert axis(head, "o") == pytest.approx((-0.4, 0.1, 0))
    assert axis(head, "n") == pytest.approx((1, 0, 0))
    assert head["area"] == pytest.approx(math.pi / 100)
    luminance = np.array([head["red"], head["green"], head["blue"]])
    assert luminance @ (0.2126, 0.7152, 0.0722) == pytest.approx(750 / math.pi / (math.pi / 100))
    assert luminance == pytest.approx(np.full(3, luminance[0]), rel=1e-6)  # 5600 K at a balance of 5600 K
    assert head["intensity"] == pytest.approx(750 / math.pi)
    assert head["exponent"] == pytest.approx(1.0)
    assert (shape["kind"], shape["head"], shape["sa"]) == (ShapeKind.DISC, 0, pytest.approx(0.1))
    assert head["shape"] == 0
    for row in (shape["part"], shape["part"] + 1):
        assert stage.parts[row]["region"] == Region.OTHER
        assert stage.parts[row]["red"] == 0.0


def test_rectangle_and_tube_heads():
    """A panel's width lies level; a tube lies level across the line to its aim."""
    stage, _, _ = staged("""
[[head]]
face = { shape = "rectangle", width = "60 cm", height = "90 cm" }
at = ["0 cm", "0 cm", "-80 cm"]
energy = "100 J"

[[head]]
face = { shape = "tube", length = "1 m", diameter = "4 cm" }
at = ["0 cm", "50 cm", "-80 cm"]
aim = ["0 cm", "50 cm", "0 cm"]
energy = "100 J"
""")
    panel, tube = stage.heads
    assert abs(axis(panel, "t")) == pytest.approx((1, 0, 0))
    assert abs(axis(panel, "b")) == pytest.approx((0, 1, 0))
    assert axis(panel, "n") == pytest.approx((0, 0, 1))
    assert (panel["sa"], panel["sb"], panel["area"]) == pytest.approx((0.3, 0.45, 0.54))
    assert abs(axis(tube, "n")) == pytest.approx((1, 0, 0))
    assert (tube["sa"], tube["sc"], tube["area"]) == pytest.approx((0.02, 0.5, math.pi * 0.04))
    for head in stage.heads:
        assert np.cross(axis(head, "t"), axis(head, "b")) == pytest.approx(axis(head, "n"))


def test_narrow_beam():
    """A full angle of 60° at half the intensity: cosᵏ 30° = 1/2, k = ln 2/−ln cos 30° = 4.8188."""
    head = staged(DISC + 'beam = "60 deg"\n')[0].heads[0]
    assert head["exponent"] == pytest.approx(4.8188, abs=1e-4)


def test_cards_and_flags_have_two_faces():
    stage, _, parts = staged("""
[[card]]
name = "bounce"
at = ["30 cm", "0 cm", "0 cm"]
width = "20 cm"
height = "40 cm"

[[flag]]
at = ["-30 cm", "0 cm", "0 cm"]
width = "20 cm"
height = "40 cm"
""")
    card, flag = stage.shapes
    assert axis(card, "n") == pytest.approx((-1, 0, 0))
    assert (card["sa"], card["sb"]) == pytest.approx((0.1, 0.2))
    assert parts[card["part"]] == "bounce, white card face"
    assert parts[card["part"] + 1] == "bounce, black card face"
    assert parts[flag["part"]] == parts[flag["part"] + 1] == "flag 1, black card face"
    white, black = stage.parts[card["part"]]["green"], stage.parts[card["part"] + 1]["green"]
    assert 0.8 <= white <= 0.92  # white card or foam board: common practice, no source
    assert 0.03 <= black <= 0.06  # black card: common practice, no source
    assert stage.parts[flag["part"]]["green"] == black


def test_backdrop_table_support_and_their_regions():
    stage, _, parts = staged("""
[backdrop]
distance = "90 cm"
width = "150 cm"
height = "120 cm"
cloth = "black velvet"

[table]
height = "-5 cm"
width = "80 cm"
depth = "60 cm"
surface = "white paper"

[[support]]
name = "wire"
from = ["0 cm", "3 cm", "0 cm"]
to = ["0 cm", "33 cm", "0 cm"]
diameter = "1 mm"
""")
    drop, table, wire = stage.shapes
    assert axis(drop, "o") == pytest.approx((0, 0, -0.9))
    assert axis(drop, "n") == pytest.approx((0, 0, 1))
    assert (drop["sa"], drop["sb"]) == pytest.approx((0.75, 0.6))
    assert stage.parts[drop["part"]]["region"] == Region.BACKDROP
    assert stage.parts[drop["part"]]["surface"] == SurfaceKind.CLOTH
    assert stage.parts[drop["part"]]["green"] == pytest.approx(0.004)  # common practice, no source
    assert stage.parts[drop["part"]]["pile"] > 0.0
    assert axis(table, "o") == pytest.approx((0, -0.05, 0))
    assert axis(table, "n") == pytest.approx((0, 1, 0))
    assert abs(axis(table, "t")) == pytest.approx((1, 0, 0))
    assert (table["sa"], table["sb"]) == pytest.approx((0.4, 0.3))
    assert stage.parts[table["part"]]["region"] == Region.OTHER
    assert axis(wire, "o") == pytest.approx((0, 0.18, 0))
    assert abs(axis(wire, "n")) == pytest.approx((0, 1, 0))
    assert (wire["kind"], wire["sa"], wire["sc"]) == (ShapeKind.TUBE, pytest.approx(0.0005), pytest.approx(0.15))
    assert stage.parts[wire["part"]]["region"] == Region.SUPPORT
    assert parts[wire["part"]] == "wire"


def test_supports_may_be_left_out():
    text = CAMERA + '[[support]]\nfrom = ["0 cm", "3 cm", "0 cm"]\nto = ["0 cm", "9 cm", "0 cm"]\ndiameter = "1 mm"\n'
    assert len(build(loads(text))[0].shapes) == 1
    assert len(build(loads(text), supports=False)[0].shapes) == 0


SUBJECT = """
[subject]
at = ["1 cm", "2 cm", "3 cm"]
aim = ["1 cm", "2 cm", "90 cm"]
shape = {shape}
{finish}
"""
SKIN = "g = 0.8, n = 1.4, roughness = 0.3"
MATERIAL = f'material = {{ reduced_scattering = "1 2 3 1/mm", absorption = "0.01 1/mm", {SKIN} }}'
BALL = '{ kind = "sphere", diameter = "4 cm" }'


@pytest.mark.parametrize(
    ("shape", "kind", "sizes"),
    [
        (BALL, ShapeKind.SPHERE, (0.02, 0, 0)),
        (
            '{ kind = "slab", outline = { shape = "disc", diameter = "6 cm" }, thickness = "4 mm" }',
            ShapeKind.ROUND,
            (0.03, 0, 0.002),
        ),
        (
            '{ kind = "slab", outline = { shape = "rectangle", width = "6 cm", height = "4 cm" }, thickness = "4 mm" }',
            ShapeKind.BOX,
            (0.03, 0.02, 0.002),
        ),
    ],
)
@pytest.mark.parametrize("translucent", [True, False])
def test_subjects_of_exact_shape(shape, kind, sizes, translucent):
    finish = MATERIAL if translucent else "surface = { reflectance = [0.2, 0.3, 0.4] }"
    stage, _, _ = staged(SUBJECT.format(shape=shape, finish=finish))
    body = stage.shapes[0]
    assert body["kind"] == kind
    assert (body["sa"], body["sb"], body["sc"]) == pytest.approx(sizes)
    assert axis(body, "o") == pytest.approx((0.01, 0.02, 0.03))
    assert axis(body, "n") == pytest.approx((0, 0, 1))
    for row in (body["part"], body["part"] + 1):
        assert stage.parts[row]["region"] == Region.SUBJECT
        assert stage.parts[row]["surface"] == (SurfaceKind.BOUNDARY if translucent else SurfaceKind.MATTE)
    if translucent:
        # µs = µs′/(1 − g): 1/mm at g = 0.8 is 5000 1/m.
        medium = stage.media[body["medium"]]
        scatter = (medium["scatter_red"], medium["scatter_green"], medium["scatter_blue"])
        assert scatter == pytest.approx((5e3, 1e4, 1.5e4))
        assert (medium["absorb_blue"], medium["g"], medium["n"], medium["alpha"]) == pytest.approx((10, 0.8, 1.4, 0.3))
    else:
        assert body["medium"] == -1
        assert len(stage.media) == 0
        assert stage.parts[body["part"]]["blue"] == pytest.approx(0.4)


def test_matched_index_has_no_rough_boundary():
    finish = MATERIAL.replace("n = 1.4", "n = 1.0")
    stage, _, _ = staged(SUBJECT.format(shape=BALL, finish=finish))
    assert stage.media[0]["alpha"] == 0.0


def test_polygon_slab_is_a_mesh_in_the_world():
    """A triangle of 3 × 4 cm, 2 mm thick, turned by 90°: volume ½·12 cm²·2 mm by the divergence theorem."""
    points = '[["0 cm", "0 cm"], ["3 cm", "0 cm"], ["0 cm", "4 cm"]]'
    shape = f'{{ kind = "slab", outline = {{ shape = "polygon", points = {points} }}, thickness = "2 mm" }}'
    stage, _, _ = staged(SUBJECT.format(shape=shape, finish=MATERIAL + '\nturn = "90 deg"'))
    body = stage.shapes[0]
    assert body["kind"] == ShapeKind.MESH
    corners = stage.triangles.reshape(-1, 9, 4).swapaxes(1, 2).reshape(-1, 3, 3)
    corners = corners[~np.isnan(corners).any(axis=(1, 2))]
    assert len(corners) == body["triangles"] == 8
    pyramids = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6
    assert pyramids.sum() == pytest.approx(1.2e-6)
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    assert high - low == pytest.approx((0.04, 0.03, 0.002))
    assert low == pytest.approx((0.01 - 0.04, 0.02, 0.029))
    assert (np.array([body["lo_x"], body["lo_y"], body["lo_z"]]) <= low).all()
    assert (np.array([body["hi_x"], body["hi_y"], body["hi_z"]]) >= high).all()


def test_room_light_times_shutter():
    """E = 300 lx from all sides is L = E/π; over 1/100 s that is 0.954930 cd·s/m², white at the camera's balance."""
    room = staged('[ambient]\nilluminance = "300 lx"\n')[0].room
    assert room == pytest.approx(np.full(3, 0.954930), rel=1e-6)
    warm = staged('[ambient]\nilluminance = "300 lx"\ntemperature = "3000 K"\n')[0].room
    assert warm @ (0.2126, 0.7152, 0.0722) == pytest.approx(0.954930, rel=1e-6)
    assert warm[0] > warm[1] > warm[2]
    assert (staged("")[0].room == 0.0).all()


def test_tables_are_plain_and_of_one_type():
    """C-contiguous, writable, of the same types whatever the set holds: one compilation serves all."""
    empty, full = staged("")[0], staged(DISC + SUBJECT.format(shape=BALL, finish=MATERIAL))[0]
    for one, other in zip(empty, full, strict=True):
        assert one.dtype == other.dtype
        assert one.ndim == other.ndim
        for table in (one, other):
            assert table.flags.c_contiguous
            assert table.flags.writeable
    assert full.shares.sum(axis=1) == pytest.approx(np.ones(len(full.shapes)))


def test_a_mesh_that_breaks_after_reading_is_a_mistake(tmp_path):
    trimesh.creation.box((20, 20, 20)).export(tmp_path / "box.ply")
    text = """
    [camera]
    sensor = "36x24 mm"
    focal = "100 mm"
    f_number = 8
    shutter = "1/125 s"
    iso = 100
    at = ["0 cm", "0 cm", "60 cm"]
    [subject]
    shape = { kind = "mesh", file = "box.ply", unit = "mm" }
    material = "marble"
    """
    setup = loads(text, folder=tmp_path)
    (tmp_path / "box.ply").write_bytes(b"ply\nnothing")
    with pytest.raises(SetupError, match=r"subject\.shape\.file: .*would fit"):
        build(setup)
