"""`throughlight shoot`: the report page, --open and --compare; what is written, shown and refused."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from plain_camera import CAMERA
from throughlight import cli
from throughlight.cli import shoot
from throughlight.sheets.shot import Shot

SETUP = (
    CAMERA
    + """
pixels = [12, 8]
[subject]
shape = { kind = "sphere", diameter = "60 mm" }
surface = { reflectance = 0.5 }
[ambient]
illuminance = "100 lx"
"""
)
QUICK = ("--samples", "8", "--threads", "2", "--tolerance", "1 stop")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    file = tmp_path / "set.toml"
    file.write_text(SETUP, encoding="utf-8")
    return file


def run(*arguments: str, exit_code: int = 0) -> str:
    told = CliRunner().invoke(cli.main, ["shoot", *arguments])
    assert told.exit_code == exit_code, (told.output, told.exception)
    return told.output


def test_the_page_is_among_the_files_and_shown_when_asked(file, tmp_path, monkeypatch):
    shown = []
    monkeypatch.setattr("webbrowser.open", shown.append)
    out = tmp_path / "out"
    told = json.loads(run(str(file), "--out", str(out), *QUICK, "--json", "--open"))
    assert Path(told["files"]["report"]) == out / "report.html"
    assert shown == [(out / "report.html").resolve().as_uri()]


def test_two_sets_on_one_page(file, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(SETUP.replace("100 lx", "200 lx"), encoding="utf-8")
    out = tmp_path / "out"
    told = json.loads(run(str(file), str(other), "--compare", "--out", str(out), *QUICK, "--json"))
    # The same random numbers in twice the light: one stop exactly.
    subject = told["second_over_first"]["subject_stops"]
    assert subject == {"stops": 1.0, "low_stops": 1.0, "high_stops": 1.0}
    assert (out / "compare.html").is_file()
    assert (out / "a" / "picture.png").is_file()
    assert (out / "b" / "readings.json").is_file()


def test_ctrl_c_during_the_first_set_leaves_the_second_untraced(file, tmp_path, monkeypatch):
    take = shoot._take
    monkeypatch.setattr(shoot, "_take", lambda *how: _interrupted(take(*how)))
    monkeypatch.setattr("webbrowser.open", pytest.fail)
    out = tmp_path / "out"
    said = run(str(file), str(file), "--compare", "--open", "--out", str(out), *QUICK, exit_code=130)
    assert f"{file} is not traced, so there is no page" in said
    assert [path.name for path in out.iterdir()] == ["a"]


def _interrupted(shot: Shot) -> Shot:
    return replace(shot, picture=replace(shot.picture, interrupted=True))


@pytest.mark.parametrize(("extra", "said"), [
    (("--compare",), "--compare lays two sets side by side; found 1 setup file"),
    (("AGAIN",), "found 2 setup files; one would fit, or two with --compare"),
    (("AGAIN", "AGAIN", "--compare"), "found 3 setup files"),
    (("AGAIN", "--compare", "--preview"), "--compare doesn't go with --preview, which makes no page"),
    (("AGAIN", "--compare", "--focus-stack", "3"), "--compare doesn't go with --focus-stack"),
    (("--open", "--preview"), "--open doesn't go with --preview, which makes no page"),
])  # fmt: skip
def test_what_does_not_go_together_is_said_in_a_sentence(file, extra, said):
    output = run(str(file), *(str(file) if each == "AGAIN" else each for each in extra), exit_code=2)
    assert said in " ".join(output.split())
