"""Picture files in hard cases: hostile names, full disks, sizes that do not fit; and what their profile means."""

from __future__ import annotations

import io
import os

import colour
import numpy as np
import OpenEXR
import pytest
import tifffile
from PIL import Image, ImageCms

from throughlight.darkroom import files, tone

NASTY = "<b>Wörk</b> \u202etxt.exe\u202c 💎 شريحة\u0000\n\ud800"
"""Markup, a mark that reverses the direction of writing, emoji, Arabic, a zero byte, a line break, half a character."""


def exposures(height=40, width=60, seed=1):
    return np.random.default_rng(seed).gamma(1.0, 0.1, (height, width, 3))


def left_over(folder):
    return sorted(name for name in os.listdir(folder) if ".part" in name)


def test_profile_is_srgb_iec_61966_2_1():
    # Code values through the profile into CIELAB (D50) by LittleCMS, against colour-science's own sRGB, adapted by
    # Bradford as ICC.1 asks. LittleCMS gives Lab in 8 bits here: L* to 0.2, a* and b* to 0.5.
    codes = np.array([[118, 118, 118], [255, 255, 255], [200, 60, 30], [20, 120, 220]], np.uint8)
    profile = ImageCms.ImageCmsProfile(io.BytesIO(files.srgb_profile()))
    to_lab = ImageCms.buildTransform(profile, ImageCms.createProfile("LAB"), "RGB", "LAB", renderingIntent=1)
    read = np.asarray(ImageCms.applyTransform(Image.fromarray(codes[None]), to_lab))[0].astype(float)
    read = np.stack([read[:, 0] * 100.0 / 255.0, *((read[:, 1:].T + 128.0) % 256.0 - 128.0)], axis=1)
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    xyz = colour.RGB_to_XYZ(codes / 255.0, "sRGB", d50, "Bradford", apply_cctf_decoding=True)
    np.testing.assert_allclose(read, colour.XYZ_to_Lab(xyz, d50), atol=0.75)


def test_tiff_keeps_sixteen_bits_profile_and_resolution(tmp_path):
    H = exposures()
    files.write_tiff16(tmp_path / "a.tif", H, 100.0, {"title": "Agate 💎"})
    with tifffile.TiffFile(tmp_path / "a.tif") as read:
        page = read.pages[0]
        picture = page.asarray()
        assert picture.dtype == np.uint16
        assert page.photometric == tifffile.PHOTOMETRIC.RGB
        assert page.tags["XResolution"].value == page.tags["YResolution"].value == (300, 1)
        assert page.tags["ResolutionUnit"].value == tifffile.RESUNIT.INCH
        assert "sRGB" in ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(page.iccprofile)))
        assert page.tags["Software"].value.startswith("Throughlight ")
        assert page.description.startswith("Agate 💎. Computed picture")
    assert np.abs(picture / 65535.0 - tone.signal(H, 100.0)).max() <= 0.5 / 65535.0 + 1e-12
    with Image.open(tmp_path / "a.tif") as other:  # a second reader
        assert other.size == (60, 40)


def test_nasty_names_stay_apart_and_readable(tmp_path):
    names = [NASTY, "a.R", "a_R", "mask", "", "\u202e", "x" * 500, "x" * 499, "R"]
    layers = {name: np.full((4, 5, 3), value, np.float32) for value, name in enumerate(names, 1)}
    files.write_exr(tmp_path / "a.exr", layers, {NASTY: np.ones((4, 5)), "mask": np.zeros((4, 5))}, {"title": NASTY})
    with OpenEXR.File(str(tmp_path / "a.exr"), separate_channels=True) as read:
        pixels = {name: channel.pixels for name, channel in read.channels().items()}
    assert len(pixels) == 3 + 3 * len(names) + 2
    layered = {name.rsplit(".", 1)[0]: array[0, 0] for name, array in pixels.items() if name.endswith(".R")}
    assert sorted(layered.values()) == list(range(1, len(names) + 1))
    assert all(name.isprintable() and len(name.encode()) < 250 for name in layered)
    assert "<b>Wörk</b> txt_exe 💎 شريحة" in layered


def test_nasty_texts_in_png_and_tiff(tmp_path):
    picture = np.zeros((2, 3, 3), np.uint8)
    files.write_png(tmp_path / "a.png", picture, {"title": NASTY, NASTY: "value", "": "nothing"})
    with Image.open(tmp_path / "a.png") as read:
        assert read.text["Title"] == "<b>Wörk</b> txt.exe 💎 شريحة"
    files.write_tiff16(tmp_path / "a.tif", np.zeros((2, 3, 3)), 100.0, {"title": NASTY})
    with tifffile.TiffFile(tmp_path / "a.tif") as read:
        assert read.pages[0].description.startswith("<b>Wörk</b> txt.exe 💎 شريحة. ")
    files.write_text(tmp_path / "a.txt", "a\nb \ud800\n")
    assert (tmp_path / "a.txt").read_bytes() == b"a\nb ?\n"


WRITERS = {
    "a.png": lambda path: files.write_png(path, np.zeros((4, 5, 3), np.uint8)),
    "a.tif": lambda path: files.write_tiff16(path, np.zeros((4, 5, 3)), 100.0),
    "a.exr": lambda path: files.write_exr(path, {"head": np.zeros((4, 5, 3))}),
    "a.txt": lambda path: files.write_text(path, "text"),
}


@pytest.mark.parametrize("trouble", [OSError, KeyboardInterrupt])
def test_failure_in_the_middle_leaves_the_old_file_and_nothing_else(trouble, tmp_path):
    (tmp_path / "a.bin").write_bytes(b"what was there")

    def write_half():
        with files.atomic(tmp_path / "a.bin") as passing:
            passing.write_bytes(b"half of")
            assert left_over(tmp_path) == [passing.name]
            raise trouble

    with pytest.raises(trouble):
        write_half()
    assert (tmp_path / "a.bin").read_bytes() == b"what was there"
    assert os.listdir(tmp_path) == ["a.bin"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="POSIX: file size limits")
@pytest.mark.parametrize("kind", ["png", "tif", "exr"])
def test_a_disk_that_is_full_in_the_middle(kind, tmp_path):
    # The limit on file size of POSIX (setrlimit) makes the write itself fail half-way, in a process of its own.
    import subprocess
    import sys

    program = """
import resource, signal, sys, numpy as np
from pathlib import Path
from throughlight.darkroom import files
noise = np.random.default_rng(1).random((300, 300, 3))
write = {
    "png": lambda path: files.write_png(path, (255 * noise).astype(np.uint8)),
    "tif": lambda path: files.write_tiff16(path, noise, 100.0),
    "exr": lambda path: files.write_exr(path, {"head": noise}),
}[sys.argv[2]]
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
try:
    write(Path(sys.argv[1]))
except OSError as trouble:
    print("refused", trouble)
"""
    target = tmp_path / f"a.{kind}"
    target.write_bytes(b"what was there")
    ended = subprocess.run([sys.executable, "-c", program, str(target), kind], capture_output=True, text=True)
    assert ended.stdout.startswith("refused"), ended.stderr
    assert target.read_bytes() == b"what was there"
    assert os.listdir(tmp_path) == [target.name]


def test_files_get_the_rights_that_new_files_get(tmp_path):
    (tmp_path / "plain").write_bytes(b"")
    files.write_text(tmp_path / "a.txt", "text")
    assert (tmp_path / "a.txt").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_missing_folder_and_what_is_no_file_are_refused_by_name(tmp_path):
    for name, write in WRITERS.items():
        with pytest.raises(FileNotFoundError, match=name):
            write(tmp_path / "nowhere" / name)
        (tmp_path / name).mkdir()
        with pytest.raises(OSError, match=name):
            write(tmp_path / name)
        assert left_over(tmp_path) == []


def test_misfits_are_refused(tmp_path):
    path, head = tmp_path / "a", np.zeros((4, 5, 3))
    with pytest.raises(ValueError, match="at least one layer"):
        files.write_exr(path, {})
    with pytest.raises(ValueError, match="veil"):
        files.write_exr(path, {"head": head, "veil": np.zeros((4, 6, 3))})
    with pytest.raises(ValueError, match="subject"):
        files.write_exr(path, {"head": head}, {"subject": np.zeros((4, 5, 3))})
    with pytest.raises(ValueError, match="found"):
        files.write_exr(path, {"head": np.zeros((4, 5))})
    with pytest.raises(ValueError, match="found"):
        files.write_png(path, np.zeros((4, 5, 3)))
    with pytest.raises(ValueError, match="found"):
        files.write_tiff16(path, np.zeros((4, 5)), 100.0)
    assert os.listdir(tmp_path) == []


def test_too_large_is_refused_before_memory_is_touched(tmp_path):
    # A view of one number, 1.4e10 pixels: copies of it would not fit.
    endless = np.broadcast_to(np.float32(0.1), (120_000, 120_000, 3))
    with pytest.raises(ValueError, match="fewer pixels"):
        files.write_exr(tmp_path / "a.exr", {"head": endless})
    with pytest.raises(ValueError, match="fewer pixels"):
        files.write_tiff16(tmp_path / "a.tif", endless, 100.0)
    assert os.listdir(tmp_path) == []
