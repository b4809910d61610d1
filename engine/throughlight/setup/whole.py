"""The whole set: every table of the setup file, checked, in SI."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

from throughlight.setup.base import Part
from throughlight.setup.camera import Camera
from throughlight.setup.heads import Head
from throughlight.setup.sheets import Sheet
from throughlight.setup.subject import Subject
from throughlight.setup.surfaces import Backdrop, Card, Flag, Support, Table
from throughlight.setup.units import Depth, Whole
from throughlight.setup.windows import Window
from throughlight.setup.wishes import Ambient, Finish, Pitch, Spot, Wanted

LISTS = ("head", "card", "flag", "support", "spot", "window", "subject", "sheet")
_MOST = 1000
_MOST_SUBJECTS = 20

Seed = Annotated[int, Whole("a whole number", 0, 2**63 - 1, 1)]


def _as_list(value: object) -> object:
    """Return a single table as a list of it."""
    return value if isinstance(value, list | tuple) else [value]


class Setup(Part):
    """A set, ready to be staged. Tables that repeat are written in double brackets, such as [[head]].

    One subject is written [subject], several [[subject]].
    """

    title: str = Field("Untitled set", max_length=200, description="what the sheets call the set")
    calibration: str | None = Field(
        None, description='file of corrections found with a test frame, such as "set.calibration.toml"'
    )
    seed: Seed = Field(1, description="start of the random numbers; the same seed gives the same figures")
    mark_height: Depth | None = Field(
        None, description="how high the subject's mark lies over the floor; gives the plan's heights over the floor"
    )
    camera: Camera
    heads: tuple[Head, ...] = Field((), alias="head", max_length=_MOST)
    cards: tuple[Card, ...] = Field((), alias="card", max_length=_MOST)
    flags: tuple[Flag, ...] = Field((), alias="flag", max_length=_MOST)
    sheets: tuple[Sheet, ...] = Field((), alias="sheet", max_length=_MOST)
    backdrop: Backdrop | None = None
    table: Table | None = None
    subjects: Annotated[
        tuple[Subject, ...], BeforeValidator(_as_list, json_schema_input_type=Subject | tuple[Subject, ...])
    ] = Field((), alias="subject", max_length=_MOST_SUBJECTS)
    supports: tuple[Support, ...] = Field((), alias="support", max_length=_MOST)
    ambient: Ambient | None = None
    wanted: Wanted = Field(default_factory=Wanted)
    finish: Finish = Field(default_factory=Finish)
    pitch: Pitch = Field(default_factory=Pitch)
    windows: tuple[Window, ...] = Field((), alias="window", max_length=_MOST)
    spots: tuple[Spot, ...] = Field((), alias="spot", max_length=_MOST)

    @property
    def lights(self) -> tuple[str, ...]:
        """Return the names of all that shine by themselves: heads, then windows. Each is a layer of the picture."""
        return (*(head.name for head in self.heads), *(window.name for window in self.windows))

    @property
    def flashes(self) -> tuple[bool, ...]:
        """Return which of `lights` shine in a flash; the others do all the time."""
        return (*(not head.continuous for head in self.heads), *(False for _ in self.windows))

    @model_validator(mode="before")
    @classmethod
    def _everything_has_a_name(cls, data: object) -> object:
        return numbered(data) if isinstance(data, Mapping) else data

    @property
    def subject(self) -> Subject | None:
        """The first subject, if there is any."""
        return self.subjects[0] if self.subjects else None


def numbered(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return a file's tables with a number for each thing that has no name of its own: "head 1".

    A subject that is the only one needs no number.
    """
    named = dict(raw)
    for key in LISTS:
        if isinstance(named.get(key), list) and not (key == "subject" and len(named[key]) == 1):
            named[key] = [
                {"name": f"{key} {i}", **one} if isinstance(one, Mapping) else one
                for i, one in enumerate(named[key], 1)
            ]
    return named
