"""What stands under the views: the scale bar, and what each kind of drawing means."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from throughlight.sheets.plan import Plan
from throughlight.sheets.plan_light import SHARP
from throughlight.sheets.plan_pieces import Flat, Piece
from throughlight.sheets.plan_symbols import CHAIN, DASHED, FINE, THIN, Area, Line, flat_marks
from throughlight.sheets.plan_text import width_of
from throughlight.sheets.plan_tones import Tone
from throughlight.sheets.plan_views import ABOVE, Panel
from throughlight.sheets.plan_words import FOOT, Tape
from throughlight.sheets.plots import ACCENT, FAINT, INK, PAPER, QUIET

SIZE = 5.8  # points
LEFT = 76.0  # mm, where the legend begins beside the scale bar
_SWATCH = 8.0  # mm
_ROW, _BETWEEN = 3.9, 5.0
_LONGEST_BAR = 62.0
_METRES = [m * 10.0**d for d in range(-3, 4) for m in (1.0, 2.0, 5.0)]
_FEET = [1 / 24, 1 / 12, 1 / 6, 1 / 4, 1 / 2, 1, 2, 4, 5, 10, 20, 40, 50, 100, 200, 500, 1000, 2000, 3000]


class Bar(NamedTuple):
    """A scale bar: its length on the set, m, and on paper, mm; in so many parts; what stands at its ends."""

    length: float
    paper: float
    parts: int
    words: str


class Entry(NamedTuple):
    """One line of the legend: what is drawn, at its place on paper, and the words beside it with theirs."""

    marks: tuple[Line | Area, ...]
    words: str
    at: tuple[float, float]


def bar_of(scale: int, tape: Tape) -> Bar:
    """Return the longest scale bar of a round length that has room."""
    lengths = [one * FOOT for one in _FEET] if tape.feet else _METRES
    length = max((one for one in lengths if 1000.0 * one / scale <= _LONGEST_BAR), default=lengths[0])
    words = f"{length:g} m" if not tape.feet and length >= 1.0 else tape.length(length)
    return Bar(length, 1000.0 * length / scale, 4 if tape.feet else 5, words)


def legend(plan: Plan, left: float, top: float, width: float) -> list[Entry]:
    """Return the entries that fit this set, in rows of `width` mm from a corner."""
    entries: list[Entry] = []
    x, y = left, top
    for kind, words in _kinds(plan):
        room = _SWATCH + 1.5 + width_of(words, SIZE)
        if x > left and x + room > left + width:
            x, y = left, y - _ROW
        middle = y - 0.5 * _ROW
        marks = tuple(_swatch(kind, x, middle))
        entries.append(Entry(marks, words, (x + _SWATCH + 1.5, middle)))
        x += room + _BETWEEN
    return entries


def _kinds(plan: Plan) -> Iterator[tuple[str, str]]:
    kinds = {piece.kind for piece in plan.pieces}
    tones = _tones(plan.pieces)
    yield "edges", "edges of the picture"
    yield "focus", "plane of focus"
    yield "sharp", "sharp range"
    if "head" in kinds:
        yield "beam", "edges of a head's beam, at half its axial intensity"
    if Tone.BLACK in tones:
        yield "black", "black side, edge on and seen flat"
    if Tone.WHITE in tones:
        yield "white", "white side, likewise"
    if Tone.GREY in tones:
        yield "grey", "grey side, likewise"
    if Tone.MIRROR in tones:
        yield "mirror", "mirror side, likewise"
    if "sheet" in kinds:
        yield "sheet", "sheet that passes light"
    if "window" in kinds:
        yield "window", "window"
    if "backdrop" in kinds:
        yield "backdrop", "backdrop, ruled at its back"
    yield "symbol", "camera body and what is behind a head's face: symbols"


def _tones(pieces: tuple[Piece, ...]) -> set[Tone | None]:
    return {
        tone for piece in pieces if piece.kind in ("card", "flag") for flat in piece.flats
        for tone in (flat.front, flat.back)
    }  # fmt: skip


def _swatch(kind: str, x: float, y: float) -> Iterator[Line | Area]:
    level = np.array([[x, y], [x + _SWATCH, y]])
    box = np.array([[x, y - 1.2], [x + _SWATCH, y - 1.2], [x + _SWATCH, y + 1.2], [x, y + 1.2]])
    if kind == "edges":
        yield Line(level, THIN, ACCENT)
    elif kind == "focus":
        yield Line(level, FINE, ACCENT, CHAIN)
    elif kind == "sharp":
        yield Area(box, fill=FAINT, edge=None, opacity=SHARP)
    elif kind == "beam":
        yield Line(level, FINE, QUIET, DASHED)
    elif kind == "symbol":
        yield Area(box, fill=PAPER, edge=INK, width=FINE)
    elif kind in ("sheet", "window", "backdrop"):
        yield from flat_marks(_upright(None, None), _panel(x, y, _SWATCH), kind)
    else:
        tone = Tone(kind)
        half = 0.44 * _SWATCH
        yield from flat_marks(_upright(tone, tone), _panel(x, y, half), "card")
        yield from flat_marks(_lying(tone), _panel(x + _SWATCH - half, y, half), "card")


def _panel(x: float, y: float, width: float) -> Panel:
    """Return a view at the scale of 1 : 1000 round a swatch, so that a metre is a millimetre."""
    return Panel(ABOVE, x, y - 1.2, width, 2.4, 1000.0, (0.5 * width, 0.0))


def _upright(front: Tone | None, back: Tone | None) -> Flat:
    """Return a card that stands edge on, as wide as a swatch or half of one."""
    width = _SWATCH if front is None else 0.44 * _SWATCH
    return Flat(
        np.array([[0.0, -1, 0], [width, -1, 0], [width, 1, 0], [0.0, 1, 0]]), np.array([0.0, 0, 1]), front, back
    )


def _lying(tone: Tone) -> Flat:
    """Return a card that is seen flat."""
    width = 0.44 * _SWATCH
    corners = np.array([[0.0, 0, -1.2], [width, 0, -1.2], [width, 0, 1.2], [0.0, 0, 1.2]])
    return Flat(corners, np.array([0.0, 1, 0]), tone, tone)
