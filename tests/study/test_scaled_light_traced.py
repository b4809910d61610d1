"""A set's light by layer, scaled by the ratio of powers, is the light of another set that differs in powers alone."""

from __future__ import annotations

import numpy as np

from agreement import agrees
from plain_camera import CAMERA
from stages import LUMINANCE, mean_and_error, measure
from throughlight.setup import Setup, loads
from throughlight.stage.build import build
from throughlight.study.light import geometry_key, powers
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM
from throughlight.trace.tables import Region

SET = """
[[head]]
name = "key"
face = { shape = "disc", diameter = "20 cm" }
at = { bearing = "60 deg", distance = "80 cm" }
energy = "100 J"

[[head]]
name = "rim"
face = { shape = "rectangle", width = "30 cm", height = "60 cm" }
at = { bearing = "-100 deg", distance = "60 cm", height = "20 cm" }
meter = "f/8 at 1 m, ISO 100"

[[window]]
at = ["2 m", "50 cm", "1 m"]
width = "1 m"
height = "1 m"
luminance = "3000 cd/m2"

[ambient]
illuminance = "200 lx"

[[card]]
at = ["-40 cm", "0 cm", "20 cm"]
width = "40 cm"
height = "60 cm"

[backdrop]
distance = "20 cm"
width = "2 m"
height = "2 m"
cloth = "grey paper"
"""


def backdrop_by_layer(setup: Setup, seed: int) -> np.ndarray:
    """Return the backdrop's luminance × time by replicate and layer, (64, 4)."""
    stage, _ = build(setup)
    target = Target(FILM, 1, 1, np.zeros(1, np.int64), 1 << Region.BACKDROP)
    tally = measure(stage, target, 2048, seed=seed, replicates=64)
    return (tally.cells[:, 0] @ LUMINANCE) / tally.counts[:, 0, Region.BACKDROP][:, None]


def test_layers_scale_with_the_powers() -> None:
    # The second set is lit as strongly in other words: another way of giving each head's output, other stops, another
    # shutter time. Seeds differ, so that the two are independent; each layer is held against the scaled mean of the
    # first set's, whose own error counts as the reference's (four sigmas of either).
    first = loads(CAMERA + SET)
    second = loads(
        CAMERA.replace('"1/160 s"', '"1/30 s"').replace("iso = 100", "iso = 800")
        + SET.replace('energy = "100 J"', 'guide_number = "60 m"\nstops = "-1.3 stop"')
        .replace('meter = "f/8 at 1 m, ISO 100"', 'energy = "400 J"\nefficacy = "50 lm·s/J"')
        .replace('"3000 cd/m2"', '"700 cd/m2"')
    )
    assert geometry_key(first) == geometry_key(second)
    ratio = powers(second) / powers(first)
    assert (np.abs(np.log2(ratio)) > 0.1).all()
    ours, theirs = backdrop_by_layer(first, 1), backdrop_by_layer(second, 2)
    for layer in range(4):
        value, error = mean_and_error(ours[:, layer] * ratio[layer])
        agrees(mean_and_error(theirs[:, layer]), value, reference_error=4.0 * error)
