"""Shipped data: bodies, modifiers, gels, surfaces, cloths and translucent materials, each with its source.

Every entry is a table of a TOML file beside this one. Its bookkeeping says what it is (`title`), what it is good for
(`good_for`), how far to trust it (`status`: published, computed, common practice, demo) and where it comes from
(`source`); everything else is what a setup file would write.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

KINDS = ("bodies", "modifiers", "gels", "surfaces", "cloths", "materials")
STATUSES = ("published", "computed", "common practice", "demo")
_BOOKKEEPING = ("title", "good_for", "status", "source", "also")


class NotInKit(KeyError):
    """No entry has that name; the message names the nearest."""

    def __str__(self) -> str:
        """Return the message without the quotes a KeyError puts round it."""
        return str(self.args[0])


@dataclass(frozen=True)
class Entry:
    """One thing of the kit.

    name: what a setup file writes. kind: one of `KINDS`. also: other names for it. values: the keys it gives to a
    setup file, quantities still as text.
    """

    kind: str
    name: str
    title: str
    good_for: str
    status: str
    source: str
    also: tuple[str, ...]
    values: Mapping[str, Any]


@cache
def entries(kind: str) -> Mapping[str, Entry]:
    """Return every entry of a kind by name, in the order of its file.

    Raises
    ------
    NotInKit
        If there is no such kind.
    """
    if kind not in KINDS:
        raise NotInKit(f'the kit has no "{kind}"; it has {", ".join(KINDS)}')
    text = (resources.files("throughlight.kit") / f"{kind}.toml").read_text("utf-8")
    return MappingProxyType({name: _entry(kind, name, table) for name, table in tomllib.loads(text).items()})


def _entry(kind: str, name: str, table: dict[str, Any]) -> Entry:
    return Entry(
        kind=kind,
        name=name,
        title=table["title"],
        good_for=table["good_for"],
        status=table["status"],
        source=table["source"],
        also=tuple(table.get("also", ())),
        values=MappingProxyType({key: value for key, value in table.items() if key not in _BOOKKEEPING}),
    )


def _plain(name: str) -> str:
    """Return a name as it is compared: small letters, single blanks."""
    return " ".join(name[:200].lower().replace("-", " ").replace("_", " ").split())


def find(kind: str, name: str) -> Entry | None:
    """Return the entry of that name (or of that other name), or None."""
    wanted = _plain(name)
    for entry in entries(kind).values():
        if wanted in (_plain(one) for one in (entry.name, *entry.also)):
            return entry
    return None


def _most_alike(kinds: Iterable[str], name: str, most: int, likeness: float) -> list[str]:
    """Return the names in those kinds that are spelt most like `name`, the likest first.

    `likeness` from 0 to 1 is the least that counts.
    """
    names = {
        _plain(one): entry.name
        for kind in kinds
        for entry in entries(kind).values()
        for one in (entry.name, *entry.also)
    }
    near = difflib.get_close_matches(_plain(name), names, n=most, cutoff=likeness)
    return list(dict.fromkeys(names[one] for one in near))


def nearest(kinds: Iterable[str], name: str) -> str | None:
    """Return the name in those kinds that is spelt most like `name`, or None if none is near."""
    near = _most_alike(kinds, name, 1, 0.5)
    return near[0] if near else None


def lookup(kind: str, name: str) -> Entry:
    """Return the entry of that name.

    Raises
    ------
    NotInKit
        If there is none; the message names the nearest one.
    """
    entry = find(kind, name)
    if entry is None:
        near = nearest([kind], name)
        hint = f'; did you mean "{near}"?' if near is not None else f"; it has {', '.join(entries(kind))}"
        raise NotInKit(f'the kit has no {kind} called "{name[:60]}"{hint}')
    return entry


def lookup_anywhere(name: str) -> list[Entry]:
    """Return the entries of that name in all kinds, at least one.

    Raises
    ------
    NotInKit
        If there is none; the message names up to three that are spelt like it.
    """
    found = [entry for kind in KINDS if (entry := find(kind, name)) is not None]
    if not found:
        near = " or ".join(f'"{one}"' for one in _most_alike(KINDS, name, 3, 0.6))
        hint = f"did you mean {near}?" if near else f"its kinds are {', '.join(KINDS)}"
        raise NotInKit(f'the kit has nothing called "{name[:60]}"; {hint}')
    return found
