"""Photographs of a piece on a light table: what they tell, and hostile files, each refused in one sentence."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image

from raw_files import mosaic_of, write_dng
from throughlight.cli import main
from throughlight.darkroom.capture import read_capture
from throughlight.readings.piece import read_piece
from throughlight.setup import SetupError
from throughlight.setup.pieces import piece_from
from throughlight.sheets.piece_entry import entry_text, put_into_kit, write_map
from throughlight.swatch.inverse import Kind, transmittance
from throughlight.swatch.photo import passed

SHARE = (0.4, 0.2, 0.1)
TABLE = 0.8


def picture(shape=(300, 450), share=SHARE, table=TABLE):
    """Return the linear light of an evenly lit piece in the middle of a light table."""
    light = np.full((*shape, 3), table)
    rows, columns = shape
    light[rows // 4 : 3 * rows // 4, columns // 3 : 2 * columns // 3] = table * np.array(share)
    return light


def srgb(light):
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)  # IEC 61966-2-1
    return np.round(255.0 * code).astype(np.uint8)


def save_tiff(path, light):
    tifffile.imwrite(path, np.round(65535.0 * light).astype(np.uint16), photometric="rgb")
    return path


def save_dng(path, light):
    write_dng(path, mosaic_of(light))
    return path


def piece_of(path, **keys):
    photo = {"picture": str(path), "thickness": "5 mm", **keys}
    return piece_from({"photo": photo, "kind": "stone", "name": "slice"}, "a test", path.parent)


def refused(path, **keys) -> str:
    with pytest.raises(SetupError) as caught:
        read_piece(piece_of(path, **keys))
    (only,) = caught.value.mistakes
    assert "\n" not in str(only)
    return str(only)


def test_a_16_bit_tiff_tells_what_passes(tmp_path):
    reading = read_piece(piece_of(save_tiff(tmp_path / "slice.tif", picture()), encoding="linear"))
    told = reading.shots[0].passed
    assert told.share == pytest.approx(SHARE, rel=1e-3)
    assert np.all(told.error < 0.2)
    assert reading.shots[0].doubts == ()
    for measured, share in zip(reading.measured, SHARE, strict=True):
        assert measured[0].stops == pytest.approx(-np.log2(share), abs=0.005)


def test_a_tiff_without_a_profile_is_srgb_unless_said_to_be_linear(tmp_path):
    """One rule for `match` and `swatch`, each with its warning: both go through the same reader."""
    coded = srgb(picture()).astype(np.uint16) * 257
    tifffile.imwrite(tmp_path / "slice.tif", coded, photometric="rgb")
    reading = read_piece(piece_of(tmp_path / "slice.tif"))
    assert reading.shots[0].passed.share == pytest.approx(SHARE, rel=0.02)  # half a code value of 255
    assert not reading.shots[0].straight
    first = reading.shots[0].doubts[0]
    assert first.startswith("photo slice.tif: ")
    assert "without a colour profile" in first
    assert first.removeprefix("photo slice.tif: ") in read_capture(tmp_path / "slice.tif").warnings


def test_swatch_is_told_the_encoding_on_the_command_line(tmp_path):
    file = save_tiff(tmp_path / "slice.tif", picture())
    call = ["swatch", "--photo", str(file), "--thickness", "5 mm", "--kind", "stone", "--json"]
    told = {}
    for encoding in ("auto", "sRGB", "linear"):
        result = CliRunner().invoke(main, [*call, "--encoding", encoding])
        assert result.exit_code == 0, result.output
        told[encoding] = result.output
    assert "without a colour profile" in told["auto"]
    assert "without a colour profile" not in told["sRGB"] + told["linear"]
    assert "contrast curve" in told["sRGB"]
    assert "contrast curve" not in told["linear"]


def test_an_srgb_file_comes_with_a_warning_and_a_larger_error(tmp_path):
    Image.fromarray(srgb(picture())).save(tmp_path / "slice.png")
    reading = read_piece(piece_of(tmp_path / "slice.png"))
    assert reading.shots[0].passed.share == pytest.approx(SHARE, rel=0.02)  # half a code value of 255
    assert "contrast curve" in reading.shots[0].doubts[0]
    straight = read_piece(piece_of(save_tiff(tmp_path / "slice.tif", picture()), encoding="linear"))
    assert reading.measured[0][0].error > 2.0 * straight.measured[0][0].error


def test_a_raw_file(tmp_path):
    pytest.importorskip("rawpy")
    reading = read_piece(piece_of(save_dng(tmp_path / "slice.dng", picture())))
    assert reading.shots[0].passed.share == pytest.approx(SHARE, rel=0.01)
    assert reading.shots[0].doubts == ()


def test_a_raw_file_keeps_its_scale(tmp_path):
    """Light of half the white level stays half, whatever the brightest pixel is."""
    pytest.importorskip("rawpy")
    light = read_capture(save_dng(tmp_path / "grey.dng", np.full((80, 120, 3), 0.5))).linear
    assert light.mean(axis=(0, 1)) == pytest.approx((0.5, 0.5, 0.5), rel=0.005)


def test_without_the_extra_a_raw_file_is_refused_in_words(tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "rawpy", None)
    (tmp_path / "slice.dng").write_bytes(b"II*\0")
    assert "extra raw" in refused(tmp_path / "slice.dng")


def test_regions_are_told_on_the_command_line(tmp_path):
    light = picture()
    light[:60] = light[:, :40] = 0.05  # a dark frame that is larger than the piece
    file = save_tiff(tmp_path / "slice.tif", light)
    call = ["swatch", "--photo", str(file), "--encoding", "linear", "--thickness", "5 mm", "--kind", "stone", "--json"]
    result = CliRunner().invoke(main, [*call, "--bare", "80% 40% 15% 30%", "--piece", "40%, 40%, 20%, 20%"])
    assert result.exit_code == 0, result.output
    assert "1.32 2.32 3.32 stops less" in result.output  # −log2 of .4, .2, .1
    refused_one = CliRunner().invoke(main, [*call, "--bare", "80%"])
    assert refused_one.exit_code == 2
    assert "bare" in refused_one.output


def test_given_regions_count():
    light = picture().astype(np.float32)
    light[:, :40] = 0.05  # a dark frame that is larger than the piece
    light[:60] = 0.05
    found = passed(light, 1e-4, bare=(0.8, 0.4, 0.15, 0.3), piece=(0.4, 0.4, 0.2, 0.2))
    assert found.share == pytest.approx(SHARE, rel=1e-3)


def test_the_map_is_what_the_set_uses(tmp_path):
    """The entry with its map loads as a kit entry, and its picture holds the transmittance of each place."""
    reading = read_piece(piece_of(save_tiff(tmp_path / "slice.tif", picture()), encoding="linear", width="90 mm"))
    width = write_map(reading.shots[0], tmp_path / "map.tif")
    assert 0.03 < width < 0.05  # a third of 90 mm, and a border
    codes = tifffile.imread(tmp_path / "map.tif")
    assert codes[len(codes) // 2, codes.shape[1] // 2] / 65535 == pytest.approx(SHARE, abs=1e-3)
    put_into_kit(tmp_path / "kit.toml", "slice", entry_text(reading, "map.tif", width))
    from throughlight.kit import using
    from throughlight.setup.material import Material, material_from
    from throughlight.setup.own_kit import kit_for
    from throughlight.stage.mapped import mapped

    with using(kit_for(tmp_path)):
        material = Material.model_validate(material_from("slice"), context={"folder": tmp_path})
    assert material.map is not None
    matter = mapped(material, 5e-3)
    place = len(codes) // 2, codes.shape[1] // 2
    for band, share in enumerate(SHARE):
        scatter, absorb = matter.scattering[(*place, band)] * (1.0 - material.g), matter.absorption[(*place, band)]
        assert transmittance(Kind(scatter, material.g, material.n), absorb, 5e-3) == pytest.approx(share, rel=0.01)


def test_a_map_needs_a_width(tmp_path):
    reading = read_piece(piece_of(save_tiff(tmp_path / "slice.tif", picture()), encoding="linear"))
    with pytest.raises(SetupError, match="how much the photo shows"):
        write_map(reading.shots[0], tmp_path / "map.tif")


def test_clipped_and_black(tmp_path):
    assert "every part of it is clipped" in refused(save_tiff(tmp_path / "white.tif", np.ones((60, 90, 3))))
    assert "black everywhere" in refused(save_tiff(tmp_path / "black.tif", np.zeros((60, 90, 3))))
    table = save_tiff(tmp_path / "table.tif", picture(table=1.0))
    assert "bare light table is clipped" in refused(table)
    spotted = picture()
    spotted[::5, ::5] = 1.0  # one pixel in 25
    assert "bare light table is clipped" in refused(save_tiff(tmp_path / "spots.tif", spotted), encoding="linear")


def test_a_raw_band_over_white_is_not_clipped(tmp_path):
    """A sensor that answers half as strongly in red has room up to twice the light at which green is full."""
    pytest.importorskip("rawpy")
    light = picture() * (1.8, 1.0, 1.0)  # red of the table: 1.44, 0.72 of the sensor's own full
    reading = read_piece(piece_of(save_dng(tmp_path / "slice.dng", light)))
    assert reading.shots[0].passed.share == pytest.approx(SHARE, rel=0.01)


def test_nothing_to_see(tmp_path):
    assert "nothing is darker" in refused(save_tiff(tmp_path / "bare.tif", np.full((60, 90, 3), 0.7)))
    swapped = refused(
        save_tiff(tmp_path / "slice.tif", picture()),
        bare=["40 %"] * 2 + ["20 %"] * 2,
        piece=["0 %", "0 %", "10 %", "10 %"],
    )
    assert "were the two exchanged" in swapped
    with pytest.raises(SetupError, match="a region within the frame"):
        piece_of(tmp_path / "slice.tif", bare=["90 %", "0 %", "20 %", "10 %"])


def test_truncated_files(tmp_path):
    whole = save_tiff(tmp_path / "whole.tif", picture()).read_bytes()
    for name, content in {
        "half.tif": whole[: len(whole) // 2],
        "head.tif": whole[:20],
        "empty.tif": b"",
        "noise.png": bytes(range(256)) * 20,
        "empty.jpg": b"",
    }.items():
        (tmp_path / name).write_bytes(content)
        assert "would fit" in refused(tmp_path / name), name
    Image.fromarray(srgb(picture())).save(tmp_path / "whole.png")
    half = (tmp_path / "whole.png").read_bytes()
    (tmp_path / "half.png").write_bytes(half[: len(half) // 2])
    assert "would fit" in refused(tmp_path / "half.png")


def test_truncated_raw_files(tmp_path, capfd):
    """One sentence each, and nothing of what the raw library says by itself."""
    pytest.importorskip("rawpy")
    whole = save_dng(tmp_path / "whole.dng", picture()).read_bytes()
    for name, content in {
        "half.dng": whole[:5000],
        "head.dng": whole[:30],
        "empty.dng": b"",
        "noise.nef": b"x" * 9000,
    }.items():
        (tmp_path / name).write_bytes(content)
        assert "would fit" in refused(tmp_path / name), name
    assert capfd.readouterr() == ("", "")


def test_a_thousand_million_pixels_by_header(tmp_path):
    """A PNG whose header promises 40 000 × 25 000 pixels and holds none is refused before room is made for them."""
    head = struct.pack(">IIBBBBB", 40_000, 25_000, 8, 2, 0, 0, 0)
    chunks = [(b"IHDR", head), (b"IDAT", zlib.compress(b"\0" * 100)), (b"IEND", b"")]
    packed = [
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in chunks
    ]
    (tmp_path / "huge.png").write_bytes(b"\x89PNG\r\n\x1a\n" + b"".join(packed))
    assert "million pixels" in refused(tmp_path / "huge.png")
    tifffile.imwrite(tmp_path / "small.tif", np.zeros((40, 60, 3), np.uint16), photometric="rgb")
    whole = bytearray((tmp_path / "small.tif").read_bytes())
    for tag, size in ((256, 40_000), (257, 25_000)):
        place = whole.index(struct.pack("<HHI", tag, 3, 1)) if struct.pack("<HHI", tag, 3, 1) in whole else None
        kind = 3 if place is not None else 4
        place = whole.index(struct.pack("<HHI", tag, kind, 1))
        whole[place + 8 : place + 12] = struct.pack("<I", size)
    (tmp_path / "huge.tif").write_bytes(bytes(whole))
    assert "million pixels" in refused(tmp_path / "huge.tif")


def test_a_raw_file_of_a_thousand_million_pixels_by_header(tmp_path):
    pytest.importorskip("rawpy")
    whole = bytearray(save_dng(tmp_path / "whole.dng", picture((40, 60))).read_bytes())
    for tag, size in ((256, 40_000), (257, 25_000)):
        kind = 3 if struct.pack("<HHI", tag, 3, 1) in whole else 4
        place = whole.index(struct.pack("<HHI", tag, kind, 1))
        whole[place + 8 : place + 12] = struct.pack("<I", size)
    (tmp_path / "huge.dng").write_bytes(bytes(whole))
    assert "would fit" in refused(tmp_path / "huge.dng")


def test_several_frames(tmp_path):
    frames = [Image.fromarray(srgb(picture(share=(s, s, s)))) for s in (0.2, 0.4)]
    frames[0].save(tmp_path / "moving.png", save_all=True, append_images=frames[1:])
    assert "several frames" in refused(tmp_path / "moving.png")
    tifffile.imwrite(tmp_path / "pages.tif", np.zeros((2, 40, 60, 3), np.uint16), photometric="rgb")
    assert "several frames" in refused(tmp_path / "pages.tif")


def test_one_pixel(tmp_path):
    assert "would" in refused(save_tiff(tmp_path / "dot.tif", np.full((1, 1, 3), 0.5)))
