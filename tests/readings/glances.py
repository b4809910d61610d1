"""The sets of scenes/examples, looked at shortly: a few thousand paths for each reading, and ways to compare them."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np

from throughlight.readings.assemble import assemble
from throughlight.readings.frame import cell_exposures, luminance
from throughlight.readings.reading import Readings
from throughlight.readings.regions import sort_regions, targets
from throughlight.setup import Setup, Spot, load, loads
from throughlight.stage.build import build
from throughlight.trace.driver import Tally, run

FOLDER = Path(__file__).parents[2] / "scenes" / "examples"
FILES = {path.stem: path for path in sorted(FOLDER.glob("*.toml"))} | {"own-kit": FOLDER / "own-kit" / "set.toml"}
REPLICATES = 8
SIGMAS = 4.0


class Glance(NamedTuple):
    """A set, its readings after one round, and the sums behind them."""

    setup: Setup
    readings: Readings
    tallies: dict[str, Tally]


def read(name: str, *changes: tuple[str, str]) -> Setup:
    """Return an example, with some of its text put differently."""
    if not changes:
        return load(FILES[name])
    text = FILES[name].read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return loads(text, folder=FILES[name].parent)


def glance(setup: Setup, rounds: int = 1, **places: tuple[float, float]) -> Glance:
    """Return what a few paths tell of a set: 256 for each replicate and sampler in the first round.

    places: further spots, as shares of the frame's width from the left and of its height from the top.
    """
    spots = tuple(Spot.model_construct(name=name, x=x, y=y) for name, (x, y) in places.items())
    setup = setup.model_copy(update={"spots": (*setup.spots, *spots)})
    stage, cast = build(setup)
    regions = sort_regions(stage, setup)
    looks = targets(regions, setup.spots)
    asked = iter(range(1, rounds))
    outcome = run(
        stage, looks, lambda _: set(looks) if next(asked, None) else set(), seed=7, threads=2, replicates=REPLICATES
    )
    readings = assemble(setup, cast, regions, looks, outcome, None, 1.0, 7)
    return Glance(setup, readings, outcome.tallies)


def in_frame(setup: Setup, place: tuple[float, float, float]) -> tuple[float, float]:
    """Return where a camera without movements sees a place (m), as `glance` takes it: the central projection."""
    camera = setup.camera
    ahead = np.subtract(camera.aim, camera.at) / math.dist(camera.aim, camera.at)
    right = np.cross(ahead, (0.0, 1.0, 0.0))
    right /= np.linalg.norm(right)
    to = np.subtract(place, camera.at)
    film = camera.focal * camera.focus / (camera.focus - camera.focal) / float(to @ ahead)
    up = np.cross(right, ahead)
    return 0.5 + film * float(to @ right) / camera.sensor_width, 0.5 - film * float(to @ up) / camera.sensor_height


def _spot(one: Glance, name: str) -> Tally:
    return one.tallies[f"spot {[spot.name for spot in one.setup.spots].index(name)}"]


def spot(one: Glance, name: str) -> np.ndarray:
    """Return the exposure at a spot by replicate, lx·s, without veil."""
    return cell_exposures(_spot(one, name), one.setup.camera)[:, 0]


def bands(one: Glance, name: str) -> np.ndarray:
    """Return red, green and blue at a spot by replicate, (r, 3), in any unit."""
    return _spot(one, name).cells[:, 0].sum(axis=1) / _spot(one, name).rays


def of_head(one: Glance, name: str, head: str) -> np.ndarray:
    """Return one head's part of a spot by replicate, in any unit."""
    return luminance(_spot(one, name).cells[:, 0, one.setup.lights.index(head)]) / _spot(one, name).rays


def subject(one: Glance) -> np.ndarray:
    """Return the subject's mean by replicate, without veil, in any unit."""
    tally = one.tallies["subject"]
    return luminance(tally.cells).sum(axis=(1, 2)) / tally.counts[:, :, 0].sum(axis=1)


def backdrop(one: Glance, head: str | None = None) -> np.ndarray:
    """Return the backdrop's mean, or one head's part of it, by replicate, without veil, in any unit."""
    tally = one.tallies["backdrop"]
    layers = luminance(tally.cells).sum(axis=1) / tally.counts[:, :, 1].sum(axis=1)[:, None]
    return layers.sum(axis=1) if head is None else layers[:, one.setup.lights.index(head)]


def stops(one: np.ndarray, other: np.ndarray) -> tuple[float, float]:
    """Return how many stops one figure lies over another, and its standard error; both (r,) by replicate."""
    a, b = one.mean(), other.mean()
    error = math.hypot(*(np.std(x, ddof=1) / math.sqrt(len(x)) / x.mean() for x in (one, other)))
    return math.log2(a / b), error / math.log(2.0)


def over(one: np.ndarray, other: np.ndarray, least: float) -> None:
    """Assert that one figure lies at least so many stops over another, by four standard errors."""
    found, error = stops(one, other)
    print(f"{found:.3f} ± {error:.3f} stops over, at least {least}")
    assert found - SIGMAS * error >= least


def equals(one: np.ndarray, other: np.ndarray, expected: float, slack: float) -> None:
    """Assert that one figure lies so many stops over another, by four standard errors and the expectation's slack."""
    found, error = stops(one, other)
    print(f"{found:.3f} ± {error:.3f} stops over, expected {expected:.3f} ± {slack}")
    assert SIGMAS * error <= 0.3
    assert abs(found - expected) <= SIGMAS * error + slack
