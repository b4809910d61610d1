"""Printed pictures in a set: each place shows the picture's linear value there, on whatever face it is printed.

In an even room a matte face of reflectance ρ shows ρ of its luminance, with no noise at all. The picture's code values
are decoded by colour-science (IEC 61966-2-1), and told between the middles of its pixels by scipy (linear, the edges
going on). Under gloss the ground's ρ becomes F + (1 − F)·(1 − R_int)·ρ/(1 − ρ·R_int) for light along the normal
(Saunderson 1942, JOSA 32; n = 1.5: F = .04, R_int = .596346). Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import colour
import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import map_coordinates
from slab_stages import layers

from agreement import agrees
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.trace.expose import FILM

CODES = np.random.default_rng(6).integers(0, 256, (3, 4, 3)).astype(np.uint8)
CODES[0, 0], CODES[1, 1], CODES[2, 3] = 255, (0, 5, 10), (11, 128, 200)
WIDTH, HEIGHT, WHITE = 0.08, 0.06, 0.9  # pixels of 2 cm
FLOAT = 3e-7  # texels are of single precision

CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]
aim = ["0 cm", "0 cm", "0 cm"]
"""
ROOM = '\n[ambient]\nilluminance = "1000 lx"\n'
LAMP = """
[[head]]
face = { shape = "disc", diameter = "10 cm" }
at = ["60 cm", "40 cm", "120 cm"]
energy = "100 J"
"""
PRINT = '{ KIND pattern = { picture = "print.png", width = "8 cm", at = ["1 cm", "-5 mm"], white = 0.9 } }'
MIDDLE = (0.01, -0.005)  # of the picture on its face
SETS = {
    "card": '\n[[card]]\nat = ["0 cm", "0 cm", "0 cm"]\naim = ["0 cm", "0 cm", "60 cm"]\nwidth = "40 cm"\n'
    'height = "30 cm"\nfront = FINISH\n',
    "backdrop": '\n[backdrop]\ndistance = "30 cm"\nwidth = "80 cm"\nheight = "80 cm"\ncloth = FINISH\n',
    "slab": '\n[subject]\nshape = { kind = "slab", thickness = "1 cm", outline = { shape = "rectangle", '
    'width = "30 cm", height = "20 cm" } }\nsurface = FINISH\n',
    "round slab": '\n[subject]\nshape = { kind = "slab", thickness = "1 cm", edge = "2 mm", outline = { '
    'shape = "disc", diameter = "20 cm" } }\nsurface = FINISH\n',
}
PLACES = {
    "middle of a pixel": (-0.01, 0.015),
    "middle of a dark pixel": (0.0, -0.005),
    "between two": (0.013, 0.015),
    "between four": (0.017, 0.001),
    "near the corner": (0.049, -0.034),
    "beyond the edge": (-0.06, 0.022),
}


@pytest.fixture
def folder(tmp_path):
    """Return a folder with the print beside the setup file."""
    Image.fromarray(CODES).save(tmp_path / "print.png")
    return tmp_path


def printed(x, y):
    """Return the reflectance by band at a place of the face, m to the right and up from its middle."""
    light = WHITE * colour.models.eotf_sRGB(CODES / 255.0)
    column = (x - MIDDLE[0] + WIDTH / 2) / WIDTH * CODES.shape[1] - 0.5
    row = (MIDDLE[1] + HEIGHT / 2 - y) / HEIGHT * CODES.shape[0] - 0.5
    return np.array([map_coordinates(light[..., b], [[row], [column]], order=1, mode="nearest")[0] for b in range(3)])


def shown(text, folder, place, paths=64, behind=False):
    """Return luminance by band at one place of a set looked at straight on, and its standard error, (layers, bands)."""
    stage, _ = build(loads(CAMERA + text, folder=folder))
    lens = stage.lens
    lens["ox"], lens["oy"], lens["pupil"] = *place, 0.0
    lens["half_width"] = lens["half_height"] = 1e-12
    if behind:
        lens["oz"] *= -1.0
        for axis in ("tx", "nz"):
            lens[axis] *= -1.0
    mean, error = layers(stage, FILM, 64 * paths)
    return mean / (1.0 if stage.heads.size else stage.room), error / (1.0 if stage.heads.size else stage.room)


def finish(kind=""):
    return PRINT.replace("KIND", kind)


@pytest.mark.parametrize("where", PLACES)
@pytest.mark.parametrize("name", SETS)
def test_each_place_of_a_print_shows_its_linear_value(name, where, folder):
    x, y = PLACES[where]
    mean, error = shown(SETS[name].replace("FINISH", finish()) + ROOM, folder, (x, y))
    assert error[-1] == pytest.approx(np.zeros(3), abs=1e-12)
    assert mean[-1] == pytest.approx(printed(x, y), rel=FLOAT, abs=1e-9)


def test_places_tell_unlike_values():
    """The check above tells one place from another, and a picture from one upside down or mirrored."""
    values = np.array([printed(*place) for place in PLACES.values()])
    assert np.ptp(values, axis=0).min() > 0.3
    mirrored = np.array([printed(2 * MIDDLE[0] - x, y) for x, y in PLACES.values()])
    upside_down = np.array([printed(x, 2 * MIDDLE[1] - y) for x, y in PLACES.values()])
    for other in (mirrored, upside_down):
        assert np.sum(np.abs(other - values).max(axis=1) > 0.05) >= 4


@pytest.mark.parametrize("where", ["middle of a pixel", "between four"])
def test_the_back_of_a_slab_shows_the_print_through_it(where, folder):
    x, y = PLACES[where]
    mean, _ = shown(SETS["slab"].replace("FINISH", finish()) + ROOM, folder, (x, y), behind=True)
    assert mean[-1] == pytest.approx(printed(x, y), rel=FLOAT, abs=1e-9)


@pytest.mark.parametrize("where", PLACES)
def test_print_under_gloss_saunderson_1942(where, folder):
    x, y = PLACES[where]
    mean, error = shown(SETS["card"].replace("FINISH", finish('kind = "gloss",')) + ROOM, folder, (x, y), 1024)
    rho, f, inner = printed(x, y), 0.04, 0.596346
    expected = f + (1.0 - f) * (1.0 - inner) * rho / (1.0 - rho * inner)
    for band in range(3):
        agrees((mean[-1, band], error[-1, band]), expected[band], 1e-6)


@pytest.mark.parametrize("where", PLACES)
@pytest.mark.parametrize("name", ["card", "backdrop", "slab"])
def test_print_under_a_lamp_is_to_a_grey_one_as_its_reflectance(name, where, folder):
    """A matte face sends back ρ·E/π: against ρ = .5, lit alike and by the same paths, exactly in the ratio."""
    x, y = PLACES[where]
    mean, error = shown(SETS[name].replace("FINISH", finish()) + LAMP, folder, (x, y), 16)
    grey, _ = shown(SETS[name].replace("FINISH", "{ reflectance = 0.5 }") + LAMP, folder, (x, y), 16)
    assert np.all(grey[0] > 0.0)
    assert np.all(error[0] < 0.01 * mean[0] + 1e-12)
    assert mean[0] / grey[0] * 0.5 == pytest.approx(printed(x, y), rel=FLOAT, abs=1e-9)
