"""A small set, traced: photographed with one thing otherwise, matched, calibrated, and taken in again by the set.

The photo is made from a trace with other random numbers than the prediction's, with vignetting, noise and rounding to 8
or 14 bits; it is turned and shifted a little.
"""

from __future__ import annotations

import io
import json
import re
from fractions import Fraction
from functools import cache

import numpy as np
import pytest
from click.testing import CliRunner
from frames import noisy
from PIL import Image
from PIL.TiffImagePlugin import IFDRational
from rich.console import Console

from raw_files import mosaic_of, write_dng
from throughlight import setup as tls
from throughlight.darkroom.capture import read_capture
from throughlight.match import run
from throughlight.match.align import AlignError
from throughlight.match.calibrate import calibration_text
from throughlight.match.laid import first_look
from throughlight.match.model import fields_of
from throughlight.match.settings import as_taken
from throughlight.match.templates import templates_of
from throughlight.match.tracing import match_grid, trace_frame
from throughlight.photometry.exposure import MID_GREY_LINEAR, srgb_encode
from throughlight.sheets.match_table import match_table

SET = """
title = "Tile on a rod"
seed = 3

[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 22
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]
front_element = "50 mm"
glare = "2 %"

[[subject]]
name = "tile"
aim = ["2 cm", "1 cm", "30 cm"]
shape = { kind = "slab", outline = { shape = "rectangle", width = "9 cm", height = "6 cm" }, thickness = "4 mm" }
material = { reduced_scattering = "5 1/mm", absorption = "0.5 1/mm", n = 1.3 }

[backdrop]
distance = "60 cm"
width = "150 cm"
height = "120 cm"
cloth = { reflectance = 0.03 }

[[head]]
name = "left head"
face = { shape = "disc", diameter = "18 cm" }
beam = "65 deg"
at = ["-50 cm", "20 cm", "30 cm"]
energy = "20 J"

[[head]]
name = "right head"
face = { shape = "rectangle", width = "40 cm", height = "30 cm" }
at = ["40 cm", "-10 cm", "40 cm"]
energy = "13 J"
stops = "-1 stop"
"""


@pytest.fixture(scope="module")
def templates():
    return templates_of(tls.loads(SET), seed=3, fineness=1, samples=24, variant_samples=8)


LOUDER = 0.6  # stops


@cache
def frame():
    setup = tls.loads(SET)
    return trace_frame(setup, match_grid(setup, 1), samples=48, fronts=1 << 12, seed=77)


def light_of(louder=0.0, vignetting=0.4):
    """Return what the sensor gets over mid-grey, (480, 720): the left head louder, the corners darker by so many stops.

    Light adds, so that one traced frame does for all.
    """
    traced = frame()
    grid, strength = traced.grid, np.array([2.0**louder, 1.0, 1.0])
    vignetted = strength @ traced.mean_image * 2.0 ** (-vignetting * fields_of(grid.columns, grid.rows)[0])
    cells = (vignetted + strength @ traced.mean_veil).reshape(grid.rows, grid.columns)
    return np.kron(cells, np.ones((10, 10)))


def moved(light):
    """Return a picture turned by two degrees and shifted by 12 and 6 pixels."""
    image = Image.fromarray(light.astype(np.float32)).rotate(2.0, Image.Resampling.BILINEAR, translate=(12, -6))
    return np.where(np.asarray(image) > 0.0, np.asarray(image), light.min())


def save(path, light, iso=100, shutter=(1, 125)):
    grainy = noisy(light, np.random.default_rng(1), photons=2e-4, reading=2e-3)
    if path.suffix == ".dng":
        pytest.importorskip("rawpy")
        mosaic = mosaic_of(np.repeat(grainy[..., None], 3, axis=2) * 10 / 78, noise=2.0)
        write_dng(path, mosaic, f_number=Fraction(22), iso=iso)
        return path
    codes = np.rint(255 * srgb_encode(np.maximum(grainy, 0.0) * MID_GREY_LINEAR)).astype(np.uint8)
    exif = Image.Exif()
    exif[34665] = {33434: IFDRational(*shutter), 33437: IFDRational(22), 34855: iso, 37386: IFDRational(100)}
    Image.fromarray(np.repeat(codes[..., None], 3, axis=2)).save(path, exif=exif)
    return path


def matched(templates, path):
    setup = tls.loads(SET)
    capture = read_capture(path)
    return run.matched(as_taken(setup, capture.data), capture, templates, side=2)


@pytest.mark.parametrize("ending", ["png", "dng"])
def test_a_louder_head_is_found_and_told_with_an_honest_interval(templates, tmp_path, ending):
    found = matched(templates, save(tmp_path / f"a.{ending}", moved(light_of(LOUDER))))
    first = found.verdict.causes[0]
    assert first.words == "the strength of left head"
    # The single change to ±0.05 stop; together: planted values inside the intervals.
    assert first.change.value == pytest.approx(0.6, abs=0.05)
    changes = {found.model.templates.changes[place].kind + found.model.templates.changes[place].of: change
               for place, change in found.changes.items() if place < found.model.level}  # fmt: skip
    left = changes["headleft head"]
    assert left.low <= 0.6 <= left.high
    # Before the photo it is 2 · 1.96 · 0.6 = 2.35 stops wide; on a small subject a head's strength and its beam (±0.5
    # stop of axial light by its own prior) stay hard to tell apart.
    assert left.high - left.low < 0.6 * 2.35
    assert changes["headright head"].low <= 0.0 <= changes["headright head"].high
    assert changes["beamleft head"].low <= 0.0 <= changes["beamleft head"].high
    assert changes["clothbackdrop"].low <= 0.0 <= changes["clothbackdrop"].high
    assert changes["glarethe lens"].low <= 0.0 <= changes["glarethe lens"].high
    vignetting = found.changes[found.model.vignetting]
    assert vignetting.low <= 0.4 <= vignetting.high
    assert np.degrees(found.alignment.turn) == pytest.approx(-2.0, abs=0.3)


def test_figures_are_those_of_the_two_frames(templates, tmp_path):
    found = matched(templates, save(tmp_path / "a.png", light_of()))
    assert found.verdict.agrees
    rows = {row.name: row for row in found.rows}
    assert set(rows) == {"subject", "backdrop", "worst patch", "veil"}
    # Vignetting darkens the photo a little; the subject fills the middle third: less than 0.1 stop.
    assert abs(rows["subject"].difference.value) < 0.1
    assert abs(rows["veil"].difference.value) < 4.0 * rows["veil"].difference.half + 0.05
    assert json.loads(json.dumps(found.as_json()))["agrees"] is True
    inner = found.difference[15:33, 25:47]
    assert np.nanmedian(np.abs(inner)) < 0.1


def test_calibrated_the_set_makes_the_photo(templates, tmp_path):
    found = matched(templates, save(tmp_path / "a.png", light_of(LOUDER)))
    text = calibration_text(found, tls.loads(SET))
    (tmp_path / "set.calibration.toml").write_text(text, encoding="utf-8")
    setup = tls.loads('calibration = "set.calibration.toml"\n' + SET, folder=tmp_path)
    # Only what is off is written: the left head, with +0.6 stop inside an interval that holds the value.
    assert [found.model.templates.changes[place].of for place in found.settled] == ["left head"]
    assert setup.heads[0].efficacy == pytest.approx(35.0 * 2.0**0.6, rel=0.05)
    assert (setup.backdrop, setup.camera.glare) == (tls.loads(SET).backdrop, tls.loads(SET).camera.glare)
    assert "# As described: the cloth's reflectance" in text
    # Traced with the calibration, subject and backdrop are where the louder head puts them: 0.05 stop.
    grid = match_grid(setup, 1)
    again = trace_frame(setup, grid, samples=24, fronts=1 << 12, seed=3)
    plain = light_of(LOUDER, vignetting=0.0)[5::10, 5::10]
    now = (again.mean_image.sum(axis=0) + again.mean_veil.sum()).reshape(grid.rows, grid.columns)
    for place in (np.s_[18:30, 28:44], np.s_[4:12, 4:68]):
        assert abs(np.log2(now[place].mean() / plain[place].mean())) < 0.05


def test_a_second_calibration_adds_up(templates, tmp_path):
    from throughlight.setup.calibration import Calibration, HeadCalibration

    found = matched(templates, save(tmp_path / "a.png", light_of(LOUDER)))
    first = calibration_text(found, tls.loads(SET))
    before = Calibration(head=(HeadCalibration(name="left head", stops="+1 stop"),))
    second = calibration_text(found, tls.loads(SET), before)

    def stops(text):
        return float(text.split('stops = "')[1].split(" stop")[0])

    assert stops(second) == pytest.approx(stops(first) + 1.0, abs=1e-6)


def test_the_command_writes_picture_figures_and_calibration(templates, tmp_path, monkeypatch):
    from throughlight.cli.match import match

    monkeypatch.setattr(run, "_FINENESS", 1)
    monkeypatch.setattr(run, "templates_of", lambda *_, **__: templates)
    (tmp_path / "set.toml").write_text(SET, encoding="utf-8")
    photo = save(tmp_path / "test.png", light_of(LOUDER), iso=200)
    asked = [str(tmp_path / "set.toml"), str(photo), "--calibrate", "--out", str(tmp_path / "out")]
    ended = CliRunner().invoke(match, asked)
    assert ended.exit_code == 0, ended.output
    assert "ISO 200, the set has ISO 100: 1.0 stops brighter" in ended.output
    assert "Likeliest cause" in ended.output
    with Image.open(tmp_path / "out" / "difference.png") as picture:
        assert picture.size[0] > 800
    assert json.loads((tmp_path / "out" / "match.json").read_text())["schema"] == "throughlight/match/1"
    tls.loads('calibration = "set.calibration.toml"\n' + SET, folder=tmp_path)
    told = json.loads(CliRunner().invoke(match, [*asked, "--json"]).output)
    assert told["contradictions"]
    assert set(told["files"]) == {"difference", "figures", "calibration"}


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda light: np.full_like(light, 0.3), "nowhere near"),
        (lambda light: 60.0 * light, "a stop over mid-grey"),
        (lambda light: light[:, :300], "sides are as"),
        (lambda light: light.T, "upright"),
    ],
)
def test_photos_that_fit_no_set_end_in_one_sentence(templates, tmp_path, monkeypatch, spoil, words):
    from throughlight.cli.match import match

    monkeypatch.setattr(run, "_FINENESS", 1)
    monkeypatch.setattr(run, "templates_of", lambda *_, **__: templates)
    (tmp_path / "set.toml").write_text(SET, encoding="utf-8")
    photo = save(tmp_path / "test.png", spoil(light_of()))
    ended = CliRunner().invoke(match, [str(tmp_path / "set.toml"), str(photo), "--out", str(tmp_path / "out")])
    assert ended.exit_code == 2
    assert words in ended.output
    assert len(ended.output.strip().splitlines()) == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda light: np.random.default_rng(2).permutation(light.ravel()).reshape(light.shape), "nowhere near"),
        (lambda light: 60.0 * light, "of the subject is, in some colour, brighter than a stop over mid-grey"),
        (lambda light: np.pad(light[::2, ::2], ((120, 120), (180, 180)), mode="edge"), "times as large"),
    ],
    ids=["scattered", "full", "half as large"],
)
def test_a_first_look_refuses_what_no_tracing_makes_fit(tmp_path, monkeypatch, spoil, words):
    def traced(*_, **__):
        raise AssertionError("the set was traced for a photo that can't be used")

    monkeypatch.setattr(run, "templates_of", traced)
    capture = read_capture(save(tmp_path / "a.png", spoil(light_of())))
    with pytest.raises(AlignError, match=words):
        run.match(tls.loads(SET), capture)


def test_a_first_look_lets_a_photo_of_the_set_pass(tmp_path):
    first_look(tls.loads(SET), read_capture(save(tmp_path / "a.png", moved(light_of(LOUDER)))), seed=5)


def test_the_sheet_fits_narrow_and_wide_terminals(templates, tmp_path):
    found = matched(templates, save(tmp_path / "a.png", moved(light_of(LOUDER))))
    for width in (60, 80, 200):
        console = Console(highlight=False, width=width, record=True, file=io.StringIO())
        console.print(match_table(found, together=True))
        lines = console.export_text().splitlines()
        assert max(len(line) for line in lines) <= width
        words = " ".join(" ".join(lines).split())
        # Planted: turned by 2° against the clock (Pillow's sense), the left head 0.6 stop louder.
        assert re.search(r"turned [12]\.\d° anticlockwise", words)
        assert "Likeliest cause: the strength of left head, +0." in words
        assert "In the calibration file" in words
        assert not re.search(r"-\d", words)  # real minus signs
