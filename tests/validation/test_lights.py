"""Light as it is set up, traced, against closed forms: lamp files, profiles, grids, snoots, barn doors, gels, windows.

A set is built from its text; the receptor is a small front element whose picture angle takes nothing away.
Configuration factors as in test_illuminance.py. Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

import closed_forms
from agreement import REPLICATES, agrees
from lamp_texts import FIVES, lamp_text
from stages import LUMINANCE, Bench, mean_and_error, measure
from throughlight.readings.meter import meter
from throughlight.readings.power import power_reading
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.trace.driver import Target
from throughlight.trace.expose import FRONT

SHUTTER = 0.5
CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 16
shutter = "0.5 s"
iso = 100
at = ["0 cm", "30 cm", "-40 cm"]
transmittance = 1.0
glare = "0 %"
"""
HERE = (0.0, 0.0, 0.0)
TINY = '{ shape = "disc", diameter = "0.1 mm" }'
"""Seen from 3 m within 1/60 000: even a kink on the axis is met."""


def head(*keys, at=("0 m", "0 m", "0 m"), face='{ shape = "disc", diameter = "1 mm" }'):
    """Return a head at the mark that shines along +z."""
    lines = ["[[head]]", 'name = "lamp"', f"at = {list(at)}", 'aim = ["0 m", "0 m", "9 m"]', *keys]
    return "\n".join([*lines, f"face = {face}"] if face else lines) + "\n"


def received(text, at, toward, folder=None, paths=1024, radius=0.0):
    """Return the exposure, lx·s, by band of a receptor at `at` that faces `toward`: (replicates, 3)."""
    stage, _ = build(loads(CAMERA + text, folder=folder))
    lens = Bench().stage(at, toward, half_width=1e-9, half_height=1e-9, front=radius).lens
    front = Target(FRONT, 1, 1, np.zeros(1, np.int64), 15)
    tally = measure(stage._replace(lens=lens), front, paths, replicates=REPLICATES)
    return tally.cells[:, 0].sum(axis=1) / tally.rays


def exposure(*args, **how):
    return mean_and_error(received(*args, **how) @ LUMINANCE)


@pytest.fixture
def folder(tmp_path):
    def skew(v, h):
        return 1000 * math.cos(math.radians(v)) * (1.5 + math.cos(math.radians(h - 30))) if v < 90 else 0

    (tmp_path / "panel.ies").write_text(lamp_text())
    (tmp_path / "point.ies").write_text(lamp_text(opening=(0, 0, 0)))
    (tmp_path / "skew.ies").write_text(
        lamp_text(FIVES, tuple(range(0, 361, 15)), candela=skew, opening=(0, 0, 0), multiplier=0.5)
    )
    (tmp_path / "tilt.ies").write_text(
        lamp_text(opening=(0, 0, 0), tilt="INCLUDE", after_tilt="1 3 0 90 180 1.0 0.8 0.6 ")
    )
    return tmp_path


FILE = 'output = "file"'


def test_lamp_file_at_two_metres(folder):
    """1000 cd give 250 lx at 2 m, over half a second.

    A disc of 2 cm, seen within .29° of its axis, takes 2.5e-5 off that (B-12), and the straight line to the file's next
    angle at 5° up to 2.2e-4.
    """
    text = head('profile = "point.ies"', FILE, face=None)
    agrees(exposure(text, (0, 0, 2), HERE, folder), 250 * SHUTTER, reference_error=2.5e-4 * 125)


def test_lamp_file_tilted(folder):
    """Level, 90° off the nadir, the made-up lamp gives 0.8 of its light."""
    text = head('profile = "tilt.ies"', FILE, face=None)
    agrees(exposure(text, (0, 0, 2), HERE, folder), 0.8 * 250 * SHUTTER, reference_error=2.5e-4 * 100)


@pytest.mark.parametrize(("v", "h"), [(30, 0), (30, 90), (60, 180), (45, 270), (60, 37.5), (85, 30)])
def test_lamp_file_by_direction(folder, v, h):
    """I at the file's own nodes (37.5° is half way between two); plane 0 lies along the head's x, 90 along its y."""
    t, p = math.radians(v), math.radians(h)
    place = (2 * math.sin(t) * math.cos(p), 2 * math.sin(t) * math.sin(p), 2 * math.cos(t))
    around = [15 * math.floor(h / 15), 15 * math.ceil(h / 15)]
    lobe = 1.5 + np.mean([math.cos(math.radians(one - 30)) for one in around])
    expected = 500 * math.cos(t) * lobe / 4 * SHUTTER
    text = head('profile = "skew.ies"', FILE, face=None)
    agrees(exposure(text, place, HERE, folder), expected, reference_error=1e-3 * expected)


def test_lamp_file_close_by_is_a_panel_howell_b4(folder):
    """1000 cd from .6 × .9 m are 1851.85 cd/m²; at .5 m the panel gives 0.803 stop less than 4000 lx.

    F = 0.3939381136. Straight lines between 5° steps of the cosine hold .0635 % less flux, here at most .13 %.
    """
    text = head('profile = "panel.ies"', FILE, face=None)
    value, error = exposure(text, (0, 0, 0.5), HERE, folder)
    expected = math.pi * 1000 / 0.54 * 0.3939381136 * SHUTTER
    agrees((value, error), expected, reference_error=1.3e-3 * expected)
    assert math.log2(4000 * SHUTTER / value) == pytest.approx(0.803, abs=0.02)


@pytest.mark.parametrize(("degrees", "relative"), [(0, 1.0), (15, 0.8), (30, 0.6), (60, 0.3), (75, 0.15)])
def test_profile_in_pairs_by_direction(degrees, relative):
    """Straight lines from 1 at 0° over .6 at 30° to 0 at 90°; 100 J · 35 lm·s/J spread by the integral of that."""
    profile = 'profile = [["0 deg", 1], ["30 deg", 0.6], ["90 deg", 0]]'
    t = np.radians(np.linspace(0, 90, 200_001))
    flux = 2 * math.pi * np.trapezoid(np.interp(t, np.radians([0, 30, 90]), [1, 0.6, 0]) * np.sin(t), t)
    a = math.radians(degrees)
    measured = exposure(
        head(profile, 'energy = "100 J"', face=TINY), (3 * math.sin(a), 0, 3 * math.cos(a)), HERE, paths=256
    )
    agrees(measured, 3500 / flux * relative / 9, reference_error=1e-5 * measured[0])


def test_all_of_a_softboxs_light():
    """The kit's softbox, small: what a coaxial disc of 40 m gets at 10 cm is all but 4e-6 of the lm·s that are told.

    Mean exposure times area; energy before the modifier 100 J · 35 · 0.45 = 1575 lm·s.
    """
    face = '{ shape = "rectangle", width = "1 mm", height = "1 mm" }'
    text = head('modifier = "softbox 60x60"', 'energy = "100 J"', face=face)
    told = power_reading(loads(CAMERA + text)).heads[0].output.luminous_energy
    assert told == pytest.approx(1575, rel=1e-9)
    value, error = exposure(text, (0, 0, 0.1), HERE, paths=1 << 14, radius=1.0)
    assert value > 0
    inside = _flux_within(loads(CAMERA + text).heads[0], math.atan(10.0))
    agrees((value * math.pi, error * math.pi), inside)


def _flux_within(head, angle):
    t = np.linspace(0, angle, 400_001)
    relative = np.interp(t, head.profile.angles, head.profile.intensities)
    whole = np.linspace(0, math.pi / 2, 400_001)
    all_of_it = np.interp(whole, head.profile.angles, head.profile.intensities)
    return 1575 * np.trapezoid(relative * np.sin(t), t) / np.trapezoid(all_of_it * np.sin(whole), whole)


@pytest.mark.parametrize("degrees", [0, 5, 10, 16])
def test_honeycomb_by_direction(degrees):
    """A grid of 40° cuts off at 20°; a cell passes (2/π)(acos x − x√(1 − x²)), x = tanθ/tan 20°. 1000 cd·s on axis."""
    joules = 1000 * math.pi / 35
    a = math.radians(degrees)
    x = math.tan(a) / math.tan(math.radians(20))
    passed = 2 / math.pi * (math.acos(x) - x * math.sqrt(1 - x * x))
    text = head(f'energy = "{joules} J"', 'grid = "40 deg"', face=TINY)
    measured = exposure(text, (3 * math.sin(a), 0, 3 * math.cos(a)), HERE, paths=512)
    expected = 1000 * math.cos(a) * passed / 9
    agrees(measured, expected, reference_error=2e-4 * expected)


def test_honeycomb_is_dark_beyond_its_cut_off():
    text = head('energy = "100 J"', 'grid = "40 deg"')
    a = math.radians(20.5)
    assert exposure(text, (3 * math.sin(a), 0, 3 * math.cos(a)), HERE) == (0.0, 0.0)


def test_all_of_the_light_behind_a_honeycomb():
    """A disc that catches the whole cone gets the lm·s that are told; of π·I₀ a tube's ends pass F (Howell C-41)."""
    text = head('energy = "100 J"', 'grid = "60 deg"')
    (told,) = power_reading(loads(CAMERA + text)).heads
    assert told.grid == pytest.approx(closed_forms.coaxial_discs(1, 1, 2 / math.tan(math.pi / 6)), rel=1e-3)
    assert told.output.luminous_energy == pytest.approx(3500 * told.grid, rel=1e-12)
    radius = 1.02 * math.tan(math.pi / 6)
    value, error = exposure(text, (0, 0, 1), HERE, paths=8192, radius=radius)
    agrees((value * math.pi * radius**2, error * math.pi * radius**2), told.output.luminous_energy)


WIDE = '{ shape = "disc", diameter = "20 cm" }'


def snooted(x, d, r, length):
    """Return E/L at (x, 0, d): the part of a disc of radius r that is seen through the mouth of a tube before it.

    The mouth, seen from there, lies on the face's plane as a circle of radius r·d/(d − l) about −x·l/(d − l).
    """
    centre, wide = -x * length / (d - length), r * d / (d - length)

    def piece(b, a):
        if (a - centre) ** 2 + b * b > wide * wide:
            return 0.0
        return d * d / ((a - x) ** 2 + b * b + d * d) ** 2

    first, last = max(-r, centre - wide), min(r, centre + wide)

    def edge(a):
        return math.sqrt(max(0.0, min(r * r - a * a, wide * wide - (a - centre) ** 2)))

    value, _ = dblquad(piece, first, last, lambda a: -edge(a), edge, epsabs=1e-9, epsrel=1e-7)
    return value


@pytest.mark.parametrize("x", [0.0, 0.1, 0.25, 0.4])
def test_snoot_leaves_what_is_seen_through_its_mouth(x):
    """A Lambertian disc of 20 cm, 3500 lm·s, in a black tube 30 cm long; the receptor stands 1 m off, facing back."""
    text = head('energy = "100 J"', 'snoot = { length = "30 cm" }', face=WIDE)
    luminance = 3500 / (math.pi * math.pi * 0.1**2)
    expected = luminance * snooted(x, 1.0, 0.1, 0.3)
    agrees(exposure(text, (x, 0, 1), (x, 0, 0), paths=8192), expected)


def test_snoot_on_the_axis_hides_nothing_howell_b12():
    assert snooted(0, 1, 0.1, 0.3) == pytest.approx(math.pi * closed_forms.coaxial_disc(0.1, 1), rel=1e-6)


def test_snoot_is_dark_outside_its_pool():
    """The last ray runs from rim to rim: at 1 m the pool of light ends 0.1 + 0.2·(1 − 0.3)/0.3 = 0.5667 m off."""
    text = head('energy = "100 J"', 'snoot = { length = "30 cm" }', face=WIDE)
    assert exposure(text, (0.57, 0, 1), (0.57, 0, 0), paths=4096) == (0.0, 0.0)
    assert exposure(text, (0.55, 0, 1), (0.55, 0, 0), paths=4096)[0] > 0.0


def test_narrow_snoot_covers_the_rest_of_the_face():
    """6 cm of a 20 cm disc: the same luminance, 9 % of the light; on the axis B-12 of a disc of 6 cm."""
    text = head('energy = "100 J"', 'snoot = { length = "20 cm", diameter = "6 cm" }', face=WIDE)
    luminance = 3500 / (math.pi * math.pi * 0.1**2)
    assert power_reading(loads(CAMERA + text)).heads[0].output.luminous_energy == pytest.approx(0.09 * 3500, rel=1e-9)
    agrees(exposure(text, (0, 0, 1), HERE, paths=512), luminance * math.pi * closed_forms.coaxial_disc(0.03, 1))


PANEL = '{ shape = "rectangle", width = "40 cm", height = "30 cm" }'


@pytest.mark.parametrize(("side", "degrees", "length", "place"), [
    ("right", 20, 0.25, (0.9, 0.0, 1.0)),
    ("left", 20, 0.25, (-0.9, 0.0, 1.0)),
    ("right", -30, 0.2, (0.1, 0.0, 1.0)),
    ("top", 10, 0.25, (0.0, 0.5, 1.0)),
    ("bottom", 10, 0.25, (0.0, -0.5, 1.0)),
    ("left", 20, 0.25, (0.6, 0.0, 1.0)),
])  # fmt: skip
def test_barn_door_is_a_knife_edge(side, degrees, length, place):
    """What a door leaves of a panel ends where the line over its free edge meets the face: Lambert's polygon.

    The receptor faces straight back. The last case stands on the other side, where the door hides nothing.
    """
    text = head('energy = "100 J"', f'barn_doors = {{ {side} = "{degrees} deg", length = "{length} m" }}', face=PANEL)
    luminance = 3500 / (math.pi * 0.4 * 0.3)
    upright = side in ("top", "bottom")
    sign = 1 if side in ("right", "top") else -1
    across = sign * (place[1] if upright else place[0])
    half, other = (0.15, 0.2) if upright else (0.2, 0.15)
    a = math.radians(degrees)
    tip = (half + length * math.sin(a), length * math.cos(a))
    edge = min(half, tip[0] + (tip[0] - across) * tip[1] / (place[2] - tip[1])) if across > -half else half
    corners = [(sign * x, y) for x, y in ((-half, -other), (edge, -other), (edge, other), (-half, other))]
    corners = [(y, x, 0.0) if upright else (x, y, 0.0) for x, y in corners]
    expected = luminance * math.pi * closed_forms.polygon(corners, place, (0, 0, -1))
    agrees(exposure(text, place, (place[0], place[1], 0), paths=8192), expected)
    if across > 0:
        whole = math.pi * closed_forms.polygon(
            [(x, y, 0) for x, y in ((-0.2, -0.15), (0.2, -0.15), (0.2, 0.15), (-0.2, 0.15))], place, (0, 0, -1)
        )
        assert expected < 0.9 * luminance * whole


def test_barn_doors_close_a_face_entirely():
    """Four doors folded flat over the face, long enough to meet, let nothing out ahead."""
    doors = ", ".join(f'{side} = "-60 deg"' for side in ("left", "right", "top", "bottom"))
    text = head('energy = "100 J"', f'barn_doors = {{ {doors}, length = "60 cm" }}', face=PANEL)
    assert exposure(text, (0, 0, 1), HERE, paths=2048) == (0.0, 0.0)


def test_routes_name_the_shades():
    _, cast = build(loads(CAMERA + head(
        'energy = "100 J"', 'snoot = { length = "20 cm" }', 'barn_doors = { left = "30 deg", top = "20 deg" }'
    )))  # fmt: skip
    assert {"lamp, face", "lamp, snoot", "lamp, left barn door", "lamp, top barn door"} <= set(cast.parts)


@pytest.mark.parametrize("gel", ["[0.9, 0.6, 0.3]", '"full warming"', "0.25"])
def test_gel_in_three_bands(gel):
    """Each band of what arrives, over the same without a gel; the camera is balanced for the lamp, 5600 K."""
    gel = f"{{ transmittance = {gel} }}" if gel == "0.25" else gel
    plain = received(head('energy = "100 J"'), (0, 0, 2), HERE, paths=256).mean(axis=0)
    text = head('energy = "100 J"', f"gel = {gel}")
    filtered = received(text, (0, 0, 2), HERE, paths=256).mean(axis=0)
    (told,) = power_reading(loads(CAMERA + text)).heads
    assert filtered @ LUMINANCE / (plain @ LUMINANCE) == pytest.approx(told.gel[1], rel=1e-6)
    assert told.output.luminous_energy == pytest.approx(3500 * told.gel[1], rel=1e-9)
    if gel.startswith("["):
        share = filtered / plain
        assert share / share[0] == pytest.approx(np.divide((0.9, 0.6, 0.3), 0.9), rel=1e-6)
        # The share that passes is of light as it is: daylight of 5600 K is redder than the bands' white, D65.
        assert told.gel[1] == pytest.approx(float(LUMINANCE @ (0.9, 0.6, 0.3)), rel=0.03)
    elif gel.startswith('"'):
        lamp = 'temperature = "3200 K"\nenergy = "100 J"'
        warm = received(head(lamp), (0, 0, 2), HERE, paths=256).mean(axis=0)
        assert filtered / (filtered @ LUMINANCE) == pytest.approx(warm / (warm @ LUMINANCE), rel=1e-6)
    else:
        assert told.gel[1] == pytest.approx(0.25, rel=1e-9)


def test_reading_is_taken_behind_gel_and_grid():
    """f/11 at 1 m, ISO 100, is 302.5 lx·s there (C = 250), whatever hangs before the head."""
    text = head('meter = "f/11 at 1 m, ISO 100"', 'gel = "half warming"', 'grid = "30 deg"', face=WIDE)
    agrees(exposure(text, (0, 0, 1), HERE, paths=8192), 302.5)


@pytest.mark.parametrize(("width", "height", "distance", "factor"), [
    (0.6, 0.9, 0.5, 0.3939381136), (0.3, 1.2, 0.4, 0.3214514147), (1.0, 1.0, 2.0, 0.0734776348),
])  # fmt: skip
def test_window_howell_b4(width, height, distance, factor):
    """A window of 3000 cd/m² gives π·3000·F lx, over half a second."""
    text = f"""
[[window]]
at = ["0 m", "0 m", "0 m"]
aim = ["0 m", "0 m", "1 m"]
width = "{width} m"
height = "{height} m"
luminance = "3000 cd/m2"
"""
    agrees(exposure(text, (0, 0, distance), HERE), math.pi * 3000 * factor * SHUTTER)


def test_lamp_of_300_watts():
    """300 W · 25 lm/W = 7500 lm; a Lambertian face sends 7500/π = 2387.324 cd, 596.831 lx at 2 m. Half a stop down."""
    text = head('power = "300 W"', 'efficacy = "25 lm/W"')
    agrees(exposure(text, (0, 0, 2), HERE, paths=256), 596.831 * SHUTTER, reference_error=1e-3)
    (told,) = power_reading(loads(CAMERA + text)).heads
    assert told.as_json()["luminous_flux_lm"] == pytest.approx(7500, rel=1e-12)
    assert told.as_json()["axial_intensity_cd"] == pytest.approx(2387.324, abs=5e-4)
    assert told.as_json()["full_W"] == 300
    lower = head('power = "300 W"', 'efficacy = "25 lm/W"', 'stops = "-0.5 stop"')
    agrees(exposure(lower, (0, 0, 2), HERE, paths=256), 596.831 * SHUTTER * 2**-0.5, reference_error=1e-3)


def test_lamp_read_in_lux():
    """5000 lx read at 1 m before a panel of .6 × .9 m are 5000 lx there."""
    text = head('illuminance = "5000 lx at 1 m"', face='{ shape = "rectangle", width = "0.6 m", height = "0.9 m" }')
    agrees(exposure(text, (0, 0, 1), HERE), 5000 * SHUTTER)


CARD = """\
[subject]
name = "grey card"
shape = { kind = "slab", outline = { shape = "rectangle", width = "10 mm", height = "10 mm" }, thickness = "1 um" }
aim = ["0 cm", "0 cm", "-50 cm"]
surface = { reflectance = 0.18 }
"""
STEADY = """\
[[window]]
name = "window"
at = ["0 m", "0 m", "-50 cm"]
width = "0.6 m"
height = "0.9 m"
luminance = "100 cd/m2"

[[head]]
name = "lamp"
at = ["0 m", "0 m", "-2 m"]
face = { shape = "disc", diameter = "5 cm" }
power = "100 W"
efficacy = "25 lm/W"

[ambient]
illuminance = "40 lx"
"""
FLASH = """\
[[head]]
name = "flash"
at = ["1 m", "0 m", "-1 m"]
face = { shape = "disc", diameter = "5 cm" }
energy = "1 J"
"""


def stops_of(lux_seconds):
    """Return stops over mid-grey of the card: H = (π/4)·ρ·E/π/N_w², N_w = 16·1.25, against 10/S (ISO 12232:2006)."""
    return math.log2(math.pi / 4 * 0.18 * lux_seconds / math.pi / 20**2 / 0.1)


def test_ambient_is_window_lamp_and_room_but_no_flash():
    """E = π·100·F + 40 over half a second; the window stands in the lamp's way, whose light it keeps off.

    The flash, 35 lm·s from 1.414 m at 45°: 35/π · cos 45°/2; on the card, not in the frame without flash.
    """
    window = math.pi * 100 * 0.3939381136 * SHUTTER
    # The window's black back takes its own part of the room's light away.
    room = 40 * (1 - 0.3939381136) * SHUTTER
    flash = 35 / math.pi * math.cos(math.pi / 4) / 2
    both = meter(loads(CAMERA + CARD + STEADY + FLASH), tolerance=0.01)
    for figure, expected in (
        (both.ambient.subject, stops_of(window + room)),
        (both.subject.image, stops_of(window + room + flash)),
        (both.subject.by_head["flash"], stops_of(flash)),
        (both.subject.by_head["window"], stops_of(window)),
    ):
        print(f"measured {figure.value:.4f} ± {figure.half:.4f} (95 %), expected {expected:.4f}")
        assert figure.half <= 0.03
        assert abs(figure.value - expected) <= 2 * figure.half + 1e-3
    assert both.subject.by_head["lamp"].value == -math.inf
    named = both.as_json()["stray_light"]["veil_exposure_by_band_lx_s"]
    assert list(named) == ["lamp", "flash", "window", "room light"]


def test_ambient_with_the_lamp_alone():
    """100 W · 25 lm/W = 2500 lm, 2500/π cd, a quarter of that in lx at 2 m: a reading without room light or flash."""
    lamp = STEADY[STEADY.index("[[head]]") : STEADY.index("[ambient]")]
    steady = meter(loads(CAMERA + CARD + lamp), tolerance=0.005)
    expected = stops_of(2500 / math.pi / (4 + 0.025**2) * SHUTTER)
    assert abs(steady.ambient.subject.value - expected) <= 2 * steady.ambient.subject.half + 1e-3
    assert steady.ambient.subject.value == pytest.approx(steady.subject.image.value, abs=1e-9)
    assert meter(loads(CAMERA + CARD + FLASH), tolerance=0.1).ambient is None
