"""Candidates and their figures in words: short, with the interval, no more digits than are meant."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from throughlight.readings.figures import significant
from throughlight.sheets.numbers import signed, stops
from throughlight.study.results import Figure, Results, Row

UNCHANGED = "as in the set"
"""What is said of a key that a candidate leaves alone."""
_NUMBER = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?)\s*(.*)")

_HYPHEN = re.compile(r"(?<![\w.])-(?=\d)")


class Axis(NamedTuple):
    """The values of one key as numbers, with the unit that all were said in; "" for plain numbers."""

    unit: str
    numbers: tuple[float, ...]


def numbers_said(rows: Sequence[Row], key: str) -> Axis | None:
    """Return the numbers that a key takes, one for each row, or None where one is no number or has another unit."""
    pairs = []
    for row in rows:
        match = _NUMBER.fullmatch(row.changes.get(key, ""))
        if row.values.get(key) is None or match is None:
            return None
        pairs.append((float(match[1].replace("−", "-")), match[2].strip()))
    units = {unit for _, unit in pairs}
    return Axis(units.pop(), tuple(number for number, _ in pairs)) if len(units) == 1 else None


def minus(text: str) -> str:
    """Return a text whose negative numbers have a true minus."""
    return _HYPHEN.sub("−", text)


def said(row: Row, keys: Sequence[str] | None = None) -> str:
    """Return what a candidate varies, "bearing 135 deg, flag in"; only some keys where given."""
    wanted = row.changes if keys is None else [key for key in keys if key in row.changes]
    return ", ".join(f"{key} {row.changes[key]}" for key in wanted)


def verdict(row: Row) -> str:
    """Return whether a place is settled: "settled", "tied with 12", "tied with 5 others", "in doubt"."""
    if row.settled:
        return "settled"
    ties = [number for number in row.tie_with if number != row.number]
    if not ties:
        return "in doubt"
    return f"tied with {ties[0]}" if len(ties) == 1 else f"tied with {len(ties)} others"


def brief_verdict(row: Row) -> str:
    """Return `verdict` where there is little room: "settled", "tie of 6", "in doubt"."""
    ties = set(row.tie_with) - {row.number}
    return f"tie of {len(ties) + 1}" if ties and not row.settled else verdict(row)


def numbers(which: Sequence[int]) -> str:
    """Return candidates by their numbers: "No. 3", "Nos. 3, 12 and 40", "Nos. 3, 12, 40, 41, 42 and 9 others"."""
    if len(which) == 1:
        return f"No. {which[0]}"
    if len(which) > 6:
        return f"Nos. {', '.join(map(str, which[:5]))} and {len(which) - 5} others"
    return f"Nos. {', '.join(map(str, which[:-1]))} and {which[-1]}"


def counted(count: int, thing: str) -> str:
    """Return a number of things: "1 candidate", "12 candidates"."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def amounts(figure: Figure | None, unit: str = "stops", *, sign: bool = False) -> str:
    """Return a figure with its interval as its unit wants it; only a share has its per cent with it.

    What is exact has no interval.
    """
    if figure is None:
        return "–"
    if unit == "share":
        return _share(figure)
    if unit in ("lx·s", "J"):
        return _amount(figure)
    with_sign = sign or unit == "stops over mid-grey"
    if figure.low == figure.high and math.isfinite(figure.value):
        return signed(figure.value, 2) if with_sign else signed(figure.value, 2).removeprefix("+")
    return stops(figure, sign=with_sign)


def _share(figure: Figure) -> str:
    percent = 100.0 * figure.value
    half = 100.0 * figure.half
    if half == 0.0:
        return f"{percent:.0f} %" if percent in (0.0, 100.0) else f"{percent:.1f} %"
    return f"{percent:.1f} ± {max(half, 0.05):.1f} %"


def _amount(figure: Figure) -> str:
    """Return an amount to as many digits as its interval leaves meaning, "0.0412 ± 0.0008"; no exponents."""
    if figure.low == figure.high or not math.isfinite(figure.half):
        return significant(figure.value, 4 if figure.low == figure.high else 2)
    half = significant(figure.half, 1)
    digits = len(half.partition(".")[2])
    return f"{figure.value:.{digits}f} ± {half}"


def status(results: Results) -> str:
    """Return in a sentence how far the study is: what is done, in doubt, failed and waiting."""
    total, done = len(results.rows), len(results.ranked)
    parts = [f"{done} of {counted(total, 'candidate')} read"]
    if results.failed:
        parts.append(f"{len(results.failed)} failed")
    if results.waiting:
        parts.append(f"{len(results.waiting)} waiting")
    if done:
        doubt = len(results.in_doubt)
        parts.append("all places settled" if doubt == 0 else f"{doubt} in doubt")
    return ", ".join(parts)
