"""Profiles, lamp files, grids, snoots, doors, gels, lamps and windows: what the file says, and mistakes."""

from __future__ import annotations

import math

import pytest
from setup_texts import SET

from lamp_texts import lamp_text
from throughlight.setup import Curve, Disc, LampFile, Rectangle, SetupError, load, loads, schema, setup_warnings

OUTPUT = 'energy = "100 J"\nstops = "-1 stop"\n'


def with_head(more="", output=OUTPUT, face='face = { shape = "disc", diameter = "18 cm" }\n'):
    text = SET.replace(OUTPUT, output + more)
    return text.replace('face = { shape = "disc", diameter = "18 cm" }\n', face)


def head_of(*args, folder=None, **how):
    return loads(with_head(*args, **how), folder=folder).heads[0]


def mistake_of(*args, folder=None, **how):
    with pytest.raises(SetupError) as trouble:
        loads(with_head(*args, **how), folder=folder)
    return "\n".join(str(one) for one in trouble.value.mistakes)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "lamp.ies").write_text(lamp_text())
    (tmp_path / "even.ies").write_text(lamp_text((0, 90, 180), candela=lambda v, h: 100, opening=(0, 0, 0)))
    (tmp_path / "up.ies").write_text(lamp_text((90, 180), candela=lambda v, h: 100))
    (tmp_path / "tilted.ies").write_text(lamp_text(tilt="C:\\\\data\\tilt.tlt", opening=(-0.3, -0.3, 0)))
    (tmp_path / "tilt.tlt").write_text("1\n2\n0 90\n1.0 0.5\n")
    (tmp_path / "cut.ies").write_text(lamp_text()[:-40])
    (tmp_path / "zero.ies").write_text(lamp_text(candela=lambda v, h: 100 if v else 0))
    (tmp_path / "bytes.ies").write_bytes(bytes(range(256)) * 9)
    (tmp_path / "folder.ies").mkdir()
    return tmp_path


def test_profile_in_pairs():
    profile = head_of('profile = [["0 deg", 1.0], ["30 deg", 0.7], ["90 deg", 0]]\n').profile
    assert isinstance(profile, Curve)
    assert profile.angles == pytest.approx((0, math.pi / 6, math.pi / 2))
    assert profile.intensities == (1.0, 0.7, 0.0)


@pytest.mark.parametrize(("pairs", "words"), [
    ('[["0 deg", 1.0]]', "pairs of angle"),
    ('[["0 deg", 1.0], ["20 deg", -1]]', "relative intensity, zero or more"),
    ('[["0 deg", 1.0], ["20 deg", nan]]', "relative intensity, zero or more"),
    ('[["0 deg", 1.0], [20, 0.0]]', "a unit is missing"),
    ('[["0 deg", 1.0], ["20 deg", 0.5], ["10 deg", 0]]', "do not ascend"),
    ('[["5 deg", 1.0], ["20 deg", 0]]', "from 0 deg on the axis"),
    ('[["0 deg", 1.0], ["100 deg", 0]]', "at most 90 deg"),
    ('[["0 deg", 0], ["20 deg", 0]]', "every intensity is zero"),
    ('[["0 deg", 1.0], ["60 deg", 0.5]]', "breaks off at 60 deg"),
    ("7", "pairs of angle"),
    ('"lamp.txt"', "LM-63 file"),
])  # fmt: skip
def test_profiles_that_are_none(pairs, words):
    assert words in mistake_of(f"profile = {pairs}\n")


def test_lamp_file_gives_the_face(folder):
    """0.6 wide and 0.9 long: the length lies along the head's own x, as half plane 0 does."""
    head = head_of('profile = "lamp.ies"\n', face="", folder=folder)
    assert isinstance(head.profile, LampFile)
    assert isinstance(head.face, Rectangle)
    assert (head.face.width, head.face.height) == pytest.approx((0.9, 0.6))
    assert isinstance(head_of('profile = "lamp.ies"\n', folder=folder).face, Disc)
    assert head_of('profile = "even.ies"\n', face="", folder=folder).face.diameter == pytest.approx(0.02)
    boxed = head_of('profile = "lamp.ies"\n', face='modifier = "softbox 60x60"\n', folder=folder)
    assert boxed.face.width == boxed.face.height == 0.6


@pytest.mark.parametrize(("name", "words"), [
    ("none.ies", "no such file"),
    ("cut.ies", "ends where an intensity would stand"),
    ("up.ies", "goes behind the face"),
    ("bytes.ies", "no line begins with TILT="),
    ("folder.ies", "no such file"),
])  # fmt: skip
def test_lamp_files_that_are_no_good_are_one_mistake(folder, name, words):
    said = mistake_of(f'profile = "{name}"\n', face="", folder=folder)
    assert words in said
    assert "head[1].profile" in said
    assert said.count("\n") == 0


def test_light_behind_the_face_is_a_caution(folder):
    text = with_head('profile = "even.ies"\n', face="")
    assert "left head: 50 % of even.ies goes behind the face and is left out" in setup_warnings(
        loads(text, folder=folder)
    )
    whole = loads(with_head('profile = "lamp.ies"\n', face=""), folder=folder)
    assert not any("left out" in one for one in setup_warnings(whole))


def test_tilt_file_is_looked_for_beside_the_lamp_file(folder):
    head = head_of('profile = "tilted.ies"\n', face="", folder=folder)
    assert head.profile.lamp.tilt.factors == (1.0, 0.5)
    assert head.face.diameter == pytest.approx(0.3)


def test_output_of_the_file(folder):
    head = head_of('profile = "lamp.ies"\n', output='output = "file"\n', face="", folder=folder)
    assert head.continuous
    assert "needs a lamp file" in mistake_of(output='output = "file"\n')


def test_reading_where_no_light_goes(folder):
    reading = 'meter = "f/11 at 1 m, ISO 100"\n'
    assert "no light along the axis" in mistake_of('profile = "zero.ies"\n', output=reading, folder=folder)
    assert head_of('profile = "zero.ies"\n', folder=folder).energy == 100


@pytest.mark.parametrize(("output", "continuous"), [
    ('energy = "100 J"', False),
    ('meter = "f/11 at 1 m, ISO 100"', False),
    ('guide_number = "40 m"', False),
    ('power = "300 W"\nefficacy = "25 lm/W"', True),
    ('illuminance = "5000 lx at 1 m"', True),
])  # fmt: skip
def test_flash_or_continuous(output, continuous):
    assert head_of(output=output + "\n").continuous is continuous


def test_lux_at_a_distance():
    reading = head_of(output='illuminance = "500 fc at 3 ft"\n').illuminance
    assert reading.illuminance == pytest.approx(500 / 0.3048**2)
    assert reading.distance == pytest.approx(0.9144)


@pytest.mark.parametrize(("more", "output", "words"), [
    ("", 'energy = "100 J"\npower = "30 W"\nefficacy = "90 lm/W"\n', "energy and power together"),
    ("", 'power = "300 W"\n', "no efficacy"),
    ("", 'power = "300 J"\nefficacy = "90 lm/W"\n', "not a unit of a power"),
    ("", 'illuminance = "5000 lx"\n', "5000 lx at 1 m"),
    ("", "", "exactly one of energy"),
    ('beam = "60 deg"\nprofile = [["0 deg", 1.0], ["90 deg", 0]]\n', OUTPUT, "beam and profile together"),
    ('grid = "170 deg"\n', OUTPUT, "grid"),
    ("barn_doors = {}\n", OUTPUT, "there is no door"),
    ('barn_doors = { left = "150 deg" }\n', OUTPUT, "opening angle"),
    ('snoot = { length = "20 cm" }\n', 'meter = "f/11 at 10 cm, ISO 100"\n', "inside the snoot"),
])  # fmt: skip
def test_mistakes_with_lights(more, output, words):
    assert words in mistake_of(more, output=output)


TUBE = 'face = { shape = "tube", length = "30 cm", diameter = "2 cm" }\n'


@pytest.mark.parametrize("more", [
    'grid = "30 deg"', 'snoot = { length = "20 cm" }', 'barn_doors = { left = "30 deg" }',
    'profile = [["0 deg", 1.0], ["90 deg", 0]]',
])  # fmt: skip
def test_nothing_sits_on_a_bare_tube(more):
    assert "on a tube" in mistake_of(more + "\n", face=TUBE)


def test_bare_tube_of_the_kit():
    head = head_of(face='modifier = "bare tube"\n')
    assert (head.face.length, head.face.diameter) == (0.06, 0.01)


def test_beam_of_the_set_counts_before_the_profile_of_the_kit():
    boxed = head_of(face='modifier = "softbox"\n')
    assert isinstance(boxed.profile, Curve)
    own = head_of('beam = "90 deg"\n', face='modifier = "softbox"\n')
    assert own.profile is None
    assert own.beam == pytest.approx(math.pi / 2)


RECTANGLE = 'face = { shape = "rectangle", width = "30 cm", height = "20 cm" }\n'


def test_snoot_leaves_open_what_it_does():
    assert head_of('snoot = { length = "20 cm", diameter = "6 cm" }\n').opening.diameter == pytest.approx(0.06)
    assert head_of('snoot = { length = "20 cm" }\n').opening.diameter == pytest.approx(0.18)
    assert head_of('snoot = { length = "20 cm", diameter = "20 cm" }\n', face=RECTANGLE).opening.shape == "disc"
    assert head_of('snoot = { length = "20 cm" }\n', face=RECTANGLE).opening.shape == "rectangle"
    cut = mistake_of('snoot = { length = "20 cm", diameter = "25 cm" }\n', face=RECTANGLE)
    assert "cuts the face's corners" in cut


def test_own_shades_are_no_obstacle_but_others_are():
    doors = 'barn_doors = { left = "0 deg", right = "10 deg", top = "20 deg", bottom = "20 deg", length = "10 cm" }\n'
    assert setup_warnings(loads(with_head('snoot = { length = "20 cm" }\n' + doors))) == []
    long = setup_warnings(loads(with_head('snoot = { length = "60 cm" }\n')))
    assert any('"left head, snoot"' in one and '"slice"' in one for one in long)


@pytest.mark.parametrize(("gel", "mired", "bands"), [
    ('"half warming"', 66.964286, None),
    ('"half orange"', 66.964286, None),
    ('{ from = "5600 K", to = "3200 K" }', 133.928571, None),
    ('{ from = "5600 K", to = "3200 K", transmittance = 0.55 }', 133.928571, (0.55, 0.55, 0.55)),
    ('{ shift = "-40 mired" }', -40, None),
    ('{ like = "full warming", transmittance = "50 %" }', 133.928571, (0.5, 0.5, 0.5)),
    ("[0.9, 0.6, 0.3]", None, (0.9, 0.6, 0.3)),
    ('{ transmittance = 0.5, name = "net" }', None, (0.5, 0.5, 0.5)),
])  # fmt: skip
def test_gels(gel, mired, bands):
    read = head_of(f"gel = {gel}\n").gel
    assert read.mired == (None if mired is None else pytest.approx(mired, abs=1e-6))
    assert read.transmittance == bands


@pytest.mark.parametrize(("gel", "words"), [
    ('"half warmed"', 'the kit has "half warming"'),
    ("[0.9, 0.6]", "three for red, green and blue"),
    ("[0.9, 0.6, 1.3]", "at most 1"),
    ("[0, 0, 0]", "lets no light through"),
    ("{}", "a gel has either"),
    ('{ from = "5600 K" }', "a gel has either"),
    ('{ from = "5600 K", to = "3200 K", shift = "3 mired" }', "a gel has either"),
    ('{ shift = "40 mired", transmittance = [0.9, 0.6, 0.3] }', "one transmittance for all"),
    ('{ shift = "-178 mired" }', "outside 1000 to 25000 K"),
])  # fmt: skip
def test_gels_that_are_none(gel, words):
    assert words in mistake_of(f"gel = {gel}\n")


WINDOW = """
[[window]]
at = ["-1 m", "1 m", "0 m"]
width = "1 m"
height = "1.5 m"
luminance = "3000 cd/m2"
temperature = "6500 K"
"""


def test_window():
    setup = loads(SET + WINDOW + WINDOW.replace("-1 m", "2 m", 1))
    first, second = setup.windows
    assert (first.name, second.name) == ("window 1", "window 2")
    assert (first.luminance, first.temperature, first.aim) == (3000, 6500, (0, 0, 0))
    assert setup.lights == ("left head", "window 1", "window 2")
    assert setup.flashes == (True, False, False)


def test_windows_share_names_and_space_with_the_rest():
    with pytest.raises(SetupError, match="a second time"):
        loads(SET + WINDOW.replace("[[window]]", '[[window]]\nname = "left head"'))
    with pytest.raises(SetupError, match="cd/m2"):
        loads(SET + WINDOW.replace("cd/m2", "lx"))
    through = SET + WINDOW.replace('["-1 m", "1 m", "0 m"]', '["0 m", "0 m", "-90 cm"]\naim = ["1 m", "0 m", "-90 cm"]')
    assert any("window 1" in one and "backdrop" in one for one in setup_warnings(loads(through)))


def test_a_set_with_a_lamp_file_is_read_from_disk(folder):
    (folder / "set.toml").write_text(with_head('profile = "lamp.ies"\n', face=""))
    assert load(folder / "set.toml").heads[0].profile.path == folder / "lamp.ies"


def test_schema_knows_them():
    head = schema()["$defs"]["Head"]["properties"]
    assert {"profile", "grid", "snoot", "barn_doors", "gel", "power", "illuminance", "output"} <= set(head)
    assert "window" in schema()["properties"]
