"""The readings: every figure a photographer asks for, in stops with its interval; as JSON with units in the keys."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import throughlight
from throughlight.readings.camera import CameraReading
from throughlight.readings.finishing import FinishNote
from throughlight.readings.intervals import Stops
from throughlight.readings.power import PowerReading
from throughlight.readings.replicates import Replicates

SCHEMA = "throughlight/readings/1"
"""Name and version of the JSON."""

DROWNED = 3.0
"""Stops under the veil from which on a cloth adds next to nothing to what the camera sees: an eighth of the veil."""


def stops_json(figure: Stops | None) -> dict[str, float | None] | None:
    """Return a figure as JSON; an open end is null."""
    if figure is None:
        return None

    def finite(value: float) -> float | None:
        return round(value, 4) if math.isfinite(value) else None

    return {"stops": finite(figure.value), "low_stops": finite(figure.low), "high_stops": finite(figure.high)}


@dataclass(frozen=True)
class Route:
    """Light by the way it took: the head, what it left last, and how much of it there is.

    `exposure` is lx·s on the sensor or on the front element, as the reading says; `share` is of the whole.
    """

    head: str
    by: str
    exposure: Stops
    amount: float
    share: float

    @property
    def words(self) -> str:
        """Return the route as words."""
        return f"{self.head} → {self.by}" if self.by else f"{self.head}, directly"


@dataclass(frozen=True)
class SubjectReading:
    """Exposure of the visible subject, in stops over mid-grey, veil and room light included."""

    mean: Stops
    percentile_5: Stops
    median: Stops
    percentile_95: Stops
    clipped: tuple[float, float]
    image: Stops
    by_head: dict[str, Stops]

    def as_json(self) -> dict[str, Any]:
        """Return the reading with units in its keys."""
        return {
            "mean_over_mid_grey": stops_json(self.mean),
            "percentile_5_over_mid_grey": stops_json(self.percentile_5),
            "median_over_mid_grey": stops_json(self.median),
            "percentile_95_over_mid_grey": stops_json(self.percentile_95),
            "clipped_fraction": round(self.clipped[0], 5),
            "clipped_fraction_half_interval": round(self.clipped[1], 5),
            "image_without_veil_over_mid_grey": stops_json(self.image),
            "heads_over_mid_grey": {name: stops_json(value) for name, value in self.by_head.items()},
        }


@dataclass(frozen=True)
class PatchReading:
    """The brightest patch of the backdrop; `right_mm` and `up_mm` are on the film as the picture is seen."""

    exposure: Stops
    place: str
    right_mm: float
    up_mm: float
    code: int
    route: str


@dataclass(frozen=True)
class BackdropReading:
    """How black the backdrop stays, in stops over mid-grey, and under the subject's mean.

    `routes` are those of the cloth's own light; the veil has its own, in `StrayReading`.
    """

    mean: Stops
    cloth: Stops
    veil: Stops
    code: int
    under_subject: Stops | None
    worst: PatchReading
    worst_under_subject: Stops | None
    routes: tuple[Route, ...]

    @property
    def made_by_veil(self) -> bool:
        """Return whether the cloth is drowned in the veil, so that it hardly matters what lights it."""
        return self.cloth.value < self.veil.value - DROWNED

    def as_json(self) -> dict[str, Any]:
        """Return the reading with units in its keys."""
        return {
            "mean_over_mid_grey": stops_json(self.mean),
            "cloth_over_mid_grey": stops_json(self.cloth),
            "veil_over_mid_grey": stops_json(self.veil),
            "mean_code_8_bit": self.code,
            "mean_under_subject": stops_json(self.under_subject),
            "worst_patch": {
                "over_mid_grey": stops_json(self.worst.exposure),
                "under_subject": stops_json(self.worst_under_subject),
                "place": self.worst.place,
                "right_of_centre_on_film_mm": round(self.worst.right_mm, 3),
                "above_centre_on_film_mm": round(self.worst.up_mm, 3),
                "code_8_bit": self.worst.code,
                "main_route": self.worst.route,
            },
            "cloth_routes": [
                {
                    "head": route.head,
                    "last_left": route.by,
                    "over_mid_grey": stops_json(route.exposure),
                    "share": round(route.share, 4),
                }
                for route in self.routes
            ],
        }


@dataclass(frozen=True)
class StrayReading:
    """Light on the front element from outside the picture angle, and the veil.

    `veil_layers` is the veil's exposure by head, the room last, in three bands, lx·s.
    """

    outside: float
    outside_interval: tuple[float, float]
    inside: float
    veil: Stops
    veil_by_head: dict[str, Stops]
    seen: dict[str, tuple[float, float]]
    routes: tuple[Route, ...]
    veil_layers: dict[str, tuple[float, float, float]]

    @property
    def most_of_veil(self) -> tuple[str, float] | None:
        """Return whose light makes the largest part of the veil, and that part, or None without a veil.

        What the heads leave of the veil is the room light's.
        """
        whole = 2.0**self.veil.value
        if whole == 0.0:
            return None
        parts = {name: 2.0**value.value / whole for name, value in self.veil_by_head.items()}
        parts["room light"] = 1.0 - sum(parts.values())
        return max(parts.items(), key=lambda part: part[1])

    def as_json(self) -> dict[str, Any]:
        """Return the reading with units in its keys."""
        return {
            "outside_the_frame_lx_s": self.outside,
            "outside_the_frame_low_lx_s": self.outside_interval[0],
            "outside_the_frame_high_lx_s": self.outside_interval[1],
            "inside_the_frame_lx_s": self.inside,
            "veil_over_mid_grey": stops_json(self.veil),
            "veil_by_head_over_mid_grey": {name: stops_json(value) for name, value in self.veil_by_head.items()},
            "veil_exposure_by_band_lx_s": {name: list(bands) for name, bands in self.veil_layers.items()},
            "visible_part_of_head_fraction": {name: round(part, 5) for name, (part, _) in self.seen.items()},
            "visible_part_half_interval_fraction": {name: round(half, 5) for name, (_, half) in self.seen.items()},
            "routes": [
                {
                    "head": route.head,
                    "last_left": route.by,
                    "front_element_lx_s": route.amount,
                    "share": round(route.share, 4),
                }
                for route in self.routes
            ],
        }


@dataclass(frozen=True)
class AmbientReading:
    """The frame with no flash (room, windows, continuous lamps), stops over mid-grey; None for what is not in it."""

    subject: Stops | None
    backdrop: Stops | None

    def as_json(self) -> dict[str, Any]:
        """Return the reading with units in its keys."""
        return {"subject_over_mid_grey": stops_json(self.subject), "backdrop_over_mid_grey": stops_json(self.backdrop)}


@dataclass(frozen=True)
class Making:
    """How the figures were made."""

    seed: int
    seconds: float
    paths: int
    replicates: int
    tolerance: float
    reason: str
    cut: int
    leaked: int
    invalid: int

    def as_json(self) -> dict[str, Any]:
        """Return the record with units in its keys."""
        return {
            "seed": self.seed,
            "tracing_seconds": round(self.seconds, 3),
            "paths": self.paths,
            "replicates": self.replicates,
            "tolerance_stops": self.tolerance,
            "stopped_by": self.reason,
            "paths_cut": self.cut,
            "paths_lost_in_open_bodies": self.leaked,
            "paths_not_a_number": self.invalid,
        }


@dataclass(frozen=True)
class Readings:
    """All readings of one set; `replicates` are the sums behind them, for the same set at other powers."""

    title: str
    subject: SubjectReading | None
    backdrop: BackdropReading | None
    stray: StrayReading
    ambient: AmbientReading | None
    spots: dict[str, Stops]
    camera: CameraReading
    power: PowerReading
    verdicts: tuple[tuple[bool, str], ...]
    making: Making
    warnings: tuple[str, ...] = field(default=())
    finish: tuple[FinishNote, ...] = field(default=())
    replicates: Replicates | None = field(default=None, compare=False, repr=False)

    @property
    def as_wanted(self) -> bool:
        """Return whether every wish of the set is met."""
        return all(good for good, _ in self.verdicts)

    def as_json(self) -> dict[str, Any]:
        """Return everything as plain JSON data, units in the keys."""
        return {
            "schema": SCHEMA,
            "engine_version": throughlight.__version__,
            "title": self.title,
            "subject": None if self.subject is None else self.subject.as_json(),
            "backdrop": None if self.backdrop is None else self.backdrop.as_json(),
            "stray_light": self.stray.as_json(),
            "ambient": None if self.ambient is None else self.ambient.as_json(),
            "spots_over_mid_grey": {name: stops_json(value) for name, value in self.spots.items()},
            "camera": self.camera.as_json(),
            "power": self.power.as_json(),
            "finish": [note.as_json() for note in self.finish],
            "wanted": [{"met": good, "words": words} for good, words in self.verdicts],
            "made": self.making.as_json(),
            "warnings": list(self.warnings),
        }
