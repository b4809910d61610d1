"""A mirror: light leaves at the angle at which it came. Its density has no width, so `evaluate` and `pdf` are zero.

A head seen in a mirror is found only by rays that happen to go there, never asked for directly.
"""

from __future__ import annotations

from throughlight.optics.kernel import kernel


@kernel
def sample(wi):
    """Return the outgoing direction."""
    return (-wi[0], -wi[1], wi[2])
