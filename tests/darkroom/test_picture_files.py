"""Picture files, read back by the libraries that other programs read them with; whole or absent."""

from __future__ import annotations

import io
import os

import numpy as np
import OpenEXR
import pytest
import tifffile
from PIL import Image, ImageCms

from throughlight.darkroom import files, tone


def exposures(height=40, width=60, seed=1):
    return np.random.default_rng(seed).gamma(1.0, 0.1, (height, width, 3))


def test_png_keeps_codes_profile_and_texts(tmp_path):
    picture = tone.develop(exposures(), 100.0)
    files.write_png(tmp_path / "a.png", picture, {"title": "Agate against black"})
    with Image.open(tmp_path / "a.png") as read:
        np.testing.assert_array_equal(np.asarray(read), picture)
        assert read.text["Title"] == "Agate against black"
        assert read.text["Software"].startswith("Throughlight ")
        assert "omputed picture" in read.text["Comment"]
        profile = ImageCms.ImageCmsProfile(io.BytesIO(read.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)


def test_exr_keeps_every_layer_bit_for_bit(tmp_path):
    layers = {name: exposures(seed=seed).astype(np.float32) for seed, name in enumerate(["left head", "right head"])}
    layers["veil"] = np.broadcast_to(np.float32([1e-6, 2e-6, 3e-6]), (40, 60, 3))  # a view of three numbers
    masks = {"subject": layers["left head"][:, :, 1], "backdrop": np.zeros((40, 60), np.float32)}
    files.write_exr(tmp_path / "a.exr", layers, masks, {"title": "Agate 💎"})
    with OpenEXR.File(str(tmp_path / "a.exr"), separate_channels=True) as read:
        pixels = {name: channel.pixels for name, channel in read.channels().items()}
        header = dict(read.header())
    for name, layer in layers.items():
        for at, band in enumerate("RGB"):
            np.testing.assert_array_equal(pixels[f"{name}.{band}"], layer[:, :, at])
    for name, mask in masks.items():
        np.testing.assert_array_equal(pixels[f"mask.{name}"], mask)
    total = sum(layer.astype(float) for layer in layers.values())
    shown = np.stack([pixels[band] for band in "RGB"], axis=2)
    # Two sums of three 32-bit floats.
    np.testing.assert_allclose(shown, total, rtol=3 * np.finfo(np.float32).eps)
    # ITU-R BT.709-6, table 1: primaries and white.
    assert header["chromaticities"] == pytest.approx((0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290), abs=1e-6)
    assert header["title"] == "Agate 💎"
    assert len(pixels) == 3 + 3 * 3 + 2


def test_exr_opens_as_an_ordinary_picture(tmp_path):
    H = exposures().astype(np.float32)
    files.write_exr(tmp_path / "a.exr", {"head": H})
    with OpenEXR.File(str(tmp_path / "a.exr")) as read:
        np.testing.assert_array_equal(read.channels()["RGB"].pixels, H)


def test_tiff_is_the_same_picture_in_16_bits(tmp_path):
    H = exposures()
    files.write_tiff16(tmp_path / "a.tif", H, 100.0)
    eight = tone.develop(H, 100.0, dither=False).astype(int)
    # 65535 = 257 · 255: a code value is 257 times as much; rounding to 8 bits moves it by half of that at most.
    assert np.abs(tifffile.imread(tmp_path / "a.tif").astype(int) - 257 * eight).max() <= 129


def test_tiff_and_exr_say_who_made_them(tmp_path):
    """Artist is tag 315 of TIFF 6.0 (section 8); "owner" is a standard attribute of OpenEXR headers."""
    files.write_tiff16(tmp_path / "a.tif", exposures(), 100.0, {"author": "Studio Nörd"})
    with tifffile.TiffFile(tmp_path / "a.tif") as read:
        assert read.pages[0].tags[315].value == "Studio Nörd"
    files.write_exr(tmp_path / "a.exr", {"head": exposures().astype(np.float32)}, metadata={"author": "Studio North"})
    with OpenEXR.File(str(tmp_path / "a.exr")) as read:
        assert read.header()["owner"] == "Studio North"


def test_tiff_mid_grey_and_clip_iso_12232(tmp_path):
    patches = np.array([[[0.1] * 3, [0.78] * 3, [0.0] * 3]])  # lx·s: 10/S, 78/S at ISO 100, and nothing
    files.write_tiff16(tmp_path / "a.tif", patches, 100.0)
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "a.tif")[0, :, 0], [118 * 257, 65535, 0])


def test_exr_keeps_what_no_screen_shows(tmp_path):
    wide = np.array([[[1e-9, 1e-3, 1e6]]], np.float32)
    files.write_exr(tmp_path / "a.exr", {"head": wide})
    with OpenEXR.File(str(tmp_path / "a.exr")) as read:
        np.testing.assert_array_equal(read.channels()["head"].pixels, wide)


WRITERS = {
    "a.png": lambda path: files.write_png(path, np.zeros((4, 5, 3), np.uint8)),
    "a.tif": lambda path: files.write_tiff16(path, np.zeros((4, 5, 3)), 100.0),
    "a.exr": lambda path: files.write_exr(path, {"head": np.zeros((4, 5, 3))}),
    "a.txt": lambda path: files.write_text(path, "text"),
}


@pytest.mark.parametrize("name", WRITERS)
def test_same_picture_gives_same_bytes(name, tmp_path):
    WRITERS[name](tmp_path / name)
    first = (tmp_path / name).read_bytes()
    WRITERS[name](tmp_path / name)
    assert (tmp_path / name).read_bytes() == first
    assert os.listdir(tmp_path) == [name]


@pytest.mark.parametrize("name", WRITERS)
def test_failure_at_the_last_step_leaves_the_old_file_and_nothing_else(name, tmp_path, monkeypatch):
    (tmp_path / name).write_bytes(b"what was there")

    def full(source, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        WRITERS[name](tmp_path / name)
    assert (tmp_path / name).read_bytes() == b"what was there"
    assert os.listdir(tmp_path) == [name]
