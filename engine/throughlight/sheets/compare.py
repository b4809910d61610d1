"""The page that lays two sets side by side or under a wipe, with the same controls for both."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import throughlight
from throughlight.darkroom.files import write_text
from throughlight.darkroom.names import seen
from throughlight.readings.intervals import Stops
from throughlight.readings.reading import Readings, stops_json
from throughlight.sheets import house
from throughlight.sheets.differences import LABELS, differences
from throughlight.sheets.numbers import amount, stops
from throughlight.sheets.page_picture import Packed, pack
from throughlight.sheets.pitch_changes import changes
from throughlight.sheets.pitch_words import english, put
from throughlight.sheets.report import MOST_BYTES, room_for_layers, set_told, shared_told, still_picture
from throughlight.sheets.report_data import set_data, sums_data
from throughlight.sheets.report_words import made_lines, made_notes
from throughlight.sheets.shot import Shot

SCHEMA = "throughlight/compare/1"
"""Name and version of the JSON."""
_MOST_CHANGES = 30
_STEPS = 9  # thirds of a stop that the camera's controls move both sets together, each way


def write_compare(a: Shot, b: Shot, folder: Path, *, files: tuple[str, str] | None = None) -> Path:
    """Write the page into a folder, atomically, and return its path; arguments as for `compare_page`.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "compare.html"
    write_text(path, compare_page(a, b, files=files))
    return path


def compare_page(a: Shot, b: Shot, *, files: tuple[str, str] | None = None) -> str:
    """Return the page as HTML, the first set as A and the second as B.

    Parameters
    ----------
    a, b
        Readings and pictures, every pixel exposed.
    files
        Where the sets are written: two sets often have one title.
    """
    shots = (a, b)
    written = [[], []] if files is None else [[("set", seen(file))] for file in files]
    stills = [house.data_uri(still_picture(shot), "image/jpeg") for shot in shots]
    sums = [sums_data(shot) for shot in shots]
    packed = [
        pack(shot, room_for_layers(table, MOST_BYTES - len(still)))
        for shot, table, still in zip(shots, sums, stills, strict=True)
    ]
    sides = [
        {**set_told(*each, number), "mark": mark, "made": [*written[number], *made_lines(each[0])]}
        for number, (mark, each) in enumerate(zip("AB", zip(shots, packed, stills, strict=True), strict=True))
    ]
    told: dict[str, Any] = {
        **shared_told([set_data(*each) for each in zip(shots, packed, sums, strict=True)]),
        "sides": sides,
        "lights": _lights_of_both(sides),
        "steps": _STEPS,
        "changes": [seen(line) for line in _changes(a, b)],
        "lines": _lines(a, b),
        "made_notes": [seen(note) for note in _notes(shots, packed)],
    }
    return house.page("compare.html", **told)


def compare_json(a: Shot, b: Shot) -> dict[str, Any]:
    """Return both sets' readings and how they differ as plain JSON data, units in the keys."""
    return {
        "schema": SCHEMA,
        "engine_version": throughlight.__version__,
        "sets": [a.as_json(), b.as_json()],
        "changes": _changes(a, b),
        "second_over_first": {f"{name}_stops": stops_json(figure) for name, figure in differences(a, b).items()},
    }


def _changes(a: Shot, b: Shot) -> list[str]:
    """Return what is set up differently in B, a line for each thing; the last counts what is left out."""
    words = english()
    lines = changes(a.setup, b.setup, words, details=True)
    if len(lines) <= _MOST_CHANGES:
        return lines
    return [*lines[: _MOST_CHANGES - 1], put(words, "more", count=len(lines) - _MOST_CHANGES + 1)]


def _lights_of_both(sides: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the lights of both sets by name, each name once, numbered for the page's controls."""
    names = dict.fromkeys(light["name"] for side in sides for light in side["lights"])
    return [{"at": at, "name": name} for at, name in enumerate(names)]


def _lines(a: Shot, b: Shot) -> list[dict[str, str]]:
    apart = differences(a, b)
    figures = [_figures(shot.readings) for shot in (a, b)]
    return [
        {"label": label, "a": figures[0][name], "b": figures[1][name], "apart": apart_words(apart[name])}
        for name, label in LABELS.items()
    ]


def apart_words(figure: Stops | None) -> str:
    """Return a difference as it is shown."""
    return "can’t be told" if figure is None else stops(figure)


def _figures(readings: Readings) -> dict[str, str]:
    subject, backdrop, stray = readings.subject, readings.backdrop, readings.stray
    away = "not in the frame"
    return {
        "subject": away if subject is None else stops(subject.mean),
        "backdrop": away if backdrop is None else stops(backdrop.mean),
        "worst_patch": away if backdrop is None else stops(backdrop.worst.exposure),
        "under_subject": away if backdrop is None else stops(backdrop.under_subject, sign=False),
        "veil": stops(stray.veil),
        "stray_light": amount(stray.outside, "lx·s"),
    }


def _notes(shots: tuple[Shot, Shot], packed: list[Packed]) -> list[str]:
    """Return each sentence once; those that only one set's page would have are told with its title."""
    each = [made_notes(shot, one) for shot, one in zip(shots, packed, strict=True)]
    common = [note for note in each[0] if note in each[1]]
    own = [
        f"{shot.setup.title}: {note}"
        for shot, notes in zip(shots, each, strict=True)
        for note in notes
        if note not in common
    ]
    return [*common, *own]
