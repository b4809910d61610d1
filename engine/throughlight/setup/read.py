"""From a setup file to a checked `Setup`, or to every mistake in it at once. Nothing in a file is ever executed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.positions import Position, nearest_position, positions
from throughlight.setup.whole import LISTS, Setup, numbered
from throughlight.setup.words import Path as KeyPath
from throughlight.setup.words import said_key, sentence

MOST_BYTES = 5_000_000
_MOST_MISTAKES = 100
_PLACE = re.compile(r"\s*\(at line (\d+), column (\d+)\)|\s*\(at end of document\)")


def load(path: str | Path) -> Setup:
    """Read a set from a setup file; files it names are looked for beside it.

    Parameters
    ----------
    path
        A TOML file of at most 5 MB, in UTF-8.

    Returns
    -------
    Setup
        The checked set, in SI units.

    Raises
    ------
    SetupError
        When the file cannot be used; lists every mistake.
    """
    file = Path(path)
    return loads(_text_of(file), name=str(path), folder=file.parent)


def _text_of(file: Path) -> str:
    try:
        if file.is_dir():
            raise _whole_file(file, "found a folder; a setup file (TOML) would fit")
        with file.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as trouble:
        if isinstance(trouble, SetupError):
            raise
        reason = trouble.strerror if isinstance(trouble, OSError) and trouble.strerror else str(trouble)
        raise _whole_file(file, f"the file cannot be read ({reason}); a setup file (TOML) would fit") from None
    if len(content) > MOST_BYTES:
        raise _whole_file(file, f"found more than {MOST_BYTES // 10**6} MB; a smaller setup file would fit")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = content.count(b"\n", 0, trouble.start) + 1
        message = f"found bytes that are not UTF-8 (byte {trouble.start}); text saved as UTF-8 would fit"
        raise SetupError([Mistake(str(file), line, 1, "", message)]) from None


def _whole_file(file: Path, message: str) -> SetupError:
    name = "".join(c if c.isprintable() else "�" for c in str(file))[:300]
    return SetupError([Mistake(name, 0, 0, "", message)])


def loads(text: str, name: str = "<text>", folder: Path | None = None) -> Setup:
    """Read a set from text.

    Parameters
    ----------
    text
        TOML, as a setup file holds it.
    name
        What mistakes call the file.
    folder
        Where files named in the text are looked for; the working folder when left out.

    Returns
    -------
    Setup
        The checked set, in SI units.

    Raises
    ------
    SetupError
        When the text cannot be used; lists every mistake.
    """
    raw = numbered(_parsed(text, name))
    where = _positions_of(text)
    context = {"folder": Path() if folder is None else folder}
    try:
        setup = Setup.model_validate(raw, context=context)
    except ValidationError as trouble:
        findings = _findings(trouble, raw)
    else:
        findings = []
    findings += _whole_set_findings(raw, findings, context)
    if findings:
        raise SetupError(_mistakes(findings, name, where))
    return setup


Finding = tuple[KeyPath, str, str]
"""Path in the file, key as said, words."""


def _parsed(text: str, name: str) -> dict[str, Any]:
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


def _findings(trouble: ValidationError, raw: dict[str, Any]) -> list[Finding]:
    errors = trouble.errors(include_url=False)
    said = (sentence(error, raw, Setup) for error in errors)
    return [one for one in said if one is not None]


def _whole_set_findings(raw: dict[str, Any], before: list[Finding], context: dict[str, Any]) -> list[Finding]:
    """Return what is wrong between the tables, looking only at those that are right in themselves."""
    from throughlight.setup.checks import between_tables

    rest, home = _without_faulty(raw, [path for path, _, _ in before])
    try:
        setup = Setup.model_validate(rest, context=context)
    except (ValidationError, RecursionError):
        return []
    found = []
    for path, words in between_tables(setup):
        there = home.get(path[:2], path[:2]) + path[2:]
        found.append((there, said_key(there), words))
    return found


def _without_faulty(raw: dict[str, Any], faulty: list[KeyPath]) -> tuple[dict[str, Any], dict[KeyPath, KeyPath]]:
    """Return the file without its faulty tables, and where each remaining element of a list really stands."""
    rest: dict[str, Any] = {}
    home: dict[KeyPath, KeyPath] = {}
    whole = {path[0] for path in faulty if path and (not isinstance(raw.get(str(path[0])), list) or len(path) == 1)}
    single = {path[:2] for path in faulty}
    for key, value in raw.items():
        if key in whole:
            continue
        if key in LISTS and not isinstance(value, list):
            home[(key, 0)] = (key,)
        elif key in LISTS:
            kept = [i for i in range(len(value)) if (key, i) not in single]
            home |= {(key, new): (key, old) for new, old in enumerate(kept)}
            value = [value[i] for i in kept]
        rest[key] = value
    return rest, home


def _mistakes(findings: list[Finding], name: str, where: dict[KeyPath, Position]) -> list[Mistake]:
    """Place the findings in the file, in its order."""
    placed = []
    for path, key, words in findings:
        position = nearest_position(path, where)
        if position.line == 0:
            position = Position(1, 1)
        placed.append(Mistake(name, position.line, position.column, key, words))
    placed.sort(key=lambda mistake: (mistake.line, mistake.column))
    if len(placed) > _MOST_MISTAKES:
        more = Mistake(name, 0, 0, "", f"and {len(placed) - _MOST_MISTAKES} mistakes more")
        placed = [*placed[:_MOST_MISTAKES], more]
    return placed
