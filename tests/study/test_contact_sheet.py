"""The contact sheet and the small pictures on it; the report's files."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from results_by_hand import exact, results, row

import throughlight as tl
from plain_camera import CAMERA
from throughlight.darkroom import tone
from throughlight.photometry.exposure import mid_grey
from throughlight.sheets import study_report
from throughlight.sheets.contact import Labelled, contact_sheet
from throughlight.sheets.small import read_png, small_picture

SETUP = (
    CAMERA
    + """
[backdrop]
distance = "90 cm"
width = "140 cm"
height = "140 cm"
cloth = "grey paper"
[ambient]
illuminance = "100 lx"
"""
)

RED = np.broadcast_to(np.array([200, 30, 30], np.uint8), (30, 45, 3))


def test_pictures_stand_side_by_side_on_the_sheet():
    sheet = contact_sheet(
        "A study", [Labelled(RED, f"{n}. No. {n}", ("bearing 135 deg",)) for n in range(1, 7)], columns=3
    )
    red = np.all(sheet == [200, 30, 30], axis=2)
    assert np.count_nonzero(np.diff(red.any(axis=0).astype(int)) == 1) == 3
    assert np.count_nonzero(np.diff(red.any(axis=1).astype(int)) == 1) == 2
    assert red.sum() == 6 * 400 * round(400 * 30 / 45)  # each 400 pixels wide, in its own proportions


@pytest.mark.parametrize(
    "words", ["<b>&amp;", "\u202eturned \u2066אבג", "🎞️👩🏽‍🔬", "x" * 300, "word " * 80, "", " \n\t"]
)
def test_any_label_fits(words):
    plain = contact_sheet("title", [Labelled(RED, "1", ("y",))])
    sheet = contact_sheet(words, [Labelled(RED, words, (words, words))])
    assert sheet.shape[1] == plain.shape[1]
    assert sheet.shape[0] <= plain.shape[0] + 6 * 21
    assert np.all(sheet[:, :8] == [30, 31, 32])  # nothing is written into the margins
    assert np.all(sheet[:, -8:] == [30, 31, 32])


def test_no_picture_no_sheet():
    with pytest.raises(ValueError):
        contact_sheet("A study", [])


def test_small_picture_keeps_the_frame_and_lays_the_veil_over_it():
    """A frame without any light under a veil at mid-grey is mid-grey: code 118 (ISO 12232 mid-grey at 18 % of sRGB)."""
    setup = tl.loads(SETUP.replace("100 lx", "0.000001 lx"))
    picture = small_picture(setup, 0.0, longest=30, threads=1)
    width, height = setup.camera.pixels
    assert picture.shape == (round(30 * height / width), 30, 3)
    assert np.all(np.abs(picture.astype(int) - 118) <= 1)


def test_small_picture_is_as_bright_as_the_set_is_read():
    """The mean exposure of the small frame against the reading of the backdrop that fills it: within 0.1 stop."""
    setup = tl.loads(SETUP)
    read = tl.meter(setup, tolerance=0.05, seed=3).backdrop.mean.value
    picture = small_picture(setup, -math.inf, longest=24, seed=3)
    code = tone.develop(np.full((1, 1, 3), mid_grey(setup.camera.iso) * 2.0**read, np.float32), setup.camera.iso)
    brighter = tone.develop(
        np.full((1, 1, 3), mid_grey(setup.camera.iso) * 2.0 ** (read + 0.1), np.float32), setup.camera.iso
    )
    assert abs(picture.mean() - code.mean()) <= brighter.mean() - code.mean()


def test_report_files_and_kept_pictures(tmp_path, monkeypatch):
    setup = tl.loads(SETUP)
    rows = [row(n, {"bearing": f"{n} deg"}, exact(float(n)), rank=n) for n in range(1, 5)]
    found = results(rows)
    exposed = []

    def expose(given, veil, **how):
        exposed.append(veil)
        return RED

    monkeypatch.setattr(study_report, "small_picture", expose)
    for _ in range(2):
        pictures = study_report.pictures_of_best(found, lambda _: setup, tmp_path / "pictures", most=3)
    assert sorted(pictures) == [1, 2, 3]
    assert len(exposed) == 3  # the second time they came from their files
    paths = study_report.write_files(found, tmp_path, pictures)
    assert sorted(paths) == ["contact sheet", "json", "page", "spreadsheet"]
    assert json.loads(paths["json"].read_text())["schema"] == "throughlight/study/1"
    assert paths["page"].read_text().count("<img ") == 1 + 3
    assert read_png(paths["contact sheet"]) is not None


def test_a_broken_picture_is_exposed_anew(tmp_path):
    (tmp_path / "half.png").write_bytes(b"\x89PNG\r\n\x1a\n half")
    assert read_png(tmp_path / "half.png") is None
    assert read_png(tmp_path / "none.png") is None
