"""Outlines from pictures and drawings: areas against closed forms, and a sentence for each file that is no outline."""

from __future__ import annotations

import struct
import subprocess
import sys
import time
import zlib

import numpy as np
import pytest
from PIL import Image, ImageDraw
from setup_texts import SET, changed, line_of

import throughlight.setup as tls
from throughlight.setup.islands import area_of
from throughlight.setup.mistakes import SetupError

DISC = 'outline = { shape = "disc", diameter = "80 mm" }'


def outline_of(table: str, folder):
    return tls.loads(changed(DISC, f"outline = {table}"), folder=folder).subject.shape.outline


def the_mistake_in(table: str, folder, key: str = "subject.shape.outline") -> str:
    text = changed(DISC, f"outline = {table}")
    with pytest.raises(SetupError) as caught:
        tls.loads(text, name="set.toml", folder=folder)
    (mistake,) = caught.value.mistakes
    assert mistake.key.startswith(key)
    assert mistake.line == line_of(text, "outline =")
    assert "\n" not in mistake.message
    return mistake.message


def drawn(folder, name="thing.png", size=(400, 320), ground=255, thing=0, mode="L"):
    """A disc of radius 100.5 pixels (Pillow's ellipses take in both ends) with a square hole of 41 pixels."""
    picture = Image.new(mode, size, ground)
    draw = ImageDraw.Draw(picture)
    draw.ellipse((60, 40, 260, 240), fill=thing)
    draw.rectangle((120, 100, 160, 140), fill=ground)
    picture.save(folder / name)
    return np.pi * 100.5**2 - 41.0**2


@pytest.mark.parametrize(("ground", "thing"), [(255, 0), (0, 255), (200, 60)])
def test_a_silhouette_of_a_drawn_disc(tmp_path, ground, thing):
    pixels = drawn(tmp_path, ground=ground, thing=thing)
    outline = outline_of('{ shape = "picture", file = "thing.png", width = "8 cm" }', tmp_path)
    area = area_of(outline.islands)
    (island,) = outline.islands
    assert len(island.holes) == 1
    assert area.bounds == pytest.approx((-0.04, -0.04, 0.04, 0.04), abs=1e-4)
    pixel = 0.08 / 201.0
    # within a third of a pixel all along both rims
    assert area.area == pytest.approx(pixels * pixel**2, abs=0.3 * pixel * area.length)
    hole = np.asarray(island.holes[0])
    assert np.mean(hole, axis=0) == pytest.approx([-20 * pixel, 20 * pixel], abs=pixel)  # y goes up


def test_transparency_is_the_silhouette(tmp_path):
    picture = Image.new("RGBA", (100, 60), (255, 255, 255, 0))
    ImageDraw.Draw(picture).rectangle((10, 10, 69, 39), fill=(250, 250, 250, 255))
    picture.save(tmp_path / "clear.png")
    outline = outline_of('{ shape = "picture", file = "clear.png", width = "6 cm" }', tmp_path)
    assert area_of(outline.islands).area == pytest.approx(0.06 * 0.03, rel=0.01)


def test_islands_stay_and_specks_go(tmp_path):
    picture = Image.new("L", (300, 200), 255)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((20, 20, 119, 119), fill=0)
    draw.rectangle((180, 50, 239, 109), fill=0)
    draw.rectangle((280, 180, 283, 183), fill=0)
    draw.point((60, 60), fill=255)
    picture.save(tmp_path / "two.png")
    outline = outline_of('{ shape = "picture", file = "two.png", width = "22 cm" }', tmp_path)
    assert [len(island.holes) for island in outline.islands] == [0, 0]
    areas = sorted(area_of((island,)).area for island in outline.islands)
    assert areas == pytest.approx([0.06**2, 0.1**2], rel=0.01)


def test_a_coarser_tolerance_has_fewer_corners(tmp_path):
    drawn(tmp_path)
    table = '{{ shape = "picture", file = "thing.png", width = "8 cm"{} }}'
    fine, coarse = (
        sum(len(island.outer) for island in outline_of(table.format(more), tmp_path).islands)
        for more in ("", ', tolerance = "1 mm"')
    )
    assert coarse < 0.6 * fine


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "LA", "I;16", "F", "CMYK"])
def test_any_kind_of_picture_is_read(tmp_path, mode):
    name = "kind.tif" if mode in ("F", "CMYK") else "kind.png"
    grey = np.full((80, 100), 1.0)
    grey[20:60, 20:80] = 0.0
    if mode == "I;16":
        Image.fromarray((grey * 65535).astype(np.uint16)).save(tmp_path / name)
    elif mode == "F":
        Image.fromarray(grey.astype(np.float32)).save(tmp_path / name)
    else:
        Image.fromarray((grey * 255).astype(np.uint8)).convert(mode).save(tmp_path / name)
    outline = outline_of(f'{{ shape = "picture", file = "{name}", width = "6 cm" }}', tmp_path)
    assert area_of(outline.islands).area == pytest.approx(0.06 * 0.04, rel=0.02)


def test_pictures_that_are_no_outline(tmp_path):
    table = '{{ shape = "picture", file = "{}", width = "8 cm" }}'
    Image.new("L", (50, 50), 128).save(tmp_path / "plain.png")
    assert "nothing in it stands out" in the_mistake_in(table.format("plain.png"), tmp_path)
    (tmp_path / "junk.png").write_bytes(b"not a picture")
    assert "no picture that can be read" in the_mistake_in(table.format("junk.png"), tmp_path)
    drawn(tmp_path)
    whole = (tmp_path / "thing.png").read_bytes()
    (tmp_path / "half.png").write_bytes(whole[: len(whole) // 2])
    assert "the picture cannot be read" in the_mistake_in(table.format("half.png"), tmp_path)
    frames = [Image.new("L", (20, 20), grey) for grey in (0, 255)]
    frames[0].save(tmp_path / "moving.webp", save_all=True, append_images=frames[1:])
    assert "several frames" in the_mistake_in(table.format("moving.webp"), tmp_path)
    noise = np.random.default_rng(1).integers(0, 2, (1500, 1500)).astype(np.uint8) * 255
    Image.fromarray(noise).save(tmp_path / "noise.png")
    assert "all specks" in the_mistake_in(table.format("noise.png"), tmp_path)
    assert "no such file" in the_mistake_in(table.format("none.png"), tmp_path)
    assert "ends in .png" in the_mistake_in(table.format("leaf.gif"), tmp_path)


@pytest.mark.parametrize("side", [6400, 30_000])
def test_a_huge_picture_is_refused_by_its_header(tmp_path, side):
    """The file promises side × side pixels and holds none of them."""

    def chunk(kind, content):
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    (tmp_path / "huge.png").write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b""))
    begin = time.perf_counter()
    said = the_mistake_in('{ shape = "picture", file = "huge.png", width = "8 cm" }', tmp_path)
    assert "more than 40 million pixels" in said
    assert time.perf_counter() - begin < 2.0


@pytest.mark.parametrize(
    ("path", "area", "holes"),
    [
        ("M0 0 H8 V4 H0 Z", 0.08 * 0.04, 0),
        ("M0 0h8v4h-8z m2 1v2h2v-2z", 0.08 * 0.04 - 0.02 * 0.02, 1),  # a hole runs the other way round
        ("M0 0h8v4h-8z m2 1h2v2h-2z", 0.08 * 0.04, 0),  # the same way round is no hole (non-zero rule, SVG's default)
        ("M-1 0 A1 1 0 1 1 1 0 A1 1 0 1 1 -1 0 Z", np.pi * 0.04**2, 0),
        # a parabola y = x(1 − x) on its chord: area 1/6 of a unit square
        ("M0 0 Q 0.5 1 1 0 Z", 0.08**2 / 3.0, 0),
    ],
)
def test_an_svg_path_encloses_its_area(tmp_path, path, area, holes):
    outline = outline_of(f'{{ shape = "svg", path = "{path}", width = "8 cm" }}', tmp_path)
    assert area_of(outline.islands).area == pytest.approx(area, rel=5e-4)
    assert sum(len(island.holes) for island in outline.islands) == holes
    x_low, y_low, x_high, y_high = area_of(outline.islands).bounds
    assert (x_low, x_high) == pytest.approx((-0.04, 0.04))
    assert y_low == pytest.approx(-y_high)


def test_an_svg_path_points_up(tmp_path):
    outline = outline_of('{ shape = "svg", path = "M0 0 L4 -3 L8 0 Z", width = "8 cm" }', tmp_path)
    top = max(outline.islands[0].outer, key=lambda corner: corner[1])
    assert top == pytest.approx((0.0, 0.015))  # −3 is up in a drawing


def svg(folder, body, name="cut.svg", head='<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">'):
    (folder / name).write_text(f'<?xml version="1.0"?>{head}{body}</svg>', "utf-8")


FILE = '{ shape = "svg", file = "cut.svg", width = "8 cm" }'


def test_filled_shapes_of_a_drawing_are_joined(tmp_path):
    svg(tmp_path, '<g transform="scale(2)"><rect width="40" height="20"/><circle cx="40" cy="10" r="10"/></g>')
    area = area_of(outline_of(FILE, tmp_path).islands).area
    scale = 0.08 / 50.0
    assert area == pytest.approx((40 * 20 + np.pi * 10**2 / 2) * scale**2, rel=1e-3)


def test_lines_of_a_cutter_are_even_odd(tmp_path):
    svg(tmp_path, '<g fill="none" stroke="red"><circle cx="50" cy="50" r="40"/><circle cx="50" cy="50" r="10"/></g>')
    area = area_of(outline_of(FILE, tmp_path).islands).area
    assert area == pytest.approx(np.pi * 0.04**2 * (1.0 - 1.0 / 16.0), rel=1e-3)


BOMB = "".join(f'<g id="a{i + 1}">' + f'<use href="#a{i}"/>' * 10 + "</g>" for i in range(9))


@pytest.mark.parametrize(
    ("body", "head", "words"),
    [
        ("", None, "encloses nothing"),
        ('<path d="M0 0 L5 5"/>', None, "encloses nothing"),
        ('<text x="3">no outline</text>', None, "encloses nothing"),
        ('<rect width="5" height="5"', None, "cannot be read"),
        ("<a>" * 5000, None, "cannot be read"),
        ("<rect/>", '<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg>', "declares entities"),
        (f'<g id="a0"><rect width="1" height="1"/></g>{BOMB}<use href="#a9"/>', None, "more than 50000 elements"),
        ('<g id="a"><use href="#a"/></g>', None, "uses itself"),
        ('<path d="M0 0 L1e999 5 L3 3 Z"/>', None, "would fit"),
        ('<image href="http://127.0.0.1:9/x.png" width="5" height="5"/>', None, "encloses nothing"),
    ],
)
def test_drawings_that_are_no_outline(tmp_path, body, head, words):
    svg(tmp_path, body, head=head) if head else svg(tmp_path, body)
    begin = time.perf_counter()
    assert words in the_mistake_in(FILE, tmp_path)
    assert time.perf_counter() - begin < 3.0


@pytest.mark.parametrize(
    "path", ["", "M0 0", "what", "M0 0 L1", "M0 0 H5", "M" + "1" * 5000, "M nan nan L 1 1 L 2 0 Z"]
)
def test_paths_that_are_no_outline(tmp_path, path):
    assert "would fit" in the_mistake_in(f'{{ shape = "svg", path = "{path}", width = "8 cm" }}', tmp_path)


def test_one_drawing_at_a_time(tmp_path):
    said = the_mistake_in('{ shape = "svg", width = "8 cm" }', tmp_path)
    assert said.startswith("the outline has no drawing; exactly one of file")
    svg(tmp_path, "<rect width='5' height='5'/>")
    said = the_mistake_in('{ shape = "svg", width = "8 cm", path = "M0 0H1V1Z", file = "cut.svg" }', tmp_path)
    assert said.startswith("found both file and path")


def test_a_set_without_these_outlines_loads_no_library_for_them():
    script = (
        "import sys, throughlight.setup as tls\n"
        f"tls.loads({SET!r})\n"
        "assert not {'contourpy', 'svgelements', 'PIL', 'trimesh', 'numba'} & set(sys.modules), 'loaded'"
    )
    subprocess.run([sys.executable, "-c", script], check=True, timeout=60)
