"""What a study asks: a set, what varies in it, which candidates there are, what is wanted, how long it may take."""

from __future__ import annotations

import datetime
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, NamedTuple

from throughlight.kit import Kit
from throughlight.setup import Setup
from throughlight.study.doubts import Allowed, doubts
from throughlight.study.results import Goal
from throughlight.study.varied import Level, Varied

How = Literal["grid", "sample", "listed"]


class Budget(NamedTuple):
    """When a study ends, whichever comes first: a time of the day, s of running, half a 95 % interval in stops.

    None of them given, it ends when nothing more can be told apart within the engine's usual tolerance. Of the places
    only the first `places` are raced for, all of them by default.
    """

    until: datetime.time | None = None
    time_limit: float | None = None
    tolerance: float | None = None
    places: int | None = None


@dataclass(frozen=True)
class TheSet:
    """The set of a study, as it stands in its file.

    Attributes
    ----------
    path
        Its file, as the study names it.
    text
        What stands in the file.
    raw
        Its tables, with a name for each thing.
    setup
        The checked set.
    kit
        The kit in which its names are looked up.
    """

    path: Path
    text: str
    raw: Mapping[str, Any]
    setup: Setup
    kit: Kit

    @property
    def folder(self) -> Path:
        """Return the folder beside which files named in the set are looked for."""
        return self.path.parent


@dataclass(frozen=True)
class Study:
    """A checked study.

    Attributes
    ----------
    path
        The study file.
    title
        What the report calls it.
    the_set
        The set it is about.
    varied
        What varies, in the order of the file.
    how, count
        How the space is explored; how many candidates of a sample, None otherwise.
    listed
        Candidates listed by hand, each with a level for each varied thing.
    allowed
        What candidates may do.
    goals
        What is wanted, of the study or else of the set.
    budget
        When it ends.
    """

    path: Path
    title: str
    the_set: TheSet
    varied: tuple[Varied, ...]
    how: How
    count: int | None
    listed: tuple[tuple[Level, ...], ...]
    allowed: Allowed
    goals: tuple[Goal, ...]
    budget: Budget

    @cached_property
    def usual_doubts(self) -> frozenset[Hashable]:
        """Return what is in doubt about the set itself, and so is no reason against a candidate."""
        return frozenset(doubts(self.the_set.setup, self.allowed))
