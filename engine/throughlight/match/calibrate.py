"""The calibration file: what the photo says of heads, cloth, lens and room, with 95 % intervals.

Values are those of the fewest changes that make the photo; intervals are those with everything let loose, so that they
also hold what one frame can't tell apart, which is said besides, with the second frame that would tell it. What fits as
described is left as it is, and said in a remark. An unflagged route is not written: a flag is put back, not calibrated.
"""

from __future__ import annotations

import math
from pathlib import Path

from throughlight import __version__
from throughlight.darkroom.names import seen
from throughlight.match.causes import name_of, told
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
    changes = match.model.templates.changes
    lines = [
        f"# Written by throughlight {__version__} from a test frame; take it in with",
        '# calibration = "this file\'s name" at the top of the setup file.',
        f"photo = {_quoted(match.capture.path.name)}",
        *_remarks(match),
    ]
    for name in dict.fromkeys(one.of for one in changes if one.kind in ("head", "beam")):
        lines += _head(match, setup, name, _stops_before(before, name))
    for place, one in enumerate(changes):
        lines += _table(match, setup, place, one, before)
    return "\n".join(lines) + "\n"


def _remarks(match: Match) -> list[str]:
    """Return what else it may be, and what is not written and why."""
    remarks = [*_instead(match)]
    for place, one in enumerate(match.model.templates.changes):
        words = f"{seen(name_of(match.model, place))}: {told(match.model, place, match.changes[place])}"
        if place not in match.settled:
            unknown = ", which this frame did not fix" if place in match.verdict.unknown else ""
            remarks.append(f"# As described: {words}{unknown}")
        elif one.kind == "flag":
            remarks.append(f"# Not written, put it right on the set: {words}")
    return remarks


def _instead(match: Match) -> list[str]:
    """Return the causes that fit the photo as well as the likeliest, and what would tell them apart."""
    verdict = match.verdict
    if verdict.agrees or verdict.alike == 0:
        return []
    causes = verdict.causes[: verdict.alike + 1]
    told_apart = "" if verdict.second is None else f" A second frame would tell: {seen(verdict.second.frame)}."
    return [
        f"# This frame does not tell these causes apart; what follows is by the first.{told_apart}",
        *(f"#   {seen(cause.words)}: {cause.told}" for cause in causes),
    ]


def _stops_before(before: Calibration | None, name: str) -> float:
    heads = () if before is None else before.heads
    return next((one.stops for one in heads if one.name == name), 0.0)


def _head(match: Match, setup: Setup, name: str, before: float) -> list[str]:
    """Return a head's table; an earlier calibration's stops are kept also where this one leaves the head as it is."""
    lines = []
    for place, one in enumerate(match.model.templates.changes):
        if one.of != name or one.kind not in ("head", "beam"):
            continue
        if one.kind == "head" and (place in match.settled or before != 0.0):
            lines += _lines("stops", [_stop(before + x) for x in _values(match, place)])
        elif one.kind == "beam" and place in match.settled:
            angles = [min(setup.heads[one.layer].beam * 2.0**x, _LAMBERTIAN) for x in _values(match, place)]
            lines += _lines("beam", [f"{math.degrees(angle):.4g} deg" for angle in angles])
    return ["", "[[head]]", f"name = {_quoted(name)}", *lines] if lines else []


def _values(match: Match, place: int) -> tuple[float, float, float]:
    """Return a change's value and interval, which holds it."""
    if place in match.settled:
        return match.settled[place]
    _, low, high = match.changes[place]
    return 0.0, min(low, 0.0), max(high, 0.0)


def _table(match: Match, setup: Setup, place: int, one: Change, before: Calibration | None) -> list[str]:
    """Return the table of cloth, lens or room; what an earlier calibration wrote is kept where this one is silent."""
    written = place in match.settled
    values = _values(match, place)
    factors = [max(1.0 + x, 2.0**_DARKEST) for x in values]
    if one.kind == "cloth":
        earlier = 0.0 if before is None or before.backdrop is None else before.backdrop.stops
        if written or earlier != 0.0:
            return ["", "[backdrop]", *_lines("stops", [_stop(earlier + math.log2(x)) for x in factors])]
    if one.kind == "glare" and (written or (before is not None and before.camera is not None)):
        shares = [min(1.0, setup.camera.glare * x) for x in factors]
        return ["", "[camera]", *_lines("glare", [f"{100.0 * share:.4g} %" for share in shares])]
    if one.kind in ("room", "added room") and (written or (before is not None and before.ambient is not None)):
        given = 0.0 if setup.ambient is None else setup.ambient.illuminance
        lux = [given * x for x in factors] if one.kind == "room" else [ROOM_UNIT * max(x, 0.0) for x in values]
        return ["", "[ambient]", *_lines("illuminance", [f"{one:.4g} lx" for one in lux])]
    return []


def _lines(key: str, told: list[str]) -> list[str]:
    """Return a key's value and interval."""
    value, low, high = told
    return [f'{key} = "{value}"', f'{key}_between = ["{low}", "{high}"]']


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
