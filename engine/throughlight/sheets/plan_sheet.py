"""The plan's files: the drawing as SVG, the sheets as PDF, the first of them as PNG, and all that is told as JSON."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from throughlight import __version__
from throughlight.darkroom import files
from throughlight.setup import Setup
from throughlight.sheets import typeset
from throughlight.sheets.house import print_out
from throughlight.sheets.plan import Plan, plan_of
from throughlight.sheets.plan_arranged import arrange
from throughlight.sheets.plan_cautions import cautions
from throughlight.sheets.plan_drawing import drawing_svg, in_print, ratio
from throughlight.sheets.plan_kit import Group, Item, kit_list
from throughlight.sheets.plan_order import order_of_work
from throughlight.sheets.plan_places import floor_words
from throughlight.sheets.plan_words import Tape, tilt_words

Paper = Literal["a4", "letter"]
SCHEMA = "throughlight/plan/1"
_SIDES = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
_TYPESET = {"a4": "a4", "letter": "us-letter"}
_SAID = {"a4": "on A4", "letter": "on Letter"}
_ASIDE, _HEAD, _FOOT, _TITLE = 14.0, 13.0, 15.0, 12.5
"""mm: the margins of a sheet (`pages/house.typ`), and its title."""
_PPI = 200.0


@dataclass(frozen=True)
class PlanSheets:
    """A plan, ready to be written: what it tells, and the drawing for the paper."""

    plan: Plan
    tape: Tape
    paper: Paper
    scale: int
    drawing: bytes
    size: tuple[float, float]

    def as_json(self) -> dict[str, Any]:
        """Return all that is told as plain JSON data, units in the keys."""
        setup = self.plan.setup
        height = setup.mark_height
        return {
            "schema": SCHEMA,
            "engine_version": __version__,
            "title": setup.title,
            "paper": self.paper,
            "scale_denominator": self.scale,
            "mark_height_over_floor_mm": None if height is None else round(1e3 * height, 3),
            "pieces": [self._piece(number) for number in range(1, len(self.plan.pieces) + 1)],
            "camera": self.plan.camera.as_json(),
            "power": self.plan.power.as_json(),
            "kit": [_group_json(group) for group in kit_list(self.plan, self.tape)],
            "order_of_work": list(order_of_work(self.plan, self.tape)),
            "cautions": list(cautions(self.plan, self.tape)),
        }

    def _piece(self, number: int) -> dict[str, Any]:
        piece = self.plan.pieces[number - 1]
        sides = [flat for flat in piece.flats if piece.kind in ("card", "flag")]
        beam = None if piece.beam is None else round(math.degrees(2.0 * piece.beam.half), 2)
        return {
            "number": number,
            "kind": piece.kind,
            "name": piece.name,
            "size_mm": [round(1e3 * side, 3) for side in piece.size],
            **self.plan.place(number).as_json(),
            "beam_deg": beam,
            "front": sides[0].front.value if sides and sides[0].front is not None else None,
            "back": sides[0].back.value if sides and sides[0].back is not None else None,
        }


def _group_json(group: Group) -> dict[str, Any]:
    items = [{"number": one.number, "name": one.name, "words": one.words} for one in group.items]
    return {"heading": group.heading, "items": items}


def plan_sheets(setup: Setup, *, paper: Paper = "a4", feet: bool = False) -> PlanSheets:
    """Return a set's plan for a paper; nothing is traced.

    Parameters
    ----------
    setup
        The checked description.
    paper
        "a4" or "letter".
    feet
        Whether lengths are told in feet and inches.

    Raises
    ------
    OSError
        If the file of a subject's mesh cannot be opened.
    """
    plan, tape = plan_of(setup), Tape(feet)
    wide, high = _SIDES[paper]
    width, height = wide - 2.0 * _ASIDE, high - _HEAD - _FOOT - _TITLE
    arranged = arrange(plan, width, height, tape)
    printed = in_print(drawing_svg(plan, tape, arranged, paper=_SAID[paper]), print_out(), width, height)
    return PlanSheets(plan, tape, paper, arranged[0].scale, printed, (width, height))


def write_plan(sheets: PlanSheets, folder: Path) -> dict[str, Path]:
    """Write a plan's files into a folder, each atomically.

    Returns
    -------
    dict
        What each file is, and where: "drawing" (SVG), "sheets" (PDF) and "picture" (PNG of the first sheet).

    Raises
    ------
    OSError
        When a file cannot be written.
    throughlight.sheets.typeset.TypesetError
        When the pages could not be set.
    """
    paths = {"drawing": folder / "plan.svg", "sheets": folder / "plan.pdf", "picture": folder / "plan.png"}
    told, parts = told_of(sheets), {"drawing.svg": sheets.drawing}
    pdf = typeset.pdf("plan.typ", told, parts)
    picture = typeset.pages("plan.typ", {**told, "drawing_only": True}, parts, ppi=_PPI)[0]
    folder.mkdir(parents=True, exist_ok=True)
    for path, content in zip(paths.values(), (sheets.drawing, pdf, picture), strict=True):
        with files.atomic(path) as passing:
            passing.write_bytes(content)
    return paths


def told_of(sheets: PlanSheets) -> dict[str, Any]:
    """Return what the sheets' template is told."""
    plan, tape = sheets.plan, sheets.tape
    return {
        "paper": _TYPESET[sheets.paper],
        "width": sheets.size[0],
        "title": plan.setup.title,
        "what": f"Set diagram, {ratio(sheets.scale, tape)}",
        "foot": f"Throughlight {__version__}. Print at 100 %: the scale bar then measures what it says.",
        "drawing_only": False,
        "places_note": _places_note(plan, tape),
        "columns": _columns(plan),
        "rows": [_row(plan, number, tape) for number in range(1, len(plan.pieces) + 1)],
        "kit": [
            {
                "heading": group.heading,
                "items": [_told_item(one) for one in group.items],
            }
            for group in kit_list(plan, tape)
        ],
        "order": list(order_of_work(plan, tape)),
        "cautions": list(cautions(plan, tape)),
    }


def _told_item(item: Item) -> dict[str, str]:
    return {"number": str(item.number) if item.number else "–", "name": item.name, "words": item.words}


def _places_note(plan: Plan, tape: Tape) -> str:
    height = plan.setup.mark_height
    over = (
        "Mark's height over the floor: not given; heights are over the mark."
        if height is None
        else f"The mark lies {floor_words(height, tape)} over the floor."
    )
    return (
        "From the subject's mark to the middle of each piece: distance level along the floor; bearing round the mark, "
        "0° at the camera, right and left as the camera sees; or the two offsets instead. Facing: the way its axis "
        f"points, 0° toward the camera's side. {over}"
    )


def _columns(plan: Plan) -> list[dict[str, Any]]:
    def column(name: str, *, wide: int = 0, right: bool = False) -> dict[str, Any]:
        return {"name": name, "wide": wide > 0, "share": wide, "right": right}

    floor = [] if plan.setup.mark_height is None else [column("over floor", right=True)]
    return [
        column("", right=True), column("piece", wide=3), column("distance", right=True), column("bearing", right=True),
        column("right, left", right=True), column("front, back", right=True), *floor, column("over mark", right=True),
        column("aimed at", wide=2), column("facing", right=True), column("tilt"),
    ]  # fmt: skip


def _row(plan: Plan, number: int, tape: Tape) -> list[str]:
    piece, place = plan.pieces[number - 1], plan.place(number)
    floor = [] if place.over_floor is None else [floor_words(place.over_floor, tape)]
    ends = piece.kind == "support"
    aim = place.aim_words(tape)
    return [
        str(number),
        piece.name,
        tape.length(place.distance),
        place.bearing_words(),
        tape.beside(place.at[0]),
        tape.before(place.at[2]),
        *floor,
        tape.signed(place.over_mark),
        f"ends {aim}" if ends else aim,
        "–" if ends else place.facing_words(),
        "–" if place.tilt is None or ends else tilt_words(place.tilt),
    ]
