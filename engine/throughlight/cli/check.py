"""`throughlight check`: reads a set and says what the camera will do with it, without tracing a ray."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from throughlight.cli.options import common_options, reported

if TYPE_CHECKING:
    from throughlight.setup import Setup


_NAME = 32
"""Columns of a screen that a name may take; a longer one is wrapped."""


@click.command()
@click.argument("setup_file", metavar="SETUP", type=click.Path(path_type=Path), required=False)
@click.option("--schema", "wants_schema", is_flag=True, help="Print the JSON Schema of setup files, for editors.")
@common_options
@reported
def check(setup_file: Path | None, wants_schema: bool, as_json: bool, quiet: bool, seed: int | None) -> None:
    """Read SETUP and pre-flight it: framing, sharpness, sync, power, and things that stand in one another."""
    if wants_schema:
        from throughlight.setup import schema

        click.echo(json.dumps(schema(), indent=2, ensure_ascii=False))
        return
    if setup_file is None:
        raise click.UsageError("a setup file is needed, or --schema")
    from throughlight.setup import load

    setup = load(setup_file)
    if as_json:
        click.echo(json.dumps(_as_json(setup, seed), indent=2, ensure_ascii=False))
    elif quiet:
        for warning in _warnings(setup):
            click.echo(warning)
    else:
        _print(setup)


def _warnings(setup: Setup) -> list[str]:
    from throughlight.readings.camera import camera_reading
    from throughlight.readings.power import power_reading
    from throughlight.setup import setup_warnings
    from throughlight.stage.mapped import map_doubts

    return [
        *setup_warnings(setup),
        *map_doubts(setup),
        *camera_reading(setup).complaints,
        *power_reading(setup).complaints,
    ]


def _as_json(setup: Setup, seed: int | None) -> dict[str, Any]:
    from throughlight import __version__
    from throughlight.readings.camera import camera_reading
    from throughlight.readings.power import power_reading

    return {
        "schema": "throughlight/check/1",
        "engine_version": __version__,
        "title": setup.title,
        "seed": setup.seed if seed is None else seed,
        "camera": camera_reading(setup).as_json(),
        "power": power_reading(setup).as_json(),
        "warnings": _warnings(setup),
    }


def _print(setup: Setup) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from throughlight.readings.camera import camera_lines, camera_reading
    from throughlight.readings.power import power_lines, power_reading

    console = Console(highlight=False)
    console.print(Text(setup.title, style="bold"))
    for heading, lines in (
        ("Camera", camera_lines(camera_reading(setup))),
        ("Power", power_lines(power_reading(setup))),
    ):
        if not lines:
            continue
        table = Table(box=None, show_header=False, padding=(0, 2, 0, 0), title=heading, title_justify="left")
        table.add_column(style="dim", max_width=_NAME)
        table.add_column()
        for label, words in lines:
            table.add_row(Text(label), Text(words))
        console.print()
        console.print(table)
    warnings = _warnings(setup)
    console.print()
    for warning in warnings:
        console.print(Text(f"! {warning[:1].upper()}{warning[1:]}.", style="yellow"))
    if not warnings:
        console.print("Nothing stands in anything else.")
