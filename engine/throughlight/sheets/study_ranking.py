"""The ranked table of a study's page: its heads, its cells, and the bars that show the intervals."""

from __future__ import annotations

import math
from typing import Any

from throughlight.darkroom.names import seen, short
from throughlight.sheets.study_table import shown_readings
from throughlight.study.results import Figure, Results, Row, reading_of
from throughlight.study.said import UNCHANGED, amounts, minus, numbers_said, verdict

FIRST = 20
"""How many candidates are shown at first."""
_LONGEST = 32  # characters of a name in the table


def ranking(results: Results) -> dict[str, Any]:
    """Return what the page's table is made of: `heads`, `rows`, and `bar_full`, the stops of a whole bar."""
    full = _bar_full(results)
    return {
        "heads": _heads(results),
        "rows": [{"cells": _cells(results, row, place, full)} for place, row in enumerate(results.ranked, 1)],
        "bar_full": f"{full:g} {'stop' if full == 1.0 else 'stops'}",
    }


def _heads(results: Results) -> list[dict[str, Any]]:
    heads = [_head("rank", "count"), _head("No.", "count")]
    heads += [_head(*_key_head(results, key)) for key in results.keys]
    heads.append({**_head("loss, stops", "figure"), "spans": True})
    heads += [_head(", ".join(part for part in _short(name) if part), "") for name in shown_readings(results)]
    return [*heads, _head("place", "")]


def _key_head(results: Results, key: str) -> tuple[str, str]:
    """Return a key's head, with the unit where all its values have one, and what kind of cells stand under it."""
    axis = numbers_said(results.rows, key)
    if axis is None:
        return short(key, _LONGEST), "key"
    name = short(key, _LONGEST)
    return f"{name}, {seen(axis.unit)}" if axis.unit else name, "key count"


def _head(said: str, kind: str) -> dict[str, Any]:
    return {"said": said, "kind": kind, "spans": False}


def _short(name: str) -> tuple[str, str]:
    """Return a reading's short name and its unit, which stops and shares go without."""
    reading = reading_of(name)
    return short(reading.short, _LONGEST), reading.unit if reading.unit in ("lx·s", "J") else ""


def _cells(results: Results, row: Row, place: int, full: float) -> list[dict[str, Any]]:
    cells = [_cell("rank", str(place), "count", place), _cell("No.", str(row.number), "count", row.number)]
    for key in results.keys:
        value = row.values.get(key)
        said, axis = minus(short(row.changes.get(key, UNCHANGED), _LONGEST)), numbers_said(results.rows, key)
        if axis is not None and axis.unit:
            bare = said.removesuffix(seen(axis.unit)).rstrip()
            cells.append(
                {**_cell(short(key, _LONGEST), bare, "key count", said if value is None else value), "unit": axis.unit}
            )
        else:
            cells.append(_cell(short(key, _LONGEST), said, "key", said if value is None else value))
    cells.append(_cell("loss, stops", amounts(row.loss), "figure loss", _sorted(row.loss)))
    cells.append({**_cell("", "", "barred", ""), "bar": _bar(row.loss, full)})
    for name in shown_readings(results):
        figure = row.figure(name)
        head, unit = _short(name)
        cell = _cell(head, amounts(figure, reading_of(name).unit), "figure", _sorted(figure))
        cells.append({**cell, "unit": unit})
    kind = "place settled" if row.settled else "place tie"
    cells.append(_cell("place", verdict(row), kind, 0 if row.settled else 1 + len(row.tie_with)))
    return cells


def _cell(head: str, said: str, kind: str, sort: float | str) -> dict[str, Any]:
    return {"head": head, "said": said, "kind": kind, "sort": sort, "bar": None, "unit": ""}


def _sorted(figure: Figure | None) -> float | str:
    """Return what a figure is sorted by: its value, or its upper end where it has none."""
    if figure is None:
        return ""
    value = figure.value if math.isfinite(figure.value) else figure.high
    return "" if not math.isfinite(value) else value


def _bar_full(results: Results) -> float:
    """Return a round number of stops that holds the intervals of the candidates shown first."""
    ends = [row.loss.high for row in results.ranked[:FIRST] if row.loss is not None and math.isfinite(row.loss.high)]
    most = max(ends, default=0.0)
    if most <= 0.0:
        return 1.0
    step = 10.0 ** math.floor(math.log10(most))
    return next(m * step for m in (1.0, 2.0, 5.0, 10.0) if m * step >= most)


def _bar(figure: Figure | None, full: float) -> tuple[str, str, str] | None:
    """Return where an interval begins, its figure, and where it ends, in per cent of the bar."""
    if figure is None:
        return None
    ends = (figure.low, figure.value, figure.high)
    low, value, high = (f"{100.0 * min(1.0, max(0.0, end / full)):.1f}" for end in ends)
    return low, value, high
