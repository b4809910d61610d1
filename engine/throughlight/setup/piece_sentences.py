"""Readings said in a sentence on the command line, turned into the tables that a file of readings would hold."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from throughlight.setup.kind import found
from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.trade_numbers import plain_number, plain_stops

NAME = "the command line"
"""What mistakes call it."""

_THROUGH = re.compile(r"\s*(.{1,60}?)\s*\bthrough\s+(.{1,30}?)\s*", re.IGNORECASE)
_LOSS = re.compile(r"([+-]?)\s*(.{1,60}?)(?:\s+(less|darker|more|brighter))?(?:\s+light)?", re.IGNORECASE)
_BARE = re.compile(r"\s*(.{1,30}?)\s+bare\s*,\s*(.{1,30}?)(?:\s+with\s+it)?\s*", re.IGNORECASE)
_CARD = re.compile(r"\s*([+-]?)\s*(.{1,60}?)\s+(over|under)\s+the\s+card\s+at\s+(.{1,30}?)\s*", re.IGNORECASE)
_FITS = (
    '"5.3 stops less through 4 mm", "f/22 bare, f/4 through 4 mm", "1.2 stops under the card at 4 mm" '
    "or the name of a file of readings (.toml) would fit"
)


def tables_from(sentences: Sequence[str]) -> dict[str, Any]:
    """Return the tables [[reading]] and [[card]] that sentences stand for, quantities still as text.

    Raises
    ------
    SetupError
        When a sentence is none; lists every one.
    """
    tables: dict[str, Any] = {}
    wrong = []
    for sentence in sentences:
        kind, table = _table(sentence)
        if table is None:
            wrong.append(Mistake(NAME, 0, 0, "", f"found {found(sentence)}; {_FITS}"))
        else:
            tables.setdefault(kind, []).append(table)
    if wrong:
        raise SetupError(wrong)
    return tables


def _table(sentence: str) -> tuple[str, dict[str, Any] | None]:
    if len(sentence) > 200:
        return "", None
    if match := _CARD.fullmatch(plain_number(sentence)):
        over = _signed(match[2], (match[3].lower() == "under") != (match[1] == "-"))
        return "card", {"over": over, "thickness": match[4]}
    if match := _THROUGH.fullmatch(sentence):
        thickness = plain_number(match[2])
        if both := _BARE.fullmatch(match[1]):
            return "reading", {"bare": both[1], "piece": both[2], "thickness": thickness}
        if loss := _LOSS.fullmatch(plain_number(match[1])):
            more = loss[3] is not None and loss[3].lower() in ("more", "brighter")
            return "reading", {"less": _signed(loss[2], more != (loss[1] == "-")), "thickness": thickness}
    return "", None


def _signed(words: str, negative: bool) -> str:
    """Return plain stops, each number of one or three with its sign."""
    sign = "-" if negative else ""
    return " ".join(f"{sign}{word}" if word[:1].isdigit() else word for word in plain_stops(words).split())
