"""`throughlight shoot`: the picture of a set, with its readings."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from throughlight.cli.options import (
    INTERRUPTED,
    WRONG_INPUT,
    common_options,
    quality_options,
    refuse,
    reported,
    spotted,
    strict_exit,
)
from throughlight.cli.pages import refuse_misfits, show_page

if TYPE_CHECKING:
    from throughlight.readings.meter import Progress
    from throughlight.readings.picture import Progress as PictureProgress
    from throughlight.readings.reading import Readings
    from throughlight.readings.stack import FocusStack
    from throughlight.setup import Setup
    from throughlight.sheets.shot import Shot


def _stack_size(context: click.Context, parameter: click.Parameter, frames: int | None) -> int | None:
    """Refuse a stack of one frame or of very many."""
    if frames is None:
        return None
    from throughlight.readings.stack import FEWEST, MOST

    if not FEWEST <= frames <= MOST:
        raise click.BadParameter(f"found a stack of {frames} frames; from {FEWEST} to {MOST} would fit")
    return frames


@click.command()
@click.argument("setup_files", metavar="SETUP [OTHER]", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the files; SETUP's name + “.shot” here.",
)  # fmt: skip
@click.option(
    "--grain", type=click.FloatRange(0.1, 50.0), default=3.0, show_default=True,
    help="How grainy the picture may stay, in 8-bit code values.",
)  # fmt: skip
@click.option(
    "--samples", type=click.IntRange(8, 1 << 20), default=512, show_default=True, help="The most samples of any pixel."
)
@click.option(
    "--focus-stack", "frames", type=int, metavar="N", callback=_stack_size,
    help="Take N frames from the near to the far end of the subject, and say which step covers its depth.",
)  # fmt: skip
@click.option(
    "--preview", is_flag=True,
    help="Soon show one picture file, preview.png, and refine it in place until --grain, --samples, --time-limit or "
    "Ctrl-C; no readings.",
)  # fmt: skip
@click.option(
    "--compare", is_flag=True, help="Trace SETUP and OTHER, and lay both side by side or under a wipe on one page."
)
@click.option("--open", "show", is_flag=True, help="Show the page in the browser when it is written.")
@click.option("--denoise", is_flag=True, help="Take the grain out of what PNG and TIFF show; never out of a reading.")
@quality_options
@common_options
@click.option("--strict", is_flag=True, help="Exit with 3 when a wish under [wanted] is not met.")
@reported
def shoot(
    setup_files: tuple[Path, ...],
    out: Path | None,
    grain: float,
    samples: int,
    frames: int | None,
    preview: bool,
    compare: bool,
    show: bool,
    denoise: bool,
    tolerance: float,
    time_limit: float | None,
    spot: tuple[tuple[float, float], ...],
    threads: int | None,
    as_json: bool,
    quiet: bool,
    seed: int | None,
    strict: bool,
) -> None:
    """Make the picture of a set: PNG, 16-bit TIFF, OpenEXR layers, exposures in stops, the readings, and a report page.

    The page, report.html, opens in any browser and exposes the picture anew at other powers, f-number, ISO and shutter.
    --time-limit holds for the readings and for the picture, each: both together may take twice as long. In a stack it
    holds for each frame.
    """
    refuse_misfits(len(setup_files), compare=compare, show=show, preview=preview, stack=frames is not None)
    if denoise:
        _refuse_without_denoiser()
    if preview:
        from throughlight.cli.preview import refuse_unfit

        refuse_unfit({"--focus-stack": frames is not None, "--spot": len(spot) > 0, "--strict": strict})
    from throughlight.setup import load

    setups = [spotted(load(file), spot) for file in setup_files]
    setup = setups[0]
    folder = Path(f"{'-and-'.join(map(_name, setup_files))}.{'compare' if compare else 'shot'}") if out is None else out
    how = How(tolerance, time_limit, grain, samples, seed, threads, denoise)
    if preview:
        from throughlight.cli.preview import run_preview

        run_preview(setup, folder, how, as_json=as_json, quiet=quiet)
        return
    screen = _Screen(as_json=as_json, quiet=quiet)
    if compare:
        takes = _two(setups, setup_files, folder, how, screen)
    elif frames is None:
        takes = [_one(setup, folder, how, screen)]
    else:
        takes = [_stack(setup, folder, frames, how, screen)]
    if show and len(takes) == len(setups):
        show_page(folder / ("compare.html" if compare else "report.html"))
    if any(taken.interrupted for taken in takes):
        sys.exit(INTERRUPTED)
    for taken in takes:
        strict_exit(taken.readings, strict=strict)


def _name(setup_file: Path) -> str:
    return f"{setup_file.resolve().parent.name}-{setup_file.stem}"


class How(NamedTuple):
    """How well to expose."""

    tolerance: float
    time_limit: float | None
    grain: float
    samples: int
    seed: int | None
    threads: int | None
    denoise: bool


class _Screen(NamedTuple):
    """What to print."""

    as_json: bool
    quiet: bool


class _Taken(NamedTuple):
    """What came of it."""

    readings: Readings
    interrupted: bool


def _one(setup: Setup, folder: Path, how: How, screen: _Screen) -> _Taken:
    """Take one picture, write it and say what it is."""
    from throughlight.cli.progress import work_progress

    with work_progress(quiet=screen.quiet or screen.as_json) as (reading, exposing):
        from throughlight.sheets.plan_drawing import plan_svg
        from throughlight.sheets.report import write_report
        from throughlight.sheets.shot import write_shot

        try:
            shot = _take(setup, how, reading, exposing)
            paths = {**write_shot(shot, folder), "report": write_report(shot, folder, diagram=plan_svg(setup))}
        except (ValueError, OSError, RuntimeError) as trouble:
            refuse(folder, trouble)
    if screen.as_json:
        _print_json(shot.as_json(), paths)
    else:
        _print(shot.readings, paths, quiet=screen.quiet)
    return _Taken(shot.readings, shot.interrupted)


def _take(setup: Setup, how: How, reading: Progress | None, exposing: PictureProgress | None) -> Shot:
    from throughlight.sheets.shot import shoot as take

    return take(
        setup, tolerance=how.tolerance, time_limit=how.time_limit, grain=how.grain, most_samples=how.samples,
        seed=how.seed, threads=how.threads, denoise=how.denoise, progress=reading, picture_progress=exposing,
    )  # fmt: skip


def _two(setups: list[Setup], setup_files: tuple[Path, ...], folder: Path, how: How, screen: _Screen) -> list[_Taken]:
    """Take pictures of two sets, write them with the page that compares them, and say what differs.

    Ctrl-C during the first leaves that one alone, and no page.
    """
    from throughlight.cli.progress import work_progress

    shots: list[Shot] = []
    paths: dict[str, Path] = {}
    with work_progress(quiet=screen.quiet or screen.as_json) as (reading, exposing):
        from throughlight.sheets.compare import compare_json, write_compare
        from throughlight.sheets.shot import write_shot

        try:
            for mark, setup in zip("ab", setups, strict=True):
                shots.append(_take(setup, how, reading, exposing))
                paths |= {f"{what} {mark}": path for what, path in write_shot(shots[-1], folder / mark).items()}
                if shots[-1].interrupted:
                    break
            if len(shots) == len(setups):
                written = (str(setup_files[0]), str(setup_files[1]))
                paths["page"] = write_compare(shots[0], shots[1], folder, files=written)
        except (ValueError, OSError, RuntimeError) as trouble:
            refuse(folder, trouble)
    if "page" not in paths:
        click.echo(f"interrupted: {setup_files[1]} is not traced, so there is no page", err=True)
    if screen.as_json:
        _print_json(compare_json(shots[0], shots[1]) if "page" in paths else shots[0].as_json(), paths)
    else:
        for shot in shots:
            _print(shot.readings, {}, quiet=screen.quiet)
        _print_paths(paths)
    return [_Taken(shot.readings, shot.interrupted) for shot in shots]


def _stack(setup: Setup, folder: Path, frames: int, how: How, screen: _Screen) -> _Taken:
    """Take a focus stack, write each frame as it comes and say what the step covers."""
    from throughlight.cli.progress import work_progress
    from throughlight.readings.stack import focus_stack

    try:
        stack = focus_stack(setup, frames)
    except ValueError as trouble:
        click.echo(str(trouble), err=True)
        sys.exit(WRONG_INPUT)
    paths: dict[str, Path] = {}
    pictures, interrupted = [], False
    with work_progress(quiet=screen.quiet or screen.as_json) as (reading, exposing):
        from throughlight.sheets import stack as sheet

        try:
            readings = sheet.read_stack(
                setup, stack, tolerance=how.tolerance, time_limit=how.time_limit, seed=how.seed, threads=how.threads,
                progress=reading,
            )  # fmt: skip
            for number, shot in enumerate(
                sheet.shoot_frames(
                    setup, stack, readings, grain=how.grain, most_samples=how.samples, time_limit=how.time_limit,
                    seed=how.seed, threads=how.threads, denoise=how.denoise, progress=lambda _: exposing,
                ), 1,
            ):  # fmt: skip
                files = sheet.write_frame(shot, folder, number, frames)
                paths |= {f"{what} {number}": path for what, path in files.items()}
                pictures.append((shot.setup.camera.focus, files["picture"]))
                interrupted = shot.interrupted
            paths["readings"] = sheet.write_stack_readings(readings, stack, folder)
        except (ValueError, OSError, RuntimeError) as trouble:
            refuse(folder, trouble)
    if screen.as_json:
        _print_json(sheet.stack_json(readings, stack), paths)
    else:
        _print(readings, {"readings": paths["readings"]}, quiet=screen.quiet)
        _print_stack(stack, pictures, quiet=screen.quiet)
    return _Taken(readings, interrupted)


def _refuse_without_denoiser() -> None:
    from throughlight.darkroom import denoiser

    if not denoiser.is_here():
        click.echo(f"{denoiser.HOW_TO_GET}.", err=True)
        sys.exit(WRONG_INPUT)


def _print_json(readings: dict[str, Any], paths: dict[str, Path]) -> None:
    told = {**readings, "files": {what: str(path) for what, path in paths.items()}}
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


def _print_stack(stack: FocusStack, pictures: list[tuple[float, Path]], *, quiet: bool) -> None:
    from throughlight.readings.figures import exact_length_words

    for number, (focus, path) in enumerate(pictures, 1):
        click.echo(f"frame {number:<4}focus at {exact_length_words(focus)}, {path}")
    for words in () if quiet else stack.words:
        click.echo(f"{words[:1].upper()}{words[1:]}.")


def _print(readings: Readings, paths: dict[str, Path], *, quiet: bool) -> None:
    from rich.console import Console

    from throughlight.sheets.table import readings_table

    console = Console(highlight=False)
    if not quiet:
        console.print(readings_table(readings))
    _print_paths(paths)


def _print_paths(paths: dict[str, Path]) -> None:
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False)
    width = max((len(what) for what in paths), default=0) + 2
    for what, path in paths.items():
        console.print(Text(f"{what:{max(width, 10)}}{path}"), soft_wrap=True)
