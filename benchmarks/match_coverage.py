"""How often `match` is right: many simulated test frames, matched, and its words held against the truth.

    python -m benchmarks.match_coverage scenes/agate/set.toml --frames 40

One thing is made otherwise at random, or nothing. Expected is that 95 % of the intervals hold the truth, that what was
made otherwise is called the likeliest cause or one that can't be told from it, and that nothing is found where nothing
is off. A change too small to move the frame by a few hundredths of a stop is rightly called nothing.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.match_frames import CONDITIONS, Ground, exposed, ground_of, photo_of
from throughlight import setup as set_files
from throughlight.darkroom.capture_data import ExposureData
from throughlight.match import run
from throughlight.match.align import AlignError
from throughlight.match.settings import as_taken
from throughlight.match.templates import Change

_GROUND: list[Ground] = []  # set before the processes are forked; they share it
_PATCH = 4  # cells along a patch
_ROOM = 1e-3  # beyond an interval's end: what is cut off at a bound


def planted(changes: Sequence[Change], level: int, rng: np.random.Generator) -> dict[int, float]:
    """Return one thing that is otherwise, and by how much; now and then nothing."""
    could = [place for place, one in enumerate(changes) if one.kind in ("head", "glare", "room", "added room")]
    place = int(rng.choice([*could, level, -1]))
    if place < 0:
        return {}
    kind = changes[place].kind if place < level else "level"
    if kind == "added room":
        return {place: float(2.0 ** rng.uniform(-1.0, 1.0))}
    if kind in ("glare", "room"):
        return {place: float(2.0 ** rng.uniform(0.5, 1.4) - 1.0)}
    return {place: float(rng.choice([-1.0, 1.0]) * rng.uniform(0.3, 1.0))}


def matched(job: tuple[int, str, int]) -> dict[str, Any]:
    """Simulate and match one frame; return what was planted and what was told, changes as value, low, high, truth."""
    number, condition, seed = job
    ground, taken = _GROUND[number], CONDITIONS[condition]
    rng = np.random.default_rng((number, list(CONDITIONS).index(condition), seed))
    templates = ground.predictions[seed % len(ground.predictions)]
    level, vignetting = len(templates.changes), float(rng.uniform(0.0, 0.6))
    frame, x, truth = ground.photo, {}, {}
    if taken.otherwise:
        place, value, frame = ground.others[seed % len(ground.others)]
        truth = {place: value}
    else:
        truth = x = planted(templates.changes, level, rng)
    capture, gain = photo_of(ground, frame, x, vignetting, taken, rng)
    told = {"set": ground.setup.title, "condition": condition, "seed": seed, "vignetting": vignetting}
    start = time.process_time()
    try:
        found = run.matched(as_taken(ground.setup, ExposureData()), capture, exposed(templates, gain), side=_PATCH)
    except AlignError as trouble:
        return {**told, "refused": str(trouble)}
    names = {place: f"{one.kind} {one.of}" for place, one in enumerate(templates.changes)}
    names |= {level: "level", level + 1: "vignetting"}
    truth_of = {**truth, level + 1: vignetting}
    all_heads = truth.get(level, 0.0)
    heads = {place: all_heads for place, one in enumerate(templates.changes) if one.kind == "head"}
    causes = found.verdict.causes
    rank = next((at for at, cause in enumerate(causes) if cause.place in truth), None)
    return {
        **told,
        "planted": names[next(iter(truth))] if truth else "nothing",
        "agrees": found.verdict.agrees,
        "rank": rank,
        "alike": found.verdict.alike,
        "likeliest": names[causes[0].place] if causes else "",
        "single": None if rank is None else (*causes[rank].change, truth[causes[rank].place]),
        "together": {names[place]: (*one, truth_of.get(place, 0.0)) for place, one in found.changes.items()},
        "written": {
            names[place]: (*one, {**heads, **truth_of}.get(place, 0.0)) for place, one in found.settled.items()
        },
        "kappa": found.weights.kappa,
        "crowding": found.weights.crowding,
        "seconds": time.process_time() - start,
    }


def _holds(told: Sequence[float]) -> bool:
    _, low, high, truth = told
    return low - _ROOM <= truth <= high + _ROOM


def _share(some: Sequence[bool]) -> str:
    return f"{sum(some)}/{len(some)}"


def _mean(some: Sequence[float], over: Callable[[Sequence[float]], Any] = np.mean) -> float:
    return float(over(some)) if len(some) else 0.0


def table(found: list[dict[str, Any]]) -> str:
    """Return the counts by set and condition.

    one: the interval of the planted change alone holds it, with its mean error and median half width. together: share
    of the intervals with everything let loose. named: planted is likeliest or not told from it, of those where the
    photo is not said to agree. alike: how many are not told from it. calm: nothing found where nothing is off.
    written: of a calibration's intervals.
    """
    heads = ("set, frame", "frames", "one", "off", "half", "together", "named", "agrees", "alike", "calm", "written")
    widths = (52, 7, 7, 7, 7, 9, 7, 7, 6, 6, 8)
    lines = ["  ".join(f"{head:>{width}s}" for head, width in zip(heads, widths, strict=True))]
    for title, condition in dict.fromkeys((one["set"], one["condition"]) for one in found):
        some = [one for one in found if (one["set"], one["condition"]) == (title, condition)]
        told = [one for one in some if "refused" not in one]
        off = [one for one in told if one["planted"] != "nothing"]
        shown = [one for one in off if not one["agrees"]]
        ones = [one["single"] for one in shown if one["single"]]
        cells = (
            f"{title[:28]}, {condition}",
            f"{len(told)}/{len(some)}",
            _share([_holds(one) for one in ones]),
            f"{_mean([value - truth for value, _, _, truth in ones]):+.3f}",
            f"{_mean([(high - low) / 2.0 for _, low, high, _ in ones], np.median):.3f}",
            f"{_mean([_holds(one) for told_of in told for one in told_of['together'].values()]):.3f}",
            _share([one["rank"] is not None and one["rank"] <= one["alike"] for one in shown]),
            f"{len(off) - len(shown)}/{len(off)}",
            f"{_mean([one['alike'] for one in shown]):.2f}",
            _share([one["agrees"] for one in told if one["planted"] == "nothing"]),
            _share([_holds(change) for one in told for change in one["written"].values()]),
        )
        lines.append("  ".join(f"{cell:>{width}s}" for cell, width in zip(cells, widths, strict=True)))
    return "\n".join(lines)


def _ground(path: Path, predictions: int) -> Ground:
    """Trace what a set's frames are made from."""
    start = time.perf_counter()
    ground = ground_of(set_files.load(path), predictions)
    print(f"{ground.setup.title}: traced in {time.perf_counter() - start:.0f} s", flush=True)
    return ground


def main() -> None:
    """Run the frames that the command line asks for."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("sets", nargs="+", type=Path)
    asked.add_argument("--frames", type=int, default=40, help="of each set and condition")
    asked.add_argument("--predictions", type=int, default=8)
    asked.add_argument("--processes", type=int, default=multiprocessing.cpu_count())
    asked.add_argument("--only", action="append", choices=list(CONDITIONS))
    asked.add_argument("--out", type=Path, help="file for every frame's figures, JSON")
    options = asked.parse_args()
    _GROUND.extend(_ground(path, options.predictions) for path in options.sets)
    conditions = options.only if options.only is not None else list(CONDITIONS)
    jobs = [
        (number, one, seed)
        for number, ground in enumerate(_GROUND)
        for one in conditions
        if ground.others or not CONDITIONS[one].otherwise
        for seed in range(options.frames)
    ]
    with multiprocessing.get_context("fork").Pool(options.processes) as pool:
        found = pool.map(matched, jobs, chunksize=2)
    print(table(found))
    if options.out is not None:
        options.out.write_text(json.dumps(found, default=float), encoding="utf-8")


if __name__ == "__main__":
    main()
