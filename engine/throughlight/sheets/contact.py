"""The contact sheet: small pictures side by side, each labelled with its place and with what differs among them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.names import seen

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

Colours = NDArray[np.uint8]

_PAPER, _INK, _QUIET = (30, 31, 32), (225, 226, 227), (179, 182, 184)
_CELL = 400  # pixels of a picture's longer side on the sheet
_GAP, _TEXT, _LINE = 28, 15, 21
_MOST_LINES = 6


class Labelled(NamedTuple):
    """A picture with its label: a heading, and lines that are broken where they are too long."""

    picture: Colours
    heading: str
    lines: tuple[str, ...]


def contact_sheet(title: str, pictures: Sequence[Labelled], columns: int = 4) -> Colours:
    """Return the sheet, (h, w, 3) sRGB code values.

    Parameters
    ----------
    title
        What stands at the top.
    pictures
        At least one, in the order of the sheet.
    columns
        How many side by side.

    Raises
    ------
    ValueError
        When there is no picture.
    """
    from PIL import Image, ImageDraw, ImageFont

    if not pictures:
        raise ValueError("a contact sheet needs at least one picture")
    columns = min(columns, len(pictures))
    plain, bold = (ImageFont.truetype(str(path), _TEXT) for path in _types())
    cells = [_cell(one, plain, bold) for one in pictures]
    rows = [cells[at : at + columns] for at in range(0, len(cells), columns)]
    heights = [max(cell.height for cell in row) for row in rows]
    width = columns * (_CELL + _GAP) + _GAP
    sheet = Image.new("RGB", (width, 3 * _GAP + _LINE + sum(heights) + _GAP * (len(rows) - 1)), _PAPER)
    draw = ImageDraw.Draw(sheet)
    heading = _broken(seen(title), bold, width - 2 * _GAP, 1)
    draw.text((_GAP, _GAP), "".join(heading), fill=_INK, font=bold)
    top = 2 * _GAP + _LINE
    for row, height in zip(rows, heights, strict=True):
        for at, cell in enumerate(row):
            sheet.paste(cell, (_GAP + at * (_CELL + _GAP), top))
        top += height + _GAP
    return np.asarray(sheet)


def _types() -> tuple[Path, Path]:
    """Return the files of an upright type, plain and bold, that knows many languages: matplotlib brings it."""
    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return folder / "DejaVuSans.ttf", folder / "DejaVuSans-Bold.ttf"


def _cell(one: Labelled, plain: ImageFont.FreeTypeFont, bold: ImageFont.FreeTypeFont) -> Image.Image:
    """Return one picture with its label under it."""
    from PIL import Image, ImageDraw

    picture = Image.fromarray(one.picture)
    share = _CELL / max(picture.size)
    picture = picture.resize(
        (max(1, round(share * picture.width)), max(1, round(share * picture.height))), Image.Resampling.LANCZOS
    )
    lines = [(part, bold, _INK) for part in _broken(seen(one.heading), bold, _CELL, 2)]
    for line in one.lines:
        lines += [(part, plain, _QUIET) for part in _broken(seen(line), plain, _CELL, _MOST_LINES)]
    lines = lines[:_MOST_LINES]
    cell = Image.new("RGB", (_CELL, picture.height + 8 + _LINE * len(lines)), _PAPER)
    cell.paste(picture, (0, 0))
    draw: ImageDraw.ImageDraw = ImageDraw.Draw(cell)
    for at, (text, font, ink) in enumerate(lines):
        draw.text((0, picture.height + 8 + at * _LINE), text, fill=ink, font=font)
    return cell


def _broken(text: str, font: ImageFont.FreeTypeFont, room: int, most: int) -> list[str]:
    """Return a text in at most `most` lines that fit into `room` pixels, the last one cut short where it must be."""
    lines, line = [], ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if font.getlength(longer) <= room or not line:
            line = longer
        else:
            lines.append(line)
            line = word
    lines.append(line)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return [_cut(part, font, room) for part in lines]


def _cut(text: str, font: ImageFont.FreeTypeFont, room: int) -> str:
    if font.getlength(text) <= room:
        return text
    kept = next(
        (n for n in range(min(len(text), math.ceil(room / 2)), 0, -1) if font.getlength(f"{text[:n]}…") <= room), 0
    )
    return f"{text[:kept]}…"
