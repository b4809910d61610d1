"""A finished shot: what `[finish]` does to each file, what is said of it, the retouch mask, hidden supports."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from rich.console import Console

import throughlight as tl
from throughlight.readings.picture import expose_picture
from throughlight.setup import SetupError
from throughlight.sheets.retouch import retouch_mask
from throughlight.sheets.shot import write_shot
from throughlight.sheets.table import readings_table
from throughlight.trace.tables import Region

WALL = """
[camera]
sensor = "36x24 mm"
pixels = [60, 40]
focal = "100 mm"
f_number = 45
shutter = "1/160 s"
iso = 100
at = { bearing = "0 deg", distance = "60 cm" }

[backdrop]
distance = "10 cm"
width = "60 cm"
height = "60 cm"
cloth = { kind = "matte", reflectance = [0.6, 0.4, 0.2] }

[[head]]
name = "key"
face = { shape = "disc", diameter = "2 cm" }
at = ["20 cm", "0 cm", "40 cm"]
energy = "100 J"

[[support]]
name = "rod"
from = ["0 cm", "-20 cm", "0 cm"]
to = ["0 cm", "20 cm", "0 cm"]
diameter = "8 mm"

[[flag]]
name = "low flag"
at = ["0 cm", "-6 cm", "0 cm"]
aim = { bearing = "0 deg", distance = "2 m", height = "-6 cm" }
width = "12 cm"
height = "4 cm"
"""
FINISH = """
[finish]
turn = "90 deg"
straighten = "-2 deg"
crop = "4:5"
hide_supports = true
exposure = "+1 stop"
black_point = "-7 stop"
saturation = "0 %"
"""


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    made = {}
    for name, text in (("plain", WALL), ("finished", WALL + FINISH)):
        made[name] = tmp_path_factory.mktemp(name)
        write_shot(tl.shoot(tl.loads(text), tolerance=1.0, most_samples=8, seed=3), made[name])
    return made


def test_lift_black_point_and_saturation_are_in_the_picture_and_the_print_alone(folders: dict[str, Path]) -> None:
    import OpenEXR

    from throughlight.darkroom import look, tone
    from throughlight.darkroom.finish import apply

    with OpenEXR.File(str(folders["finished"] / "layers.exr")) as file:
        H = file.channels()["RGB"].pixels
    shown = look.apply(apply(H, math.radians(88.0), 0.8), 100.0, 1.0, -7.0, 0.0)
    with Image.open(folders["finished"] / "picture.png") as picture:
        np.testing.assert_allclose(np.asarray(picture).astype(int), tone.develop(shown, 100.0), atol=1)
        assert np.ptp(np.asarray(picture).astype(int), axis=2).max() == 0  # no saturation: grey
        size = picture.size
    with Image.open(folders["finished"] / "stops.png") as stops:
        assert stops.size[0] >= size[0]
        assert np.ptp(np.asarray(stops).astype(int), axis=2).max() > 0
    assert size[0] / size[1] == pytest.approx(0.8, abs=0.04)


def test_what_was_done_is_said_in_every_sheet(folders: dict[str, Path]) -> None:
    told = json.loads((folders["finished"] / "readings.json").read_text(encoding="utf-8"))["finish"]
    assert [note["words"] for note in told] == [
        "supports are hidden: the picture is traced without them, so their shadows are gone too",
        "turned by 90° counter-clockwise",
        "straightened by 2° clockwise",
        "cropped to 4:5, the largest that fits",
        "lifted by 1 stop",
        "black point 7 stops under mid-grey",
        "saturation 0 %",
    ]
    values = {key: value for note in told for key, value in note.items() if key != "words"}
    assert values == {
        "supports": "left out with their shadows", "turn_deg": 90.0, "straighten_deg": -2.0,
        "crop_width_over_height": 0.8, "exposure_lift_stops": 1.0, "black_point_over_mid_grey_stops": -7.0,
        "saturation_fraction": 0.0,
    }  # fmt: skip
    with Image.open(folders["finished"] / "picture.png") as picture:
        assert "black point 7 stops under mid-grey" in picture.text["Description"]
    assert "saturation 0 %" in Image.open(folders["finished"] / "picture.tif").tag_v2[270]
    with Image.open(folders["plain"] / "picture.png") as picture:
        assert "Description" not in picture.text
    assert json.loads((folders["plain"] / "readings.json").read_text(encoding="utf-8"))["finish"] == []


def test_the_table_lists_the_finish() -> None:
    readings = tl.meter(tl.loads(WALL + FINISH), tolerance=2.0, time_limit=0.1)
    console = Console(file=io.StringIO(), width=120)
    console.print(readings_table(readings))
    assert isinstance(console.file, io.StringIO)
    lines = console.file.getvalue().splitlines()
    (heading,) = (line for line in lines if line.startswith("Finish"))
    assert "the readings are without it" in heading
    assert any("lifted by 1 stop" in line for line in lines)


def test_the_retouch_mask_is_where_geometry_puts_rod_and_flag() -> None:
    """By similar triangles: 100 mm focused at 600 mm; 1 px of the frame's 180 mm in the plane of focus is 3 mm."""
    mask = retouch_mask(tl.loads(WALL))
    assert mask is not None
    assert mask.shape == (40, 60)
    rod = mask[:20].mean(axis=0)
    assert 3.0 * rod.sum() == pytest.approx(8.0, abs=1.6)  # 8 mm wide; a quarter of a ray's step on both sides
    assert np.flatnonzero(rod > 0).mean() == pytest.approx(29.5, abs=0.5)
    # From 8 to 4 cm under the axis, the frame ends at 6: 20 mm of it show, 12 cm wide.
    assert 3.0 * mask[:, 15].sum() == pytest.approx(20.0, abs=1.6)
    assert 3.0 * mask[39].sum() == pytest.approx(120.0, abs=3.1)
    assert mask[39].argmax() * 3.0 == pytest.approx(30.0, abs=3.0)


def test_the_mask_is_written_framed_and_holds_hidden_supports(folders: dict[str, Path]) -> None:
    with Image.open(folders["plain"] / "retouch.png") as mask, Image.open(folders["plain"] / "picture.png") as picture:
        assert mask.size == picture.size
        assert np.asarray(mask).max() == 255
    with Image.open(folders["finished"] / "retouch.png") as mask:
        turned = np.asarray(mask)[..., 0].astype(float)
    with Image.open(folders["finished"] / "picture.png") as picture:
        assert (picture.size[1], picture.size[0]) == turned.shape
    # Turned counter-clockwise by a quarter, the upright rod lies; the flag below it is at the right.
    assert turned[:, : turned.shape[1] // 2].max(axis=0).min() > 100.0
    assert turned[:, -2].mean() > 200.0


def test_an_empty_mask_is_not_written_and_an_old_one_goes(tmp_path: Path) -> None:
    from throughlight.sheets.shot import write_retouch

    (tmp_path / "retouch.png").write_bytes(b"old")
    bare, _, _ = WALL.partition("[[support]]")
    assert write_retouch(tl.loads(bare), tmp_path / "retouch.png") == {}
    assert not (tmp_path / "retouch.png").exists()


def test_hidden_supports_keep_or_lose_their_shadows() -> None:
    """With shadows kept, what the camera sees beside the rod is, bit for bit, the picture that shows the rod."""
    pictures = {
        name: expose_picture(tl.loads(f"{WALL}{keys}"), most_samples=8, seed=5)
        for name, keys in {
            "shown": "",
            "kept": "[finish]\nhide_supports = true\nsupport_shadows = true\n",
            "gone": "[finish]\nhide_supports = true\n",
        }.items()
    }
    rod = pictures["shown"].coverage[:, :, Region.SUPPORT]
    assert rod.sum() > 20.0
    for name in ("kept", "gone"):
        assert pictures[name].coverage[:, :, Region.SUPPORT].max() == 0.0
    beside = rod == 0.0
    np.testing.assert_array_equal(pictures["kept"].exposure[beside], pictures["shown"].exposure[beside])
    upper = slice(0, 20)  # over the flag the wall is even but for the rod and its shadow
    kept, gone = (pictures[name].exposure[upper, :, 1] for name in ("kept", "gone"))
    shadow = np.median(kept / gone, axis=0) < 0.5
    # The head is 20 cm to the right and 40 before the rod, the wall 10 behind it: the shadow falls 5 cm to the left on
    # the wall, which the camera, 70 cm before it, sees 5·60/70 = 4.29 cm left of the mark, pixel 30 − 42.9/3 = 15.7.
    assert np.flatnonzero(shadow).mean() + 0.5 == pytest.approx(15.7, abs=0.7)
    assert np.median(kept[:, 30] / gone[:, 30]) == pytest.approx(1.0, abs=0.1)  # the wall behind the rod is lit


@pytest.mark.parametrize(
    ("key", "found"),
    [
        ('straighten = "50 deg"', "a small angle of at most 45 deg would fit"),
        ('exposure = "11 stop"', "a lift of at most 10 stop would fit"),
        ("exposure = 0.3", "a unit is missing: a lift"),
        ('black_point = "+1 stop"', "a black point over mid-grey of at most 0 stop would fit"),
        ('saturation = "300 %"', "a saturation of at most 200 % would fit"),
        ("saturation = 0.9", "a unit is missing: a saturation"),
        ("support_shadows = true", "hide_supports = true beside it would fit"),
        ('retouch = "a.png"', '"retouch" is no key of this table'),
    ],
)
def test_a_mistake_in_the_finish_is_one_sentence(key: str, found: str) -> None:
    with pytest.raises(SetupError) as caught:
        tl.loads(f"{WALL}[finish]\n{key}\n", name="set.toml")
    (mistake,) = caught.value.mistakes
    assert found in mistake.message
    assert mistake.line >= WALL.count("\n") + 1
