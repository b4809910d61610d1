"""Bodies in one another: liquid in its glass, a core in its coat, and boundaries that are not there for the light.

A stack of clear plates passes light by Fresnel losses and absorption alone. Adding the boundaries one by one,

    T = T₁·(1 − r)/(1 − B₁·r),    R = R₁ + T₁²·r/(1 − B₁·r),    B = r + (1 − r)²·B₁/(1 − B₁·r),

with B what the stack so far sends back to light from behind (an incoherent stack: Born and Wolf, Principles of Optics,
sections 1.5 and 1.6, intensities in place of amplitudes), gives what a ray along the normal sees. Standard errors and
sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import expn
from slab_rows import row
from slab_stages import between_hemispheres, collimated, endless_slab, layers

from agreement import agrees, seen_luminance
from stages import Bench
from throughlight.stage.frames import facing
from throughlight.trace.expose import FILM
from throughlight.trace.tables import Region, ShapeKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
PENCIL = {"half_width": 1e-9, "half_height": 1e-9}


def clear_stack(indices, depths):
    """Return (R, T) along the normal of plates of these indices and optical depths, in air."""
    n = [1.0, *indices, 1.0]
    reflected, back, through = 0.0, 0.0, 1.0
    for i in range(len(n) - 1):
        r = ((n[i] - n[i + 1]) / (n[i] + n[i + 1])) ** 2
        inside = math.exp(-depths[i - 1]) if i > 0 else 1.0
        back *= inside * inside
        through *= inside
        gain = 1.0 / (1.0 - back * r)
        reflected, through, back = (
            reflected + through**2 * r * gain,
            through * (1.0 - r) * gain,
            r + (1.0 - r) ** 2 * back * gain,
        )
    return reflected, through


def between(bench):
    """Put an even hemisphere before (layer 0) and behind (layer 1) the endless thing, 1 m thick, at z = 0."""
    bench.head(ShapeKind.DISC, (0, 0, 0.52), (0, 0, 0), (100, 0, 0))
    bench.head(ShapeKind.DISC, (0, 0, -0.51), (0, 0, 0), (100, 0, 0))
    return bench.stage((0, 0, 0.51), (0, 0, 0), front=1e-6, **PENCIL)


def glass_before_liquid(overlap, absorb_liquid=4.0, absorb_glass=2.0):
    """Return a bench with 0.3 m of glass before 0.5 m of liquid; the liquid reaches into the glass by `overlap`."""
    bench = Bench()
    liquid, glass = bench.medium(0.0, absorb_liquid, 0.0, 1.33), bench.medium(0.0, absorb_glass, 0.0, 1.52)
    middle, half = -0.15 + overlap / 2, 0.25 + overlap / 2
    bench.body(ShapeKind.BOX, (0, 0, middle), FRONTAL, (1000, 1000, half), liquid, crowded=1)
    bench.body(ShapeKind.BOX, (0, 0, 0.25), FRONTAL, (1000, 1000, 0.15), glass, crowded=1)
    return bench


def test_stack_formula_is_that_of_one_plate():
    """n = 1.5: T = 2n/(n² + 1), and .876786 / .073318 with an internal transmittance of .95 (closed form, 6 digits)."""
    assert clear_stack([1.5], [0.0])[1] == pytest.approx(2 * 1.5 / (1.5**2 + 1), abs=1e-12)
    assert clear_stack([1.5], [-math.log(0.95)]) == pytest.approx((0.073318, 0.876786), abs=1e-6)


@pytest.mark.parametrize("overlap", [0.05, 0.15, 0.29])
def test_liquid_behind_glass_has_one_boundary_wherever_the_liquid_ends(overlap):
    """R and T of air, glass, liquid, air don't know how far the liquid reaches into the glass."""
    reflected, through = clear_stack([1.52, 1.33], [2.0 * 0.3, 4.0 * 0.5])
    mean, error = layers(between(glass_before_liquid(overlap)), FILM, 400_000)
    agrees((mean[0, 1], error[0, 1]), reflected)
    agrees((mean[1, 1], error[1, 1]), through)


def test_a_gap_or_a_double_wall_would_show():
    """A slit of air between glass and liquid takes away 4 %: the check above would see it."""
    slit = clear_stack([1.52, 1.0, 1.33], [0.6, 0.0, 2.0])[1]
    assert slit / clear_stack([1.52, 1.33], [0.6, 2.0])[1] < 0.96


def test_bands_are_kept_apart_in_a_stack():
    """Each band of a stack with coloured liquid meets its own closed form."""
    absorb = (1.0, 4.0, 6.0)
    mean, error = layers(between(glass_before_liquid(0.1, absorb, 0.0)), FILM, 400_000)
    for band in range(3):
        agrees((mean[1, band], error[1, band]), clear_stack([1.52, 1.33], [0.0, absorb[band] * 0.5])[1])


@pytest.mark.parametrize(("n", "g", "thickness", "albedo"), [(1.4, 0.5, 2, 0.95), (1.33, 0.8, 10, 0.99)])
def test_core_of_the_same_matter_changes_nothing(n, g, thickness, albedo):
    """A slab with a core of its own matter reads what the slab does by adding-doubling (slab_rows.py)."""
    expected = row(n, g, albedo, thickness)
    bench = endless_slab(n, g, albedo * thickness, (1.0 - albedo) * thickness)
    bench.shapes[0]["crowded"] = 1
    bench.body(ShapeKind.BOX, (0, 0, 0.1), FRONTAL, (900, 900, 0.2), 0, crowded=1)
    mean, error = layers(between(bench), FILM, 100_000)
    agrees((mean[0, 1], error[0, 1]), expected.r_coll, 1e-4)
    agrees((mean[1, 1], error[1, 1]), expected.t_coll, 1e-4)


def test_crowded_body_reads_as_a_lone_one():
    """The general search for a body's end gives the very paths of the quick one."""
    lone, _ = collimated(between_hemispheres(1.4, 0.5, 4.75, 0.25), 4_000)
    bench = endless_slab(1.4, 0.5, 4.75, 0.25)
    bench.shapes[0]["crowded"] = 1
    mean, _ = layers(between(bench), FILM, 4_000)
    assert mean[:2] == pytest.approx(lone, rel=1e-9)


@pytest.mark.parametrize("nested", [False, True])
def test_furnace_does_not_see_balls_in_balls(nested):
    """Lossless balls, one in another and one across the skin of both, cannot be told from a surround of luminance 1."""
    bench = Bench()
    outer, inner = bench.medium(20.0, 0.0, 0.3, 1.33), bench.medium(60.0, 0.0, 0.0, 1.6)
    across = bench.medium(0.0, 0.0, 0.0, 1.8)
    bench.body(ShapeKind.SPHERE, (0, 0, 0), FRONTAL, (0.05, 0, 0), outer, crowded=1)
    if nested:
        bench.body(ShapeKind.SPHERE, (0.005, 0, 0), FRONTAL, (0.03, 0, 0), inner, crowded=1)
        bench.body(ShapeKind.SPHERE, (0.03, 0.02, 0.01), FRONTAL, (0.025, 0, 0), across, crowded=1)
    stage = bench.stage((0.0, 0.1, 0.5), room=1.0, pupil=0.08, focus=1e4, half_width=1e-3, half_height=1e-3)
    assert seen_luminance(stage, Region.SUBJECT, 512) == pytest.approx((1.0, 0.0), abs=1e-9)


def test_white_disc_in_coloured_liquid():
    """A matte white disc 5 cm deep in an index-matched absorbing block, in a furnace, looked at along the normal.

    The light comes down from all sides and goes back along the normal, L = e^(−τ)·∫ e^(−τ/µ)·2µ dµ = e^(−τ)·2·E₃(τ).
    """
    depth, absorb = 0.05, 6.0
    bench = Bench()
    liquid = bench.medium(0.0, absorb, 0.0, 1.0)
    bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (20.0, 20.0, 0.1), liquid, crowded=1)
    bench.shape(ShapeKind.DISC, (0, 0, 0.05), FRONTAL, (15.0, 0, 0), bench.part(Region.OTHER, 1.0))
    stage = bench.stage((0, 0, 1.0), (0, 0, 0), room=1.0, **PENCIL)
    expected = math.exp(-absorb * depth) * 2.0 * expn(3, absorb * depth)
    agrees(seen_luminance(stage, Region.SUBJECT, 4096), expected)


def test_no_more_light_comes_out_than_went_in():
    """A dark core under a lossless coat stays darker than its coat alone, and the more so the darker it is."""
    seen = []
    for absorb in (0.0, 20.0, 200.0):
        bench = Bench()
        coat, core = bench.medium(200.0, 0.0, 0.0, 1.5), bench.medium(50.0, absorb, 0.0, 1.4)
        bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (0.1, 0.1, 0.02), coat, crowded=1)
        bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (0.09, 0.09, 0.01), core, crowded=1)
        seen.append(seen_luminance(bench.stage((0, 0, 1.0), (0, 0, 0), room=1.0, **PENCIL), Region.SUBJECT, 512)[0])
    assert seen[0] == pytest.approx(1.0, abs=1e-9)
    assert np.all(np.diff(seen) < -0.05)
