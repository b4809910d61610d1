"""What results were made from and with, so that those of a changed set, study or engine are never mixed."""

from __future__ import annotations

import difflib
import hashlib
from functools import cache
from pathlib import Path
from typing import NamedTuple

import throughlight
from throughlight.setup.text import text_of
from throughlight.study.question import Study
from throughlight.study.space import candidates, whole_key

_ROOMS = ("optics", "trace", "stage", "photometry", "setup", "kit", "readings")
_OWN = ("batch.py", "staging.py")
_TOLD_CHANGES = 3


class Identity(NamedTuple):
    """What all rows of a study's results have in common.

    Attributes
    ----------
    study_hash
        Hash of the candidates and of what is wanted of them.
    study_text
        The study file's text, to say what has changed.
    set_hash
        Hash of all that the set says, files that it names included.
    set_text
        The set's text.
    engine_version, engine_hash
        The engine's version, and a hash over the sources that a figure depends on.
    seed
        Start of the random numbers.
    """

    study_hash: str
    study_text: str
    set_hash: str
    set_text: str
    engine_version: str
    engine_hash: str
    seed: int


@cache
def engine_hash() -> str:
    """Return a hash over the sources that figures depend on, and the versions of what compiles them."""
    import numba
    import numpy as np

    digest = hashlib.sha256(f"{numba.__version__} {np.__version__}".encode())
    home = Path(throughlight.__file__).resolve().parent
    sources = [path for room in _ROOMS for path in sorted((home / room).rglob("*")) if path.suffix in (".py", ".toml")]
    for source in (*sources, *(home / "study" / name for name in _OWN)):
        digest.update(source.relative_to(home).as_posix().encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def identity_of(study: Study, seed: int) -> Identity:
    """Return the identity of a study's results.

    Raises
    ------
    SetupError
        When the study file cannot be read any more.
    """
    asked = repr((candidates(study), study.goals, study.allowed)).encode()
    return Identity(
        study_hash=hashlib.sha256(asked).hexdigest()[:16],
        study_text=text_of(study.path, "study file"),
        set_hash=whole_key(study.the_set.setup)[:16],
        set_text=study.the_set.text,
        engine_version=throughlight.__version__,
        engine_hash=engine_hash(),
        seed=seed,
    )


def changes(before: Identity, now: Identity) -> list[str]:
    """Return in words what is not as it was; nothing when all is."""
    said = []
    if before.set_hash != now.set_hash:
        same = before.set_text == now.set_text
        said.append(
            "a file that the set names has changed"
            if same
            else f"the set has changed ({_lines(before.set_text, now.set_text)})"
        )
    if before.study_hash != now.study_hash and (before.study_text != now.study_text or not said):
        said.append(f"the study has changed ({_lines(before.study_text, now.study_text)})")
    if before.engine_hash != now.engine_hash:
        versions = f"{before.engine_version} then, {now.engine_version} now"
        same = before.engine_version == now.engine_version
        said.append(f"the engine has changed ({'its sources' if same else versions})")
    if before.seed != now.seed:
        said.append(f"the seed has changed ({before.seed} then, {now.seed} now)")
    return said


def _lines(before: str, now: str) -> str:
    """Return the first lines that differ."""
    gone, come = [], []
    for line in difflib.ndiff(before.splitlines(), now.splitlines()):
        if line.startswith("- ") and line[2:].strip():
            gone.append(line[2:].strip())
        elif line.startswith("+ ") and line[2:].strip():
            come.append(line[2:].strip())
    told = [f"“{line[:80]}” is gone" for line in gone[:_TOLD_CHANGES]]
    told += [f"“{line[:80]}” is new" for line in come[:_TOLD_CHANGES]]
    more = len(gone) + len(come) - len(told)
    return "; ".join(told) + (f"; and {more} more lines" if more > 0 else "") if told else "white space or comments"
