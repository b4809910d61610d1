"""From a setup file to a checked `Setup`, or to every mistake in it at once. Nothing in a file is ever executed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from throughlight.kit import Kit, using
from throughlight.setup.mistakes import SetupError
from throughlight.setup.own_kit import kit_for
from throughlight.setup.text import Finding, parsed, placed, text_of
from throughlight.setup.whole import LISTS, Setup, numbered
from throughlight.setup.words import Path as KeyPath
from throughlight.setup.words import said_key, sentence


def load(path: str | Path) -> Setup:
    """Read a set from a setup file; files it names, and a kit file of the user's own, are looked for beside it.

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
        When the file, or a kit file, cannot be used; lists every mistake.
    """
    file = Path(path)
    return loads(text_of(file, "setup file"), name=str(path), folder=file.parent)


def loads(text: str, name: str = "<text>", folder: Path | None = None) -> Setup:
    """Read a set from text.

    Parameters
    ----------
    text
        TOML, as a setup file holds it.
    name
        What mistakes call the file.
    folder
        Where files named in the text, and a `kit.toml`, are looked for; the working folder when left out.

    Returns
    -------
    Setup
        The checked set, in SI units.

    Raises
    ------
    SetupError
        When the text cannot be used; lists every mistake.
    """
    beside = Path() if folder is None else folder
    raw = numbered(parsed(text, name))
    setup, findings = checked(raw, beside, kit_for(beside))
    if setup is None:
        raise SetupError(placed(findings, name, text))
    return with_calibration(setup, beside, name)


def checked(raw: dict[str, Any], folder: Path, kit: Kit) -> tuple[Setup | None, list[Finding]]:
    """Return the set that the tables of a file describe, or None and everything that is wrong with them.

    Parameters
    ----------
    raw
        The tables, with a name for each thing (`whole.numbered`).
    folder
        Where files named in them are looked for.
    kit
        The kit in which names are looked up.
    """
    context = {"folder": folder}
    findings: list[Finding] = []
    with using(kit):
        try:
            setup = Setup.model_validate(raw, context=context)
        except ValidationError as trouble:
            findings = _findings(trouble, raw)
        else:
            if not _between(setup):
                return setup, []
        return None, findings + _whole_set_findings(raw, findings, context)


def read_again(raw: Mapping[str, Any], before: Mapping[str, Any], known: Setup, folder: Path, kit: Kit) -> Setup | None:
    """Return the set that some tables describe; tables that a set read before has too are taken from there.

    What is wrong between the tables is not looked for.

    Parameters
    ----------
    raw
        The tables.
    before, known
        The tables of the other set, and what was read in them. What is the same object in both is not read anew.
    folder, kit
        As of `checked`.

    Returns
    -------
    Setup or None
        None when there is a mistake, which `checked` tells.
    """
    shared = {key: _shared(value, before[key], _read_as(known, key)) for key, value in raw.items() if key in before}
    with using(kit):
        try:
            return Setup.model_validate({**raw, **shared}, context={"folder": folder})
        except ValidationError:
            return None


def _read_as(known: Setup, key: str) -> Any:  # noqa: ANN401 - any table of a set
    """Return what was read under a key of the file."""
    return getattr(known, f"{key}s" if key in LISTS else key, None)


def _shared(value: object, before: object, known: Any) -> object:  # noqa: ANN401 - any table of a set
    """Return a value with what is the same object as before put in as it was read."""
    if value is before:
        return value if known is None else known
    if not (isinstance(value, list) and isinstance(before, list) and isinstance(known, tuple)):
        return value
    read = {id(one): part for one, part in zip(before, known, strict=True)}
    return [read.get(id(one), one) for one in value]


def with_calibration(setup: Setup, folder: Path, name: str) -> Setup:
    """Return the set with the calibration file that it names, if it does, taken in.

    Raises
    ------
    SetupError
        When the calibration file cannot be used, or does not fit the set.
    """
    if setup.calibration is None:
        return setup
    from throughlight.setup.calibration import calibrated

    return calibrated(setup, folder, name)


def _findings(trouble: ValidationError, raw: dict[str, Any]) -> list[Finding]:
    errors = trouble.errors(include_url=False)
    said = (sentence(error, raw, Setup) for error in errors)
    return [one for one in said if one is not None]


def _whole_set_findings(raw: dict[str, Any], before: list[Finding], context: dict[str, Any]) -> list[Finding]:
    """Return what is wrong between the tables, looking only at those that are right in themselves."""
    rest, home = _without_faulty(raw, [path for path, _, _ in before])
    try:
        setup = Setup.model_validate(rest, context=context)
    except (ValidationError, RecursionError):
        return []
    found = []
    for path, words in _between(setup):
        there = home.get(path[:2], path[:2]) + path[2:]
        found.append((there, said_key(there), words))
    return found


def _between(setup: Setup) -> list[tuple[KeyPath, str]]:
    from throughlight.setup.checks import between_tables

    return between_tables(setup)


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
