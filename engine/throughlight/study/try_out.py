"""Whether a value fits the key of the set that it is meant for: it is put there, and the set read as always."""

from __future__ import annotations

from collections.abc import Sequence

from throughlight.setup import Setup
from throughlight.setup.read import checked
from throughlight.setup.words import Path, models_at, said_key
from throughlight.study.keys import OUT, Edit, changed
from throughlight.study.question import TheSet


def misfits(the_set: TheSet, edits: Sequence[Edit]) -> list[str]:
    """Return a sentence for each value that doesn't fit its key, whatever else is changed.

    What is only wrong between this value and others (a camera inside a card) is not among them: another candidate may
    have it right.
    """
    _, findings = checked(changed(the_set.raw, edits), the_set.folder, the_set.kit)
    paths = [path for path, value in edits if value is not OUT]
    return list(
        dict.fromkeys(
            f"as {said_key(at)} of the set: {words}"
            for at, _, words in findings
            if any(_is_about(at, path) for path in paths)
        )
    )


def _is_about(at: Path, path: Path) -> bool:
    """Return whether a finding is about a key: stands at it or in it, or at a value that it is a part of.

    A finding at a whole table is about how its keys go together.
    """
    if at[: len(path)] == path:
        return True
    return bool(at) and path[: len(at)] == at and not models_at(at, Setup)
