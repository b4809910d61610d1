"""The pool of tabulated functions of a stage, in the making."""

from __future__ import annotations

import numpy as np

from throughlight.stage.frames import Array


class Curves:
    """Tabulated functions in the making, one after the other; equal ones stand only once."""

    def __init__(self) -> None:
        self._pieces = [np.zeros(1)]
        self._places: dict[bytes, int] = {}
        self._length = 1

    def add(self, curve: Array) -> int:
        """Add a curve and return its place; 0 for an empty one."""
        if not curve.size:
            return 0
        key = curve.tobytes()
        if key not in self._places:
            self._places[key] = self._length
            self._pieces.append(np.asarray(curve, np.float64))
            self._length += curve.size
        return self._places[key]

    def table(self) -> Array:
        """Return all curves as one array, whose place 0 is not used."""
        return np.concatenate(self._pieces)
