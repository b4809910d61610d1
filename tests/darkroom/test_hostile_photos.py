"""Photos that can't be used: each is refused in one sentence that names the file, before memory or time is spent."""

from __future__ import annotations

import struct
import sys
import tracemalloc
import zlib

import numpy as np
import pytest
import tifffile
from PIL import Image

from raw_files import mosaic_of, write_dng
from throughlight.darkroom.capture import CaptureError, read_capture


def noise(height=200, width=300, seed=1):
    return np.random.default_rng(seed).integers(20, 200, (height, width, 3)).astype(np.uint8)


def refusal(path, **how):
    with pytest.raises(CaptureError) as caught:
        read_capture(path, **how)
    words = str(caught.value)
    assert words.startswith(str(path))
    assert "\n" not in words
    assert len(words) < 500
    return words


def png_header(width, height):
    """Return a PNG of so many pixels by its header, and none behind it."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


def test_missing_file_and_folder(tmp_path):
    assert "there is no such file" in refusal(tmp_path / "none.jpg")
    assert "it is a folder; a photo in it would fit" in refusal(tmp_path)


@pytest.mark.parametrize("ending", ["jpg", "png", "tif"])
@pytest.mark.parametrize("part", [0.0, 0.02, 0.5])
def test_cut_off_pictures(tmp_path, ending, part):
    path = tmp_path / f"a.{ending}"
    if ending == "tif":
        tifffile.imwrite(path, noise().astype(np.uint16) * 200, photometric="rgb", compression="zlib")
    else:
        Image.fromarray(noise()).save(path)
    content = path.read_bytes()
    path.write_bytes(content[: int(part * len(content))])
    assert "a whole photo would fit" in refusal(path)


@pytest.mark.parametrize("part", [0.0, 0.01, 0.5, 0.95])
def test_cut_off_raw_files(tmp_path, part):
    pytest.importorskip("rawpy")
    path = tmp_path / "a.dng"
    write_dng(path, mosaic_of(np.full((200, 300, 3), 0.3), noise=30.0))
    content = path.read_bytes()
    path.write_bytes(content[: int(part * len(content))])
    refusal(path)


def test_what_is_no_picture_at_all(tmp_path):
    for name in ("a.jpg", "a.tif", "a.dng", "a.txt", "noending"):
        (tmp_path / name).write_bytes(b"[camera]\nfocal = 3\n" * 50)
        refusal(tmp_path / name)


def test_raw_without_its_reader(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "rawpy", None)
    write_dng(tmp_path / "a.dng", mosaic_of(np.full((40, 60, 3), 0.3)))
    words = refusal(tmp_path / "a.dng")
    assert "throughlight[raw]" in words
    assert "16-bit TIFF" in words


def test_a_thousand_million_pixels_by_header(tmp_path):
    (tmp_path / "a.png").write_bytes(png_header(40_000, 25_000))
    assert "million pixels" in refusal(tmp_path / "a.png")
    # TIFF: the same in a header of 16-bit values without data.
    tifffile.imwrite(tmp_path / "a.tif", np.zeros((16, 16, 3), np.uint16), photometric="rgb")
    content = bytearray((tmp_path / "a.tif").read_bytes())
    for tag, value in ((256, 40_000), (257, 25_000)):
        at = next(
            i for i in range(len(content)) if content[i : i + 2] == struct.pack("<H", tag) and content[i + 4] == 1
        )
        content[at + 2 : at + 12] = struct.pack("<HII", 4, 1, value)
    (tmp_path / "a.tif").write_bytes(bytes(content))
    assert "million pixels" in refusal(tmp_path / "a.tif")


@pytest.mark.parametrize("ending", ["jpg", "dng"])
def test_a_thousand_million_pixels_by_header_are_refused_before_they_are_held(tmp_path, ending):
    path = tmp_path / f"a.{ending}"
    if ending == "jpg":
        Image.fromarray(noise()).save(path)
        content = bytearray(path.read_bytes())
        at = content.index(b"\xff\xc0") + 5  # the frame's header: length, bits, height, width
        content[at : at + 4] = struct.pack(">HH", 15_300, 65_500)
    else:
        pytest.importorskip("rawpy")
        write_dng(path, mosaic_of(np.full((40, 60, 3), 0.3)))
        content = bytearray(path.read_bytes())
        for tag, value in ((256, 40_000), (257, 25_000), (278, 25_000)):  # width, height, rows a strip
            at = content.index(struct.pack("<H", tag), 8)
            content[at + 2 : at + 12] = struct.pack("<HII", 4, 1, value)
    path.write_bytes(bytes(content))
    tracemalloc.start()
    words = refusal(path)
    held = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "million pixels" in words
    assert held < 50e6


def test_wrong_sizes(tmp_path):
    Image.fromarray(noise(8, 300)).save(tmp_path / "thin.png")
    assert "at least 16 either way" in refusal(tmp_path / "thin.png")


def test_animated_and_many_paged(tmp_path):
    frames = [Image.fromarray(noise(seed=seed)) for seed in (1, 2)]
    frames[0].save(tmp_path / "a.webp", save_all=True, append_images=frames[1:])
    frames[0].save(tmp_path / "a.png", save_all=True, append_images=frames[1:])
    tifffile.imwrite(tmp_path / "a.tif", np.stack([noise(seed=s) for s in (1, 2)]).astype(np.uint16), photometric="rgb")
    for name in ("a.webp", "a.png", "a.tif"):
        assert "several frames" in refusal(tmp_path / name)


def test_transparent(tmp_path):
    codes = np.dstack([noise(), np.full((200, 300), 100, np.uint8)])
    Image.fromarray(codes).save(tmp_path / "a.png")
    assert "transparent" in refusal(tmp_path / "a.png")


def test_fully_clipped(tmp_path):
    Image.fromarray(np.full((100, 150, 3), 255, np.uint8)).save(tmp_path / "a.png")
    assert "every part of it is clipped" in refusal(tmp_path / "a.png")


def test_all_black(tmp_path):
    Image.fromarray(np.zeros((100, 150, 3), np.uint8)).save(tmp_path / "a.png")
    assert "black everywhere" in refusal(tmp_path / "a.png")


def test_all_black_but_for_noise(tmp_path):
    pytest.importorskip("rawpy")
    write_dng(tmp_path / "a.dng", mosaic_of(np.zeros((200, 300, 3)), noise=30.0))
    assert "black everywhere" in refusal(tmp_path / "a.dng")


def test_a_small_bright_thing_is_not_black(tmp_path):
    codes = np.zeros((200, 300, 3), np.uint8)
    codes[96:120, 144:168] = 30
    Image.fromarray(codes).save(tmp_path / "a.png")
    read_capture(tmp_path / "a.png")


def test_names_that_steer_the_reader_are_shown_harmless(tmp_path):
    with pytest.raises(CaptureError) as caught:
        read_capture(str(tmp_path / "a\u202egpj\n.jpg"))
    assert "\u202e" not in str(caught.value)
    assert "\n" not in str(caught.value)
