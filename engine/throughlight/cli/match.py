"""`throughlight match`: a captured test frame against the prediction."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from throughlight.cli.options import ENCODING, WRONG_INPUT, common_options, reported

if TYPE_CHECKING:
    from throughlight.darkroom.capture import Encoding
    from throughlight.match.run import Match
    from throughlight.setup import Setup


@click.command()
@click.argument("setup_file", metavar="SETUP", type=click.Path(path_type=Path))
@click.argument("photo", metavar="PHOTO", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the files; PHOTO's name + “.match” here.",
)
@click.option(
    "--encoding", type=ENCODING, default="auto", show_default=True,
    help="How the photo's code values stand for light; auto: as its file says.",
)  # fmt: skip
@click.option("--calibrate", is_flag=True, help="Write a calibration file beside SETUP, for its key calibration.")
@click.option("--threads", type=click.IntRange(1, 1024), help="How many threads; all when left out.")
@common_options
@reported
def match(
    setup_file: Path,
    photo: Path,
    out: Path | None,
    encoding: Encoding,
    calibrate: bool,
    threads: int | None,
    as_json: bool,
    quiet: bool,
    seed: int | None,
) -> None:
    """Compare PHOTO, a test frame (raw, 16-bit TIFF, JPEG or PNG), with the prediction for SETUP, in stops.

    Names the likeliest cause of what is off, what the frame leaves ambiguous, and which second frame would settle it.
    """
    from throughlight.cli.progress import work_progress
    from throughlight.darkroom.capture import CaptureError, read_capture
    from throughlight.darkroom.names import seen
    from throughlight.setup import load

    setup = load(setup_file)
    try:
        capture = read_capture(photo, encoding=encoding)
    except CaptureError as trouble:
        _refuse(str(trouble))
    with work_progress(quiet=quiet or as_json) as (progress, _):
        from throughlight.match.align import AlignError
        from throughlight.match.run import match as compare

        told = None if progress is None else lambda what, share: progress(what, share, {})
        try:
            found = compare(setup, capture, seed=seed, threads=threads, progress=told)
        except AlignError as trouble:
            _refuse(f"{seen(str(photo))[:300]}: {trouble}")
    folder = Path(f"{photo.stem}.match") if out is None else out
    try:
        paths = _write(found, setup, setup_file, folder, calibrate=calibrate)
    except OSError as trouble:
        _refuse(f"{folder}: the files cannot be written ({trouble})")
    if as_json:
        data: dict[str, Any] = {**found.as_json(), "files": {name: str(path) for name, path in paths.items()}}
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    from rich.console import Console

    from throughlight.sheets.match_table import match_table

    console = Console(highlight=False)
    console.print(match_table(found, together=calibrate))
    if not quiet:
        for name, path in paths.items():
            console.print(f"{name:12} {path}", markup=False, soft_wrap=True)


def _refuse(words: str) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(WRONG_INPUT)


def _write(found: Match, setup: Setup, setup_file: Path, folder: Path, *, calibrate: bool) -> dict[str, Path]:
    """Write the difference picture, the figures and, where asked for, the calibration file; return what is where."""
    from throughlight.darkroom.difference import difference_picture
    from throughlight.darkroom.files import write_png, write_text

    folder.mkdir(parents=True, exist_ok=True)
    paths = {"difference": folder / "difference.png", "figures": folder / "match.json"}
    magnified = max(1, round(900 / max(found.difference.shape)))
    title = {"title": f"{found.title}: photo against prediction"}
    write_png(paths["difference"], difference_picture(found.difference, magnified), title)
    write_text(paths["figures"], json.dumps(found.as_json(), indent=2, ensure_ascii=False) + "\n")
    if calibrate:
        from throughlight.match.calibrate import calibration_text
        from throughlight.setup.calibration import read_calibration

        before = None
        if setup.calibration is not None:
            before, _ = read_calibration(setup.calibration, setup_file.parent)
        paths["calibration"] = setup_file.with_name(f"{setup_file.stem}.calibration.toml")
        write_text(paths["calibration"], calibration_text(found, setup, before))
    return paths
