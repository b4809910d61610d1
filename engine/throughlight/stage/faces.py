"""From a finish, or a sheet, to the record of a face."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from throughlight.setup import Band, Pattern, Sheeting, Surface
from throughlight.setup.pictures import linear_picture
from throughlight.trace.tables import Region, SurfaceKind

if TYPE_CHECKING:
    from throughlight.stage.rows import Rows

Row = dict[str, Any]


def face_row(rows: Rows, region: Region, finish: Surface | Sheeting | None) -> Row:
    """Return the fields of a PART for a finish or a sheet; neither means a face that returns no light.

    Tables of losses and pictures that the face needs are added to `rows`, each once.
    """
    if finish is None:
        return {"region": region, "surface": SurfaceKind.MATTE}
    if isinstance(finish, Sheeting):
        return {"region": region, **_sheet(finish)}
    row: Row = {"region": region, "surface": SurfaceKind[finish.kind.upper()]}
    if finish.kind == "metal":
        return row | _metal(rows, finish)
    row |= _bands("", finish.reflectance)
    if finish.pattern is not None:
        row["map"] = _pattern(rows, finish.pattern)
    if finish.kind == "cloth":
        row |= {"pile": finish.pile, **_bands("sheen_", finish.sheen)}
    return row | _skin(rows, finish) if finish.kind == "gloss" else row


def _bands(prefix: str, values: Band) -> Row:
    return {f"{prefix}{band}": value for band, value in zip(("red", "green", "blue"), values, strict=True)}


def _skin(rows: Rows, finish: Surface) -> Row:
    from throughlight.stage.losses import gloss_curve  # which loads the kernels

    lost = rows.curve(gloss_curve(finish.n, finish.roughness))
    return {"n": finish.n, "alpha": finish.roughness, "lost": lost}


def _metal(rows: Rows, finish: Surface) -> Row:
    from throughlight.stage.losses import metal_curve

    n, k = finish.complex_index
    lost = rows.curve(metal_curve(finish.roughness, n, k))
    return {**_bands("n_", n), **_bands("k_", k), "alpha": finish.roughness, "lost": lost}


def _pattern(rows: Rows, pattern: Pattern) -> int:
    """Return the row of the map of a print, which all faces with the same print share."""
    if pattern not in rows.prints:
        light = linear_picture(pattern.picture, pattern.encoding) * pattern.white
        height = pattern.width * len(light) / len(light[0]) if pattern.height is None else pattern.height
        rows.prints[pattern] = rows.map(np.minimum(light, np.float32(1.0)), pattern.width, height, pattern.at)
    return rows.prints[pattern]


def _sheet(sheet: Sheeting) -> Row:
    return {
        "surface": SurfaceKind.SHEET,
        **_bands("", sheet.reflectance),
        **_bands("straight_", sheet.straight),
        **_bands("through_", sheet.diffuse),
        "n": sheet.n,
        "spread": diffuse_to_normal(sheet.n),
    }


@cache
def diffuse_to_normal(n: float) -> float:
    """Return what a clear plate of index n passes of diffuse light over what it passes along its normal, 2∫T·µ dµ/T(0).

    T = ½·Σ (1 − r)/(1 + r) over both polarisations, r the Fresnel reflectance of one face (Stokes 1862, "On the
    intensity of the light reflected from or transmitted through a pile of plates", Proc. R. Soc. 11); 1 for n = 1.
    """
    if n <= 1.0:
        return 1.0
    x, weight = np.polynomial.legendre.leggauss(64)
    # In s = √µ, since T rises steeply from grazing: µ dµ = 2s³ ds.
    s = (x + 1.0) / 2.0
    cosine = s * s
    bent = np.sqrt((n - 1.0) * (n + 1.0) + cosine * cosine)  # n times the cosine of refraction
    across = ((cosine - bent) / (cosine + bent)) ** 2
    along = ((n * n * cosine - bent) / (n * n * cosine + bent)) ** 2
    passed = ((1.0 - across) / (1.0 + across) + (1.0 - along) / (1.0 + along)) / 2.0
    return float(np.sum(weight * 2.0 * s**3 * passed)) * (n * n + 1.0) / (2.0 * n)
