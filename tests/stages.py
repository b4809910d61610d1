"""Stages laid out by hand, for tests that need geometry a setup file would not say."""

from __future__ import annotations

import math

import numpy as np

from throughlight.stage.bounds import bounds_of
from throughlight.stage.frames import facing
from throughlight.trace.driver import REPLICATES, Target, run
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.guide import guides_of
from throughlight.trace.lights import shares_of
from throughlight.trace.tables import (
    HEAD,
    LENS,
    MAP,
    MEDIUM,
    PART,
    SHAPE,
    Region,
    ShapeKind,
    Stage,
    SurfaceKind,
    plain_tables,
)

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709


def _frame_fields(origin, frame):
    fields = {f"o{axis}": float(value) for axis, value in zip("xyz", origin, strict=True)}
    for letter, column in zip("tbn", frame.T, strict=True):
        fields |= {f"{letter}{axis}": float(value) for axis, value in zip("xyz", column, strict=True)}
    return fields


def _table(rows, dtype):
    table = np.zeros(len(rows), dtype)
    for i, row in enumerate(rows):
        for key, value in row.items():
            table[i][key] = value
    return table


class Bench:
    """Collects shapes, media and heads; `stage` freezes them. Metres; luminance 1 is one unit of everything."""

    def __init__(self):
        self.shapes, self.parts, self.media, self.heads = [], [], [], []
        self.maps, self.texels = [{}], [np.zeros((1, 3), np.float32)]

    def part(self, region=Region.OTHER, reflectance=0.0, surface=SurfaceKind.MATTE, back=None, **cloth):
        """Add a front and a back face and return the front's row."""
        for value in (reflectance, reflectance if back is None else back):
            bands = np.broadcast_to(value, 3)
            row = {"region": region, "surface": surface, **dict(zip(("red", "green", "blue"), bands, strict=True))}
            self.parts.append({**row, **cloth})
        return len(self.parts) - 2

    def shape(self, kind, at, frame, sizes, part, medium=-1, head=-1, **mesh):
        """Add a shape and return its row."""
        row = {"kind": kind, "part": part, "medium": medium, "head": head, **mesh, **_frame_fields(at, frame)}
        row |= dict(zip(("sa", "sb", "sc"), sizes, strict=True))
        low, high = bounds_of(kind, np.asarray(at, float), frame, sizes)
        row |= {f"lo_{axis}": value for axis, value in zip("xyz", low, strict=True)}
        row |= {f"hi_{axis}": value for axis, value in zip("xyz", high, strict=True)}
        self.shapes.append(row)
        return len(self.shapes) - 1

    def rectangle(self, at, aim, width, height, **part):
        """Add a rectangle whose front faces `aim`."""
        sizes = (width / 2, height / 2, 0.0)
        return self.shape(ShapeKind.RECTANGLE, at, facing(at, aim), sizes, self.part(**part))

    def medium(self, scatter, absorb, g, n, alpha=0.0):
        """Add a medium (coefficients in 1/m, a number or three bands) and return its row."""
        row = {"g": g, "n": n, "alpha": alpha}
        for name, values in (("scatter", scatter), ("absorb", absorb)):
            bands = np.broadcast_to(values, 3)
            row |= {f"{name}_{band}": v for band, v in zip(("red", "green", "blue"), bands, strict=True)}
        self.media.append(row)
        return len(self.media) - 1

    def mapped(self, absorb, scatter, g, n, left, top, width, height):
        """Add a medium whose coefficients (rows, columns) in 1/m lie in the body's local x and y; return its row."""
        absorb, scatter = np.asarray(absorb, np.float32), np.asarray(scatter, np.float32)
        medium = self.medium(float(scatter.mean()), float(absorb.mean()), g, n)
        rows, columns = absorb.shape
        place = {"columns": columns, "rows": rows, "left": left, "top": top, "width": width, "height": height}
        self.media[medium] |= {"map": len(self.maps), "most": float((absorb + scatter).max())}
        for picture in (absorb, scatter):
            self.maps.append({"first": sum(len(one) for one in self.texels), **place})
            self.texels.append(np.repeat(picture.reshape(-1, 1), 3, axis=1))
        return medium

    def body(self, kind, at, frame, sizes, medium, region=Region.SUBJECT, **more):
        """Add a translucent body; say `crowded=1` where another one stands in it. Of several the last one rules."""
        return self.shape(kind, at, frame, sizes, self.part(region, surface=SurfaceKind.BOUNDARY), medium, **more)

    def head(self, kind, at, aim, sizes, luminance=1.0, exponent=1.0):
        """Add a head: DISC (radius, 0, 0), RECTANGLE (half width, half height, 0) or TUBE (radius, 0, half length)."""
        frame = facing(at, aim)
        area = {
            ShapeKind.DISC: math.pi * sizes[0] ** 2,
            ShapeKind.RECTANGLE: 4 * sizes[0] * sizes[1],
            ShapeKind.TUBE: 4 * math.pi * sizes[0] * sizes[2],
        }[kind]
        index = len(self.heads)
        shape = self.shape(kind, at, frame, sizes, self.part(), head=index)
        row = {"kind": kind, "shape": shape, "area": area, "exponent": exponent, "intensity": luminance * area}
        row |= {"red": luminance, "green": luminance, "blue": luminance, **_frame_fields(at, frame)}
        self.heads.append(row | dict(zip(("sa", "sb", "sc"), sizes, strict=True)))
        return index

    def stage(self, lens_at=(0.0, 0.0, 1.0), lens_aim=(0.0, 0.0, 0.0), room=0.0, **lens):
        """Freeze everything. The lens looks from `lens_at` at `lens_aim`; a pinhole with a 20° field by default."""
        frame = facing(lens_at, lens_aim)
        backward = np.stack([-frame[:, 0], frame[:, 1], -frame[:, 2]], axis=1)
        focus = float(np.linalg.norm(np.subtract(lens_at, lens_aim)))
        row = {"focus": focus, "half_width": 0.176 * focus, "half_height": 0.176 * focus, "pupil": 0.0, "front": 0.0}
        row |= {"hood": 0.0, "blades": 0, **_frame_fields(lens_at, backward), **lens}
        row = {"mouth": row["front"], **row}
        if not self.parts:
            self.part()
        shapes, heads = _table(self.shapes, SHAPE), _table(self.heads, HEAD)
        return Stage(
            shapes, _table(self.parts, PART), _table(self.media, MEDIUM), heads,
            _table([row], LENS), np.zeros((1, 36)), np.zeros((1, 48), np.float32), np.zeros((1, 8), np.int32),
            np.array(np.broadcast_to(room, 3), float), shares_of(shapes, heads), guides_of(shapes),
            **(
                plain_tables(len(self.media))
                | {"maps": _table(self.maps, MAP), "texels": np.concatenate(self.texels)}
            ),
        )  # fmt: skip


def measure(stage, target, paths, seed=1, replicates=REPLICATES, threads=2):
    """Trace a target with at least so many paths a replicate; return the tally."""
    outcome = run(
        stage, {"it": target}, lambda tallies: set() if tallies["it"].rays >= paths else {"it"},
        seed=seed, replicates=replicates, threads=threads,
    )  # fmt: skip
    return outcome.tallies["it"]


def film_luminance(stage, paths, columns=1, rows=1, cells=None, mask=15, **how):
    """Return the mean of luminance × cos⁴ over film cells and its standard error, from independent replicates."""
    cells = np.arange(columns * rows) if cells is None else np.asarray(cells)
    tally = measure(stage, Target(FILM, columns, rows, cells.astype(np.int64), mask), paths, **how)
    return mean_and_error(tally.cells.sum(axis=1).sum(axis=1) @ LUMINANCE / tally.rays)


def front_illuminance(stage, paths, **how):
    """Return the illuminance on the front element from outside the picture angle and its standard error."""
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), paths, **how)
    return mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays)


def mean_and_error(replicates):
    """Return the mean over replicates and its standard error."""
    return float(replicates.mean()), float(replicates.std(ddof=1) / math.sqrt(len(replicates)))
