"""Layers of matter: a coat all round a slab, traced, against adding–doubling.

A slab whose core lies in a coat is a stack coat, core, coat, as wide as one likes. Its R and T for a pencil along the
normal are read by reciprocity as those of a lone slab are (slab_stages.py). Expected values: the project's own
adding–doubling with 48 points (`throughlight.swatch`, itself held against van de Hulst 1980, Giovanelli 1955 and
iadpython), good for 1e-5 with one index and 4e-5 with several; where all layers share an index, iadpython alone; and
the two-layer case on which two other Monte Carlo programs agree. Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from slab_stages import PENCIL, layers

from agreement import agrees, seen_luminance
from stages import Bench
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.stage.frames import facing
from throughlight.swatch.adding_doubling import layer_of, slab
from throughlight.trace.expose import FILM
from throughlight.trace.tables import Region, ShapeKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
_SLACK = 5e-5  # of adding–doubling with 48 points


class Matter(NamedTuple):
    """Coefficients in 1/m by band, or one for all of them."""

    scatter: tuple[float, ...] | float
    absorb: tuple[float, ...] | float
    g: float
    n: float


class Coated(NamedTuple):
    """A slab 1 m thick in all, its coat on both faces."""

    coat: Matter
    core: Matter
    thick: float  # the coat, m


CASES = {
    # The same index throughout: only scattering and absorption change within.
    "one index": Coated(
        Matter((3.0, 3.8, 1.0), (1.0, 0.2, 0.1), 0.5, 1.4), Matter((1.5, 3.0, 6.0), (0.5, 0.1, 0.02), 0.8, 1.4), 0.2
    ),
    # A clear, faintly coloured glaze on a white body of lower index (such as pores leave it).
    "glaze over porcelain": Coated(
        Matter(0.0, (0.1, 0.3, 0.8), 0.0, 1.5), Matter((20.0, 15.0, 12.0), (0.02, 0.05, 0.2), 0.6, 1.4), 0.1
    ),
    # Dyed, strongly absorbing skin over pale flesh of lower index.
    "skin over flesh": Coated(
        Matter((8.0, 10.0, 12.0), (0.5, 4.0, 2.0), 0.7, 1.42),
        Matter((3.0, 4.0, 5.0), (0.05, 0.1, 0.3), 0.3, 1.33),
        0.05,
    ),
}


def bands(value):
    return np.broadcast_to(value, 3).astype(float)


def layer(matter, thickness):
    return layer_of(bands(matter.scatter), bands(matter.absorb), matter.g, matter.n, thickness)


def bench_of(outer, inner, low, high, outer_half=0.5):
    """Return a bench with an endless slab of `outer` about z = 0, and `inner` from `low` to `high` within it."""
    bench = Bench()
    body = {"crowded": 1}
    bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (1000, 1000, outer_half), bench.medium(*outer), **body)
    middle, half = (low + high) / 2, (high - low) / 2
    bench.body(ShapeKind.BOX, (0, 0, middle), FRONTAL, (999, 999, half), bench.medium(*inner), **body)
    return bench


def between(bench, half=0.5):
    """Put an even hemisphere before (layer 0) and behind (layer 1) what is within ±half."""
    bench.head(ShapeKind.DISC, (0, 0, half + 0.02), (0, 0, 0), (100, 0, 0))
    bench.head(ShapeKind.DISC, (0, 0, -half - 0.01), (0, 0, 0), (100, 0, 0))
    return bench.stage((0, 0, half + 0.01), (0, 0, 0), front=1e-6, **PENCIL)


def check(stage, expected, slack, paths):
    """Hold R and T by band, (2, 3), against the trace."""
    mean, error = layers(stage, FILM, paths)
    for what in range(2):
        for band in range(3):
            agrees((mean[what, band], error[what, band]), expected[what][band], slack)


@pytest.mark.parametrize("name", CASES)
def test_coat_core_coat_by_adding_doubling(name):
    coat, core, thick = CASES[name]
    through = slab([layer(coat, thick), layer(core, 1.0 - 2 * thick), layer(coat, thick)], 48)
    stage = between(bench_of(coat, core, thick - 0.5, 0.5 - thick))
    check(stage, (through.R_coll, through.T_coll), _SLACK, 80_000)


def by_iadpython(stack, points=32):
    """Return R and T for light along the normal of layers (albedo, thickness, g), all of index 1.4, in air.

    iadpython's own nodes are good up to 32 points. Layers are put together from the top, then the boundary on either
    side is added.
    """
    iadpython = pytest.importorskip("iadpython")
    from iadpython import combine, start

    sample = iadpython.Sample(d=1, n=1.4, quad_pts=points)
    whole = None
    for sample.a, sample.b, sample.g in stack:
        r, t = combine.simple_single_layer_matrices(sample)
        whole = (r, r, t, t) if whole is None else combine.add_layers(sample, *whole, r, r, t, t)
    r01, r10, t01, t10 = start.boundary_layer(sample)
    above = combine.add_slide_above(sample, r01, r10, t01, t10, *whole)
    both = combine.add_slide_below(sample, *above, r10, r01, t10, t01)
    found = sample.UX1_and_UXU(both[0], both[2])
    return found[0], found[1]


def test_coat_core_coat_by_iadpython():
    """The green band of the case with one index; 32 points there are good for 2e-4."""
    coat, core, thick = CASES["one index"]

    def of(matter, thickness):
        scatter, absorb = bands(matter.scatter)[1], bands(matter.absorb)[1]
        return scatter / (scatter + absorb), (scatter + absorb) * thickness, matter.g

    expected = by_iadpython([of(coat, thick), of(core, 1.0 - 2 * thick), of(coat, thick)])
    mean, error = layers(between(bench_of(coat, core, thick - 0.5, 0.5 - thick)), FILM, 80_000)
    for what in range(2):
        agrees((mean[what, 1], error[what, 1]), expected[what], 2e-4)


def test_layer_on_a_half_space_mcml_and_mccl():
    """0.1 mm of µa 2, µs 20/mm, g .7, n 1.3 on a half space of µa 1, µs 20/mm, g .9, n 1.4.

    Mirrored .0170 and scattered back .1050 (MCML; .1049 ± .0002 by another code; both round to 1e-4): Virtual
    Photonics, wiki of Vts.MonteCarlo, page "MCCL Validation And Comparison With MCML". The second layer is 4 mm thick,
    after which next to nothing is left; how much is checked by adding–doubling. One mm is one unit here.
    """
    top, low = Matter(20.0, 2.0, 0.7, 1.3), Matter(20.0, 1.0, 0.9, 1.4)
    stage = between(bench_of(top, low, -2.05, 1.95, outer_half=2.05), 2.05)
    mean, error = layers(stage, FILM, 150_000)
    # All three bands are one figure, from the same paths.
    agrees((mean[0].mean(), error[0].mean()), 0.0170 + 0.1050, 3e-4)
    left = slab([layer(top, 0.1), layer(low, 4.0)], 48).T_coll[0]
    assert left < 1e-5
    agrees((mean[1].mean(), error[1].mean()), left, power=0.5)


SET = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]

[subject]
shape = { kind = "slab", thickness = "10 mm", outline = { shape = "rectangle", width = "90 cm", height = "90 cm" } }
material = { reduced_scattering = ".3 .4 .5 1/mm", absorption = ".005 .01 .03 1/mm", g = 0.3, n = 1.33 }
coat = { thickness = "0.5 mm", material = { reduced_scattering = ".24 .3 .36 1/mm", absorption = ".05 .4 .2 1/mm", \
g = 0.7, n = 1.42 } }
BEHIND
[ambient]
illuminance = "1000 lx"
"""
BLACK_BEHIND = """
[[flag]]
at = ["0 cm", "0 cm", "-5.1 mm"]
aim = ["0 cm", "0 cm", "1 m"]
width = "95 cm"
height = "95 cm"
"""


@pytest.mark.parametrize("behind", ["", BLACK_BEHIND], ids=["R + T", "R"])
def test_coated_slab_from_a_setup_file(behind):
    """In an even room the slab shows R + T of its luminance along the normal, before a black card R alone.

    90 cm wide it is as good as endless: at 45 times its thickness nothing is left.
    """
    stage, _ = build(loads(SET.replace("BEHIND", behind)))
    stage.lens["pupil"] = 0.0
    for side in ("half_width", "half_height"):
        stage.lens[side] = 1e-9
    coat = layer_of([800.0, 1000.0, 1200.0], [50.0, 400.0, 200.0], 0.7, 1.42, 0.5e-3)
    core = layer_of(np.array([300.0, 400.0, 500.0]) / 0.7, [5.0, 10.0, 30.0], 0.3, 1.33, 9e-3)
    flux = slab([coat, core, coat], 48)
    total = flux.R_coll if behind else flux.R_coll + flux.T_coll
    luminance = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
    room = float(luminance @ stage.room)
    value, error = seen_luminance(stage, Region.SUBJECT, 4096)
    # The room may be coloured by its own temperature: each band counts by its own light.
    expected = float((luminance * stage.room) @ total) / room
    agrees((value / room, error / room), expected, _SLACK)
