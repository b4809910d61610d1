"""Thin sheets in a set: closed forms for straight, spread and mirrored light, and the furnace.

A sheet between a lamp and a receptor takes the straight share away and spreads the rest: seen from close by, a
spreading sheet lit with E is a Lambertian face of luminance D·E/π. A film of index n passes ½·Σ(1 − r)/(1 + r) (Stokes
1862); the values at 0°, 60° and for diffuse light are closed forms in double precision. Standard errors and sigmas:
see agreement.py.
"""

from __future__ import annotations

import math

import pytest

from agreement import agrees, illuminance, seen_luminance
from closed_forms import coaxial_disc
from stages import Bench, film_luminance
from throughlight.stage.faces import diffuse_to_normal
from throughlight.stage.frames import facing
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
PENCIL = {"half_width": 1e-9, "half_height": 1e-9}


def sheet(bench, straight, through, back, n=1.0, at=(0, 0, 0), aim=(0, 0, 1), size=1.0, region=Region.OTHER):
    """Add a sheet to a bench."""
    fields = {f"straight_{band}": straight for band in ("red", "green", "blue")}
    fields |= {f"through_{band}": through for band in ("red", "green", "blue")}
    part = bench.part(region, back, SurfaceKind.SHEET, n=n, spread=diffuse_to_normal(n), **fields)
    bench.shape(ShapeKind.RECTANGLE, at, facing(at, aim), (size, size, 0.0), part)


@pytest.mark.parametrize(
    ("straight", "through", "back", "n"), [(0.4, 0.3, 0.3, 1.0), (0.0, 0.6, 0.4, 1.0), (0.5, 0.25, 0.173077, 1.5)]
)
def test_furnace_does_not_see_a_sheet_that_loses_nothing(straight, through, back, n):
    """S + D + R = T(0) = 2n/(n² + 1): along the normal nothing is lost, and a surround of 1 shows 1."""
    assert straight + through + back == pytest.approx(2 * n / (n * n + 1), abs=1e-6)
    bench = Bench()
    sheet(bench, straight, through, back, n, region=Region.SUBJECT)
    stage = bench.stage((0, 0, 1.0), (0, 0, 0), room=1.0, **PENCIL)
    agrees(film_luminance(stage, 8192, replicates=64), 1.0, 1e-6)


@pytest.mark.parametrize(("degrees", "expected"), [(0, 0.923077), (60, 0.848128)])
def test_clear_wrap_between_lamp_and_receptor(degrees, expected):
    """A film of n = 1.5 that spreads nothing, at two angles to a small distant lamp; without it E = 4 L·A/r² (C-41)."""
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, 0, 5.0), (0, 0, 0), (0.01, 0, 0), 1e4)
    bare = illuminance(bench, (0, 0, 0), (0, 0, 1), 256)
    tilt = math.radians(degrees)
    sheet(bench, 0.923077, 0.0, 0.0, 1.5, at=(0, 0, 1.0), aim=(math.sin(tilt), 0, 1.0 + math.cos(tilt)))
    value, error = illuminance(bench, (0, 0, 0), (0, 0, 1), 4096)
    agrees((value / bare[0], error / bare[0]), expected, 2e-6 + bare[1] / bare[0] * 4)


def test_scrim_close_to_a_receptor_is_a_lambertian_face():
    """A scrim (D = 0.5) lit by a lamp far behind it: a disc of it of radius r seen from h gives D·E·r²/(r² + h²).

    The scrim is square and wide against h, so it fills all but 4e-4 of the receptor's half space.
    """
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, 0, -50.0), (0, 0, 0), (0.5, 0, 0), 1e6)
    on_scrim = 1e6 * math.pi * 0.5**2 / 50.0**2
    sheet(bench, 0.0, 0.5, 0.0, size=0.5)
    value, error = illuminance(bench, (0, 0, 0.01), (0, 0, 0), 4096)
    # The lamp's distance and angle vary over the scrim by 2·(0.5/50)², and the corners lie beyond the half space.
    agrees((value, error), 0.5 * on_scrim, 1e-3 * on_scrim)


def test_lamp_seen_through_a_scrim_keeps_only_the_straight_share():
    """The luminance of a lamp's face behind a sheet is S times its own, plus what the sheet spreads: D·E/π."""
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, 0, -1.0), (0, 0, 0), (0.1, 0, 0), 1000.0)
    sheet(bench, 0.3, 0.4, 0.2)
    stage = bench.stage((0, 0, 1.0), (0, 0, 0), **PENCIL)
    lit = 1000.0 * math.pi * coaxial_disc(0.1, 1.0)
    agrees(film_luminance(stage, 8192, replicates=64), 0.3 * 1000.0 + 0.4 * lit / math.pi)


def test_matte_thing_in_clear_wrap():
    """A matte card behind a film, looked at along the normal, lit through the film by a small lamp along the normal.

    Straight to the card and back, T² of the bare card; the film also sends back to the card what it mirrors of the
    card's light, which diffuse light meets with 1 − T_diff = .149062 (n = 1.5): T²/(1 − ρ·.149062).
    """
    rho, film, diffuse = 0.8, 0.923077, 0.850938
    bench = Bench()
    bench.head(ShapeKind.DISC, (0.05, 0, 8.0), (0, 0, 0), (0.02, 0, 0), 1e4)
    bench.rectangle((0, 0, 0), (0, 0, 1), 40.0, 40.0, region=Region.SUBJECT, reflectance=rho)
    stage = bench.stage((0, 0, 4.0), (0, 0, 0), **PENCIL)
    bare = seen_luminance(stage, Region.SUBJECT, 1024)
    sheet(bench, film, 0.0, 0.0, 1.5, at=(0, 0, 0.001), aim=(0, 0, 1), size=20.0)
    stage = bench.stage((0, 0, 4.0), (0, 0, 0), **PENCIL)
    value, error = seen_luminance(stage, Region.SUBJECT, 16384)
    expected = film**2 / (1.0 - rho * (1.0 - diffuse))
    # The bare card is lit by a lamp nearly along the normal; over the film's few millimetres nothing else changes.
    agrees((value / bare[0], error / bare[0]), expected, 4 * bare[1] / bare[0] + 1e-4)


def test_wrap_is_looked_through_and_a_scrim_is_not():
    """The subject behind clear wrap is still the subject's region; behind tracing paper it is the sheet's."""
    for straight, region in ((0.9, Region.SUBJECT), (0.05, Region.OTHER)):
        bench = Bench()
        bench.rectangle((0, 0, 0), (0, 0, 1), 1.0, 1.0, region=Region.SUBJECT, reflectance=0.5)
        sheet(bench, straight, 0.05, 0.0, at=(0, 0, 0.1))
        stage = bench.stage((0, 0, 1.0), (0, 0, 0), room=1.0, **PENCIL)
        value, _ = seen_luminance(stage, region, 64)
        assert math.isfinite(value)
        assert value > 0.0
