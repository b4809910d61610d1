"""Colour profiles of the plainest kind: a curve for each band and three primaries, to linear BT.709.

ICC.1:2022 keeps a table of tags after a header of 128 bytes (7.3). A "matrix/TRC" profile (8.3.3) says what linear
light of each band looks like (rXYZ, gXYZ, bXYZ, relative to D50) and how code values stand for it (rTRC, gTRC, bTRC: a
"curv" is a power or a table, a "para" one of five formulas, 10.6 and 10.18):

    linear BT.709 = M⁻¹ · (rXYZ gXYZ bXYZ) · TRC(code),

M being sRGB's own primaries, adapted to D50 (IEC 61966-2-1, Bradford adaptation as in ICC.1 annex E).
"""

from __future__ import annotations

import struct
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Columns: what sRGB's red, green and blue are in XYZ relative to D50.
_SRGB_D50 = np.array(
    [[0.4360747, 0.3850649, 0.1430804], [0.2225045, 0.7168786, 0.0606169], [0.0139322, 0.0971045, 0.7141733]]
)
_LINEAR = 0.01  # a curve that leaves the straight line by less is called linear


class Profile(NamedTuple):
    """curves: linear light of 4096 code values from 0 to 1, (3, 4096). matrix: (3, 3), to linear BT.709."""

    curves: Floats
    matrix: Floats

    @property
    def linear(self) -> bool:
        """Return whether code values are proportional to light."""
        straight = np.linspace(0.0, 1.0, self.curves.shape[1])
        return bool(np.abs(self.curves - straight).max() < _LINEAR)


def parse(profile: bytes) -> Profile | None:
    """Return a profile's curves and primaries; None when it is of another kind, or broken."""
    try:
        tags = _tags(profile)
        curves = np.stack([_curve(tags[name]) for name in (b"rTRC", b"gTRC", b"bTRC")])
        primaries = np.stack([_xyz(tags[name]) for name in (b"rXYZ", b"gXYZ", b"bXYZ")], axis=1)
        matrix = np.linalg.solve(_SRGB_D50, primaries)
    except (KeyError, struct.error, ValueError, IndexError, np.linalg.LinAlgError):
        return None
    whole = np.isfinite(curves).all() and np.isfinite(matrix).all()
    return Profile(curves, matrix) if whole else None


def _tags(profile: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">I", profile, 128)
    if count > 200:
        raise ValueError("too many tags")
    rows = (struct.unpack_from(">4sII", profile, 132 + 12 * at) for at in range(count))
    return {name: profile[start : start + size] for name, start, size in rows}


def _fixed(data: bytes, start: int, count: int) -> Floats:
    """Return numbers of 16 bits before and 16 after the point."""
    return np.array(struct.unpack_from(f">{count}i", data, start), np.float64) / 65536.0


def _xyz(data: bytes) -> Floats:
    if data[:4] != b"XYZ ":
        raise ValueError("no primary")
    return _fixed(data, 8, 3)


def _curve(data: bytes) -> Floats:
    """Return the light of code values from 0 to 1."""
    code = np.linspace(0.0, 1.0, 4096)
    if data[:4] == b"curv":
        (count,) = struct.unpack_from(">I", data, 8)
        if count == 0:
            return code
        values = np.array(struct.unpack_from(f">{count}H", data, 12), np.float64)
        if count == 1:
            return np.asarray(code ** (values[0] / 256.0))
        return np.interp(code, np.linspace(0.0, 1.0, count), values / 65535.0)
    if data[:4] != b"para":
        raise ValueError("no curve")
    (form,) = struct.unpack_from(">H", data, 8)
    g, a, b, c, d, e, f = [*_fixed(data, 12, (1, 3, 4, 5, 7)[form]), *[0.0] * 6][:7]
    if form == 0:
        return np.asarray(code**g)
    power = np.maximum(a * code + b, 0.0) ** g
    if form in (1, 2):
        return np.asarray(np.where(code >= -b / a, power + c, c))
    return np.asarray(np.where(code >= d, power + e, c * code + f))
