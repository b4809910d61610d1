"""From a study file to a checked `Study`, or to every mistake in it at once, its set's own included.

    title = "Where the left head stands"
    set = "set.toml"

    [[vary]]
    name = "bearing"
    key = 'head."left head".at.bearing'
    from = "-170 deg"
    to = "-110 deg"
    step = "10 deg"

    [[vary]]
    name = "flag"
    key = 'flag."left flag".present'

    [[wanted]]
    reading = "subject"
    at = "+0.5 stop"

Nothing in a file is ever executed, and nothing is traced before all of it fits the set.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from throughlight.setup import SetupError
from throughlight.setup.kind import found
from throughlight.setup.own_kit import kit_for
from throughlight.setup.read import checked, with_calibration
from throughlight.setup.text import Finding, parsed, placed, text_of
from throughlight.setup.whole import numbered
from throughlight.setup.words import Path as KeyPath
from throughlight.setup.words import said_key, sentence
from throughlight.study.by_hand import by_hand
from throughlight.study.doubts import Allowed
from throughlight.study.keys import KeyMistake, Place, find, said
from throughlight.study.question import Budget, How, Study, TheSet
from throughlight.study.tables import MOST_CANDIDATES, BudgetTable, ExploreTable, StudyTable, VaryTable
from throughlight.study.try_out import misfits
from throughlight.study.varied import MisvariedError, Varied, ends_of, varied_of
from throughlight.study.wishes import wishes

Table = TypeVar("Table", bound=BaseModel)
Raw = Mapping[str, Any]


def load_study(path: str | Path) -> Study:
    """Read a study file and the set that it names.

    Parameters
    ----------
    path
        A TOML file of at most 5 MB, in UTF-8; the set is looked for beside it.

    Raises
    ------
    SetupError
        When the study, its set or a kit file cannot be used; lists every mistake.
    """
    file = Path(path)
    text = text_of(file, "study file")
    raw = parsed(text, str(path))
    draft = _Draft(raw)
    draft.check_shape()
    the_set, set_raw, others = _set_of(draft, file.parent)
    study = _study(draft, file, the_set, set_raw)
    if draft.findings or others is not None or study is None:
        here = placed(list(dict.fromkeys(draft.findings)), str(path), text)
        raise SetupError([*here, *(() if others is None else others.mistakes)])
    return study


class _Draft:
    """A study file while it is read: its tables, and what is wrong in them."""

    def __init__(self, raw: dict[str, Any]) -> None:
        self.raw = raw
        self.findings: list[Finding] = []

    def wrong(self, path: KeyPath, words: str) -> None:
        """Note what is wrong at a path."""
        self.findings.append((path, said_key(path), words))

    def check_shape(self) -> None:
        """Note what is wrong with each key in itself."""
        try:
            StudyTable.model_validate(self.raw)
        except ValidationError as trouble:
            found_here = (sentence(error, self.raw, StudyTable) for error in trouble.errors(include_url=False))
            self.findings += [one for one in found_here if one is not None]

    def tables(self, key: str, model: type[Table]) -> Iterator[tuple[int, Table]]:
        """Return the tables of a list that are right in themselves, each with its number from 0."""
        listed = self.raw.get(key)
        for i, one in enumerate(listed if isinstance(listed, list) else []):
            table = _valid(one, model)
            if table is not None:
                yield i, table


def _valid(raw: object, model: type[Table]) -> Table | None:
    try:
        return model.model_validate(raw)
    except ValidationError:
        return None


def _set_of(draft: _Draft, folder: Path) -> tuple[TheSet | None, Raw | None, SetupError | None]:
    """Return the set; its tables alone, and what is wrong with them, when it cannot be used."""
    name = draft.raw.get("set")
    if not isinstance(name, str) or not 0 < len(name) <= 1000:
        return None, None, None
    path = folder / name
    if "\0" in name or not path.is_file():
        where = found(str(folder.absolute()))
        draft.wrong(
            ("set",), f"found {found(name)}; no such file stands in {where}; a setup file beside the study would fit"
        )
        return None, None, None
    raw: Raw | None = None
    try:
        text = text_of(path, "setup file")
        tables = numbered(parsed(text, str(path)))
        raw, kit = tables, kit_for(path.parent)
        setup, findings = checked(tables, path.parent, kit)
        if setup is None:
            raise SetupError(placed(findings, str(path), text))
        setup = with_calibration(setup, path.parent, str(path))
    except SetupError as trouble:
        return None, raw, trouble
    return TheSet(path, text, tables, setup, kit), raw, None


def _study(draft: _Draft, file: Path, the_set: TheSet | None, set_raw: Raw | None) -> Study | None:
    """Return the study, or None where something is wrong that is then noted."""
    explore = _valid(draft.raw.get("explore", {}), ExploreTable)
    budget = _valid(draft.raw.get("budget", {}), BudgetTable)
    how: How = "listed" if "candidate" in draft.raw else "grid"
    if explore is not None and explore.how is not None:
        how = explore.how
    if draft.raw.get("vary") == []:
        draft.wrong(("vary",), "nothing varies; tables written [[vary]] would fit")
    varied = {} if set_raw is None else _all_varied(draft, set_raw, how)
    goals = () if the_set is None else wishes(draft.raw.get("wanted"), the_set, draft.wrong)
    if the_set is not None:
        for i, one in varied.items():
            _try_levels(draft, i, one, the_set)
    several = {i for i, table in draft.tables("vary", VaryTable) if table.keys is not None}
    listed = by_hand(draft.raw, how, varied, several, the_set, draft.wrong)
    if explore is None or budget is None or the_set is None or draft.findings:
        return None
    _check_number(draft, how, explore, list(varied.values()))
    title = draft.raw.get("title", f"{the_set.setup.title}: {', '.join(one.name for one in varied.values())}")
    return Study(
        path=file,
        title=title,
        the_set=the_set,
        varied=tuple(varied.values()),
        how=how,
        count=explore.count,
        listed=listed,
        allowed=Allowed(explore.may_overlap, explore.may_show, explore.may_lack_power),
        goals=goals,
        budget=Budget(budget.until, budget.time_limit, budget.tolerance, budget.places),
    )


def _all_varied(draft: _Draft, set_raw: Raw, how: How) -> dict[int, Varied]:
    """Return what varies, by the number of its table from 0."""
    varied: dict[int, Varied] = {}
    places: dict[KeyPath, str] = {}
    for i, table in draft.tables("vary", VaryTable):
        here = _places(draft, i, table, set_raw, places)
        if here is None:
            continue
        name = table.name if table.name is not None else said(here[0].path, set_raw)
        if name in [one.name for one in varied.values()]:
            draft.wrong(("vary", i, "name"), f"found {found(name)} a second time; a name of its own would fit")
        try:
            one = varied_of(name, table, here)
        except MisvariedError as trouble:
            draft.wrong(("vary", i, *trouble.inside), str(trouble))
            continue
        varied[i] = one
        _check_how(draft, i, one, table, how)
    return varied


def _places(
    draft: _Draft, i: int, table: VaryTable, set_raw: Raw, taken: dict[KeyPath, str]
) -> tuple[Place, ...] | None:
    """Return where the keys of a table lead, or None when one leads nowhere or is varied already."""
    texts = [table.key] if table.key is not None else list(table.keys) if table.keys is not None else []
    here = []
    for j, text in enumerate(texts):
        path: KeyPath = ("vary", i, "key") if table.key is not None else ("vary", i, "keys", j)
        try:
            place = find(text, set_raw)
        except KeyMistake as trouble:
            draft.wrong(path, str(trouble))
            continue
        whole = (*place.path, "present") if place.is_presence else place.path
        for other, where in taken.items():
            if whole[: len(other)] == other or other[: len(whole)] == whole:
                draft.wrong(path, f"{text} varies already in {where}; one place for it would fit")
                break
        else:
            taken[whole] = said_key(path)
            here.append(place)
    if not texts:
        draft.wrong(("vary", i, "keys"), "the list is empty; keys of the set would fit")
    return tuple(here) if texts and len(here) == len(texts) else None


def _check_how(draft: _Draft, i: int, one: Varied, table: VaryTable, how: How) -> None:
    """Note when a thing's values don't go with how the space is explored."""
    if how == "listed":
        for key in ("values", "from"):
            if getattr(table, {"from": "from_"}.get(key, key)) is not None:
                words = f"found {key} beside candidates listed by hand; values in [[candidate]] alone would fit"
                draft.wrong(("vary", i, key), words)
    elif not one.levels and not one.spans:
        words = 'nothing says which values it takes; values = [ … ], or from and to ("40 cm", "70 cm"), would fit'
        draft.wrong(("vary", i), words)
    elif one.is_continuous and how == "grid":
        words = (
            'a range without steps has no grid; step or count beside it, or how = "sample" under [explore], would fit'
        )
        draft.wrong(("vary", i, "from"), words)


def _try_levels(draft: _Draft, i: int, one: Varied, the_set: TheSet) -> None:
    """Note which values don't fit the keys they are for; of a range, one of its values is enough."""
    seen: set[KeyPath] = set()
    for inside, level in ends_of(one):
        path: KeyPath = ("vary", i, *inside)
        if path in seen:
            continue
        for words in misfits(the_set, level.edits):
            seen.add(path)
            draft.wrong(path, words)


def _check_number(draft: _Draft, how: How, explore: ExploreTable, varied: list[Varied]) -> None:
    """Note when there would be too many candidates, or fewer than a sample asks for."""
    continuous = any(one.is_continuous for one in varied)
    combinations = math.prod(len(one.levels) for one in varied)
    if how == "grid" and combinations > MOST_CANDIDATES:
        words = f'the grid has {combinations} candidates; up to {MOST_CANDIDATES}, or how = "sample", would fit'
        draft.wrong(("explore",) if "explore" in draft.raw else ("vary",), words)
    if how == "sample" and explore.count is None:
        draft.wrong(("explore", "how"), "found a sample without a count; count beside it would fit, such as 200")
    elif how == "sample" and explore.count is not None and not continuous and explore.count > combinations:
        words = (
            f'found a sample of {explore.count} out of {combinations} combinations; fewer, or how = "grid", would fit'
        )
        draft.wrong(("explore", "count"), words)
    elif how != "sample" and explore.count is not None:
        draft.wrong(("explore", "count"), f'found a count beside how = "{how}"; how = "sample" would fit')
