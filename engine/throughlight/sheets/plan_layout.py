"""How plan and side elevation share a sheet, and the largest scale at which all of the set is on it.

The views stand side by side, or one over the other where that takes a larger scale. Beside them there is room for a
detail of the subject, many times larger, where the sharp range can be seen; under them for scale bar and legend.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from throughlight.sheets.plan_pieces import Piece
from throughlight.sheets.plan_views import ABOVE, FEET_SCALES, METRIC_SCALES, SIDE, Extent, Panel, extent, far_pieces

HEADING, STRIP = 7.0, 19.0  # mm: over each view, and under all of them
_GAP, _ASIDE, _OVER = 5.0, 16.0, 4.0  # mm: between views, and room for labels beside and over a set
_DETAIL = (70.0, 48.0)  # mm, the least room of a detail with its heading
_BELOW = 2.5  # mm between a view and the heading under it
_DETAIL_GAIN = 2.0


class Layout(NamedTuple):
    """The views on a sheet of `width` × `height` mm.

    `detail` is None where it would show no more; `far` are the numbers of pieces beyond the sheet.
    """

    width: float
    height: float
    scale: int
    plan: Panel
    side: Panel
    detail: Panel | None
    far: frozenset[int]

    @property
    def panels(self) -> tuple[Panel, ...]:
        """Return all panels: plan, side, detail."""
        return (self.plan, self.side) if self.detail is None else (self.plan, self.side, self.detail)


class _Room(NamedTuple):
    """A box for a view or a detail, mm."""

    left: float
    bottom: float
    width: float
    height: float

    def panel(self, view: Extent, of_side: bool, scale: float) -> Panel:
        """Return the panel in it, under a heading."""
        name = SIDE if of_side else ABOVE
        return Panel(name, self.left, self.bottom, self.width, self.height - HEADING, scale, view.middle)


def layout_of(pieces: Sequence[Piece], width: float, height: float, *, feet: bool) -> Layout:
    """Return the layout with the largest scale that holds the set.

    Parameters
    ----------
    pieces
        All that stands on the set.
    width, height
        Of the sheet, mm.
    feet
        Whether scales are those of feet and inches.
    """
    far = far_pieces(pieces)
    near = [piece for piece in pieces if piece.number not in far]
    plan, side = extent(ABOVE, near), extent(SIDE, near)
    scales = FEET_SCALES if feet else METRIC_SCALES
    for scale in scales:
        rooms = _rooms(plan, side, scale, width, height)
        if rooms is not None:
            break
    else:
        raise ValueError("no scale holds the set")  # a set reaches no farther than the last scale does
    above, beside, rest = rooms
    return Layout(
        width, height, scale, above.panel(plan, False, scale), beside.panel(side, True, scale),
        None if rest is None else _detail(near, rest, scale, scales), far,
    )  # fmt: skip


def _rooms(
    plan: Extent, side: Extent, scale: int, width: float, height: float
) -> tuple[_Room, _Room, _Room | None] | None:
    """Return the rooms of plan, side and detail, or None where the set has no room at this scale."""
    (pw, ph), (sw, sh) = (1000.0 / scale * one.size + [2.0 * _ASIDE, 2.0 * _OVER + HEADING] for one in (plan, side))
    free = height - STRIP
    if pw + _GAP + sw <= width and max(ph, sh) <= free:
        spare = width - pw - sw - _GAP
        left = pw + 0.5 * spare
        right = width - left - _GAP
        with_detail = sh + _DETAIL[1] <= free and right >= _DETAIL[0]
        # A low set leaves the detail no more than it needs.
        high = max(sh, 0.56 * free) if with_detail and max(sh, 0.56 * free) + _DETAIL[1] <= free else sh
        high = high if with_detail else free
        rest = _Room(left + _GAP, STRIP, right, free - high - _BELOW) if with_detail else None
        return _Room(0.0, STRIP, left, free), _Room(left + _GAP, STRIP + free - high, right, high), rest
    if ph + sh + _BELOW <= free and max(pw, sw) <= width:
        spare = free - ph - sh - _BELOW
        low = sh + _BELOW + 0.5 * spare
        with_detail = sw + _GAP + _DETAIL[0] <= width and low >= _DETAIL[1]
        wide = width - _GAP - _DETAIL[0] if with_detail else width
        rest = _Room(wide + _GAP, STRIP, _DETAIL[0], low - _BELOW) if with_detail else None
        return _Room(0.0, STRIP + low, width, free - low), _Room(0.0, STRIP, wide, low - _BELOW), rest
    return None


def _detail(near: Sequence[Piece], room: _Room, scale: int, scales: Sequence[int]) -> Panel | None:
    """Return the panel of the subject's detail, if it shows the subject at least twice as large."""
    subjects = [piece for piece in near if piece.kind == "subject"]
    if not subjects:
        return None
    seen = extent(ABOVE, subjects)
    wide, high = seen.size
    for larger in (one for one in scales if one * _DETAIL_GAIN <= scale):
        if 1000.0 * wide / larger <= room.width - 24.0 and 1000.0 * high / larger <= room.height - HEADING - 8.0:
            return room.panel(seen, False, larger)
    return None
