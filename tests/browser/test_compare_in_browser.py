"""The page of two sets: the same hand on both, a wipe, and differences that agree with the engine's."""

from __future__ import annotations

import numpy as np
import pytest
from opened_page import Opened

import throughlight as tl
from report_sets import TEXT, sphere, traced
from throughlight.sheets.compare import compare_page
from throughlight.sheets.differences import LABELS, differences
from throughlight.sheets.shot import Shot

OTHER = TEXT.replace("Sphere before grey paper", "Key head lower").replace('stops = "-1.5 stop"', 'stops = "-2.5 stop"')


@pytest.fixture(scope="module")
def other() -> Shot:
    return traced(tl.loads(OTHER)).shot


@pytest.fixture(scope="module")
def pair(chromium, other, tmp_path_factory):
    path = tmp_path_factory.mktemp("compare") / "compare.html"
    path.write_text(compare_page(sphere().shot, other), encoding="utf-8")
    page = Opened(chromium, path, 1400, 900)
    yield page
    page.context.close()
    assert page.complaints == []


def test_differences_agree_with_the_engines(pair, other):
    told = pair.page.evaluate("() => differences(...sets.map((set) => readingsOf(set, asSet(set))), sets[0].sums.t)")
    for found, (name, figure) in zip(told, differences(sphere().shot, other).items(), strict=True):
        assert [found["value"], found["low"], found["high"]] == pytest.approx(list(figure), abs=0.01), name


def test_a_stop_more_on_both_leaves_the_difference_of_one_light_as_it_was(pair):
    rows = pair.page.locator("#lines-of-readings tr")
    assert rows.count() == len(LABELS)
    before = rows.nth(0).locator("td").all_inner_texts()
    pair.slide("iso", 3)
    after = rows.nth(0).locator("td").all_inner_texts()
    assert after[2] == before[2]
    assert after[0] != before[0]
    assert "A ISO 200, B ISO 200" in pair.text("turn-iso")
    pair.page.click("#reset")
    pair.settle()
    assert rows.nth(0).locator("td").all_inner_texts() == before


def test_the_page_says_what_is_set_up_differently(pair):
    assert pair.page.locator("#changes li").all_inner_texts() == ["key head: 1 stop darker"]


def test_the_wipe_shows_less_of_the_second_picture(pair, screenshots):
    pair.page.check('input[value="wipe"]', force=True)
    boxes = [pair.page.locator(f"#picture-{number}").bounding_box() for number in (0, 1)]
    assert boxes[0] == boxes[1]
    pair.slide("wipe", 80)
    clip = pair.page.evaluate("() => getComputedStyle(document.getElementById('frame-1')).clipPath")
    assert "80%" in clip
    pair.page.screenshot(path=screenshots / "compare-wipe.png")
    pair.page.check('input[value="beside"]', force=True)
    first, second = (pair.page.locator(f"#picture-{number}").bounding_box() for number in (0, 1))
    assert first["x"] + first["width"] <= second["x"]
    pair.page.screenshot(path=screenshots / "compare.png", full_page=True)


def test_pointing_reads_both_at_one_place(pair):
    pair.page.hover("#picture-1")
    pair.settle()
    a, b, apart = (float(pair.text(f"read-{name}").split()[0].replace("−", "-")) for name in ("a", "b", "apart"))
    assert apart == pytest.approx(b - a, abs=0.02)
    assert pair.text("read-place").startswith("centre")
    assert np.isfinite(apart)


def test_a_narrow_screen_scrolls_one_way_only(pair):
    pair.page.set_viewport_size({"width": 360, "height": 760})
    assert pair.page.evaluate("() => document.documentElement.scrollWidth") <= 360
    pair.page.set_viewport_size({"width": 1400, "height": 900})
