"""`throughlight shoot --preview`: one picture file that soon shows something and is refined in place."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from throughlight.cli.options import INTERRUPTED, refuse
from throughlight.cli.progress import preview_progress

if TYPE_CHECKING:
    from throughlight.cli.shoot import How
    from throughlight.setup import Setup


def refuse_unfit(fits: dict[str, bool]) -> None:
    """Refuse options, by name, that were given and mean nothing in a preview."""
    for option, given in fits.items():
        if given:
            raise click.UsageError(f"{option} doesn't go with --preview, which makes one picture and no readings")


def run_preview(setup: Setup, folder: Path, how: How, *, as_json: bool, quiet: bool) -> None:
    """Write and refine the preview, and say what stands in the file; leave with 130 after Ctrl-C."""
    if not (as_json or quiet):
        click.echo("A preview makes no readings and has no veil in it.")
    with preview_progress(folder / "preview.png", quiet=quiet or as_json) as (exposing, standing):
        from throughlight.sheets.preview import preview
        from throughlight.sheets.preview import standing as in_words

        try:
            made = preview(
                setup, folder, grain=how.grain, most_samples=how.samples, time_limit=how.time_limit, seed=how.seed,
                threads=how.threads, denoise=how.denoise, progress=exposing, told=standing,
            )  # fmt: skip
        except (ValueError, OSError, RuntimeError) as trouble:
            refuse(folder, trouble)
    if as_json:
        click.echo(json.dumps(made.as_json(), indent=2, ensure_ascii=False))
    else:
        click.echo(f"{'preview':10}{made.path}" if made.picture.stride > 0 else "no preview")
        if not quiet:
            click.echo(f"{'':10}{in_words(made.picture, denoised=made.denoised)}")
    if made.picture.interrupted:
        sys.exit(INTERRUPTED)
