"""Tiny sets of finishes, sheets, prints, heads with a curve, and moved and vignetting cameras."""

from __future__ import annotations

import numpy as np
from plain_sets import ASKEW, SHEEN, lit

from stages import Bench
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.stage.curves import Curves
from throughlight.stage.faces import diffuse_to_normal
from throughlight.stage.losses import add_skins, gloss_curve, metal_curve
from throughlight.trace.tables import Region, ShapeKind, Stage, SurfaceKind

BANDS = ("red", "green", "blue")
SILVER = ((0.052, 0.06, 0.04), (4.4, 3.6, 2.6))  # n and k, rounded from Johnson and Christy 1972


def _metal(alpha: float, lost: int) -> dict:
    n, k = SILVER
    index = {f"n_{band}": v for band, v in zip(BANDS, n, strict=True)}
    index |= {f"k_{band}": v for band, v in zip(BANDS, k, strict=True)}
    return {"surface": SurfaceKind.METAL, "alpha": alpha, "lost": lost, **index}


def _gloss(alpha: float, lost: int, **more) -> dict:
    return {
        "surface": SurfaceKind.GLOSS,
        "reflectance": (0.6, 0.3, 0.1),
        "n": 1.5,
        "alpha": alpha,
        "lost": lost,
        **more,
    }


def _sheet(straight: float, through: float, back: float, n: float) -> dict:
    passed = {f"straight_{band}": straight for band in BANDS} | {f"through_{band}": through for band in BANDS}
    return {"surface": SurfaceKind.SHEET, "reflectance": back, "n": n, "spread": diffuse_to_normal(n), **passed}


def _print(bench: Bench) -> int:
    """Add a picture of 3 × 2 pixels, 4 cm wide, and return its row."""
    light = np.random.default_rng(5).random((6, 3)).astype(np.float32)
    first = sum(len(one) for one in bench.texels)
    place = {"left": -0.02, "top": 0.02, "width": 0.04, "height": 0.04}
    bench.maps.append({"first": first, "columns": 3, "rows": 2, **place})
    bench.texels.append(light)
    return len(bench.maps) - 1


def finishes() -> Stage:
    """Return balls and cards of every finish before and beside a rough ball that glows, wrapped things, a scrim."""
    bench, curves = Bench(), Curves()
    wax = bench.medium((900.0, 1000.0, 1200.0), (2.0, 10.0, 40.0), 0.8, 1.4, 0.3)
    bench.body(ShapeKind.SPHERE, (0, 0, 0), ASKEW, (0.02, 0, 0), wax)
    lit(bench)
    printed = _print(bench)
    rough_metal, rough_gloss = curves.add(metal_curve(0.3, *SILVER)), curves.add(gloss_curve(1.5, 0.3))
    bare = {"pile": 0.1, "surface": SurfaceKind.CLOTH, "reflectance": 0.2}
    kinds = [
        _metal(0.0, 0), _metal(0.3, rough_metal), _metal(0.3, 0), _gloss(0.0, 0), _gloss(0.3, rough_gloss),
        {"surface": SurfaceKind.MIRROR, "reflectance": 0.8}, bare, bare | SHEEN,
        {"map": printed}, _gloss(0.0, 0, map=printed), bare | {"map": printed}, _gloss(0.3, rough_gloss, map=printed),
    ]  # fmt: skip
    for i, finish in enumerate(kinds):
        turn = 2.0 * np.pi * i / len(kinds)
        at = (0.045 * np.cos(turn), 0.045 * np.sin(turn), 0.0)
        part = bench.part(Region.SUBJECT, **finish)
        if i % 2:
            bench.shape(ShapeKind.SPHERE, at, ASKEW, (0.011, 0, 0), part)
        else:
            bench.shape(ShapeKind.BOX, at, ASKEW, (0.009, 0.009, 0.004), part)
    bench.rectangle((0.03, 0.03, 0.15), (0.1, 0, 1), 0.08, 0.08, **_sheet(0.9, 0.02, 0.0, 1.5))
    bench.rectangle((-0.06, -0.06, 0.15), (0.1, 0, 1), 0.05, 0.05, **_sheet(0.2, 0.4, 0.3, 1.0))
    bench.rectangle((-0.2, 0.05, -0.15), (-0.4, 0.1, -0.3), 0.3, 0.3, **_sheet(0.0, 0.5, 0.4, 1.0))
    bench.rectangle((0, -0.04, -0.1), (0, 0, 1), 0.2, 0.1, region=Region.BACKDROP, reflectance=0.1)
    stage = bench.stage((0, 0, 0.7), (0, 0, 0), room=0.1, pupil=0.01, front=0.02)
    skins = add_skins(curves, [(float(row["n"]), float(row["alpha"])) for row in stage.media])
    return stage._replace(curves=curves.table(), skins=skins)


def curved_heads() -> Stage:
    """Return a polished and a rough body and a card under a disc, a rectangle and a tube with tabulated intensities."""
    bench, curves = Bench(), Curves()
    glass = bench.medium((300.0, 400.0, 500.0), (5.0, 10.0, 20.0), 0.5, 1.5)
    wax = bench.medium((900.0, 1000.0, 1200.0), (2.0, 10.0, 40.0), 0.8, 1.4, 0.3)
    bench.body(ShapeKind.ROUND, (-0.03, 0, 0), ASKEW, (0.03, 0, 0.003), glass)
    bench.body(ShapeKind.BOX, (0.05, 0, 0), ASKEW, (0.02, 0.02, 0.004), wax)
    lit(bench)
    down = np.cos(np.linspace(0.0, np.pi / 2, 10))[:, None]
    turn = 2.0 * np.pi * np.arange(8) / 8
    round_it = down ** (1.0 + 2.0 * np.cos(turn) ** 2)
    for head, table in zip(bench.heads, (down**3, round_it, down * (1.0 + 0.5 * np.sin(turn))), strict=True):
        head |= {"curve": curves.add(table.ravel()), "curve_rows": 10, "curve_columns": table.shape[1]}
    bench.rectangle((0, 0, -0.2), (0, 0, 1), 0.6, 0.6, region=Region.BACKDROP, reflectance=0.5)
    stage = bench.stage((0, 0, 0.7), (0, 0, 0), pupil=0.005, front=0.02)
    skins = add_skins(curves, [(float(row["n"]), float(row["alpha"])) for row in stage.media])
    return stage._replace(curves=curves.table(), skins=skins)


CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 4
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
front_element = "28 mm"
pupil_depth = "30 mm"
{more}

[subject]
shape = {{ kind = "slab", thickness = "4 mm", outline = {{ shape = "disc", diameter = "6 cm" }} }}
material = {{ reduced_scattering = "0.3 1/mm", absorption = "0.02 1/mm", n = 1.3, roughness = 0.1 }}

[backdrop]
distance = "30 cm"
width = "60 cm"
height = "60 cm"
cloth = "black velvet"

[[head]]
face = {{ shape = "disc", diameter = "10 cm" }}
at = {{ bearing = "-150 deg", distance = "25 cm" }}
energy = "10 J"

[ambient]
illuminance = "100 lx"
"""


def moved() -> Stage:
    """Return a set through a tilted, swung and shifted lens with a hood that vignettes."""
    more = 'tilt = "6 deg"\nback_swing = "4 deg"\nshift = ["5 mm", "-3 mm"]\nhood = "50 mm"\nhood_diameter = "32 mm"'
    return build(loads(CAMERA.format(more=more)))[0]


def bare_lens() -> Stage:
    """Return the same through an unmoved lens without a hood, whose front element vignettes."""
    return build(loads(CAMERA.format(more="blades = 7")))[0]
