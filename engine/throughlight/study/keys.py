"""Key paths into a set, such as `head."left head".at.bearing`: found in its tables, and the tables changed there.

A path's parts are joined by dots and may stand in quotes, as in TOML; an element of a list is called by its name or by
its number, counted from 1 (`card.2.width`, `card[2].width`). A path that ends in `present` stands for whether the
thing is there at all: `flag."left flag".present`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from copy import copy
from enum import Enum
from typing import Any, NamedTuple

from throughlight.setup.kind import found
from throughlight.setup.whole import LISTS, Setup
from throughlight.setup.words import Path, keys_of, models_at, said_key, unknown_key

PRESENT = "present"
_PART = re.compile(r"""\s*(?:"([^"\n]*)"|'([^'\n]*)'|([A-Za-z0-9_-]+))\s*((?:\[\s*\d+\s*\]\s*)*)(?:\.|$)""")
_LONGEST = 300
_PLACE_KEYS = ("bearing", "distance", "height")
_NO_LIGHT = ("title", "seed", "wanted", "finish", "pitch")
"""Tables and keys that no reading of a study depends on."""


class Out(Enum):
    """What stands in the place of a value when the key itself is left out."""

    OUT = "out"


OUT = Out.OUT
Edit = tuple[Path, Any]
"""A path in the set's tables, lists counted from 0, and the TOML value that is put there, or `OUT`."""


class KeyMistake(ValueError):
    """A key path that cannot be followed; the message says what was found and what would fit."""


class Place(NamedTuple):
    """Where a key path leads in a set's tables, and whether it stands for the thing being there."""

    path: Path
    is_presence: bool


def parts_of(text: str) -> list[str]:
    """Return the parts of a key path.

    Raises
    ------
    KeyMistake
        When it is no key path.
    """
    parts: list[str] = []
    at = 0
    while at < len(text) and len(text) <= _LONGEST:
        match = _PART.match(text, at)
        if match is None:
            break
        parts.append(next(group for group in match.groups()[:3] if group is not None))
        parts += re.findall(r"\d+", match.group(4))
        at = match.end()
    if at < len(text) or not parts or len(text) > _LONGEST or text.rstrip().endswith("."):
        raise KeyMistake(
            f"found {found(text)}; parts joined by dots would fit, such as 'head.\"left head\".at.bearing'"
        )
    return parts


def find(text: str, raw: Mapping[str, Any]) -> Place:
    """Return where a key path leads.

    Parameters
    ----------
    text
        The key path.
    raw
        The set's tables, with a name for each thing (`setup.whole.numbered`).

    Raises
    ------
    KeyMistake
        When it leads nowhere; names the nearest key.
    """
    parts = parts_of(text)
    if parts[0] in _NO_LIGHT:
        raise KeyMistake(f"{parts[0]} changes no light; a key of the camera, a head, a card and so on would fit")
    path: Path = ()
    here: Any = raw
    for part in parts[:-1]:
        path, here = _step(path, here, part)
    last = parts[-1]
    if last == PRESENT and len(parts) > 1:
        if path == ("camera",):
            raise KeyMistake("a set has to have its camera; a card, a flag, a head and so on can be left out")
        return Place(path, True)
    if isinstance(here, dict) and last == "name":
        raise KeyMistake("a name changes no light; another key of this table would fit")
    return Place(_last(path, here, last), False)


def _step(path: Path, here: object, part: str) -> tuple[Path, Any]:
    """Return the path and what stands there, one part further on."""
    if isinstance(here, list):
        index = _index(path, here, part)
        return (*path, index), here[index]
    if isinstance(here, dict):
        if part in here:
            return (*path, part), here[part]
        known = _known_keys(path, here)
        if part in known:
            raise KeyMistake(_not_written(path, part))
        raise KeyMistake(unknown_key(part, known))
    raise KeyMistake(f"the set says {said_key(path)} = {found(here)}, which has no keys of its own{_hint(path)}")


def _last(path: Path, here: object, part: str) -> Path:
    """Return the whole path; its last key need not be written in the set, but the table has to know it."""
    if isinstance(here, dict) and part not in here:
        known = _known_keys(path, here)
        if known and part not in known:
            raise KeyMistake(unknown_key(part, known))
        if not path and part in LISTS:
            raise KeyMistake(_not_written(path, part))
        return (*path, part)
    return _step(path, here, part)[0]


def _known_keys(path: Path, here: Mapping[str, Any]) -> list[str]:
    if any(key in here for key in _PLACE_KEYS) and not models_at(path, Setup):
        return list(_PLACE_KEYS)
    known = keys_of(models_at(path, Setup))
    return [key for key in dict.fromkeys([*known, *here]) if path or key not in _NO_LIGHT]


def _index(path: Path, here: list[Any], part: str) -> int:
    names = [str(one["name"]) for one in here if isinstance(one, dict) and "name" in one]
    if part in names:
        return next(i for i, one in enumerate(here) if isinstance(one, dict) and one.get("name") == part)
    if part.isdigit() and 1 <= int(part[:9]) <= len(here):
        return int(part) - 1
    what = said_key(path)
    if part.isdigit() or not names:
        raise KeyMistake(
            f"found {found(part)} of {what}, which has {len(here)}; a number from 1 to {len(here)} would fit"
        )
    near = difflib.get_close_matches(part[:60], names, n=1, cutoff=0.4)
    listed = near if near else names[:6]
    fits = " or ".join(found(name) for name in listed)
    raise KeyMistake(f"no {what} of the set is called {found(part)}; {fits} would fit")


def _not_written(path: Path, part: str) -> str:
    whole = said_key((*path, part))
    return f"the set doesn't write {whole}; once it is written there, its own keys can be varied"


def _hint(path: Path) -> str:
    if path and path[-1] in ("material", "surface", "cloth", "sheet", "gel", "front", "back"):
        return '; a table such as { like = "…" } in the set would have them'
    return ""


def said(path: Path, raw: Mapping[str, Any]) -> str:
    """Return a path as a person reads it: elements of lists by their names."""
    words: list[str] = []
    here: Any = raw
    for step in path:
        if isinstance(step, int):
            inner = here[step] if isinstance(here, list) and step < len(here) else None
            name = inner.get("name") if isinstance(inner, dict) else None
            words.append(str(name) if name is not None else str(step + 1))
            here = inner
        else:
            words.append(step)
            here = here.get(step) if isinstance(here, dict) else None
    if len(words) > 1 and words[0] in LISTS and isinstance(path[1], int):
        words = words[1:]
    return ", ".join([words[0], " ".join(words[1:])]) if len(words) > 1 else words[0]


def value_at(path: Path, raw: Mapping[str, Any]) -> Any:  # noqa: ANN401 - whatever the set says
    """Return what the set says at a path, or None when it says nothing there."""
    here: Any = raw
    for step in path:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def changed(raw: Mapping[str, Any], edits: Iterable[Edit]) -> dict[str, Any]:
    """Return a set's tables with some values changed; the tables given are left as they are.

    Parameters
    ----------
    raw
        The tables.
    edits
        Paths and values; paths that are left out (`OUT`) go last, so that the others count as in `raw`.
    """
    new: dict[str, Any] = dict(raw)
    fresh: set[Path] = {()}
    for path, value in in_order(edits):
        container = _container(new, path, fresh)
        if value is not OUT:
            container[path[-1]] = value
        elif isinstance(container, dict):
            container.pop(path[-1], None)
        else:
            del container[int(path[-1])]
            if not container:
                del _container(new, path[:-1], fresh)[path[-2]]
    return new


def in_order(edits: Iterable[Edit]) -> list[Edit]:
    """Return edits in an order in which every path counts: what is left out goes last, of a list from its end."""
    whole = list(edits)
    left_out = [edit for edit in whole if edit[1] is OUT]
    left_out.sort(key=lambda edit: [(isinstance(step, int), step) for step in edit[0]], reverse=True)
    return [*(edit for edit in whole if edit[1] is not OUT), *left_out]


def _container(new: Any, path: Path, fresh: set[Path]) -> Any:  # noqa: ANN401 - a table or a list
    """Return the table or list that holds the last step of a path, copied once on the way there."""
    here = new
    for depth, step in enumerate(path[:-1], 1):
        if path[:depth] not in fresh:
            here[step] = copy(here[step])
            fresh.add(path[:depth])
        here = here[step]
    return here
