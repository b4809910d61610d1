"""Mistakes in setup files: one test a kind, each checked for file, line, key, what was found and what would fit."""

from __future__ import annotations

import struct

import pytest
from setup_texts import SET, changed, line_of

import throughlight.setup as tls
from throughlight.setup import Mistake, SetupError


def mistakes_in(text: str, folder=None) -> list[Mistake]:
    with pytest.raises(SetupError) as caught:
        tls.loads(text, name="set.toml", folder=folder)
    for mistake in caught.value.mistakes:
        assert mistake.file == "set.toml"
        assert "\n" not in str(mistake)
    return caught.value.mistakes


def the_mistake_in(text: str, folder=None) -> Mistake:
    mistakes = mistakes_in(text, folder)
    assert len(mistakes) == 1, mistakes
    return mistakes[0]


def test_an_unknown_key_is_told_the_nearest_right_one():
    text = changed("focal =", "focl =")
    unknown, missing = sorted(mistakes_in(text), key=lambda mistake: mistake.key, reverse=True)
    assert str(unknown).startswith(f"set.toml, line {line_of(text, 'focl')}: camera.focl: ")
    assert unknown.message == '"focl" is no key of this table; "focal" would fit'
    assert (missing.key, missing.line) == ("camera.focal", line_of(text, "[camera]"))
    assert "has to be given" in missing.message


def test_an_unknown_key_deep_inside():
    text = changed('diameter = "18 cm"', 'diametre = "18 cm"')
    keys = {mistake.key: mistake for mistake in mistakes_in(text)}
    assert '"diameter" would fit' in keys["head[1].face.diametre"].message
    assert keys["head[1].face.diametre"].line == line_of(text, "diametre")


def test_an_unknown_table():
    mistake = the_mistake_in(SET + "\n[bakdrop]\nwidth = 3\n")
    assert (mistake.key, mistake.message) == (
        "bakdrop",
        '"bakdrop" is no key of this table; "backdrop" would fit',
    )


def test_a_missing_unit():
    text = changed('focal = "100 mm"', "focal = 100")
    mistake = the_mistake_in(text)
    assert (mistake.key, mistake.line, mistake.column) == ("camera.focal", line_of(text, "focal"), 1)
    assert mistake.message.startswith("found 100; a unit is missing: a length above zero would fit, such as")


def test_a_wrong_unit():
    mistake = the_mistake_in(changed('energy = "100 J"', 'energy = "100 mm"'))
    assert mistake.key == "head[1].energy"
    assert mistake.message.startswith('found "100 mm"; "mm" is not a unit of an energy: an energy above zero would fit')


@pytest.mark.parametrize("size", ['"-5 mm"', '"0 mm"', '"inf mm"', '"nan mm"', '"1e999 mm"', "inf", "nan"])
def test_a_negative_or_not_finite_size(size):
    mistake = the_mistake_in(changed('thickness = "5 mm"', f"thickness = {size}"))
    assert mistake.key == "subject.shape.thickness"
    assert "a length above zero would fit" in mistake.message


def test_a_head_without_energy():
    text = changed('energy = "100 J"\n', "")
    mistake = the_mistake_in(text)
    assert (mistake.key, mistake.line) == ("head[1]", line_of(text, "[[head]]"))
    assert "the head has no energy; exactly one of energy" in mistake.message


def test_a_head_with_two_outputs():
    mistake = the_mistake_in(changed('energy = "100 J"', 'energy = "100 J"\nguide_number = "40 m"'))
    assert "found energy and guide_number together; exactly one of" in mistake.message


@pytest.mark.parametrize("sensor", ['"36x0 mm"', '"0x24 mm"', '"36x24 kg"', '"-36x24 mm"', '"36"', "36", '"big"'])
def test_a_sensor_without_a_side(sensor):
    mistake = the_mistake_in(changed('sensor = "36x24 mm"', f"sensor = {sensor}"))
    assert mistake.key == "camera.sensor"
    assert "would fit" in mistake.message


@pytest.mark.parametrize("pixels", ["[0, 600]", "[900, -1]", "[900.5, 600]", "[900]", "900", '["900", "600"]'])
def test_a_sensor_of_0_px(pixels):
    mistake = the_mistake_in(changed("iso = 100", f"iso = 100\npixels = {pixels}"))
    assert mistake.key == "camera.pixels"
    assert "would fit" in mistake.message


@pytest.mark.parametrize("pixels", ["[10000, 4001]", f"[{10**18}, {10**18}]", f"[{10**400}, 1]"])
def test_an_absurd_resolution(pixels):
    mistake = the_mistake_in(changed("iso = 100", f"iso = 100\npixels = {pixels}"))
    assert mistake.key == "camera.pixels"
    assert "up to 40 million in all would fit" in mistake.message


def test_the_largest_resolution_is_taken():
    assert tls.loads(changed("iso = 100", "iso = 100\npixels = [10000, 4000]")).camera.pixels == (10000, 4000)


def test_a_name_that_is_not_in_the_kit():
    mistake = the_mistake_in(changed('like = "agate"', 'like = "agat"'))
    assert mistake.key == "subject.material.like"
    assert mistake.message == 'found "agat", which is not in the kit; the kit has "agate"'
    mistake = the_mistake_in(changed('cloth = "black velvet"', 'cloth = "black velvte"'))
    assert 'the kit has "black velvet"' in mistake.message


def test_an_unknown_modifier_hides_nothing_and_adds_nothing():
    mistake = the_mistake_in(changed('face = { shape = "disc", diameter = "18 cm" }', 'modifier = "bowl 17 cm"'))
    assert mistake.key == "head[1].modifier"
    assert 'the kit has "bowl 18 cm"' in mistake.message


def test_an_unknown_shape():
    mistake = the_mistake_in(changed('shape = "disc", diameter = "18 cm"', 'shape = "disk", diameter = "18 cm"'))
    assert mistake.message == 'found shape = "disk"; "disc", "rectangle", "tube" would fit'


def test_a_repeated_table_written_once():
    text = changed("[[flag]]", "[flag]")
    mistake = the_mistake_in(text)
    assert (mistake.line, mistake.message) == (
        line_of(text, "[flag]"),
        "found a table; a table written [[flag]] would fit",
    )


def test_a_text_where_a_table_is_due():
    mistake = the_mistake_in('camera = "big"\n')
    assert (mistake.key, mistake.message) == ("camera", 'found "big"; a table would fit')


def test_a_set_without_a_camera():
    mistake = the_mistake_in('title = "nothing"\n')
    assert (mistake.key, mistake.line) == ("camera", 1)
    assert "has to be given" in mistake.message


def test_a_backdrop_without_a_place():
    mistake = the_mistake_in(changed('distance = "90 cm"\n', ""))
    assert (mistake.key, "exactly one of distance" in mistake.message) == ("backdrop", True)


def test_a_subject_of_two_substances():
    mistake = the_mistake_in(changed('name = "slice"', 'name = "slice"\nsurface = "grey card"'))
    assert "found both material and surface; exactly one of" in mistake.message


def test_a_focus_within_the_focal_length():
    mistake = the_mistake_in(changed("iso = 100", 'iso = 100\nfocus = "9 cm"'))
    assert "found focus at 90 mm with a focal length of 100 mm; no image forms" in mistake.message


def test_an_outline_that_crosses_itself():
    points = '[["0 cm", "0 cm"], ["1 cm", "1 cm"], ["1 cm", "0 cm"], ["0 cm", "1 cm"]]'
    text = changed('{ shape = "disc", diameter = "80 mm" }', f'{{ shape = "polygon", points = {points} }}')
    mistake = the_mistake_in(text)
    assert mistake.key == "subject.shape.outline.points"
    assert "crosses or touches itself" in mistake.message


def test_a_name_used_twice():
    text = SET.replace('name = "wire"', 'name = "left head"')
    mistake = the_mistake_in(text)
    assert (mistake.key, mistake.line) == ("support[1].name", line_of(text, "[[support]]") + 1)
    assert mistake.message == 'found "left head" a second time (first in head[1]); a name of its own would fit'


@pytest.mark.parametrize(
    ("at", "thing"),
    [
        ('["1 mm", "5 mm", "1 mm"]', 'the subject "slice"'),
        ('["0 mm", "10 cm", "0.1 mm"]', 'the support "wire"'),
        ('["10 cm", "10 cm", "-90 cm"]', "the backdrop"),
        ('["-25 cm", "0 cm", "-8 cm"]', 'the flag "flag 1"'),
    ],
)
def test_a_camera_inside_a_thing(at, thing):
    text = changed('at = ["0 cm", "0 cm", "60 cm"]', f'at = {at}\naim = ["0 cm", "0 cm", "-5 m"]')
    text = text.replace('name = "slice"', 'name = "slice"\naim = ["0 cm", "0 cm", "60 cm"]')
    mistake = the_mistake_in(text)
    assert (mistake.key, mistake.line) == ("camera.at", line_of(text, "at = "))
    assert mistake.message == f"the camera stands inside {thing}; a place outside of it would fit"


# Mesh files


CUBE = [
    (0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7), (0, 1, 5), (0, 5, 4),
    (1, 2, 6), (1, 6, 5), (2, 3, 7), (2, 7, 6), (3, 0, 4), (3, 4, 7),
]  # fmt: skip
CORNERS = [(-1, -1, -1), (1, -1, -1), (1, 1, -1), (-1, 1, -1), (-1, -1, 1), (1, -1, 1), (1, 1, 1), (-1, 1, 1)]


def obj_of(faces) -> str:
    lines = [f"v {x} {y} {z}" for x, y, z in CORNERS] + [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces]
    return "\n".join(lines) + "\n"


def with_mesh(file: str, rest: str = "") -> str:
    shape = SET[SET.index("[subject.shape]") : SET.index("[[support]]")]
    return SET.replace(shape, f'[subject.shape]\nkind = "mesh"\nfile = "{file}"\nunit = "cm"\n{rest}\n')


def test_a_mesh_beside_the_setup_file(tmp_path):
    (tmp_path / "cube.obj").write_text(obj_of(CUBE))
    (tmp_path / "set.toml").write_text(with_mesh("cube.obj"))
    setup = tls.load(tmp_path / "set.toml")
    assert setup.subject is not None
    shape = setup.subject.shape
    assert isinstance(shape, tls.Mesh)
    assert (shape.file, shape.unit, shape.scale) == (tmp_path / "cube.obj", 0.01, 1.0)


def test_a_missing_mesh(tmp_path):
    text = with_mesh("nowhere.stl")
    mistake = the_mistake_in(text, tmp_path)
    assert (mistake.key, mistake.line) == ("subject.shape.file", line_of(text, "file ="))
    assert 'found "nowhere.stl"; no such file stands in' in mistake.message


@pytest.mark.parametrize("file", ["", "cube.step", "a\\u0000b.stl", "x" * 5000 + ".stl", ".", "/"])
def test_what_is_no_mesh_file(tmp_path, file):
    mistake = the_mistake_in(with_mesh(file), tmp_path)
    assert mistake.key == "subject.shape.file"
    assert "would fit" in mistake.message


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("broken.stl", b"solid but not really"),
        ("broken.ply", b"ply\nformat ascii 1.0\nelement vertex zero\n"),
        ("broken.glb", b"glTF\x02\x00\x00\x00 garbage"),
        ("broken.obj", b"v 1 2\nf 1 2 3\n"),
        ("empty.obj", b""),
        ("beyond.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n"),
        ("cut.stl", b"\0" * 80 + struct.pack("<I", 1000) + b"\0" * 60),
        ("infinite.obj", b"v 0 0 0\nv inf 0 0\nv 0 1 0\nf 1 2 3\n"),
        ("not_a_number.obj", b"v 0 0 0\nv nan 0 0\nv 0 1 0\nf 1 2 3\n"),
        ("flat.obj", b"v 0 0 0\nv 0 0 0\nv 0 0 0\nf 1 2 3\n"),
        ("bytes.ply", bytes(range(256)) * 4),
    ],
)
def test_a_broken_mesh(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    mistake = the_mistake_in(with_mesh(name), tmp_path)
    assert mistake.key.startswith("subject")
    assert "would fit" in mistake.message


def test_a_mesh_that_does_not_close(tmp_path):
    (tmp_path / "open.obj").write_text(obj_of(CUBE[:-1]))
    mistake = the_mistake_in(with_mesh("open.obj"), tmp_path)
    assert 'the mesh "open.obj" is not watertight, and a translucent material needs an inside' in mistake.message
    opaque = with_mesh("open.obj").replace('material = { like = "agate", roughness = 0.1 }', 'surface = "grey card"')
    tls.loads(opaque, folder=tmp_path)


def test_a_mesh_with_too_many_triangles_is_refused_by_its_head(tmp_path):
    file = tmp_path / "huge.stl"
    with file.open("wb") as stream:
        stream.write(b"\0" * 80 + struct.pack("<I", 5_000_001))
        stream.truncate(84 + 50 * 5_000_001)
    assert (
        "it has 5000001 triangles; up to 5000000 would fit" in the_mistake_in(with_mesh("huge.stl"), tmp_path).message
    )
    with file.open("wb") as stream:
        stream.truncate(500_000_001)
    assert "a file of up to 500 MB would fit" in the_mistake_in(with_mesh("huge.stl"), tmp_path).message


def test_a_mesh_in_the_wrong_unit(tmp_path):
    (tmp_path / "cube.obj").write_text(obj_of(CUBE))
    mistake = the_mistake_in(with_mesh("cube.obj", "scale = 100000.0"), tmp_path)
    assert "the mesh is 2000 m long with this unit and scale" in mistake.message


def test_a_camera_inside_a_mesh_but_not_in_its_hollow(tmp_path):
    (tmp_path / "cube.obj").write_text(obj_of(CUBE))
    inside = with_mesh("cube.obj", "scale = 70.0")
    assert 'inside the subject "slice"' in the_mistake_in(inside, tmp_path).message
    inner = [tuple(0.95 * x for x in corner) for corner in CORNERS]
    hollow = obj_of(CUBE) + "".join(f"v {x} {y} {z}\n" for x, y, z in inner)
    hollow += "".join(f"f {a + 9} {c + 9} {b + 9}\n" for a, b, c in CUBE)
    (tmp_path / "hollow.obj").write_text(hollow)
    tls.loads(with_mesh("hollow.obj", "scale = 70.0"), folder=tmp_path)


# All at once


def test_all_mistakes_of_a_file_are_said_at_once_in_its_order():
    text = SET.replace('shutter = "1/125 s"', "shutter = 0.008")
    text = text.replace('energy = "100 J"\nstops = "-1 stop"', 'stops = "-1 mm"\ntemperatur = "5600 K"')
    text = text.replace('cloth = "black velvet"', 'cloth = { kind = "velvet", reflectance = 2 }')
    text = text.replace('width = "150 cm"', 'width = "-1 m"').replace('name = "wire"', 'name = "flag 1"')
    mistakes = mistakes_in(text)
    assert [(mistake.key, mistake.line) for mistake in mistakes] == [
        ("camera.shutter", line_of(text, "shutter")),
        ("head[1]", line_of(text, "[[head]]")),
        ("head[1].stops", line_of(text, "stops")),
        ("head[1].temperatur", line_of(text, "temperatur")),
        ("backdrop.width", line_of(text, 'width = "-1 m"')),
        ("backdrop.cloth.kind", line_of(text, "cloth")),
        ("backdrop.cloth.reflectance", line_of(text, "cloth")),
    ]


def test_mistakes_between_right_tables_are_said_beside_those_within_wrong_ones():
    text = SET.replace('energy = "100 J"\n', "").replace('name = "wire"', 'name = "flag 1"')
    text += '\n[[spot]]\nx = 3\ny = "2 %"\n[[spot]]\nname = "wire 2"\nx = "1 %"\ny = "2 %"\n'
    text += '[[spot]]\nname = "wire 2"\nx = "1 %"\ny = "2 %"\n'
    assert [(mistake.key) for mistake in mistakes_in(text)] == [
        "head[1]",
        "support[1].name",
        "spot[1].x",
        "spot[3].name",
    ]


def test_a_sentence_has_file_line_key_found_and_fitting():
    text = changed("iso = 100", 'iso = "fast"')
    line = line_of(text, "iso")
    assert str(the_mistake_in(text)) == (
        f'set.toml, line {line}: camera.iso: found "fast"; an ISO speed above zero would fit, such as 100, "ISO 100"'
    )
