"""The records of a stage in the making, and the tables they become."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.setup import Pattern, Sheeting, Surface
from throughlight.stage.bounds import bounds_of
from throughlight.stage.curves import Curves
from throughlight.stage.faces import face_row
from throughlight.stage.frames import Array
from throughlight.trace.tables import MAP, Region, ShapeKind

Sizes = tuple[float, float, float]
Place = tuple[float, float]


@dataclass
class Rows:
    """Records in the making."""

    shapes: list[dict[str, Any]] = field(default_factory=list)
    parts: list[dict[str, Any]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    media: list[dict[str, Any]] = field(default_factory=list)
    heads: list[dict[str, Any]] = field(default_factory=list)
    meshes: list[tuple[Array, Any, Array | None]] = field(default_factory=list)
    mesh_rows: list[int] = field(default_factory=list)
    curves: Curves = field(default_factory=Curves)
    maps: list[dict[str, Any]] = field(default_factory=lambda: [{}])
    texels: list[NDArray[np.float32]] = field(default_factory=lambda: [np.zeros((1, 3), np.float32)])
    prints: dict[Pattern, int] = field(default_factory=dict)

    def curve(self, values: Array) -> int:
        """Add a tabulated function, row after row, and return the place where it begins."""
        return self.curves.add(np.ravel(values))

    def map(self, picture: NDArray[np.float32], width: float, height: float, middle: Place = (0.0, 0.0)) -> int:
        """Lay a picture (rows, columns, 3) on a shape, m wide and high about a place of it; return its row."""
        place = {"left": middle[0] - width / 2.0, "top": middle[1] + height / 2.0, "width": width, "height": height}
        first = sum(len(one) for one in self.texels)
        self.maps.append({"first": first, "columns": picture.shape[1], "rows": picture.shape[0], **place})
        self.texels.append(np.ascontiguousarray(picture.reshape(-1, 3), np.float32))
        return len(self.maps) - 1

    def pools(self) -> dict[str, NDArray[Any]]:
        """Return the tables of maps and texels."""
        return {"maps": table(self.maps, MAP), "texels": np.concatenate(self.texels)}

    def face(self, name: str, region: Region, finish: Surface | Sheeting | None) -> int:
        """Add one face and return its row; no finish means a face that returns no light."""
        self.parts.append(face_row(self, region, finish))
        self.names.append(name)
        return len(self.parts) - 1

    def shape(self, kind: ShapeKind, origin: ArrayLike, frame: Array, sizes: Sizes, **more: int) -> int:
        """Add one shape and return its row."""
        row: dict[str, Any] = {"kind": kind, "medium": -1, "head": -1, **more, **frame_fields(origin, frame)}
        row["sa"], row["sb"], row["sc"] = sizes
        low, high = bounds_of(kind, np.asarray(origin, float), frame, sizes)
        set_bounds(row, low, high)
        self.shapes.append(row)
        return len(self.shapes) - 1


def set_bounds(row: dict[str, Any], low: Array, high: Array) -> None:
    """Write the corners of a box round a shape into its fields."""
    for axis, a, b in zip("xyz", low, high, strict=True):
        row[f"lo_{axis}"], row[f"hi_{axis}"] = float(a), float(b)


def frame_fields(origin: ArrayLike, frame: Array) -> dict[str, float]:
    """Return the fields of an origin (3,) and of the axes in the columns of a frame (3, 3)."""
    fields = {f"o{axis}": float(value) for axis, value in zip("xyz", np.asarray(origin), strict=True)}
    for letter, column in zip("tbn", frame.T, strict=True):
        fields |= {f"{letter}{axis}": float(value) for axis, value in zip("xyz", column, strict=True)}
    return fields


def table(rows: list[dict[str, Any]], dtype: np.dtype[np.void]) -> NDArray[np.void]:
    """Return a record table with what each row says, zeros elsewhere."""
    table = np.zeros(len(rows), dtype)
    for i, row in enumerate(rows):
        for key, value in row.items():
            table[i][key] = value
    return table
