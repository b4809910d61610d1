"""`throughlight shoot`: the picture of a set, with its readings."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from throughlight.cli.options import (
    INTERRUPTED,
    WRONG_INPUT,
    common_options,
    quality_options,
    reported,
    spotted,
    strict_exit,
)


@click.command()
@click.argument("setup_file", metavar="SETUP", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for the files; SETUP's name + “.shot” here."
)
@click.option(
    "--grain", type=click.FloatRange(0.1, 50.0), default=3.0, show_default=True,
    help="How grainy the picture may stay, in 8-bit code values.",
)  # fmt: skip
@click.option(
    "--samples", type=click.IntRange(8, 1 << 20), default=512, show_default=True, help="The most samples of any pixel."
)
@quality_options
@common_options
@click.option("--strict", is_flag=True, help="Exit with 3 when a wish under [wanted] is not met.")
@reported
def shoot(
    setup_file: Path,
    out: Path | None,
    grain: float,
    samples: int,
    tolerance: float,
    time_limit: float | None,
    spot: tuple[tuple[float, float], ...],
    threads: int | None,
    as_json: bool,
    quiet: bool,
    seed: int | None,
    strict: bool,
) -> None:
    """Make the picture of a set: PNG, 16-bit TIFF, OpenEXR layers, exposures in stops, and the readings.

    --time-limit holds for the readings and for the picture, each: both together may take twice as long.
    """
    from throughlight.cli.progress import work_progress
    from throughlight.setup import load

    setup = spotted(load(setup_file), spot)
    folder = Path(f"{setup_file.resolve().parent.name}-{setup_file.stem}.shot") if out is None else out
    with work_progress(quiet=quiet or as_json) as (reading, exposing):
        from throughlight.sheets.shot import shoot as take
        from throughlight.sheets.shot import write_shot

        try:
            shot = take(
                setup, tolerance=tolerance, time_limit=time_limit, grain=grain, most_samples=samples, seed=seed,
                threads=threads, progress=reading, picture_progress=exposing,
            )  # fmt: skip
            paths = write_shot(shot, folder)
        except (ValueError, OSError) as trouble:
            click.echo(f"{folder}: {trouble}", err=True)
            sys.exit(WRONG_INPUT)
    if as_json:
        told = {**shot.readings.as_json(), "files": {what: str(path) for what, path in paths.items()}}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
    else:
        _print(shot.readings, paths, quiet=quiet)
    if shot.interrupted:
        sys.exit(INTERRUPTED)
    strict_exit(shot.readings, strict=strict)


def _print(readings: object, paths: dict[str, Path], *, quiet: bool) -> None:
    from rich.console import Console
    from rich.text import Text

    from throughlight.readings.reading import Readings
    from throughlight.sheets.table import readings_table

    assert isinstance(readings, Readings)
    console = Console(highlight=False)
    if not quiet:
        console.print(readings_table(readings))
    for what, path in paths.items():
        console.print(Text(f"{what:10}{path}"), soft_wrap=True)
