"""A thin sheet."""

from __future__ import annotations

from throughlight.optics.kernel import kernel


@kernel
def straight(part, cosine):
    """Return the share of light that passes straight on, by band."""
    return (part["straight_red"], part["straight_green"], part["straight_blue"])
