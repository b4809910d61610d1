"""`throughlight study FILE`: the study runs, or goes on, until everything is decided, time is over, or Ctrl-C."""

from __future__ import annotations

import contextlib
import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from throughlight.cli.options import INTERRUPTED, WRONG_INPUT

if TYPE_CHECKING:
    from throughlight.cli.study import How, Screen
    from throughlight.cli.study_space import Expected
    from throughlight.study.limits import Limits, Progress
    from throughlight.study.question import Study
    from throughlight.study.runner import Outcome
    from throughlight.study.survey import Survey
    from throughlight.study.workers import Workers

_DAY = 86400.0


def run_study(study_file: Path, how: How, screen: Screen) -> None:
    """Run a study and say how it ended."""
    from throughlight.study.file import load_study
    from throughlight.study.results_file import put_aside, store_path
    from throughlight.study.runner import run
    from throughlight.study.stopping import stopping

    study = load_study(study_file)
    limits = limits_for(study, how)
    if how.fresh:
        aside = put_aside(store_path(study_file))
        if aside is not None and not screen.quiet:
            click.echo(f"earlier results are now {aside}", err=True)
    with _workers(how) as workers, _progress(quiet=screen.quiet or screen.as_json) as progress, stopping() as stopped:
        outcome = run(
            study, limits=limits, threads=how.threads, seed=how.seed, progress=progress, stopped=stopped,
            workers=workers,
        )  # fmt: skip
    _told(study, outcome, screen)
    if outcome.reason == "interrupted":
        click.echo("interrupted; the same command goes on from here", err=True)
        sys.exit(INTERRUPTED)


def limits_for(study: Study, how: How) -> Limits:
    """Return when a run ends: as the command says, or else as the study's file does."""
    from throughlight.study.limits import limits_of, next_time

    now = time.time()
    limits = limits_of(study, now)
    if how.time_limit is not None:
        return replace(limits, ends=None, lasts=how.time_limit)
    if how.until is not None:
        at = _clock(how.until)
        return replace(limits, ends=next_time(*at, now), lasts=None)
    return limits


def _clock(said: str) -> tuple[int, int]:
    from pydantic_core import PydanticCustomError

    from throughlight.study.tables import clock

    try:
        at = clock(said)
    except PydanticCustomError as trouble:
        raise click.UsageError(f"--until: {trouble.message()}") from trouble
    return at.hour, at.minute


@contextlib.contextmanager
def _workers(how: How) -> Iterator[Workers | None]:
    """Yield those who trace: this process's threads, or a cluster's workers."""
    if how.cluster is None:
        yield None
        return
    from throughlight.study.cluster import cluster
    from throughlight.study.workers import WorkersTrouble

    try:
        yield cluster(how.cluster)
    except WorkersTrouble as trouble:
        click.echo(f"--cluster {how.cluster}: {trouble}", err=True)
        sys.exit(WRONG_INPUT)


@contextlib.contextmanager
def _progress(*, quiet: bool) -> Iterator[Callable[[Progress], None] | None]:
    """Yield a function that says how far a study is, on a bar of stderr; None where nobody looks."""
    from throughlight.cli.progress import bar

    with bar(quiet=quiet) as move:
        if move is None:
            yield None
        else:
            yield lambda progress: move(progress.share, words(progress, time.time()))


def words(progress: Progress, now: float) -> str:
    """Return how far a study is, in words: done, in doubt, best so far, expected end."""
    from throughlight.study.said import minus

    what = "first answers" if progress.round == 1 else f"round {progress.round}"
    read = progress.read if progress.round > 1 else round(progress.share * (progress.candidates - progress.failed))
    said = [f"{what}: {read} of {progress.candidates - progress.failed} candidates"]
    if progress.best is not None:
        doubt = f", {progress.in_doubt} may be as good" if progress.in_doubt else ", settled"
        said.append(
            f"best {progress.best.number} ({minus(progress.best.said)}), {progress.best.loss.value:.2f} off{doubt}"
        )
    if progress.ends is not None:
        until = "ends about" if progress.about else "ends by"
        until = "first answers by" if progress.round == 1 and progress.best is None else until
        clock = time.strftime("%a %H:%M" if progress.ends - now > _DAY else "%H:%M", time.localtime(progress.ends))
        said.append(f"{until} {clock}")
    return "   ".join(said)


def _told(study: Study, outcome: Outcome, screen: Screen) -> None:
    """Say how a run ended: as JSON everything, else the best and what to do next."""
    from throughlight.study.gather import results_now
    from throughlight.study.said import minus
    from throughlight.study.said import said as told_of

    if screen.as_json:
        from throughlight.study.export import results_json

        click.echo(json.dumps(results_json(results_now(study)), indent=2, ensure_ascii=False))
        return
    results = results_now(study)
    raced = study.budget.places
    decided = "everything" if raced is None else f"the first {raced} places" if raced > 1 else "the first place"
    endings = {
        "decided": f"{decided} {'are' if decided.endswith('s') else 'is'} decided",
        "time": "time is over",
        "interrupted": "left off",
    }
    known = len(results.ranked)
    click.echo(f"{study.title}: {endings[outcome.reason]}, {known} of {len(results.rows)} candidates read")
    if results.failed and not screen.quiet:
        click.echo(f"{len(results.failed)} cannot be computed; the report says why")
    best = results.best
    if best is not None and best.loss is not None:
        changed = minus(told_of(best))
        told = (
            f"not told from {len(best.tie_with)} more" if best.tie_with else f"{len(results.waiting)} are not read yet"
        )
        told = "settled at 95 %" if best.settled else told
        click.echo(f"best: candidate {best.number} ({changed}), loss {best.loss.value:.2f} stops, {told}")
    if not screen.quiet:
        click.echo(f"next: throughlight study {study.path} --report")


def expected_time(study: Study, view: Survey, how: How) -> Expected:
    """Measure shortly and say how long a study will take."""
    from throughlight.cli.study_space import Expected, duration
    from throughlight.study.cases import cases_of
    from throughlight.study.estimate import measure

    limits = limits_for(study, how)
    seed = study.the_set.setup.seed if how.seed is None else how.seed
    traced = list(cases_of(study).traced.values())
    expected = measure(traced, study.goals, limits.resolution, how.threads, seed)
    now = time.time()
    over = limits.over(now)
    left = None if over is None else over - now
    seconds = expected.decided if left is None else min(left, expected.decided)
    said = f"measured on {expected.measured} of {view.traced} sets; a first answer to each after "
    said += duration(expected.first_look)
    if left is not None and expected.decided > left:
        said += ", then it goes on until the time set"
    else:
        said += ", then it depends on how close the best are"
    return Expected(seconds, said)
