"""A new piece as an entry of a kit file: TOML with its provenance, put into a kit.toml beside a set."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path

import numpy as np

from throughlight import __version__
from throughlight.kit import Kit, plain_name
from throughlight.kit.places import own_files
from throughlight.readings.figures import significant
from throughlight.readings.open_points import open_points
from throughlight.readings.piece import BANDS, PieceReading, Shot, capture_of
from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.own_kit import shelf_of
from throughlight.setup.text import parsed, text_of
from throughlight.sheets.piece_words import millimetres, span_words

_LONGEST = 990
_HEADER = re.compile(r"""^\s*\[\s*materials\s*\.\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*[\].]""")


def entry_text(reading: PieceReading, map_file: str | None = None, map_width: float | None = None) -> str:
    """Return the entry as TOML.

    Parameters
    ----------
    reading
        The piece's matter.
    map_file, map_width
        Name of the map's picture beside the kit file and how wide it lies, m; None without a map.
    """
    piece = reading.piece
    lines = [f"[materials.{_quoted(piece.name)}]"]
    for i, belief in enumerate(reading.beliefs):
        band = "all bands" if reading.neutral else BANDS[i]
        lines.append(f"# {band}, 95 %: µs′ {span_words(belief.scatter)}, µa {span_words(belief.absorb)} 1/mm")
    lines += [f"# {point}" for point in open_points(reading)]
    if piece.good_for:
        lines.append(f"good_for = {_quoted(piece.good_for)}")
    material = reading.material
    status = "published" if piece.published is not None and piece.status == "own" else piece.status
    lines += [
        f"status = {_quoted(status)}",
        f"source = {_quoted(provenance(reading))}",
        f"reduced_scattering = {_quoted(_bands(material.reduced_scattering))}",
        f"absorption = {_quoted(_bands(material.absorption))}",
        f"n = {significant(material.n, 5)}",
        f"g = {significant(material.g, 4)}",
    ]
    if material.roughness > 0.0:
        lines.append(f"roughness = {significant(material.roughness, 3)}")
    if map_file is not None and map_width is not None:
        thickness = f"{significant(1e3 * reading.shots[0].photo.thickness, 5)} mm"
        lines.append(
            f"map = {{ picture = {_quoted(map_file)}, width = {_quoted(f'{significant(1e3 * map_width, 5)} mm')}, "
            f'encoding = "linear", thickness = {_quoted(thickness)} }}'
        )
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _bands(values: tuple[float, float, float]) -> str:
    numbers = [significant(one * 1e-3, 4) for one in values]
    return f"{numbers[0] if len(set(numbers)) == 1 else ' '.join(numbers)} 1/mm"


def provenance(reading: PieceReading) -> str:
    """Return where an entry's numbers come from, in a sentence."""
    piece = reading.piece
    said = [piece.source] if piece.source else []
    if piece.published is not None:
        said.append("published coefficients, as given")
    for one in piece.readings:
        loss = " ".join(significant(stops, 3) for stops in dict.fromkeys(one.stops))
        said.append(f"{loss} stops less through {millimetres(one.thickness)} ({one.seen})")
    for shot in reading.shots:
        loss = " ".join(f"{-np.log2(part):.2f}" for part in shot.passed.share)
        said.append(
            f"photo {shot.photo.picture.name}: {loss} stops less (red, green, blue) through "
            f"{millimetres(shot.photo.thickness)}"
        )
    for card in piece.cards:
        over = " ".join(f"{stops:+.3g}" for stops in dict.fromkeys(card.over))
        said.append(f"{over} stop over a card of {100.0 * card.grey:.3g} % at {millimetres(card.thickness)}")
    if piece.published is None:
        told = "both coefficients told" if _told(reading) else "coefficients told in part"
        error = f", readings ± {significant(reading.error, 3)} stop"
        said.append(f"taken as {piece.kind.title}; {told}{error}")
    said.append(f"throughlight swatch {__version__}")
    whole = "; ".join(said)
    return whole if len(whole) <= _LONGEST else whole[: _LONGEST - 1] + "…"


def _told(reading: PieceReading) -> bool:
    clear = reading.piece.kind.scatter is None
    return all((one.scatter.told or clear) and one.absorb.told for one in reading.beliefs)


def put_into_kit(file: Path, name: str, entry: str) -> bool:
    """Write an entry into a kit file, in place of one of the same name; all else stays as it is.

    Returns
    -------
    bool
        Whether an entry of that name was replaced.

    Raises
    ------
    SetupError
        When the file is no kit file, or cannot be written; it is then left as it was.
    """
    text = text_of(file, "kit file") if file.exists() else ""
    parsed(text, str(file))
    whole, replaced = _with(text, name, entry)
    draft = file.with_name(f".{file.name}.draft")  # beside it, where files that an entry names are found
    try:
        draft.write_text(whole, "utf-8")
        try:
            shelf_of(draft, _below(file))
            if file.exists():
                shutil.copymode(file, draft)
            os.replace(draft, file)
        finally:
            draft.unlink(missing_ok=True)
    except SetupError as trouble:
        said = [Mistake(str(file), one.line, one.column, one.key, one.message) for one in trouble.mistakes]
        raise SetupError(said) from None
    except OSError as trouble:
        raise SetupError([Mistake(str(file), 0, 0, "", f"it cannot be written ({trouble.strerror})")]) from None
    return replaced


def _below(file: Path) -> Kit:
    """Return the kit under a kit file: what ships, and the user's own kit file unless it is that one."""
    others = [one for one in own_files(file.parent) if one.name != file.name or one.parent != file.parent]
    return Kit((shelf_of(others[-1], Kit()),)) if others else Kit()


def _with(text: str, name: str, entry: str) -> tuple[str, bool]:
    """Return a kit file's text with an entry, and whether it took the place of one of the same name."""
    kept: list[str] = []
    notes: list[str] = []  # comments under the table that is dropped: they belong to the next one
    inside, found, ours = False, False, False  # ours: between the dropped table's header and its first key
    for line in text.splitlines(keepends=True):
        if line.lstrip().startswith("["):
            match = _HEADER.match(line)
            inside = match is not None and plain_name(next(one for one in match.groups() if one)) == plain_name(name)
            kept += notes
            notes, ours = [], True
            if inside and not found:
                kept += [entry, "\n"]
                found = True
        if not inside:
            kept.append(line)
        elif line.strip() and not line.lstrip().startswith("#"):
            notes, ours = [], line.lstrip().startswith("[")
        elif not ours and line.strip():
            notes.append(line)
    if not found:
        kept += ["\n" if text.endswith("\n") or not text else "\n\n", entry]
    return "".join(kept + notes).strip("\n") + "\n", found


def write_map(shot: Shot, file: Path) -> float:
    """Write what each place of a piece passes as a linear 16-bit TIFF, the bare table being white.

    Returns
    -------
    float
        How wide it lies, m.

    Raises
    ------
    SetupError
        When the photo does not say how wide it is, or the file cannot be written.
    """
    import tifffile

    name = str(shot.photo.picture)
    if shot.photo.width is None:
        words = 'a map needs to know how much the photo shows from left to right; width = "12 cm" would fit'
        raise SetupError([Mistake(name, 0, 0, "width", words)])
    light = capture_of(shot.photo).linear
    rows, columns, _ = light.shape
    x, y, width, height = shot.passed.piece
    border = 0.03
    left, right = (int(np.clip(round(one * columns), 0, columns)) for one in (x - border, x + width + border))
    top, bottom = (int(np.clip(round(one * rows), 0, rows)) for one in (y - border, y + height + border))
    table = shot.passed.table.light(rows, columns)
    share = np.clip(light[top:bottom, left:right] / table[top:bottom, left:right], 0.0, 1.0)
    try:
        tifffile.imwrite(file, np.round(share * 65535.0).astype(np.uint16), photometric="rgb")
    except OSError as trouble:
        raise SetupError([Mistake(str(file), 0, 0, "", f"it cannot be written ({trouble.strerror})")]) from None
    return float(shot.photo.width * (right - left) / columns)
