"""Points spread evenly over a space of several dimensions, however many are asked for: a scrambled Halton sequence.

The i-th number of a dimension is i written in a prime base with its digits mirrored at the point (Halton 1960, "On the
efficiency of certain quasi-random sequences of points", Numer. Math. 2; from memory), each digit first exchanged for
another by a permutation of its own (Owen 2017, "A randomized Halton algorithm in R", arXiv:1706.02808; from memory),
which takes away the stripes that large bases make. The permutations are drawn by a hash, the same ones on any machine.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PRIMES = (
    2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89, 97, 101, 103, 107, 109,
    113,
)  # fmt: skip
"""The base of each dimension."""

_FINEST = 1e-12
_WORD = (1 << 64) - 1


def _mix(z: int) -> int:
    """Return a hash of 64 bits (the finaliser of Steele, Lea and Flood 2014 in Stafford's variant 13; from memory)."""
    z = (z + 0x9E3779B97F4A7C15) & _WORD
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & _WORD
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _WORD
    return z ^ (z >> 31)


def _permutation(base: int, place: int) -> NDArray[np.int64]:
    """Return the digits in the order of their hashes."""
    return np.array(sorted(range(base), key=lambda digit: _mix(_mix(_mix(base) ^ place) ^ digit)), np.int64)


def even_points(first: int, count: int, dimensions: int) -> NDArray[np.float64]:
    """Return points of the sequence.

    Parameters
    ----------
    first
        Number of the first point, from 0.
    count
        How many.
    dimensions
        Up to `len(PRIMES)`.

    Returns
    -------
    ndarray
        (count, dimensions) from 0 to 1, 1 excluded.
    """
    points = np.zeros((count, dimensions))
    for dimension, base in enumerate(PRIMES[:dimensions]):
        left = np.arange(first, first + count)
        size, place = 1.0 / base, 0
        while size > _FINEST:  # zeros have digits too: they are exchanged like others
            points[:, dimension] += size * _permutation(base, place)[left % base]
            left //= base
            size /= base
            place += 1
    return np.minimum(points, np.nextafter(1.0, 0.0))
