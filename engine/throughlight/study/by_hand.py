"""The [[candidate]] tables of a study file: candidates listed by hand, each key the name of what varies."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import Any

from throughlight.setup.words import Path, unknown_key
from throughlight.study.question import How, TheSet
from throughlight.study.try_out import misfits
from throughlight.study.varied import Level, MisvariedError, Varied, listed_level, unchanged

Wrong = Callable[[Path, str], None]


def by_hand(
    raw: Mapping[str, Any],
    how: How,
    varied: Mapping[int, Varied],
    several: Collection[int],
    the_set: TheSet | None,
    wrong: Wrong,
) -> tuple[tuple[Level, ...], ...]:
    """Return the candidates listed by hand, each with a level for each varied thing.

    Parameters
    ----------
    raw
        The study file.
    how
        How the space is explored; candidates may be listed only where it says so.
    varied, several
        What varies, by the number of its table from 0; which of the tables name several keys.
    the_set
        The set, on which each value is tried; None where it cannot be used.
    wrong
        Told what is wrong, by path in the study file.
    """
    tables = raw.get("candidate", [])
    if how != "listed":
        if tables:
            wrong(("candidate",), f'found candidates listed by hand beside how = "{how}"; "listed" would fit')
        return ()
    if not tables:
        wrong(("explore",), 'nothing is listed; tables written [[candidate]], or how = "grid", would fit')
    names = [one.name for one in varied.values()]
    all_known = len(names) == len(raw["vary"]) if isinstance(raw.get("vary"), list) else False
    listed = []
    for number, table in enumerate(tables if isinstance(tables, list) else []):
        if not isinstance(table, dict):
            continue
        for key in table if all_known else ():
            if key not in names:
                wrong(("candidate", number, key), unknown_key(key, names))
        levels = [_level(number, table, one, i in several, the_set, wrong) for i, one in varied.items()]
        listed.append(tuple(levels))
    return tuple(listed)


def _level(
    number: int, table: Mapping[str, Any], one: Varied, several: bool, the_set: TheSet | None, wrong: Wrong
) -> Level:
    """Return what a candidate says of one thing; as the set has it when it says nothing."""
    as_it_is = unchanged(one, {} if the_set is None else the_set.raw)
    if one.name not in table:
        return as_it_is
    path: Path = ("candidate", number, one.name)
    try:
        level = listed_level(one, table[one.name], several=several)
    except MisvariedError as trouble:
        wrong(path, str(trouble))
        return as_it_is
    for words in [] if the_set is None else misfits(the_set, level.edits):
        wrong(path, words)
    return level
