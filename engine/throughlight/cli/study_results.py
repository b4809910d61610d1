"""`throughlight study --report`, `--explain` and `--csv`: what a study has found, also while it runs."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from throughlight.cli.options import WRONG_INPUT

if TYPE_CHECKING:
    from throughlight.cli.study import Screen, Shown
    from throughlight.setup import Setup
    from throughlight.sheets.study_report import Told
    from throughlight.study.question import Study
    from throughlight.study.results import Results, Row


def show_results(study_file: Path, shown: Shown, screen: Screen) -> None:
    """Show what is asked for of a study's results."""
    study, results = _known(study_file)
    paths: dict[str, Path] = {}
    try:
        if shown.csv is not None:
            from throughlight.darkroom.files import write_text
            from throughlight.study.export import results_csv

            write_text(shown.csv, results_csv(results))
            paths["csv"] = shown.csv
        if shown.report:
            paths |= _report(study, results, screen)
    except OSError as trouble:
        _refuse(f"{trouble.filename if trouble.filename is not None else study_file}: {trouble.strerror or trouble}")
    lines = [] if shown.explain is None else _explained(results, shown.explain)
    if screen.as_json:
        _print_json(results, lines, paths)
    else:
        _print(results, lines, paths, table=shown.report and not screen.quiet)


def _known(study_file: Path) -> tuple[Study, Results]:
    """Return the study and what is kept of it."""
    from throughlight.study.file import load_study
    from throughlight.study.gather import results_now

    study = load_study(study_file)
    return study, results_now(study)


def report_folder(study_file: Path) -> Path:
    """Return where a study's report is: beside its file, under its name."""
    return study_file.with_name(f"{study_file.stem}.report")


def _report(study: Study, results: Results, screen: Screen) -> dict[str, Path]:
    """Expose what pictures are missing and write the report's files."""
    from throughlight.darkroom import denoiser
    from throughlight.sheets.study_report import pictures_of_best, write_files
    from throughlight.study.reading import setup_of
    from throughlight.study.space import candidates

    by_number = {candidate.number: candidate for candidate in candidates(study)}

    def set_of(row: Row) -> Setup:
        return setup_of(study, by_number[row.number])

    folder, denoise = report_folder(study.path), denoiser.is_here()
    with _progress(quiet=screen.quiet or screen.as_json) as told:
        pictures = pictures_of_best(results, set_of, folder / "pictures", denoise=denoise, progress=told)
    return write_files(results, folder, pictures, denoised=denoise)


@contextmanager
def _progress(*, quiet: bool) -> Iterator[Told | None]:
    """Yield what moves a bar over all pictures, or None where nobody looks."""
    from throughlight.cli.progress import work_progress

    with work_progress(quiet=quiet) as (_, exposing):
        if exposing is None:
            yield None
        else:
            yield lambda done, total, share: exposing((done + share) / total, 0)


def _explained(results: Results, number: int) -> list[str]:
    from throughlight.study.explain import explain

    try:
        return explain(results, number)
    except KeyError:
        _refuse(f"found candidate {number}; a number from 1 to {len(results.rows)} would fit")


def _print_json(results: Results, lines: list[str], paths: dict[str, Path]) -> None:
    from throughlight.study.export import results_json

    told = results_json(results)
    if lines:
        told["explained"] = lines
    told["files"] = {what: str(path) for what, path in paths.items()}
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


def _print(results: Results, lines: list[str], paths: dict[str, Path], *, table: bool) -> None:
    from rich.console import Console
    from rich.text import Text

    from throughlight.sheets.study_table import study_table
    from throughlight.study.said import minus

    console = Console(highlight=False)
    if table:
        console.print(study_table(results))
    for line in lines:
        click.echo(minus(line))
    for what, path in paths.items():
        console.print(Text(f"{what:15}{path}"), soft_wrap=True)


def _refuse(words: str) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(WRONG_INPUT)
