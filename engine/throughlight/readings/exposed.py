"""A new piece in a set: how it is exposed as the set stands, and what power or aperture exposes it as wanted.

The tracer gives the exposure with the piece's matter in the set; light adds, so a change of power by Δ stops makes of
H = F + A (F by the heads, A by all else) 2^Δ·F + A. Where the light comes through a slab from behind, another thickness
changes it as the slab solver says, from the traced thickness on:

    F(d) = F(d₀)·2^−(s(d) − s(d₀)).

The light runs out where all heads at full leave the subject under what is wanted. That holds for a slice much wider
than it is thick; the set is traced once more with so thick a piece, which shows what gets in through its sides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from throughlight.readings.intervals import Stops
from throughlight.readings.meter import Progress, meter
from throughlight.readings.piece import PieceReading
from throughlight.readings.power import power_reading
from throughlight.readings.reading import Readings
from throughlight.readings.thickness import drawn_losses, losses
from throughlight.readings.turns import Turn, change_for, limit, spare_of, turn_of, turned
from throughlight.setup import Material, Mistake, Setup, SetupError, Slab, Subject

_BEHIND = 0.8
"""Share of a slab's light that must come from behind for its thickness to rule the exposure."""
_THINNEST, _THICKEST = 0.05e-3, 1.0
_TRACED = 0.15  # m; a thicker piece would reach what stands round it
_SIDEWAYS = 0.2  # stops


@dataclass(frozen=True)
class Exposed:
    """A piece in a set.

    subject: its name. wanted: stops over mid-grey. traced: with the piece's matter, as the set stands; the matter's own
    uncertainty is `matter` (low, high, stops against the middle). change: stops by which the heads are turned.
    turns: the heads. short: stops that they lack, 0 when they have it. f_number: the aperture that does it alone, or,
    where the heads lack, together with them at full. confirmed: traced again with the heads so turned. runs_out:
    thickness at which the light runs out, m: middle, thinnest, thickest; None where thickness does not rule, and why.
    ended: traced at that thickness with all heads at full; None where it was not.
    complaints: sentences about heads that cannot be turned so far down. readings: all of the first trace.
    """

    subject: str
    wanted: float
    traced: Stops
    matter: tuple[float, float]
    change: float
    turns: tuple[Turn, ...]
    short: float
    f_number: float
    confirmed: Stops | None
    runs_out: tuple[float, float, float] | None
    ended: Stops | None
    thickness: float | None
    why_not: str
    complaints: tuple[str, ...]
    readings: Readings

    @property
    def sideways(self) -> bool:
        """Return whether so thick a piece gets clearly more light than a wide slice would: through its sides."""
        return self.ended is not None and self.ended.low > self.wanted + _SIDEWAYS

    @property
    def advice(self) -> tuple[float, float]:
        """Return how far the exposure may lie from what is wanted once the advice is taken, stops (95 %)."""
        traced = self.traced.half
        return -math.hypot(traced, self.matter[0]), math.hypot(traced, self.matter[1])


def with_piece(setup: Setup, subject: Subject, material: Material, thickness: float | None = None) -> Setup:
    """Return the set with one subject made of other matter, of other thickness too; its skin is the material's."""
    changed = subject.model_copy(update={"material": material, "surface": None})
    if thickness is not None:
        shape = subject.shape.model_copy(update={"thickness": thickness})
        changed = changed.model_copy(update={"shape": shape})
    return setup.model_copy(update={"subjects": tuple(changed if one is subject else one for one in setup.subjects)})


def subject_named(setup: Setup, name: str | None, file: str) -> Subject:
    """Return the subject of that name, or the first one.

    Raises
    ------
    SetupError
        When the set has none.
    """
    found = [one for one in setup.subjects if name is None or one.name == name]
    if found:
        return found[0]
    names = ", ".join(f'"{one.name}"' for one in setup.subjects)
    words = f"there is no subject{'' if name is None else f' called {name!r}'} in the set"
    raise SetupError([Mistake(file, 0, 0, "subject", f"{words}; {names if names else 'one [subject]'} would fit")])


def exposed(
    setup: Setup,
    reading: PieceReading,
    *,
    subject: str | None = None,
    file: str = "the set",
    tolerance: float = 0.1,
    seed: int | None = None,
    time_limit: float | None = None,
    confirm: bool = True,
    progress: Progress | None = None,
) -> Exposed:
    """Return how a set exposes a piece, and what exposes it as wanted.

    Parameters
    ----------
    setup
        The checked set.
    reading
        The piece's matter.
    subject
        Which subject is made of it; the first when None.
    file
        What mistakes call the set.
    tolerance, seed, time_limit, progress
        As of `readings.meter.meter`.
    confirm
        Whether the answer is traced again.

    Raises
    ------
    SetupError
        When there is no such subject, it is not in the frame, or no light reaches it.
    """
    chosen = subject_named(setup, subject, file)

    def trace(changed: Setup, more: int = 0) -> Readings:
        start = setup.seed if seed is None else seed
        return meter(changed, tolerance=tolerance, seed=start + more, time_limit=time_limit, progress=progress)

    first = trace(with_piece(setup, chosen, reading.material))
    if first.subject is None or not math.isfinite(first.subject.mean.value):
        words = "the subject is not in the frame, or no light reaches the lens from it; the set cannot be judged"
        raise SetupError([Mistake(file, 0, 0, "subject", words)])
    whole = 2.0**first.subject.mean.value
    lights = {name: 2.0**value.value for name, value in first.subject.by_head.items()}
    heads = {head.name: lights.get(head.name, 0.0) for head in setup.heads}
    rest = max(whole - sum(heads.values()), 0.0)
    wanted = 0.0 if setup.wanted.subject is None else setup.wanted.subject
    spare = {head.name: spare_of(setup, head.name) for head in setup.heads}
    change, short = change_for(heads, rest, 2.0**wanted, spare)
    turns = tuple(turn_of(setup, head.name, change, spare[head.name]) for head in setup.heads)
    changed = turned(setup, change, spare)
    confirmed = None
    if confirm and change != 0.0:
        again = trace(with_piece(changed, chosen, reading.material), 1).subject
        confirmed = None if again is None else again.mean
    runs_out, why_not = _runs_out(setup, chosen, reading, heads, rest, spare, 2.0**wanted, first.subject.mean.half)
    ended = None
    if confirm and runs_out is not None and runs_out[0] <= _TRACED:
        end = trace(_at_its_end(setup, chosen, reading, spare, runs_out[0]), 2).subject
        ended = None if end is None else end.mean
    left = short if short > 0.0 else wanted - first.subject.mean.value
    return Exposed(
        subject=chosen.name,
        wanted=wanted,
        traced=first.subject.mean,
        matter=_matter(
            chosen, reading, first.subject.mean.value, lambda material: trace(with_piece(setup, chosen, material))
        ),
        change=change,
        turns=turns,
        short=short,
        f_number=setup.camera.f_number * 2.0 ** (-0.5 * left),
        confirmed=confirmed,
        runs_out=runs_out,
        ended=ended,
        thickness=chosen.shape.thickness if isinstance(chosen.shape, Slab) else None,
        why_not=why_not,
        complaints=power_reading(changed).complaints,
        readings=first,
    )


def _at_its_end(
    setup: Setup, chosen: Subject, reading: PieceReading, spare: dict[str, float | None], thickness: float
) -> Setup:
    """Return the set with a piece as thick as light is said to reach through, all heads at full."""
    full = turned(setup, max(limit(one) for one in spare.values()), spare)
    return with_piece(full, chosen, reading.material, thickness)


def _behind(setup: Setup, subject: Subject, head_at: tuple[float, float, float]) -> bool:
    """Return whether a head stands on the other side of a slab than the camera."""
    normal = np.subtract(subject.faces(setup.camera.at), subject.at)
    sides = [float(np.dot(np.subtract(place, subject.at), normal)) for place in (head_at, setup.camera.at)]
    return sides[0] * sides[1] < 0.0


def _runs_out(
    setup: Setup, subject: Subject, reading: PieceReading, heads: dict[str, float], rest: float,
    spare: dict[str, float | None], wanted: float, unsure: float,
) -> tuple[tuple[float, float, float] | None, str]:  # fmt: skip
    """Return the thickness at which the light runs out, or why not; `unsure` is half the traced interval, stops."""
    if not isinstance(subject.shape, Slab):
        return None, "the subject is no slab, so no one thickness rules its exposure"
    if any(spare[name] is None for name in heads):
        return None, "a head is given by a reading, which does not tell its full power"
    through = {head.name: heads[head.name] for head in setup.heads if _behind(setup, subject, head.at)}
    if sum(through.values()) < _BEHIND * (sum(heads.values()) + rest):
        return None, "less than 80 % of its light comes from behind, so thickness alone does not rule its exposure"
    full = {name: part * 2.0 ** limit(spare[name]) for name, part in heads.items()}
    front = rest + sum(part for name, part in full.items() if name not in through)
    if front >= wanted:
        return None, "the light from the front alone is enough"
    reach = math.log2(sum(full[name] for name in through) / (wanted - front))
    d = np.geomspace(_THINNEST, _THICKEST, 160)
    whole = losses(reading, np.append(d, subject.shape.thickness)).whole
    more = whole[:-1] - whole[-1, 0]
    ends = ((0, reach), (1, reach + unsure), (2, reach - unsure))
    middle, thick, thin = (float(np.exp(np.interp(stops, more[:, i], np.log(d)))) for i, stops in ends)
    if middle <= _THINNEST * 1.01:
        return None, "even the thinnest slice is darker than wanted with all heads at full"
    return (middle, thin, thick), ""


def _matter(
    subject: Subject, reading: PieceReading, middle: float, trace: Callable[[Material], Readings]
) -> tuple[float, float]:
    """Return by how many stops the matter's own uncertainty may lower and raise the exposure (95 %)."""
    if isinstance(subject.shape, Slab):
        whole = losses(reading, subject.shape.thickness).whole[0]
        return float(whole[0] - whole[2]), float(whole[0] - whole[1])
    if all(len(np.unique(one.draws, axis=0)) == 1 and one.moves.size == 0 for one in reading.beliefs):
        return 0.0, 0.0
    # Of another body no one thickness rules: the darkest and the brightest matter of the band are traced.
    ends = []
    for share in (0.975, 0.025):
        pairs = [_at_share(reading, i, share) for i in range(len(reading.beliefs))]
        taken = trace(reading.material_of(pairs)).subject
        ends.append(math.nan if taken is None else taken.mean.value)
    low, high = sorted(end - middle for end in ends)
    return min(low, 0.0), max(high, 0.0)


def _at_share(reading: PieceReading, band: int, share: float) -> tuple[float, float]:
    """Return drawn matter that loses as much light as more than that share of all does, at half the read thickness.

    It is traced with the entry's own g, n and roughness, so the draw is taken that loses as much with these.
    """
    draws, d = reading.beliefs[band].draws, np.array([0.5 * reading.thickness])
    wanted = float(np.quantile(drawn_losses(reading, band, d), share))
    stops = reading.slabs.stops_less("light table", draws[:, 0] * d, draws[:, 1] * d)
    chosen = int(np.abs(stops - wanted).argmin())
    return float(draws[chosen, 0]), float(draws[chosen, 1])
