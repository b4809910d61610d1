"""Key paths into a set: every way of writing one, and tables changed without touching the ones given."""

from __future__ import annotations

import copy
import tomllib

import pytest
from study_texts import SET

from throughlight.setup.whole import numbered
from throughlight.study.keys import OUT, KeyMistake, Place, changed, find, said, value_at

RAW = numbered(tomllib.loads(SET))


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ('head."left head".at.bearing', ("head", 0, "at", "bearing")),
        ("head.'left head'.at.bearing", ("head", 0, "at", "bearing")),
        ("head.1.at.bearing", ("head", 0, "at", "bearing")),
        ("head[1].at.bearing", ("head", 0, "at", "bearing")),
        (' head . "head 2" . energy ', ("head", 1, "energy")),
        ('"flag"."flag 1".width', ("flag", 0, "width")),
        ("camera.at.3", ("camera", "at", 2)),
        ("camera.at[3]", ("camera", "at", 2)),
        ("subject.shape.outline.diameter", ("subject", "shape", "outline", "diameter")),
        ("head.1.at.height", ("head", 0, "at", "height")),
        ("head.2.at.height", ("head", 1, "at", "height")),  # not written, but known
        ("head.2.grid", ("head", 1, "grid")),
        ("table", ("table",)),
    ],
)
def test_every_way_of_writing_a_path(text: str, path: tuple[str | int, ...]) -> None:
    assert find(text, RAW) == Place(path, False)


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("flag.2.present", ("flag", 1)),
        ("backdrop.present", ("backdrop",)),
        ("card.fill.present", ("card", 0)),
        ("subject.material.roughness.present", ("subject", "material", "roughness")),
    ],
)
def test_whether_a_thing_is_there(text: str, path: tuple[str | int, ...]) -> None:
    assert find(text, RAW) == Place(path, True)


def test_a_path_in_words() -> None:
    assert said(("head", 0, "at", "bearing"), RAW) == "left head, at bearing"
    assert said(("camera", "f_number"), RAW) == "camera, f_number"


@pytest.mark.parametrize("text", ["", ".", "a.", ".a", 'a."b', "a b", "a" * 400, "head.1.at.bearing.x", "camera.at.x"])
def test_what_is_no_path_is_told_in_words(text: str) -> None:
    with pytest.raises(KeyMistake, match=r"fit|keys"):
        find(text, RAW)


def test_changes_leave_the_tables_given_as_they_are() -> None:
    before = copy.deepcopy(RAW)
    new = changed(
        RAW,
        [
            (("flag", 0), OUT),
            (("head", 0, "at", "bearing"), "-100 deg"),
            (("head", 0, "at", "distance"), "1 m"),
            (("flag", 1, "width"), "5 cm"),  # counted as before the first was left out
            (("card", 0), OUT),
        ],
    )
    assert before == RAW
    assert new["head"][0]["at"] == {"bearing": "-100 deg", "distance": "1 m", "height": "8 cm"}
    assert [(flag["name"], flag["width"]) for flag in new["flag"]] == [("flag 2", "5 cm")]
    assert "card" not in new
    assert value_at(("head", 1, "at", "bearing"), new) == "130 deg"
    assert value_at(("head", 5, "at"), new) is None
