"""The report page of a shot: one self-contained file whose picture is exposed anew, light by light, in a browser."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from markupsafe import Markup

import throughlight
from throughlight.darkroom import scale, tone
from throughlight.darkroom.files import write_text
from throughlight.darkroom.names import seen
from throughlight.readings.camera import camera_lines
from throughlight.readings.figures import significant, time_words
from throughlight.readings.power import power_lines
from throughlight.sheets import house
from throughlight.sheets.finished import finished
from throughlight.sheets.page_picture import Packed, pack, shrunk, still_size
from throughlight.sheets.report_data import HIGHEST_THIRDS, LOWEST_THIRDS, common_data, read_square, set_data, sums_data
from throughlight.sheets.report_words import made_lines, made_notes
from throughlight.sheets.shot import Shot
from throughlight.sheets.small import jpeg
from throughlight.sheets.table import reading_lines

MOST_BYTES = 12_000_000
"""The most that a page of one set takes."""
_FOR_WORDS = 200_000  # bytes of a page that are words, script and colours
_LEGEND_STEP = 0.25  # stops


def write_report(shot: Shot, folder: Path, *, diagram: str | None = None) -> Path:
    """Write the report page into a folder, atomically, and return its path; arguments as for `report_page`.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "report.html"
    write_text(path, report_page(shot, diagram=diagram))
    return path


def report_page(shot: Shot, *, diagram: str | None = None, most: int = MOST_BYTES) -> str:
    """Return the report page as HTML.

    Parameters
    ----------
    shot
        Readings and picture, every pixel of it exposed.
    diagram
        The set's diagram as the text of an SVG, safe as it is; the page has no such part without.
    most
        Bytes that the page may take.
    """
    still = house.data_uri(still_picture(shot), "image/jpeg")
    drawn = 0 if diagram is None else len(diagram.encode())
    sums = sums_data(shot)
    packed = pack(shot, room_for_layers(sums, most - drawn - len(still)))
    told: dict[str, Any] = {
        **set_told(shot, packed, still, 0),
        **shared_told([set_data(shot, packed, sums)]),
        "lines": [_line(line) for line in reading_lines(shot.readings)],
        "camera": [(label, seen(words)) for label, words in camera_lines(shot.readings.camera)],
        "power": [(seen(name), seen(words)) for name, words in power_lines(shot.readings.power)],
        "diagram": None if diagram is None else Markup(diagram),
        "made": made_lines(shot),
        "made_notes": [seen(note) for note in made_notes(shot, packed)],
    }
    return house.page("report.html", **told)


def room_for_layers(sums: dict[str, Any], most: int) -> int:
    """Return how many of a page's bytes are left for the layers when words, script and sums have theirs."""
    return most - _FOR_WORDS - len(json.dumps(sums))


def shared_told(sets: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return what a page's template needs whichever sets are on it."""
    return {
        "given": {"common": common_data(), "sets": list(sets)},
        "lowest": LOWEST_THIRDS,
        "highest": HIGHEST_THIRDS,
        "legend": _legend(),
        "legend_marks": _legend_marks(),
        "version": throughlight.__version__,
    }


def set_told(shot: Shot, packed: Packed, still: str, number: int) -> dict[str, Any]:
    """Return what a page's template needs of its `number`th set; `still` is the address of the set's picture."""
    camera = shot.setup.camera
    settings = f"f/{significant(camera.f_number, 3)}, {time_words(camera.shutter)}, ISO {significant(camera.iso, 5)}"
    return {
        "title": seen(shot.setup.title),
        "settings": settings,
        "number": number,
        "width": packed.width,
        "height": packed.height,
        "still": still,
        "layers": [(at, layer[0]) for at, layer in enumerate(packed.layers) if layer is not None],
        "lights": _lights(shot, packed),
        "square": read_square(packed.width, packed.height),
        "verdicts": [(good, seen(words)) for good, words in shot.readings.verdicts],
    }


def still_picture(shot: Shot) -> bytes:
    """Return the picture as the set has it, as JPEG: what stands until the layers are unpacked."""
    exposure = finished(shot.setup, shot.exposure).astype(np.float32)
    small = shrunk(exposure, *still_size(exposure.shape[1], exposure.shape[0]))
    return jpeg(tone.develop(small, shot.setup.camera.iso))


def _lights(shot: Shot, packed: Packed) -> list[dict[str, Any]]:
    """Return the lights that add something, in the order of the set, each with its place among the layers."""
    flashes = [*shot.setup.flashes, False]
    return [
        {"at": at, "name": seen(name), "flash": flashes[at]}
        for at, name in enumerate(shot.picture.names)
        if packed.layers[at] is not None
    ]


def _line(line: tuple[str, str, str]) -> dict[str, Any]:
    label, figure, remark = line
    return {"part": label.startswith(" "), "label": seen(label), "figure": figure, "remark": seen(remark)}


def _legend() -> str:
    """Return the scale of stops as a CSS gradient from darkest to brightest."""
    ends = np.arange(scale.DARKEST, scale.BRIGHTEST + _LEGEND_STEP, _LEGEND_STEP)
    colours = ["#" + "".join(f"{int(band):02x}" for band in colour) for colour in scale.colours(ends)]
    return f"linear-gradient(to right, {', '.join(colours)})"


def _legend_marks() -> list[tuple[float, str, str]]:
    """Return what is written under the scale: place in per cent, what it says, and its kind."""
    span = scale.BRIGHTEST - scale.DARKEST
    marks = [
        (float(stops), "0 mid-grey" if stops == 0 else f"{stops:+d}".replace("-", "−"), "")
        for stops in range(-12, 3, 2)
    ]
    marks.append((scale.CLIP_STOPS, "clip", "clip"))
    return [(100.0 * (stops - scale.DARKEST) / span, said, kind) for stops, said, kind in marks]
