"""The results of a study for other programs: JSON with a named schema, and one flat table; units in the keys."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from typing import Any

from throughlight.study.effects import Effects, main_effects
from throughlight.study.pareto import pareto_front
from throughlight.study.results import Figure, Goal, Reading, Results, Row, reading_of
from throughlight.study.said import numbers_said

SCHEMA = "throughlight/study/1"
"""Name and version of the JSON."""

_SUFFIX = {"stops over mid-grey": "stops", "stops": "stops", "lx·s": "lx_s", "J": "joules", "share": "fraction"}
_FORMULAS = ("=", "+", "-", "@")


def results_json(results: Results) -> dict[str, Any]:
    """Return everything that is known of a study as plain JSON data, units in the keys; an open end is null."""
    front = pareto_front(results)
    effects = [made for name in ("loss", *results.readings) if (made := main_effects(results, name)) is not None]
    return {
        "schema": SCHEMA,
        "engine_version": results.made.engine_version,
        "title": results.title,
        "set_title": results.set_title,
        "goals": [_goal_json(goal) for goal in results.goals],
        "made": _made_json(results),
        "candidates": [_row_json(results, row) for row in results.rows],
        "pareto_front": {
            "counts": [objective.name for objective in front.objectives],
            "not_beaten_at_95_percent": [row.number for row, left in zip(front.rows, front.left, strict=True) if left],
            "not_beaten_as_figures_stand": [
                row.number for row, left in zip(front.rows, front.by_value, strict=True) if left
            ],
        },
        "main_effects": [_effects_json(made) for made in effects],
    }


def _goal_json(goal: Goal) -> dict[str, Any]:
    suffix = _SUFFIX[reading_of(goal.reading).unit]
    return {
        "reading": goal.reading,
        "kind": goal.kind,
        f"value_{suffix}": goal.value,
        f"slack_{suffix}": goal.slack,
        "weight": goal.weight,
        "said": goal.said,
    }


def _made_json(results: Results) -> dict[str, Any]:
    made = results.made
    return {
        "seed": made.seed,
        "replicates": made.replicates,
        "paths": made.paths,
        "tracing_seconds": round(made.tracing_seconds, 3),
        "engine_hash": made.engine_hash,
        "set_hash": made.set_hash,
        "study_hash": made.study_hash,
        "running": made.running,
        "first_row_at": made.started,
        "last_row_at": made.updated,
        "places_settled_by": made.settling,
        "candidates_read": len(results.ranked),
        "candidates_in_doubt": len(results.in_doubt),
        "candidates_failed": len(results.failed),
        "candidates_waiting": len(results.waiting),
    }


def _row_json(results: Results, row: Row) -> dict[str, Any]:
    told: dict[str, Any] = {
        "number": row.number,
        "status": row.status,
        "rank": row.rank,
        "settled": row.settled,
        "tied_with": list(row.tie_with),
        "changes": dict(row.changes),
        "values_si": {key: value if value is None else _finite(value) for key, value in row.values.items()},
        "paths": row.paths,
    }
    if row.status == "failed":
        told["reason"] = row.reason
    if row.loss is not None:
        told["loss"] = _figure_json(row.loss, "stops")
        told["loss_by_goal"] = [_figure_json(cost, "stops") for cost in row.costs]
    for name in results.readings:
        figure = row.figure(name)
        reading = reading_of(name)
        if figure is not None:
            told[_key(reading)] = _figure_json(figure, _SUFFIX[reading.unit])
    return told


def _key(reading: Reading) -> str:
    """Return what a reading is called in a file: what its stops are counted from belongs to it."""
    return f"{reading.name}_over_mid_grey" if reading.unit == "stops over mid-grey" else reading.name


def _figure_json(figure: Figure, suffix: str) -> dict[str, float | None]:
    return {
        suffix: _finite(figure.value),
        f"low_{suffix}": _finite(figure.low),
        f"high_{suffix}": _finite(figure.high),
    }


def _finite(value: float) -> float | None:
    return float(f"{value:.7g}") if math.isfinite(value) else None


def _effects_json(effects: Effects) -> dict[str, Any]:
    suffix = "fraction" if effects.unit == "share" else "stops"
    return {
        "reading": effects.reading,
        "candidates": effects.candidates,
        "explained_fraction": _finite(effects.explained),
        f"left_over_{suffix}": _finite(effects.left_over),
        "degrees_of_freedom": effects.freedom,
        "keys_not_told_apart": list(effects.untold),
        "keys": [
            {
                "key": effect.key,
                f"span_{suffix}": _finite(effect.span),
                "share_fraction": _finite(effect.share),
                "levels": [
                    {"said": level.said, "candidates": level.candidates, "effect": _figure_json(level.effect, suffix)}
                    for level in effect.levels
                ],
            }
            for effect in effects.keys
        ],
    }


def results_csv(results: Results) -> str:
    """Return one line for each candidate, best first, then those without figures; numbers plain, units in the head.

    A text that a spreadsheet would take for a formula begins with an apostrophe.
    """
    front = pareto_front(results)
    left = {row.number for row, kept in zip(front.rows, front.left, strict=True) if kept}
    heads, columns = _key_columns(results)
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    names = [name for reading in results.readings for name in _heads(reading_of(reading))]
    fixed = ["rank", "number", "status", "settled", "tied_with", "on_pareto_front"]
    table.writerow([*fixed, *map(_plain, heads), "loss_stops", "loss_low_stops", "loss_high_stops", *names, "reason"])
    for row in (*results.ranked, *results.failed, *results.waiting):
        ties = " ".join(map(str, row.tie_with))
        cells = [row.rank, row.number, row.status, _yes(row.settled), ties, _yes(row.number in left)]
        figures = [cell for name in ("loss", *results.readings) for cell in _cells(row.figure(name))]
        changes = [_plain(cell) for cell in columns[row.number]]
        table.writerow([*cells, *changes, *figures, _plain(row.reason)])
    return text.getvalue()


def _key_columns(results: Results) -> tuple[list[str], dict[int, list[str]]]:
    """Return a head for each key, with its unit where all its values have one, and the cells by candidate."""
    heads: list[str] = []
    cells: dict[int, list[str]] = {row.number: [] for row in results.rows}
    for key in results.keys:
        axis = numbers_said(results.rows, key)
        heads.append(key if axis is None or not axis.unit else f"{key} ({axis.unit})")
        for at, row in enumerate(results.rows):
            cells[row.number].append(row.changes.get(key, "") if axis is None else f"{axis.numbers[at]:g}")
    return heads, cells


def _heads(reading: Reading) -> Iterator[str]:
    suffix = _SUFFIX[reading.unit]
    for end in ("", "low_", "high_"):
        yield _plain(f"{_key(reading)}_{end}{suffix}")


def _cells(figure: Figure | None) -> list[str]:
    return ["", "", ""] if figure is None else ["" if not math.isfinite(end) else f"{end:.6g}" for end in figure]


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def _plain(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; a number stays a number."""
    if not text.startswith(_FORMULAS):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text
