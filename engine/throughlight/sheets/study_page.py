"""The report page of a study: one self-contained file in the house style, also while the study still runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from markupsafe import Markup

from throughlight.darkroom import denoiser
from throughlight.darkroom.files import write_text
from throughlight.darkroom.names import seen, short
from throughlight.sheets import house
from throughlight.sheets.ground_plot import ground_panels, legend, upright_words
from throughlight.sheets.study_made import local_time, made_lines, made_notes
from throughlight.sheets.study_plots import Panel, effect_panels, trade_panels
from throughlight.sheets.study_ranking import FIRST, ranking
from throughlight.sheets.study_table import shown_readings
from throughlight.study.effects import Effects, main_effects
from throughlight.study.explain import explain
from throughlight.study.export import results_csv
from throughlight.study.ground import loss_ground
from throughlight.study.pareto import Front, pareto_front
from throughlight.study.results import Reading, Results, Row, reading_of
from throughlight.study.said import UNCHANGED, amounts, counted, minus, numbers, verdict

_MOST_ON_FRONT = 12
_EXPLAINED = 3
_SHORT, _LONG = 20, 80  # characters

Changes = list[tuple[str, str]]


class SmallPicture(NamedTuple):
    """A candidate's picture for a page: PNG or JPEG as it is in its file, with its size in pixels."""

    content: bytes
    kind: str
    width: int
    height: int


def write_study_page(
    results: Results, path: Path, pictures: Mapping[int, SmallPicture] | None = None, *, denoised: bool = False
) -> None:
    """Write the report page, atomically.

    Parameters
    ----------
    results
        The study as it stands.
    path
        Where to.
    pictures
        Candidate's number → its picture, for those that have one.
    denoised
        Whether the pictures are.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    shown: Mapping[int, SmallPicture] = {} if pictures is None else pictures
    write_text(path, study_page(results, shown, denoised=denoised))


def study_page(results: Results, pictures: Mapping[int, SmallPicture], *, denoised: bool = False) -> str:
    """Return the report page as HTML; arguments as for `write_study_page`."""
    front = pareto_front(results)
    told: dict[str, Any] = {
        **_standing(results),
        **ranking(results),
        **_trades(results, front),
        **_ground(results),
        **_effects(results),
        "best": _best(results, pictures),
        "pictures": _pictures(results, pictures),
        "pictures_note": f"{denoiser.MARK[:1].upper()}{denoiser.MARK[1:]}." if denoised else "",
        "why": [
            {
                "heading": f"{place}. No. {row.number}",
                "lines": [_unbroken(line) for line in explain(results, row.number)],
            }
            for place, row in enumerate(results.ranked[:_EXPLAINED], 1)
        ],
        "failures": _failures(results),
        "made": made_lines(results),
        "made_notes": made_notes(results),
        "file_name": "ranking",
        "csv_uri": house.data_uri(results_csv(results).encode("utf-8", errors="replace"), "text/csv;charset=utf-8"),
        "version": results.made.engine_version,
        "first": FIRST,
    }
    return house.page("study.html", **told)


def _unbroken(line: str) -> str:
    """Return a line whose per cent signs stay with their numbers."""
    return minus(seen(line)).replace(" %", "\u00a0%")


def _standing(results: Results) -> dict[str, Any]:
    state = "running" if results.made.running else "not finished" if results.waiting else "as it stands"
    return {
        "title": seen(results.title),
        "set_title": seen(results.set_title),
        "state": state,
        "ends": seen(results.made.ends) if results.made.running else "",
        "as_of": local_time(results.made.updated),
        "done": len(results.ranked),
        "total": len(results.rows),
        "settled": len(results.ranked) - len(results.in_doubt),
        "doubt": len(results.in_doubt),
        "doubtful": "in doubt" if results.made.running or results.waiting else "tied",
        "waiting": len(results.waiting),
        "failed": len(results.failed),
    }


def _changes(row: Row, keys: Sequence[str], longest: int = _LONG) -> Changes:
    return [(short(key, longest), _together(short(row.changes.get(key, UNCHANGED), longest))) for key in keys]


def _together(said: str) -> str:
    """Return a value with a true minus; no line breaks a short one between its number and its unit."""
    return minus(said).replace(" ", "\u00a0") if len(said) <= _SHORT else minus(said)


def _best(results: Results, pictures: Mapping[int, SmallPicture]) -> dict[str, Any] | None:
    row = results.best
    if row is None:
        return None
    goals = []
    if len(row.costs) == len(results.goals):
        for goal, cost in zip(results.goals, row.costs, strict=True):
            unit = reading_of(goal.reading).unit
            goals.append({
                "said": minus(seen(goal.said)), "met": cost.value < 0.005, "costs": amounts(cost),
                "reads": amounts(row.figure(goal.reading), unit) + (f" {unit}" if unit in ("lx·s", "J") else ""),
            })  # fmt: skip
    certainty = f"Loss {amounts(row.loss)} stops. "
    ties = [number for number in row.tie_with if number != row.number]
    if row.settled:
        certainty += "That it is the best is settled at 95 %."
    elif ties:
        certainty += f"At 95 % it can’t be told from {numbers(ties)}: take whichever of them is easiest to build."
    else:
        certainty += "That it is the best is not settled yet."
    return {
        "heading": "The best" if row.settled and not results.waiting else "Best so far",
        "number": row.number,
        "changes": _changes(row, results.keys, longest=400),
        "certainty": certainty,
        "goals": goals,
        "picture": _picture(pictures[row.number]) if row.number in pictures else None,
    }


def _picture(picture: SmallPicture) -> dict[str, Any]:
    return {"uri": house.data_uri(picture.content, picture.kind), "width": picture.width, "height": picture.height}


def _pictures(results: Results, pictures: Mapping[int, SmallPicture]) -> list[dict[str, Any]]:
    shown = [(place, row) for place, row in enumerate(results.ranked, 1) if row.number in pictures]
    keys = keys_that_differ([row for _, row in shown], results.keys)
    return [
        {
            **_picture(pictures[row.number]), "place": place, "number": row.number, "loss": amounts(row.loss),
            "changes": _changes(row, keys), "verdict": verdict(row),
        }
        for place, row in shown
    ]  # fmt: skip


def keys_that_differ(rows: Sequence[Row], keys: Sequence[str]) -> tuple[str, ...]:
    """Return the keys that have more than one value among some candidates."""
    return tuple(key for key in keys if len({row.changes.get(key) for row in rows}) > 1)


def _trades(results: Results, front: Front) -> dict[str, Any]:
    best = results.best
    panels = trade_panels(front, None if best is None else best.number)
    sure = [row for row, kept in zip(front.rows, front.by_value, strict=True) if kept]
    kept = int(front.left.sum())
    upright = next((one for one in front.objectives if one.name == "backdrop"), None)
    return {
        "trades": [_safe(panel) for panel in panels],
        "trade_words": (
            f"What counts is {_listed([one.label for one in front.objectives])}, less of each being better. Of "
            f"{counted(len(front.rows), 'candidate')} {kept} are not beaten in all of it at once by another one at "
            f"95 %; as the figures stand, {len(sure)}."
        ),
        "trade_upright": "" if upright is None else f"{upright.label}, {upright.unit}",
        "front_heads": [_head(reading_of(one.name)) for one in front.objectives],
        "front": [
            {
                "number": row.number, "changes": _changes(row, results.keys),
                "cells": [amounts(row.figure(one.name), reading_of(one.name).unit) for one in front.objectives],
            }
            for row in sure[:_MOST_ON_FRONT]
        ],
        "front_more": max(0, len(sure) - _MOST_ON_FRONT),
    }  # fmt: skip


def _head(reading: Reading) -> str:
    name = short(reading.short, 32)
    return name if reading.unit.startswith("stops") else f"{name}, {reading.unit}"


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def _safe(panel: Panel) -> dict[str, Any]:
    """Return a panel whose drawing goes into the page as it is: it was escaped when it was made."""
    return {"heading": short(panel.heading, _LONG), "line": panel.line, "svg": Markup(panel.svg)}


def _ground(results: Results) -> dict[str, Any]:
    ground = loss_ground(results)
    if ground is None:
        return {"ground": [], "ground_upright": "", "ground_legend": []}
    best = results.best
    return {
        "ground": [_safe(panel) for panel in ground_panels(ground, None if best is None else best.number)],
        "ground_upright": upright_words(ground),
        "ground_legend": legend(ground),
    }


def _effects(results: Results) -> dict[str, Any]:
    names = ["loss", *(name for name in shown_readings(results) if name != "energy")]
    fits = [fit for name in names if (fit := main_effects(results, name)) is not None and fit.keys]
    keys = [key for key in results.keys if any(effect.key == key for fit in fits for effect in fit.keys)]
    return {
        "effect_keys": [short(key, 32) for key in keys],
        "effects": [
            {
                "label": short(fit.label, 48), "heading": _effects_heading(fit), "note": _effects_note(fit),
                "shares": _shares(fit, keys),
                "panels": [_safe(panel) for panel in effect_panels(fit, results.keys, f"e{at}")],
            }
            for at, fit in enumerate(fits)
        ],
    }  # fmt: skip


def _effects_heading(fit: Effects) -> str:
    label = short(fit.label, _LONG)
    name = f"{label[:1].upper()}{label[1:]}"
    return f"{name}: less is better" if fit.reading == "loss" else name


def _effects_note(fit: Effects) -> str:
    if not fit.untold:
        return ""
    return f"Not to be told apart with these candidates: {', '.join(seen(key) for key in fit.untold)}."


def _shares(fit: Effects, keys: Sequence[str]) -> list[dict[str, Any]]:
    by_key = {effect.key: effect.share for effect in fit.keys}
    parts = [*(by_key.get(key) for key in keys), max(0.0, 1.0 - fit.explained)]
    return [
        {
            "said": "–" if part is None else f"{100.0 * part:.0f} %",
            "part": 0.0 if part is None else round(100 * part, 1),
        }
        for part in parts
    ]


def _failures(results: Results) -> list[dict[str, Any]]:
    reasons = dict.fromkeys(row.reason for row in results.failed)
    found = [(reason, [row.number for row in results.failed if row.reason == reason]) for reason in reasons]
    return [
        {"reason": seen(reason), "count": len(which), "which": numbers(which)}
        for reason, which in sorted(found, key=lambda pair: -len(pair[1]))
    ]
