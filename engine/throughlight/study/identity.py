"""What results were made from and with, so that those of a changed set, study or engine are never mixed."""

from __future__ import annotations

import difflib
import hashlib
from functools import cache
from pathlib import Path
from typing import NamedTuple

import throughlight

_ROOMS = ("optics", "trace", "stage", "photometry", "setup", "kit", "readings")
_OWN = ("batch.py", "staging.py")
_TOLD_CHANGES = 3


class Identity(NamedTuple):
    """What all rows of a study's results have in common.

    Attributes
    ----------
    study
        What of the study file decides about the candidates and what is wanted of them, as text.
    set_text
        The set's text.
    files
        SHA-256 of the content of all files that the set names.
    engine_version, engine_hash
        The engine's version, and a hash over the sources that a figure depends on.
    seed
        Start of the random numbers.
    """

    study: str
    set_text: str
    files: str
    engine_version: str
    engine_hash: str
    seed: int

    @property
    def set_hash(self) -> str:
        """Return the hash of the set with its files."""
        return hashlib.sha256(f"{self.set_text}\n{self.files}".encode()).hexdigest()[:16]

    @property
    def study_hash(self) -> str:
        """Return the hash of the study's text."""
        return hashlib.sha256(self.study.encode()).hexdigest()[:16]


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


def contents(paths: list[Path]) -> str:
    """Return a hash of what files hold; a file that cannot be read counts as empty."""
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(path.name.encode())
        try:
            digest.update(hashlib.sha256(path.read_bytes()).digest())
        except OSError:
            digest.update(b"unreadable")
    return digest.hexdigest()[:16]


def changes(before: Identity, now: Identity) -> list[str]:
    """Return in words what is not as it was; nothing when all is."""
    said = []
    if before.set_text != now.set_text:
        said.append(f"the set has changed ({_lines(before.set_text, now.set_text)})")
    elif before.files != now.files:
        said.append("a file that the set names has changed")
    if before.study != now.study:
        said.append(f"the study has changed ({_lines(before.study, now.study)})")
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
