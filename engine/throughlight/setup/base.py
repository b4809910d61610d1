"""What every table of a setup file has in common: frozen, no unknown keys, kit entries by name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationInfo

from throughlight import kit
from throughlight.setup.units import found, refusal

Vec3 = tuple[float, float, float]


class Part(BaseModel):
    """A table of the setup file; once read it does not change."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def folder_of(info: ValidationInfo) -> Path:
    """Return the folder beside which relative files are looked for."""
    context = info.context
    return Path(context["folder"]) if isinstance(context, Mapping) and "folder" in context else Path()


def kit_entry(name: object, *kinds: str) -> kit.Entry:
    """Return the kit entry of that name, looked for in each kind in turn.

    Raises
    ------
    PydanticCustomError
        When no entry has that name; says which is nearest.
    """
    if isinstance(name, str):
        for kind in kinds:
            entry = kit.find(kind, name)
            if entry is not None:
                return entry
    near = kit.nearest(kinds, name) if isinstance(name, str) else None
    listed = f'the kit has "{near}"' if near is not None else f"see `throughlight kit` for {' and '.join(kinds)}"
    raise refusal(f"found {found(name)}, which is not in the kit; {listed}")


def knows(name: object, *kinds: str) -> bool:
    """Return whether the kit has an entry of that name."""
    return isinstance(name, str) and any(kit.find(kind, name) is not None for kind in kinds)


def from_kit(value: Any, *kinds: str) -> Any:
    """Return the table that a kit name stands for, or the table itself, filled up from the entry it says it is like.

    `"marble"` and `{ like = "marble", roughness = 0.2 }` both begin with the kit's marble.
    """
    if isinstance(value, str):
        entry = kit_entry(value, *kinds)
        return {**entry.values, "name": entry.name}
    if isinstance(value, Mapping) and "like" in value:
        if not knows(value["like"], *kinds):
            return value
        entry = kit_entry(value["like"], *kinds)
        return {"name": entry.name, **entry.values, **value}
    return value


def same_place(a: Vec3, b: Vec3) -> bool:
    """Return whether two places are too close to give a direction (a micrometre)."""
    return math.dist(a, b) < 1e-6
