"""What only scales a light, and by how much; and that everything else makes a set of its own to trace."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from study_texts import SET

from throughlight.setup import load, loads
from throughlight.study.light import geometry_key, joules, powers, whole_key

MORE = """
[[head]]
name = "lamp"
face = { shape = "rectangle", width = "20 cm", height = "30 cm" }
at = ["1 m", "50 cm", "50 cm"]
power = "100 W"
efficacy = "25 lm/W"

[[window]]
at = ["3 m", "0 m", "0 m"]
width = "1 m"
height = "2 m"
luminance = "3000 cd/m2"

[ambient]
illuminance = "20 lx"
"""
LIGHTS = SET + MORE
SCENES = Path(__file__).parents[2] / "scenes"


def ratios(old: str, new: str, text: str = LIGHTS) -> np.ndarray:
    """Return how the lights of a set grow when one passage changes; what is traced must stay the same."""
    assert text.count(old) == 1, old
    before, after = loads(text), loads(text.replace(old, new))
    assert geometry_key(before) == geometry_key(after)
    assert whole_key(before) != whole_key(after)
    return powers(after) / powers(before)


@pytest.mark.parametrize(
    ("old", "new", "layer", "ratio"),
    [
        ('energy = "100 J"', 'energy = "200 J"', 0, 2.0),
        ('stops = "-1 stop"', 'stops = "+1 stop"', 0, 4.0),
        ('stops = "-1 stop"', 'stops = "-1.5 stop"', 0, math.sqrt(0.5)),
        ('energy = "100 J"', 'energy = "100 J"\nefficacy = "70 lm·s/J"', 0, 2.0),
        ('power = "100 W"', 'power = "300 W"', 2, 3.0),
        ('luminance = "3000 cd/m2"', 'luminance = "1500 cd/m2"', 3, 0.5),
        ('illuminance = "20 lx"', 'illuminance = "160 lx"', 4, 8.0),
    ],
)
def test_a_light_grows_alone(old: str, new: str, layer: int, ratio: float) -> None:
    expected = np.ones(5)
    expected[layer] = ratio
    assert ratios(old, new) == pytest.approx(expected, rel=1e-12)


def test_an_aperture_number_or_two_on_the_meter() -> None:
    # Light goes with the square of the f-number that a meter shows: from f/8 to f/16 are two stops.
    at = 'meter = "f/8 at 1 m, ISO 100"'
    text = LIGHTS.replace('energy = "100 J"', at)
    assert ratios(at, 'meter = "f/16 at 1 m, ISO 100"', text)[0] == pytest.approx(4.0, rel=1e-12)
    assert ratios(at, 'meter = "f/11 at 1 m, ISO 100"', text)[0] == pytest.approx((11 / 8) ** 2, rel=1e-12)
    assert ratios(at, 'meter = "f/8 at 1 m, ISO 200"', text)[0] == pytest.approx(0.5, rel=1e-12)


def test_guide_numbers() -> None:
    # ISO 1230 (from memory): guide number = f-number · distance at ISO 100; twice that is four times the light.
    at = 'guide_number = "20 m"'
    text = LIGHTS.replace('energy = "100 J"', at)
    assert ratios(at, 'guide_number = "40 m"', text)[0] == pytest.approx(4.0, rel=1e-12)
    # Far from a face that is small beside the distance, the meter shows guide number over distance.
    meter = LIGHTS.replace('energy = "100 J"', 'meter = "f/2 at 10 m, ISO 100"')
    assert powers(loads(text))[0] == pytest.approx(powers(loads(meter))[0], rel=2e-4)
    assert geometry_key(loads(text)) == geometry_key(loads(meter))


def test_the_shutter_time_lets_in_more_of_what_shines_all_the_time() -> None:
    assert ratios('shutter = "1/125 s"', 'shutter = "1/60 s"') == pytest.approx([1, 1] + [125 / 60] * 3, rel=1e-12)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("iso = 100", "iso = 400"),
        ('title = "Slice"', 'title = "Another"'),
        ('name = "fill"', 'name = "white"'),
        ('subject = "+0.5 stop"', 'subject = "+1 stop"'),
        ('name = "rim"', 'name = "edge"'),
    ],
)
def test_what_changes_no_light(old: str, new: str) -> None:
    assert ratios(old, new) == pytest.approx(np.ones(5))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('bearing = "-130 deg"', 'bearing = "-131 deg"'),
        ('energy = "100 J"', 'energy = "100 J"\ntemperature = "5000 K"'),
        ('energy = "100 J"', 'energy = "100 J"\ngrid = "30 deg"'),
        ('energy = "100 J"', 'energy = "100 J"\nbeam = "60 deg"'),
        ('energy = "100 J"', 'energy = "100 J"\ngel = [0.5, 0.5, 0.5]'),
        ('energy = "100 J"', 'illuminance = "100 lx at 1 m"'),  # no flash any more
        ("f_number = 11", "f_number = 8"),
        ('thickness = "5 mm"', 'thickness = "6 mm"'),
        ("roughness = 0.1", "roughness = 0.2"),
        ('cloth = "black velvet"', 'cloth = "grey paper"'),
        ('luminance = "3000 cd/m2"', 'luminance = "0 cd/m2"'),  # nothing to scale from
        ('illuminance = "20 lx"', 'illuminance = "0 lx"'),
        ('illuminance = "20 lx"', 'illuminance = "20 lx"\ntemperature = "3000 K"'),
        ('y = "30 %"', 'y = "31 %"'),
        ('name = "fill"\n', 'name = "fill"\nfront = "black card"\n'),
    ],
)
def test_everything_else_is_traced_anew(old: str, new: str) -> None:
    assert LIGHTS.count(old) == 1, old
    assert geometry_key(loads(LIGHTS)) != geometry_key(loads(LIGHTS.replace(old, new)))


def test_files_count_by_what_is_in_them(tmp_path: Path) -> None:
    name = "outline-from-svg.toml"
    for folder in ("here", "there"):
        (tmp_path / folder).mkdir()
        shutil.copy(SCENES / "examples" / name, tmp_path / folder)
        shutil.copytree(SCENES / "examples" / "assets", tmp_path / folder / "assets")
    sets = [load(tmp_path / folder / name) for folder in ("here", "there")]
    assert len({geometry_key(one) for one in sets}) == len({whole_key(one) for one in sets}) == 1
    drawing = tmp_path / "there" / "assets" / "rosette.svg"
    drawing.write_text(drawing.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert geometry_key(load(tmp_path / "there" / name)) != geometry_key(sets[0])


@pytest.mark.parametrize("file", sorted(SCENES.glob("examples/**/*.toml")), ids=lambda file: file.stem)
def test_every_shipped_set_has_its_keys_and_powers(file: Path) -> None:
    if file.name == "kit.toml":
        pytest.skip("no set")
    setup = load(file)
    assert len(geometry_key(setup)) == len(whole_key(setup)) == 64
    assert len(powers(setup)) == len(setup.lights) + 1
    assert (powers(setup)[:-1] > 0.0).all()


def test_joules_of_all_heads() -> None:
    assert joules(loads(LIGHTS)) == pytest.approx(100.0 / 2 + 200.0 / 4)
    assert joules(loads(LIGHTS.replace('energy = "100 J"', 'guide_number = "20 m"'))) is None
