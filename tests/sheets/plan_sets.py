"""Sets for the tests of the plan beside this file."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import throughlight as tl
from plain_camera import CAMERA
from throughlight.setup import Setup
from throughlight.sheets.plan_sheet import PlanSheets, plan_sheets

SCENES = Path(__file__).parents[2] / "scenes"
AGATE = SCENES / "agate" / "set.toml"

BALL = """
[subject]
name = "ball"
material = "marble"
shape = { kind = "sphere", diameter = "6 cm" }
"""
DROP = """
[backdrop]
distance = "90 cm"
width = "150 cm"
height = "120 cm"
cloth = "black velvet"
"""


def head(name: str, at: str, more: str = "") -> str:
    """Return a flash head's table."""
    return f"""
[[head]]
name = "{name}"
face = {{ shape = "disc", diameter = "18 cm" }}
at = {at}
energy = "100 J"
{more}
"""


LEFT = head("left head", '{ bearing = "-140 deg", distance = "55 cm", height = "5 cm" }')


def a_set(*tables: str, title: str = "A set", top: str = "") -> Setup:
    """Return the set of the plain camera and some tables."""
    return tl.loads(f'title = "{title}"\n{top}\n{CAMERA}' + "".join(tables))


@cache
def agate(paper: str = "a4", feet: bool = False) -> PlanSheets:
    """Return the plan of the shipped agate set."""
    return plan_sheets(tl.load(AGATE), paper=paper, feet=feet)  # type: ignore[arg-type]
