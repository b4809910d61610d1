"""`throughlight pitch`: the client's PDF."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from throughlight.cli.options import INTERRUPTED, WRONG_INPUT, QuantityParameter, common_options, refuse, reported

if TYPE_CHECKING:
    from throughlight.cli.progress import MeterProgress, PictureProgress
    from throughlight.setup import Setup
    from throughlight.sheets.pitch import Look, PitchSheet, Style
    from throughlight.sheets.pitch_pictures import How

_FILE = click.Path(path_type=Path, dir_okay=False)
_TIME_HELP = 'For each look: begin no further pass over its picture after this time, such as "2 min".'


@click.command()
@click.argument("setup_files", metavar="SETUP...", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("-o", "--out", type=_FILE, default=Path("pitch.pdf"), show_default=True, help="The PDF to write.")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."
)
@click.option("--ground", type=click.Choice(["light", "dark"]), default="light", show_default=True, help="Page colour.")
@click.option("--comparison", is_flag=True, help="Add a page with the looks side by side.")
@click.option("--details", is_flag=True, help="Say f-number, ISO, focal length, powers, and by how much things change.")
@click.option("--no-watermark", is_flag=True, help="Leave “preview, computed” off the pictures.")
@click.option("--words", "words_file", type=_FILE, help="A file with the fixed words in another language (TOML).")
@click.option(
    "--dpi", type=click.IntRange(10, 600), default=200, show_default=True, help="Dots an inch of the printed pictures."
)
@click.option(
    "--grain", type=click.FloatRange(0.1, 50.0), default=3.0, show_default=True,
    help="How grainy a picture may stay, in 8-bit code values.",
)  # fmt: skip
@click.option(
    "--samples", type=click.IntRange(8, 1 << 20), default=512, show_default=True, help="The most samples of any pixel."
)
@click.option("--time-limit", type=QuantityParameter("TIME"), help=_TIME_HELP)
@click.option("--denoise", is_flag=True, help="Take the grain out of the pictures.")
@click.option("--threads", type=click.IntRange(1, 1024), help="How many threads; all when left out.")
@common_options
@reported
def pitch(
    setup_files: tuple[Path, ...],
    out: Path,
    paper: str,
    ground: str,
    comparison: bool,
    details: bool,
    no_watermark: bool,
    words_file: Path | None,
    dpi: int,
    grain: float,
    samples: int,
    time_limit: float | None,
    denoise: bool,
    threads: int | None,
    as_json: bool,
    quiet: bool,
    seed: int | None,
) -> None:
    """Make a client's PDF of one SETUP or several: a title, a page a look with its picture, what changes between them.

    Pictures are kept in a folder beside the PDF; a pitch of the same sets made again takes them from there.
    """
    _refuse_unfit(out, len(setup_files), denoise=denoise)
    from throughlight.sheets.pitch import Style
    from throughlight.sheets.pitch_pictures import PAPERS, How
    from throughlight.sheets.pitch_words import words_from

    words, setups = words_from(words_file), _loaded(setup_files)
    style = Style(PAPERS[paper], "dark" if ground == "dark" else "light", comparison, details, not no_watermark)
    how = How(dpi, grain, samples, time_limit, seed, threads, denoise)
    looks = _taken(setups, style, how, out, quiet=quiet or as_json)
    from throughlight.sheets.pitch import sheet

    made = sheet(looks, words, style)
    _write(made, out)
    if as_json:
        click.echo(json.dumps(made.as_json(out), indent=2, ensure_ascii=False))
    else:
        _print(made, out, quiet=quiet)


def _refuse_unfit(out: Path, looks: int, *, denoise: bool) -> None:
    """Refuse what cannot come to a good end before anything is traced."""
    from throughlight.darkroom import denoiser
    from throughlight.sheets.pitch import MOST_LOOKS

    if looks > MOST_LOOKS:
        raise click.UsageError(f"found {looks} setup files; up to {MOST_LOOKS} would fit")
    if out.suffix.lower() != ".pdf":
        raise click.UsageError(f'found --out "{out}"; a name that ends in .pdf would fit')
    if not out.resolve().parent.is_dir():
        _refuse(f"{out}: its folder is missing; a folder that is there would fit")
    if denoise and not denoiser.is_here():
        _refuse(f"{denoiser.HOW_TO_GET}.")


def _loaded(files: tuple[Path, ...]) -> list[tuple[Path, Setup]]:
    """Return all sets, or report the mistakes of all of them."""
    from throughlight.setup import SetupError, load

    setups, mistakes = [], []
    for file in files:
        try:
            setups.append((file, load(file)))
        except SetupError as trouble:
            mistakes += trouble.mistakes
    if mistakes:
        raise SetupError(mistakes)
    return setups


def _taken(setups: list[tuple[Path, Setup]], style: Style, how: How, out: Path, *, quiet: bool) -> list[Look]:
    """Take each look's picture, or find it kept; Ctrl-C keeps those that are done and leaves the PDF as it was."""
    from throughlight.cli.progress import bar

    folder = out.with_suffix(".pictures")
    looks: list[Look] = []
    with bar(quiet=quiet) as move:
        from throughlight.sheets.pitch import Look
        from throughlight.sheets.pitch_pictures import take

        for number, (file, setup) in enumerate(setups, 1):
            reading, exposing = _progress(move, f"look {number} of {len(setups)}")
            try:
                picture = take(setup, style.paper, how, folder, progress=reading, picture_progress=exposing)
            except (ValueError, OSError, RuntimeError) as trouble:
                refuse(file, trouble)
            except KeyboardInterrupt:
                picture = None
            if picture is None:
                break
            looks.append(Look(setup, file, picture))
    if len(looks) < len(setups):
        kept = f"{len(looks)} of {len(setups)} pictures are kept in {folder}" if looks else "no picture was done"
        click.echo(f"interrupted: {kept}; {out} is not written", err=True)
        sys.exit(INTERRUPTED)
    return looks


def _progress(
    move: Callable[[float, str], None] | None, where: str
) -> tuple[MeterProgress | None, PictureProgress | None]:
    """Return the progress functions of one look's readings and picture, or None twice where nobody looks."""
    if move is None:
        return None, None
    return (
        lambda what, share, figures: move(share, f"{where}, {what}"),
        lambda share, samples: move(share, f"{where}, picture, {samples} samples a pixel in this pass"),
    )


def _write(made: PitchSheet, out: Path) -> None:
    from throughlight.darkroom.files import atomic

    try:
        content = made.pdf()
        with atomic(out) as passing:
            passing.write_bytes(content)
    except (OSError, RuntimeError) as trouble:
        refuse(out, trouble)


def _print(made: PitchSheet, out: Path, *, quiet: bool) -> None:
    from throughlight.darkroom.names import short
    from throughlight.sheets.pitch_pictures import MILLIMETRES, place_on

    click.echo(f"{'pitch':10}{out}, {made.pages} pages")
    for number, look in enumerate(() if quiet else made.looks, 1):
        picture = look.picture
        place = place_on(made.style.paper, picture.wide / picture.high)
        dots = picture.wide / place.wide * MILLIMETRES
        kept = ", kept from before" if picture.kept else ""
        click.echo(
            f"look {number:<5}{short(look.name, 60)}: {picture.wide}×{picture.high} pixels, {dots:.0f} dpi{kept}"
        )
        for line in made.told_finish(look):
            click.echo(f"{'':10}{line}")


def _refuse(words: str) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(WRONG_INPUT)
