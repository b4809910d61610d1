"""A new piece as JSON, units in the keys."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from throughlight import __version__
from throughlight.readings.open_points import open_points
from throughlight.readings.piece import BANDS, PieceReading
from throughlight.readings.reading import stops_json
from throughlight.readings.thickness import Lab, lab, lab_ends, losses
from throughlight.swatch.belief import Belief, Span

if TYPE_CHECKING:
    from throughlight.readings.exposed import Exposed

SCHEMA = "throughlight/swatch/1"


def piece_json(
    reading: PieceReading, thicknesses: Sequence[float], entry: str, shown: Exposed | None = None
) -> dict[str, Any]:
    """Return everything that `swatch` tells as plain JSON data."""
    piece, found = reading.piece, losses(reading, thicknesses)
    words, ends = lab(reading, reading.thickness), lab_ends(reading, reading.thickness)
    names = ("all",) if reading.neutral else BANDS
    return {
        "schema": SCHEMA,
        "engine_version": __version__,
        "name": piece.name,
        "kind": None if piece.published is not None else piece.kind.name,
        "n": piece.index,
        "g": piece.asymmetry,
        "bands": {name: _belief(one) for name, one in zip(names, reading.beliefs, strict=True)},
        "thickness_against_stops": [
            {"thickness_mm": _round(1e3 * d), "stops_less": _triple(whole), "bands_stops_less": _each(names, bands)}
            for d, whole, bands in zip(found.thickness, found.whole, found.bands.swapaxes(0, 1), strict=True)
        ],
        "laboratory": {
            "thickness_mm": _round(1e3 * reading.thickness),
            "total_transmittance": [_round(one) for one in words.transmittance],
            "diffuse_transmittance": [_round(one) for one in words.diffuse],
            "total_reflectance": [_round(one) for one in words.reflectance],
            "optical_density": [_round(one) for one in words.density],
            "low_high_total_transmittance": _ends(ends, "transmittance"),
            "low_high_diffuse_transmittance": _ends(ends, "diffuse"),
            "low_high_total_reflectance": _ends(ends, "reflectance"),
            "low_high_optical_density": _ends(ends, "density"),
        },
        "open": open_points(reading),
        "kit_entry": entry,
        "set": None if shown is None else _exposed(shown),
    }


def _round(value: float) -> float:
    return float(f"{value:.6g}")


def _ends(ends: tuple[Lab, Lab], word: str) -> list[list[float]]:
    """Return the ends of a laboratory word's interval for each band that is told by itself."""
    return [[_round(low), _round(high)] for low, high in zip(*(getattr(one, word) for one in ends), strict=True)]


def _triple(values: Sequence[float]) -> dict[str, float]:
    return {name: _round(float(one)) for name, one in zip(("stops", "low_stops", "high_stops"), values, strict=True)}


def _each(names: Sequence[str], bands: Sequence[Sequence[float]]) -> dict[str, dict[str, float]]:
    return {name: _triple(one) for name, one in zip(names, bands, strict=True)}


def _span(span: Span) -> dict[str, Any]:
    return {
        "value_per_mm": _round(1e-3 * span.value),
        "low_per_mm": _round(1e-3 * span.low),
        "high_per_mm": _round(1e-3 * span.high),
        "told_by_the_readings": span.told,
    }


def _belief(belief: Belief) -> dict[str, Any]:
    return {
        "reduced_scattering": _span(belief.scatter),
        "absorption": _span(belief.absorb),
        "entry_reduced_scattering_per_mm": _round(1e-3 * belief.best[0]),
        "entry_absorption_per_mm": _round(1e-3 * belief.best[1]),
        "readings_agree": belief.misfit <= belief.allowed,
    }


def _exposed(shown: Exposed) -> dict[str, Any]:
    return {
        "subject": shown.subject,
        "wanted_over_mid_grey_stops": shown.wanted,
        "traced_over_mid_grey": stops_json(shown.traced),
        "matter_low_stops": _round(shown.matter[0]),
        "matter_high_stops": _round(shown.matter[1]),
        "advice_low_stops": _round(shown.advice[0]),
        "advice_high_stops": _round(shown.advice[1]),
        "heads": [
            {"name": one.name, "stops_now": one.now, "stops_then": _round(one.then), f"then_{one.unit}": one.power}
            for one in shown.turns
        ],
        "short_stops": shown.short if math.isfinite(shown.short) else None,
        "f_number": _round(shown.f_number) if shown.f_number > 0.0 else None,
        "confirmed_over_mid_grey": stops_json(shown.confirmed),
        "light_runs_out_mm": None if shown.runs_out is None else [_round(1e3 * one) for one in shown.runs_out],
        "light_runs_out_traced_over_mid_grey": stops_json(shown.ended),
        "light_runs_out_not_told": shown.why_not,
        "complaints": list(shown.complaints),
    }
