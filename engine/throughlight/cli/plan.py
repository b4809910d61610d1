"""`throughlight plan`: the set diagram to scale, with places, kit list, order of work and cautions."""

from __future__ import annotations

import json
from pathlib import Path
from typing import cast

import click

from throughlight.cli.options import refuse, reported


@click.command()
@click.argument("setup_file", metavar="SETUP", type=click.Path(path_type=Path))
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the files; SETUP's name + “.plan” here.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), help="Paper of the PDF; a4 when left out, with --feet letter."
)
@click.option("--feet", is_flag=True, help="Lengths in feet and inches, and a scale of inches to the foot.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON, units in the keys.")
@click.option("--quiet", is_flag=True, help="Print where the files are, and nothing else.")
@reported
def plan(setup_file: Path, out: Path | None, paper: str | None, feet: bool, as_json: bool, quiet: bool) -> None:
    """Draw the set to scale, to be set out with a tape: SVG, PDF and PNG; nothing is traced."""
    from throughlight.setup import load

    setup = load(setup_file)
    folder = Path(f"{setup_file.resolve().parent.name}-{setup_file.stem}.plan") if out is None else out
    from throughlight.sheets.plan_sheet import Paper, plan_sheets, write_plan

    chosen = paper if paper is not None else "letter" if feet else "a4"
    try:
        sheets = plan_sheets(setup, paper=cast(Paper, chosen), feet=feet)
        paths = write_plan(sheets, folder)
    except (OSError, RuntimeError) as trouble:
        refuse(folder, trouble)
    if as_json:
        told = {**sheets.as_json(), "files": {what: str(path) for what, path in paths.items()}}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    if not quiet:
        click.echo(f"scale     1 : {sheets.scale}")
    for what, path in paths.items():
        click.echo(f"{what:10}{path}")
