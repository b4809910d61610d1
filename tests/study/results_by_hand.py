"""Results made by hand: a study's rows without any tracing, their noise drawn from a fixed seed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

import numpy as np

from throughlight.readings.intervals import student_t
from throughlight.study.results import Figure, Goal, Made, Results, Row

REPLICATES = 16
MADE = Made(seed=7, replicates=REPLICATES, paths=1 << 24, tracing_seconds=1234.5, engine_version="0.0")
UNITS = {"bearing": math.pi / 180.0, "distance": 1e-2}


def exact(value: float) -> Figure:
    return Figure(value, value, value)


def row(number: int, changes: Mapping[str, str], loss: float | Figure = 0.0, **more: object) -> Row:
    """Return a good row; a value that begins with a number counts as one."""
    figure = loss if isinstance(loss, Figure) else exact(loss)
    values = {name: _number(said) for name, said in changes.items()}
    return Row(number=number, changes=changes, values=values, loss=figure, **more)


def _number(said: str) -> float | None:
    try:
        return float(said.split()[0].replace("−", "-"))
    except ValueError:
        return None


def results(rows: list[Row], goals: tuple[Goal, ...] = (), made: Made = MADE) -> Results:
    return Results("A study", "A set", goals, tuple(rows), made)


def jackknifed(replicates: np.ndarray) -> tuple[Figure, tuple[float, ...]]:
    """Return the mean of (r,) replicates with its Student t interval, and the means with one left out."""
    r = len(replicates)
    left_out = (replicates.sum() - replicates) / (r - 1)
    half = student_t(r - 1) * float(np.std(replicates, ddof=1)) / math.sqrt(r)
    mean = float(replicates.mean())
    return Figure(mean, mean - half, mean + half), tuple(map(float, left_out))


GOALS = (
    Goal("subject", "at", 0.5, 0.1, 1.0, "subject at +0.5 stop"),
    Goal("worst_under", "at least", 7.5, 0.0, 1.0, "worst patch at least 7.5 stops under the subject"),
    Goal("veil", "at most", -9.0, 0.0, 0.5, "veil at most −9 stops"),
    Goal("energy", "at most", 90.0, 0.0, 0.5, "energy at most 90 J"),
)


def table_top(
    title: str = "Where to put the two heads", keys: tuple[str, str, str] = ("bearing", "distance", "flag"),
    *, waiting: int = 0, failed: int = 6, running: bool = False,
) -> Results:  # fmt: skip
    """Return a study of 12 bearings × 10 distances × flag in or out, of a plausible shape; nothing of it is traced."""
    rng = np.random.default_rng(20)
    common = rng.normal(size=REPLICATES)
    rows: list[Row] = []
    grid = itertools.product(range(110, 170, 5), range(35, 85, 5), ("in", "out"))
    for number, (bearing, distance, flag) in enumerate(grid, 1):
        changes = dict(zip(keys, (f"{bearing} deg", f"{distance} cm", flag), strict=True))
        values: dict[str, float | None] = dict(zip(keys, (math.radians(bearing), distance / 100, None), strict=True))
        if number > 240 - waiting:
            rows.append(Row(number, changes, values, status="waiting"))
        elif distance == 35 and bearing >= 170 - 5 * (failed // 2):
            rows.append(Row(number, changes, values, status="failed", reason="the left head stands inside card 2"))
        else:
            rows.append(_read(number, changes, values, (bearing, distance, flag == "in"), rng, common))
    made = Made(
        seed=7, replicates=REPLICATES, paths=3 << 28, tracing_seconds=25_310.0, engine_version="0.3.0",
        engine_hash="9f2c41d0a7", set_hash="51ba0c7e12", study_hash="c0ffee1234", running=running,
        started="2026-03-02T21:40:05", updated="2026-03-03T04:12:44", ends="06:30" if running else "",
        settling="Places are settled by paired differences over 16 replicates, Holm's rule over all comparisons.",
    )  # fmt: skip
    return Results(title, "Agate slice, backlit on black", GOALS, tuple(_ranked(rows)), made)


def _read(
    number: int, changes: dict[str, str], values: dict[str, float | None], place: tuple[int, int, bool],
    rng: np.random.Generator, common: np.ndarray,
) -> Row:  # fmt: skip
    bearing, distance, flag = place
    turned = math.radians(bearing)
    subject = 1.1 + 2.0 * math.log2(55 / distance) + 1.6 * math.log2(max(0.05, -math.cos(turned)) / 0.8)
    spill = -7.9 + 1.4 * math.log2(55 / distance) + 0.0022 * (140 - bearing) ** 2 + (0.0 if flag else 0.9)
    outside = 0.012 * 2.0 ** (1.8 * math.log2(55 / distance) + 0.05 * (bearing - 140)) * (0.35 if flag else 1.0)
    veil = math.log2(outside / 0.012) - 7.1
    noise = 0.05 * common + 0.03 * rng.normal(size=REPLICATES)
    figures: dict[str, Figure] = {}
    left_out: dict[str, tuple[float, ...]] = {}
    stops = {"subject": subject, "backdrop": spill, "worst_patch": spill + 0.8, "veil": veil}
    for at, (name, value) in enumerate({**stops, "backdrop_under": subject - spill}.items()):
        figures[name], left_out[name] = jackknifed(value + noise * (1.0 + 0.4 * at))
    figures["worst_under"], left_out["worst_under"] = jackknifed(subject - spill - 0.8 + 2.0 * noise)
    figures["stray_light"], left_out["stray_light"] = jackknifed(outside * (1.0 + noise))
    energy = 60.0 + 2.0 * (distance - 35)
    figures["energy"] = exact(energy)
    costs = tuple(_cost(goal, figures[goal.reading]) for goal in GOALS)
    total = sum(cost.value for cost in costs)
    half = math.sqrt(sum(cost.half**2 for cost in costs))
    return Row(
        number, changes, values, figures, Figure(total, max(0.0, total - half), total + half),
        energy_joules=energy, paths=1 << 22, costs=costs, left_out=left_out,
    )  # fmt: skip


def _cost(goal: Goal, figure: Figure) -> Figure:
    def missed(value: float) -> float:
        off = {"at": abs(value - goal.value), "at most": value - goal.value, "at least": goal.value - value}[goal.kind]
        stops = math.log2(value / goal.value) if goal.reading == "energy" else off
        return goal.weight * max(0.0, stops - goal.slack)

    ends = sorted((missed(figure.low), missed(figure.high)))
    return Figure(missed(figure.value), min(ends[0], missed(figure.value)), max(ends[1], missed(figure.value)))


def _ranked(rows: list[Row]) -> list[Row]:
    """Return the rows with ranks, ties where intervals overlap, settled where none do."""
    good = sorted((one for one in rows if one.loss is not None), key=lambda one: one.loss.value if one.loss else 0.0)
    places = {one.number: rank for rank, one in enumerate(good, 1)}
    done = []
    for one in rows:
        if one.loss is None:
            done.append(one)
            continue
        ties = tuple(
            other.number
            for other in good
            if other.number != one.number and other.loss and one.loss
            and other.loss.low <= one.loss.high and one.loss.low <= other.loss.high
        )  # fmt: skip
        done.append(Row(**{**one.__dict__, "rank": places[one.number], "settled": not ties, "tie_with": ties}))
    return done
