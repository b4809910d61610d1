"""Thin sheets in a setup file: their keys, their mistakes, and how they stand in a set."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from PIL import Image
from setup_texts import SET, line_of

import throughlight.setup as tls
from throughlight.cli import main
from throughlight.readings.standing import standing_in_frame
from throughlight.setup import Mistake, SetupError

AT = '["30 cm", "5 cm", "10 cm"]'


def with_sheet(sheet: str, more: str = "", at: str = AT) -> str:
    return SET + f'\n[[sheet]]\nat = {at}\nwidth = "60 cm"\nheight = "80 cm"\nsheet = {sheet}\n{more}'


def the_sheet(sheet: str) -> tls.Sheeting:
    (only,) = tls.loads(with_sheet(sheet)).sheets
    return only.sheeting


def mistakes_in(text: str) -> list[Mistake]:
    with pytest.raises(SetupError) as caught:
        tls.loads(text, name="set.toml")
    return caught.value.mistakes


def test_a_sheet_from_the_kit_and_one_like_it():
    (sheet,) = tls.loads(with_sheet('"white scrim"', 'name = "big scrim"\nroll = "90 deg"\n')).sheets
    assert (sheet.name, sheet.sheeting.name, sheet.sheeting.n) == ("big scrim", "white scrim", 1.0)
    assert (sheet.at, sheet.aim) == (pytest.approx((0.3, 0.05, 0.1)), (0.0, 0.0, 0.0))
    assert (sheet.width, sheet.height) == (0.6, 0.8)
    assert the_sheet('{ like = "scrim", reflectance = 0.1 }').reflectance == (0.1, 0.1, 0.1)
    assert tls.loads(with_sheet('"clear wrap"')).sheets[0].name == "sheet 1"


def test_what_passes_is_straight_or_spread():
    own = the_sheet('{ transmittance = [0.5, 0.4, 0.3], diffuse = "30 %", reflectance = 0.2, n = 1.33 }')
    assert own.straight == pytest.approx((0.2, 0.1, 0.0))
    assert (own.diffuse, own.n, own.name) == ((0.3, 0.3, 0.3), 1.33, "own sheet")


# What a clear plate passes along its normal, 2n/(n² + 1) (Stokes 1862), to six digits.
PLATE = [(1.33, 0.960670), (1.5, 0.923077), (1.52, 0.918318), (1.7, 0.874036)]


@pytest.mark.parametrize(("n", "most"), PLATE)
def test_a_film_passes_no_more_than_a_clear_plate(n, most):
    the_sheet(f"{{ transmittance = {most - 1e-6}, diffuse = 0, n = {n} }}")
    the_sheet(f"{{ transmittance = {most - 0.3}, diffuse = 0.1, reflectance = {0.3 - 1e-6}, n = {n} }}")
    for shares in (f"transmittance = {most + 1e-6}", f"reflectance = 0.3, transmittance = {most - 0.3 + 1e-6}"):
        (mistake,) = mistakes_in(with_sheet(f"{{ {shares}, diffuse = 0, n = {n} }}"))
        assert mistake.key == "sheet[1].sheet.transmittance"
        assert f"together would fit: a film of n = {n:g} mirrors the rest" in mistake.message


@pytest.mark.parametrize(
    ("sheet", "key", "words"),
    [
        ('"white scrimm"', "", 'found "white scrimm", which is not in the kit; the kit has "white scrim"'),
        ("{ diffuse = 0.1 }", ".transmittance", "nothing was found (all that passes"),
        ("{ transmittance = 0.1 }", ".diffuse", "nothing was found (the part of it that is spread"),
        (
            "{ transmittance = 0.93, diffuse = 0.1, n = 1.5 }",
            ".transmittance",
            "found 0.93 that passes and 0 given back; at most 0.923 together would fit: a film of n = 1.5 mirrors",
        ),
        (
            "{ transmittance = [0.5, 0.5, 0.7], diffuse = 0.1, reflectance = 0.4 }",
            ".transmittance",
            "found 0.7 that passes and 0.4 given back; at most 1 together would fit",
        ),
        (
            "{ transmittance = 0.5, diffuse = [0.5, 0.6, 0.5] }",
            ".diffuse",
            "found 0.6 spread where 0.5 passes in all; at most 0.5 would fit",
        ),
        ("{ transmittance = 1.2, diffuse = 0.5 }", ".transmittance", "found 1.2; a transmittance of at most 1"),
        ("{ transmittance = 0.5, diffuse = 0.5, n = 0.9 }", ".n", "found 0.9; a refractive index from 1 to 4"),
        (
            '{ transmittance = 0.5, diffuse = 0.5, kind = "scrim" }',
            ".kind",
            '"kind" is no key of this table; its keys are name, like, transmittance',
        ),
    ],
)
def test_what_a_sheet_cannot_be(sheet, key, words):
    text = with_sheet(sheet)
    (mistake,) = mistakes_in(text)
    assert (mistake.key, mistake.line) == (f"sheet[1].sheet{key}", line_of(text, "sheet = "))
    assert mistake.message.startswith(words)


def test_both_mistakes_of_a_sheet_are_said_at_once():
    mistakes = mistakes_in(with_sheet("{ transmittance = 0.9, diffuse = 0.95, reflectance = 0.2 }"))
    assert sorted(one.key for one in mistakes) == ["sheet[1].sheet.diffuse", "sheet[1].sheet.transmittance"]


def test_a_sheet_has_a_name_of_its_own_and_faces_something():
    (twice,) = mistakes_in(with_sheet('"white scrim"', 'name = "wire"\n'))
    assert (twice.key, "a second time (first in support[1])" in twice.message) == ("sheet[1].name", True)
    (edge,) = mistakes_in(with_sheet('"white scrim"', f"aim = {AT}\n"))
    assert edge.key == "sheet[1]"
    assert edge.message == '"at" and "aim" are the same place; a sheet that faces something would fit'


def test_no_camera_stands_in_a_sheet():
    (mistake,) = mistakes_in(with_sheet('"clear wrap"', at='["0 cm", "0 cm", "60 cm"]'))
    assert mistake.message == 'the camera stands inside the sheet "sheet 1"; a place outside of it would fit'


def test_a_sheet_stands_in_the_way_like_a_card():
    doubts = tls.setup_warnings(tls.loads(with_sheet('"white scrim"', at='["2 cm", "0 cm", "0 cm"]')))
    assert any('the sheet "sheet 1"' in one and "stand in one another" in one for one in doubts)


def test_a_sheet_in_the_frame_is_told_and_hides_nothing():
    aim = 'aim = ["0 cm", "0 cm", "60 cm"]\n'
    setup = tls.loads(with_sheet('"clear wrap"', aim, at='["0 cm", "0 cm", "20 cm"]'))
    seen = {thing.name: thing for thing in standing_in_frame(setup)}
    assert (seen["sheet 1"].kind, seen["sheet 1"].share) == ("sheet", pytest.approx(1.0))
    assert not seen["wire"].hidden


def test_a_set_with_every_finish_and_a_sheet_is_checked(tmp_path):
    Image.new("RGB", (4, 4), "white").save(tmp_path / "print.png")
    finishes = (
        '"silver bounce card"',
        '{ like = "gold", roughness = 0.2 }',
        '"grey wool"',
        '"mirror"',
        '{ kind = "gloss", pattern = { picture = "print.png", width = "2 cm" }, roughness = 0.1 }',
    )
    cards = "".join(
        f'\n[[card]]\nat = ["{30 + 4 * i} cm", "0 cm", "20 cm"]\nwidth = "2 cm"\nheight = "2 cm"\nfront = {finish}\n'
        for i, finish in enumerate(finishes)
    )
    (tmp_path / "set.toml").write_text(with_sheet('"tracing paper"') + cards, "utf-8")
    checked = CliRunner().invoke(main, ["check", str(tmp_path / "set.toml")])
    assert checked.exit_code == 0, checked.output
