"""The drawing as it was last looked at and found good.

Compared small and soft: each grey value is the mean over about a millimetre of paper, because typesetters and drawing
libraries place type and thin lines by their own hinting, and later versions do it otherwise. A mean difference of 1.5
code values of 255 and a worst of 40 let that pass; a head that is moved by 5 cm, 2.5 mm on paper, does not.

    python tests/sheets/test_plan_golden.py

draws it anew; look at it before you keep it.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
from PIL import Image, ImageFilter

sys.path.insert(0, str(Path(__file__).parents[1]))
from plan_sets import AGATE, agate

import throughlight as tl
from throughlight.sheets import typeset
from throughlight.sheets.plan_sheet import plan_sheets, told_of

GOLDEN = Path(__file__).parent / "golden" / "plan-agate.png"
MEAN, WORST = 1.5, 40.0


def drawn(sheets) -> Image.Image:
    told = {**told_of(sheets), "drawing_only": True, "foot": ""}
    page = typeset.pages("plan.typ", told, {"drawing.svg": sheets.drawing}, ppi=100.0)[0]
    soft = Image.open(io.BytesIO(page)).convert("L").filter(ImageFilter.GaussianBlur(2.0))
    return soft.resize((soft.width // 4, soft.height // 4), Image.Resampling.BOX)


def differences(one: Image.Image, other: Image.Image) -> tuple[float, float]:
    off = np.abs(np.asarray(one, float) - np.asarray(other, float))
    return float(off.mean()), float(off.max())


def test_the_agate_sets_drawing_is_the_one_looked_at() -> None:
    mean, worst = differences(drawn(agate()), Image.open(GOLDEN))
    assert mean < MEAN
    assert worst < WORST


def test_a_head_moved_by_5_cm_would_be_seen() -> None:
    text = AGATE.read_text("utf-8").replace('"140 deg", distance = "55 cm"', '"140 deg", distance = "60 cm"')
    moved = plan_sheets(tl.loads(text, folder=AGATE.parent))
    _, worst = differences(drawn(moved), Image.open(GOLDEN))
    assert worst > 1.5 * WORST


if __name__ == "__main__":
    GOLDEN.parent.mkdir(exist_ok=True)
    drawn(agate()).save(GOLDEN, optimize=True)
