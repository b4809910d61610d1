"""From a finish to the record of a face."""

from __future__ import annotations

from typing import Any

from throughlight.setup import Surface
from throughlight.trace.tables import Region, SurfaceKind


def face_row(region: Region, surface: Surface | None) -> dict[str, Any]:
    """Return the fields of a PART for a finish; no finish means a face that returns no light."""
    row: dict[str, Any] = {"region": region, "surface": SurfaceKind.MATTE}
    if surface is None:
        return row
    row["red"], row["green"], row["blue"] = surface.reflectance
    if surface.kind == "mirror":
        row["surface"] = SurfaceKind.MIRROR
    if surface.kind == "cloth":
        row["surface"] = SurfaceKind.CLOTH
        row["pile"] = surface.pile
        row["sheen_red"], row["sheen_green"], row["sheen_blue"] = surface.sheen
    return row
