"""The tables of a study file, as pydantic checks them: each key in itself, not yet against the set.

A study names a set, what varies in it, how to explore, what is wanted and how long it may take.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Collection
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from throughlight.setup.base import Part
from throughlight.setup.kind import misfit
from throughlight.setup.units import DURATION, TOLERANCE, Whole, pure

MOST_CANDIDATES = 20_000
MOST_VALUES = 1000
_MOST_VARIED = 30
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")

Count = Annotated[int, Whole("a whole number", 2, MOST_VALUES, 9)]
SampleSize = Annotated[int, Whole("a whole number", 1, MOST_CANDIDATES, 200)]
Places = Annotated[int, Whole("a whole number", 1, MOST_CANDIDATES, 10)]
Weight = Annotated[float, pure("a weight", 0.0, 1e6, "1", "2.5")]


def clock(value: object) -> datetime.time:
    """Return the time of the day that "06:30" stands for.

    Raises
    ------
    PydanticCustomError
        When it is none.
    """
    if isinstance(value, datetime.time):
        return value
    match = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) and len(value) < 20 else None
    if match is None:
        raise misfit(value, 'a time of the day would fit, such as "06:30"')
    return datetime.time(int(match.group(1)), int(match.group(2)))


class VaryTable(Part):
    """One thing that varies: a key of the set, or several that go together, and the values it takes."""

    name: str | None = Field(None, min_length=1, max_length=60, description="what the report calls it")
    key: str | None = Field(None, description="a key of the set, such as 'head.\"left head\".at.bearing'")
    keys: tuple[str, ...] | None = Field(None, max_length=_MOST_VARIED, description="keys that go together")
    values: tuple[Any, ...] | None = Field(
        None,
        max_length=MOST_VALUES,
        description="the values; for `keys`, one for all or a list of one each",
    )
    from_: Any = Field(None, alias="from", description="one end of a range")
    to: Any = Field(None, description="its other end")
    step: Any = Field(None, description="how far apart the values of the range are")
    count: Count | None = Field(None, description="or how many there are, both ends included")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say what keys are missing together or stand together."""
        if ("key" in keys) == ("keys" in keys):
            said = "found key and keys together" if "key" in keys else "nothing is named that varies"
            return f"{said}; one key ('camera.f_number') or several keys that go together (['…', '…']) would fit"
        if "values" in keys and ("from" in keys or "to" in keys):
            return "found values and a range together; one of the two would fit"
        if ("from" in keys) != ("to" in keys):
            return f"the range has no {'end' if 'from' in keys else 'beginning'}; both from and to would fit"
        extra = [key for key in ("step", "count") if key in keys]
        if extra and "from" not in keys:
            return f"found {extra[0]} without a range; from and to beside it would fit"
        return "found step and count together; one of the two would fit" if len(extra) == 2 else None


class ExploreTable(Part):
    """How the space of what varies is explored, and what a candidate may do that the set itself does not."""

    how: Literal["grid", "sample", "listed"] | None = Field(
        None, description="every combination, an even sample of them, or the candidates listed by hand"
    )
    count: SampleSize | None = Field(None, description="size of the sample")
    may_overlap: bool = Field(False, strict=True, description="whether things may stand in one another")
    may_show: bool = Field(False, strict=True, description="whether heads, cards, flags may come into the frame")
    may_lack_power: bool = Field(False, strict=True, description="whether heads may be asked for what they don't have")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say what a count is for."""
        if "count" in keys and "how" not in keys:
            return 'found count without how; how = "sample" beside it would fit'
        return None


class WantedTable(Part):
    """A target or a limit on a reading."""

    reading: str = Field(min_length=1, max_length=80, description="what is read, such as subject, or a spot by name")
    at: Any = Field(None, description="the value to hit")
    at_most: Any = Field(None, description="or the most it may be")
    at_least: Any = Field(None, description="or the least")
    within: Any = Field(None, description="how far off `at` is still as good")
    weight: Weight = Field(1.0, description="how many stops one stop missed counts for")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that a wish is one thing."""
        given = [key for key in ("at", "at_most", "at_least") if key in keys]
        if len(given) != 1:
            said = f"found {' and '.join(given)} together" if given else "the wish has no value"
            return f'{said}; exactly one of at ("+0.5 stop"), at_most and at_least would fit'
        if "within" in keys and given != ["at"]:
            return f"found within beside {given[0]}; it goes with at alone"
        return None


class BudgetTable(Part):
    """When a study ends: at a time of the day, after a time, or when it is good enough; whichever comes first."""

    until: Annotated[datetime.time, BeforeValidator(clock, json_schema_input_type=str)] | None = Field(
        None, description='such as "06:30"'
    )
    time_limit: Annotated[float, DURATION] | None = Field(None, description='such as "8 h"')
    tolerance: Annotated[float, TOLERANCE] | None = Field(
        None, description="half of the 95 % interval beyond which nothing is refined, stops"
    )
    places: Places | None = Field(None, description="how many places from the best on are raced for; all by default")


class StudyTable(Part):
    """A whole study file."""

    title: str | None = Field(None, min_length=1, max_length=200, description="what the report calls the study")
    set: str = Field(min_length=1, max_length=1000, description="the setup file, beside the study file")
    vary: tuple[VaryTable, ...] = Field(max_length=_MOST_VARIED)
    explore: ExploreTable = Field(default_factory=ExploreTable)
    candidate: tuple[dict[str, Any], ...] = Field((), max_length=MOST_CANDIDATES)
    wanted: tuple[WantedTable, ...] = Field((), max_length=100)
    budget: BudgetTable = Field(default_factory=BudgetTable)


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a study file, for editors that complete and check TOML."""
    described = StudyTable.model_json_schema(by_alias=True, mode="validation")
    for table, ways in (("VaryTable", ("key", "keys")), ("WantedTable", ("at", "at_most", "at_least"))):
        described["$defs"][table]["oneOf"] = [{"required": [way]} for way in ways]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **described,
        "title": "Throughlight study file",
    }
