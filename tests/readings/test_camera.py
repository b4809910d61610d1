"""The camera reading against hand calculation: thin-lens algebra and similar triangles, stated in each test."""

from __future__ import annotations

import json
import math
import subprocess
import sys

import numpy as np
import pytest

from throughlight.readings import standing
from throughlight.readings.camera import camera_lines, camera_reading
from throughlight.readings.figures import length_words, significant, time_words
from throughlight.setup import loads

MM = 1e-3

CAMERA = """
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
sync = "1/200 s"
"""

SUBJECT = """
[subject]
shape = { kind = "slab", outline = { shape = "disc", diameter = "60 mm" }, thickness = "6 mm" }
surface = { kind = "matte", reflectance = 0.18 }
"""


def reading_of(*parts):
    return camera_reading(loads("\n".join(parts)))


def test_hundred_millimetres_at_half_a_metre():
    """m = 100/400 = 0.25, image at 125 mm, f/8 works as f/10, frame 144 × 96 mm; angle 2·atan(18/125)."""
    reading = reading_of(CAMERA)
    assert reading.magnification == pytest.approx(0.25, rel=1e-9)
    assert reading.effective_f_number == pytest.approx(10, rel=1e-9)
    assert reading.close_up_loss == pytest.approx(0.643856, abs=5e-7)
    assert (reading.frame_width, reading.frame_height) == pytest.approx((0.144, 0.096), rel=1e-9)
    assert reading.angle_width == pytest.approx(2 * math.atan(18 / 125), rel=1e-9)
    assert reading.angle_diagonal == pytest.approx(2 * math.atan(math.hypot(18, 12) / 125), rel=1e-9)
    assert reading.airy_diameter == pytest.approx(10 / 8 * 10.733e-6, rel=5e-5)
    assert reading.working_distance == pytest.approx(0.5, rel=1e-9)
    assert reading.subject is None


def test_depth_of_field_against_the_subject():
    """c = 43.267 mm/1500, total 2·N·c·(1+m)/m² = 9.23 mm to first order; a 6 mm slice is sharp, a 12 mm one not."""
    thin = reading_of(CAMERA, SUBJECT)
    circle = math.hypot(36, 24) / 1500
    assert thin.depth_of_field.total == pytest.approx(2 * 8 * circle * 1.25 / 0.25**2 * MM, rel=1e-3)
    assert thin.subject.depth == pytest.approx(6 * MM, rel=1e-9)
    assert thin.working_distance == pytest.approx(497 * MM, rel=1e-9)
    assert thin.sharp_throughout
    thick = reading_of(CAMERA, SUBJECT.replace('"6 mm"', '"12 mm"'))
    assert not thick.sharp_throughout
    assert thick.missing_in_front == pytest.approx(thick.depth_of_field.near - 494 * MM, rel=1e-9)
    assert thick.missing_behind == pytest.approx(506 * MM - thick.depth_of_field.far, rel=1e-9)
    words = dict(camera_lines(thick))["depth of field"]
    assert "short by" in words
    assert "in front" in words
    assert "9.2 mm for a subject 6 mm deep: enough" in dict(camera_lines(thin))["depth of field"]


def test_subject_fills_the_frame_by_its_nearest_face():
    """The front rim, 60 mm wide at 497 mm, on a frame that is 144 × 96 mm at 500 mm."""
    subject = reading_of(CAMERA, SUBJECT).subject
    assert subject.fills_width == pytest.approx(60 / 144 * 500 / 497, rel=1e-9)
    assert subject.fills_height == pytest.approx(60 / 96 * 500 / 497, rel=1e-9)
    assert subject.inside


def test_subject_cut_by_the_frame():
    reading = reading_of(CAMERA, SUBJECT.replace('"60 mm"', '"100 mm"'))
    assert not reading.subject.inside
    assert "cut by the frame" in dict(camera_lines(reading))["framing"]


def placed(shape, at):
    surface = 'surface = { kind = "matte", reflectance = 0.5 }'
    return f"[subject]\nshape = {shape}\nat = {at}\naim = [{at[1:-1].rpartition(',')[0]}, '10 m']\n{surface}"


BALL = '{ kind = "sphere", diameter = "20 mm" }'
DISC = '{ kind = "slab", outline = { shape = "disc", diameter = "20 mm" }, thickness = "0.1 mm" }'


@pytest.mark.parametrize("shape", [BALL, DISC])
@pytest.mark.parametrize(
    ("at", "outside"),
    [
        ("['0 mm', '0 mm', '0 mm']", False),
        ("['79 mm', '0 mm', '0 mm']", False),
        ("['84 mm', '0 mm', '0 mm']", True),
        ("['0 mm', '-60 mm', '0 mm']", True),
        ("['0 mm', '-56 mm', '0 mm']", False),
        ("['80 mm', '56 mm', '0 mm']", True),
        ("['78 mm', '54 mm', '0 mm']", False),
        ("['0 mm', '0 mm', '700 mm']", True),
        ("['300 mm', '0 mm', '500 mm']", True),
    ],
)
def test_outside_the_frame_is_not_cut_by_it(shape, at, outside):
    """The frame ends 72 mm aside and 48 mm up at 500 mm; (8, 8) mm past its corner lies 11.3 mm away, (6, 6) 8.5 mm.

    A ball of radius r reaches r·√(1 + (72/500)²) past its centre along the frame's plane: 10.10 mm for 10 mm.
    """
    reading = reading_of(CAMERA.replace("iso = 100", 'iso = 100\naim = ["0 cm", "0 cm", "0 cm"]'), placed(shape, at))
    assert reading.subject.outside is outside
    framing = dict(camera_lines(reading))["framing"]
    assert (framing == "the subject is outside the frame") is outside
    assert not (outside and reading.subject.inside)


def test_ball_fills_the_frame_by_its_tangents():
    """A ball of 80 mm at 500 mm: tan(asin(40/500)) over 12/125 of the half height."""
    ball = '[subject]\nshape = { kind = "sphere", diameter = "80 mm" }\nsurface = { kind = "matte", reflectance = 0.5 }'
    subject = reading_of(CAMERA, ball).subject
    assert subject.fills_height == pytest.approx(math.tan(math.asin(0.08)) / (12 / 125), rel=1e-9)
    assert subject.depth == pytest.approx(80 * MM, rel=1e-9)


def head(name, at):
    face = '{ shape = "disc", diameter = "5 cm" }'
    return f'[[head]]\nname = "{name}"\nat = {at}\nface = {face}\nenergy = "100 J"'


@pytest.mark.parametrize(("shutter", "ok"), [("1/125 s", True), ("1/200 s", True), ("1/250 s", False), ("2 s", True)])
def test_sync(shutter, ok):
    reading = reading_of(CAMERA.replace("1/125 s", shutter), head("left", '["-1 m", "0 m", "0 m"]'))
    assert reading.sync_ok is ok
    assert ("faster than the sync limit of 1/200 s" in dict(camera_lines(reading))["sync"]) is not ok


def card(name, at, width, height, aim='["0 cm", "0 cm", "50 cm"]', table="card"):
    return f'[[{table}]]\nname = "{name}"\nat = {at}\naim = {aim}\nwidth = "{width}"\nheight = "{height}"'


def test_card_in_the_frame():
    """A card of 36 × 24 mm at the plane of focus, facing the lens, fills 36·24/(144·96) = 1/16 of the frame."""
    (thing,) = reading_of(CAMERA, card("silver", '["0 cm", "0 cm", "0 cm"]', "36 mm", "24 mm")).in_frame
    assert (thing.name, thing.kind, thing.whole, thing.hidden) == ("silver", "card", True, False)
    assert thing.share == pytest.approx(1 / 16, rel=1e-9)


def test_card_half_in_the_frame():
    """Moved to the frame's right edge (72 mm), half of its 36 × 24 mm stays: 1/32. It faces straight forward."""
    (thing,) = reading_of(
        CAMERA, card("silver", '["72 mm", "0 cm", "0 cm"]', "36 mm", "24 mm", '["72 mm", "0 cm", "50 cm"]')
    ).in_frame
    assert not thing.whole
    assert thing.share == pytest.approx(1 / 32, rel=1e-9)


@pytest.mark.parametrize(
    "at",
    ['["72.1 mm", "0 cm", "0 cm"]', '["0 cm", "49 mm", "0 cm"]', '["0 cm", "0 cm", "80 cm"]'],
    ids=["beside", "above", "behind the camera"],
)
def test_card_outside_the_frame(at):
    """Edges at 72 and 48 mm from the axis; a card of 0.1 mm beyond them, or behind the lens, is not in the picture."""
    reading = reading_of(CAMERA, card("silver", at, "0.1 mm", "0.1 mm", '["0 cm", "0 cm", "40 cm"]'))
    assert reading.in_frame == ()
    assert dict(camera_lines(reading))["in the frame"] == "no head, card, flag or support"


def test_card_that_reaches_past_the_lens_is_cut():
    """From 20 cm behind the lens to far before it, 20 cm beside the axis: in the frame where 0.2 < z·18/125.

    Its plane is x = 0.2; image x from 0.2/z. With height 10 cm it fills, from z = 0.2·125/18 = 1.389 m to its end at
    1.8 m, the strip of height 0.1/z: ∫ 0.1/z d(0.2/z) = 0.02·(1/z₁² − 1/z₂²)/2 of the picture plane.
    """
    long = card("side", '["20 cm", "0 cm", "-30 cm"]', "2 m", "10 cm", '["0 cm", "0 cm", "-30 cm"]')
    (thing,) = reading_of(CAMERA, long).in_frame
    near, far = 0.2 * 125 / 18, 1.8
    area = 0.01 * (1 / near**2 - 1 / far**2)
    assert thing.share == pytest.approx(area / (36 * 24 / 125**2), rel=1e-9)
    assert not thing.whole


def test_head_hidden_behind_the_backdrop():
    """A bowl 30 cm behind a backdrop that fills the frame cannot be seen; without the backdrop it can."""
    backdrop = '[backdrop]\ndistance = "50 cm"\nwidth = "60 cm"\nheight = "60 cm"\ncloth = { reflectance = 0.03 }'
    rim = head("rim", '["0 cm", "0 cm", "-80 cm"]')
    covered = reading_of(CAMERA, backdrop, rim)
    assert [thing.hidden for thing in covered.in_frame] == [True]
    assert dict(camera_lines(covered))["in the frame"] == "rim (head, hidden)"
    assert [thing.hidden for thing in reading_of(CAMERA, rim).in_frame] == [False]


def test_wire_across_the_frame():
    """A wire of 2 mm from high above down to the middle of the focus plane: 2 × 48 mm of 144 × 96 mm."""
    wire = (
        '[[support]]\nname = "wire"\nfrom = ["0 cm", "0 cm", "0 cm"]\nto = ["0 cm", "50 cm", "0 cm"]\ndiameter = "2 mm"'
    )
    (thing,) = reading_of(CAMERA, wire).in_frame
    assert (thing.kind, thing.whole) == ("support", False)
    assert thing.share == pytest.approx(2 * 48 / (144 * 96), rel=2e-3)  # its sides run a little aslant to the lens


def test_json_has_units_in_its_keys():
    text = json.dumps(reading_of(CAMERA, SUBJECT).as_json(), allow_nan=False)
    told = json.loads(text)
    assert told["working_distance_mm"] == pytest.approx(497)
    assert told["airy_disc_diameter_um"] == pytest.approx(13.416, abs=5e-4)
    assert told["sync_limit_s"] == pytest.approx(1 / 200)
    assert told["subject"]["depth_mm"] == pytest.approx(6)


def test_cut_keeps_the_whole_or_nothing():
    square = np.array([[0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]], float)
    assert len(standing.cut(square, np.array([1.0, 0, 0]), -1)) == 4
    assert len(standing.cut(square, np.array([1.0, 0, 0]), 2)) == 0
    half = standing.cut(square, np.array([1.0, 0, 0]), 0.5)
    assert half[:, 0].min() == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (0.0008, "0.8 mm"),
        (0.014, "14 mm"),
        (0.0999, "100 mm"),
        (0.92, "92 cm"),
        (0.497, "49.7 cm"),
        (2.4, "2.4 m"),
        (math.inf, "no end"),
    ],
)
def test_length_words(length, words):
    assert length_words(length) == words


@pytest.mark.parametrize(("time", "words"), [(1 / 125, "1/125 s"), (0.4, "0.4 s"), (2.0, "2 s"), (0.25, "1/4 s")])
def test_time_words(time, words):
    assert time_words(time) == words


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(1234.0, 3, "1230"), (0.1837, 2, "0.18"), (100.0, 2, "100"), (9.96, 2, "10"), (0, 2, "0")],
)
def test_significant(value, digits, text):
    assert significant(value, digits) == text


def test_readings_without_tracing_import_no_numba():
    """`check` must answer within a second; compiling kernels alone would take longer."""
    code = "import sys, throughlight.readings.camera, throughlight.readings.power; print('numba' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_mesh_subject_is_measured_by_its_corners(tmp_path):
    """A regular octahedron of 40 mm across, in millimetres, turned to the camera: 40 mm deep, 40 mm wide at 500 mm."""
    corners = [(20, 0, 0), (-20, 0, 0), (0, 20, 0), (0, -20, 0), (0, 0, 20), (0, 0, -20)]
    faces = [(1, 3, 5), (3, 2, 5), (2, 4, 5), (4, 1, 5), (3, 1, 6), (2, 3, 6), (4, 2, 6), (1, 4, 6)]
    lines = [f"v {x} {y} {z}" for x, y, z in corners] + [f"f {a} {b} {c}" for a, b, c in faces]
    (tmp_path / "gem.obj").write_text("\n".join(lines))
    gem = '[subject]\nshape = { kind = "mesh", file = "gem.obj", unit = "mm" }\nsurface = { reflectance = 0.5 }'
    subject = camera_reading(loads(CAMERA + gem, folder=tmp_path)).subject
    assert subject.depth == pytest.approx(40 * MM, rel=1e-6)
    assert subject.fills_width == pytest.approx(40 / 144, rel=1e-6)


def test_polygon_slice_seen_from_the_side():
    """A slice 60 × 40 mm facing camera right shows its thickness, and its width becomes depth."""
    outline = (
        '{ shape = "polygon", points = [["-3 cm", "-2 cm"], ["3 cm", "-2 cm"], ["3 cm", "2 cm"], ["-3 cm", "2 cm"]] }'
    )
    slab = f'[subject.shape]\nkind = "slab"\nthickness = "6 mm"\noutline = {outline}'
    side = '[subject]\naim = ["1 m", "0 m", "0 m"]\nsurface = { reflectance = 0.5 }'
    subject = reading_of(CAMERA, side, slab).subject
    assert subject.depth == pytest.approx(60 * MM, rel=1e-9)
    assert subject.fills_width == pytest.approx(6 / 144 * 500 / 470, rel=1e-9)


def test_shift_shows_another_part_of_the_set():
    """Lens 4 mm right and 5 mm up: the frame's middle moves 16 and 20 mm at the focus (m = 0.25), and stays 144 × 96.

    Its edges are then at −56 and 88 mm, −28 and 68 mm; the card of 36 × 24 mm at the top right corner is half in.
    """
    shifted = CAMERA + 'shift = ["4 mm", "5 mm"]\n'
    aim = '["{} mm", "{} mm", "50 cm"]'
    inside = card("a", '["70 mm", "56 mm", "0 cm"]', "35.9 mm", "23.9 mm", aim.format(70, 56))
    half = card("b", '["-56 mm", "20 mm", "0 cm"]', "36 mm", "24 mm", aim.format(-56, 20))
    beyond = card("c", '["-75 mm", "20 mm", "0 cm"]', "36 mm", "24 mm", aim.format(-75, 20))
    reading = reading_of(shifted, inside, half, beyond)
    assert [(thing.name, thing.whole) for thing in reading.in_frame] == [("a", True), ("b", False)]
    assert reading.in_frame[1].share == pytest.approx(1 / 32, rel=1e-9)
    assert (reading.frame_width, reading.frame_height) == pytest.approx((0.144, 0.096), rel=1e-9)
    assert reading.plane is None
    assert reading.magnification == pytest.approx(0.25, rel=1e-9)


@pytest.mark.parametrize(("off", "outside"), [(9.9, False), (10.1, True)])
def test_ball_at_the_edge_of_a_shifted_frame(off, outside):
    """38 mm left: of 200 mm at the focus the right edge lies at 100 − 4·38 = −52 mm, along a plane of slope −52/500.

    A ball of radius 10 mm touches that plane with its middle 10·√(1 + (52/500)²) mm beside the edge.
    """
    moved = CAMERA.replace("36x24 mm", "50x24 mm") + 'shift = ["-38 mm", "0 mm"]\n'
    centre = -52 + off * math.hypot(1.0, 52 / 500)
    assert reading_of(moved, placed(BALL, f"['{centre} mm', '0 mm', '0 mm']")).subject.outside is outside


def test_ball_under_shift_is_measured_from_the_middle_of_the_frame():
    """A ball on the axis looks the same in size wherever the frame lies: tan(asin(40/500)) over 12/125."""
    ball = '[subject]\nshape = { kind = "sphere", diameter = "80 mm" }\nsurface = { kind = "matte", reflectance = 0.5 }'
    subject = reading_of(CAMERA + 'shift = ["0 mm", "3 mm"]\n', ball).subject
    assert subject.fills_height == pytest.approx(math.tan(math.asin(0.08)) / (12 / 125), rel=1e-9)
    assert not subject.inside  # its image ends 10.03 mm below the axis, the frame now 9 mm
    assert reading_of(CAMERA, ball).subject.inside


LYING = """
[subject]
shape = { kind = "slab", outline = { shape = "rectangle", width = "60 mm", height = "100 mm" }, thickness = "0.1 mm" }
surface = { kind = "matte", reflectance = 0.18 }
"""


def test_plane_of_focus_and_its_hinge():
    """8 deg of tilt, 100 mm: hinge 100/sin 8° = 718.5 mm below; sharp plane atan(500·sin 8°/100) = 34.83 deg."""
    reading = reading_of(CAMERA + 'tilt = "8 deg"\n')
    assert reading.plane.hinge_distance == pytest.approx(0.7185296, abs=1e-6)
    assert math.degrees(reading.plane.lean) == pytest.approx(34.8336, abs=1e-3)
    words = dict(camera_lines(reading))["plane of focus"]
    assert words == "turned by 34.8° to the sensor, about a line 71.9 cm below the lens"
    told = reading.as_json()["plane_of_focus"]
    assert told["hinge_up_mm"] == pytest.approx(-718.5296, abs=1e-3)
    assert "right of the lens" in dict(camera_lines(reading_of(CAMERA + 'swing = "3 deg"\n')))["plane of focus"]
    both = dict(camera_lines(reading_of(CAMERA + 'swing = "3 deg"\ntilt = "-3 deg"\n')))["plane of focus"]
    assert "above and right of the lens" in both
    assert reading_of(CAMERA).as_json()["plane_of_focus"] is None


def test_slice_lying_in_the_plane_of_focus_is_sharp_throughout():
    """Leaning back by the plane's 34.83 deg it is sharp from end to end; upright, or with no tilt, it is soft."""
    lean = math.radians(34.8336)
    normal = f'aim = ["0 m", "{math.sin(lean)!r} m", "{math.cos(lean)!r} m"]\n'
    leaning = LYING.replace("[subject]\n", "[subject]\n" + normal)
    tilted = CAMERA + 'tilt = "8 deg"\n'
    sharp = reading_of(tilted, leaning)
    assert sharp.sharp_throughout
    assert sharp.softest < 2e-6
    assert "enough" in dict(camera_lines(sharp))["depth of field"]
    assert not reading_of(tilted, LYING).sharp_throughout
    assert not reading_of(CAMERA, leaning).sharp_throughout
    assert "softest point" in dict(camera_lines(reading_of(tilted, LYING)))["depth of field"]
    assert reading_of(tilted, LYING).as_json()["subject"]["widest_blur_um"] > 29


def test_corner_without_rings_has_its_natural_falloff():
    """cos⁴ of atan(21.633/125): −0.0851 stop by 4·log2 cos."""
    corner = reading_of(CAMERA).corner
    assert corner.falloff == pytest.approx(4 * math.log2(math.cos(math.atan(math.hypot(18, 12) / 125))), rel=1e-9)
    assert (corner.rings, corner.complaint) == (1.0, "")


def test_deep_hood_cuts_the_frame():
    wide = CAMERA.replace("100 mm", "35 mm").replace("f_number = 8", "f_number = 2")
    cut = reading_of(wide + 'hood = "40 mm"\n')
    assert cut.corner.cut > 1.0
    (words,) = cut.complaints
    assert words.startswith("the hood cuts the frame: the ")
    assert words.endswith("stops darker by it")
    assert cut.as_json()["darkest_corner"]["hood_cuts_the_frame"] is True
    assert reading_of(wide + 'hood = "40 mm"\nhood_diameter = "110 mm"\n').complaints == ()
    (black,) = reading_of(wide + 'hood = "150 mm"\n').complaints
    assert "no light reaches" in black
    told = reading_of(wide + 'hood = "150 mm"\n').as_json()["darkest_corner"]
    assert told["front_element_and_hood_stops"] is None


def test_front_element_alone_is_no_complaint():
    reading = reading_of(CAMERA.replace("f_number = 8", "f_number = 2.8") + 'pupil_depth = "60 mm"\n')
    assert reading.corner.rings < 0.9
    assert reading.complaints == ()
    assert "the front element takes" in dict(camera_lines(reading))["darkest corner"]


def test_shifted_corner_that_loses_most_is_the_far_one():
    reading = reading_of(CAMERA + 'shift = ["4 mm", "10 mm"]\n')
    assert reading.corner.name == "top right"
    far = math.hypot(22, 22) / 125
    assert reading.corner.falloff == pytest.approx(4 * math.log2(math.cos(math.atan(far))), rel=1e-9)
