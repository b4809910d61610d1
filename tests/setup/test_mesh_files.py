"""Mesh files read, against the general library trimesh."""

from __future__ import annotations

import numpy as np
import pytest

from throughlight.setup.mesh_files import closes, merge, read_mesh

trimesh = pytest.importorskip("trimesh")


def _agrees(faces):
    """Compare with trimesh's two checks, each edge in two faces and those two of opposite ways; return the answer."""
    vertices = np.random.default_rng(1).normal(size=(int(faces.max()) + 1, 3))
    body = trimesh.Trimesh(vertices, faces, process=False)
    assert closes(faces) == bool(body.is_watertight and body.is_winding_consistent)
    return closes(faces)


def test_closed_bodies():
    ball = np.array(trimesh.creation.icosphere(subdivisions=2).faces)
    assert _agrees(ball)
    assert not _agrees(ball[1:])
    turned = ball.copy()
    turned[5] = turned[5, ::-1]
    assert not _agrees(turned)
    assert _agrees(ball[:, ::-1].copy())
    assert not _agrees(np.concatenate([ball, ball]))
    assert _agrees(np.concatenate([ball, ball + ball.max() + 1]))
    assert not _agrees(np.concatenate([ball, [[0, 0, 1]]]))


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb"])
def test_corners_are_merged_and_those_without_a_triangle_left_out(tmp_path, kind):
    ball = trimesh.creation.icosphere(subdivisions=2)
    spread = ball.vertices[ball.faces].reshape(-1, 3)
    loose = np.concatenate([spread, [[9.0, 9.0, 9.0]]])
    faces = np.arange(len(spread)).reshape(-1, 3)
    trimesh.Trimesh(loose, faces, process=False).export(tmp_path / f"ball.{kind}")
    vertices, rows = read_mesh(tmp_path / f"ball.{kind}")
    assert vertices.shape == ball.vertices.shape
    assert vertices[rows] == pytest.approx(ball.vertices[ball.faces], abs=1e-6)
    assert closes(rows)


def test_merged_points_are_the_same_points():
    rng = np.random.default_rng(2)
    points = rng.integers(-2, 3, (500, 3)) * 0.1
    points[::7] *= -1.0  # zeros of both signs
    corners, place = merge(points)
    assert (corners[place] == points).all()
    assert len(np.unique(corners + 0.0, axis=0)) == len(corners)


def test_a_changed_file_is_read_anew(tmp_path):
    path = tmp_path / "it.ply"
    trimesh.creation.box((1.0, 1.0, 1.0)).export(path)
    assert len(read_mesh(path)[1]) == 12
    trimesh.creation.icosphere(subdivisions=1).export(path)
    assert len(read_mesh(path)[1]) == 80
