"""`throughlight shoot --preview` and `--denoise`: what is written, said, marked and refused."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from plain_camera import CAMERA
from throughlight import cli
from throughlight.darkroom import denoiser, files
from throughlight.sheets import preview as sheet

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
QUICK = ("--samples", "16", "--threads", "2")
needed = pytest.mark.skipif(not denoiser.is_here(), reason="the extra `denoise` is not installed")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    file = tmp_path / "set.toml"
    file.write_text(SETUP, encoding="utf-8")
    return file


def _shoot(file: Path, out: Path, *options: str, exit_code: int = 0) -> str:
    told = CliRunner().invoke(cli.main, ["shoot", str(file), "--out", str(out), *QUICK, *options])
    assert told.exit_code == exit_code, (told.output, told.exception)
    return told.output


def test_preview_writes_one_file_and_says_what_stands_in_it(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("throughlight.readings.picture._COARSEST", 24)
    out = tmp_path / "out"
    said = _shoot(file, out, "--preview")
    assert [path.name for path in out.iterdir()] == ["preview.png"]
    assert "makes no readings" in said
    assert said.index("every 4th pixel") < said.index("every 2nd pixel") < said.index("every pixel, 8 samples")
    with Image.open(out / "preview.png") as picture:
        assert picture.size == (24, 16)
        assert "every pixel" in picture.text["Description"]
        assert "Denoised" not in picture.text


def test_preview_in_json(file: Path, tmp_path: Path) -> None:
    told = json.loads(_shoot(file, tmp_path / "out", "--preview", "--json", "--grain", "50"))
    assert told["schema"] == "throughlight.preview/1"
    assert told["stopped_by"] == "grain"
    assert told["exposed_every_nth_pixel"] == 1
    assert told["readings_made"] is told["denoised"] is False
    assert Path(told["files"]["preview"]).is_file()


def test_ctrl_c_leaves_the_file_and_exits_with_130(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("throughlight.readings.picture._COARSEST", 24)
    write = sheet.write_preview

    def press(*args: object, **how: object) -> None:
        write(*args, **how)
        if args[2].stride == 2 and not args[2].interrupted:
            raise KeyboardInterrupt

    monkeypatch.setattr(sheet, "write_preview", press)
    said = _shoot(file, tmp_path / "out", "--preview", exit_code=130)
    assert "every 2nd pixel" in said
    with Image.open(tmp_path / "out" / "preview.png") as picture:
        assert "every 2nd pixel" in picture.text["Description"]


def test_a_file_that_is_being_replaced_is_always_whole(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What stands under the name can be read before, while and after each writing."""
    monkeypatch.setattr("throughlight.readings.picture._COARSEST", 24)
    path, states = tmp_path / "out" / "preview.png", []
    developed = sheet.tone.develop

    def look(*args: object, **how: object) -> object:
        if path.exists():
            with Image.open(path) as picture:
                picture.load()
                states.append(picture.text["Description"])
        return developed(*args, **how)

    monkeypatch.setattr(sheet.tone, "develop", look)
    _shoot(file, path.parent, "--preview")
    assert any("4th" in state for state in states)
    assert any("2nd" in state for state in states)


@pytest.mark.parametrize("option", ["--strict", "--spot=50%,50%", "--focus-stack=2"])
def test_options_that_mean_nothing_in_a_preview_are_refused(file: Path, tmp_path: Path, option: str) -> None:
    said = _shoot(file, tmp_path / "out", "--preview", option, exit_code=2)
    assert f"{option.partition('=')[0]} doesn't go with --preview" in said
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("more", [(), ("--preview",)])
def test_denoise_without_the_extra_is_one_sentence(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...]
) -> None:
    found = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name, *a: None if name == "pyoidn" else found(name, *a))
    said = _shoot(file, tmp_path / "out", "--denoise", *more, exit_code=2)
    assert said.strip() == f"{denoiser.HOW_TO_GET}."
    assert not (tmp_path / "out").exists()


def _channels(path: Path) -> tuple[dict[str, object], dict[str, np.ndarray]]:
    import OpenEXR

    with OpenEXR.File(str(path), separate_channels=True) as made:
        return dict(made.header()), {name: channel.pixels for name, channel in made.channels().items()}


@needed
def test_denoising_marks_what_it_changes_and_changes_nothing_else(file: Path, tmp_path: Path) -> None:
    plain, quiet = (
        json.loads(_shoot(file, tmp_path / name, "--json", "--tolerance", "1 stop", *options))
        for name, options in {"plain": (), "quiet": ("--denoise",)}.items()
    )
    assert (plain["picture"].pop("denoised"), quiet["picture"].pop("denoised")) == (False, True)
    for told in (plain, quiet):
        told.pop("files")
        told["made"].pop("tracing_seconds")
    assert plain == quiet
    for name in ("stops.png", "layers.exr", "picture.png", "picture.tif"):
        same = (tmp_path / "plain" / name).read_bytes() == (tmp_path / "quiet" / name).read_bytes()
        assert same == (name == "stops.png"), name
    with Image.open(tmp_path / "quiet" / "picture.png") as picture:
        assert picture.text["Denoised"] == denoiser.MARK
    assert denoiser.MARK in Image.open(tmp_path / "quiet" / "picture.tif").tag_v2[270]
    (_, before), (header, after) = (_channels(tmp_path / name / "layers.exr") for name in ("plain", "quiet"))
    assert str(header["denoised"]).startswith("true")
    assert set(after) - set(before) == {"denoised.R", "denoised.G", "denoised.B"}
    assert all(np.array_equal(before[name], after[name], equal_nan=True) for name in before)


@needed
def test_a_denoised_preview_is_marked(file: Path, tmp_path: Path) -> None:
    told = json.loads(_shoot(file, tmp_path / "out", "--preview", "--denoise", "--json"))
    assert told["denoised"] is True
    with Image.open(tmp_path / "out" / "preview.png") as picture:
        assert picture.text["Denoised"] == denoiser.MARK


def test_a_layer_named_denoised_keeps_its_own_channels(tmp_path: Path) -> None:
    H = np.full((4, 5, 3), 0.5, np.float32)
    files.write_exr(tmp_path / "a.exr", {"denoised": H}, denoised=2.0 * H)
    _, channels = _channels(tmp_path / "a.exr")
    assert channels["denoised.R"].max() == 1.0
    assert channels["denoised 2.R"].max() == channels["R"].max() == 0.5
