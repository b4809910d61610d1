"""The report page as a file: self-contained, escaped, readable, and what it hands to the browser."""

from __future__ import annotations

import dataclasses
import itertools
import json
import math
import re

import pytest

from read_page import Read
from report_sets import LIGHTS, sphere
from throughlight.darkroom.names import seen
from throughlight.sheets import house
from throughlight.sheets.compare import compare_json, compare_page
from throughlight.sheets.page_picture import Packed
from throughlight.sheets.report import MOST_BYTES, report_page, write_report
from throughlight.sheets.report_data import look_of
from throughlight.sheets.report_words import made_notes
from throughlight.sheets.shot import Shot
from throughlight.sheets.trade_steps import f_numbers, iso_speeds, shutters

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)> & \"'{{7*7}}{% x %}</title></style>\\u0022"
TURNED = "\u202egnorw yaw eht\u202c \u2066אבג\u2069 سهم"
EMOJI = "🎞️👩🏽‍🔬 film"
HOSTILE = {"markup": MARKUP, "right to left": TURNED, "emoji": EMOJI, "300": "Wörter " * 43}


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    shot = sphere().shot
    return {"report": report_page(shot), "compare": compare_page(shot, shot)}


@pytest.mark.parametrize("name", ["report", "compare"])
def test_nothing_is_fetched(pages, name):
    read = Read(pages[name])
    for tag, attributes in read.elements:
        assert tag not in ("link", "iframe", "object", "embed", "base")
        for key in ("src", "href", "action", "data", "srcset"):
            value = attributes.get(key)
            assert value is None or value.startswith(("#", "data:")), (tag, key)
    assert "url(" not in read.texts["style"]
    assert "@import" not in read.texts["style"]
    assert not re.search(r"https?:|fetch\(|XMLHttpRequest|import\(", read.texts["script"])
    policy = next(a["content"] for t, a in read.elements if t == "meta" and "http-equiv" in a)
    assert policy.startswith("default-src 'none'")


@pytest.mark.parametrize("name", ["report", "compare"])
def test_names_of_parts_are_unique_and_labels_find_theirs(pages, name):
    elements = Read(pages[name]).elements
    names = [a["id"] for _, a in elements if a.get("id")]
    assert len(names) == len(set(names))
    wanted = {a[key] for _, a in elements for key in ("for", "aria-describedby") if a.get(key)}
    assert wanted <= set(names)


def test_every_part_is_on_the_page(pages):
    words = Read(pages["report"]).texts["main"]
    shot = sphere().shot
    for part in ("Readings", "Camera", "How it was made", "stops as colour", "clipped and crushed", "stray light alone",
                 "seed", "95 %", "replicates", "Throughlight", "depth of field", *LIGHTS):  # fmt: skip
        assert part in words, part
    for _, verdict in shot.readings.verdicts:
        assert verdict in words


def named(name: str) -> Shot:
    """The shot of a set all of whose names are this one."""
    shot = sphere().shot
    setup, readings = shot.setup, shot.readings
    heads = tuple(head.model_copy(update={"name": f"{name} {i}"}) for i, head in enumerate(setup.heads))
    spots = tuple(spot.model_copy(update={"name": name}) for spot in setup.spots)
    sums = dataclasses.replace(readings.replicates, routes=("", *([name] * (len(readings.replicates.routes) - 1))))
    powers = zip(readings.power.heads, heads, strict=True)
    power = dataclasses.replace(
        readings.power, heads=tuple(dataclasses.replace(one, name=head.name) for one, head in powers)
    )
    (spot,) = readings.spots.values()
    return dataclasses.replace(
        shot,
        setup=setup.model_copy(update={"title": name, "heads": heads, "spots": spots}),
        readings=dataclasses.replace(
            readings, title=name, replicates=sums, power=power, spots={name: spot}, verdicts=((False, name),),
            warnings=(name,),
        ),
        picture=dataclasses.replace(shot.picture, names=(*(head.name for head in heads), "room light")),
    )  # fmt: skip


@pytest.mark.parametrize("hostile", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize("page", [report_page, lambda shot: compare_page(shot, shot)], ids=["report", "compare"])
def test_names_come_out_as_text(hostile, page):
    """The same elements as with tame names, no handler, the same style, and the name itself as text."""
    text = page(named(hostile))
    tame, wild = Read(page(named("plain name"))), Read(text)
    assert [tag for tag, _ in wild.elements] == [tag for tag, _ in tame.elements]
    assert wild.texts["style"] == tame.texts["style"]
    assert not any(key.startswith("on") for _, attributes in wild.elements for key in attributes)
    assert not any(sign in re.sub(r"\\u[0-9a-f]{4}", "", text) for sign in "\u202e\u202c\u2066\u2069")
    assert seen(hostile).strip() in wild.texts["main"] + wild.texts["h1"]
    assert "49" not in wild.texts["h1"]


def test_given_data_are_plain_json_that_ends_no_script(pages):
    given = re.search(r'<script type="application/json" id="given">(.*?)</script>', pages["report"], re.DOTALL).group(1)
    assert "<" not in given
    told = json.loads(given)
    assert [light["name"] for light in told["sets"][0]["lights"]] == list(LIGHTS)
    assert [light["flash"] for light in told["sets"][0]["lights"]] == [True, False, False]


def test_a_diagram_stands_on_the_page_where_there_is_one(pages):
    assert "<h2>The set</h2>" not in pages["report"]
    drawn = report_page(sphere().shot, diagram='<svg viewBox="0 0 1 1" aria-label="plan"></svg>')
    assert '<svg viewBox="0 0 1 1" aria-label="plan"></svg>' in drawn


def test_the_page_is_written_beside_the_picture(tmp_path):
    path = write_report(sphere().shot, tmp_path / "new")
    assert path.name == "report.html"
    assert path.stat().st_size < MOST_BYTES


def test_a_smaller_picture_is_owned_up_to():
    shot = sphere().shot
    notes = made_notes(shot, Packed(24, 16, (48, 32), (None,) * 3, None))
    assert any("24 × 16 pixels instead of 48 × 32" in note for note in notes)


def test_a_cropped_picture_says_in_which_frame_places_are_told():
    shot = sphere().shot
    wide, high = shot.setup.camera.pixels
    told = [made_notes(shot, Packed(*full, full, (None,) * 3, None)) for full in ((wide, high), (high, high))]
    assert [any("before it was turned and cropped" in note for note in notes) for notes in told] == [False, True]


def luminance(colour: str) -> float:
    """Relative luminance of a colour, WCAG 2.2."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("palette", [house.screen(), house.print_out()], ids=["screen", "print"])
def test_contrast_meets_wcag_aa(palette):
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for what is to be made out, such as a slider's thumb or a ring (1.4.11)."""
    for text in (palette.ink, palette.quiet, palette.accent, palette.doubt):
        assert contrast(text, palette.paper) >= 4.5
        assert contrast(text, palette.raised) >= 4.5
    assert contrast(palette.second, palette.paper) >= 4.5
    for drawn in (palette.faint, palette.accent, palette.quiet):
        assert contrast(drawn, palette.paper) >= 3.0


def test_thirds_are_a_third_of_a_stop_as_far_as_engraved_values_go():
    """Engraved values are rounded: 1/3 stop within 0.15, as f/1.2 and 1/6 s have it; nine of them are three stops."""
    for steps, stop in ((f_numbers(8.0), 2.0), (shutters(1 / 125), 1.0), (iso_speeds(400.0), 1.0)):
        values = [step.value for step in steps.steps]
        apart = [abs(stop * math.log2(b / a)) for a, b in itertools.pairwise(values)]
        assert all(abs(each - 1 / 3) < 0.15 for each in apart), apart
        assert abs(stop * math.log2(values[steps.at + 9] / values[steps.at])) == pytest.approx(3.0, abs=0.1)


@pytest.mark.parametrize("own", [1 / 137, 0.7, 1 / 160])
def test_the_sets_own_shutter_is_among_the_steps(own):
    steps = shutters(own)
    assert steps.steps[steps.at].value == own
    assert [step.value for step in steps.steps] == sorted(step.value for step in steps.steps)


def test_steps_are_written_as_a_setup_file_reads_them():
    from throughlight.setup import units

    for step in (*shutters(1 / 160).steps, *shutters(2.0).steps):
        assert units.TIME.parse(step.line) == pytest.approx(step.value, rel=1e-5)
    for step in f_numbers(5.6).steps:
        assert float(step.line) == pytest.approx(step.value, rel=1e-5)


def test_the_look_of_a_set_that_asks_for_none():
    assert look_of(sphere().shot.setup.finish) == (0.0, None, 1.0)


def test_two_sets_as_json():
    told = compare_json(sphere().shot, sphere().shot)
    assert told["schema"] == "throughlight/compare/1"
    assert told["second_over_first"]["subject_stops"]["stops"] == 0.0  # a set and itself
    assert len(told["sets"]) == 2
