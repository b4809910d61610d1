"""Heads turned up or down together until the subject is exposed as wanted: light adds, so this is arithmetic."""

from __future__ import annotations

import math
from dataclasses import dataclass

from throughlight.setup import Setup


@dataclass(frozen=True)
class Turn:
    """What becomes of one head: stops as the set has it and as wanted, joules or watts then, where they are known.

    `spare`: how far it can be turned up, stops; None where full power is not told.
    """

    name: str
    now: float
    then: float
    power: float | None
    unit: str
    spare: float | None


def spare_of(setup: Setup, name: str) -> float | None:
    """Return how far a head can be turned up, stops; None where its full power is not told."""
    head = next(one for one in setup.heads if one.name == name)
    read = head.meter is not None or head.illuminance is not None
    return None if read else max(-head.stops, 0.0)


def change_for(
    heads: dict[str, float], rest: float, wanted: float, spare: dict[str, float | None]
) -> tuple[float, float]:
    """Return by how many stops all heads are turned, as far as each goes, and how many stops that leaves wanting.

    Parameters
    ----------
    heads
        Exposure by each head.
    rest
        Exposure by all else; where that alone is enough, or there is no head, nothing is turned.
    wanted
        Exposure wanted, in the same unit.
    spare
        How far each head can be turned up, stops; None where it is not known to end.
    """
    if not any(part > 0.0 for part in heads.values()) or wanted <= rest:
        return 0.0, max(math.log2(wanted / rest), 0.0) if rest > 0.0 else math.inf

    def reached(change: float) -> float:
        return rest + sum(part * math.exp2(min(change, limit(spare[name]))) for name, part in heads.items())

    low, high = -40.0, 40.0
    most = reached(high)
    if most < wanted:
        finite = [limit(one) for one in spare.values()]
        return max(finite), math.log2(wanted / most)
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reached(middle) < wanted else (low, middle)
    return high, 0.0


def limit(spare: float | None) -> float:
    """Return how far a head can be turned up, stops, for all that is known."""
    return 40.0 if spare is None else spare


def turned(setup: Setup, change: float, spare: dict[str, float | None]) -> Setup:
    """Return the set with all heads turned by so many stops, none past its full power."""
    heads = [
        head.model_copy(update={"stops": head.stops + min(change, limit(spare[head.name]))}) for head in setup.heads
    ]
    return setup.model_copy(update={"heads": tuple(heads)})


def turn_of(setup: Setup, name: str, change: float, spare: float | None) -> Turn:
    """Return what becomes of one head when all are turned by so many stops."""
    head = next(one for one in setup.heads if one.name == name)
    then = head.stops + min(change, limit(spare))
    full = head.energy if head.energy is not None else head.power
    power = None if full is None else full * 2.0**then
    return Turn(name, head.stops, then, power, "W" if head.continuous else "J", spare)
