"""How two sets' readings differ, in stops with 95 % intervals.

Replicate i of both sets has the same random numbers where they were traced with the same seed, so they are compared in
pairs: the error of log2 of a product of means, each to the power +1 or −1, comes from the spread over replicates of the
sum of their relative deviations with the same signs (the delta method). What they have in common falls out. The worst
patch is chosen in each set by itself; its two intervals are put together as if they were independent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import Estimate, Stops, in_stops, mean_of
from throughlight.readings.replicates import Replicates
from throughlight.sheets.shot import Shot

Array = NDArray[np.float64]
Term = tuple[Array, int]

LABELS = {
    "subject": "Subject",
    "backdrop": "Backdrop",
    "worst_patch": "Backdrop’s worst patch",
    "under_subject": "Backdrop under the subject",
    "veil": "Veil",
    "stray_light": "Stray light on the front element",
}
"""What is compared, in the order of a page."""


def log_ratio(terms: Sequence[Term], unit: float = 1.0) -> Stops | None:
    """Return log2 of a product of means over a unit with its interval, or None when one of them is no light.

    Parameters
    ----------
    terms
        (r,) values by replicate, the same replicates in each, with the power +1 or −1 of their mean.
    unit
        What zero stops stands for.
    """
    means = [float(values.mean()) for values, _ in terms]
    if min(means) <= 0.0:
        return None
    ratio = math.prod(mean**power for mean, (_, power) in zip(means, terms, strict=True))
    deviations = [power * values / mean for mean, (values, power) in zip(means, terms, strict=True)]
    apart = mean_of(np.sum(deviations, axis=0))
    return in_stops(Estimate(ratio, ratio * apart.error, apart.freedom), unit)


def differences(a: Shot, b: Shot) -> dict[str, Stops | None]:
    """Return by how many stops B reads more than A, by the names of `LABELS`; None where one of them can't be told.

    Raises
    ------
    ValueError
        When readings don't carry the sums they are made from, or those of different numbers of replicates.
    """
    sums = [shot.readings.replicates for shot in (a, b)]
    if sums[0] is None or sums[1] is None or len(sums[0].veil) != len(sums[1].veil):
        raise ValueError("two sets are compared replicate by replicate; these readings have none in common")
    one, other = (_lights(each) for each in (sums[0], sums[1]))
    slower = a.setup.camera.iso / b.setup.camera.iso  # exposures are told over mid-grey, which the ISO speed moves
    backdrops = [shot.readings.backdrop for shot in (a, b)]
    worst = [None if backdrop is None else backdrop.worst.exposure for backdrop in backdrops]
    return {
        "subject": _more(one["subject"], other["subject"], slower),
        "backdrop": _more(one["backdrop"], other["backdrop"], slower),
        "worst_patch": _apart(worst[0], worst[1]),
        "under_subject": _under(one, other),
        "veil": _more(one["veil"], other["veil"], slower),
        "stray_light": _more(one["stray_light"], other["stray_light"], 1.0),
    }


def _lights(sums: Replicates) -> dict[str, Array | None]:
    """Return the light of each reading by replicate, (r,)."""
    veil = sums.veil.sum(axis=1)
    return {
        "subject": None if sums.subject is None else sums.subject.sum(axis=1) + veil,
        "backdrop": None if sums.backdrop is None else sums.backdrop.sum(axis=1) + veil,
        "veil": veil,
        "stray_light": sums.outside.sum(axis=1),
    }


def _more(one: Array | None, other: Array | None, unit: float) -> Stops | None:
    return None if one is None or other is None else log_ratio([(other, 1), (one, -1)], unit)


def _under(one: dict[str, Array | None], other: dict[str, Array | None]) -> Stops | None:
    """Return by how many stops more the backdrop lies under the subject in the other set."""
    terms = [(lights[name], power * side) for lights, side in ((other, 1), (one, -1)) for name, power in _RATIO]
    known = [(values, power) for values, power in terms if values is not None]
    return log_ratio(known) if len(known) == len(terms) else None


_RATIO = (("subject", 1), ("backdrop", -1))


def _apart(one: Stops | None, other: Stops | None) -> Stops | None:
    """Return the difference of two figures whose errors have nothing in common."""
    if one is None or other is None or not (math.isfinite(one.value) and math.isfinite(other.value)):
        return None
    more = other.value - one.value
    return Stops(
        more,
        more - math.hypot(other.value - other.low, one.high - one.value),
        more + math.hypot(other.high - other.value, one.value - one.low),
    )
