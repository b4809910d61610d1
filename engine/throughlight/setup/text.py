"""A TOML file of a user's, read as text and parsed, or refused in a sentence. Nothing in a file is ever executed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.positions import Position, nearest_position, positions
from throughlight.setup.words import Path as KeyPath

MOST_BYTES = 5_000_000
_MOST_MISTAKES = 100
_PLACE = re.compile(r"\s*\(at line (\d+), column (\d+)\)|\s*\(at end of document\)")

Finding = tuple[KeyPath, str, str]
"""Path in the file, key as said, words."""


def text_of(file: Path, kind: str) -> str:
    """Return what stands in a file of a user's.

    Parameters
    ----------
    file
        At most 5 MB, in UTF-8.
    kind
        What it should be, as a sentence says it: "setup file", "kit file".

    Raises
    ------
    SetupError
        When the file cannot be read; says why.
    """
    try:
        if file.is_dir():
            raise _whole_file(file, f"found a folder; a {kind} (TOML) would fit")
        with file.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as trouble:
        if isinstance(trouble, SetupError):
            raise
        reason = trouble.strerror if isinstance(trouble, OSError) and trouble.strerror else str(trouble)
        raise _whole_file(file, f"the file cannot be read ({reason}); a {kind} (TOML) would fit") from None
    if len(content) > MOST_BYTES:
        raise _whole_file(file, f"found more than {MOST_BYTES // 10**6} MB; a smaller {kind} would fit")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = content.count(b"\n", 0, trouble.start) + 1
        message = f"found bytes that are not UTF-8 (byte {trouble.start}); text saved as UTF-8 would fit"
        raise SetupError([Mistake(str(file), line, 1, "", message)]) from None


def _whole_file(file: Path, message: str) -> SetupError:
    name = "".join(c if c.isprintable() else "�" for c in str(file))[:300]
    return SetupError([Mistake(name, 0, 0, "", message)])


def parsed(text: str, name: str) -> dict[str, Any]:
    """Return the tables of a TOML text.

    Parameters
    ----------
    text
        TOML.
    name
        What mistakes call the file.

    Raises
    ------
    SetupError
        When it is no TOML, or is too big or too deep.
    """
    if len(text) > MOST_BYTES:
        raise SetupError(
            [Mistake(name, 0, 0, "", f"found more than {MOST_BYTES // 10**6} MB; a smaller text would fit")]
        )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise SetupError([_syntax(str(trouble), text, name)]) from None
    except RecursionError:
        message = "found brackets nested too deeply; a flat table would fit"
        raise SetupError([Mistake(name, 0, 0, "", message)]) from None
    except ValueError:  # Python refuses to read numbers of thousands of digits
        message = "found a number with too many digits; a shorter one would fit"
        raise SetupError([Mistake(name, _line_of_longest_number(text), 1, "", message)]) from None


def _syntax(message: str, text: str, name: str) -> Mistake:
    match = _PLACE.search(message)
    words = _PLACE.sub("", message)[:200].rstrip(".")
    line, column = text.count("\n") + 1, 1
    if match is not None and match.group(1) is not None:
        line, column = int(match.group(1)), int(match.group(2))
    said = words[:1].lower() + words[1:]
    return Mistake(
        name,
        line,
        column,
        "",
        f"this is not TOML ({said}); key = value lines under [table] headers would fit",
    )


def _line_of_longest_number(text: str) -> int:
    longest = max(re.finditer(r"\d[\d_]*", text), key=lambda m: m.end() - m.start(), default=None)
    return 0 if longest is None else text.count("\n", 0, longest.start()) + 1


def _positions_of(text: str) -> dict[KeyPath, Position]:
    try:
        return positions(text)
    except (RecursionError, IndexError):
        return {}


def placed(findings: list[Finding], name: str, text: str) -> list[Mistake]:
    """Return the findings as mistakes at their places in the text, in its order.

    Parameters
    ----------
    findings
        What is wrong, by path in the file.
    name
        What mistakes call the file.
    text
        TOML that can be parsed.
    """
    where = _positions_of(text)
    mistakes = []
    for path, key, words in findings:
        position = nearest_position(path, where)
        if position.line == 0:
            position = Position(1, 1)
        mistakes.append(Mistake(name, position.line, position.column, key, words))
    mistakes.sort(key=lambda mistake: (mistake.line, mistake.column))
    if len(mistakes) > _MOST_MISTAKES:
        more = Mistake(name, 0, 0, "", f"and {len(mistakes) - _MOST_MISTAKES} mistakes more")
        mistakes = [*mistakes[:_MOST_MISTAKES], more]
    return mistakes
