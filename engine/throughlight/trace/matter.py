"""What the record of a medium says in three bands, and the mixture of bands that flights are drawn from."""

from __future__ import annotations

from throughlight.optics.kernel import inlined


@inlined
def extinction(stuff):
    """Return the extinction coefficient of a medium by band, 1/m."""
    return (
        stuff["scatter_red"] + stuff["absorb_red"],
        stuff["scatter_green"] + stuff["absorb_green"],
        stuff["scatter_blue"] + stuff["absorb_blue"],
    )


@inlined
def scattering(stuff):
    """Return the scattering coefficient of a medium by band, 1/m."""
    return (stuff["scatter_red"], stuff["scatter_green"], stuff["scatter_blue"])


@inlined
def choice_of(beta):
    """Return the share of each band in the throughput: the mixture that flights are drawn from."""
    total = beta[0] + beta[1] + beta[2]
    if total <= 0.0:
        return (1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0)
    whole = 1.0 / total
    return (beta[0] * whole, beta[1] * whole, beta[2] * whole)
