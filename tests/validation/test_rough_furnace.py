"""Rough boundaries that keep their energy, traced: lossless bodies cannot be told from an even surround.

The skin's table is straight between its nodes and made by a lattice rule, which leaves errors of up to 1e-3 a meeting
at single cosines and 2e-4 for diffuse light. Light inside a lossless body of index n meets the boundary n² times as
often as light enters it through the same face (étendue), whence the slack. Standard errors: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from slab_stages import between_hemispheres, layers

from agreement import agrees, seen_luminance
from stages import Bench
from throughlight.stage.frames import facing
from throughlight.stage.losses import skin_tables
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.tables import Region, ShapeKind

ALPHAS = (0.05, 0.1, 0.3, 0.5, 0.8, 1.0)
_TABLE = 2e-4
ASKEW = facing((0.0, 0.0, 0.0), (0.3, 0.5, 1.0), 0.4)


def with_skins(stage):
    """Return the stage whose rough boundaries keep their energy."""
    curves, skins = skin_tables([(float(row["n"]), float(row["alpha"])) for row in stage.media])
    return stage._replace(curves=curves, skins=skins)


def seen(kind, sizes, n, alpha, scatter, keep=True, paths=256):
    """Return the luminance of a lossless body in a surround of luminance 1, and its standard error."""
    bench = Bench()
    bench.body(kind, (0, 0, 0), ASKEW, sizes, bench.medium(scatter, 0.0, 0.6, n, alpha))
    stage = bench.stage((0.0, 0.1, 0.5), room=1.0, pupil=0.06, focus=1e4, half_width=1e-3, half_height=1e-3)
    return seen_luminance(with_skins(stage) if keep else stage, Region.SUBJECT, paths)


@pytest.mark.parametrize("alpha", [0.1, 0.3, 0.5])
def test_thick_rough_slab_cannot_be_seen(alpha):
    """n = 1.4, 40 mm thick at 1000/m: without its skin it is .1, .4 and .75 stop too dark."""
    sizes = (0.05, 0.03, 0.02)
    agrees(seen(ShapeKind.BOX, sizes, 1.4, alpha, 1000.0, paths=1024), 1.0, reference_error=3 * _TABLE)
    bare, _ = seen(ShapeKind.BOX, sizes, 1.4, alpha, 1000.0, keep=False, paths=64)
    print(f"without the skin {math.log2(bare):.2f} stop")
    assert bare < 0.97


@pytest.mark.parametrize("alpha", ALPHAS)
@pytest.mark.parametrize("n", [1.1, 1.33, 1.5, 2.0])
def test_rough_ball_cannot_be_seen(n, alpha):
    measured = seen(ShapeKind.SPHERE, (0.05, 0.0, 0.0), n, alpha, 300.0, paths=512)
    agrees(measured, 1.0, reference_error=(1.0 + n * n) * _TABLE)


def test_clear_rough_ball_cannot_be_seen():
    """Nothing inside scatters: all is left to the boundary."""
    measured = seen(ShapeKind.SPHERE, (0.05, 0.0, 0.0), 1.5, 0.4, 0.0, paths=256)
    agrees(measured, 1.0, reference_error=4 * _TABLE)


@pytest.mark.parametrize("alpha", [0.1, 0.4, 1.0])
@pytest.mark.parametrize("mode", [FILM, FRONT])
def test_lossless_slab_between_heads(alpha, mode):
    """R + T = 1, the light of heads found by chance, asked for directly and by aimed legs: the same sum."""
    stage = with_skins(between_hemispheres(1.4, 0.5, 3.0, 0.0, alpha=alpha))
    mean, error = layers(stage, mode, 40_000)
    scale = 1.0 if mode == FILM else math.pi
    total = float(mean[:2, 0].sum()) / scale
    spread = float(np.hypot(error[0, 0], error[1, 0])) / scale
    # The discs stop a little short of the horizon, and the two layers' errors are taken as independent: 1e-3 allows
    # for the table (see above) as well.
    agrees((total, spread), 1.0, reference_error=1e-3)


def test_body_in_body_cannot_be_seen():
    """A rough ball of 1.5 within a rough ball of 1.33: the skin between two media, and both with air."""
    bench = Bench()
    eye = np.eye(3)
    bench.body(ShapeKind.SPHERE, (0, 0, 0), eye, (0.05, 0, 0), bench.medium(50.0, 0.0, 0.2, 1.33, 0.3))
    bench.body(ShapeKind.SPHERE, (0, 0, 0), eye, (0.03, 0, 0), bench.medium(50.0, 0.0, 0.2, 1.5, 0.5))
    bench.shapes[0]["crowded"] = bench.shapes[1]["crowded"] = 1
    stage = bench.stage((0.0, 0.0, 0.5), room=1.0, pupil=0.06, focus=1e4, half_width=1e-3, half_height=1e-3)
    agrees(seen_luminance(with_skins(stage), Region.SUBJECT, 256), 1.0, reference_error=5 * _TABLE)
