"""The plan on paper: pages, text, margins, and the scale as a ruler finds it."""

from __future__ import annotations

import itertools
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from plan_sets import BALL, DROP, a_set, agate, head

from throughlight.sheets import typeset
from throughlight.sheets.plan_drawing import plan_svg
from throughlight.sheets.plan_sheet import plan_sheets, told_of, write_plan

DPI = 400
_INCH, _POINT = 25.4, 25.4 / 72.0
SIDES = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}


def document(sheets):
    return pypdfium2.PdfDocument(typeset.pdf("plan.typ", told_of(sheets), {"drawing.svg": sheets.drawing}))


@pytest.fixture(scope="module")
def documents():
    return {paper: document(agate(paper, paper == "letter")) for paper in SIDES}


def text_of(page):
    """Return a page's text on one line, without the signs at which a long word may break."""
    return " ".join(page.get_textpage().get_text_range().replace("\u200b", "").split())


def grey(page, left, bottom, right, top):
    """Return part of a page, mm from its lower left corner, as grey values."""
    width, height = page.get_size()
    crop = (left / _POINT, bottom / _POINT, width - right / _POINT, height - top / _POINT)
    return np.asarray(page.render(scale=DPI / 72.0, crop=crop, grayscale=True).to_numpy()).squeeze()


def longest_run(grey_values):
    """Return the longest level run of ink, mm."""
    longest = 0
    for row in grey_values < 60:
        longest = max([longest, *(len(list(run)) for ink, run in itertools.groupby(row) if ink)])
    return longest * _INCH / DPI


@pytest.mark.parametrize("paper", SIDES)
def test_two_pages_of_the_paper_asked_for(documents, paper) -> None:
    pages = documents[paper]
    assert len(pages) == 2
    for page in pages:
        assert [side * _POINT for side in page.get_size()] == pytest.approx(SIDES[paper], abs=0.1)


def test_the_scale_bar_is_as_long_as_it_says(documents) -> None:
    """1 m at 1 : 20 is 50 mm on paper; the bar's rim adds its own width, 0.5 point."""
    page = documents["a4"][0]
    assert "1 : 20 on A4" in text_of(page)
    assert longest_run(grey(page, 10.0, 20.0, 85.0, 33.0)) == pytest.approx(50.0 + 0.5 * _POINT, abs=0.3)


def test_the_bar_in_feet_is_as_long_as_it_says(documents) -> None:
    """1 : 24 is half an inch to the foot; 4 feet are then 2 inches, 50.8 mm."""
    page = documents["letter"][0]
    text = text_of(page)
    assert "1 : 24 (½ in to the foot) on Letter" in text
    assert "4′ 0″" in text
    assert longest_run(grey(page, 10.0, 20.0, 85.0, 33.0)) == pytest.approx(50.8 + 0.5 * _POINT, abs=0.3)


def test_the_backdrop_is_drawn_to_scale(documents) -> None:
    """140 cm at 1 : 20 are 70 mm on paper; the line's round ends add its width, 1.4 points."""
    page = documents["a4"][0]
    assert longest_run(grey(page, 15.0, 36.0, 130.0, 175.0)) == pytest.approx(70.0 + 1.4 * _POINT, abs=0.3)


def test_the_pages_tell_places_kit_order_and_cautions(documents) -> None:
    first, second = (text_of(page) for page in documents["a4"])
    assert "Agate slice, backlit on black" in first
    for words in (
        "Plan, from above",
        "Side elevation",
        "55 cm · 140° left",
        "beam 65°",
        "sees 17.2° × 11.5°",
        "Room light",
    ):
        assert words in first
    for words in (
        "Mark's height over the floor: not given", "35.4 cm left", "flash of 100 J set to 17.7 J", "Order of work",
        "Cautions", "local electrical code", "don't replace local rules",
    ):  # fmt: skip
        assert words in second


@pytest.mark.parametrize("paper", SIDES)
def test_nothing_runs_off_the_paper_nor_where_printers_cannot_print(documents, paper) -> None:
    width, height = SIDES[paper]
    for page in documents[paper]:
        whole = np.asarray(page.render(scale=1.0, grayscale=True).to_numpy()).squeeze()
        edge = round(5.0 / _POINT)
        inner = whole[edge : round(height / _POINT) - edge, edge : round(width / _POINT) - edge]
        assert (whole < 250).sum() == (inner < 250).sum()


MARKUP = "<b>&amp;</b> #strong[x] $a$ *f* _u_ @r"
RTL = "שלום עולם"


@pytest.fixture(scope="module")
def hostile():
    title = f"{MARKUP} " + "W" * (199 - len(MARKUP))
    lamps = [head("W" * 80, '["40 cm", "5 cm", "-40 cm"]'), head(RTL, '["-40 cm", "5 cm", "-40 cm"]'),
             head("💡 lamp \\u202Ekrad", '["0 cm", "50 cm", "-60 cm"]')]  # fmt: skip
    ball = BALL.replace('"ball"', '"<script>alert(1)</script> #x"')
    return a_set(*lamps, ball, DROP, title=title)


def test_names_come_out_as_text_and_stay_on_the_page(hostile) -> None:
    pages = document(plan_sheets(hostile))
    assert len(pages) == 2
    text = " ".join(text_of(page) for page in pages)
    assert MARKUP in text
    assert "<script>alert(1)</script> #x" in text
    assert RTL in text or RTL[::-1] in text
    assert "lamp krad" in text
    assert text.replace(" ", "").count("W") >= 80 + 199 - len(MARKUP)
    for page in pages:
        whole = np.asarray(page.render(scale=1.0, grayscale=True).to_numpy()).squeeze()
        assert (whole[:, -round(9.0 / _POINT) :] > 250).all()


def test_the_drawing_for_a_page_is_one_svg_in_the_pages_colours(hostile) -> None:
    svg = plan_svg(hostile, feet=True)
    root = ElementTree.fromstring(svg)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags.isdisjoint({"script", "image", "foreignObject", "b"})
    assert root.tag.endswith("svg")
    assert "var(--ink)" in svg
    assert not re.findall(r"#0[1-9a-f]0[1-9a-f]0[1-9a-f]", svg)
    assert any("<script>" in (element.text or "") for element in root.iter())
    assert "1 : " not in svg


def test_files_are_written_whole(tmp_path: Path) -> None:
    paths = write_plan(agate(), tmp_path / "new" / "plan")
    assert sorted(path.name for path in (tmp_path / "new" / "plan").iterdir()) == ["plan.pdf", "plan.png", "plan.svg"]
    assert paths["sheets"].read_bytes().startswith(b"%PDF")
    assert paths["picture"].read_bytes().startswith(b"\x89PNG")
    drawn = ElementTree.fromstring(paths["drawing"].read_text("utf-8"))
    assert drawn.get("width") == "269mm"
    assert "var(" not in paths["drawing"].read_text("utf-8")
