"""`throughlight shoot --focus-stack`: the files, the lines, the JSON and the refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from plain_camera import CAMERA
from throughlight import cli

SETUP = (
    CAMERA
    + """
pixels = [24, 16]
[subject]
shape = { kind = "sphere", diameter = "60 mm" }
surface = { reflectance = 0.5 }
[ambient]
illuminance = "100 lx"
"""
)
QUICK = ("--tolerance", "1 stop", "--samples", "8", "--threads", "2")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    file = tmp_path / "set.toml"
    file.write_text(SETUP, encoding="utf-8")
    return file


def test_stack_writes_a_picture_for_each_focus(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = CliRunner().invoke(cli.main, ["shoot", str(file), "--focus-stack", "3", "--out", str(out), *QUICK])
    assert told.exit_code == 0, told.output
    names = {path.name for path in out.iterdir()}
    assert {f"picture-focus-0{i}.png" for i in (1, 2, 3)} <= names
    assert {"picture-focus-02.tif", "layers-focus-02.exr", "stops-focus-02.png", "readings.json"} <= names
    assert "picture.png" not in names
    lines = [line for line in told.output.splitlines() if line.startswith("frame ")]
    assert [line.split("focus at ")[1].split(",")[0] for line in lines][::2] == ["570.00 mm", "630.00 mm"]
    assert "covers the depth (circle of confusion 29 µm)" in told.output
    stack = json.loads((out / "readings.json").read_text())["focus_stack"]
    assert stack["focus_distances_mm"][0] == pytest.approx(570.0)
    assert stack["covers"] is False


def test_stack_in_json(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = CliRunner().invoke(cli.main, ["shoot", str(file), "--focus-stack", "2", "--out", str(out), "--json", *QUICK])
    assert told.exit_code == 0, told.output
    said = json.loads(told.output)
    assert said["focus_stack"]["covering_frames"] > 2
    assert said["camera"]["focus_distance_mm"] == pytest.approx(said["focus_stack"]["readings_focus_distance_mm"])
    assert Path(said["files"]["picture 2"]).name == "picture-focus-02.png"


@pytest.mark.parametrize("frames", ["1", "0", "-3", "201"])
def test_a_stack_of_one_or_of_very_many_is_refused(file: Path, frames: str) -> None:
    told = CliRunner().invoke(cli.main, ["shoot", str(file), "--focus-stack", frames])
    assert told.exit_code == 2
    assert f"found a stack of {frames} frames; from 2 to 200 would fit" in " ".join(told.output.split())


def test_a_stack_needs_a_subject(file: Path) -> None:
    head, _, _ = SETUP.partition("[subject]")
    file.write_text(head, encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["shoot", str(file), "--focus-stack", "3"])
    assert told.exit_code == 2
    assert "the set has none" in told.output


def test_check_warns_of_a_hood_in_the_picture(file: Path) -> None:
    text = SETUP.replace('"100 mm"', '"24 mm"').replace("pixels", 'hood = "6 cm"\npixels')
    file.write_text(text, encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["check", str(file)])
    assert told.exit_code == 0, told.output
    assert "! The hood cuts the frame: " in told.output


def test_a_hood_in_the_picture_is_not_as_wanted(file: Path) -> None:
    text = SETUP.replace('"100 mm"', '"24 mm"').replace("pixels", 'hood = "6 cm"\npixels')
    file.write_text(text, encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["meter", str(file), "--strict", "--tolerance", "1 stop", "--threads", "2"])
    assert told.exit_code == 3, told.output
    assert "✗ the hood cuts the frame" in told.output
