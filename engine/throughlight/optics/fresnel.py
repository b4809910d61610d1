"""Fresnel reflectance of a smooth boundary between two clear media or of a metal, and the refracted direction.

With g = n_t·cos θ_t the reflectances for light polarised across (s) and along (p) the plane of incidence are

    R_s = ((n_t² − n_i²) / (n_i·cos θ_i + g)²)²,    R_p = R_s · (cos(θ_i + θ_t) / cos(θ_i − θ_t))²

which is the usual pair of quotients without the difference n_i·cos θ_i − g, so that neither grazing angles nor nearly
matched indices lose digits. Source: Born and Wolf 1999, Principles of Optics, §1.5.2, eqs. 20–21a.
"""

from __future__ import annotations

import math

from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import dot


@kernel
def polarised(cos_i, n_i, n_t):
    """Return (R_s, R_p) for light in the medium n_i that meets n_t at the cosine cos_i ≥ 0; (1, 1) when total."""
    step = (n_t - n_i) * (n_t + n_i)
    if step == 0.0:
        return 0.0, 0.0
    g2 = step + n_i * n_i * cos_i * cos_i
    if g2 <= 0.0:
        return 1.0, 1.0
    g = math.sqrt(g2)
    total = n_i * cos_i + g
    s = step / (total * total)
    along = cos_i * g
    across = n_i * (1.0 - cos_i * cos_i)
    p = s * (along - across) / (along + across)
    return s * s, p * p


@kernel
def dielectric(cos_i, n_i, n_t):
    """Return the reflectance for unpolarised light in the medium n_i that meets n_t at the cosine cos_i ≥ 0."""
    s, p = polarised(cos_i, n_i, n_t)
    return min(1.0, 0.5 * (s + p))


@kernel
def diffuse(n):
    """Return the reflectance for diffuse light from air, 2∫R·μ dμ, of a boundary of index n ≥ 1.

    From inside it is 1 − (1 − diffuse)/n² (étendue). Sources: Walsh 1926, Duntley 1942, as given by Judd 1942, "Fresnel
    Reflection of Diffusely Incident Light", and Egan and Hilgeman 1979, Optical Properties of Inhomogeneous Materials
    (formula from memory, checked against quadrature).
    """
    if n - 1.0 < 1e-4:  # where the terms cancel; the reflectance is under 1e-4 there
        return 0.0
    q = n * n
    return (
        0.5
        + (n - 1.0) * (3.0 * n + 1.0) / (6.0 * (n + 1.0) * (n + 1.0))
        + q * (q - 1.0) * (q - 1.0) / ((q + 1.0) * (q + 1.0) * (q + 1.0)) * math.log((n - 1.0) / (n + 1.0))
        - 2.0 * n * q * (q + 2.0 * n - 1.0) / ((q + 1.0) * (q * q - 1.0))
        + 8.0 * q * q * (q * q + 1.0) / ((q + 1.0) * (q * q - 1.0) * (q * q - 1.0)) * math.log(n)
    )


@kernel
def metal_polarised(cos_i, n, k):
    """Return (R_s, R_p) of a metal of complex index n + ik, met in air at the cosine cos_i ≥ 0.

    With (n + ik)² − sin² = (a + ib)² the reflectances are those of clear media with a complex cosine of refraction.
    Source: Born and Wolf 1999, §14.2.
    """
    sin2 = (1.0 - cos_i) * (1.0 + cos_i)
    real = n * n - k * k - sin2
    size = math.hypot(real, 2.0 * n * k)  # a² + b²
    a = n * k / math.sqrt(0.5 * (size - real)) if real < 0.0 else math.sqrt(0.5 * (size + real))
    even, odd = size + cos_i * cos_i, 2.0 * a * cos_i
    if even <= 0.0:  # no metal at all, at grazing incidence
        return 0.0, 0.0
    s = (even - odd) / (even + odd)
    even, odd = size * cos_i * cos_i + sin2 * sin2, odd * sin2
    return s, s * (even - odd) / (even + odd) if even > 0.0 else s


@kernel
def metal(cos_i, n, k):
    """Return the reflectance by band for unpolarised light of a metal whose n and k are given by band."""
    r_s, r_p = metal_polarised(cos_i, n[0], k[0])
    g_s, g_p = metal_polarised(cos_i, n[1], k[1])
    b_s, b_p = metal_polarised(cos_i, n[2], k[2])
    return (0.5 * (r_s + r_p), 0.5 * (g_s + g_p), 0.5 * (b_s + b_p))


@kernel
def refract(w, m, eta):
    """Return (whether it refracts, refracted direction) for a ray that comes from w to a boundary of normal m.

    Parameters
    ----------
    w, m
        Unit vectors; w points away from the boundary, on m's side.
    eta
        n_i/n_t: index on w's side over index on the other.

    Source: Walter et al. 2007, "Microfacet Models for Refraction through Rough Surfaces", eq. 40.
    """
    c = dot(w, m)
    k = (1.0 - eta) * (1.0 + eta) + eta * eta * c * c
    if k < 0.0 or c <= 0.0:
        return False, (0.0, 0.0, 0.0)
    s = eta * c - math.sqrt(k)
    return True, (s * m[0] - eta * w[0], s * m[1] - eta * w[1], s * m[2] - eta * w[2])
