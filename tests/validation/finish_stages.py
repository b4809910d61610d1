"""One thing of a finish in a room or under a head, and what it shows there.

By reciprocity (Helmholtz) a face seen at an angle in a room of luminance 1 shows what it returns of all the light that
comes from that angle; a small receptor over an endless plane of it receives π times what it returns of diffuse light.
"""

from __future__ import annotations

import math

import numpy as np
from slab_stages import PENCIL

from agreement import illuminance, seen_luminance
from stages import Bench
from throughlight.stage.frames import facing
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
BANDS = ("red", "green", "blue")
GLOSS = {"surface": SurfaceKind.GLOSS, "n": 1.5}
PERFECT = ((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))  # n = 0: all is reflected at every angle
TABLE = 1e-3
"""A compensation's table is straight between nodes and made by a lattice of points."""


def metal(n, k, alpha=0.0):
    """Return the keys of a metal."""
    index = {
        f"{letter}_{band}": v for letter, three in (("n", n), ("k", k)) for band, v in zip(BANDS, three, strict=True)
    }
    return {"surface": SurfaceKind.METAL, "alpha": alpha, **index}


class Finished(Bench):
    """A bench with one thing of a finish, perhaps beside a white ball that light gets through.

    `curve` is the finish's table of losses, if it has one.
    """

    def __init__(self, kind, sizes, reflectance=0.0, curve=None, beside=False, **finish):
        super().__init__()
        if beside:
            wax = self.medium(200.0, 0.0, 0.0, 1.4)
            self.body(ShapeKind.SPHERE, (0.0, 0.3, 0.25), FRONTAL, (0.2, 0, 0), wax, Region.OTHER)
        self.curve = np.zeros(0) if curve is None else curve
        part = self.part(Region.SUBJECT, reflectance, lost=int(self.curve.size > 0), **finish)
        self.shape(kind, (0, 0, 0), FRONTAL, sizes, part)

    def stage(self, *where, **how):
        return super().stage(*where, **how)._replace(curves=np.concatenate([[0.0], self.curve]))


def plane(**finish):
    """Return a bench with an endless face of this finish at z = 0."""
    return Finished(ShapeKind.RECTANGLE, (1000.0, 1000.0, 0.0), **finish)


def under_a_hemisphere(**finish):
    """Return a stage with such a face under a head that fills its hemisphere, looked at along the normal."""
    bench = plane(**finish)
    bench.head(ShapeKind.DISC, (0, 0, 0.52), (0, 0, 0), (1000.0, 0, 0))
    return bench.stage((0, 0, 0.51), (0, 0, 0), **PENCIL)


def at_angle(bench, mu, paths=1024):
    """Return the luminance of a plane seen at the cosine mu in a room of luminance 1."""
    where = (math.sqrt(1.0 - mu * mu), 0.0, mu)
    return seen_luminance(bench.stage(where, (0, 0, 0), room=1.0, **PENCIL), Region.SUBJECT, paths)


def of_diffuse_light(bench, paths=1024):
    """Return what an endless plane returns of diffuse light: E/π on a receptor that faces it in a room of 1."""
    value, error = illuminance(bench, (0, 0, 0.01), (0, 0, 0), paths, room=1.0)
    return value / math.pi, error / math.pi


def of_ball(bench, paths=256):
    stage = bench.stage((0.0, 0.1, 0.5), room=1.0, pupil=0.06, focus=1e4, half_width=1e-3, half_height=1e-3)
    return seen_luminance(stage, Region.SUBJECT, paths)
