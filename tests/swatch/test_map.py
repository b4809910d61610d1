"""A map in a setup file: what is refused, and what its pixels become."""

from __future__ import annotations

import numpy as np
import pytest
import tifffile
from PIL import Image

import throughlight.setup as tls
from throughlight.setup import Mistake, SetupError
from throughlight.setup.pictures import decoded, linear_picture
from throughlight.stage.mapped import map_doubts, mapped
from throughlight.swatch.inverse import Kind, transmittance

SET = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]

[subject]
material = { like = "marble", map = { picture = "slice.png", width = "8 cm" } }

[subject.shape]
kind = "slab"
thickness = "5 mm"
outline = { shape = "disc", diameter = "80 mm" }
"""
SLAB = SET[SET.index("[subject.shape]") :]
BALL = '[subject.shape]\nkind = "sphere"\ndiameter = "4 cm"\n'


@pytest.fixture
def folder(tmp_path):
    Image.fromarray(np.full((6, 8, 3), (188, 128, 64), np.uint8)).save(tmp_path / "slice.png")
    return tmp_path


def read(folder, text=SET):
    return tls.loads(text, name="set.toml", folder=folder)


def mistake(folder, old="", new="") -> Mistake:
    text = SET.replace(old, new) if old else SET
    with pytest.raises(SetupError) as caught:
        read(folder, text)
    (only,) = caught.value.mistakes
    return only


def test_code_values_become_light():
    # IEC 61966-2-1: codes 10, 64, 118, 128, 188, 200 of 255 (colour-science 0.4.7, cctf_decoding "sRGB").
    expected = [0.00303527, 0.05126946, 0.18116424, 0.21586050, 0.50288646, 0.57758044]
    assert decoded(np.array([10, 64, 118, 128, 188, 200]) / 255, "sRGB") == pytest.approx(expected, abs=1e-8)


def test_a_map_of_one_value_is_even_matter(folder):
    """The slab of each pixel passes what the picture shows: 188, 128, 64 of 255 are 0.50289, 0.21586, 0.05127."""
    material = read(folder).subject.material
    texels = mapped(material, 5e-3)
    assert texels.absorption.shape == texels.scattering.shape == (6, 8, 3)
    assert texels.absorption.dtype == texels.scattering.dtype == np.float32
    for band, passed in enumerate((0.50288646, 0.21586050, 0.05126946)):
        absorb, scatter = texels.absorption[0, 0, band], texels.scattering[0, 0, band]
        again = transmittance(Kind(0.0, 0.0, 1.5), absorb, 5e-3, reduced=scatter)
        assert again == pytest.approx(passed, rel=0.005)
    # Red passes more than marble of 5 mm can (0.2 by adding–doubling): there is less of it.
    assert texels.scattering[0, 0, 0] < 2190.0
    assert texels.scattering[0, 0, 2] == pytest.approx(3000.0)
    assert texels.most == pytest.approx(float((texels.absorption + texels.scattering).max()), rel=1e-5)
    assert np.all(texels.absorption + texels.scattering <= texels.most)
    assert (texels.width, texels.height) == pytest.approx((0.08, 0.06))
    assert texels.doubts == []


def test_the_slice_may_have_been_thicker_than_the_body(folder):
    text = SET.replace('width = "8 cm"', 'width = "8 cm", height = "5 cm", thickness = "10 mm"')
    thick = mapped(read(folder, text).subject.material, 5e-3)
    assert thick.absorption == pytest.approx(mapped(read(folder).subject.material, 10e-3).absorption)
    assert thick.height == 0.05
    ball = mapped(read(folder, text.replace(SLAB, BALL)).subject.material, 4e-2)
    assert ball.absorption == pytest.approx(thick.absorption)


def test_the_bare_table_is_what_counts_as_all(folder):
    text = SET.replace('width = "8 cm"', 'width = "8 cm", bare = [0.9, "90 %", 0.8]')
    given = mapped(read(folder, text).subject.material, 5e-3)
    light = linear_picture(folder / "slice.png", "sRGB")[0, 0] / decoded([0.9, 0.9, 0.8], "sRGB")
    for band in range(3):
        absorb, scatter = given.absorption[0, 0, band], given.scattering[0, 0, band]
        again = transmittance(Kind(0.0, 0.0, 1.5), absorb, 5e-3, reduced=scatter)
        assert again == pytest.approx(light[band], rel=0.005)


def test_doubts_are_said(folder):
    pixels = np.zeros((4, 4, 3), np.uint8)
    pixels[:2], pixels[3] = 255, 90
    Image.fromarray(pixels).save(folder / "slice.png")
    said = mapped(read(folder).subject.material, 5e-3).doubts
    assert said[0].startswith("25.0% of the map is 12 stops or more under the bare light table")
    assert said[1].startswith("50.0% of the map is brighter than a clear plate")


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("slice.tif", np.full((4, 4, 3), 6554, np.uint16)),
        ("slice.tif", np.full((4, 4), 6554, np.uint16)),
        ("slice.tif", np.full((4, 4, 3), 0.1, np.float32)),
        ("slice.png", np.full((4, 4), 6554, np.uint16)),
    ],
)
def test_files_of_many_bits(tmp_path, name, values):
    if name.endswith("tif"):
        tifffile.imwrite(tmp_path / name, values, photometric="rgb" if values.ndim == 3 else "minisblack")
    else:
        Image.fromarray(values).save(tmp_path / name)
    light = linear_picture(tmp_path / name, "linear")
    assert light.shape == (4, 4, 3)
    assert light == pytest.approx(np.full((4, 4, 3), 0.1), abs=1e-5)


def test_fine_pictures_are_averaged_in_light(tmp_path):
    """Black and white pixels in turn pass a half, not what the mean code of 127 would be."""
    board = np.zeros((2048, 2048), np.uint8)
    board[::2, ::2] = board[1::2, 1::2] = 255
    Image.fromarray(board).save(tmp_path / "slice.png")
    light = linear_picture(tmp_path / "slice.png", "sRGB")
    assert light.shape == (1024, 1024, 3)
    assert np.abs(light - 0.5).max() < 1e-6


def test_what_is_no_picture(folder):
    Image.fromarray(np.random.default_rng(1).integers(0, 255, (64, 64), np.uint8)).save(folder / "broken.png")
    (folder / "broken.png").write_bytes((folder / "broken.png").read_bytes()[:2000])
    (folder / "text.png").write_text("no picture")
    (folder / "empty.tif").write_bytes(b"")
    for name in ("broken.png", "text.png", "empty.tif"):
        wrong = mistake(folder, "slice.png", name)
        assert wrong.key == "subject.material.map"
        assert "the picture cannot be read" in wrong.message
        assert wrong.line == SET[: SET.index("material =")].count("\n") + 1


def test_what_is_not_there(folder):
    wrong = mistake(folder, "slice.png", "slyce.png")
    assert wrong.key == "subject.material.map.picture"
    assert "no such file stands in" in wrong.message
    assert "ends in .png, .jpg" in mistake(folder, "slice.png", "slice.xcf").message
    assert "the name of a PNG" in mistake(folder, '"slice.png"', "3").message


def test_several_frames(folder):
    frames = [Image.new("RGB", (8, 8), colour) for colour in ("red", "blue")]
    frames[0].save(folder / "slice.png", save_all=True, append_images=frames[1:])
    assert "several frames" in mistake(folder).message


def test_too_many_pixels(folder):
    Image.new("1", (8000, 5001)).save(folder / "slice.png")
    assert "it has 40 million pixels; up to 40 million would fit" in mistake(folder).message


def test_transparent_parts(folder):
    Image.new("RGBA", (8, 8), (1, 2, 3, 128)).save(folder / "slice.png")
    assert "transparent parts" in mistake(folder).message


def test_a_body_without_a_thickness(folder):
    wrong = mistake(folder, SLAB, BALL)
    assert wrong.key == "subject.material"
    assert "no one thickness" in wrong.message


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        (', width = "8 cm"', "", "width"),
        ('"8 cm" }', '"8 cm", bare = 0 }', "bare"),
        ('"8 cm" }', '"8 cm", bare = 240 }', "bare"),
        ('"8 cm" }', '"8 cm", seen = "window" }', "seen"),
        ('"8 cm" }', '"8 cm", encoding = "log" }', "encoding"),
        ('"8 cm" }', '"8 cm", thickness = "0 mm" }', "thickness"),
        ('"8 cm" }', '"8 cm", hight = "4 cm" }', "hight"),
    ],
)
def test_mistakes_in_keys(folder, old, new, key):
    assert mistake(folder, old, new).key == f"subject.material.map.{key}"


def test_own_matter_takes_its_absorption_from_the_map(folder):
    text = SET.replace('like = "marble"', 'reduced_scattering = "2 1/mm"')
    assert read(folder, text).subject.material.absorption == (0.0, 0.0, 0.0)
    with pytest.raises(SetupError, match="absorption"):
        read(folder, text.replace(', map = { picture = "slice.png", width = "8 cm" }', ""))


def test_the_bare_table_beside_the_slice_raises_no_doubt(folder):
    """A dark disc on white: on a slab that lies within it there is no white, on the square round it 1 − π·0.4²."""
    y, x = np.mgrid[-50:50, -50:50] + 0.5
    pixels = np.where(np.hypot(x, y)[..., None] < 40.0, 100, 255) * np.ones(3)
    Image.fromarray(pixels.astype(np.uint8)).save(folder / "slice.png")
    assert map_doubts(read(folder, SET.replace('width = "8 cm"', 'width = "10.2 cm"'))) == []
    square = SET.replace('shape = "disc", diameter = "80 mm"', 'shape = "rectangle", width = "8 cm", height = "8 cm"')
    (said,) = map_doubts(read(folder, square))
    share = said.removeprefix("subject: ").partition("% of the map is brighter than a clear plate")[0]
    assert float(share) == pytest.approx(49.73, abs=0.3)
