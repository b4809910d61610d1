"""One candidate of a study as a setup file of its own, with the files that it names beside it and all comments kept."""

from __future__ import annotations

import errno
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from throughlight.kit.places import NAME as KIT_FILE
from throughlight.photometry.lm63 import tilt_file_named
from throughlight.setup import LampFile, Mistake, Setup, SetupError, load
from throughlight.setup.own_kit import names_a_file
from throughlight.setup.text import parsed, text_of
from throughlight.setup.whole import LISTS
from throughlight.setup.words import Path as KeyPath
from throughlight.study.edit import edited
from throughlight.study.keys import OUT, Edit, changed, value_at
from throughlight.study.question import Study
from throughlight.study.reading import setup_of
from throughlight.study.space import Candidate, candidates, whole_key

_OTHER = "stands there already with something else in it"


def take(study: Study, number: int, folder: Path) -> list[Path]:
    """Write a candidate into a folder as a setup file of its own.

    Parameters
    ----------
    study
        The study.
    number
        Of the candidate, from 1.
    folder
        Where to; made when it isn't there. Nothing in it is overwritten.

    Returns
    -------
    list of Path
        The setup file first, then the files written beside it.

    Raises
    ------
    SetupError
        When there is no such candidate, or it cannot be built.
    OSError
        When the folder cannot be written to, or a file of the same name stands there with something else in it.
    """
    chosen = candidate_of(study, number)
    setup = setup_of(study, chosen)
    copies, edits = _files(study, chosen, setup, folder)
    text = _heading(study, chosen) + edited(study.the_set.text, [*chosen.edits, *_names(study, chosen), *edits])
    target = folder / f"{study.the_set.path.stem}-{number}.toml"
    content = {target: text.encode(), **{to: source.read_bytes() for to, source in copies.items()}}
    for path, what in content.items():
        if path.exists() and path.read_bytes() != what:
            raise FileExistsError(errno.EEXIST, _OTHER, str(path))
    written = [path for path in content if not path.exists()]
    for path in written:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path in copies:
            shutil.copyfile(copies[path], path)
        else:
            path.write_bytes(content[path])
    if whole_key(load(target)) != whole_key(setup):  # the text is edited, the set is not: they have to agree
        words = f"the set written to {target} reads otherwise than the candidate; please report it"
        raise SetupError([Mistake(str(study.path), 0, 0, f"candidate {number}", words)])
    return [target, *(path for path in written if path != target)]


def candidate_of(study: Study, number: int) -> Candidate:
    """Return a candidate by its number.

    Raises
    ------
    SetupError
        When there is none.
    """
    all_of_them = candidates(study)
    if not 1 <= number <= len(all_of_them):
        words = f"there is no candidate {number}; a number from 1 to {len(all_of_them)} would fit"
        raise SetupError([Mistake(str(study.path), 0, 0, "", words)])
    return all_of_them[number - 1]


def _heading(study: Study, candidate: Candidate) -> str:
    changes = ", ".join(f"{change.name} {change.said}" for change in candidate.changes)
    said = f"Candidate {candidate.number} of {study.title} ({study.path.name}): {changes}."
    return f"# {''.join(c if c.isprintable() else ' ' for c in said)}\n"


def _names(study: Study, candidate: Candidate) -> Iterator[Edit]:
    """Return a name for each thing that would be numbered otherwise once something before it is left out."""
    in_text = parsed(study.the_set.text, str(study.the_set.path))
    gone = {path for path, value in candidate.edits if value is OUT}
    for key in LISTS:
        things = in_text.get(key)
        if not isinstance(things, list) or not any(path[:1] == (key,) and len(path) == 2 for path in gone):
            continue
        for i, thing in enumerate(things):
            name = value_at((key, i, "name"), study.the_set.raw)
            if "name" not in thing and name is not None and (key, i) not in gone:
                yield (key, i, "name"), name


def _files(study: Study, candidate: Candidate, setup: Setup, folder: Path) -> tuple[dict[Path, Path], list[Edit]]:
    """Return what to copy (to → from), and how the set names what had to move."""
    home = study.the_set.folder
    copies: dict[Path, Path] = {}
    edits: list[Edit] = []
    named = {path: path for path in _files_of(setup)}
    if (home / KIT_FILE).is_file():
        kit = home / KIT_FILE
        copies[folder / KIT_FILE] = kit
        named |= {path: path for path in _named_in(parsed(text_of(kit, "kit file"), str(kit)), home)}
    for source in named:
        if _is_inside(source, home):
            copies[folder / os.path.relpath(source, home)] = source
    for path, value in _texts_of(study, candidate):
        source = home / value
        if source in named and not Path(value).is_absolute() and not _is_inside(source, home):
            copies[folder / source.name] = source
            edits.append((path, source.name))
    return {to: source for to, source in copies.items() if not _is_same(to, source)}, edits


def _is_inside(path: Path, folder: Path) -> bool:
    return not os.path.relpath(path, folder).startswith(os.pardir)


def _is_same(to: Path, source: Path) -> bool:
    return to.exists() and to.samefile(source)


def _files_of(value: Any) -> Iterator[Path]:  # noqa: ANN401 - all that a set is made of
    """Return the files that a set is made of."""
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from _files_of(getattr(value, name))
    elif isinstance(value, LampFile):
        yield value.path
        tilt = tilt_file_named(value.path.read_text("utf-8-sig", errors="replace"))
        if tilt is not None:
            beside = value.path.parent / Path(re.sub(r".*[\\/]", "", tilt))
            yield from [beside] if beside.is_file() else []
    elif isinstance(value, Path):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from _files_of(one)


def _named_in(raw: object, home: Path) -> Iterator[Path]:
    """Return the files that the tables of a kit file name, where they are there."""
    if isinstance(raw, str):
        if names_a_file(raw) and (home / raw).is_file():
            yield home / raw
    elif isinstance(raw, Mapping | list):
        for one in raw.values() if isinstance(raw, Mapping) else raw:
            yield from _named_in(one, home)


def _texts_of(study: Study, candidate: Candidate) -> Iterator[tuple[KeyPath, str]]:
    """Return every text of a candidate's set with its path, counted as in the file."""
    raw = changed(study.the_set.raw, [edit for edit in candidate.edits if edit[1] is not OUT])
    gone = [path for path, value in candidate.edits if value is OUT]
    for path, text in _walk((), raw):
        if not any(path[: len(one)] == one for one in gone):
            yield path, text


def _walk(path: KeyPath, value: object) -> Iterator[tuple[KeyPath, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from _walk((*path, key), one)
    elif isinstance(value, list):
        for i, one in enumerate(value):
            yield from _walk((*path, i), one)
