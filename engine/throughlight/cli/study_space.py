"""`throughlight study --dry-run` and `--take`: what a study would do, and one of its candidates as a set of its own."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from throughlight.cli.options import WRONG_INPUT

if TYPE_CHECKING:
    from throughlight.cli.study import How, Screen
    from throughlight.study.question import Study
    from throughlight.study.survey import Survey


class Expected(NamedTuple):
    """The time that a study is expected to take, s, and how that is known, in words."""

    seconds: float
    words: str


ExpectedTime = Callable[["Study", "Survey", "How"], Expected]
"""Measures shortly and says how long a study will take."""

_REASONS_TOLD = 12
_NUMBERS_TOLD = 10


def dry_run(study_file: Path, how: How, screen: Screen, expected_time: ExpectedTime | None = None) -> None:
    """Say how many candidates a study has, which of them cannot be built and why, and how long the rest takes."""
    from throughlight.study.file import load_study
    from throughlight.study.said import minus
    from throughlight.study.survey import survey

    study = load_study(study_file)
    view = survey(study)
    nothing_left = len(view.reasons) == len(view.candidates)
    expected = None if nothing_left or expected_time is None else expected_time(study, view, how)
    if screen.as_json:
        _print_json(study, view, expected)
    else:
        for line in _lines(study, view, expected, quiet=screen.quiet):
            click.echo(minus(line))
    if nothing_left:
        click.echo(f"{study_file}: no candidate can be built; values that leave room would fit", err=True)
        sys.exit(WRONG_INPUT)


def _print_json(study: Study, view: Survey, expected: Expected | None) -> None:
    from throughlight import __version__

    told = {
        "schema": "throughlight/study-dry-run/1",
        "engine_version": __version__,
        "title": study.title,
        **view.as_json(),
        "wanted": [goal.said for goal in study.goals],
        "expected_s": None if expected is None else expected.seconds,
        "expected_by": None if expected is None else expected.words,
    }
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


def _lines(study: Study, view: Survey, expected: Expected | None, *, quiet: bool) -> Iterable[str]:
    count = len(view.candidates)
    if not quiet:
        yield study.title
        for one in study.varied:
            values = [level.said for level in one.levels]
            said = f"{values[0]} … {values[-1]}, {len(values)} values" if len(values) > 4 else ", ".join(values)
            if one.is_continuous:
                said = f"{one.at(0.0).said} … {one.at(1.0).said}"
            yield f"  {one.name}: {said if said else 'as listed'}"
        for goal in study.goals:
            yield f"  wanted: {goal.said}"
    shared = count - len(view.reasons) - view.traced
    more = f"; {shared} more differ from one of them in power alone" if shared else ""
    yield f"{count} candidates, {view.traced} sets to trace{more}"
    if view.reasons:
        yield f"{len(view.reasons)} cannot be built:"
        for words, numbers in list(view.reasons_by_words.items())[:_REASONS_TOLD]:
            yield f"  {words} ({_numbers(numbers)})"
        if len(view.reasons_by_words) > _REASONS_TOLD:
            yield f"  and {len(view.reasons_by_words) - _REASONS_TOLD} reasons more; --json tells them all"
    if expected is not None:
        yield f"expected to take {duration(expected.seconds)} ({expected.words})"


def _numbers(numbers: tuple[int, ...]) -> str:
    told = ", ".join(str(number) for number in numbers[:_NUMBERS_TOLD])
    more = f" and {len(numbers) - _NUMBERS_TOLD} more" if len(numbers) > _NUMBERS_TOLD else ""
    return f"candidate{'s' if len(numbers) > 1 else ''} {told}{more}"


def duration(seconds: float) -> str:
    """Return a time in words."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d} min"


def take(study_file: Path, number: int, folder: Path, screen: Screen) -> None:
    """Write a candidate's set into a folder."""
    from throughlight.study.file import load_study
    from throughlight.study.take import take as write

    study = load_study(study_file)
    try:
        written = write(study, number, folder)
    except OSError as trouble:
        where = trouble.filename if trouble.filename is not None else folder
        click.echo(f"{where}: {trouble.strerror}; another folder would fit", err=True)
        sys.exit(WRONG_INPUT)
    if screen.as_json:
        told = {"schema": "throughlight/study-take/1", "candidate": number, "files": [str(one) for one in written]}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
    elif screen.quiet:
        click.echo(written[0])
    else:
        for one in written:
            click.echo(f"wrote {one}")
        click.echo(f"next: throughlight check {written[0]}")
