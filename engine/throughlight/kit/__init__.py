"""What can be called by name: bodies, modifiers, gels, surfaces, cloths, sheets and materials, each with its source.

Every entry is a table of a TOML file: those that ship lie beside this one, a user's own in a file of the user's.
Its bookkeeping says what it is (`title`), what it is good for (`good_for`), how far to trust it (`status`: published,
computed, common practice, demo, own) and where it comes from (`source`); everything else is what a setup file would
write.

The functions look into the kit that is at hand: what ships, and inside `using` what a user added or changed too.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

KINDS = ("bodies", "modifiers", "gels", "surfaces", "cloths", "sheets", "materials")
STATUSES = ("published", "computed", "common practice", "demo")
OWN = "own"
"""The status of an entry of a user's own that says nothing else."""
BOOKKEEPING = ("title", "good_for", "status", "source", "also")


class NotInKit(KeyError):
    """No entry has that name; the message names the nearest."""

    def __str__(self) -> str:
        """Return the message without the quotes a KeyError puts round it."""
        return str(self.args[0])


@dataclass(frozen=True)
class Entry:
    """One thing of the kit.

    name: what a setup file writes. kind: one of `KINDS`. also: other names for it. values: the keys it gives to a
    setup file, quantities still as text. file: the user's own kit file that holds it; None when it ships.
    """

    kind: str
    name: str
    title: str
    good_for: str
    status: str
    source: str
    also: tuple[str, ...]
    values: Mapping[str, Any]
    file: Path | None = None

    def answers_to(self, plain: str) -> bool:
        """Return whether this is its name, or one of its other names, as `plain_name` writes it."""
        return plain in (plain_name(one) for one in (self.name, *self.also))


Shelf = Mapping[str, Mapping[str, Entry]]
"""Entries by kind and name."""


@cache
def shipped(kind: str) -> Mapping[str, Entry]:
    """Return the entries of a kind that ship, by name, in the order of their file.

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
        values=MappingProxyType({key: value for key, value in table.items() if key not in BOOKKEEPING}),
    )


def plain_name(name: str) -> str:
    """Return a name as it is compared: small letters, single blanks."""
    return " ".join(name[:200].lower().replace("-", " ").replace("_", " ").split())


@dataclass(frozen=True)
class Kit:
    """What ships, under shelves of a user's own: what stands on an earlier shelf wins."""

    own: tuple[Shelf, ...] = ()

    def _shelves(self, kind: str) -> list[Mapping[str, Entry]]:
        """Return the shelves of a kind, the one that wins first."""
        lowest = shipped(kind)
        return [*(shelf.get(kind, {}) for shelf in self.own), lowest]

    def entries(self, kind: str) -> Mapping[str, Entry]:
        """Return every entry of a kind by name: what ships or took its place, then what was added.

        Raises
        ------
        NotInKit
            If there is no such kind.
        """
        last = {plain_name(one.name): one for shelf in reversed(self._shelves(kind)) for one in shelf.values()}
        return MappingProxyType({entry.name: entry for entry in last.values()})

    def find(self, kind: str, name: str) -> Entry | None:
        """Return the entry of that name (or of that other name), or None."""
        return self.first((kind,), name)

    def first(self, kinds: Iterable[str], name: str) -> Entry | None:
        """Return the entry of that name in the first of the kinds that has one; a user's own before what ships."""
        wanted = plain_name(name)
        shelves = [self._shelves(kind) for kind in kinds]
        levels = (shelf[level] for level in range(len(self.own) + 1) for shelf in shelves)
        return next((one for shelf in levels for one in shelf.values() if one.answers_to(wanted)), None)

    def most_alike(self, kinds: Iterable[str], name: str, most: int, likeness: float) -> list[str]:
        """Return the names in those kinds that are spelt most like `name`, the likest first.

        `likeness` from 0 to 1 is the least that counts.
        """
        names = {
            plain_name(one): entry.name
            for kind in kinds
            for entry in self.entries(kind).values()
            for one in (entry.name, *entry.also)
        }
        near = difflib.get_close_matches(plain_name(name), names, n=most, cutoff=likeness)
        return list(dict.fromkeys(names[one] for one in near))

    def nearest(self, kinds: Iterable[str], name: str) -> str | None:
        """Return the name in those kinds that is spelt most like `name`, or None if none is near."""
        near = self.most_alike(kinds, name, 1, 0.5)
        return near[0] if near else None

    def lookup(self, kind: str, name: str) -> Entry:
        """Return the entry of that name.

        Raises
        ------
        NotInKit
            If there is none; the message names the nearest one.
        """
        entry = self.find(kind, name)
        if entry is None:
            near = self.nearest([kind], name)
            hint = f'; did you mean "{near}"?' if near is not None else f"; it has {', '.join(self.entries(kind))}"
            raise NotInKit(f'the kit has no {kind} called "{name[:60]}"{hint}')
        return entry

    def lookup_anywhere(self, name: str) -> list[Entry]:
        """Return the entries of that name in all kinds, at least one.

        Raises
        ------
        NotInKit
            If there is none; the message names up to three that are spelt like it.
        """
        found = [entry for kind in KINDS if (entry := self.find(kind, name)) is not None]
        if not found:
            near = " or ".join(f'"{one}"' for one in self.most_alike(KINDS, name, 3, 0.6))
            hint = f"did you mean {near}?" if near else f"its kinds are {', '.join(KINDS)}"
            raise NotInKit(f'the kit has nothing called "{name[:60]}"; {hint}')
        return found


SHIPPED = Kit()
_at_hand: ContextVar[Kit] = ContextVar("kit at hand", default=SHIPPED)


def at_hand() -> Kit:
    """Return the kit that names are looked up in: what ships, unless `using` says otherwise."""
    return _at_hand.get()


@contextmanager
def using(kit: Kit) -> Iterator[None]:
    """Look names up in this kit inside a `with`; other threads and tasks keep theirs."""
    before = _at_hand.set(kit)
    try:
        yield
    finally:
        _at_hand.reset(before)


def entries(kind: str) -> Mapping[str, Entry]:
    """Return every entry of a kind in the kit at hand; see `Kit.entries`."""
    return at_hand().entries(kind)


def find(kind: str, name: str) -> Entry | None:
    """Return an entry of the kit at hand by its name or another name of it, or None."""
    return at_hand().find(kind, name)


def first(kinds: Iterable[str], name: str) -> Entry | None:
    """Return the entry of that name in the first of the kinds that has one; see `Kit.first`."""
    return at_hand().first(kinds, name)


def nearest(kinds: Iterable[str], name: str) -> str | None:
    """Return the name in the kit at hand that is spelt most like `name`, or None if none is near."""
    return at_hand().nearest(kinds, name)


def lookup(kind: str, name: str) -> Entry:
    """Return an entry of the kit at hand; see `Kit.lookup`."""
    return at_hand().lookup(kind, name)


def lookup_anywhere(name: str) -> list[Entry]:
    """Return the entries of that name in all kinds of the kit at hand; see `Kit.lookup_anywhere`."""
    return at_hand().lookup_anywhere(name)
