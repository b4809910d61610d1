"""What a setup file becomes: SI values, defaults, kit entries, and the schema for editors."""

from __future__ import annotations

import json
import math
import tomllib

import jsonschema
import numpy as np
import pytest
from pydantic import ValidationError
from setup_texts import SET, changed

import throughlight.setup as tls
from throughlight.setup.solids import frame
from throughlight.stage.frames import facing


def test_a_set_in_si():
    setup = tls.loads(SET)
    assert setup.title == "Slice on a wire"
    assert setup.seed == 7
    camera = setup.camera
    assert (camera.sensor_width, camera.sensor_height, camera.focal) == (0.036, 0.024, 0.1)
    assert (camera.f_number, camera.shutter, camera.iso, camera.at) == (11.0, 0.008, 100.0, (0.0, 0.0, 0.6))
    head = setup.heads[0]
    assert head.name == "left head"
    assert head.face == tls.Disc(diameter="18 cm")
    assert (head.energy, head.efficacy, head.stops) == (100.0, 35.0, -1.0)
    assert setup.backdrop is not None
    assert setup.backdrop.at == (0.0, 0.0, -0.9)
    assert setup.subject is not None
    assert setup.subject.shape == tls.Slab(outline={"shape": "disc", "diameter": "80 mm"}, thickness="5 mm")
    assert setup.supports[0].end == (0.0, 0.3, 0.0)


def test_what_is_left_out():
    setup = tls.loads(SET)
    camera = setup.camera
    assert camera.aim == (0.0, 0.0, 0.0)
    assert camera.focus == pytest.approx(0.6)
    assert camera.pixels == (900, 600)
    assert camera.front_element == 0.040
    assert (camera.roll, camera.hood, camera.blades, camera.transmittance, camera.glare) == (
        0.0,
        0.0,
        0,
        0.9,
        0.01,
    )
    assert camera.sync == 1 / 200
    head = setup.heads[0]
    assert head.beam == pytest.approx(2 * math.pi / 3)
    assert (head.aim, head.efficiency, head.range, head.temperature) == ((0.0, 0.0, 0.0), 1.0, 6.0, 5600.0)
    flag = setup.flags[0]
    assert flag.name == "flag 1"
    assert flag.front.name == flag.back.name == "black card"
    assert setup.subject is not None
    assert setup.subject.aim is None
    assert setup.ambient is None
    assert setup.table is None
    assert setup.wanted.subject is None
    assert setup.wanted.subject_tolerance == 0.5


def test_a_wide_lens_gets_a_front_element_a_little_wider_than_its_pupil():
    setup = tls.loads(changed("f_number = 11", 'f_number = "f/2"'))
    assert setup.camera.front_element == pytest.approx(0.05 * 1.15)


def test_the_normal_card_is_white_in_front_and_black_behind():
    setup = tls.loads(SET + '\n[[card]]\nat = ["30 cm", "0 cm", "0 cm"]\nwidth = "10 in"\nheight = "10 in"\n')
    card = setup.cards[0]
    assert (card.front.name, card.back.name, card.name) == ("white card", "black card", "card 1")
    assert card.width == pytest.approx(0.254)


def test_a_set_does_not_change():
    setup = tls.loads(SET)
    with pytest.raises(ValidationError):
        setup.camera.focal = 0.2


def test_a_kit_material_with_one_thing_changed():
    setup = tls.loads(SET)
    assert setup.subject is not None
    material = setup.subject.material
    assert material is not None
    assert (material.name, material.like, material.roughness) == ("agate", "agate", 0.1)
    assert material.reduced_scattering == pytest.approx((450.0, 550.0, 700.0))
    assert material.scattering == pytest.approx(tuple(one / (1.0 - material.g) for one in material.reduced_scattering))


def test_a_format_a_body_and_a_size_are_the_same_sensor():
    for line in ('sensor = "36x24"', 'body = "full frame"', 'sensor = "36 × 24 mm"', 'sensor = "3.6x2.4 cm"'):
        camera = tls.loads(changed('sensor = "36x24 mm"', line)).camera
        assert (camera.sensor_width, camera.sensor_height) == pytest.approx((0.036, 0.024))


def test_a_modifier_gives_face_beam_and_efficiency_and_the_file_has_the_last_word():
    text = changed('face = { shape = "disc", diameter = "18 cm" }', 'modifier = "softbox"\nbeam = "90 deg"')
    head = tls.loads(text).heads[0]
    assert isinstance(head.face, tls.Rectangle)
    assert (head.modifier, head.face.width, head.face.height) == ("softbox 60x90", 0.6, 0.9)
    assert (head.beam, head.efficiency) == (pytest.approx(math.pi / 2), 0.45)


def test_a_meter_reading_in_words_and_as_a_table():
    words = tls.loads(changed('energy = "100 J"', 'meter = "f/11 at 1 m, ISO 200"')).heads[0].meter
    table = tls.loads(changed('energy = "100 J"', 'meter = { f_number = 11, distance = "1 m", iso = 200 }')).heads[0]
    assert words == table.meter
    assert words is not None
    assert (words.f_number, words.distance, words.iso) == (11.0, 1.0, 200.0)


def test_everything_else_a_file_may_say():
    setup = tls.loads(
        SET
        + """
[table]
height = "-20 cm"
width = "1 m"
depth = "60 cm"
surface = { reflectance = [0.1, "20 %", 0.3] }
[ambient]
illuminance = "300 lx"
temperature = "4000 K"
[wanted]
subject = "+1 stop"
backdrop_under = "8 stops"
veil = "-7 stops"
[finish]
turn = "90 deg"
crop = "4:5"
hide_supports = true
[[spot]]
x = "50 %"
y = "25 %"
"""
    )
    assert setup.table is not None
    assert (setup.table.at, setup.table.surface.reflectance) == ((0.0, -0.2, 0.0), (0.1, 0.2, 0.3))
    assert setup.ambient is not None
    assert (setup.ambient.illuminance, setup.ambient.temperature) == (300.0, 4000.0)
    assert (setup.wanted.subject, setup.wanted.backdrop_under, setup.wanted.veil) == (1.0, 8.0, -7.0)
    assert (setup.finish.turn, setup.finish.crop, setup.finish.hide_supports) == (
        pytest.approx(math.pi / 2),
        0.8,
        True,
    )
    assert (setup.spots[0].name, setup.spots[0].x, setup.spots[0].y) == ("spot 1", 0.5, 0.25)


def test_things_face_the_same_way_here_as_on_the_stage():
    rng = np.random.default_rng(5)
    for at, aim, roll in [(rng.normal(size=3), rng.normal(size=3), rng.normal()) for _ in range(20)] + [
        (np.zeros(3), np.array([0.0, 1.0, 0.0]), 0.3)
    ]:
        assert frame(tuple(at), tuple(aim), roll) == pytest.approx(facing(tuple(at), tuple(aim), roll), abs=1e-12)


def test_the_schema_describes_what_files_use():
    schema = tls.schema()
    assert schema["$schema"].endswith("2020-12/schema")
    assert {"camera", "head", "card", "flag", "backdrop", "subject", "support", "wanted"} <= set(schema["properties"])
    assert schema["additionalProperties"] is False
    camera = schema["$defs"]["Camera"]
    assert "focal length" in camera["properties"]["focal"]["description"]
    assert camera["required"] == ["focal", "f_number", "shutter", "iso", "at"]
    assert camera["anyOf"] == [{"required": ["body"]}, {"required": ["sensor"]}]
    assert {"from", "to"} <= set(schema["$defs"]["Support"]["properties"])
    text = json.dumps(schema)
    for pointer in {part.split('"')[0] for part in text.split('"#/$defs/')[1:]}:
        assert pointer in schema["$defs"]
    for name, table in schema["$defs"].items():
        for key, one in table.get("properties", {}).items():
            assert "description" in one or key in ("shape", "kind"), f"{name}.{key} is not described"


def test_the_schema_accepts_the_set():
    jsonschema.validate(tomllib.loads(SET), tls.schema())
