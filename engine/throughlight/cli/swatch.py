"""`throughlight swatch`: a material from meter readings, a photo or published coefficients, and how sure it is."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
from click.core import ParameterSource

from throughlight.cli.options import ENCODING, WRONG_INPUT, QuantityParameter, common_options, reported

if TYPE_CHECKING:
    from throughlight.readings.exposed import Exposed
    from throughlight.readings.piece import PieceReading
    from throughlight.setup.pieces import Piece

_ABOUT = """Find a material from what you can measure, and how sure it is.

\b
throughlight swatch readings.toml
throughlight swatch "5.3 stops less through 4 mm" --kind stone
throughlight swatch "f/22 bare, f/8 through 4 mm" "1.1 stops under the card at 4 mm"
throughlight swatch --photo slice.tif --encoding linear --thickness "5 mm" --kind stone
throughlight swatch --scattering "2.2 1/mm" --absorption "0.02 1/mm"

Readings are made without and with the piece before an even light, a card reading with the piece before black, all in
the middle of a piece some four times as wide as it is thick: what leaves through its sides would count as absorbed.
Prints the material with its intervals, the stops it takes by thickness, laboratory words, and what stays open.
"""
_FILE = click.Path(path_type=Path, dir_okay=False)
_HELP = {
    "kind": "Kind of matter (stone, soap, leaf, … or a material of the kit): what to expect beforehand.",
    "name": "Name of the kit entry.",
    "error": 'How far a difference of two readings may be off (95 %), such as "0.1 stop".',
    "photo": "Photo of the piece on a light table, a bare patch in view.",
    "encoding": "How the photo's code values stand for light; auto, or left out: as its file says.",
    "thickness": "Thickness of the piece in the photo, or for which the tables of published values are made.",
    "bare": 'Where the bare patch is: from the left, from the top, width, height, such as "5% 40% 10% 20%".',
    "piece": "What counts of the piece, written alike; either is looked for when left out.",
    "width": "How much the photo shows from its left edge to its right; a map needs it.",
    "scattering": "Published reduced scattering µs′: one value, or red, green and blue.",
    "absorption": "Published absorption µa: one value, or red, green and blue.",
    "spread": "Standard deviation of the published values as a share of them, such as 0.1.",
    "index": "Refractive index; the kind's when left out.",
    "set": "A set that the piece is to be photographed in: traces it and says what power or aperture it takes.",
    "subject": "Which subject of the set is made of it; the first when left out.",
    "kit": "Write the entry into this kit file (kit.toml beside a set).",
    "chart": "Draw thickness against stops into this .svg or .png file.",
    "map": "Write what each place of the photographed piece passes into this .tif file; the entry then uses it.",
    "up_to": "Greatest thickness of the chart.",
    "tolerance": "Half of the 95 % interval that the tracer is to reach.",
    "no_confirm": "Do not trace the set again with the heads as advised.",
}
_NEEDS = {
    "encoding": ("photo",),
    "thickness": ("photo", "absorption", "scattering"),
    "bare": ("photo",),
    "piece": ("photo",),
    "width": ("map_file",),
    "spread": ("absorption", "scattering"),
    "subject": ("set_file",),
    "tolerance": ("set_file",),
    "no_confirm": ("set_file",),
    "seed": ("set_file",),
    "up_to": ("chart",),
}
"""Options that count beside one of others only."""


class _Readings(click.Command):
    """A command whose arguments may begin with a minus and a digit: a reading that is refused with its reason."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the arguments; a true minus begins no option."""
        return super().parse_args(ctx, [re.sub(r"^-(?=\s*[\d.,½⅓⅔¼¾])", "−", one) for one in args])


@click.command(cls=_Readings, help=_ABOUT)
@click.argument("words", metavar="[FILE | READING]...", nargs=-1)
@click.option("--kind", help=_HELP["kind"])
@click.option("--name", help=_HELP["name"])
@click.option("--error", help=_HELP["error"])
@click.option("--photo", type=_FILE, help=_HELP["photo"])
@click.option("--encoding", type=ENCODING, help=_HELP["encoding"])
@click.option("--thickness", help=_HELP["thickness"])
@click.option("--bare", metavar="REGION", help=_HELP["bare"])
@click.option("--piece", metavar="REGION", help=_HELP["piece"])
@click.option("--width", help=_HELP["width"])
@click.option("--scattering", help=_HELP["scattering"])
@click.option("--absorption", help=_HELP["absorption"])
@click.option("--spread", help=_HELP["spread"])
@click.option("--index", "-n", help=_HELP["index"])
@click.option("--set", "set_file", metavar="SETUP", type=_FILE, help=_HELP["set"])
@click.option("--subject", help=_HELP["subject"])
@click.option("--kit", "kit_file", metavar="FILE", type=_FILE, help=_HELP["kit"])
@click.option("--chart", metavar="FILE", type=_FILE, help=_HELP["chart"])
@click.option("--map", "map_file", metavar="FILE", type=_FILE, help=_HELP["map"])
@click.option("--up-to", type=QuantityParameter("SIZE"), help=_HELP["up_to"])
@click.option(
    "--tolerance", type=QuantityParameter("TOLERANCE"), default="0.1 stop", show_default=True, help=_HELP["tolerance"]
)
@click.option("--no-confirm", is_flag=True, help=_HELP["no_confirm"])
@common_options
@reported
def swatch(
    words: tuple[str, ...],
    set_file: Path | None,
    subject: str | None,
    kit_file: Path | None,
    chart: Path | None,
    map_file: Path | None,
    up_to: float | None,
    tolerance: float,
    no_confirm: bool,
    as_json: bool,
    quiet: bool,
    seed: int | None,
    **said: Any,  # noqa: ANN401 - texts of the command line, checked where files are
) -> None:
    """Read the piece, say what it is made of, and write what is asked for."""
    from throughlight.readings.piece import read_piece
    from throughlight.sheets.piece_entry import entry_text, put_into_kit, write_map

    _refuse_idle()
    piece = _piece(words, said)
    _refuse_beforehand(piece, chart, map_file, kit_file)
    reading = read_piece(piece)
    lain = write_map(reading.shots[0], map_file) if map_file is not None else None
    picture = None if map_file is None else _beside(map_file, kit_file)
    entry = entry_text(reading, picture, lain)
    if kit_file is not None:
        put_into_kit(kit_file, piece.name, entry)
    shown = None
    if set_file is not None:
        shown = _in_set(reading, set_file, subject, tolerance, seed, quiet or as_json, no_confirm)
    if chart is not None:
        from throughlight.sheets.piece_chart import draw_chart

        draw_chart(reading, chart, shown, up_to)
    _print(reading, shown, entry, as_json=as_json, quiet=quiet, written=[kit_file, map_file, chart])


def _refuse_idle() -> None:
    """Refuse options that would change nothing."""
    context = click.get_current_context()
    names = {one.name: one.opts[0] for one in context.command.params if one.name is not None}
    given = {name for name in names if context.get_parameter_source(name) is not ParameterSource.DEFAULT}
    for option, needed in _NEEDS.items():
        if option in given and given.isdisjoint(needed):
            others = " or ".join(names[one] for one in needed)
            _refuse(f"{names[option]} changes nothing without {others}; with it, or without {names[option]}, would fit")
    if "error" in given and not given.isdisjoint(("absorption", "scattering")):
        _refuse("--error is of readings, and published values have none; without it would fit")


def _piece(words: tuple[str, ...], said: dict[str, Any]) -> Piece:
    """Return the piece that a file, or sentences and options, describe."""
    from throughlight.setup.piece_sentences import NAME, tables_from
    from throughlight.setup.pieces import load_piece, piece_from

    given = {key: value for key, value in said.items() if value is not None}
    if len(words) == 1 and words[0].lower().endswith(".toml"):
        if given:
            options = ", ".join(f"--{key}" for key in given)
            _refuse(f"{words[0]} holds all that is told of the piece; without {options} would fit")
        return load_piece(Path(words[0]))
    if not words and not given:
        raise click.UsageError('a file of readings is needed, or a reading such as "5.3 stops less through 4 mm"')
    raw: dict[str, Any] = tables_from(words)
    raw |= {key: given[key] for key in ("kind", "name", "error") if key in given}
    if "index" in given:
        raw["n"] = given["index"]
    if "photo" in given:
        raw["photo"] = {key: given[key] for key in ("encoding", "thickness", "width") if key in given}
        raw["photo"] |= {key: given[key].replace(",", " ").split() for key in ("bare", "piece") if key in given}
        raw["photo"]["picture"] = str(given["photo"].absolute())
    if "scattering" in given or "absorption" in given:
        keys = ("absorption", "thickness", "spread")
        raw["published"] = {key: given[key] for key in keys if key in given}
        if "scattering" in given:
            raw["published"]["reduced_scattering"] = given["scattering"]
    return piece_from(raw, NAME, Path())


def _refuse(sentence: str) -> NoReturn:
    click.echo(sentence, err=True)
    raise SystemExit(WRONG_INPUT)


def _refuse_beforehand(piece: Piece, chart: Path | None, map_file: Path | None, kit_file: Path | None) -> None:
    """Refuse what could not be written, before the work is done."""
    if chart is not None and chart.suffix.lower() not in (".svg", ".png"):
        _refuse(f"{chart}: a chart that ends in .svg or .png would fit")
    if map_file is not None:
        if map_file.suffix.lower() not in (".tif", ".tiff"):
            _refuse(f"{map_file}: a map that ends in .tif would fit")
        if len(piece.photos) != 1:
            found = f"found {len(piece.photos)} photos" if piece.photos else "found none"
            _refuse(f"a map is made from one photo of the piece, {found}; --photo, or one [[photo]], would fit")
    for one in (chart, map_file, kit_file):
        if one is not None and not one.absolute().parent.is_dir():
            _refuse(f"{one}: there is no such folder; one that exists would fit")


def _beside(map_file: Path, kit_file: Path | None) -> str:
    """Return the map's name as the kit file must call it."""
    if kit_file is None:
        return map_file.name
    import os

    return Path(os.path.relpath(map_file.absolute(), kit_file.absolute().parent)).as_posix()


def _in_set(
    reading: PieceReading, set_file: Path, subject: str | None, tolerance: float, seed: int | None, quiet: bool,
    no_confirm: bool,
) -> Exposed:  # fmt: skip
    from throughlight.cli.progress import work_progress
    from throughlight.setup import SetupError, load

    try:
        setup = load(set_file)
    except SetupError as trouble:
        if f'found "{reading.piece.name}", which is not in the kit' not in str(trouble):
            raise
        _refuse(f"{trouble}; --kit {set_file.parent / 'kit.toml'} would put this piece there")
    with work_progress(quiet=quiet) as (progress, _):
        from throughlight.readings.exposed import exposed

        return exposed(
            setup, reading, subject=subject, file=str(set_file), tolerance=tolerance, seed=seed,
            confirm=not no_confirm, progress=progress,
        )  # fmt: skip


def _print(
    reading: PieceReading, shown: Exposed | None, entry: str, *, as_json: bool, quiet: bool, written: list[Path | None]
) -> None:
    from throughlight.sheets.piece_words import piece_table, usual_thicknesses

    thicknesses = usual_thicknesses(reading)
    if as_json:
        from throughlight.sheets.piece_json import piece_json

        told = piece_json(reading, thicknesses, entry, shown)
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    if quiet:
        click.echo(entry, nl=False)
        return
    from rich.console import Console

    console = Console(highlight=False)
    console.print(piece_table(reading, thicknesses, shown))
    console.print()
    if written[0] is None:
        console.print("As an entry of a kit.toml:", style="dim")
        click.echo(entry, nl=False)
    for file in written:
        if file is not None:
            console.print(f"wrote {file}", style="dim", markup=False)
