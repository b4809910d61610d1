"""What a report page reckons with: sums by replicate and layer, settings, wishes, constants of tone and scale.

The page's arithmetic is the engine's own (`readings/assemble.py`, `darkroom/tone.py`, `darkroom/scale.py`), written
once more for the browser; every constant of it is handed over here, so that none is typed twice.
"""

from __future__ import annotations

import base64
import math
import zlib
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import scale, tone
from throughlight.darkroom.names import seen
from throughlight.photometry import exposure
from throughlight.readings import assemble, intervals, meter, patches, reading
from throughlight.readings.figures import time_words
from throughlight.readings.frame import LUMINANCE
from throughlight.readings.power import HeadPower
from throughlight.readings.replicates import Patches, Replicates
from throughlight.setup import Finish, Setup
from throughlight.sheets import layer_codes
from throughlight.sheets.page_picture import Packed
from throughlight.sheets.shot import Shot
from throughlight.sheets.trade_steps import Steps, f_numbers, iso_speeds, shutters

Array = NDArray[np.float64]

LOWEST_THIRDS, HIGHEST_THIRDS = -15, 9
"""How far a light can be turned down and up on the page, thirds of a stop from where the set has it."""
CRUSHED = 1
"""The highest 8-bit value that the view of clipped and crushed parts marks as black without drawing."""
_TABLE_STEP = 1.0 / 512.0  # stops
_LEAST, _ENTRIES = 1e-30, 1024


class Look(NamedTuple):
    """How the developed picture is finished: stops of lift, black point over mid-grey (None: none), saturation."""

    exposure: float = 0.0
    black_point: float | None = None
    saturation: float = 1.0


def look_of(finish: Finish) -> Look:
    """Return how a set's [finish] changes the developed picture; what it doesn't know of is left alone."""
    plain = Look()
    return plain._replace(**{name: getattr(finish, name) for name in plain._fields if hasattr(finish, name)})


def common_data() -> dict[str, Any]:
    """Return the constants that all sets share."""
    return {
        "luminance": LUMINANCE.tolist(),
        "narrow": intervals.NARROW,
        "drowned": reading.DROWNED,
        "contenders": meter.CONTENDERS,
        "toldRoutes": assemble.TOLD_ROUTES,
        "leastShare": assemble.LEAST_SHARE,
        "squares": {"smooth": patches.SMOOTH, "trust": patches.TRUST},
        "crushed": CRUSHED,
        "lively": list(layer_codes.LIVELY),
        "tone": {
            "midGreyConstant": exposure.MID_GREY_CONSTANT, "clipConstant": exposure.CLIP_CONSTANT,
            "midGreyLinear": exposure.MID_GREY_LINEAR, "shoulder": tone.SHOULDER, "clip": tone.CLIP,
            "power": tone.POWER, "plastic": tone.PLASTIC, "ditherLevels": tone.DITHER_LEVELS,
        },
        "scale": scale_data(),
    }  # fmt: skip


def scale_data() -> dict[str, Any]:
    """Return the scale of stops: three rows of colours (plain, contour, contour of mid-grey) by stops."""
    short_of_clip = math.nextafter(scale.CLIP_STOPS, -math.inf)
    graded = np.minimum(np.linspace(scale.DARKEST, scale.CLIP_STOPS, _ENTRIES), short_of_clip)
    clipped = np.linspace(scale.CLIP_STOPS, scale.BRIGHTEST, _ENTRIES // 8)
    darker = np.array([scale.DARKEST - 1.0])
    rows = {
        name: base64.b64encode(np.stack([scale.colours(at, line) for line in range(3)]).tobytes()).decode("ascii")
        for name, at in (("graded", graded), ("clipped", clipped), ("darker", darker))
    }
    return {
        **rows, "darkest": scale.DARKEST, "brightest": scale.BRIGHTEST, "clipStops": scale.CLIP_STOPS,
        "blur": scale.BLUR,
    }  # fmt: skip


def sums_data(shot: Shot) -> dict[str, Any]:
    """Return the sums behind a shot's readings, by replicate and layer.

    Raises
    ------
    ValueError
        When the readings don't carry them.
    """
    sums = shot.readings.replicates
    if sums is None:
        raise ValueError("a report page needs readings that carry their sums")
    return _sums(shot.setup, sums, shot.readings.stray.seen)


def set_data(shot: Shot, packed: Packed, sums: dict[str, Any]) -> dict[str, Any]:
    """Return what the page reckons with for one set; `sums` are its `sums_data`."""
    setup = shot.setup
    look = look_of(setup.finish)
    return {
        "title": seen(setup.title),
        "width": packed.width,
        "height": packed.height,
        "step": layer_codes.STEP,
        "layers": [None if layer is None else {"offset": layer[1]} for layer in packed.layers],
        "veil": packed.veil.tolist(),
        "square": read_square(packed.width, packed.height),
        "look": {"exposure": look.exposure, "blackPoint": look.black_point, "saturation": look.saturation},
        "lights": _lights(setup, {head.name: head for head in shot.readings.power.heads}),
        "camera": _camera(shot),
        "ambient": shot.readings.ambient is not None,
        "wanted": {
            "subject": setup.wanted.subject, "subjectTolerance": setup.wanted.subject_tolerance,
            "backdropUnder": setup.wanted.backdrop_under, "veil": setup.wanted.veil,
        },
        "sums": sums,
    }  # fmt: skip


def read_square(width: int, height: int) -> int:
    """Return how many pixels wide the square is that pointing reads: 1/96 of the picture's short side, odd."""
    return 2 * (min(width, height) // 192) + 1


def _lights(setup: Setup, powers: dict[str, HeadPower]) -> list[dict[str, Any]]:
    lights: list[dict[str, Any]] = [
        {
            "name": seen(head.name), "rawName": head.name, "flash": not head.continuous, "window": False,
            "room": False, "key": "stops", "base": head.stops, "unit": "stop", "power": _power(powers[head.name]),
        }
        for head in setup.heads
    ]  # fmt: skip
    steady = {"flash": False, "power": None}
    lights += [
        {**steady, "name": seen(one.name), "rawName": one.name, "window": True, "room": False, "key": "luminance",
         "base": one.luminance, "unit": "cd/m2"}
        for one in setup.windows
    ]  # fmt: skip
    room = 0.0 if setup.ambient is None else setup.ambient.illuminance
    lights.append({
        **steady, "name": "room light", "rawName": "room light", "window": False, "room": True, "key": "illuminance",
        "base": room, "unit": "lx",
    })  # fmt: skip
    return lights


def _power(head: HeadPower) -> dict[str, Any]:
    return {
        "fullKnown": head.full_known, "stops": head.stops, "full": head.full, "unit": head.unit,
        "range": head.range if math.isfinite(head.range) else 99.0,
    }  # fmt: skip


def _camera(shot: Shot) -> dict[str, Any]:
    camera, reading = shot.setup.camera, shot.readings.camera

    def listed(steps: Steps) -> list[dict[str, Any]]:
        return [step._asdict() for step in steps.steps]

    stops, times, speeds = f_numbers(camera.f_number), shutters(camera.shutter), iso_speeds(camera.iso)
    return {
        "fNumbers": listed(stops), "fNumberAt": stops.at, "shutters": listed(times), "shutterAt": times.at,
        "isos": listed(speeds), "isoAt": speeds.at, "sync": reading.sync_limit,
        "syncSaid": time_words(reading.sync_limit), "complaints": list(reading.complaints),
    }  # fmt: skip


def _sums(setup: Setup, sums: Replicates, seen_parts: dict[str, tuple[float, float]]) -> dict[str, Any]:
    replicates = len(sums.veil)
    among = 1 if sums.first is None else len(sums.first.places)
    rows: dict[str, Array | None] = {
        "subject": sums.subject, "backdrop": sums.backdrop, "inside": sums.inside, "outside": sums.outside,
        "veil": sums.veil, "cloth": sums.cloth, "front": sums.front,
    }  # fmt: skip
    return {
        **{name: None if table is None else _rounded(table) for name, table in rows.items()},
        "replicates": replicates,
        "t": intervals.student_t(replicates - 1),
        "tAmong": intervals.student_t(replicates - 1, among=among),
        "spots": [
            {"name": seen(spot.name), "rows": _rounded(table)}
            for spot, table in zip(setup.spots, sums.spots, strict=True)
        ],
        "squares": None if sums.squares is None else packed_table(sums.squares),
        "weights": None if sums.weights is None else _rounded(sums.weights),
        "columns": sums.columns,
        "rows": sums.rows,
        "first": _patches(sums.first),
        "second": _patches(sums.second),
        "routes": [seen(name) for name in sums.routes],
        "seen": [[seen(name), part] for name, (part, _) in seen_parts.items()],
    }


def _rounded(table: Array) -> Any:  # noqa: ANN401 - nested lists as deep as the table
    """Return numbers with the digits that count for a thousandth of a stop, and some more."""
    flat = [float(f"{value:.7g}") for value in table.ravel().tolist()]
    return np.array(flat).reshape(table.shape).tolist()


def _patches(look: Patches | None) -> dict[str, Any] | None:
    if look is None:
        return None
    return {
        "places": look.places.tolist(),
        "light": packed_table(look.light),
        "by": [seen(name) for name in look.by],
    }


def packed_table(table: Array) -> dict[str, Any]:
    """Return a large table of sums as 16-bit codes: 0 not a number, 1 no light, then steps of 1/512 stop."""
    some = table[np.isfinite(table) & (table > _LEAST)]
    low = math.log2(float(some.min())) if len(some) else 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = np.rint((np.log2(table) - low) / _TABLE_STEP) + 2.0
    codes = np.where(np.isnan(table), 0.0, np.where(table > _LEAST, steps, 1.0)).astype(np.uint16).ravel()
    planes = np.concatenate([codes.astype(np.uint8), (codes >> 8).astype(np.uint8)]).tobytes()
    return {
        "low": low,
        "step": _TABLE_STEP,
        "codes": base64.b64encode(zlib.compress(planes, 9)).decode("ascii"),
    }
