"""Sets that lack a subject, a backdrop, a room or a flash, and names of all kinds: the page says what is true."""

from __future__ import annotations

import tomllib

import pytest
from opened_page import Opened

import throughlight as tl
from plain_camera import CAMERA
from report_sets import traced
from throughlight.darkroom.names import seen
from throughlight.sheets.report import report_page
from throughlight.sheets.table import reading_lines

NAME = "\u202e</script><b>\"left\\ head\" & 'co' {{7*7}} 🎞️ סהם"
TITLE = "<img src=x onerror=alert(1)> " + "Wörter " * 24
QUOTED = NAME.replace("\\", "\\\\").replace('"', '\\"')
SMALL = CAMERA.replace("iso = 100", "iso = 100\npixels = [24, 16]")
SUBJECT = '[subject]\nshape = { kind = "sphere", diameter = "60 mm" }\nsurface = { reflectance = 0.5 }\n'
HEAD = f"""
[[head]]
name = "{QUOTED}"
face = {{ shape = "disc", diameter = "18 cm" }}
at = {{ bearing = "40 deg", distance = "70 cm", height = "30 cm" }}
energy = "100 J"
"""
WINDOW = f"""
[[window]]
name = "{QUOTED}"
at = ["-90 cm", "20 cm", "10 cm"]
width = "60 cm"
height = "90 cm"
luminance = "3000 cd/m2"
"""
BACKDROP = '[backdrop]\ndistance = "60 cm"\nwidth = "160 cm"\nheight = "120 cm"\ncloth = { reflectance = 0.03 }\n'
SETS = {
    "no backdrop, no room": SMALL + SUBJECT + HEAD,
    "no subject": SMALL + BACKDROP + HEAD + '[ambient]\nilluminance = "300 lx"\n',
    "a window, turned and cropped": SMALL + SUBJECT + BACKDROP + WINDOW + '[finish]\nturn = "90 deg"\ncrop = "4:5"\n'
    'exposure = "+0.5 stop"\nblack_point = "-5 stop"\nsaturation = "70 %"\n',
}


@pytest.fixture(scope="module", params=SETS)
def made(request, chromium, tmp_path_factory):
    shot = traced(tl.loads(f"title = '{TITLE}'\n" + SETS[request.param]), samples=8).shot
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(report_page(shot), encoding="utf-8")
    page = Opened(chromium, path, 1000, 800)
    yield shot, page
    page.context.close()
    assert page.complaints == []


def test_the_page_says_what_the_engine_says(made):
    shot, opened = made
    lines = opened.page.evaluate("() => readingLines(readingsOf(set, asSet(set)))")
    told = [(seen(label), figure, seen(remark)) for label, figure, remark in reading_lines(shot.readings)]
    assert [(label.strip(), figure, remark) for label, figure, remark in lines] == told


def test_every_light_off_is_no_light_found_and_no_complaint(made):
    _, opened = made
    for box in opened.page.locator(".turn input[type=checkbox]").all():
        box.uncheck()
    opened.settle()
    figures = opened.page.locator("#lines-of-readings td:nth-child(2)").all_inner_texts()
    assert "no light found" in figures
    assert not any("NaN" in figure for figure in figures)
    opened.page.click("#reset")
    opened.settle()


def test_names_are_text_and_come_back_from_the_copied_lines(made):
    shot, opened = made
    assert seen(TITLE) in opened.page.inner_text("h1")
    assert opened.page.evaluate("() => document.querySelectorAll('h1 img, .name b').length") == 0
    assert opened.page.inner_text("#turn-0 .name") == seen(NAME)
    opened.slide("power-0", -3)
    lines = opened.page.input_value("#lines")
    assert "\u202e" not in lines
    ((table, (changed,)),) = tomllib.loads(lines).items()
    assert changed["name"] == NAME
    assert changed == {"name": NAME, **({"stops": "-1.00 stop"} if table == "head" else {"luminance": "1500 cd/m2"})}
    assert table == ("window" if shot.setup.windows else "head")
    opened.page.click("#reset")
    opened.settle()


def test_the_picture_is_the_finished_one(made):
    shot, opened = made
    size = opened.page.evaluate("() => [set.width, set.height]")
    assert size == ([16, 20] if shot.setup.finish.crop else [24, 16])  # 16 × 24 upright; 4:5 of it
    look = opened.page.evaluate("() => set.look")
    plain = {"exposure": 0.0, "blackPoint": None, "saturation": 1.0}
    asked = {"exposure": 0.5, "blackPoint": -5.0, "saturation": pytest.approx(0.7)}
    assert look == (asked if shot.setup.finish.crop else plain)
    assert all(note.words in opened.page.inner_text("#content") for note in shot.readings.finish)
