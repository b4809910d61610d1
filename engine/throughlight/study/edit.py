"""A setup file's text changed in place: values replaced, added and taken out, every comment kept.

What is taken out as lines of its own stays in the file as a comment, so that a person sees what stood there and can
bring it back. Paths and positions are those of `setup.positions`: lists count from 0.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from throughlight.setup.positions import Layout, Statement, layout
from throughlight.setup.words import Path
from throughlight.study.keys import OUT, Edit, in_order, value_at

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_COMMA = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*,")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def toml_key(key: str) -> str:
    """Return a key as TOML writes it."""
    return key if _BARE.fullmatch(key) else toml_value(key)


def toml_value(value: Any) -> str:  # noqa: ANN401 - any TOML value
    """Return a value as TOML writes it, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = "".join(_ESCAPES.get(c, c if c >= " " and c != "\x7f" else f"\\u{ord(c):04X}") for c in value)
        return f'"{text}"'
    if isinstance(value, Mapping):
        inner = ", ".join(f"{toml_key(key)} = {toml_value(one)}" for key, one in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(one) for one in value)}]"
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)


def edited(text: str, edits: Iterable[Edit]) -> str:
    """Return a setup file's text with values changed.

    Parameters
    ----------
    text
        TOML that `tomllib.loads` accepts.
    edits
        Paths, counted as in `text`, and TOML values, or `OUT` for what is taken out. The table round a path stands in
        the text.
    """
    for path, value in in_order(edits):
        laid_out = layout(text)
        if value is OUT:
            text = _without(text, laid_out, path)
            table = path[:-1]
            if table and isinstance(path[-1], str) and value_at(table, tomllib.loads(text)) is None:
                text = _with(text, layout(text), table, {})  # nothing is left in it, but it is there
        elif path in laid_out.values:
            text = _spliced(text, *laid_out.values[path], toml_value(value))
        elif isinstance(path[-1], int):
            text = _refilled(text, laid_out, path, value)
        else:
            if value_at(path, tomllib.loads(text)) is not None:  # as a table of its own, or by dotted keys
                text = _without(text, laid_out, path)
            text = _with(text, layout(text), path, value)
    return text


def _spliced(text: str, begin: int, end: int, new: str) -> str:
    return text[:begin] + new + text[end:]


def _about(laid_out: Layout, path: Path) -> list[Statement]:
    """Return the statements that say something at a path or inside of it."""
    return [one for one in laid_out.statements if one.path[: len(path)] == path]


def _line_begin(text: str, at: int) -> int:
    return text.rfind("\n", 0, at) + 1


def _line_end(text: str, at: int) -> int:
    end = text.find("\n", at)
    return len(text) if end < 0 else end


def _without(text: str, laid_out: Layout, path: Path) -> str:
    """Take out a key, a table or an element of a list."""
    statements = _about(laid_out, path)
    if statements:
        for one in reversed(statements):
            begin, end = _line_begin(text, one.begin), _line_end(text, one.end)
            text = _spliced(text, begin, end, _commented(text[begin:end]))
        return text
    if isinstance(path[-1], int):
        begin, end = laid_out.values[path]
        comma = _COMMA.match(text, end)
        # The comma before the last element may stay: an array bears one more at its end.
        return _spliced(text, begin, end if comma is None else comma.end(), "")
    table = dict(value_at(path[:-1], tomllib.loads(text)))
    table.pop(path[-1])
    return _spliced(text, *laid_out.values[path[:-1]], toml_value(table))


def _refilled(text: str, laid_out: Layout, path: Path, table: Mapping[str, Any]) -> str:
    """Put other keys under the header of an element of a list of tables."""
    for key in dict.fromkeys(one.path[len(path)] for one in _about(laid_out, path) if len(one.path) > len(path)):
        text = _without(text, layout(text), (*path, key))
    for key, value in table.items():
        text = _with(text, layout(text), (*path, key), value)
    return text


def _commented(lines: str) -> str:
    return "\n".join(f"# {line}" if line.strip() else f"#{line}" for line in lines.split("\n"))


def _with(text: str, laid_out: Layout, path: Path, value: Any) -> str:  # noqa: ANN401
    """Write a key that the text doesn't have into its table."""
    outer = next((path[:k] for k in range(len(path) - 1, 0, -1) if path[:k] in laid_out.values), None)
    if outer is not None:
        begin, end = laid_out.values[outer]
        inside = text[begin + 1 : end - 1]
        at = begin + 1 + len(inside.rstrip())
        comma = "," if inside.strip() else ""
        key = ".".join(toml_key(str(step)) for step in path[len(outer) :])
        return _spliced(text, at, end - 1, f"{comma} {key} = {toml_value(value)} ")
    return _with_line(text, laid_out, path, value)


def _with_line(text: str, laid_out: Layout, path: Path, value: Any) -> str:  # noqa: ANN401
    """Write a key on a line of its own, behind the last key of its table."""
    statements = laid_out.statements
    headers = {one.path: i for i, one in enumerate(statements) if one.is_header}
    home = next((path[:k] for k in range(len(path) - 1, 0, -1) if path[:k] in headers), ())
    inner = [one for one in statements if one.is_header and one.path[: len(path) - 1] == path[:-1]]
    assignment = f"{'.'.join(toml_key(str(step)) for step in path[len(home) :])} = {toml_value(value)}"
    if len(home) < len(path) - 1 and inner:  # its table is there through tables inside of it only
        header = f"[{'.'.join(toml_key(str(step)) for step in path[:-1] if isinstance(step, str))}]"
        begin = _line_begin(text, inner[0].begin)
        return _spliced(text, begin, begin, f"{header}\n{toml_key(str(path[-1]))} = {toml_value(value)}\n\n")
    last = _last_key_of(statements, headers.get(home, -1))
    if last is None:
        begin = _line_begin(text, statements[0].begin) if statements else len(text)
        return _spliced(text, begin, begin, f"{assignment}\n")
    begin, end = _line_begin(text, last.begin), _line_end(text, last.end)
    indent = text[begin : last.begin]
    newline = "\r\n" if text[:end].endswith("\r") else "\n"
    at = end - (len(newline) - 1)
    return _spliced(text, at, at, f"{newline}{indent}{assignment}")


def _last_key_of(statements: Sequence[Statement], header: int) -> Statement | None:
    """Return the last statement under a header before the next one, the header itself if it has none."""
    last = None if header < 0 else statements[header]
    for one in statements[header + 1 :]:
        if one.is_header:
            break
        last = one
    return last
