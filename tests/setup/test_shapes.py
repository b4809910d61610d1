"""Bodies of revolution, fills, coats and rounded edges in a setup file, and the sentence for each mistake."""

from __future__ import annotations

import math

import pytest
import trimesh
from setup_texts import SET, line_of

import throughlight.setup as tls
from throughlight.setup.mistakes import SetupError
from throughlight.setup.sections import section, vessel

BEFORE = SET[: SET.index("[subject]")]
CUP = 'shape = { kind = "revolve", profile = [["3 cm", "0 cm"], ["3 cm", "10 cm"]], wall = "2 mm"MORE }'
BALL = 'shape = { kind = "sphere", diameter = "4 cm" }'
SLAB = (
    'shape = { kind = "slab", thickness = "5 mm", outline = { shape = "rectangle", width = "8 cm", height = "3 cm" } }'
)


def text_of(*lines: str) -> str:
    return BEFORE + "[subject]\n" + "\n".join(('material = "agate"', *lines)) + "\n"


def subject_of(*lines: str, folder=None) -> tls.Subject:
    subject = tls.loads(text_of(*lines), folder=folder).subject
    assert subject is not None
    return subject


def the_mistake_in(*lines: str, folder=None) -> tls.Mistake:
    with pytest.raises(SetupError) as caught:
        tls.loads(text_of(*lines), name="set.toml", folder=folder)
    (mistake,) = caught.value.mistakes
    return mistake


def cup(more: str = "") -> str:
    return CUP.replace("MORE", more)


def test_a_vessel_stands_upright_and_its_base_and_rim_are_where_they_are_said():
    subject = subject_of(cup(', base = "5 mm"'), 'at = ["0 cm", "-4 cm", "0 cm"]')
    parts = vessel(subject.shape.form)
    assert parts.floor == pytest.approx(0.005, abs=1e-12)
    assert parts.body.bounds == pytest.approx((-0.03, 0.0, 0.03, 0.1))
    assert parts.rim == pytest.approx(0.1 - 0.001)  # the rim rounds off over half the wall
    # wall from the base to where the rim begins, base, and the two half discs of the rim
    by_hand = 2 * 0.002 * (0.099 - 0.005) + 0.06 * 0.005 + math.pi * 0.001**2
    assert parts.body.area == pytest.approx(by_hand, rel=1e-4)
    assert subject.faces((0.1, 0.5, 0.6)) == pytest.approx((0.1, -0.04, 0.6))  # level with it
    assert subject.faces((0.0, 0.5, 0.0)) == pytest.approx((0.0, -0.04, 1.0))  # seen straight from above


def test_a_flat_rim_ends_at_the_profile():
    parts = vessel(subject_of(cup(', rim = "flat"')).shape.form)
    assert parts.body.area == pytest.approx(2 * 0.002 * 0.098 + 0.06 * 0.002, rel=1e-9)
    assert parts.rim == pytest.approx(0.1)


def test_a_profile_may_run_downward():
    up, down = (
        subject_of(f'shape = {{ kind = "revolve", profile = {points}, wall = "2 mm" }}').shape
        for points in ('[["3 cm", "0 cm"], ["4 cm", "9 cm"]]', '[["4 cm", "9 cm"], ["3 cm", "0 cm"]]')
    )
    assert section(up.form).equals(section(down.form))


def test_a_smooth_profile_passes_through_its_points_and_closes_flat():
    subject = subject_of(
        'shape = { kind = "revolve", smooth = true, profile = [["0 cm", "-3 cm"], ["3 cm", "0 cm"], ["0 cm", "3 cm"]] }'
    )
    corners = {(round(x, 9), round(y, 9)) for x, y in section(subject.shape.form).exterior.coords}
    assert {(0.0, -0.03), (0.03, 0.0), (0.0, 0.03)} <= corners
    near = min((corner for corner in corners if corner[0] > 0), key=lambda corner: corner[1])
    assert abs(near[1] + 0.03) < 0.1 * near[0]  # level where it meets the axis


@pytest.mark.parametrize(
    ("profile", "more", "words"),
    [
        ('[["3 cm", "0 cm"]]', "", "2 to 2000 points"),
        ('[["3 cm", "0 cm", "1 cm"], ["3 cm", "2 cm"]]', "", "2 to 2000 points"),
        ('[["3 cm", 0], ["3 cm", "2 cm"]]', "", "a unit is missing"),
        ('[["-3 cm", "0 cm"], ["3 cm", "2 cm"]]', "", "zero or more"),
        ('[["3 cm", "0 cm"], ["3 cm", "0 cm"]]', "", "point 2 of the profile is the one before it"),
        ('[["3 cm", "0 cm"], ["0 cm", "1 cm"], ["3 cm", "2 cm"]]', "", "meets the axis between its ends"),
        ('[["0 cm", "0 cm"], ["0 cm", "1 cm"]]', "", "encloses nothing"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"], ["5 cm", "5 cm"], ["1 cm", "2 cm"]]', "", "crosses itself"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"]]', ', wall = "4 cm"', "no room inside"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"]]', ', wall = "30 cm"', "would fit"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"]]', ', wall = "2 mm", base = "1 mm"', "base is thinner than the wall"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"]]', ', wall = "2 mm", base = "6 cm"', "no room inside"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"]]', ', base = "1 mm"', "found base without a wall"),
        ('[["3 cm", "0 cm"], ["3 cm", "5 cm"]]', ", closed = true", "found closed without a wall"),
        ('[["3 cm", "0 cm"], ["0 cm", "5 cm"]]', ', wall = "2 mm"', "ends on the axis, where a vessel is open"),
        (
            '[["1 cm", "0 cm"], ["5 cm", "5 cm"], ["5 cm", "6 cm"], ["2 cm", "6 cm"], ["2 cm", "3 cm"]]',
            ', wall = "2 mm"',
            "passes over its own rim",
        ),
    ],
)
def test_profiles_that_cannot_be_turned(profile, more, words):
    line = f'shape = {{ kind = "revolve", profile = {profile}{more} }}'
    mistake = the_mistake_in(line)
    assert words in mistake.message
    assert "would fit" in mistake.message
    assert mistake.key.startswith("subject.shape")
    assert mistake.line == line_of(text_of(line), line)


@pytest.mark.parametrize(
    ("shape", "fill", "key", "words"),
    [
        (cup(), '{ level = "12 cm", material = "whole milk" }', "subject.fill.level", "holds 97 mm up to its rim"),
        (cup(), '{ level = "-1 cm", material = "whole milk" }', "subject.fill.level", "above zero would fit"),
        (cup(), '{ level = "1 cm" }', "subject.fill.material", "has to be given"),
        (cup(), '{ level = "1 cm", material = "mlik" }', "subject.fill.material", "not in the kit"),
        (BALL, '{ level = "1 cm", material = "whole milk" }', "subject.fill", "only a vessel holds a liquid"),
        (
            'shape = { kind = "revolve", profile = [["3 cm", "0 cm"], ["3 cm", "10 cm"]] }',
            '{ level = "1 cm", material = "whole milk" }',
            "subject.fill",
            "only a vessel holds a liquid",
        ),
    ],
)
def test_fills_that_cannot_be(shape, fill, key, words):
    mistake = the_mistake_in(shape, f"fill = {fill}")
    assert (mistake.key, mistake.line) == (key, line_of(text_of(shape, f"fill = {fill}"), "fill = "))
    assert words in mistake.message


def test_a_fill_up_to_the_rim_is_taken():
    assert subject_of(cup(), 'fill = { level = "97 mm", material = "whole milk" }').fill is not None


@pytest.mark.parametrize(
    ("shape", "thickness"),
    [
        (BALL, "2 cm"),
        (SLAB, "2.5 mm"),
        (SLAB.replace('"rectangle", width = "8 cm", height = "3 cm"', '"disc", diameter = "4 mm"'), "2 mm"),
        (
            SLAB.replace('"rectangle", width = "8 cm", height = "3 cm"', '"svg", width = "4 mm", path = "M0 0H4V4Z"'),
            "2 mm",
        ),
        (cup(), "1 mm"),
    ],
)
def test_a_coat_thicker_than_its_body(shape, thickness):
    coat = f'coat = {{ thickness = "{thickness}", material = "jade" }}'
    mistake = the_mistake_in(shape, coat)
    assert mistake.key == "subject.coat.thickness"
    assert "the coat is thicker than the body" in mistake.message
    thinner = coat.replace(thickness, "0.1 mm")
    assert subject_of(shape, thinner).coat is not None


def test_a_mesh_has_no_coat_and_may_lie_with_z_up(tmp_path):
    trimesh.creation.box((1.0, 2.0, 4.0)).export(tmp_path / "box.stl")
    shape = 'shape = { kind = "mesh", file = "box.stl", unit = "cm", up = "z" }'
    mistake = the_mistake_in(shape, 'coat = { thickness = "1 mm", material = "jade" }', folder=tmp_path)
    assert mistake.key == "subject.coat"
    assert "a coat inside a mesh is not worked out" in mistake.message
    assert subject_of(shape, 'at = ["1 cm", "0 cm", "0 cm"]', folder=tmp_path).shape.up == "z"
    mistake = the_mistake_in(shape.replace('"z"', '"x"'), folder=tmp_path)
    assert (mistake.key, mistake.message) == ("subject.shape.up", 'found "x"; "y" or "z" would fit')


@pytest.mark.parametrize(
    ("outline", "edge", "words"),
    [
        ('shape = "disc", diameter = "8 cm"', "3 mm", "at most half the thickness (2.5 mm)"),
        ('shape = "disc", diameter = "2 mm"', "1.5 mm", "at most half the diameter (1 mm)"),
        ('shape = "rectangle", width = "8 cm", height = "1 mm"', "1 mm", "at most half the shorter side (0.5 mm)"),
        ('shape = "disc", diameter = "8 cm"', "-1 mm", "zero or more"),
    ],
)
def test_edges_that_do_not_fit(outline, edge, words):
    mistake = the_mistake_in(
        f'shape = {{ kind = "slab", thickness = "5 mm", edge = "{edge}", outline = {{ {outline} }} }}'
    )
    assert mistake.key == "subject.shape.edge"
    assert words in mistake.message


@pytest.mark.parametrize(
    ("shape", "told"),
    [
        ('shape = { kind = "sphere", diameter = "4 m" }', "it is 4 m from end to end"),
        ('shape = { kind = "sphere", diameter = "40 um" }', "it is 0.04 mm from end to end"),
        ('shape = { kind = "revolve", profile = [["3 m", "0 m"], ["3 m", "1 m"]] }', "it is 6 m from end to end"),
    ],
)
def test_an_implausible_size_is_doubted(shape, told):
    far = BEFORE.replace('at = ["0 cm", "0 cm", "60 cm"]', 'at = ["0 cm", "0 cm", "20 m"]')
    said = tls.setup_warnings(tls.loads(far + f'[subject]\nmaterial = "agate"\n{shape}\n'))
    assert any(told in one and "unit" in one for one in said)


def test_a_tilted_glass_is_doubted():
    fill = 'fill = { level = "5 cm", material = "whole milk" }'
    assert tls.setup_warnings(tls.loads(text_of(cup(), fill))) == []
    for tilt in ('turn = "10 deg"', 'aim = ["0 cm", "20 cm", "60 cm"]'):
        (said,) = tls.setup_warnings(tls.loads(text_of(cup(), fill, tilt)))
        assert "the vessel is tilted" in said
