"""P1 and P1b: readings of the reference set, relative variance of a path × time of a path, the peer's ÷ ours.

Halving the variance or the time of a path both halve the time to a given error. Both estimate the same number, so the
record also says how far apart the two are, in stops with a standard error.
"""

from __future__ import annotations

from collections.abc import Callable

from benchmarks import peers
from benchmarks.found import Effort, Found, Row
from benchmarks.peer_sets import film_turn, front_turn
from benchmarks.reference import (
    DARK_ANGLE,
    LIT_ANGLE,
    PATCH,
    SUBJECT,
    Area,
    film_target,
    front_target,
    ours,
    reference_stage,
)
from benchmarks.turns import Cost, Trial, apart, cost, in_turns, ratio_factor

_OURS, _FRONT_OURS = 1 << 13, 1 << 14  # paths of each of 64 replicates in a full turn
_SUBJECT_SAMPLES, _PATCH_SAMPLES = 48, 512  # of the peer, a pixel
_FRONT_RAYS = 1 << 22


def _compare(target: str, what: str, doers: dict[str, Callable[[int], Trial]], goals: tuple[float, ...],
             effort: Effort, note: str) -> Found:  # fmt: skip
    """Measure ours and the peer's in turns and make the row."""
    costs: dict[str, Cost] = {name: cost(trials) for name, trials in in_turns(doers, effort.turns).items()}
    us = costs["ours"]
    details = {f"{target} {what}": {name: one.told() for name, one in costs.items()}}
    if "peer" not in costs:
        return Found((Row(target, what, "µs", us.product, goals=goals, note=note),), details=details)
    peer = costs["peer"]
    off, error = apart(us, peer)
    told = f"V {us.variance:.2f} × {us.microseconds:.2f} µs, peer V {peer.variance:.1f} × {peer.microseconds:.2f} µs"
    by_processor = peer.variance * peer.processor_microseconds / (us.variance * us.processor_microseconds)
    told += f", to a factor {ratio_factor(us, peer):.2f}; by processor time {by_processor:.1f}"
    told += f"; means {off:+.3f} ± {error:.3f} stop apart"
    details[f"{target} {what}"] |= {"apart_stops": {"value": off, "standard_error": error}}
    row = Row(target, what, "µs", us.product, peer.product, peer.product / us.product, goals,
              note="; ".join(part for part in (told, note) if part))  # fmt: skip
    return Found((row,), details=details)


def _film(
    target: str, what: str, angle: int, area: Area, samples: int, goals: tuple[float, ...], effort: Effort
) -> Found:
    doers = {"ours": ours(reference_stage(angle), film_target(area), effort.of(_OURS))}
    peer = peers.mitsuba()
    if peer is None:
        return _compare(target, what, doers, goals, effort, peers.MISSING)
    doers["peer"] = film_turn(peer[0], angle, area, effort.of(samples))
    return _compare(target, what, doers, goals, effort, peers.note(peer[1]))


def _front(target: str, what: str, angle: int, goals: tuple[float, ...], effort: Effort) -> Found:
    doers = {"ours": ours(reference_stage(angle), front_target(), effort.of(_FRONT_OURS))}
    peer = peers.mitsuba()
    if peer is None or not peer[1].startswith("llvm"):
        note = peers.MISSING if peer is None else "no peer: its estimator of this reading needs a libLLVM"
        return _compare(target, what, doers, goals, effort, note)
    doers["peer"] = front_turn(peer[0], angle, effort.of(_FRONT_RAYS))
    return _compare(target, what, doers, goals, effort, "")


def lit(effort: Effort) -> Found:
    """Return P1, and what the other two readings of the reference set cost."""
    return (
        _film("P1", "subject reading: variance × time", LIT_ANGLE, SUBJECT, _SUBJECT_SAMPLES, (20.0, 60.0), effort)
        + _film("P1", "backdrop reading, same set", LIT_ANGLE, PATCH, _PATCH_SAMPLES, (), effort)
        + _front("P1", "stray light at the lens, same set", LIT_ANGLE, (), effort)
    )


def dark(effort: Effort) -> Found:
    """Return P1b: the dark variant's backdrop, and light at the lens from outside the frame."""
    return _film(
        "P1b", "dark backdrop: variance × time", DARK_ANGLE, PATCH, _PATCH_SAMPLES, (10.0, 50.0), effort
    ) + _front("P1b", "dark set, stray light at the lens", DARK_ANGLE, (10.0, 50.0), effort)
