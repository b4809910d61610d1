"""What the record of a medium says in three bands, and the mixture of bands that flights are drawn from."""

from __future__ import annotations

from throughlight.optics.kernel import kernel


@kernel
def extinction(stuff):
    """Return the extinction coefficient of a medium by band, 1/m."""
    return (
        stuff["scatter_red"] + stuff["absorb_red"],
        stuff["scatter_green"] + stuff["absorb_green"],
        stuff["scatter_blue"] + stuff["absorb_blue"],
    )


@kernel
def scattering(stuff):
    """Return the scattering coefficient of a medium by band, 1/m."""
    return (stuff["scatter_red"], stuff["scatter_green"], stuff["scatter_blue"])


@kernel
def choice_of(beta):
    """Return the share of each band in the throughput: the mixture that flights are drawn from."""
    total = beta[0] + beta[1] + beta[2]
    if total <= 0.0:
        return (1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0)
    return (beta[0] / total, beta[1] / total, beta[2] / total)
