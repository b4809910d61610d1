"""The report page: self-contained, escaped, readable, and true while the study still runs."""

from __future__ import annotations

import re
from functools import cache

import colour
import numpy as np
import pytest
from results_by_hand import exact, results, row, table_top

from read_page import Read
from throughlight.sheets import house
from throughlight.sheets.small import jpeg
from throughlight.sheets.study_page import SmallPicture, study_page
from throughlight.study.results import Goal

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)> & \"'{{7*7}}{% x %}</title></style>\\u0022"
TURNED = "\u202egnorw yaw eht\u202c \u2066אבג\u2069 سهم"
EMOJI = "🎞️👩🏽‍🔬 film"
HOSTILE = {"markup": MARKUP, "right to left": TURNED, "emoji": EMOJI, "300": "Wörter " * 43}

URLS = ("src", "href", "action", "data", "poster", "srcset", "xlink:href", "formaction", "background")


def picture() -> SmallPicture:
    return SmallPicture(jpeg(np.full((20, 30, 3), 40, np.uint8)), "image/jpeg", 30, 20)


def full() -> str:
    found = table_top(running=True, waiting=9)
    return study_page(found, {one.number: picture() for one in found.ranked[:4]})


@pytest.fixture(scope="module")
def page() -> str:
    return full()


def test_nothing_is_fetched(page):
    for tag, attributes in Read(page).elements:
        for name in URLS:
            value = attributes.get(name)
            assert value is None or value.startswith(("#", "data:")), (tag, name, value)
        assert tag not in ("link", "iframe", "object", "embed", "base")
        assert not re.search(r"url\((?!#)", attributes.get("style") or "")
    style = Read(page).texts["style"]
    assert "@import" not in style
    assert "url(" not in style
    policy = next(a["content"] for t, a in Read(page).elements if t == "meta" and "http-equiv" in a)
    assert policy.startswith("default-src 'none'")


def test_names_of_parts_are_unique_and_found(page):
    names = [a["id"] for _, a in Read(page).elements if a.get("id")]
    assert len(names) == len(set(names))
    wanted = {a["href"][1:] for _, a in Read(page).elements if (a.get("href") or "").startswith("#")}
    wanted |= set(re.findall(r"url\(#([^)]+)\)", page)) | set(re.findall(r'xlink:href="#([^"]+)"', page))
    assert wanted <= set(names)


def test_every_picture_and_plot_is_told_in_words(page):
    for tag, attributes in Read(page).elements:
        if tag == "img":
            assert attributes["alt"]
            assert attributes["width"]
            assert attributes["height"]
        if tag == "svg":
            assert attributes.get("aria-label") or attributes.get("aria-hidden") == "true"


@cache
def made(name: str) -> str:
    """Return the page of a study in which everything that may have a name has this one."""
    goals = (Goal("subject", "at", 0.5, 0.0, 1.0, "GOAL"), Goal("SPOT", "at most", 1.0, 0.0, 1.0, "GOAL 2"))
    figures = {"subject": exact(0.4), "backdrop": exact(-8.0), "stray_light": exact(0.01), name: exact(0.2)}
    swap = tuple(
        Goal(g.reading.replace("SPOT", name), *g[1:5], g.said.replace("GOAL", name)) for g in map(_fields, goals)
    )
    rows = [
        row(
            n,
            {name: name + str(n % 2), "flag": name[::-1] + str(n % 3)},
            float(n),
            figures=figures,
            costs=(exact(0.1), exact(0.2)),
            energy_joules=9.0 + n,
        )
        for n in range(1, 8)
    ]
    rows.append(row(8, {name: name}, 1.0, status="failed", reason=name))
    found = results(rows, swap)
    return study_page(type(found)(name, name, swap, found.rows, found.made), {1: picture(), 2: picture()})


@pytest.mark.parametrize("hostile", HOSTILE.values(), ids=HOSTILE)
def test_names_come_out_as_text(hostile):
    """The same elements as with tame names, no handler, and the name itself as text."""
    tame, wild = Read(made("plain name")), Read(made(hostile))
    assert [tag for tag, _ in wild.elements] == [tag for tag, _ in tame.elements]
    assert wild.texts["script"] == tame.texts["script"]
    assert wild.texts["style"] == tame.texts["style"]
    assert not any(name.startswith("on") for _, attributes in wild.elements for name in attributes)
    shown = " ".join(hostile.split())
    for sign in "\u202e\u202c\u2066\u2069":
        shown = shown.replace(sign, "")
        assert sign not in made(hostile)
    assert "".join(wild.texts["h1"].split()) == "".join(sign for sign in shown if sign not in "\u200d ").replace(
        " ", ""
    )
    assert "49" not in wild.texts["h1"]


def _fields(goal: Goal):
    class Parts(tuple):
        reading, said = goal.reading, goal.said

    return Parts((goal.reading, goal.kind, goal.value, goal.slack, goal.weight, goal.said))


def luminance(code: str) -> float:
    """Relative luminance of WCAG 2.1: Y of sRGB, as colour-science has it."""
    rgb = np.array([int(code[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return float(colour.sRGB_to_XYZ(rgb)[1])


def contrast(a: str, b: str) -> float:
    """WCAG 2.1, contrast ratio."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("palette", [house.screen(), house.print_out()], ids=["screen", "print"])
def test_contrast_wcag_2_1(palette):
    """AA: 4.5 for text (1.4.3), 3 for what is to be made out in a plot (1.4.11)."""
    for paper in (palette.paper, palette.raised):
        for ink in (palette.ink, palette.quiet, palette.accent, palette.second, palette.doubt):
            assert contrast(ink, paper) >= 4.5
        assert contrast(palette.faint, paper) >= 3.0


def test_a_running_study_says_what_is_done_in_doubt_and_best():
    found = table_top(running=True, waiting=9)
    text = " ".join(Read(study_page(found, {})).texts["body"].split())
    assert f"{len(found.ranked)}of 240 read" in text
    assert f"{len(found.in_doubt)}in doubt" in text
    assert "9waiting" in text
    assert "expected to end at 06:30" in text
    assert f"Best so far: No. {found.ranked[0].number}" in text


def test_before_anything_is_read_the_page_says_so():
    text = Read(study_page(table_top(waiting=240, failed=0), {})).texts["main"]
    assert "Nothing is read yet" in text


def test_all_candidates_are_in_the_table(page):
    ranked = table_top(running=True, waiting=9).ranked
    body = page[page.index('id="ranks"') :]
    rows = re.findall(r"<tr><td[^>]*data-head=\"rank\"", body[: body.index("</table>")])
    assert len(rows) == len(ranked)


def test_the_page_stays_small(page):
    assert len(page.encode()) < 2_000_000


def test_the_same_study_makes_the_same_page(page):
    assert full() == page
