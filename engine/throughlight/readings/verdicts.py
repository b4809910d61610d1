"""The set against its wishes, in a photographer's words: what is met, what is not, and which head to look at."""

from __future__ import annotations

import math

from throughlight.readings.intervals import Stops
from throughlight.readings.power import PowerReading
from throughlight.readings.reading import BackdropReading, StrayReading, SubjectReading
from throughlight.setup import Setup

Verdict = tuple[bool, str]


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "−")


def _much(stops: float) -> str:
    """Return a number of stops that is not nought, so that it never reads 0.0."""
    return f"{stops:.1f}" if stops >= 0.05 else f"{stops:.2f}" if stops >= 0.005 else "less than 0.01"


def _certainty(missing: float, figure: Stops) -> str:
    """Return a caution when the interval reaches across the limit."""
    return "" if abs(missing) > figure.half else " (within the interval: not certain)"


def _on_subject(wanted: float, slack: float, subject: SubjectReading) -> Verdict:
    off = subject.mean.value - wanted
    if abs(off) <= slack:
        return True, f"subject as wanted: {_signed(subject.mean.value)} stops over mid-grey, {_signed(wanted)} asked"
    return False, (
        f"subject {_much(abs(off))} stops too {'bright' if off > 0 else 'dark'}: {_signed(subject.mean.value)} stops "
        f"over mid-grey, {_signed(wanted)} asked{_certainty(abs(off) - slack, subject.mean)}"
    )


def _on_backdrop(wanted: float, backdrop: BackdropReading | None, subject: SubjectReading | None) -> Verdict:
    if backdrop is None or subject is None:
        away = "backdrop" if backdrop is None else "subject"
        return False, f"how far the backdrop lies under the subject can't be told: the {away} is not in the frame"
    under = backdrop.worst_under_subject
    if under is None:  # one of the two is without any light
        black = backdrop.worst.exposure.value == -math.inf
        return black, f"no light was found on the {'backdrop' if black else 'subject'}"
    missing = wanted - under.value
    place = backdrop.worst.place
    if missing <= 0.0:
        return True, f"backdrop as wanted: its worst patch ({place}) lies {under.value:.1f} stops under the subject"
    half_of_it = backdrop.worst.exposure.value - 1.0  # the patch is cloth and veil together
    cause = "the veil" if backdrop.veil.value >= half_of_it else f"spill ({backdrop.worst.route})"
    where = f"{place}," if "," in place else place
    return False, f"{cause} lifts the backdrop's {where} {_much(missing)} stops too far{_certainty(missing, under)}"


def _on_veil(wanted: float, stray: StrayReading) -> Verdict:
    over = stray.veil.value - wanted
    if over <= 0.0:
        return True, f"veil as wanted: {_signed(stray.veil.value)} stops over mid-grey, at most {_signed(wanted)} asked"
    main = stray.routes[0].words if stray.routes else "the subject itself"
    source = f"most of the stray light comes by {main}"
    if stray.inside > stray.outside:
        source = "most of it comes from inside the frame"
    return False, f"veil {_much(over)} stops too much; {source}{_certainty(over, stray.veil)}"


def verdicts(
    setup: Setup,
    subject: SubjectReading | None,
    backdrop: BackdropReading | None,
    stray: StrayReading,
    power: PowerReading,
) -> tuple[Verdict, ...]:
    """Return (met, words) for each wish of the set, and for each head that is asked for more than it has."""
    wanted = setup.wanted
    told: list[Verdict] = []
    if wanted.subject is not None:
        if subject is None:
            told.append((False, "the subject is not in the frame"))
        else:
            told.append(_on_subject(wanted.subject, wanted.subject_tolerance, subject))
    if wanted.backdrop_under is not None:
        told.append(_on_backdrop(wanted.backdrop_under, backdrop, subject))
    if wanted.veil is not None:
        told.append(_on_veil(wanted.veil, stray))
    told += [(False, words) for words in power.complaints]
    return tuple(told)
