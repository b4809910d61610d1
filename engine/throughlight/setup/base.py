"""What every table of a setup file has in common: frozen, no unknown keys, kit entries by name."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any, Self, TypeVar

from pydantic import (
    BaseModel,
    ConfigDict,
    ModelWrapValidatorHandler,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

from throughlight import kit
from throughlight.setup.kind import found, refusal

Vec3 = tuple[float, float, float]
T = TypeVar("T")


class Part(BaseModel):
    """A table of the setup file; once read it does not change."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Return the sentence about keys that are missing together or stand together, if there is one to say."""
        return None

    @model_validator(mode="wrap")
    @classmethod
    def _also_say_what_is_unmet(cls, data: object, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Report `unmet` beside the mistakes in single keys, not after them."""
        unmet = cls.unmet(tuple(data)) if isinstance(data, Mapping) else None
        if unmet is None:
            return handler(data)
        findings = [InitErrorDetails(type=refusal(unmet), input=None)]
        try:
            handler(data)
        except ValidationError as others:
            findings += [_again(error) for error in others.errors(include_url=False)]
        raise ValidationError.from_exception_data(cls.__name__, findings)


def _again(error: ErrorDetails) -> InitErrorDetails:
    """Return a finding in the form in which it can be raised once more."""
    kind: str | PydanticCustomError = error["type"]
    if kind == "misfit":
        kind = refusal(error["msg"])
    return InitErrorDetails(type=kind, loc=error["loc"], input=error["input"], ctx=error.get("ctx", {}))


def folder_of(info: ValidationInfo) -> Path:
    """Return the folder beside which relative files are looked for."""
    context = info.context
    return Path(context["folder"]) if isinstance(context, Mapping) and "folder" in context else Path()


def kit_entry(name: object, *kinds: str) -> kit.Entry:
    """Return the kit entry of that name, looked for in each kind in turn, a user's own before what ships.

    Raises
    ------
    PydanticCustomError
        When no entry has that name; says which is nearest.
    """
    entry = kit.first(kinds, name) if isinstance(name, str) else None
    if entry is not None:
        return entry
    near = kit.nearest(kinds, name) if isinstance(name, str) else None
    listed = f'the kit has "{near}"' if near is not None else f"see `throughlight kit` for {' and '.join(kinds)}"
    raise refusal(f"found {found(name)}, which is not in the kit; {listed}")


def filled(data: object, key: str, kind: str) -> object:
    """Return a table filled up from the kit entry that its `key` names; what the table says itself stays.

    When the name is not in the kit, which the key's own check reports, any entry will do: nothing else is then missed.
    """
    if not isinstance(data, Mapping) or not isinstance(data.get(key), str):
        return data
    entry = kit.find(kind, data[key])
    values = next(iter(kit.entries(kind).values())).values if entry is None else entry.values
    return {**values, **data}


def from_kit(value: object, *kinds: str) -> object:
    """Return the table that a kit name stands for, or the table itself, filled up from the entry it says it is like.

    `"marble"` and `{ like = "marble", roughness = 0.2 }` both begin with the kit's marble.
    """
    if isinstance(value, str):
        entry = kit_entry(value, *kinds)
        return {**entry.values, "name": entry.name}
    if isinstance(value, Mapping) and isinstance(value.get("like"), str):
        entry_like = kit.first(kinds, value["like"])
        table = filled(value, "like", kinds[0] if entry_like is None else entry_like.kind)
        return {"name": value["like"][:80], **table} if isinstance(table, Mapping) else table
    return value


def derived(rule: Callable[[dict[str, Any]], T], stand_in: T) -> Callable[[dict[str, Any]], T]:
    """Return a default that follows from keys read before it.

    When one of those is faulty, which is reported where it stands, the stand-in is never seen by anyone.
    """

    def default(read: dict[str, Any]) -> T:
        try:
            return rule(read)
        except KeyError:
            return stand_in

    return default


def same_place(a: Vec3, b: Vec3) -> bool:
    """Return whether two places are too close to give a direction (a micrometre)."""
    return math.dist(a, b) < 1e-6
