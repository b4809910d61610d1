"""What the entries of a user's own kit file are checked as: each kind as the table of a set that it will become."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from throughlight.kit import BOOKKEEPING, OWN, STATUSES
from throughlight.setup.base import Part
from throughlight.setup.camera import Camera
from throughlight.setup.finishes import Surface
from throughlight.setup.gels import Gel
from throughlight.setup.heads import Head
from throughlight.setup.kind import found
from throughlight.setup.material import Material
from throughlight.setup.sheets import Sheeting
from throughlight.setup.text import Finding
from throughlight.setup.words import keys_of, sentence, unknown_key

LONGEST_TEXT = 1000


@dataclass(frozen=True)
class Use:
    """What an entry becomes, what a set would say beside it, and the keys that are the set's to say."""

    model: type[Part]
    beside: Mapping[str, Any]
    of_the_set: tuple[str, ...] = ("name",)


_HEAD = {"at": ["1 m", "0 m", "0 m"], "energy": "100 J"}
_OUTPUTS = ("meter", "guide_number", "power", "illuminance", "output")
_LENS = {"focal": "50 mm", "f_number": 8, "shutter": "1 s", "iso": 100, "at": ["0 m", "0 m", "1 m"]}
USES = {
    "bodies": Use(Camera, _LENS, ("name", "body", *_LENS)),
    "modifiers": Use(Head, _HEAD, ("name", "modifier", "aim", *_OUTPUTS, *_HEAD)),
    "gels": Use(Gel, {}),
    "surfaces": Use(Surface, {}),
    "cloths": Use(Surface, {}),
    "sheets": Use(Sheeting, {}),
    "materials": Use(Material, {}),
}
"""By kind; an entry of a kind without a row is checked only where a set names it."""


def values_of(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a table gives to a set."""
    return {key: value for key, value in table.items() if key not in (*BOOKKEEPING, "like")}


def unfit(kind: str, table: Mapping[str, Any], begun: Mapping[str, Any] | None, folder: Path) -> Iterator[Finding]:
    """Say what is wrong in the table of an entry.

    Parameters
    ----------
    kind
        One of the kit's kinds.
    table
        What the kit file says.
    begun
        What the entry takes over from the one that it is like, whose own mistakes are not repeated; None when that
        cannot be known, and the values are then not checked.
    folder
        Where files that it names lie.
    """
    for key, words in _bookkeeping(table):
        yield (key,), key, words
    use = USES.get(kind)
    if use is None:
        return
    for key in (key for key in use.of_the_set if key in table):
        yield (key,), key, f"found {found(key)}, which is for the set to say; an entry without it would fit"
    if begun is not None:
        own = {key: value for key, value in values_of(table).items() if key not in use.of_the_set}
        yield from _unusable(use, own, begun, folder)


def _unusable(use: Use, own: Mapping[str, Any], begun: Mapping[str, Any], folder: Path) -> Iterator[Finding]:
    whole = {**use.beside, **begun, **own}
    try:
        use.model.model_validate(whole, context={"folder": folder})
    except ValidationError as trouble:
        for error in trouble.errors(include_url=False):
            first = str(error["loc"][0]) if error["loc"] else ""
            if first in begun and first not in own:
                continue
            said = sentence(error, whole, use.model)
            if error["type"] == "extra_forbidden" and len(error["loc"]) == 1:
                keys = [key for key in keys_of([use.model]) if key not in use.of_the_set]
                said = (first,), first, unknown_key(first, [*BOOKKEEPING, "like", *keys])
            if said is not None:
                yield said


def _bookkeeping(table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key in ("title", "good_for", "source"):
        text = table.get(key, "")
        if not isinstance(text, str) or len(text) > LONGEST_TEXT:
            yield key, f"found {found(text)}; a text in quotes of up to {LONGEST_TEXT} characters would fit"
    known = (*STATUSES, OWN)
    if table.get("status", OWN) not in known:
        yield "status", f"found {found(table['status'])}; one of {', '.join(known)} would fit"
    also = table.get("also", [])
    if not isinstance(also, list) or not all(isinstance(one, str) for one in also):
        yield "also", f'found {found(also)}; a list of names such as ["soap", "clear soap"] would fit'
