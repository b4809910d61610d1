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

from pydantic import ValidationError

from throughlight.kit import BOOKKEEPING, KINDS, OWN, STATUSES, Entry, Kit, Shelf, plain_name, using
from throughlight.kit.places import own_files
from throughlight.setup.base import Part
from throughlight.setup.camera import Camera
from throughlight.setup.heads import Head
from throughlight.setup.kind import found
from throughlight.setup.material import Material
from throughlight.setup.mistakes import SetupError
from throughlight.setup.surfaces import Surface
from throughlight.setup.text import Finding, parsed, placed, text_of
from throughlight.setup.words import Path as KeyPath
from throughlight.setup.words import keys_of, said_key, sentence, unknown_key

_MOST_ENTRIES = 1000
_LONGEST_CHAIN = 20
_LONGEST_NAME = 80
_LONGEST_TEXT = 1000
_SOURCE = "your own kit file"
_FILE_NAME = re.compile(r".*\.(?:ies|stl|obj|ply|glb|svg|png|jpe?g|tiff?|webp|bmp|exr)", re.IGNORECASE)
"""A value that names a file, whatever its key."""


@dataclass(frozen=True)
class _Use:
    """What an entry becomes, what a set would say beside it, and the keys that are the set's to say."""

    model: type[Part]
    beside: Mapping[str, Any]
    of_the_set: tuple[str, ...] = ("name",)


_MODIFIED = {"at": ["1 m", "0 m", "0 m"], "energy": "100 J"}
_WITH_A_LENS = {"focal": "50 mm", "f_number": 8, "shutter": "1 s", "iso": 100, "at": ["0 m", "0 m", "1 m"]}
_USES = {
    "bodies": _Use(Camera, _WITH_A_LENS, ("name", "body", *_WITH_A_LENS)),
    "modifiers": _Use(Head, _MODIFIED, ("name", "modifier", "aim", "meter", "guide_number", *_MODIFIED)),
    "surfaces": _Use(Surface, {}),
    "cloths": _Use(Surface, {}),
    "materials": _Use(Material, {}),
}
"""What the entries of each kind are checked as; a kind without a row is checked where a set names its entries."""


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
    """An entry is like something that cannot be found; the message is the sentence."""


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
                raise _Lost(f"found {found(like)}; the name of an entry in quotes would fit")
            home = self.homes.get(plain_name(like))
            if home is None or home == passed[-1]:
                return {**self._from_below(like), **taken}
            if home in passed or len(passed) >= _LONGEST_CHAIN:
                raise _Lost(self._circle([*passed, home]))
            taken = {**self._placed(home), **taken}
            passed.append(home)
        return taken

    def _placed(self, name: str) -> dict[str, Any]:
        """Return what a table itself gives to a set, with the files that it names beside the kit file."""
        folder = self.file.parent.absolute()
        return {key: _beside(value, folder) for key, value in _values(self.tables[name]).items()}

    def _from_below(self, like: str) -> Mapping[str, Any]:
        entry = self.below.find(self.kind, like)
        if entry is not None:
            return entry.values
        near = self.below.nearest([self.kind], like)
        listed = f"see `throughlight kit {self.kind}`" if near is None else f'the kit has "{near}"'
        raise _Lost(f"found {found(like)}, which is not among the {self.kind} of the kit; {listed}")

    @staticmethod
    def _circle(passed: list[str]) -> str:
        if passed[-1] not in passed[:-1]:
            return f"found a chain of more than {_LONGEST_CHAIN} entries like one another; a shorter one would fit"
        way = " → ".join(found(one) for one in passed[passed.index(passed[-1]) :])
        return f"found {way}, which leads back to itself; an entry that is like no other would end it"

    def findings(self) -> list[Finding]:
        """Return all that is wrong with the tables."""
        return [one for name, table in self.tables.items() for one in self._findings_in(name, table)]

    def _findings_in(self, name: str, table: Mapping[str, Any]) -> Iterator[Finding]:
        path = (self.kind, name)
        if not 0 < len(name) <= _LONGEST_NAME or not name.isprintable() or not plain_name(name):
            words = f"found {found(name)}; a name of up to {_LONGEST_NAME} letters on one line would fit"
            yield path, _said(self.kind, name), words
        for key, words in [*_bookkeeping(table), *self._taken_names(name), *self._of_the_set(table)]:
            yield (*path, key), _said(self.kind, name, key), words
        try:
            begun = self.begun_with(name)
        except _Lost as trouble:
            yield (*path, "like"), _said(self.kind, name, "like"), str(trouble)
        else:
            yield from self._unusable(name, begun)

    def _taken_names(self, name: str) -> Iterator[tuple[str, str]]:
        for key, one in [("", name), *(("also", one) for one in _texts(self.tables[name].get("also")))]:
            home = self.homes[plain_name(one)]
            if home != name:
                words = f"found {found(one)} a second time (first in {_said(self.kind, home)})"
                yield key, f"{words}; a name of its own would fit"

    def _of_the_set(self, table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        for key in _USES[self.kind].of_the_set if self.kind in _USES else ():
            if key in table:
                yield key, f"found {found(key)}, which is for the set to say; an entry without it would fit"

    def _unusable(self, name: str, begun: Mapping[str, Any]) -> Iterator[Finding]:
        """Check a table as what it is for; what it took over is reported where it stands."""
        use = _USES.get(self.kind)
        if use is None:
            return
        own = {key: value for key, value in _values(self.tables[name]).items() if key not in use.of_the_set}
        whole = {**use.beside, **begun, **own}
        try:
            with using(self.below):
                use.model.model_validate(whole, context={"folder": self.file.parent})
        except ValidationError as trouble:
            for error in trouble.errors(include_url=False):
                first = error["loc"][0] if error["loc"] else None
                if first in begun and first not in own:
                    continue
                said = sentence(error, whole, use.model)
                if error["type"] == "extra_forbidden" and len(error["loc"]) == 1:
                    keys = [key for key in keys_of([use.model]) if key not in use.of_the_set]
                    said = (str(first),), str(first), unknown_key(str(first), [*BOOKKEEPING, "like", *keys])
                if said is not None:
                    path, key, words = said
                    yield (self.kind, name, *path), _said(self.kind, name, key), words


def _values(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a table gives to a set."""
    return {key: value for key, value in table.items() if key not in (*BOOKKEEPING, "like")}


def _bookkeeping(table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key in ("title", "good_for", "source"):
        text = table.get(key, "")
        if not isinstance(text, str) or len(text) > _LONGEST_TEXT:
            yield key, f"found {found(text)}; a text in quotes of up to {_LONGEST_TEXT} characters would fit"
    known = (*STATUSES, OWN)
    if table.get("status", OWN) not in known:
        yield "status", f"found {found(table['status'])}; one of {', '.join(known)} would fit"
    also = table.get("also", [])
    if not isinstance(also, list) or len(_texts(also)) != len(also):
        yield "also", f'found {found(also)}; a list of names such as ["soap", "clear soap"] would fit'


def _beside(value: object, folder: Path) -> object:
    """Return a value with the files that it names placed in a folder."""
    if isinstance(value, str):
        return str(folder / value) if len(value) <= _LONGEST_TEXT and _FILE_NAME.fullmatch(value) else value
    if isinstance(value, list):
        return [_beside(one, folder) for one in value]
    return {key: _beside(one, folder) for key, one in value.items()} if isinstance(value, dict) else value
