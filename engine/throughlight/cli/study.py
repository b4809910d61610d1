"""`throughlight study`: candidate sets compared overnight; the command only sorts out what is asked of it."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import click

from throughlight.cli.options import QuantityParameter, common_options, reported


class How(NamedTuple):
    """How a study is to run. `time_limit` in seconds; `until` as the study file would write it, such as "06:30"."""

    time_limit: float | None
    until: str | None
    threads: int | None
    seed: int | None
    cluster: str | None
    fresh: bool


class Shown(NamedTuple):
    """What of the results is to be shown: the report page, the words on one candidate, a table to a file."""

    report: bool
    explain: int | None
    csv: Path | None


class Screen(NamedTuple):
    """What to print."""

    as_json: bool
    quiet: bool


_CANDIDATE = click.IntRange(min=1)


@click.command()
@click.argument("study_file", metavar="FILE", type=click.Path(path_type=Path), required=False)
@click.option("--schema", "wants_schema", is_flag=True, help="Print the JSON Schema of study files, for editors.")
@click.option("--dry-run", is_flag=True, help="Count the candidates and say how long they take, without running them.")
@click.option(
    "--take", type=(_CANDIDATE, click.Path(path_type=Path, file_okay=False)), metavar="K DIR", default=None,
    help="Write candidate K into DIR as a setup file of its own, comments kept.",
)  # fmt: skip
@click.option("--report", is_flag=True, help="Make the report from what is there, also while the study runs.")
@click.option("--explain", type=_CANDIDATE, metavar="K", help="Say in words why candidate K is where it is.")
@click.option("--csv", type=click.Path(path_type=Path, dir_okay=False), help="Write the ranked table to this file.")
@click.option("--fresh", is_flag=True, help="Put earlier results of this study aside and begin anew.")
@click.option("--cluster", metavar="ADDRESS", help="Send the work to this dask.distributed scheduler.")
@click.option("--time-limit", type=QuantityParameter("DURATION"), help='End after this time, such as "8 h".')
@click.option("--until", metavar="TIME", help='End at this time of the day, such as "06:30".')
@click.option("--threads", type=click.IntRange(1, 1024), help="How many threads; all when left out.")
@common_options
@reported
def study(
    study_file: Path | None,
    wants_schema: bool,
    dry_run: bool,
    take: tuple[int, Path] | None,
    report: bool,
    explain: int | None,
    csv: Path | None,
    fresh: bool,
    cluster: str | None,
    time_limit: float | None,
    until: str | None,
    threads: int | None,
    as_json: bool,
    quiet: bool,
    seed: int | None,
) -> None:
    """Compare the candidates of the study FILE and rank them; the same command resumes a study that was cut short."""
    if wants_schema:
        import json

        from throughlight.study.tables import schema

        click.echo(json.dumps(schema(), indent=2, ensure_ascii=False))
        return
    if study_file is None:
        raise click.UsageError("a study file is needed, or --schema")
    how = How(time_limit, until, threads, seed, cluster, fresh)
    shown = Shown(report, explain, csv)
    screen = Screen(as_json, quiet)
    wants_results = report or explain is not None or csv is not None
    _refuse_mixtures(dry_run=dry_run, takes=take is not None, wants_results=wants_results, how=how)
    if dry_run:
        from throughlight.cli.study_run import expected_time
        from throughlight.cli.study_space import dry_run as count

        count(study_file, how, screen, expected_time)
    elif take is not None:
        from throughlight.cli.study_space import take as write

        write(study_file, *take, screen)
    elif wants_results:
        from throughlight.cli.study_results import show_results

        show_results(study_file, shown, screen)
    else:
        from throughlight.cli.study_run import run_study

        run_study(study_file, how, screen)


def _refuse_mixtures(*, dry_run: bool, takes: bool, wants_results: bool, how: How) -> None:
    """Refuse what cannot be asked for at once."""
    asked = [name for name, is_asked in (("--dry-run", dry_run), ("--take", takes)) if is_asked]
    if wants_results:
        asked.append("--report, --explain or --csv")
    if len(asked) > 1:
        raise click.UsageError(f"{asked[0]} doesn't go with {asked[1]}; one after the other would fit")
    running = {"--fresh": how.fresh, "--cluster": how.cluster is not None, "--until": how.until is not None}
    running["--time-limit"] = how.time_limit is not None
    for option, is_given in running.items():
        if is_given and asked and not dry_run:
            raise click.UsageError(f"{option} goes with running the study, not with {asked[0]}")
    if how.until is not None and how.time_limit is not None:
        raise click.UsageError("--until doesn't go with --time-limit; one of them would fit")
