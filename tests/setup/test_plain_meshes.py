"""Plain binary STL and PLY, against the general library trimesh; everything else is left to it."""

from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from throughlight.setup.mesh_files import read_mesh
from throughlight.setup.plain_meshes import read_plain

trimesh = pytest.importorskip("trimesh")
ROOT = Path(__file__).parents[2]


def _ball(seed=1):
    ball = trimesh.creation.icosphere(subdivisions=2)
    ball.vertices *= np.random.default_rng(seed).uniform(0.5, 2.0, (len(ball.vertices), 1))
    return ball


def _general(path):
    body = trimesh.load_mesh(path, process=False)
    return np.asarray(body.vertices, np.float64), np.asarray(body.faces, np.int64)


def _ply(path, head, body):
    path.write_bytes(head.encode() + body)
    return path


def _head(order="binary_little_endian", corner=("float x", "float y", "float z"), face="list uchar int vertex_indices"):
    properties = "".join(f"property {one}\n" for one in corner)
    return (
        f"ply\nformat {order} 1.0\ncomment made by hand\nelement vertex 4\n{properties}element face 2\n"
        f"property {face}\nend_header\n"
    )


CORNERS = ((0.0, 0.0, 0.0), (1.5, 0.0, 0.0), (0.0, 2.5, 0.0), (0.0, 0.0, 3.5))
FACES = ((0, 1, 2), (3, 2, 1))


def _body(order="<", corner="fff", face="Biii", extra=()):
    points = b"".join(struct.pack(order + corner, *one, *extra) for one in CORNERS)
    return points + b"".join(struct.pack(order + face, 3, *one) for one in FACES)


def _same(found, path):
    for one, other in zip(found, _general(path), strict=True):
        assert one.dtype == other.dtype
        assert np.array_equal(one, other)


@pytest.mark.parametrize("kind", ["stl", "ply"])
def test_what_the_general_library_writes_it_reads_alike(tmp_path, kind):
    path = tmp_path / f"ball.{kind}"
    _ball().export(path)
    found = read_plain(path)
    assert found is not None
    _same(found, path)


@pytest.mark.parametrize(
    ("head", "body"),
    [
        (_head(), _body()),
        (_head("binary_big_endian"), _body(">")),
        (_head(face="list uchar uint vertex_index"), _body(face="BIII")),
        (_head(corner=("double x", "double y", "double z")), _body(corner="ddd")),
        (
            _head(corner=("float x", "float y", "float z", "uchar red", "float nx")),
            _body(corner="fffBf", extra=(7, 0.5)),
        ),
    ],
    ids=["little", "big", "unsigned", "double", "more about corners"],
)
def test_ways_to_write_ply(tmp_path, head, body):
    path = _ply(tmp_path / "it.ply", head, body)
    found = read_plain(path)
    assert found is not None
    assert found[0].tolist() == [list(one) for one in CORNERS]
    assert found[1].tolist() == [list(one) for one in FACES]
    _same(found, path)


@pytest.mark.parametrize(
    "content",
    [
        _head().encode() + _body()[:-1],
        _head().encode() + _body() + b"x",
        _head().encode() + _body().replace(b"\x03\x00\x00\x00\x00\x01", b"\x04\x00\x00\x00\x00\x01"),
        _head("ascii").encode() + b"0 0 0\n1 0 0\n0 1 0\n0 0 1\n3 0 1 2\n3 3 2 1\n",
        _head(face="list uchar int vertex_indices\nproperty uchar flags").encode() + _body(),
        _head(face="list uchar float vertex_indices").encode() + _body(),
        _head(corner=("float x", "float y", "float x")).encode() + _body(),
        _head(corner=("float x", "float y")).encode() + _body(),
        _head(corner=("float x", "float y", "list uchar int z")).encode() + _body(),
        _head().replace("vertex 4", "vertex 4000000000000").encode() + _body(),
        _head().replace("vertex 4", "vertex -4").encode() + _body(),
        _head().replace("end_header", "").encode() + _body(),
        _head().replace("element face", "element edge").encode() + _body(),
        _head().replace("comment made by hand\n", "element more 1\nproperty int many\n").encode() + _body(),
        b"ply\n",
        b"",
    ],
)
def test_other_ply_is_left_to_the_general_library(tmp_path, content):
    path = tmp_path / "it.ply"
    path.write_bytes(content)
    assert read_plain(path) is None


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"solid it\nfacet normal 0 0 1\nouter loop\n" + 3 * b"vertex 0 0 0\n" + b"endloop\nendfacet\nendsolid it\n",
        bytes(80) + struct.pack("<I", 0),
        bytes(80) + struct.pack("<I", 2) + bytes(99),
        bytes(80) + struct.pack("<I", 2) + bytes(101),
        bytes(80) + struct.pack("<I", 2**32 - 1) + bytes(100),
    ],
)
def test_other_stl_is_left_to_the_general_library(tmp_path, content):
    path = tmp_path / "it.stl"
    path.write_bytes(content)
    assert read_plain(path) is None


def test_other_endings_are_left_to_the_general_library(tmp_path):
    path = tmp_path / "ball.obj"
    _ball().export(path)
    assert read_plain(path) is None
    assert len(read_mesh(path)[1]) == 320


def test_a_set_with_a_plain_mesh_is_checked_without_the_general_library():
    words = "import sys; from throughlight.cli import main\ntry: main(sys.argv[1:])\nexcept SystemExit: pass\n"
    words += "print([name for name in ('trimesh', 'scipy', 'numba', 'matplotlib', 'shapely') if name in sys.modules])"
    command = [sys.executable, "-c", words, "check", str(ROOT / "scenes/agate/set.toml")]
    told = subprocess.run(command, capture_output=True, text=True, check=True)
    assert told.stdout.splitlines()[-1] == "[]"
