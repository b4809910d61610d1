"""Photos as linear light: what code values, profiles, mosaics and tags of the file mean."""

from __future__ import annotations

import colour
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms
from PIL.TiffImagePlugin import IFDRational

from raw_files import WHITE, mosaic_of, write_dng
from throughlight.darkroom import icc
from throughlight.darkroom.capture import CaptureError, read_capture


def stripes(height=48, width=60):
    """Return code values that differ from place to place, (h, w, 3) uint8."""
    across, down = np.meshgrid(np.arange(width), np.arange(height))
    return np.stack([40 + 3 * across, 30 + 2 * across + down, 20 + 4 * down], axis=2).clip(0, 254).astype(np.uint8)


def exif_with(**tags):
    exif = Image.Exif()
    numbers = {"shutter": 33434, "f_number": 33437, "iso": 34855, "flash": 37385, "focal": 37386}
    exif[34665] = {numbers[name]: value for name, value in tags.items()}
    return exif


def test_png_is_decoded_as_srgb_like_a_colour_library_does(tmp_path):
    codes = stripes()
    Image.fromarray(codes).save(tmp_path / "a.png")
    read = read_capture(tmp_path / "a.png")
    np.testing.assert_allclose(read.linear, colour.models.eotf_sRGB(codes / 255.0), atol=2e-6)
    assert (read.kind, read.levels, read.shrunk) == ("developed", 255, 1)
    assert not read.clipped.any()
    # ISO 12232 puts mid-grey at code 118: its exposure is 10/S.
    Image.fromarray(np.full((20, 20, 3), 118, np.uint8)).save(tmp_path / "grey.png")
    np.testing.assert_allclose(read_capture(tmp_path / "grey.png").exposure(200.0), 10.0 / 200.0, rtol=1e-6)


def test_exif_of_a_jpeg(tmp_path):
    exif = exif_with(shutter=IFDRational(1, 60), f_number=IFDRational(8), iso=400, focal=IFDRational(105), flash=16)
    Image.fromarray(stripes()).save(tmp_path / "a.jpg", exif=exif, quality=95)
    data = read_capture(tmp_path / "a.jpg").data
    assert (data.f_number, data.iso, data.flash) == (8.0, 400.0, False)
    assert data.shutter == pytest.approx(1.0 / 60.0)
    assert data.focal == pytest.approx(0.105)


def test_nonsense_in_exif_counts_as_not_said(tmp_path):
    exif = exif_with(f_number=IFDRational(0), iso=0, focal=IFDRational(3, 0))
    Image.fromarray(stripes()).save(tmp_path / "a.jpg", exif=exif)
    data = read_capture(tmp_path / "a.jpg").data
    assert (data.f_number, data.iso, data.focal, data.told) == (None, None, None, False)


def test_a_photo_held_upright_is_turned(tmp_path):
    exif = Image.Exif()
    exif[274] = 6  # turn clockwise to see it upright (TIFF 6.0)
    codes = stripes()
    Image.fromarray(codes).save(tmp_path / "a.png", exif=exif)
    read = read_capture(tmp_path / "a.png")
    np.testing.assert_allclose(read.linear, colour.models.eotf_sRGB(np.rot90(codes, -1) / 255.0), atol=2e-6)
    turned = [(274, 3, 1, 6, True)]
    tifffile.imwrite(tmp_path / "a.tif", codes.astype(np.uint16) * 257, photometric="rgb", extratags=turned)
    np.testing.assert_allclose(read_capture(tmp_path / "a.tif").linear, read.linear, atol=2e-6)


def test_tiff_keeps_sixteen_bits_and_says_what_it_was_taken_as(tmp_path):
    codes = (stripes().astype(np.uint16) * 257) + 5
    tifffile.imwrite(tmp_path / "a.tif", codes, photometric="rgb")
    read = read_capture(tmp_path / "a.tif")
    np.testing.assert_allclose(read.linear, colour.models.eotf_sRGB(codes / 65535.0), atol=2e-6)
    assert any("without a colour profile" in words for words in read.warnings)
    linear = read_capture(tmp_path / "a.tif", encoding="linear")
    np.testing.assert_allclose(linear.linear, codes / 65535.0, atol=2e-6)
    # Full is H = 78/S, mid-grey 10/S (ISO 12232).
    assert linear.grey == pytest.approx(10.0 / 78.0)
    tifffile.imwrite(tmp_path / "b.tif", (codes / 65535.0).astype(np.float32), photometric="rgb")
    assert read_capture(tmp_path / "b.tif").kind == "linear"


def profile_of(space, curve):
    """Return an ICC profile of a colour-science space whose curve is a power, made by hand after ICC.1:2022."""
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    to_d50 = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(space.whitepoint), colour.xy_to_XYZ(d50), transform="Bradford"
    )
    primaries = to_d50 @ space.matrix_RGB_to_XYZ

    def fixed(values):
        return b"".join(round(value * 65536).to_bytes(4, "big", signed=True) for value in values)

    tags = {f"{band}XYZ".encode(): b"XYZ " + bytes(4) + fixed(primaries[:, i]) for i, band in enumerate("rgb")}
    tags |= {f"{band}TRC".encode(): curve for band in "rgb"}
    table, body = len(tags).to_bytes(4, "big"), b""
    start = 128 + 4 + 12 * len(tags)
    for name, data in tags.items():
        table += name + (start + len(body)).to_bytes(4, "big") + len(data).to_bytes(4, "big")
        body += data + bytes(-len(data) % 4)
    return bytes(128) + table + body


POWER_22 = b"curv" + bytes(4) + (1).to_bytes(4, "big") + (563).to_bytes(2, "big") + bytes(2)  # 2.19921875 · 256
STRAIGHT = b"curv" + bytes(8)


def test_a_wide_profile_is_turned_to_bt709(tmp_path):
    # colour-science's "Adobe RGB (1998)": power 2.19921875, wider green; its own way to BT.709 by XYZ is the reference.
    space = colour.RGB_COLOURSPACES["Adobe RGB (1998)"]
    codes = stripes()
    Image.fromarray(codes).save(tmp_path / "a.png", icc_profile=profile_of(space, POWER_22))
    expected = colour.RGB_to_RGB((codes / 255.0) ** 2.19921875, space, "sRGB", "Bradford")
    np.testing.assert_allclose(read_capture(tmp_path / "a.png").linear, expected, atol=4e-4)


def test_a_profile_with_straight_curves_means_linear_light(tmp_path):
    codes = stripes().astype(np.uint16) * 257
    profile = profile_of(colour.RGB_COLOURSPACES["sRGB"], STRAIGHT)
    tifffile.imwrite(tmp_path / "a.tif", codes, photometric="rgb", iccprofile=profile)
    read = read_capture(tmp_path / "a.tif")
    assert (read.kind, read.warnings) == ("linear", ())
    # The profile's D50 is (0.9642, 1, 0.8249), colour-science's has four digits of x and y: 0.03 % apart.
    np.testing.assert_allclose(read.linear, codes / 65535.0, rtol=2e-3)


def test_profiles_by_littlecms_are_read():
    made = icc.parse(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    assert made is not None
    codes = np.linspace(0.0, 1.0, made.curves.shape[1])
    np.testing.assert_allclose(made.curves[1], colour.models.eotf_sRGB(codes), atol=1e-3)
    np.testing.assert_allclose(made.matrix, np.eye(3), atol=2e-3)
    assert icc.parse(b"") is None
    assert icc.parse(bytes(500)) is None
    assert icc.parse(ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()) is None


def test_large_photos_are_averaged_in_linear_light(tmp_path):
    # A checker of black and white averages to half the light, linear 0.5 and not the decoded half of the code.
    checker = (np.indices((96, 160)).sum(axis=0) % 2 * 254).astype(np.uint8)
    Image.fromarray(np.repeat(checker[..., None], 3, axis=2)).save(tmp_path / "a.png")
    read = read_capture(tmp_path / "a.png", most_across=80)
    assert read.linear.shape == (48, 80, 3)
    assert read.shrunk == 2
    np.testing.assert_allclose(read.linear, 0.5 * colour.models.eotf_sRGB(254 / 255), rtol=1e-5)


def test_a_raw_mosaic_is_linear_balanced_and_without_bias_in_the_dark(tmp_path):
    pytest.importorskip("rawpy")
    light = np.zeros((400, 600, 3))
    light[:200], light[200:] = (0.4, 0.3, 0.2), 0.001
    light[:, :100] = 1.2
    write_dng(tmp_path / "a.dng", mosaic_of(light, noise=40.0), iso=200)
    read = read_capture(tmp_path / "a.dng")
    assert (read.kind, read.linear.shape, read.shrunk) == ("raw", (200, 300, 3), 2)
    np.testing.assert_allclose(read.linear[10:90, 60:].mean(axis=(0, 1)), (0.4, 0.3, 0.2), rtol=3e-3)
    # Black level's noise is 40 of 15360 values; green: σ = 40/15360/√2 in a tile, 19 200 tiles: standard error 1.3e-5.
    assert read.linear[110:, 60:, 1].mean() == pytest.approx(0.001, abs=4 * 1.4e-5)
    assert read.clipped[:, 5:45].all()
    assert not read.clipped[:, 60:].any()
    assert (read.data.f_number, read.data.iso, read.data.focal) == (11.0, 200.0, 0.1)


def test_a_raw_photo_held_upright_is_turned(tmp_path):
    pytest.importorskip("rawpy")
    light = np.full((40, 60, 3), 0.1)
    light[:20, :30] = 0.5
    write_dng(tmp_path / "a.dng", mosaic_of(light), turned=6)
    turned = read_capture(tmp_path / "a.dng").linear
    assert turned.shape == (30, 20, 3)
    np.testing.assert_allclose(turned[:15, 10:], 0.5, atol=1e-3)
    np.testing.assert_allclose(turned[:15, :10], 0.1, atol=1e-3)


PATCHES = np.kron(  # a corner of its own, so that turning and mirroring show
    np.array([[[0.10, 0.60, 0.05], [0.20, 0.30, 0.40]], [[0.20, 0.30, 0.40], [0.20, 0.30, 0.40]]]), np.ones((40, 60, 1))
)


def test_a_raw_file_with_a_black_of_its_own_in_each_place_of_the_tile(tmp_path):
    pytest.importorskip("rawpy")
    black = (500, 520, 560, 640)
    write_dng(tmp_path / "a.dng", mosaic_of(PATCHES, black=black), black=black)
    read = read_capture(tmp_path / "a.dng").linear
    assert read[5, 5] == pytest.approx(PATCHES[5, 5], abs=2e-4)
    assert read[-5, -5] == pytest.approx(PATCHES[-5, -5], abs=2e-4)


@pytest.mark.parametrize(("red", "blue"), [(0.4, 0.9), (1.6, 0.5)])
def test_a_raw_file_is_balanced_as_shot_and_led_out_of_its_own_bands(tmp_path, red, blue):
    """Sensor bands that mix sRGB's: given light x, the balanced sensor answers M·x (rows sum to 1), so M comes off."""
    pytest.importorskip("rawpy")
    mixing = np.array([[0.8, 0.15, 0.05], [0.1, 0.8, 0.1], [0.02, 0.18, 0.8]])
    xyz_to_srgb = np.array(_XYZ_TO_SRGB)
    camera = (mixing @ xyz_to_srgb).ravel()
    write_dng(tmp_path / "a.dng", mosaic_of(PATCHES @ mixing.T * 0.6, red=red, blue=blue), red=red, blue=blue,
              matrix=camera)  # fmt: skip
    read = read_capture(tmp_path / "a.dng").linear
    assert read[5, 5] == pytest.approx(0.6 * PATCHES[5, 5], abs=2e-3)
    assert read[-5, -5] == pytest.approx(0.6 * PATCHES[-5, -5], abs=2e-3)


# IEC 61966-2-1: XYZ (D65) to linear sRGB.
_XYZ_TO_SRGB = [
    [3.2404542, -1.5371385, -0.4985314], [-0.9692660, 1.8760108, 0.0415560], [0.0556434, -0.2040259, 1.0572252]
]  # fmt: skip


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_raw_file_is_turned_and_mirrored_as_its_tag_asks(tmp_path, turned):
    """TIFF 6.0, 274: the first row is at the top, top, bottom, bottom, left, right, right, left of what was seen."""
    pytest.importorskip("rawpy")
    write_dng(tmp_path / "a.dng", mosaic_of(PATCHES), turned=turned)
    read = read_capture(tmp_path / "a.dng").linear
    down, across = {1: (0, 0), 2: (0, 1), 3: (1, 1), 4: (1, 0), 5: (0, 0), 6: (0, 1), 7: (1, 1), 8: (1, 0)}[turned]
    assert read.shape == ((40, 60, 3) if turned < 5 else (60, 40, 3))
    corner = read[(5, -5)[down], (5, -5)[across]]
    assert corner == pytest.approx(PATCHES[5, 5], abs=2e-4)
    other = read[(5, -5)[1 - down], (5, -5)[across]]
    assert other == pytest.approx(PATCHES[-5, -5], abs=2e-4)


def test_a_raw_file_shows_what_its_active_area_holds(tmp_path):
    pytest.importorskip("rawpy")
    framed = np.pad(mosaic_of(PATCHES), ((6, 4), (8, 10)), constant_values=100)
    write_dng(tmp_path / "a.dng", framed, active=(6, 8, 86, 128))
    read = read_capture(tmp_path / "a.dng").linear
    assert read.shape == (40, 60, 3)
    assert read[0, 0] == pytest.approx(PATCHES[0, 0], abs=2e-4)
    assert read[-1, -1] == pytest.approx(PATCHES[-1, -1], abs=2e-4)


def test_an_active_area_that_starts_at_odd_places(tmp_path):
    """DNG 1.4: the pattern of colours begins where the active area does."""
    pytest.importorskip("rawpy")
    framed = np.pad(mosaic_of(PATCHES), ((7, 4), (5, 8)), constant_values=100)
    write_dng(tmp_path / "a.dng", framed, active=(7, 5, 87, 125))
    read = read_capture(tmp_path / "a.dng").linear
    assert read[2, 2] == pytest.approx(PATCHES[5, 5], abs=2e-4)
    assert read[-2, -2] == pytest.approx(PATCHES[-5, -5], abs=2e-4)


@pytest.mark.parametrize("black", [0, 512])
def test_a_linear_dng_is_read_pixel_by_pixel(tmp_path, black):
    pytest.importorskip("rawpy")
    sensor = PATCHES * (0.5, 1.0, 0.7)
    sensor[-20:, -20:] = 1.0
    write_dng(tmp_path / "a.dng", np.rint(black + (WHITE - black) * sensor).astype(np.uint16), black=(black,))
    read = read_capture(tmp_path / "a.dng")
    assert (read.kind, read.linear.shape, read.shrunk) == ("raw", (80, 120, 3), 1)
    assert read.linear[5, 5] == pytest.approx(PATCHES[5, 5], abs=3e-4)
    assert read.linear[-30, -30] == pytest.approx(PATCHES[-30, -30], abs=3e-4)
    assert read.clipped.sum() == 400


def test_an_encoding_is_not_of_raw_files(tmp_path):
    write_dng(tmp_path / "a.dng", mosaic_of(PATCHES))
    with pytest.raises(CaptureError, match="a raw file has its own"):
        read_capture(tmp_path / "a.dng", encoding="sRGB")
