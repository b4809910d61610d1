"""Where in the text each key of a TOML file stands: a small scanner beside the standard parser, which forgets places.

It reads only text that `tomllib` has accepted, so that it may be careless about everything that is not a key, a
header, a bracket or a string. A path is a tuple of keys and array indices, as in ("head", 1, "at", 2).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_INLINE_BLANK = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}\n#]*")
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}
_ESCAPE = re.compile(r"\\(?:u([0-9a-fA-F]{4})|U([0-9a-fA-F]{8})|(.))", re.DOTALL)


class Position(NamedTuple):
    """Line and column, counted from 1."""

    line: int
    column: int


def positions(text: str) -> dict[Path, Position]:
    """Return where each key, header and array element stands.

    Parameters
    ----------
    text
        TOML that `tomllib.loads` accepts.

    Raises
    ------
    RecursionError
        If arrays or inline tables are nested too deeply.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.spots()


class Statement(NamedTuple):
    """A header, or a key with its value: from which to which offset in the text, and the path that it is about."""

    path: Path
    begin: int
    end: int
    is_header: bool


class Layout(NamedTuple):
    """How a text is laid out: its statements in order, and the offsets between which the value of each path stands.

    A path written as a table under a header of its own, or by dotted keys, has no value of its own.
    """

    statements: tuple[Statement, ...]
    values: Mapping[Path, tuple[int, int]]


def layout(text: str) -> Layout:
    """Return where statements and values begin and end.

    Parameters
    ----------
    text
        TOML that `tomllib.loads` accepts.

    Raises
    ------
    RecursionError
        If arrays or inline tables are nested too deeply.
    """
    scanner = _Scanner(text)
    scanner.document()
    return Layout(tuple(scanner.statements), scanner.values)


def nearest_position(path: Path, where: Mapping[Path, Position]) -> Position:
    """Return the position of a path or of the closest thing around it; line 0 if there is none."""
    for length in range(len(path), 0, -1):
        if path[:length] in where:
            return where[path[:length]]
    return Position(0, 0)


class _Scanner:
    """Walks the text once, noting the offset at which each path begins."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.offsets: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.values: dict[Path, tuple[int, int]] = {}
        self.statements: list[Statement] = []

    def spots(self) -> dict[Path, Position]:
        """Turn offsets into lines and columns, in one pass."""
        line, begin, done = 1, 0, 0
        spots: dict[Path, Position] = {}
        for path, offset in sorted(self.offsets.items(), key=lambda item: item[1]):
            line += self.text.count("\n", done, offset)
            begin = max(begin, self.text.rfind("\n", 0, offset) + 1)
            done = offset
            spots[path] = Position(line, offset - begin + 1)
        return spots

    def document(self) -> None:
        """Read headers and assignments to the end."""
        table: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            begin, is_header = self.at, self.text[self.at] == "["
            if is_header:
                table = path = self.header()
            else:
                path = self.assignment(table)
            self.statements.append(Statement(path, begin, self.at, is_header))
            self.skip(_BLANK)

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def note(self, path: Path, offset: int) -> None:
        self.offsets.setdefault(path, offset)

    def header(self) -> Path:
        """Read [table] or [[table]] and return its path."""
        begin = self.at
        repeated = self.text.startswith("[[", self.at)
        self.at += 2 if repeated else 1
        keys = self.dotted_key()
        self.at += 2 if repeated else 1
        path: Path = ()
        for key in keys[:-1]:
            path = self.inside((*path, key))
            self.note(path, begin)
        path = (*path, keys[-1])
        self.note(path, begin)
        if repeated:
            self.counts[path] = self.counts.get(path, -1) + 1
            path = self.inside(path)
            self.note(path, begin)
        return path

    def inside(self, path: Path) -> Path:
        """Return the path of the latest element if the path names an array of tables."""
        return (*path, self.counts[path]) if path in self.counts else path

    def dotted_key(self) -> list[str]:
        """Return the parts of a key, which dots may join."""
        keys = []
        while True:
            self.skip(_INLINE_BLANK)
            keys.append(self.key())
            self.skip(_INLINE_BLANK)
            if self.at >= len(self.text) or self.text[self.at] != ".":
                return keys
            self.at += 1

    def key(self) -> str:
        """Return one key, quoted or bare."""
        if self.text[self.at] in "\"'":
            return _unquoted(self.skip(_STRING))
        return self.skip(_BARE_KEY)

    def assignment(self, table: Path) -> Path:
        """Read key = value and return the key's path."""
        begin = self.at
        keys = self.dotted_key()
        self.at += 1  # the equals sign
        path = table
        for key in keys:
            path = (*path, key)
            self.note(path, begin)
        self.skip(_INLINE_BLANK)
        self.value(path)
        return path

    def value(self, path: Path) -> None:
        """Pass over one value and note where it and its parts stand."""
        begin = self.at
        opening = self.text[self.at : self.at + 1]
        if opening == "[":
            self.array(path)
        elif opening == "{":
            self.inline_table(path)
        elif opening in ('"', "'"):
            self.skip(_STRING)
        else:
            scalar = self.skip(_SCALAR)
            self.at -= len(scalar) - len(scalar.rstrip())
        self.values[path] = (begin, self.at)

    def array(self, path: Path) -> None:
        """Pass over an array and note each item under its number."""
        self.at += 1
        index = 0
        self.skip(_BLANK)
        while self.text[self.at] != "]":
            self.note((*path, index), self.at)
            self.value((*path, index))
            self.skip(_BLANK)
            if self.text[self.at] == ",":
                self.at += 1
                self.skip(_BLANK)
            index += 1
        self.at += 1

    def inline_table(self, path: Path) -> None:
        """Pass over an inline table and note each of its keys."""
        self.at += 1
        self.skip(_BLANK)
        while self.text[self.at] != "}":
            self.assignment(path)
            self.skip(_BLANK)
            if self.text[self.at] == ",":
                self.at += 1
                self.skip(_BLANK)
        self.at += 1


def _unquoted(quoted: str) -> str:
    """Return the key that a quoted key stands for."""
    if quoted.startswith("'"):
        return quoted[1:-1]
    return _ESCAPE.sub(_escaped, quoted[1:-1])


def _escaped(match: re.Match[str]) -> str:
    short, long, letter = match.groups()
    code = short if short is not None else long
    return chr(int(code, 16)) if code is not None else _ESCAPES.get(letter, letter)
