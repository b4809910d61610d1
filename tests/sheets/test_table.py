"""The readings on a terminal of the usual width."""

from __future__ import annotations

import io

from rich.console import Console

import throughlight as tl
from plain_camera import CAMERA
from throughlight.sheets.table import readings_table

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


def test_words_have_the_room_that_figures_leave_unused() -> None:
    console = Console(file=io.StringIO(), width=80)
    console.print(readings_table(tl.meter(tl.loads(SETUP), tolerance=1.0)))
    assert isinstance(console.file, io.StringIO)
    lines = console.file.getvalue().splitlines()
    assert max(len(line) for line in lines) <= 80
    camera = next(line for line in lines if "picture angle" in line)
    assert "corner to corner" in camera  # 17.1° across, 11.4° up, 20.4° corner to corner: one line
    assert not any(line.startswith("Power") for line in lines)  # no head, no heading


def _lines(setup: str) -> list[str]:
    console = Console(file=io.StringIO(), width=120)
    console.print(readings_table(tl.meter(tl.loads(setup), tolerance=1.0)))
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue().splitlines()


def test_a_cloth_that_shows_is_told_by_what_lights_it() -> None:
    lines = _lines(SETUP)
    assert any(line.startswith("  cloth lit by") and "room light" in line for line in lines)
    assert not any("makes the backdrop" in line for line in lines)


def test_a_cloth_drowned_in_the_veil_is_told_by_what_makes_the_veil() -> None:
    """A cloth of 0.001 with a glare of 5 % of the room all round: the veil lies more than 3 stops over it."""
    dark = SETUP.replace('"grey paper"', '{ kind = "matte", reflectance = 0.001 }')
    lines = _lines(dark.replace("iso = 100", 'iso = 100\nglare = "5 %"'))
    assert not any(line.startswith("  cloth lit by") for line in lines)
    (veil,) = (line for line in lines if "the veil makes the backdrop" in line)
    assert veil.startswith("  veil")
    assert veil.rstrip().endswith("100 % of it from room light")
