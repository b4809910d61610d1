"""`throughlight meter`: the readings of a set, without a picture."""

from __future__ import annotations

import json
from pathlib import Path

import click

from throughlight.cli.options import common_options, quality_options, reported, spotted, strict_exit


@click.command()
@click.argument("setup_file", metavar="SETUP", type=click.Path(path_type=Path))
@quality_options
@common_options
@click.option("--strict", is_flag=True, help="Exit with 3 when a wish under [wanted] is not met.")
@reported
def meter(
    setup_file: Path,
    tolerance: float,
    time_limit: float | None,
    spot: tuple[tuple[float, float], ...],
    threads: int | None,
    as_json: bool,
    quiet: bool,
    seed: int | None,
    strict: bool,
) -> None:
    """Read the set: subject, backdrop, stray light, room light, camera and power, in stops with 95 % intervals."""
    from throughlight.cli.progress import work_progress
    from throughlight.setup import load

    setup = spotted(load(setup_file), spot)
    with work_progress(quiet=quiet or as_json) as (progress, _):
        from throughlight.readings.meter import meter as take

        readings = take(
            setup, tolerance=tolerance, time_limit=time_limit, seed=seed, threads=threads, progress=progress
        )
    if as_json:
        click.echo(json.dumps(readings.as_json(), indent=2, ensure_ascii=False))
    else:
        from rich.console import Console

        from throughlight.sheets.table import readings_table

        Console(highlight=False).print(readings_table(readings))
    strict_exit(readings, strict=strict)
