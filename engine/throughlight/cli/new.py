"""`throughlight new`: writes a starter set that runs as it is."""

from __future__ import annotations

from pathlib import Path

import click

from throughlight.cli.options import WRONG_INPUT, reported


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--quiet", is_flag=True, help="Print nothing.")
@reported
def new(folder: Path, quiet: bool) -> None:
    """Write a starter set into DIR; nothing that is there is overwritten."""
    from throughlight.kit.starter import write_starter

    try:
        written = write_starter(folder)
    except OSError as trouble:
        where = f"{trouble.filename}: " if trouble.filename is not None else ""
        click.echo(f"{where}{trouble.strerror}; a new or empty folder would fit", err=True)
        raise SystemExit(WRONG_INPUT) from None
    if not quiet:
        click.echo(f"wrote {written}")
        click.echo(f"next: throughlight check {written}")
