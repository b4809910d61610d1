"""How cost grows: with triangles, heads, optical thickness and the picture's resolution.

The cost of a reading is variance × time, as in P1, without a peer. Each set is the reference set with one thing
changed.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from benchmarks.big_mesh import build_seconds, whole, write_set
from benchmarks.blobs import blob, incoherent_rays, stage_of
from benchmarks.found import Effort, Found, Series
from benchmarks.rays import distances, empty_stage
from benchmarks.reference import SUBJECT, film_target, like_the_peer, ours, reference_text
from benchmarks.turns import Cost, cost, in_turns, medians, timed
from throughlight.readings.picture import expose_picture
from throughlight.setup import loads
from throughlight.trace.tables import Stage

_PATHS = 1 << 11  # of each of 64 replicates
_RAYS = 1 << 19
_THICKNESS = 5.0  # of the slab, mm
_SAMPLES = 8


def _costs(texts: dict[float, str], effort: Effort) -> dict[float, Cost]:
    """Return what the subject reading of each set costs, measured in turns."""
    target, paths = film_target(SUBJECT), effort.of(_PATHS)
    doers = {str(x): ours(like_the_peer(loads(text)), target, paths) for x, text in texts.items()}
    return {float(x): cost(trials) for x, trials in in_turns(doers, effort.turns).items()}


def _as_series(name: str, axis: str, costs: dict[float, Cost]) -> Found:
    told = {"variance × time": "product", "relative variance of a path": "variance", "time of a path": "microseconds"}
    series = [
        Series(name, f"subject reading, {what}", axis, "" if field == "variance" else "µs",
               tuple((x, getattr(one, field)) for x, one in costs.items()))
        for what, field in told.items()
    ]  # fmt: skip
    return Found(series=tuple(series))


def _hit_microseconds(stage: Stage, effort: Effort, seed: int) -> float:
    rays = incoherent_rays(effort.of(_RAYS), seed)
    return medians({"": lambda _: timed(lambda: distances(stage, *rays))}, effort.turns)[""] / len(rays[0]) * 1e6


def triangles(effort: Effort) -> Found:
    """Return tree build, closest hit, laying out and peak memory against 10⁴ … 10⁶·⁵ triangles."""
    points: dict[str, list[tuple[float, float]]] = {"build": [], "hit": [], "whole": [], "peak": []}
    for power in (8, 9, 10, 11, 12, 13) if not effort.quick else (8, 9):
        corners, faces = blob(round(10.0 ** (power / 2.0)))
        count = float(len(faces))
        points["build"].append((count, build_seconds(corners, faces, effort.turns)["ours"]))
        points["hit"].append((count, _hit_microseconds(stage_of(empty_stage(), corners, faces), effort, power)))
        with tempfile.TemporaryDirectory() as folder:
            end = whole(write_set(Path(folder), corners, faces))
        points["whole"].append((count, end.laying_out))
        points["peak"].append((count, end.peaks["end"]))
    told = {
        "build": ("build of the tree", "s"), "hit": ("incoherent closest hit, one thread", "µs"),
        "whole": ("reading the file and laying out the set", "s"), "peak": ("peak memory of a process", "MB"),
    }  # fmt: skip
    return Found(
        series=tuple(
            Series("triangles", what, "triangles", unit, tuple(points[key])) for key, (what, unit) in told.items()
        )
    )


def heads_text(count: int) -> str:
    """Return the reference set with so many equal heads behind the subject, in columns at its left and right."""
    before, _, rest = reference_text().partition("[[head]]")
    flags = "[[flag]]" + rest.partition("[[flag]]")[2]
    heads = []
    for i in range(count):
        side, row, rows = (-1, 1)[i % 2], i // 2, (count + 1) // 2
        height = 130.0 * (row - (rows - 1) / 2.0)
        face = 'face = { shape = "disc", diameter = "120 mm" }\nenergy = "100 J"\n'
        at = f'at = {{ bearing = "{115 * side} deg", distance = "600 mm", height = "{height:.1f} mm" }}\n'
        heads.append(f'[[head]]\nname = "head {i + 1}"\n{face}{at}\n')
    return before + "".join(heads) + flags


def heads(effort: Effort) -> Found:
    """Return the cost of the subject reading against 1 … 8 heads."""
    counts = (1, 2, 4, 8) if not effort.quick else (1, 2)
    return _as_series("heads", "heads", _costs({float(n): heads_text(n) for n in counts}, effort))


def thick_text(thickness: float) -> str:
    """Return the reference set with scattering such that the slab has this optical thickness by scattering."""
    reduced = thickness / _THICKNESS * (1.0 - 0.8)  # of g = 0.8
    bands = ", ".join([f'"{reduced:.6g} 1/mm"'] * 3)
    return reference_text().replace('reduced_scattering = ["0.2 1/mm", "0.2 1/mm", "0.2 1/mm"]',
                                    f"reduced_scattering = [{bands}]")  # fmt: skip


def thickness(effort: Effort) -> Found:
    """Return the cost of the subject reading against optical thickness 1 … 100."""
    values = (1.0, 3.0, 10.0, 30.0, 100.0) if not effort.quick else (1.0, 10.0)
    return _as_series("thickness", "optical thickness", _costs({tau: thick_text(tau) for tau in values}, effort))


def resolution(effort: Effort) -> Found:
    """Return the time of a picture at 8 samples a pixel against its pixels."""
    widths = (128, 256, 512, 1024) if not effort.quick else (32, 64)

    def exposed(width: int) -> Callable[[int], float]:
        text = reference_text().replace("pixels = [512, 384]", f"pixels = [{width}, {width * 3 // 4}]")
        setup = loads(text)
        return lambda seed: timed(lambda: expose_picture(setup, most_samples=_SAMPLES, seed=seed))

    doers = {str(width): exposed(width) for width in widths}
    seconds = medians(doers, min(effort.turns, 3))
    points = tuple((float(width * (width * 3 // 4)), seconds[str(width)]) for width in widths)
    return Found(series=(Series("resolution", f"picture at {_SAMPLES} samples", "pixels", "s", points),))
