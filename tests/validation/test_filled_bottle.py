"""A filled bottle is a thick cylindrical lens: where it bends the rays of the camera to, against paraxial arithmetic.

A ruled card behind a bottle of water is seen through it. The camera's rays near the axis pass four boundaries of radius
R or r and the glass and water between them; as 2 × 2 matrices on (height, angle) they are (Hecht, Optics, chapter 6)

    boundary: [1, 0; −(n' − n)/(R·n'), n/n'],    way d: [1, d; 0, 1].

The card's red share grows evenly from left to right while its green one stays, so that the ratio of red to green tells
where on the card a ray ends, whatever the light and the losses at the boundaries are.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import tifffile

from stages import measure
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM

OUTER, WALL, GLASS, WATER = 0.030, 0.002, 1.52, 1.333
CAMERA, CARD = 2.0, 0.110  # m from the bottle's axis
CARD_WIDTH = 0.02
SET = """
[camera]
body = "36x24"
focal = "100 mm"
f_number = 16
shutter = "1/160 s"
iso = 100
at = ["0 cm", "5 cm", "200 cm"]
aim = ["0 cm", "5 cm", "0 cm"]

[subject]
shape = {{ kind = "revolve", profile = [["30 mm", "0 cm"], ["30 mm", "12 cm"]], wall = "2 mm" }}
material = {{ reduced_scattering = "0 1/mm", absorption = "0 1/mm", n = 1.52 }}
{fill}

[[card]]
at = ["0 cm", "5 cm", "-11 cm"]
aim = ["0 cm", "5 cm", "10 cm"]
width = "2 cm"
height = "20 cm"
front = {{ pattern = {{ picture = "ramp.tif", width = "2 cm", height = "20 cm", encoding = "linear" }} }}

[[head]]
at = ["60 cm", "5 cm", "-5 cm"]
aim = ["0 cm", "5 cm", "-11 cm"]
face = {{ shape = "disc", diameter = "10 cm" }}
energy = "100 J"
"""


def boundary(n, onward, radius):
    return np.array([[1.0, 0.0], [-(onward - n) / (radius * onward), n / onward]])


def way(distance):
    return np.array([[1.0, distance], [0.0, 1.0]])


def through_bottle(inside):
    """Return the matrix from the front of the bottle to its back; radii are counted along the ray."""
    inner = OUTER - WALL
    steps = [
        boundary(1.0, GLASS, OUTER), way(WALL), boundary(GLASS, inside, inner), way(2 * inner),
        boundary(inside, GLASS, -inner), way(WALL), boundary(GLASS, 1.0, -OUTER),
    ]  # fmt: skip
    matrix = np.eye(2)
    for step in steps:
        matrix = step @ matrix
    return matrix


def on_card(inside):
    """Return where on the card, per unit of the angle at the pinhole, a paraxial ray ends."""
    whole = way(CARD - OUTER) @ through_bottle(inside) @ way(CAMERA - OUTER)
    return whole[0, 1]


def by_snell(inside, angle):
    """Return where on the card a ray at this angle ends, by Snell's law at each of the four circles in turn."""
    place, course = np.array([0.0, CAMERA]), np.array([math.sin(angle), -math.cos(angle)])
    inner = OUTER - WALL
    circles = ((OUTER, 1.0, GLASS), (inner, GLASS, inside), (inner, inside, GLASS), (OUTER, GLASS, 1.0))
    for number, (radius, n, onward) in enumerate(circles):
        nearest = -place @ course
        half = math.sqrt(radius**2 - place @ place + nearest**2)
        place = place + (nearest - half if number < 2 else nearest + half) * course
        normal = place / radius * (1.0 if number < 2 else -1.0)  # against the ray
        ratio, cosine = n / onward, -(course @ normal)
        course = ratio * course + (ratio * cosine - math.sqrt(1 - ratio**2 * (1 - cosine**2))) * normal
    return place[0] + course[0] / -course[1] * (place[1] + CARD)


def test_full_ball_lens_is_the_textbook_one():
    """Without a wall the cylinder has f = n·R/(2(n − 1)), counted from its middle (the textbook's ball lens)."""
    n, radius = 1.333, 0.03
    matrix = boundary(n, 1.0, -radius) @ way(2 * radius) @ boundary(1.0, n, radius)
    assert -1.0 / matrix[1, 0] == pytest.approx(n * radius / (2 * (n - 1)), rel=1e-12)


def seen_on_card(folder, fill, angles):
    """Return the place on the card, m, seen at these angles from the axis, and its standard error."""
    ramp = np.linspace(0.0, 1.0, 1001)
    picture = np.stack([65535 * ramp, np.full(1001, 65535.0), np.full(1001, 65535.0)], axis=-1).round()
    tifffile.imwrite(folder / "ramp.tif", np.repeat(picture[None], 8, axis=0).astype(np.uint16), photometric="rgb")
    stage, _ = build(loads(SET.format(fill=fill), folder=folder))
    stage.lens["pupil"] = 0.0
    stage.lens["half_height"] = 1e-9
    places, errors = [], []
    for angle in angles:
        one = stage._replace(lens=stage.lens.copy())
        # A frame so narrow that its right edge is the ray wanted: the last of two cells straddles it.
        one.lens["half_width"] = CAMERA * math.tan(angle)
        cells = np.array([999], np.int64)
        tally = measure(one, Target(FILM, 1000, 1, cells, 15), 512, replicates=32)
        sums = tally.cells.sum(axis=(1, 2))
        ratio = sums[:, 0] / sums[:, 1]
        places.append((ratio.mean() - 0.5) * CARD_WIDTH)
        errors.append(ratio.std(ddof=1) / math.sqrt(len(ratio)) * CARD_WIDTH)
    return np.array(places), np.array(errors)


@pytest.mark.parametrize(
    ("fill", "inside"),
    [
        ("", 1.0),
        (
            'fill = { level = "10 cm", material = { absorption = "0 1/mm", reduced_scattering = "0 1/m", n = 1.333 } }',
            1.333,
        ),
    ],
    ids=["empty", "full of water"],
)
def test_where_the_rays_go(tmp_path, fill, inside):
    """Snell's law at each circle holds to the facets' 4 µm sag; paraxial arithmetic besides to its third order.

    An empty bottle only shifts the rays a little; full of water it turns the card round: the sign of the slope differs.
    """
    angles = np.array([0.5e-3, 1.0e-3, 1.5e-3])
    places, errors = seen_on_card(tmp_path, fill, angles)
    exact = np.array([by_snell(inside, angle) for angle in angles])
    paraxial = on_card(inside) * angles
    print(places, errors, exact, paraxial)
    assert (errors < 0.01 * np.abs(exact)).all()
    assert places == pytest.approx(exact, rel=0.005, abs=4 * errors.max())
    assert places == pytest.approx(paraxial, rel=0.02, abs=4 * errors.max())
