"""From finishes and sheets to the records of faces, against published indices and the law of a clear plate."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from throughlight import kit
from throughlight.optics.losses import GLOSS_HEAD, METAL_HEAD, NODES, SKIN_HEAD
from throughlight.setup import Sheeting, Surface, loads
from throughlight.setup.finishes import surface_from
from throughlight.stage.build import build
from throughlight.stage.faces import diffuse_to_normal
from throughlight.stage.rows import Rows, table
from throughlight.trace.tables import PART, Region, ShapeKind, SurfaceKind


def face_of(finish, rows: Rows | None = None):
    """Return the PART record of a finish or sheet."""
    rows = Rows() if rows is None else rows
    row = rows.face("a face", Region.OTHER, finish)
    return table(rows.parts, PART)[row]


def surface(value) -> Surface:
    return Surface.model_validate(surface_from(value))


def bands(row, prefix=""):
    return tuple(float(row[f"{prefix}{band}"]) for band in ("red", "green", "blue"))


# Reflectance along the normal at 650, 550 and 450 nm: refractiveindex 1.3.1 (open database): Johnson and Christy 1972
# for silver, gold and copper, Rakic 1995 for aluminium.
METALS = {
    "silver": (0.98983, 0.98305, 0.98024),
    "gold": (0.95652, 0.79155, 0.40819),
    "aluminium": (0.90561, 0.91537, 0.92186),
    "copper": (0.93522, 0.62351, 0.53826),
}


@pytest.mark.parametrize("name", METALS)
def test_the_record_of_a_kit_metal_reflects_along_the_normal_what_is_published(name):
    """|(n − 1 + ik)/(n + 1 + ik)|² (Born and Wolf 1999, §14.2)."""
    row = face_of(surface(name))
    index = np.array(bands(row, "n_")) + 1j * np.array(bands(row, "k_"))
    assert abs((index - 1.0) / (index + 1.0)) ** 2 == pytest.approx(METALS[name], abs=2e-5)
    assert (row["surface"], row["alpha"], row["lost"]) == (SurfaceKind.METAL, 0.0, 0)
    assert bands(row) == (0.0, 0.0, 0.0)


def test_a_rough_metal_has_a_table_of_losses():
    """GGX with F = 1 and separable Smith at α = 0.5 keeps 0.68785 of the light along the normal (quadrature)."""
    rows = Rows()
    row = face_of(surface({"like": "silver", "roughness": 0.5}), rows)
    other = face_of(surface({"like": "silver", "roughness": 0.5}), rows)
    assert row["alpha"] == 0.5
    assert row["lost"] == other["lost"] > 0
    curves = rows.curves.table()
    assert len(curves) == 1 + METAL_HEAD + NODES
    assert curves[row["lost"] + METAL_HEAD + NODES - 1] == pytest.approx(1.0 - 0.68785, abs=5e-4)


def test_a_gloss_has_a_ground_a_skin_and_where_rough_a_table():
    rows = Rows()
    polished = face_of(surface({"kind": "gloss", "reflectance": [0.6, 0.5, 0.4], "n": 1.6}), rows)
    assert (polished["surface"], polished["n"], polished["alpha"], polished["lost"]) == (SurfaceKind.GLOSS, 1.6, 0.0, 0)
    assert bands(polished) == (0.6, 0.5, 0.4)
    rough = face_of(surface({"like": "varnished wood", "roughness": 0.3}), rows)
    assert (rough["alpha"], rough["n"], rough["lost"]) == (0.3, 1.5, 1)
    assert len(rows.curves.table()) == 1 + GLOSS_HEAD + NODES + SKIN_HEAD + 2 * NODES


def test_matte_cloth_mirror_and_nothing():
    velvet = face_of(surface("burgundy velvet"))
    assert (velvet["surface"], velvet["pile"], velvet["map"]) == (SurfaceKind.CLOTH, 0.06, 0)
    assert bands(velvet, "sheen_") == (0.45, 0.12, 0.15)
    assert face_of(surface("mirror"))["surface"] == SurfaceKind.MIRROR
    assert (face_of(surface("grey card"))["surface"], bands(face_of(None))) == (SurfaceKind.MATTE, (0.0, 0.0, 0.0))


# 2∫T·µ dµ and T(0) of a clear plate, both polarisations for themselves (Stokes 1862; quadrature of its own).
PLATE = [(1.33, 0.891534, 0.960670), (1.5, 0.850938, 0.923077), (1.52, 0.846423, 0.918318), (1.7, 0.807693, 0.874036)]


@pytest.mark.parametrize(("n", "diffuse", "normal"), PLATE)
def test_a_plate_in_diffuse_light(n, diffuse, normal):
    assert diffuse_to_normal(n) == pytest.approx(diffuse / normal, abs=2e-6)
    sheet = Sheeting.model_validate({"transmittance": 0.8, "diffuse": 0.3, "n": n})
    assert face_of(sheet)["spread"] == diffuse_to_normal(n)


def test_without_a_film_light_of_all_directions_passes_alike():
    assert diffuse_to_normal(1.0) == 1.0
    assert 0.9999 < diffuse_to_normal(1.0001) < 1.0


CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
"""


def test_a_sheet_stands_as_written_with_two_like_faces():
    own = "{ transmittance = [0.7, 0.6, 0.5], diffuse = 0.4, reflectance = [0.1, 0.11, 0.12], n = 1.33 }"
    sheet = f'[[sheet]]\nat = ["30 cm", "0 cm", "0 cm"]\nwidth = "20 cm"\nheight = "40 cm"\nsheet = {own}\n'
    stage, cast = build(loads(CAMERA + sheet))
    (shape,) = stage.shapes
    assert (shape["kind"], shape["medium"]) == (ShapeKind.RECTANGLE, -1)
    assert (shape["sa"], shape["sb"]) == pytest.approx((0.1, 0.2))
    assert [float(shape[axis]) for axis in ("nx", "ny", "nz")] == pytest.approx((-1, 0, 0))
    front, back = stage.parts[shape["part"]], stage.parts[shape["part"] + 1]
    assert front == back
    assert (front["surface"], front["region"], front["n"]) == (SurfaceKind.SHEET, Region.OTHER, 1.33)
    assert bands(front, "straight_") == pytest.approx((0.3, 0.2, 0.1))
    assert bands(front, "through_") == (0.4, 0.4, 0.4)
    assert bands(front) == (0.1, 0.11, 0.12)
    assert cast.parts == ("sheet 1", "sheet 1, back")


@pytest.mark.parametrize("name", kit.entries("sheets"))
def test_every_sheet_of_the_kit_gives_no_more_than_it_gets(name):
    """A clear plate passes 2n/(n² + 1) along the normal (Stokes 1862); a sheet passes and gives back no more."""
    row = face_of(Sheeting.model_validate(dict(kit.lookup("sheets", name).values)))
    whole = np.array(bands(row)) + bands(row, "straight_") + bands(row, "through_")
    assert (whole <= 2.0 * row["n"] / (row["n"] ** 2 + 1.0)).all()


@pytest.fixture
def printed(tmp_path):
    """Return a folder with a print of 4 × 2 pixels: code 128 with a white and a black corner."""
    codes = np.full((2, 4, 3), 128, np.uint8)
    codes[0, 0], codes[1, 3] = 255, 0
    Image.fromarray(codes).save(tmp_path / "print.png")
    return tmp_path


def card(x: str, pattern: str) -> str:
    return (
        f'[[card]]\nat = ["{x}", "0 cm", "0 cm"]\nwidth = "20 cm"\nheight = "20 cm"\n'
        f'front = {{ pattern = {pattern} }}\nback = {{ kind = "gloss", pattern = {pattern} }}\n'
    )


def test_a_print_lies_on_the_face_and_is_shared(printed):
    """sRGB code 128 is 0.21586050 of white (IEC 61966-2-1); 4 × 2 pixels of 20 cm are 10 cm high."""
    small = '{ picture = "print.png", width = "20 cm", at = ["1 cm", "2 cm"], white = 0.8 }'
    large = '{ picture = "print.png", width = "20 cm", height = "30 cm", encoding = "linear" }'
    cards = card("30 cm", small) + card("-30 cm", small) + card("60 cm", large)
    stage, _ = build(loads(CAMERA + cards, folder=printed))
    assert [int(one) for one in stage.parts["map"]] == [1, 1, 1, 1, 2, 2]
    assert list(stage.parts["surface"]) == 3 * [SurfaceKind.MATTE, SurfaceKind.GLOSS]
    first, second = stage.maps[1], stage.maps[2]
    assert (first["columns"], first["rows"]) == (4, 2)
    assert [float(first[key]) for key in ("left", "top", "width", "height")] == pytest.approx((-0.09, 0.07, 0.2, 0.1))
    assert [float(second[key]) for key in ("left", "top", "width", "height")] == pytest.approx((-0.1, 0.15, 0.2, 0.3))
    texels = stage.texels[first["first"] : first["first"] + 8, 1]
    assert texels == pytest.approx([0.8, *(6 * [0.8 * 0.21586050]), 0.0], abs=1e-6)
    assert stage.texels[second["first"] + 1, 0] == pytest.approx(128 / 255)


@pytest.mark.parametrize("surface_keys", ['"white paper"', '{ like = "burgundy velvet", pattern = PRINT }'])
def test_a_print_on_a_table_has_its_top_away_from_the_camera(printed, surface_keys):
    keys = surface_keys.replace("PRINT", '{ picture = "print.png", width = "20 cm" }')
    table_top = f'[table]\nheight = "-5 cm"\nwidth = "80 cm"\ndepth = "60 cm"\nsurface = {keys}\n'
    stage, _ = build(loads(CAMERA + table_top, folder=printed))
    (shape,) = stage.shapes
    assert [float(shape[axis]) for axis in ("tx", "ty", "tz")] == pytest.approx((1, 0, 0))
    assert [float(shape[axis]) for axis in ("bx", "by", "bz")] == pytest.approx((0, 0, -1))
    assert (stage.parts["map"] == (1 if "pattern" in keys else 0)).all()
