"""What a subject is made of: order, roles, sizes and matter of its bodies."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from PIL import Image, ImageDraw

import throughlight.setup as tls
from throughlight.stage.bodies import pieces_of
from throughlight.trace.tables import ShapeKind

CAMERA = """
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]
"""
GLASS = 'shape = { kind = "revolve", profile = [["3 cm", "0 cm"], ["3 cm", "10 cm"]], wall = "2 mm" }'
MILK = 'fill = { level = "5 cm", material = "whole milk" }'
COAT = 'coat = { thickness = "0.5 mm", material = "jade" }'


def pieces(*lines, folder=None, made_of='material = "agate"'):
    text = CAMERA + "[subject]\n" + "\n".join((made_of, *lines)) + "\n"
    return pieces_of(tls.loads(text, folder=folder).subject)


def slab(outline, more=""):
    return f'shape = {{ kind = "slab", thickness = "5 mm", outline = {{ {outline} }}{more} }}'


def volume(piece):
    skin = trimesh.Trimesh(piece.vertices, piece.faces, process=False)
    assert skin.is_watertight
    assert skin.is_winding_consistent
    assert piece.normals is None or piece.normals.shape == (*piece.faces.shape, 3)
    return skin.volume


DISC = 'shape = "disc", diameter = "8 cm"'
RECTANGLE = 'shape = "rectangle", width = "8 cm", height = "3 cm"'


@pytest.mark.parametrize(
    ("shape", "kind", "sizes", "core"),
    [
        (slab(DISC), ShapeKind.ROUND, (0.04, 0.0, 0.0025), (0.0395, 0.0, 0.002)),
        (slab(RECTANGLE), ShapeKind.BOX, (0.04, 0.015, 0.0025), (0.0395, 0.0145, 0.002)),
        ('shape = { kind = "sphere", diameter = "4 cm" }', ShapeKind.SPHERE, (0.02, 0.0, 0.0), (0.0195, 0.0, 0.0)),
    ],
)
def test_exact_shapes_stay_exact_and_so_do_their_cores(shape, kind, sizes, core):
    (body,) = pieces(shape)
    assert (body.kind, body.role, body.vertices) == (kind, "body", None)
    assert body.sizes == pytest.approx(sizes)
    assert body.material.name == "agate"
    coat, inner = pieces(shape, COAT)
    assert (coat.role, inner.role) == ("coat", "core")
    assert (coat.material.name, inner.material.name) == ("jade", "agate")
    assert coat.sizes == pytest.approx(sizes)
    assert inner.kind == kind
    assert inner.sizes == pytest.approx(core)


def test_the_glass_comes_after_its_liquid():
    liquid, glass = pieces(GLASS, MILK)
    assert (liquid.role, glass.role) == ("fill", "vessel")
    assert (liquid.material.name, glass.material.name) == ("whole milk", "agate")
    assert volume(liquid) == pytest.approx(math.pi * 0.029**2 * 0.051, rel=5e-4)
    assert liquid.vertices[:, 1].max() == pytest.approx(0.052)


def test_glazed_and_filled():
    roles = [piece.role for piece in pieces(GLASS, MILK, COAT)]
    assert roles == ["fill", "coat", "core"]
    fill, coat, core = pieces(GLASS, MILK, COAT, made_of='surface = "bare steel"')
    assert core.surface is not None
    assert core.material is None
    assert coat.material is not None
    assert coat.surface is None
    assert volume(core) < volume(coat)
    # the core's wall is 1 mm thick about the middle of the coat's 2 mm
    assert np.hypot(core.vertices[:, 0], core.vertices[:, 2]).max() == pytest.approx(0.0295)
    assert fill.material.name == "whole milk"


@pytest.mark.parametrize("edge", [0.0, 1.0, 2.5])
def test_a_disc_with_rounded_edges_lies_with_its_front_along_z(edge):
    (body,) = pieces(slab(DISC, f', edge = "{edge} mm"'))
    if edge == 0.0:
        assert body.kind == ShapeKind.ROUND
        return
    r = edge * 1e-3
    corner = r**2 * (1.0 - math.pi / 4.0)
    centroid = 0.04 - r * (10.0 - 3.0 * math.pi) / (12.0 - 3.0 * math.pi)
    assert volume(body) == pytest.approx(math.pi * 0.04**2 * 0.005 - 4.0 * math.pi * centroid * corner, rel=5e-4)
    assert np.ptp(body.vertices, axis=0) == pytest.approx([0.08, 0.08, 0.005])


@pytest.mark.parametrize(
    ("outline", "area"),
    [
        ('shape = "polygon", points = [["0 cm", "0 cm"], ["6 cm", "0 cm"], ["0 cm", "4 cm"]]', 0.5 * 0.06 * 0.04),
        ('shape = "svg", width = "4 cm", path = "M0 0H4V4H0Z M1 1V3H3V1Z"', 0.04**2 - 0.02**2),
    ],
)
def test_slabs_of_other_outlines(outline, area):
    (body,) = pieces(slab(outline))
    assert volume(body) == pytest.approx(area * 0.005, rel=1e-9)
    coat, core = pieces(slab(outline, ', edge = "1 mm"'), COAT)
    assert 0.0 < volume(core) < volume(coat) < area * 0.005
    assert np.ptp(core.vertices[:, 2]) == pytest.approx(0.004)


def test_a_slab_from_a_silhouette(tmp_path):
    picture = Image.new("L", (300, 200), 255)
    ImageDraw.Draw(picture).ellipse((30, 30, 150, 150), fill=0)
    picture.save(tmp_path / "leaf.png")
    (body,) = pieces(slab('shape = "picture", file = "leaf.png", width = "6 cm"'), folder=tmp_path)
    assert volume(body) == pytest.approx(math.pi * 0.03**2 * 0.005, rel=0.01)


def test_a_mesh_with_z_up_in_inches(tmp_path):
    box = trimesh.creation.box((1.0, 2.0, 4.0))
    box.apply_translation((0.0, 0.0, 2.0))
    box.export(tmp_path / "box.stl")
    shape = 'shape = { kind = "mesh", file = "box.stl", unit = "in", scale = 0.5'
    (flat,) = pieces(shape + " }", folder=tmp_path)
    (up,) = pieces(shape + ', up = "z" }', folder=tmp_path)
    inch = 0.0127
    assert volume(up) == pytest.approx(8.0 * inch**3)
    assert up.vertices.min(axis=0) == pytest.approx([-0.5 * inch, 0.0, -inch])
    assert up.vertices.max(axis=0) == pytest.approx([0.5 * inch, 4.0 * inch, inch])
    assert flat.vertices.max(axis=0) == pytest.approx([0.5 * inch, inch, 4.0 * inch])
    assert up.normals is None


def test_a_mesh_that_broke_since_it_was_read(tmp_path):
    trimesh.creation.box((1.0, 2.0, 4.0)).export(tmp_path / "box.stl")
    text = CAMERA + '[subject]\nmaterial = "agate"\nshape = { kind = "mesh", file = "box.stl", unit = "in" }\n'
    subject = tls.loads(text, folder=tmp_path).subject
    (tmp_path / "box.stl").write_bytes(b"")
    with pytest.raises(tls.SetupError, match="a whole mesh file would fit"):
        pieces_of(subject)
