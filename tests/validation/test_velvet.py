"""A head beside a velvet backdrop makes it glow, which a matte cloth of the same darkness does not.

The pile's first-order scattering toward a camera on the normal, relative to the ground's ρ/π, is

    f(θ)·π = (s/4)·(1 − e^(−τ·(1/cos θ + 1)))/(1 + cos θ) + ρ·e^(−τ·(1/cos θ + 1))

(Chandrasekhar 1950, Radiative Transfer, §68): a grazing ray runs through 1/cos θ times as much pile. The bright edge of
velvet under side light is what Lu, Koenderink and Kappers 1998, "Optical Properties of Velvet", Applied Optics 37,
measured. Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import pytest

from agreement import agrees, seen_luminance
from stages import Bench
from throughlight.optics import cloth
from throughlight.stage.frames import facing
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

GROUND, PILE, SHEEN = 0.004, 0.1, 0.1  # black velvet: common practice, no source
_DISTANCE, _RADIUS = 2.0, 0.01
_ANGLES = (0.0, 45.0, 70.0, 80.0, 85.0)


def returned(degrees):
    """Return π·f toward the normal for light from this angle, as above."""
    mu = math.cos(math.radians(degrees))
    depth = PILE * (1.0 / mu + 1.0)
    return SHEEN / 4.0 * -math.expm1(-depth) / (1.0 + mu) + GROUND * math.exp(-depth)


MATTE = returned(0.0)
"""The reflectance of the matte cloth that looks as dark when light and camera are both in front."""


def luminance(degrees, surface, reflectance, paths=64, **pile):
    """Return the luminance toward the normal, per lux on the cloth, and its standard error, of a small patch.

    A disc of luminance L and radius r at distance d, facing the cloth, sends it π·L·r²·cos θ/(d² + r²) lux, to about
    r²/d² = 3e-5 (the configuration factor B-12 of Howell's catalogue, tilted).
    """
    bench = Bench()
    part = bench.part(Region.BACKDROP, reflectance, surface, **pile)
    bench.shape(ShapeKind.RECTANGLE, (0, 0, 0), facing((0, 0, 0), (0, 0, 1)), (1e-3, 1e-3, 0.0), part)
    angle = math.radians(degrees)
    at = (_DISTANCE * math.sin(angle), 0.0, _DISTANCE * math.cos(angle))
    bench.head(ShapeKind.DISC, at, (0, 0, 0), (_RADIUS, 0, 0))
    above = 0.05 if degrees == 0.0 else 0.0  # look past a head on the axis, whose back would hide the cloth
    stage = bench.stage((0.0, above, 5.0), half_width=4e-4, half_height=4e-4)
    lux = math.pi * _RADIUS**2 * math.cos(angle) / (_DISTANCE**2 + _RADIUS**2)
    value, error = seen_luminance(stage, Region.BACKDROP, paths)
    return math.pi * value / lux, math.pi * error / lux


VELVET = {"pile": PILE, "sheen_red": SHEEN, "sheen_green": SHEEN, "sheen_blue": SHEEN}


@pytest.mark.parametrize("degrees", _ANGLES)
def test_closed_form(degrees):
    mu = math.cos(math.radians(degrees))
    wi, three = (math.sqrt(1.0 - mu * mu), 0.0, mu), (1.0, 1.0, 1.0)
    value = cloth.evaluate(wi, (0.0, 0.0, 1.0), tuple(GROUND * x for x in three), PILE, tuple(SHEEN * x for x in three))
    assert math.pi * value[0] == pytest.approx(returned(degrees), rel=1e-12)


def test_velvet_brightens_steeply_toward_grazing_light():
    """Relative to a matte cloth of the same normal reflectance: 1 in front, more than three times beside the cloth."""
    gain = [returned(degrees) / MATTE for degrees in _ANGLES]
    assert gain == sorted(gain)
    assert gain[0] == 1.0
    assert gain[-1] > 3.0  # 1.6 stops
    assert gain[-1] - gain[-2] > gain[1] - gain[0]


@pytest.mark.parametrize("degrees", _ANGLES)
def test_head_beside_velvet_and_beside_matte_cloth(degrees):
    """Traced: luminance for the light received, for a head in front of the cloth and ever more beside it.

    Allowed besides: 2e-4 of the matte cloth and 5e-4 of the velvet for the size of head and patch and for looking 0.6°
    past a head in front.
    """
    agrees(luminance(degrees, SurfaceKind.MATTE, MATTE), MATTE, 2e-4 * MATTE)
    agrees(luminance(degrees, SurfaceKind.CLOTH, GROUND, **VELVET), returned(degrees), 5e-4 * returned(degrees))


def test_glow_in_stops():
    """From in front to 85° beside the cloth, as much light on it: velvet gains 1.66 stops, matte none."""
    front, _ = luminance(0.0, SurfaceKind.CLOTH, GROUND, **VELVET)
    beside, _ = luminance(85.0, SurfaceKind.CLOTH, GROUND, **VELVET)
    matte_front, _ = luminance(0.0, SurfaceKind.MATTE, MATTE)
    matte_beside, _ = luminance(85.0, SurfaceKind.MATTE, MATTE)
    print(f"velvet {math.log2(beside / front):.3f} stop, matte {math.log2(matte_beside / matte_front):.3f} stop")
    assert math.log2(beside / front) == pytest.approx(math.log2(returned(85.0) / returned(0.0)), abs=0.02)
    assert math.log2(matte_beside / matte_front) == pytest.approx(0.0, abs=0.01)
