"""Readings that no matter can give, each said with its place: what is read of a piece must hold together."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from throughlight.setup.words import Path as KeyPath

if TYPE_CHECKING:
    from throughlight.setup.pieces import Piece

USUAL_ERROR = 0.1
"""How far a difference of two meter readings may be off, stops, 95 %: common practice, no source."""
_THICKEST = 0.5  # m
_WHOLE_RANGE = math.sqrt(3.0)  # from the middle of an even range to its end, in standard deviations


def impossible(piece: Piece) -> Iterator[tuple[KeyPath, str]]:
    """Say which readings no matter can give, each with the place of the second of two that disagree."""
    yield from _too_thick(piece)
    error = USUAL_ERROR if piece.error is None else piece.error
    least_index = max(1.0, piece.index - _WHOLE_RANGE * piece.unsure[1])
    plate = -math.log2(2.0 * least_index / (least_index**2 + 1.0))
    for i, one in enumerate(piece.readings):
        least = min(one.stops)
        if least < plate - error:
            words = f"found {least:.2g} stop less, but the two faces of a clear plate of index {least_index:.3g} alone"
            yield ("reading", i), f"{words} take {plate:.2f} stop; a larger loss, or a smaller n, would fit"
        for j, other in enumerate(piece.readings):
            gained = max(a - b for a, b in zip(other.stops, one.stops, strict=True))
            if other.seen == one.seen and other.thickness < one.thickness and gained > 2.0 * error:
                words = f"{_mm(one.thickness)} passes {gained:.2g} stop more light than {_mm(other.thickness)}"
                yield ("reading", i), f"{words} (reading {j + 1}); of one even material the thicker piece passes less"
    for i, card in enumerate(piece.cards):
        for one in piece.readings:
            if abs(one.thickness - card.thickness) <= 0.01 * card.thickness:
                shares = zip(one.stops, card.over, strict=True)
                whole = max(2.0**-less + card.grey * 2.0**over for less, over in shares)
                if whole > 1.0 + 0.7 * 2.0 * error:
                    words = f"the piece would pass and give back {whole:.0%} of the light together"
                    yield ("card", i), f"{words}; a card reading before black, and of the same piece, would fit"


def _too_thick(piece: Piece) -> Iterator[tuple[KeyPath, str]]:
    every = {
        "reading": [one.thickness for one in piece.readings],
        "card": [one.thickness for one in piece.cards],
        "photo": [one.thickness for one in piece.photos],
    }
    for table, thicknesses in every.items():
        for i, thickness in enumerate(thicknesses):
            if thickness > _THICKEST:
                words = f"found a piece {thickness:.3g} m thick; at most {100.0 * _THICKEST:.0f} cm would fit"
                yield (table, i, "thickness"), words


def _mm(length: float) -> str:
    return f"{1e3 * length:.3g} mm"
