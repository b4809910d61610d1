"""What the frame would be if one thing were otherwise: the base frame and one traced variant for each such thing.

Heads, the room and the veil are arithmetic, because light adds. Only three kinds of change need tracing again: a
narrower and a wider beam of a head, a lighter cloth, a flag (barn doors, the lens hood) that isn't there. Variants have
the random numbers of the base, of which as many samples are kept apart for the difference.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.match.tracing import Frame, match_grid, trace_frame
from throughlight.photometry.flash import LAMBERTIAN_BEAM
from throughlight.setup import Ambient, Head, Setup, Surface
from throughlight.setup.calibration import scaled

Array = NDArray[np.float64]
Kind = Literal["head", "beam", "cloth", "glare", "flag", "room", "added room"]
Progress = Callable[[str, float], None]

ROOM_UNIT = 100.0
"""lx: what one unit of room light is, in a set that has none."""
_BEAM_STEP, _WIDEST = 0.35, 0.6  # log2 of the beam's angle: tried, and as far as that is believed
_BROADEST = 0.97 * LAMBERTIAN_BEAM
_SAMPLES, _VARIANT_SAMPLES = 96, 16  # of each cell and replicate
_FRONTS, _VARIANT_FRONTS = 1 << 15, 1 << 13

# How far such things are off on real sets, one sigma (common practice, no source; efficacies of flash tubes are met
# from 15 to 45 lm·s/J, a meter reads to a sixth of a stop, black cloths are good to about a stop).
_MOST = 100.0  # times as much
_PRIORS = {"rated": 0.6, "read": 0.2, "beam": 0.25, "cloth": 1.0, "glare": 1.0, "flag": 0.6, "room": 1.0, "added": 1.0}


class Change(NamedTuple):
    """One thing that can be otherwise, told by one number x that is 0 where all is as described.

    kind: head: stops more; cloth, glare and room: how much of itself more; beam: log2 of its angle; flag: the share of
    its work that it doesn't do; added room: units of 100 lx. of: name of the head or flag. layer: of the head. sigma:
    how far it is usually off. low, high: bounds of x.
    """

    kind: Kind
    of: str
    layer: int
    sigma: float
    low: float
    high: float


class Templates(NamedTuple):
    """The base frame, and what each change adds to it.

    slopes: by number of a change, the images and veils, (replicates, layers, cells) and (replicates, layers), that go
    with x (beam: with x and with x²; cloth and flag: with x). twin: the frame that they are differences from, with the
    same random numbers. steady: (layers,) which shine without flash.
    """

    base: Frame
    twin: Frame
    changes: tuple[Change, ...]
    slopes: dict[int, tuple[tuple[Array, Array], ...]]
    steady: NDArray[np.bool_]


def templates_of(
    setup: Setup, *, seed: int, fineness: int = 2, samples: int = _SAMPLES, variant_samples: int = _VARIANT_SAMPLES,
    threads: int | None = None, progress: Progress | None = None,
) -> Templates:  # fmt: skip
    """Trace a set and its variants.

    Parameters
    ----------
    setup
        The set, with the settings of the photo.
    seed, threads
        As for readings.
    fineness
        Of the grid; see `match_grid`.
    samples, variant_samples
        Of each cell and replicate, in the base and in variants.
    progress
        Called with what is traced and the share of everything that is done.
    """
    grid = match_grid(setup, fineness)
    room = setup.ambient is not None
    lit = setup if room else setup.model_copy(update={"ambient": Ambient.model_construct(illuminance=ROOM_UNIT)})

    others, done = list(_variants(lit)), 0
    whole = samples + variant_samples * (1 + sum(len(variants) for _, variants in others))

    def trace(one: Setup, what: str, many: int, fronts: int) -> Frame:
        nonlocal done
        before, done = done, done + many
        told = None if progress is None else lambda share: progress(what, (before + share * many) / whole)
        return trace_frame(one, grid, samples=many, fronts=fronts, seed=seed, threads=threads, progress=told)

    base = trace(lit, "the set", samples, _FRONTS)
    twin = trace(lit, "the set once more", variant_samples, _VARIANT_FRONTS)
    changes = [*_arithmetic(setup)]
    slopes: dict[int, tuple[tuple[Array, Array], ...]] = {}
    for change, variants in others:
        frames = [
            (x, trace(variant, f"{change.of} otherwise", variant_samples, _VARIANT_FRONTS)) for x, variant in variants
        ]
        slopes[len(changes)] = _slopes(change, twin, frames)
        changes.append(change)
    steady = np.array([*(not flash for flash in setup.flashes), True])
    return Templates(base, twin, tuple(changes), slopes, steady)


def _arithmetic(setup: Setup) -> Iterator[Change]:
    """Yield the changes that need no tracing."""
    for layer, head in enumerate(setup.heads):
        read = head.meter is not None or head.illuminance is not None
        yield Change("head", head.name, layer, _PRIORS["read" if read else "rated"], -4.0, 4.0)
    for number, window in enumerate(setup.windows):
        yield Change("head", window.name, len(setup.heads) + number, _PRIORS["rated"], -4.0, 4.0)
    yield Change("glare", "the lens", -1, _PRIORS["glare"], -1.0, _MOST)
    last = len(setup.lights)
    if setup.ambient is not None and setup.ambient.illuminance > 0.0:
        yield Change("room", "the room", last, _PRIORS["room"], -1.0, _MOST)
    else:
        yield Change("added room", "the room", last, _PRIORS["added"], 0.0, _MOST)


def _variants(setup: Setup) -> Iterator[tuple[Change, list[tuple[float, Setup]]]]:
    """Yield the changes that need tracing, with the sets that show them, by x."""
    for layer, head in enumerate(setup.heads):
        if head.profile is None and head.beam < _BROADEST and head.face.shape != "tube":
            wide = min(_BEAM_STEP, math.log2(LAMBERTIAN_BEAM / head.beam))
            change = Change(
                "beam",
                head.name,
                layer,
                _PRIORS["beam"],
                -_WIDEST,
                min(_WIDEST, math.log2(LAMBERTIAN_BEAM / head.beam)),
            )
            yield change, [(x, _with_head(setup, layer, beam=head.beam * 2.0**x)) for x in (-_BEAM_STEP, wide)]
        if head.barn_doors is not None:
            change = Change("flag", f"barn doors of {head.name}", layer, _PRIORS["flag"], 0.0, 1.0)
            yield change, [(1.0, _with_head(setup, layer, barn_doors=None))]
    if setup.backdrop is not None:
        surface = setup.backdrop.surface
        x = cloth_step(surface)
        if x is not None:
            drop = setup.backdrop.model_copy(update={"surface": scaled(surface, 2.0**x)})
            change = Change("cloth", "backdrop", -1, _PRIORS["cloth"], -1.0, _MOST)
            yield change, [(x, setup.model_copy(update={"backdrop": drop}))]
    for number, flag in enumerate(setup.flags):
        rest = (*setup.flags[:number], *setup.flags[number + 1 :])
        change = Change("flag", flag.name, -1, _PRIORS["flag"], 0.0, 1.0)
        yield change, [(1.0, setup.model_copy(update={"flags": rest}))]
    if setup.camera.hood > 0.0:
        bare = setup.camera.model_copy(update={"hood": 0.0})
        change = Change("flag", "the lens hood", -1, _PRIORS["flag"], 0.0, 1.0)
        yield change, [(1.0, setup.model_copy(update={"camera": bare}))]


def _with_head(setup: Setup, number: int, **update: object) -> Setup:
    heads: list[Head] = list(setup.heads)
    heads[number] = heads[number].model_copy(update=update)
    return setup.model_copy(update={"heads": tuple(heads)})


def cloth_step(surface: Surface) -> float | None:
    """Return by how many stops a finish can be made lighter or darker for a trial; None where it gives back nothing."""
    if surface.kind in ("metal", "mirror") or surface.pattern is not None or max(surface.reflectance) <= 0.0:
        return None
    return 1.0 if 2.0 * max(*surface.reflectance, *surface.sheen) <= 1.0 else -1.0


def _slopes(change: Change, twin: Frame, frames: list[tuple[float, Frame]]) -> tuple[tuple[Array, Array], ...]:
    """Return what goes with x, from frames at one or two values of it."""
    off = [(x, frame.image - twin.image, frame.veil - twin.veil) for x, frame in frames]
    if change.kind == "beam":
        (a, image_a, veil_a), (b, image_b, veil_b) = off
        layer = np.zeros(len(twin.names))
        layer[change.layer] = 1.0  # the other heads' light is the same but for noise
        # The parabola through (a, ·), (0, 0) and (b, ·).
        size = a * b * (b - a)
        pairs = ((image_a, image_b), (veil_a, veil_b))
        linear = [(b * b * at_a - a * a * at_b) / size for at_a, at_b in pairs]
        square = [(a * at_b - b * at_a) / size for at_a, at_b in pairs]
        return tuple((image * layer[:, None], veil * layer) for image, veil in (linear, square))
    ((x, image, veil),) = off
    weight = 2.0**x - 1.0 if change.kind == "cloth" else x  # a cloth's trial is told in stops
    return ((image / weight, veil / weight),)
