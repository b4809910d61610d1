"""The table that a person reads: a line for each figure, then how costs grow."""

from __future__ import annotations

from collections.abc import Sequence

from benchmarks.found import Found, Row, Series

_HEAD: tuple[str, ...] = ("target", "what", "ours", "peer", "ratio", "goal", "met")
_NUMBERS = {2, 3, 4}


def figure(value: float | None, unit: str = "") -> str:
    """Return a number to three digits with its unit, or a dash."""
    if value is None:
        return "—"
    size = abs(value)
    digits = f"{value:.0f}" if size >= 100 else f"{value:.1f}" if size >= 10 else f"{value:.2f}"
    digits = f"{value:.3g}" if 0 < size < 0.1 else digits
    return f"{digits} {unit}".rstrip()


def goal(row: Row) -> str:
    """Return what is to be reached."""
    if not row.goals:
        return ""
    unit = row.unit if row.judged == "ours" else ""
    return ("≤ " if row.most else "≥ ") + ", then ".join(figure(one, unit) for one in row.goals)


def verdict(row: Row) -> str:
    """Return in words whether the goals are met."""
    met = row.met
    if met is None:
        return "not measured" if row.goals else ""
    if all(met):
        return "met" if len(met) == 1 else "both met"
    return "first met" if met[0] else "not met"


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    placed = [
        cell.rjust(width) if i in _NUMBERS else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return "  ".join(placed).rstrip()


def _cells(row: Row) -> tuple[str, ...]:
    numbers = (figure(row.ours, row.unit), figure(row.peer, row.unit), figure(row.ratio))
    return (row.target, row.what, *numbers, goal(row), verdict(row))


def rows_text(rows: tuple[Row, ...]) -> str:
    """Return the table of targets, notes under their lines."""
    cells = [_HEAD, *(_cells(row) for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(_HEAD))]
    lines = [_line(row, widths) for row in cells]
    told = lines[:1]
    for row, line in zip(rows, lines[1:], strict=True):
        told += [line] + ([f"        {row.note}"] if row.note else [])
    return "\n".join(told)


def series_text(series: tuple[Series, ...]) -> str:
    """Return a line for each series: its points, and the power that it grows by."""
    lines = []
    for one in series:
        points = ", ".join(f"{x:g}: {figure(y)}" for x, y in one.points)
        power = "" if one.exponent is None else f"   ∝ {one.axis}^{one.exponent:.2f}"
        unit = f", {one.unit}" if one.unit else ""
        lines.append(f"{one.what}{unit}, by {one.axis}\n        {points}{power}")
    return "\n".join(lines)


def text(found: Found) -> str:
    """Return everything that was found."""
    parts = [rows_text(found.rows)] if found.rows else []
    if found.series:
        parts.append("How cost grows\n" + series_text(found.series))
    return "\n\n".join(parts)
