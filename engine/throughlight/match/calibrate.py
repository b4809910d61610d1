"""The calibration file: what all changes together say of heads, cloth, lens and room, with 95 % intervals.

All of them are written with the values they have together, because only together do they make the photo; which of them
the frame did not fix is said beside each. An unflagged route is not written: a flag is put back, not calibrated.
"""

from __future__ import annotations

import math
from pathlib import Path

from throughlight import __version__
from throughlight.darkroom.names import seen
from throughlight.match.causes import name_of
from throughlight.match.fit import Interval
from throughlight.match.run import Match
from throughlight.match.templates import ROOM_UNIT, Change
from throughlight.setup import Setup
from throughlight.setup.calibration import Calibration

_DARKEST = -20.0  # stops: what is written for nothing at all
_LAMBERTIAN = 2.0943951023931953


def calibration_text(match: Match, setup: Setup, before: Calibration | None = None) -> str:
    """Return the text of a calibration file.

    Parameters
    ----------
    match
        What the photo says.
    setup
        The set as it was read, an earlier calibration included.
    before
        That earlier calibration: what a head gives more than it is said to adds up.
    """
    told = {place: change for place, change in match.changes.items() if place < match.model.level}
    changes = match.model.templates.changes
    lines = [
        f"# Written by throughlight {__version__} from a test frame; take it in with",
        '# calibration = "this file\'s name" at the top of the setup file.',
        f"photo = {_quoted(match.capture.path.name)}",
    ]
    lines += _flags(match)
    for name in dict.fromkeys(one.of for one in changes if one.kind in ("head", "beam")):
        lines += ["", *_head(match, setup, name, _stops_before(before, name))]
    for place, change in told.items():
        lines += _table(match, setup, place, changes[place], change, before)
    return "\n".join(lines) + "\n"


def _flags(match: Match) -> list[str]:
    """Return remarks about flags that seem to be open."""
    remarks = []
    for place, change in match.changes.items():
        if place < match.model.level and match.model.templates.changes[place].kind == "flag" and change.low > 0.05:
            share = f"{100 * change.low:.0f} to {100 * change.high:.0f} %"
            remarks.append(
                f"# Not written: {seen(name_of(match.model, place))} ({share} open). Put it right on the set."
            )
    return remarks


def _stops_before(before: Calibration | None, name: str) -> float:
    heads = () if before is None else before.heads
    return next((one.stops for one in heads if one.name == name), 0.0)


def _head(match: Match, setup: Setup, name: str, stops: float) -> list[str]:
    lines = ["[[head]]", f"name = {_quoted(name)}"]
    for place, one in enumerate(match.model.templates.changes):
        if one.of != name or one.kind not in ("head", "beam"):
            continue
        change = match.changes[place]
        if one.kind == "head":
            lines += _lines(match, place, "stops", [_stop(stops + x) for x in change])
        else:
            beam = setup.heads[one.layer].beam
            angles = [min(beam * 2.0**x, _LAMBERTIAN) for x in change]
            lines += _lines(match, place, "beam", [f"{math.degrees(angle):.4g} deg" for angle in angles])
    return lines


def _table(
    match: Match, setup: Setup, place: int, one: Change, change: Interval, before: Calibration | None
) -> list[str]:
    factors = [max(1.0 + x, 2.0**_DARKEST) for x in change]
    if one.kind == "cloth":
        earlier = 0.0 if before is None or before.backdrop is None else before.backdrop.stops
        return ["", "[backdrop]", *_lines(match, place, "stops", [_stop(earlier + math.log2(x)) for x in factors])]
    if one.kind == "glare":
        shares = [min(1.0, setup.camera.glare * x) for x in factors]
        return ["", "[camera]", *_lines(match, place, "glare", [f"{100.0 * share:.4g} %" for share in shares])]
    if one.kind in ("room", "added room"):
        given = 0.0 if setup.ambient is None else setup.ambient.illuminance
        lux = [given * x for x in factors] if one.kind == "room" else [ROOM_UNIT * max(x, 0.0) for x in change]
        return ["", "[ambient]", *_lines(match, place, "illuminance", [f"{one:.4g} lx" for one in lux])]
    return []


def _lines(match: Match, place: int, key: str, told: list[str]) -> list[str]:
    """Return a key's value and interval, with a remark where the frame did not fix it."""
    value, low, high = told
    remark = "  # this frame did not fix it" if place in match.verdict.unknown else ""
    return [f'{key} = "{value}"{remark}', f'{key}_between = ["{low}", "{high}"]']


def _stop(stops: float) -> str:
    return f"{min(max(stops, -40.0), 40.0):+.3f} stop"


def _quoted(text: str) -> str:
    return '"' + seen(text).replace("\\", "\\\\").replace('"', '\\"') + '"'


def write_calibration(path: Path, text: str) -> None:
    """Write a calibration file, whole or not at all.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    from throughlight.darkroom.files import write_text

    write_text(path, text)
