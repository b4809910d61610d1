"""Where a piece stands, as a person with a tape sets it out from the subject's mark.

The plan distance runs level along the floor from the mark; the bearing is read round the mark, 0 at the camera, 90 at
camera right, negative at camera left; heights are over the mark, and over the floor where the set says how high the
mark lies.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from throughlight.setup import Vec3
from throughlight.sheets.plan_pieces import MARK, Piece
from throughlight.sheets.plan_words import Tape, bearing_words

_HERE = 0.5e-3
"""m; nearer to the mark than this a piece has no bearing."""
_BESIDE = 0.03


class Place(NamedTuple):
    """Lengths in m, angles in degrees; `over_floor` None where the mark's height isn't known.

    `toward` names what it is aimed at, where that has a name; `facing` is the way its axis points in plan, as a bearing
    (0 toward the camera's side, 90 to camera right), None where it points straight up or down; `tilt` is from level.
    """

    at: Vec3
    distance: float
    bearing: float | None
    over_mark: float
    over_floor: float | None
    aim: Vec3 | None
    toward: str
    facing: float | None
    tilt: float | None

    def height_words(self, tape: Tape) -> str:
        """Return the height over the floor, or over the mark with its sign where that is all that is known."""
        return tape.signed(self.over_mark) if self.over_floor is None else floor_words(self.over_floor, tape)

    def bearing_words(self) -> str:
        """Return the bearing, or a dash at the mark."""
        return "–" if self.bearing is None else bearing_words(self.bearing)

    def where_words(self, tape: Tape) -> str:
        """Return distance and bearing; near the mark the offsets from it, which are easier to set."""
        if self.bearing is None or self.distance < _BESIDE:
            return f"on {tape.point(MARK)}" if self.bearing is None else tape.point((self.at[0], 0.0, self.at[2]))
        return f"{tape.length(self.distance)} · {self.bearing_words()}"

    def where_prose(self, tape: Tape) -> str:
        """Return distance, bearing and height in a sentence's words."""
        if self.bearing is None:
            where = "on the mark"
        elif self.distance < _BESIDE:
            where = f"{self.where_words(tape)} of the mark"
        else:
            where = f"{tape.length(self.distance)} from the mark, bearing {self.bearing_words()}"
        if self.over_floor is not None:
            return f"{where}, {floor_words(self.over_floor, tape)} over the floor"
        if abs(self.over_mark) < _HERE:
            return f"{where}, level with it" if self.bearing is not None else where
        side = "over" if self.over_mark > 0.0 else "under"
        return f"{where}, {tape.length(abs(self.over_mark))} {side} {'it' if self.bearing is not None else 'that'}"

    def aim_words(self, tape: Tape) -> str:
        """Return what it is aimed at."""
        if self.aim is None:
            return "–"
        return self.toward if self.toward else tape.point(self.aim)

    def facing_words(self) -> str:
        """Return the way its axis points in plan."""
        return "–" if self.facing is None else bearing_words(self.facing)

    def as_json(self) -> dict[str, Any]:
        """Return it with units in its keys."""
        return {
            "distance_mm": _mm(self.distance),
            "bearing_deg": None if self.bearing is None else round(self.bearing, 3),
            "right_mm": _mm(self.at[0]),
            "front_mm": _mm(self.at[2]),
            "height_over_mark_mm": _mm(self.over_mark),
            "height_over_floor_mm": None if self.over_floor is None else _mm(self.over_floor),
            "aim_right_mm": None if self.aim is None else _mm(self.aim[0]),
            "aim_over_mark_mm": None if self.aim is None else _mm(self.aim[1]),
            "aim_front_mm": None if self.aim is None else _mm(self.aim[2]),
            "facing_deg": None if self.facing is None else round(self.facing, 3),
            "tilt_deg": None if self.tilt is None else round(self.tilt, 3),
        }


def place_of(piece: Piece, camera: Vec3, mark_height: float | None) -> Place:
    """Return where a piece stands; `camera` is the lens's place, `mark_height` the mark's height over the floor, m."""
    x, y, z = piece.at
    distance = math.hypot(x, z)
    facing = tilt = None
    if piece.aim is not None:
        right, up, front = (b - a for a, b in zip(piece.at, piece.aim, strict=True))
        tilt = math.degrees(math.atan2(up, math.hypot(right, front)))
        facing = math.degrees(math.atan2(right, front)) if math.hypot(right, front) > _HERE else None
    return Place(
        at=piece.at,
        distance=distance,
        bearing=None if distance < _HERE else math.degrees(math.atan2(x, z)),
        over_mark=y,
        over_floor=None if mark_height is None else mark_height + y,
        aim=piece.aim,
        toward=_named(piece, camera),
        facing=facing,
        tilt=tilt,
    )


def _named(piece: Piece, camera: Vec3) -> str:
    """Return what a piece is aimed at, where that has a name."""
    if piece.aim is None or piece.kind == "support":
        return ""
    if math.hypot(*piece.aim) < _HERE:
        return "the mark"
    if math.dist(piece.aim, camera) < _HERE:
        return "the lens"
    beside = math.hypot(piece.aim[0] - piece.at[0], piece.aim[1] - piece.at[1])
    return "straight front" if beside < _HERE and piece.aim[2] > piece.at[2] else ""


def floor_words(height: float, tape: Tape) -> str:
    """Return a height over the floor; what lies under it keeps its sign."""
    return tape.length(height) if height >= 0.0 else tape.signed(height)


def _mm(length: float) -> float:
    return round(1e3 * length, 3)
