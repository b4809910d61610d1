"""Points of the unit circle and of the unit disc for uniform numbers: cos 2πu and sin 2πu without a range reduction.

The nearest quarter turn q is taken off and the rest r, at most an eighth of a turn, goes into the Taylor series of sine
and cosine in powers of (π/2)r; the first omitted terms are under 5e-17. Half the time of two library calls, and every
scattered direction needs one.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import kernel

_QUARTER = 0.5 * math.pi
_S1, _S3, _S5, _S7, _S9, _S11, _S13, _S15 = (
    (-1.0) ** (k // 2) * _QUARTER**k / math.factorial(k) for k in range(1, 16, 2)
)
_C2, _C4, _C6, _C8, _C10, _C12, _C14, _C16 = (
    (-1.0) ** (k // 2) * _QUARTER**k / math.factorial(k) for k in range(2, 17, 2)
)


@kernel
def turn(u):
    """Return (cos 2πu, sin 2πu) for any u; both within 4e-16 for u in [−1, 1]."""
    quarters = math.floor(4.0 * u + 0.5)
    r = 4.0 * u - quarters
    z = r * r
    z2 = z * z
    z4 = z2 * z2
    s = r * ((_S1 + _S3 * z) + (_S5 + _S7 * z) * z2 + ((_S9 + _S11 * z) + (_S13 + _S15 * z) * z2) * z4)
    c = 1.0 + z * ((_C2 + _C4 * z) + (_C6 + _C8 * z) * z2 + ((_C10 + _C12 * z) + (_C14 + _C16 * z) * z2) * z4)
    q = np.int64(quarters)
    x = s if q & 1 else c
    y = c if q & 1 else s
    return (-x if (q + 1) & 2 else x), (-y if q & 2 else y)


@kernel
def disc(u1, u2):
    """Return a point (x, y) spread evenly over the unit disc.

    Squares become rings, so that points that are even over the square stay even over the disc, with little shear.

    Source: Shirley and Chiu 1997, "A Low Distortion Map Between Disk and Square", J. Graphics Tools 2(3).
    """
    a = 2.0 * u1 - 1.0
    b = 2.0 * u2 - 1.0
    if a == 0.0 and b == 0.0:
        return 0.0, 0.0
    if abs(a) > abs(b):
        # The negative half of the square needs no case of its own: a negative radius points the other way.
        x, y = turn(0.125 * (b / a))
        return a * x, a * y
    x, y = turn(0.25 - 0.125 * (a / b))
    return b * x, b * y
