"""The boundary of a clear or translucent body: Fresnel reflection and refraction, polished or rough.

Local frames: the normal is +z on the incident side (index n_i; n_t beyond), all directions point away from the
boundary. A roughness α of 0 is polished: its directions are determined, told by a density of 0. A rough boundary with
facets m of density D, masking G₁ and Fresnel reflectance F gives

    reflect: F·G·D / (4·cos i),    refract: (1 − F)·G·D·|i·m| / cos i · dω_m/dω_o

per solid angle of the outgoing direction, its cosine included. This counts energy: all outgoing directions together
give what the facets pass on, at most 1. Radiance grows by (n_t/n_i)² on entry and loses it on leaving; whoever follows
a path that enters and leaves a body may forget the factor. Where the indices match, light passes straight on.

Light that meets a second facet is lost so. That is little from outside but not from inside: for n = 1.4 and diffuse
light within, about 3 % a meeting at α = 0.1, 18 % at 0.3, 31 % at 0.5. A *skin*, a table of that loss, gives it back:

    reflect or refract: n_o²·l_i(μ_i)·l_o(μ_o)·μ_o / (π·Σ n²·L),    L = 2∫l·μ dμ, the sum over both sides

so that all directions of both sides together give exactly what comes. `optics.losses` has the layout; a skin of 0 is
none.

Sources: Walter et al. 2007, "Microfacet Models for Refraction through Rough Surfaces", eqs. 13–21; for the skin Kelemen
and Szirmay-Kalos 2001 and Kulla and Conty 2017, carried over to two sides with their étendue.

The second half of the file is for aiming: directions in world space that refract toward a given place.
"""

from __future__ import annotations

import math

from throughlight.optics import fresnel
from throughlight.optics.kernel import kernel
from throughlight.optics.losses import SKIN_HEAD, given_back, lookup
from throughlight.optics.matte import sample as sample_matte
from throughlight.optics.microfacet import masking, pdf_visible, sample_visible, visible_density
from throughlight.optics.vectors import basis, dot, negate, normalise, to_local, to_world

_MATCHED = 1e-6
"""Indices whose ratio is nearer to 1 match: rough facets would bend light by less than a thousandth of a degree."""


@kernel
def matched(n_i, n_t):
    """Return whether the indices are so alike that a rough boundary does nothing."""
    return abs(n_i - n_t) <= _MATCHED * n_t


@kernel
def facet_for_refraction(d_out, d_in, n_out, n_in):
    """Return (whether there is one, normal m of the facet that refracts d_out into d_in).

    Parameters
    ----------
    d_out, d_in
        Unit vectors away from the boundary, on either side; m lies on d_out's side.
    n_out, n_in
        The indices where they run.

    Source: Walter et al. 2007, eq. 16.
    """
    h = (
        n_out * d_out[0] + n_in * d_in[0],
        n_out * d_out[1] + n_in * d_in[1],
        n_out * d_out[2] + n_in * d_in[2],
    )
    squared = dot(h, h)
    if squared <= 0.0 or matched(n_out, n_in):
        return False, h
    s = 1.0 / math.sqrt(squared)
    if n_in > n_out:
        s = -s
    m = (h[0] * s, h[1] * s, h[2] * s)
    return dot(m, d_out) > 0.0 and dot(m, d_in) < 0.0, m


@kernel
def refraction_jacobian(cos_i, cos_o, n_i, n_o):
    """Return dω_m/dω_o for a ray refracted at m into the direction o (Walter et al. 2007, eq. 17).

    Parameters
    ----------
    cos_i, cos_o
        |i·m| and |o·m|.
    n_i, n_o
        The indices where i and o run.
    """
    d = n_i * cos_i - n_o * cos_o
    return n_o * n_o * cos_o / (d * d)


@kernel
def _sample_polished(wi, n_i, n_t, u):
    """Return the mirrored or the refracted direction, as `sample` does."""
    if u < fresnel.dielectric(wi[2], n_i, n_t):
        return (-wi[0], -wi[1], wi[2]), 1.0, 0.0, False
    passed, wo = fresnel.refract(wi, (0.0, 0.0, 1.0), n_i / n_t)
    return wo, 1.0 if passed else 0.0, 0.0, True


@kernel
def sample(wi, n_i, n_t, alpha, curves, skin, u0, u1, u2):
    """Return (direction, weight f·|cos|/density, density, whether transmitted) for light that comes from wi.

    Parameters
    ----------
    wi
        Unit vector above the boundary, wi.z > 0.
    n_i, n_t
        Index on wi's side and on the other.
    alpha
        GGX roughness; 0 is polished.
    curves, skin
        All tables, and the place where that of this pair of indices begins; 0: none.
    u0, u1, u2
        Uniform numbers: reflect or refract, and the facet.

    A weight of 0 rejects the direction; a density of 0 says that it was determined.
    """
    if wi[2] <= 0.0:
        return wi, 0.0, 0.0, False
    if alpha <= 0.0:
        return _sample_polished(wi, n_i, n_t, u0)
    if matched(n_i, n_t):
        return negate(wi), 1.0, 0.0, True
    if skin > 0:
        return _sample_kept(wi, n_i, n_t, alpha, curves, skin, u0, u1, u2)
    return _sample_once(wi, n_i, n_t, alpha, u0, u1, u2)


@kernel
def _sample_once(wi, n_i, n_t, alpha, u0, u1, u2):
    """Return what `sample` does for a rough boundary, scattering at one facet."""
    m = sample_visible(wi, alpha, u1, u2)
    c = dot(wi, m)
    if c <= 0.0:
        return wi, 0.0, 0.0, False
    reflected = fresnel.dielectric(c, n_i, n_t)
    if u0 < reflected:
        wo = (2.0 * c * m[0] - wi[0], 2.0 * c * m[1] - wi[1], 2.0 * c * m[2] - wi[2])
        if wo[2] <= 0.0:
            return wo, 0.0, 0.0, False
        return wo, masking(wo, alpha), reflected * pdf_visible(wi, m, alpha) / (4.0 * c), False
    passed, wo = fresnel.refract(wi, m, n_i / n_t)
    if not passed or wo[2] >= 0.0:
        return wo, 0.0, 0.0, True
    density = pdf_visible(wi, m, alpha) * refraction_jacobian(c, -dot(wo, m), n_i, n_t)
    return wo, masking(wo, alpha), (1.0 - reflected) * density, True


@kernel
def _sample_kept(wi, n_i, n_t, alpha, curves, skin, u0, u1, u2):
    """Return what `sample` does for a rough boundary with a skin: one facet, or with the chance l(μ_i) the lobe."""
    chance = lookup(curves, skin + SKIN_HEAD, wi[2])
    if u0 >= chance:
        wo, weight, density, through = _sample_once(wi, n_i, n_t, alpha, (u0 - chance) / (1.0 - chance), u1, u2)
        if weight <= 0.0:
            return wo, 0.0, 0.0, through
        once = density * weight
    else:
        wo = sample_matte(wi, u1, u2)
        through = u0 >= chance * curves[skin + 2]
        if through:
            wo = (wo[0], wo[1], -wo[2])
        if wo[2] == 0.0:
            return wo, 0.0, 0.0, through
        density = _pdf_once(wi, wo, n_i, n_t, alpha)
        once = density * masking(wo, alpha)
    more, by_lobe, _ = given_back(curves, skin, wi[2], wo[2])
    whole = (1.0 - chance) * density + by_lobe
    return wo, (once + more) / whole, whole, through


@kernel
def _pdf_once(wi, wo, n_i, n_t, alpha):
    """Return the density of `_sample_once` in wo, 1/sr; the boundary is rough and not matched."""
    if wo[2] > 0.0:
        m = normalise((wi[0] + wo[0], wi[1] + wo[1], wi[2] + wo[2]))
        c = dot(wi, m)
        if c <= 0.0:
            return 0.0
        return fresnel.dielectric(c, n_i, n_t) * pdf_visible(wi, m, alpha) / (4.0 * c)
    passed, m = facet_for_refraction(wi, wo, n_i, n_t)
    if not passed or m[2] <= 0.0:
        return 0.0
    c = dot(wi, m)
    through = 1.0 - fresnel.dielectric(c, n_i, n_t)
    return through * pdf_visible(wi, m, alpha) * refraction_jacobian(c, -dot(wo, m), n_i, n_t)


@kernel
def evaluate_with_pdf(wi, wo, n_i, n_t, alpha, curves, skin):
    """Return (f·|cos wo|, density of `sample` in wo), both 1/sr; zeros when polished.

    Visible facets are sampled, so without a skin the two differ by G₁(wo) alone. Source: Heitz 2018, section 3.
    """
    if alpha <= 0.0 or wi[2] <= 0.0 or wo[2] == 0.0 or matched(n_i, n_t):
        return 0.0, 0.0
    density = _pdf_once(wi, wo, n_i, n_t, alpha)
    value = density * masking(wo, alpha)
    if skin <= 0:
        return value, density
    more, by_lobe, chance = given_back(curves, skin, wi[2], wo[2])
    return value + more, (1.0 - chance) * density + by_lobe


@kernel
def evaluate(wi, wo, n_i, n_t, alpha, curves, skin):
    """Return f·|cos wo|, 1/sr; 0 when polished."""
    value, _ = evaluate_with_pdf(wi, wo, n_i, n_t, alpha, curves, skin)
    return value


@kernel
def pdf(wi, wo, n_i, n_t, alpha, curves, skin):
    """Return the density of `sample` in wo, 1/sr, the choice to reflect or refract included; 0 when polished."""
    _, density = evaluate_with_pdf(wi, wo, n_i, n_t, alpha, curves, skin)
    return density


@kernel
def refract_through(d, n, n_out, n_in):
    """Return (whether it enters, w, cosine outside, cosine inside) for light from d refracted at a facet of normal n.

    d points from the boundary toward the light, n to its side (d·n > 0); the light travels along −w inside, so w points
    from a place inside toward the boundary.
    """
    passed, onward = fresnel.refract(d, n, n_out / n_in)
    w = negate(onward)
    return passed, w, dot(d, n), dot(w, n)


@kernel
def refract_out(w, n, n_in, n_out):
    """Return (whether it leaves, d): the inverse of `refract_through`."""
    return fresnel.refract(negate(w), negate(n), n_in / n_out)


@kernel
def aim_jacobian_smooth(cos_out, cos_in, n_out, n_in):
    """Return dω_out/dω_in of `refract_through` and `refract_out`, from the derivative of Snell's law."""
    return (n_in / n_out) * (n_in / n_out) * cos_in / cos_out


@kernel
def aim(d, n0, alpha, n_in, n_out, u1, u2):
    """Return (whether it enters, w): light from d refracted through a facet visible from it, or through n₀ if α is 0.

    All in world space; w as in `refract_through`, n₀ the macroscopic normal on d's side.
    """
    if dot(d, n0) <= 0.0:
        return False, d
    m = n0
    if alpha > 0.0:
        t, b = basis(n0)
        m = to_world(t, b, n0, sample_visible(to_local(t, b, n0, d), alpha, u1, u2))
    passed, w, _, _ = refract_through(d, m, n_out, n_in)
    return passed, w


@kernel
def aim_density(w, d, n0, alpha, n_in, n_out):
    """Return the density with which `aim` gives w for the light from d, 1/sr; 0 when polished or matched."""
    passed, m = facet_for_refraction(d, negate(w), n_out, n_in)
    if not passed or alpha <= 0.0:
        return 0.0
    c = dot(d, m)
    return visible_density(dot(d, n0), dot(m, n0), c, alpha) * refraction_jacobian(c, dot(w, m), n_out, n_in)
