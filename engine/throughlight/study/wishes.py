"""The [[wanted]] tables of a study file as goals, checked against the set."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from throughlight.setup import Setup
from throughlight.setup.kind import found
from throughlight.setup.words import Path
from throughlight.study.goals import goal, goals_of_set, names_for_goals, quantities_of
from throughlight.study.question import TheSet
from throughlight.study.results import READINGS, Goal, GoalKind
from throughlight.study.tables import WantedTable

Wrong = Callable[[Path, str], None]

_KINDS: tuple[tuple[str, GoalKind], ...] = (("at", "at"), ("at_most", "at most"), ("at_least", "at least"))
_OF_SUBJECT = ("subject", "backdrop_under", "worst_under", "clipped")
_OF_BACKDROP = ("backdrop", "backdrop_under", "worst_patch", "worst_under")


def wishes(raw: Any, the_set: TheSet, wrong: Wrong) -> tuple[Goal, ...]:  # noqa: ANN401 - whatever the file says
    """Return what is wanted: of the study, or of the set where the study says nothing.

    Parameters
    ----------
    raw
        What the study file says under `wanted`.
    the_set
        The set.
    wrong
        Told what is wrong, by path in the study file.
    """
    if raw is None:
        goals = goals_of_set(the_set.setup)
        if not goals:
            wrong(("wanted",), "nothing is wanted, here or in the set; tables written [[wanted]] would fit")
        return goals
    goals = ()
    for i, one in enumerate(raw if isinstance(raw, list) else []):
        try:
            table = WantedTable.model_validate(one)
        except ValidationError:
            continue  # said already
        goals += _goals(i, table, the_set.setup, wrong)
    return goals


def _goals(i: int, table: WantedTable, setup: Setup, wrong: Wrong) -> tuple[Goal, ...]:
    names = names_for_goals(setup)
    reading = table.reading.strip()
    if reading not in names:
        reading = reading.replace(" ", "_")
    if reading not in names:
        near = difflib.get_close_matches(table.reading, names, n=1, cutoff=0.5)
        fits = found(near[0]) if near else ", ".join(names)
        wrong(("wanted", i, "reading"), f"{found(table.reading)} is no reading of this set; {fits} would fit")
        return ()
    doubt = _cannot_be_read(reading, setup)
    if doubt is not None:
        wrong(("wanted", i, "reading"), doubt)
    value, distance = quantities_of(reading)
    numbers: dict[str, float] = {}
    for key, quantity in (*((key, value) for key, _ in _KINDS), ("within", distance)):
        said = getattr(table, key)
        if said is None:
            continue
        try:
            numbers[key] = quantity.parse(said)
        except PydanticCustomError as trouble:
            wrong(("wanted", i, key), trouble.message())
    kinds = [(key, kind) for key, kind in _KINDS if key in numbers]
    return tuple(goal(reading, kind, numbers[key], numbers.get("within", 0.0), table.weight) for key, kind in kinds)


def _cannot_be_read(reading: str, setup: Setup) -> str | None:
    """Return why a reading tells nothing in this set, or None."""
    if reading in _OF_SUBJECT and not any(subject.counts for subject in setup.subjects):
        return f"the set has no subject, and so no {READINGS[reading].label}; another reading would fit"
    if reading in _OF_BACKDROP and setup.backdrop is None:
        return f"the set has no backdrop, and so no {READINGS[reading].label}; another reading would fit"
    if reading == "energy":
        flashes = [head for head in setup.heads if not head.continuous]
        untold = [head.name for head in flashes if head.energy is None]
        if untold:
            return f"{untold[0]} is not given by its energy, so that joules cannot be told; another reading would fit"
        if not flashes:
            return "the set has no flash head, and so no energy; another reading would fit"
    return None
