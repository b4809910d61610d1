"""Rough faces in the slab solver: what facets reflect by the published formula, energy, reciprocity, the smooth end."""

from __future__ import annotations

import math

import numpy as np
import pytest

from throughlight.swatch.adding_doubling import layer_of, slab, slab_and_glow
from throughlight.swatch.boundary import reflectance
from throughlight.swatch.nodes import nodes_for
from throughlight.swatch.rough import rough_response

NODES = nodes_for([1.5], 24)


def reflected(roughness, cosine, n=1.5, steps=400):
    """Return what facets reflect once: ∫ F·D·G₁G₁·(i·m)/(i·z) dω_m (Walter et al. 2007, eq. 20 and 33 to 35)."""
    tilt, turn = np.meshgrid(
        (np.arange(steps) + 0.5) / steps * math.pi / 2, (np.arange(steps) + 0.5) / steps * math.tau
    )
    z = np.cos(tilt)
    c = math.sqrt(1.0 - cosine**2) * np.sin(tilt) * np.cos(turn) + cosine * z
    d = roughness**2 / (math.pi * z**4 * (roughness**2 + np.tan(tilt) ** 2) ** 2)
    out = 2.0 * c * z - cosine

    def g1(mu):
        return 2.0 / (1.0 + np.sqrt(1.0 + roughness**2 * (1.0 / np.maximum(mu, 1e-9) ** 2 - 1.0)))

    beyond = np.sqrt(n**2 - 1.0 + c**2)
    a, b = (c - beyond) / (c + beyond), (n**2 * c - beyond) / (n**2 * c + beyond)
    value = 0.5 * (a**2 + b**2) * d * g1(cosine) * g1(out) * c / cosine * np.sin(tilt)
    return float(np.where((c > 0.0) & (out > 0.0), value, 0.0).mean() * math.pi / 2 * math.tau)


@pytest.mark.parametrize("roughness", [0.1, 0.3])
@pytest.mark.parametrize("seat", [2, 6, 11])
def test_facets_reflect_what_the_formula_says(roughness, seat):
    from throughlight.swatch.rough import _spread

    s = float(NODES.s[seat])
    found, onward = _spread(s, NODES.s, 1.0, 1.5, roughness)
    assert found.sum() == pytest.approx(reflected(roughness, math.sqrt(1.0 - s * s)), rel=0.03)
    assert 0.85 < found.sum() + onward.sum() <= 1.0  # a second facet is met by the rest


@pytest.mark.parametrize("roughness", [0.05, 0.3])
def test_nothing_is_lost_and_light_may_go_back_its_way(roughness):
    whole = rough_response(NODES.s, NODES.share, 1.0, 1.5, roughness)
    c, k = np.sqrt(NODES.share), NODES.in_air
    assert (c @ whole.above + c @ whole.through)[:k] == pytest.approx(c[:k], rel=1e-5)
    assert c @ whole.below + c @ whole.back == pytest.approx(c, rel=1e-5)
    assert whole.above == pytest.approx(whole.above.T, abs=1e-9)
    assert whole.through == pytest.approx(whole.back.T, abs=1e-9)


def test_a_face_that_is_hardly_rough_is_smooth():
    # The even hemisphere: Fresnel's own sum over the same directions; the net's 24 × 24 facets are good to 1 %.
    whole = rough_response(NODES.s, NODES.share, 1.0, 1.5, 0.002)
    c, k, share = np.sqrt(NODES.share), NODES.in_air, NODES.share
    found = ((c @ whole.above / c)[:k] * share[:k]).sum() / share[:k].sum()
    expected = (reflectance(NODES.s[:k], 1.0, 1.5) * share[:k]).sum() / share[:k].sum()
    assert found == pytest.approx(expected, rel=0.01)


def test_rough_faces_keep_the_light_of_lossless_matter():
    flux = slab([layer_of(np.array([100.0, 3000.0]), 0.0, 0.0, 1.5, 4e-3)], roughness=0.3)
    assert flux.R_coll + flux.T_coll == pytest.approx(1.0, abs=1e-4)
    assert flux.R_diff + flux.T_diff == pytest.approx(1.0, abs=1e-4)


def test_rough_faces_glow_beside_the_mirrored_light():
    """Black matter, lit straight on and seen from 45°, shows its facets alone: π·F·D·G/(4·cos 45°), Walter et al. 2007.

    The net and 48 directions are good for 10 %.
    """
    roughness, z, out = 0.3, math.cos(math.pi / 8), math.cos(math.pi / 4)
    d = roughness**2 / (math.pi * z**4 * (roughness**2 + math.tan(math.pi / 8) ** 2) ** 2)
    g = 2.0 / (1.0 + math.sqrt(1.0 + roughness**2 * (1.0 / out**2 - 1.0)))
    beyond = math.sqrt(1.5**2 - 1.0 + z * z)
    fresnel = 0.5 * (((z - beyond) / (z + beyond)) ** 2 + ((2.25 * z - beyond) / (2.25 * z + beyond)) ** 2)
    _, glow = slab_and_glow([layer_of(1e-3, 1e5, 0.0, 1.5, 1.0)], out, 48, roughness)
    assert float(glow) == pytest.approx(math.pi * fresnel * d * g / (4.0 * out), rel=0.1)
