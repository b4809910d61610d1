"""What the lens does: blur, falloff, exposure of a wide aperture, the picture angle, blades, hood and veil.

Thin-lens optics in closed form; the exposure behind an aplanatic lens H = (π/4)·T·L·t/N_w², N_w = N·(1 + m/P);
cos⁴ falloff; the veiling-glare index of ISO 9358:1994 (a uniform surround gives it back). Standard errors and sigmas:
see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from agreement import REPLICATES, agrees, illuminance
from stages import LUMINANCE, Bench, mean_and_error, measure
from throughlight.optics.lens import pupil_point
from throughlight.photometry import field, veil
from throughlight.photometry.exposure import mid_grey
from throughlight.readings.frame import exposure_per_luminance
from throughlight.readings.meter import meter
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT, in_frame
from throughlight.trace.tables import ShapeKind

EYE, AHEAD = (0.0, 0.0, 0.0), (0.0, 0.0, -1.0)


@pytest.mark.parametrize(("point", "blur_mm"), [(0.520, 0.120192), (0.450, 0.347222)])
def test_blur_of_a_small_bright_thing(point, blur_mm):
    """f = 100 mm, f/8, focused at 500 mm: m = 0.25, discs of 0.120192 and 0.347222 mm in the image.

    The size comes from the second moment: an even disc of diameter D has ⟨r²⟩ = D²/8, and the thing itself, r₀ across
    at the distance s, adds (r₀·s₀/s)²/2 in the plane of focus s₀. Cells of the grid add their own width²/6.
    """
    focus, pupil, m, size = 0.5, 0.1 / 8 / 2, 0.25, 2e-5
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, 0, -point), EYE, (size, 0, 0))
    half = 0.6 * blur_mm * 1e-3 / m
    stage = bench.stage(EYE, AHEAD, focus=focus, pupil=pupil, half_width=half, half_height=half)
    n = 96
    tally = measure(stage, Target(FILM, n, n, np.arange(n * n), 15), 1 << 15, replicates=REPLICATES)
    place = ((np.arange(n) + 0.5) / n - 0.5) * 2 * half
    squared = (place[:, None] ** 2 + place[None, :] ** 2).ravel()
    light = tally.cells.sum(axis=2) @ LUMINANCE
    moment, error = mean_and_error(light @ squared / light.sum(axis=1))
    own = (size * focus / point) ** 2 / 2 + (2 * half / n) ** 2 / 6
    diameter = math.sqrt(8 * (moment - own)) * m * 1e3
    agrees((diameter, diameter * error / (2 * (moment - own))), blur_mm, reference_error=1e-6)
    outside = place[np.flatnonzero(light.sum(axis=0).reshape(n, n).any(axis=0))]
    edge = blur_mm * 1e-3 / m / 2 + size * focus / point
    assert np.abs(outside).max() <= edge + half / n
    assert field.blur_disc(0.1, 8.0, 0.5, point) == pytest.approx(blur_mm * 1e-3, abs=1e-9)


@pytest.mark.parametrize(("angle", "stops"), [(10.0, -0.0883), (20.0, -0.3590), (30.0, -0.8301)])
def test_falloff_of_a_uniform_field(angle, stops):
    """cos⁴ of the field angle (exact for a small flat lens), for any aperture that sees the same field."""
    half = math.tan(math.radians(angle)) * 1000.5 / 1000
    stage = Bench().stage(EYE, AHEAD, room=1.0, pupil=0.05, half_width=half, half_height=half / 2001)
    values = [measure(stage, Target(FILM, 2001, 1, np.array([cell]), 15), 64).cells.sum() for cell in (0, 1000, 2000)]
    for side in (0, 2):
        assert math.log2(values[side] / values[1]) == pytest.approx(stops, abs=1e-4)
        assert values[side] / values[1] == pytest.approx(math.cos(math.radians(angle)) ** 4, rel=1e-4)


CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "{focal}"
f_number = {f_number}
shutter = "{shutter}"
iso = 100
at = ["0 cm", "0 cm", "{distance}"]
transmittance = {transmittance}
front_element = "80 mm"
pupil_magnification = {pupils}
glare = "{glare}"
"""
ROOM = """\
[ambient]
illuminance = "{lux} lx"
"""


def camera(focal="100 mm", f_number=2, shutter="1/100 s", distance="50 cm", transmittance=0.9, pupils=1.0, glare="1 %"):
    return CAMERA.format(**locals())


@pytest.mark.parametrize(
    ("f_number", "pupils", "distance", "m"),
    [(2.0, 1.0, "50 cm", 0.25), (2.0, 1.5, "20 cm", 1.0), (1.4, 1.0, "5.1 m", 0.02), (16.0, 0.5, "50 cm", 0.25)],
)
def test_exposure_on_the_axis_of_an_aplanatic_lens(f_number, pupils, distance, m):
    """H = (π/4)·T·L·t/(N·(1 + m/P))² for a uniform field on the axis; at f/2 a flat disc would be 0.09 stop off."""
    setup = loads(camera(f_number=f_number, pupils=pupils, distance=distance) + ROOM.format(lux=1000 * math.pi))
    stage, _ = build(setup)
    tally = measure(stage, Target(FILM, 3601, 2401, np.array([1200 * 3601 + 1800]), 15), 256)
    mean, error = mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays)
    expected = math.pi / 4 * 0.9 * 1000 / 100 / (f_number * (1 + m / pupils)) ** 2
    assert exposure_per_luminance(setup.camera) * mean == pytest.approx(expected, rel=1e-6)
    assert error < 1e-7 * mean


@pytest.mark.parametrize(
    ("across", "up"), [(0.99, 0.0), (1.01, 0.0), (0.0, -0.99), (0.0, 1.01), (0.99, 0.99), (1.01, 0.5)]
)
def test_picture_angle(across, up):
    """A ray is in the frame when its angle is within half the picture angle 2·atan(w/2i), i the image distance."""
    setup = loads(camera())
    stage, _ = build(setup)
    image = field.image_distance(0.1, 0.5)
    x = across * math.tan(field.picture_angle(0.036, image) / 2)
    y = up * math.tan(field.picture_angle(0.024, image) / 2)
    direction = np.array([x, y, -1.0]) / math.sqrt(x * x + y * y + 1)
    inside = abs(across) < 1 and abs(up) < 1
    assert in_frame(stage.lens[0], (0.0, 0.0, 0.5), tuple(direction)) == inside
    bench = Bench()
    bench.head(ShapeKind.DISC, tuple(100 * direction), EYE, (0.01, 0, 0))
    lens = bench.stage(EYE, AHEAD, focus=0.5, half_width=0.5 * 0.018 / image, half_height=0.5 * 0.012 / image)
    tally = measure(lens, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), 64)
    assert (tally.cells.sum() == 0.0) == inside
    assert (tally.seen == tally.rays).all()


@pytest.mark.parametrize("blades", [0, 5, 6, 9])
def test_blades_keep_the_area_of_the_pupil(blades):
    """A regular polygon of the round pupil's area: corners at C = R·√(2π/(n·sin 2π/n)), ⟨r²⟩ = C²·(2 + cos 2π/n)/6."""
    u = (np.arange(256) + 0.5) / 256
    points = np.array([pupil_point(a, b, 0.025, blades, 0.0) for a in u for b in u])
    moment = 0.025**2 / 2
    if blades:
        corner = 0.025 * math.sqrt(2 * math.pi / (blades * math.sin(2 * math.pi / blades)))
        moment = corner**2 * (2 + math.cos(2 * math.pi / blades)) / 6
        apothem = corner * math.cos(math.pi / blades)
        turns = (2 * np.arange(blades) + 1) * math.pi / blades
        reach = (points @ np.array([np.sin(turns), np.cos(turns)])).max(axis=0)
        assert reach == pytest.approx(np.full(blades, apothem), rel=0.01)
        assert (reach <= apothem * (1 + 1e-9)).all()
    else:
        assert np.hypot(*points.T).max() <= 0.025
    assert (points**2).sum(axis=1).mean() == pytest.approx(moment, rel=1e-3)
    assert np.abs(points.mean(axis=0)).max() < 1e-4


def test_blur_has_the_shape_of_the_blades():
    """A bright point half way to the focus draws the pupil upside down in the plane of focus, in its full size.

    Three blades: the corner below, √(2π/(3·sin 120°)) = 1.55512 radii from the middle, the straight edge above at half
    of that; both blurred by twice the point's own radius, 0.04 radii, and the corner seen by a few rays only. The
    middle of the film, 0.2 radii wide, shows both; beside it each tenth column will do.
    """
    pupil, n, size = 0.025, 201, 5e-4
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, 0, -1.0), EYE, (size, 0, 0))
    half = 1.8 * pupil
    stage = bench.stage(EYE, AHEAD, focus=2.0, pupil=pupil, blades=3, half_width=half, half_height=half)
    cells = np.arange(n * n).reshape(n, n)[:, np.unique(np.r_[0:n:10, n // 2 - 5 : n // 2 + 6])]
    tally = measure(stage, Target(FILM, n, n, cells.ravel(), 15), 1 << 16, replicates=32)
    lit = tally.cells.sum(axis=(0, 2, 3)).reshape(cells.shape).any(axis=1)
    heights = (1 - 2 * (np.flatnonzero(lit) + 0.5) / n) * half / pupil
    assert -1.56 - 0.05 < heights.min() < -1.56 + 0.1
    assert 0.78 - 0.05 < heights.max() < 0.78 + 0.05


@pytest.mark.parametrize("depth", [0.0, 0.03, 0.08])
@pytest.mark.parametrize("angle", [0.0, 15.0, 30.0, 55.0])
def test_hood_before_a_far_head(angle, depth):
    """Two discs of one radius, `depth` apart, share the area of two circles depth·tan θ apart: E = I·w·cos θ/d²."""
    radius, distance, a = 0.025, 1000.0, math.radians(angle)
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, distance * math.sin(a), -distance * math.cos(a)), EYE, (0.1, 0, 0))
    stage = bench.stage(EYE, AHEAD, half_width=1e-9, half_height=1e-9, front=radius, hood=depth)
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), 1024, replicates=REPLICATES)
    shift = depth * math.tan(a) / 2 / radius
    shared = 2 / math.pi * (math.acos(shift) - shift * math.sqrt(1 - shift**2)) if shift < 1 else 0.0
    assert veil.hood_acceptance(a, radius, depth) == pytest.approx(shared, abs=1e-12)
    expected = math.pi * 0.1**2 / distance**2 * math.cos(a) * shared
    measured = mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays)
    if shared == 0.0:
        assert measured == (0.0, 0.0)
    else:
        agrees(measured, expected, reference_error=1e-6 * expected)
        agrees(mean_and_error(tally.seen[:, 0] / tally.rays), shared)


@pytest.mark.parametrize("depth", [0.0, 0.02, 0.05, 0.2])
def test_hood_in_a_uniform_surround_howell_c41(depth):
    """A surround of luminance 1 gives π times the exchange factor of two equal coaxial discs."""
    radius = 0.025
    stage = Bench().stage(EYE, AHEAD, room=1.0, half_width=1e-9, half_height=1e-9, front=radius, hood=depth)
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), 8192, replicates=REPLICATES)
    x = 2 + (depth / radius) ** 2
    factor = 1.0 if depth == 0.0 else 0.5 * (x - math.sqrt(x * x - 4))
    assert veil.uniform_surround_acceptance(radius, depth) == pytest.approx(factor, rel=1e-12)
    agrees(mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays), math.pi * factor)


@pytest.mark.parametrize("glare", ["0.5 %", "3 %"])
@pytest.mark.parametrize("focal", ["100 mm", "24 mm"])
def test_uniform_surround_gives_back_the_veiling_glare_index_iso_9358(focal, glare):
    """The veil is g times the exposure of the uniform field around it, whatever part of the field is in the frame."""
    setup = loads(camera(focal=focal, f_number=8, glare=glare) + ROOM.format(lux=1000))
    stray = meter(setup, tolerance=0.01, threads=2).stray
    expected = exposure_per_luminance(setup.camera) * 1000 / math.pi / 100 * setup.camera.glare
    expected = math.log2(expected / mid_grey(100))
    print(f"measured {stray.veil.value:.5f} ± {stray.veil.half:.5f} stops (95 %), expected {expected:.5f}")
    assert stray.veil.half <= 0.01
    assert stray.veil.value == pytest.approx(expected, abs=2 * stray.veil.half + 1e-9)
    whole = stray.inside + stray.outside
    assert whole == pytest.approx(1000 / 100, rel=0.02)


def test_receptor_without_a_lens_reads_the_room():
    """A hemisphere of luminance 1 gives π (Lambert 1760)."""
    agrees(illuminance(Bench(), EYE, AHEAD, room=1.0), math.pi)
