"""A user's own kit files: read, checked as what each entry is for, and laid over what ships.

`kit.toml` beside a set wins over `kit.toml` in the user's configuration folder, which wins over what ships. An entry
is a table such as `[materials."my soap"]` with the keys of the shipped files; its bookkeeping may be left out, and
`like = "marble"` begins with another entry of its kind. Files that an entry names are looked for beside the kit file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from throughlight.kit import KINDS, OWN, Entry, Kit, Shelf, plain_name, using
from throughlight.kit.places import own_files
from throughlight.setup.kind import found
from throughlight.setup.mistakes import SetupError
from throughlight.setup.own_uses import LONGEST_TEXT, unfit, values_of
from throughlight.setup.text import Finding, parsed, placed, text_of
from throughlight.setup.words import Path as KeyPath
from throughlight.setup.words import said_key, unknown_key

_MOST_ENTRIES = 1000
_LONGEST_CHAIN = 20
_LONGEST_NAME = 80
_SOURCE = "your own kit file"
_FILE_NAME = re.compile(r".*\.(?:ies|stl|obj|ply|glb|svg|png|jpe?g|tiff?|webp|bmp|exr)", re.IGNORECASE)
"""A value that names a file, whatever its key."""


def kit_for(folder: Path) -> Kit:
    """Return the kit for a set in a folder: what ships, under the user's own entries.

    Raises
    ------
    SetupError
        When a kit file cannot be used; lists every mistake in it.
    """
    kit = Kit()
    for file in reversed(own_files(folder)):
        kit = Kit((shelf_of(file, kit), *kit.own))
    return kit


def shelf_of(file: Path, below: Kit) -> Shelf:
    """Return the entries of a kit file.

    Parameters
    ----------
    file
        A TOML file of at most 5 MB, in UTF-8.
    below
        Where `like` looks when the file itself has no entry of that name.

    Raises
    ------
    SetupError
        When the file cannot be used; lists every mistake.
    """
    text = text_of(file, "kit file")
    raw = parsed(text, str(file))
    findings = list(_misplaced(raw))
    shelf: dict[str, Mapping[str, Entry]] = {}
    for kind in (one for one in KINDS if isinstance(raw.get(one), dict)):
        drawer = _drawer(kind, raw[kind], below, file)
        findings += drawer.findings()
        if not findings:
            shelf[kind] = MappingProxyType({name: drawer.entry(name) for name in drawer.tables})
    if findings:
        raise SetupError(placed(findings, str(file), text))
    return MappingProxyType(shelf)


def _misplaced(raw: Mapping[str, Any]) -> Iterator[Finding]:
    """Say what stands in a kit file without being an entry of a kind."""
    for kind, tables in raw.items():
        here: KeyPath = (kind,)
        if kind not in KINDS:
            yield here, said_key(here), unknown_key(kind, list(KINDS))
        elif not isinstance(tables, dict):
            yield here, kind, f'found {found(tables)}; tables written [{kind}."a name"] would fit'
        elif len(tables) > _MOST_ENTRIES:
            yield here, kind, f"found {len(tables)} entries; up to {_MOST_ENTRIES} would fit"
        else:
            for name, table in tables.items():
                if not isinstance(table, dict):
                    words = f'found {found(table)}; a table written [{kind}."a name"] would fit'
                    yield (kind, name), _said(kind, name), words


def _said(kind: str, name: str, key: str = "") -> str:
    """Return a key as the file writes it: materials."my soap".n."""
    whole = f"{kind}.{found(name)}"
    return f"{whole}.{key}" if key else whole


class _Lost(ValueError):
    """An entry is like something that cannot be found. about: the table whose mistake it is; said once, there."""

    def __init__(self, about: str, sentence: str) -> None:
        self.about = about
        super().__init__(sentence)


def _drawer(kind: str, raw: Mapping[str, Any], below: Kit, file: Path) -> _Drawer:
    tables = {name: table for name, table in list(raw.items())[:_MOST_ENTRIES] if isinstance(table, dict)}
    homes: dict[str, str] = {}
    for name, table in tables.items():
        for one in (name, *_texts(table.get("also"))):
            homes.setdefault(plain_name(one), name)
    return _Drawer(kind, tables, homes, below, file)


def _texts(value: object) -> list[str]:
    return [one for one in value if isinstance(one, str)] if isinstance(value, list) else []


@dataclass(frozen=True)
class _Drawer:
    """The tables of one kind in a kit file. homes: the table that answers to each name."""

    kind: str
    tables: Mapping[str, dict[str, Any]]
    homes: Mapping[str, str]
    below: Kit
    file: Path

    def entry(self, name: str) -> Entry:
        """Return the entry that a faultless table describes."""
        table = self.tables[name]
        like = f", after {found(table['like'])}" if "like" in table else ""
        return Entry(
            kind=self.kind,
            name=name,
            title=table.get("title", name),
            good_for=table.get("good_for", ""),
            status=table.get("status", OWN),
            source=table.get("source", _SOURCE + like),
            also=tuple(table.get("also", ())),
            values=MappingProxyType({**self.begun_with(name), **self._placed(name)}),
            file=self.file,
        )

    def begun_with(self, name: str) -> dict[str, Any]:
        """Return the values that a table takes over from what it is like.

        Raises
        ------
        _Lost
            When that is not in the kit, or leads back to the table itself.
        """
        passed = [name]
        taken: dict[str, Any] = {}
        while "like" in self.tables[passed[-1]]:
            like = self.tables[passed[-1]]["like"]
            if not isinstance(like, str):
                raise _Lost(passed[-1], f"found {found(like)}; the name of an entry in quotes would fit")
            home = self.homes.get(plain_name(like))
            if home is None or home == passed[-1]:
                return {**self._from_below(passed[-1], like), **taken}
            if home in passed:
                raise self._circle([*passed[passed.index(home) :], home])
            if len(passed) >= _LONGEST_CHAIN:
                words = f"found more than {_LONGEST_CHAIN} entries each like the next; fewer would fit"
                raise _Lost(name, words)
            taken = {**self._placed(home), **taken}
            passed.append(home)
        return taken

    def _placed(self, name: str) -> dict[str, Any]:
        """Return what a table itself gives to a set, with the files that it names beside the kit file."""
        folder = self.file.parent.absolute()
        return {key: _beside(value, folder) for key, value in values_of(self.tables[name]).items()}

    def _from_below(self, name: str, like: str) -> Mapping[str, Any]:
        entry = self.below.find(self.kind, like)
        if entry is not None:
            return entry.values
        near = self.below.nearest([self.kind], like)
        listed = f"see `throughlight kit {self.kind}`" if near is None else f'the kit has "{near}"'
        raise _Lost(name, f"found {found(like)}, which is not among the {self.kind} of the kit; {listed}")

    def _circle(self, way: list[str]) -> _Lost:
        first = next(name for name in self.tables if name in way)
        said = " → ".join(found(one) for one in way)
        return _Lost(first, f"found {said}, which leads back to itself; an entry that is like no other would end it")

    def findings(self) -> list[Finding]:
        """Return all that is wrong with the tables."""
        return [one for name, table in self.tables.items() for one in self._findings_in(name, table)]

    def _findings_in(self, name: str, table: Mapping[str, Any]) -> Iterator[Finding]:
        path = (self.kind, name)
        if not 0 < len(name) <= _LONGEST_NAME or not name.isprintable() or not plain_name(name):
            words = f"found {found(name)}; a name of up to {_LONGEST_NAME} letters on one line would fit"
            yield path, _said(self.kind, name), words
        for key, words in self._taken_names(name):
            yield (*path, key), _said(self.kind, name, key), words
        begun: dict[str, Any] | None = None
        try:
            begun = self.begun_with(name)
        except _Lost as trouble:
            if trouble.about == name:
                yield (*path, "like"), _said(self.kind, name, "like"), str(trouble)
        with using(self.below):
            wrong = list(unfit(self.kind, table, begun, self.file.parent))
        for inside, key, words in wrong:
            yield (*path, *inside), _said(self.kind, name, key), words

    def _taken_names(self, name: str) -> Iterator[tuple[str, str]]:
        for key, one in [("", name), *(("also", one) for one in _texts(self.tables[name].get("also")))]:
            home = self.homes[plain_name(one)]
            if home != name:
                words = f"found {found(one)} a second time (first in {_said(self.kind, home)})"
                yield key, f"{words}; a name of its own would fit"


def names_a_file(value: str) -> bool:
    """Return whether a text of a kit file names a file, whatever its key."""
    return len(value) <= LONGEST_TEXT and _FILE_NAME.fullmatch(value) is not None


def _beside(value: object, folder: Path, levels: int = 8) -> object:
    """Return a value with the files that it names, down to some levels of tables, placed in a folder."""
    if isinstance(value, str):
        return str(folder / value) if names_a_file(value) else value
    if isinstance(value, list) and levels > 0:
        return [_beside(one, folder, levels - 1) for one in value]
    if isinstance(value, dict) and levels > 0:
        return {key: _beside(one, folder, levels - 1) for key, one in value.items()}
    return value
