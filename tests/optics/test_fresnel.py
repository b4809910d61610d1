from __future__ import annotations

import math

import numpy as np
import pytest

from quadrature import panels
from throughlight.optics import fresnel

# Unpolarised reflectance from air by the angle of incidence in degrees; closed form in double precision.
ANGLES = (0, 30, 45, 60, 70, 75, 80, 85)
BY_ANGLE = {
    1.33: (0.020059, 0.021112, 0.027521, 0.059126, 0.132657, 0.211427, 0.346916, 0.582728),
    1.40: (0.027778, 0.029051, 0.036579, 0.071977, 0.150265, 0.231283, 0.367173, 0.598322),
    1.50: (0.040000, 0.041523, 0.050240, 0.089187, 0.171043, 0.253061, 0.387704, 0.612800),
    1.52: (0.042580, 0.044144, 0.053045, 0.092483, 0.174712, 0.256715, 0.390950, 0.614923),
    1.70: (0.067215, 0.069023, 0.078918, 0.120335, 0.202545, 0.282461, 0.411715, 0.626698),
}

# Brewster's and the critical angle in degrees, and the reflectance for diffuse light from outside and from inside;
# closed forms. For n = 1.5 the latter are .092 and .596 in Judd 1942, "Fresnel Reflection of Diffusely Incident Light"
# (from memory).
ANGLES_AND_DIFFUSE = {
    1.33: (53.0612, 48.7535, 0.065931, 0.471949),
    1.40: (54.4623, 45.5847, 0.076812, 0.528985),
    1.50: (56.3099, 41.8103, 0.091778, 0.596346),
    1.52: (56.6593, 41.1395, 0.094707, 0.608166),
    1.70: (59.5345, 36.0319, 0.120320, 0.695612),
}

# Transmittance of a clear plate at 0, 30, 45, 60, 75, 80° and for diffuse light: ½ Σ (1 − R)/(1 + R) over the two
# polarisations (incoherent series, Stokes 1862).
PLATE_ANGLES = (0, 30, 45, 60, 75, 80)
PLATES = {
    1.33: ((0.960670, 0.958813, 0.947565, 0.893414, 0.662447, 0.494531), 0.891534),
    1.50: ((0.923077, 0.920734, 0.907344, 0.848128, 0.618149, 0.458473), 0.850938),
    1.52: ((0.918318, 0.915957, 0.902528, 0.843471, 0.614805, 0.456043), 0.846423),
    1.70: ((0.874036, 0.871792, 0.859403, 0.806003, 0.594701, 0.443544), 0.807693),
}  # fmt: skip

LAST_DIGIT = 6e-7  # half a unit of the sixth decimal, and rounding


def cosine(degrees):
    return math.cos(math.radians(degrees))


def diffuse(reflectance, split=0.0):
    """Integrate 2∫R(μ)·μ dμ in two pieces, nodes crowded toward their ends, where R has a root."""
    s, w = panels(0.0, 1.0, 12)
    total = 0.0
    for low, high in ((0.0, split), (split, 1.0)):
        mu = low + (high - low) * s * s * (3.0 - 2.0 * s)
        step = (high - low) * 6.0 * s * (1.0 - s) * w
        total += float(np.sum([2.0 * reflectance(m) * m for m in mu] * step))
    return total


@pytest.mark.parametrize("n", BY_ANGLE)
def test_reflectance_by_angle(n):
    for degrees, expected in zip(ANGLES, BY_ANGLE[n], strict=True):
        assert fresnel.dielectric(cosine(degrees), 1.0, n) == pytest.approx(expected, abs=LAST_DIGIT)


@pytest.mark.parametrize("n", ANGLES_AND_DIFFUSE)
def test_brewster_and_critical_angle(n):
    brewster, critical, _, _ = ANGLES_AND_DIFFUSE[n]
    assert fresnel.polarised(cosine(brewster), 1.0, n)[1] < 1e-11
    assert fresnel.dielectric(cosine(critical - 0.0002), n, 1.0) < 1.0
    assert fresnel.dielectric(cosine(critical + 0.0002), n, 1.0) == 1.0


@pytest.mark.parametrize("n", ANGLES_AND_DIFFUSE)
def test_diffuse_reflectance_from_both_sides(n):
    _, _, outside, inside = ANGLES_AND_DIFFUSE[n]
    external = diffuse(lambda mu: fresnel.dielectric(mu, 1.0, n))
    internal = diffuse(lambda mu: fresnel.dielectric(mu, n, 1.0), math.sqrt(1.0 - 1.0 / n**2))
    assert external == pytest.approx(outside, abs=LAST_DIGIT)
    assert internal == pytest.approx(inside, abs=LAST_DIGIT)
    # Étendue is conserved (n² law; Judd 1942), so the two are bound to each other.
    assert 1.0 - internal == pytest.approx((1.0 - external) / n**2, rel=1e-9)


@pytest.mark.parametrize(
    ("n", "degrees", "s", "p"),
    [
        (1.5, 45, 0.092013, 0.008466),
        (1.5, 60, 0.176571, 0.001802),
        (1.5, 75, 0.399356, 0.106765),
        (1.33, 60, 0.113898, 0.004353),
    ],
)
def test_polarised_reflectance(n, degrees, s, p):
    assert fresnel.polarised(cosine(degrees), 1.0, n) == pytest.approx((s, p), abs=LAST_DIGIT)


def plate(mu, n):
    return sum((1.0 - r) / (1.0 + r) for r in fresnel.polarised(mu, 1.0, n)) / 2.0


@pytest.mark.parametrize("n", PLATES)
def test_clear_plate(n):
    by_angle, hemisphere = PLATES[n]
    for degrees, expected in zip(PLATE_ANGLES, by_angle, strict=True):
        assert plate(cosine(degrees), n) == pytest.approx(expected, abs=LAST_DIGIT)
    assert plate(1.0, n) == pytest.approx(2.0 * n / (n * n + 1.0), rel=1e-12)
    assert diffuse(lambda mu: plate(mu, n)) == pytest.approx(hemisphere, abs=LAST_DIGIT)


def test_textbook_quotients_and_both_directions():
    """Born and Wolf 1999, §1.5.2, eq. 21a: sine and tangent quotients; the same from the other side (Stokes 1849)."""
    for n in (1.05, 1.33, 2.4):
        for a in np.linspace(0.01, 1.56, 60):
            b = math.asin(math.sin(a) / n)
            s = (math.sin(a - b) / math.sin(a + b)) ** 2
            p = (math.tan(a - b) / math.tan(a + b)) ** 2
            assert fresnel.polarised(math.cos(a), 1.0, n) == pytest.approx((s, p), rel=1e-9, abs=1e-12)
            assert fresnel.polarised(math.cos(b), n, 1.0) == pytest.approx((s, p), rel=1e-6, abs=1e-9)


def test_grazing_and_matched_limits():
    # R ≈ 1 − 2μ(1 + n²)/√(n² − 1) near grazing: first order of both quotients.
    n, mu = 1.5, 1e-9
    fall = 2.0 * mu * (1.0 + n * n) / math.sqrt(n * n - 1.0)
    assert 1.0 - fresnel.dielectric(mu, 1.0, n) == pytest.approx(fall, rel=1e-6)
    assert fresnel.dielectric(0.0, 1.0, n) == pytest.approx(1.0, abs=1e-15)
    assert fresnel.dielectric(0.0, n, 1.0) == 1.0
    assert fresnel.dielectric(0.3, 1.4, 1.4) == 0.0
    # Nearly matched, normal incidence: (Δn/2n)² to the last digits, where a plain difference has none left.
    step = 2.0**-30
    assert fresnel.dielectric(1.0, 1.0, 1.0 + step) == pytest.approx((step / (2.0 + step)) ** 2, rel=1e-14)


def test_refraction_obeys_snell():
    rng = np.random.default_rng(1)
    for _ in range(200):
        w, m = rng.normal(size=(2, 3))
        w, m = w / np.linalg.norm(w), m / np.linalg.norm(m)
        m = m if w @ m > 0 else -m
        for eta in (1 / 1.4, 1.4, 1.0):
            passed, wt = fresnel.refract(tuple(w), tuple(m), eta)
            sine = eta * np.linalg.norm(np.cross(w, m))
            assert passed == (sine <= 1.0)
            if passed:
                wt = np.array(wt)
                assert np.linalg.norm(wt) == pytest.approx(1.0, abs=1e-12)
                assert np.linalg.norm(np.cross(wt, m)) == pytest.approx(sine, abs=1e-12)
                assert wt @ m < 0
                # In the plane of incidence, on the far side of the normal.
                assert np.cross(w, m) @ np.cross(wt, m) <= 1e-12
                assert abs(wt @ np.cross(w, m)) < 1e-12


def test_no_refraction_from_behind():
    assert not fresnel.refract((0.0, 0.0, -1.0), (0.0, 0.0, 1.0), 0.7)[0]
