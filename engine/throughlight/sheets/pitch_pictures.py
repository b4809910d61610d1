"""The pictures of a pitch: how large they stand on the paper, taken with as many pixels as that asks for, and kept.

A picture is kept beside the pitch under a name that its set, the engine and how it was taken make together. A pitch
that is made again, with another sentence or on other paper, finds it there and traces nothing.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from throughlight.darkroom import denoiser, files, tone
from throughlight.darkroom.names import seen
from throughlight.readings.finishing import finish_words
from throughlight.readings.meter import Progress
from throughlight.readings.picture import Progress as PictureProgress
from throughlight.setup import Pitch, Setup, Wanted
from throughlight.setup.camera import MOST_PIXELS
from throughlight.sheets.finished import finished

MILLIMETRES = 25.4
"""Of an inch."""
_TOLERANCE = 0.1  # stops; what is read for a pitch is its veil
_MADE = "Made"
_MOST_PNG = 3_000_000  # bytes; a larger picture goes into the PDF as JPEG
_QUALITY = 95


class Paper(NamedTuple):
    """A sheet of paper, lying: its name for the typesetter, width and height, mm."""

    name: str
    wide: float
    high: float


PAPERS = {"a4": Paper("a4", 297.0, 210.0), "letter": Paper("us-letter", 279.4, 215.9)}
"""ISO 216 and ANSI/ASME Y14.1."""
MARGIN, TOP, CAPTION, FOOT, GAP = 18.0, 15.0, 30.0, 14.0, 6.0
"""mm: left and right of a page, over the picture, of the caption under it, of the foot, and between them."""
HEADING, UNDER = 14.0, 14.0
"""mm: of the page with all looks: its heading, and the caption under each picture."""
_BESIDE = 78.0  # mm; width of a caption that stands beside an upright picture
_WORTH_ROWS = 1.25  # how much larger than in one row pictures must become in several
_SMALLEST = 5.0  # mm
_SQUARISH = 1.25  # width over height up to which the caption stands beside


class Place(NamedTuple):
    """How large a picture stands on the page, mm, and whether its caption stands beside it."""

    wide: float
    high: float
    beside: bool


class How(NamedTuple):
    """How well a picture is taken: as for `throughlight.shoot`."""

    dpi: int
    grain: float = 3.0
    samples: int = 512
    time_limit: float | None = None
    seed: int | None = None
    threads: int | None = None
    denoise: bool = False


class LookPicture(NamedTuple):
    """A finished picture: its file, how large it is, how it was made, and whether it had been kept from before."""

    path: Path
    wide: int
    high: int
    made: dict[str, Any]
    kept: bool

    def part(self) -> tuple[str, bytes]:
        """Return the picture's kind and bytes for a page: PNG, or JPEG where that would be too large."""
        content = self.path.read_bytes()
        if len(content) <= _MOST_PNG:
            return "png", content
        from PIL import Image

        file = io.BytesIO()
        with Image.open(self.path) as picture:
            picture.convert("RGB").save(
                file, format="JPEG", quality=_QUALITY, subsampling=0, optimize=True, icc_profile=files.srgb_profile()
            )
        return "jpg", file.getvalue()


def place_on(paper: Paper, ratio: float) -> Place:
    """Return the largest place for a picture of that width over height."""
    beside = ratio < _SQUARISH
    wide, high = paper.wide - 2.0 * MARGIN, paper.high - TOP - FOOT - GAP
    if beside:
        wide -= _BESIDE + GAP
    else:
        high -= CAPTION + GAP
    scale = min(wide, high * ratio)
    return Place(scale, scale / ratio, beside)


class Rows(NamedTuple):
    """All looks on one page: the height of each picture, mm, and which look (from 0) stands in which row."""

    high: float
    rows: list[list[int]]


def in_rows(paper: Paper, ratios: Sequence[float]) -> Rows:
    """Return the rows in which pictures of these widths over heights stand largest, one row where that is not small."""
    ways = [_rows_of(paper, ratios, across) for across in range(len(ratios), 0, -1)]
    return max(ways, key=lambda way: way.high if len(way.rows) == 1 else way.high / _WORTH_ROWS)


def _rows_of(paper: Paper, ratios: Sequence[float], across: int) -> Rows:
    rows = [list(range(first, min(first + across, len(ratios)))) for first in range(0, len(ratios), across)]
    wide = paper.wide - 2.0 * MARGIN
    fits = [(wide - GAP * (len(row) - 1)) / sum(ratios[number] for number in row) for row in rows]
    free = paper.high - TOP - FOOT - HEADING - GAP * (len(rows) - 1)
    return Rows(max(_SMALLEST, min(*fits, free / len(rows) - UNDER)), rows)


def finished_size(setup: Setup) -> tuple[int, int]:
    """Return width and height, pixels, of the finished picture at the set's own pixels."""
    from throughlight.darkroom.finish import inscribed

    width, height = setup.camera.pixels
    turn = setup.finish.whole_turn
    if round(turn / (0.5 * math.pi)) % 2:
        width, height = height, width
    left_over = math.remainder(turn, 0.5 * math.pi)
    return inscribed(width, height, left_over, width / height if setup.finish.crop is None else setup.finish.crop)


def at_print_quality(setup: Setup, paper: Paper, dpi: int) -> Setup:
    """Return the set with as many pixels as its finished picture needs on that paper.

    Raises
    ------
    ValueError
        When that is more than a camera of a set may have.
    """
    own_wide, own_high = finished_size(setup)
    place = place_on(paper, own_wide / own_high)
    # Two more, since a crop is cut to whole pixels.
    share = (dpi * place.wide / MILLIMETRES + 2.0) / own_wide
    width, height = (max(1, math.ceil(share * side)) for side in setup.camera.pixels)
    if width * height > MOST_PIXELS:
        raise ValueError(
            f"{setup.title}: {dpi} dots an inch need {width}×{height} pixels before the crop; fewer dots would fit"
        )
    return setup.model_copy(update={"camera": setup.camera.model_copy(update={"pixels": (width, height)})})


def take(
    setup: Setup, paper: Paper, how: How, folder: Path, *,
    progress: Progress | None = None, picture_progress: PictureProgress | None = None,
) -> LookPicture | None:  # fmt: skip
    """Return a set's picture at print quality: the one that is kept in the folder, or a new one, which is kept there.

    Returns
    -------
    LookPicture or None
        None when Ctrl-C ended it.

    Raises
    ------
    ValueError
        When the picture is too large.
    OSError
        When it cannot be written.
    RuntimeError
        When no denoiser is there, or it fails.
    """
    setup = at_print_quality(setup, paper, how.dpi)
    path = folder / f"{_key(setup, how)}.png"
    from throughlight.sheets.shot import credit, shoot

    notes = "; ".join(filter(None, (denoiser.MARK if how.denoise else "", finish_words(setup))))
    told = credit(setup) | ({"description": notes} if notes else {})
    kept = _kept(path, told)
    if kept is not None:
        return kept

    shot = shoot(
        setup, tolerance=_TOLERANCE, time_limit=how.time_limit, grain=how.grain, most_samples=how.samples,
        seed=how.seed, threads=how.threads, denoise=how.denoise, progress=progress, picture_progress=picture_progress,
    )  # fmt: skip
    if shot.interrupted:
        return None
    shown = finished(setup, shot.exposure if shot.denoised is None else shot.denoised)
    made = shot.as_json()["picture"]
    folder.mkdir(parents=True, exist_ok=True)
    files.write_png(path, tone.develop(shown, setup.camera.iso), {**told, _MADE: json.dumps(made)})
    return LookPicture(path, shown.shape[1], shown.shape[0], made, kept=False)


def _kept(path: Path, told: dict[str, str]) -> LookPicture | None:
    """Return the picture in a file of an earlier pitch, or None where there is no sound one.

    What the file tells, such as who made it, may have changed since: it then tells what it does now.
    """
    from PIL import Image

    try:
        with Image.open(path) as picture:
            picture.load()
            made = json.loads(picture.info[_MADE])
            before = {key: picture.info[name] for key, name in files.KEYWORDS.items() if name in picture.info}
            codes = np.asarray(picture.convert("RGB"))
    except (OSError, ValueError, SyntaxError, KeyError):
        return None
    if before != {key: seen(words) for key, words in told.items()}:
        files.write_png(path, codes, {**told, _MADE: json.dumps(made)})
    return LookPicture(path, codes.shape[1], codes.shape[0], made, kept=True)


def _key(setup: Setup, how: How) -> str:
    """Return a name that stands for all that a picture depends on."""
    from throughlight.study.identity import engine_hash
    from throughlight.study.space import whole_key

    bare = setup.model_copy(update={"title": "", "pitch": Pitch(), "wanted": Wanted()})
    seed = setup.seed if how.seed is None else how.seed
    asked = (whole_key(bare), engine_hash(), files.SOFTWARE, seed, how._replace(seed=None, threads=None, dpi=0))
    return hashlib.sha256(repr(asked).encode()).hexdigest()[:20]
