from __future__ import annotations

import subprocess
import sys
import textwrap

import numpy as np
import pytest

from throughlight.stage.meshes import extrude_polygon, load_mesh, mesh_tables, tidy

trimesh = pytest.importorskip("trimesh")

BOWL = [
    (0.0, 0.0),
    (1.0, 0.0),
    (1.0, 1.0),
    (0.5, 0.3),
    (0.0, 1.0),
]  # not convex; area 1 − 0.7/2 by the shoelace formula


def body_of(vertices, faces):
    """Return the general library's view of a body, for its checks of closedness and volume."""
    return trimesh.Trimesh(vertices, faces, process=False)


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb"])
def test_file_comes_back_closed_with_its_volume(tmp_path, kind):
    ball = trimesh.creation.icosphere(subdivisions=2)
    ball.export(tmp_path / f"ball.{kind}")
    vertices, faces = load_mesh(tmp_path / f"ball.{kind}", 0.001)
    assert (len(vertices), len(faces)) == (len(ball.vertices), len(ball.faces))
    body = body_of(vertices, faces)
    assert body.is_watertight
    assert body.volume == pytest.approx(ball.volume * 1e-9, rel=1e-6)
    assert vertices.flags.c_contiguous
    assert faces.flags.c_contiguous


def test_parts_of_a_scene_are_joined_where_they_stand(tmp_path):
    scene = trimesh.Scene()
    for x in (0.0, 5.0):
        scene.add_geometry(
            trimesh.creation.box((1.0, 1.0, 1.0)), transform=trimesh.transformations.translation_matrix((x, 0.0, 0.0))
        )
    scene.export(tmp_path / "two.glb")
    vertices, faces = load_mesh(tmp_path / "two.glb", 1.0)
    assert len(faces) == 24
    assert body_of(vertices, faces).volume == pytest.approx(2.0)
    assert np.ptp(vertices, axis=0) == pytest.approx([6.0, 1.0, 1.0])


@pytest.mark.parametrize("share", [1.0, 0.4])
def test_faces_turned_inward_are_turned_back(share):
    ball = trimesh.creation.icosphere(subdivisions=2)
    two = np.concatenate([ball.vertices, np.add(ball.vertices, [5.0, 0.0, 0.0])])
    faces = np.concatenate([ball.faces, ball.faces + len(ball.vertices)])
    wrong = np.random.default_rng(1).random(len(faces)) < share
    faces[wrong] = faces[wrong][:, ::-1]
    body = body_of(*tidy(two, faces))
    assert body.is_winding_consistent
    assert body.volume == pytest.approx(2.0 * ball.volume)


def test_cavity_of_a_file_that_agrees_with_itself_is_kept():
    outer, inner = trimesh.creation.icosphere(subdivisions=2), trimesh.creation.icosphere(subdivisions=2, radius=0.5)
    vertices = np.concatenate([outer.vertices, inner.vertices])
    faces = np.concatenate([outer.faces, inner.faces[:, ::-1] + len(outer.vertices)])
    assert body_of(*tidy(vertices, faces)).volume == pytest.approx(outer.volume - inner.volume)


def test_triangles_without_area_are_dropped():
    vertices = [[0, 0, 0], [1, 0, 0], [0, 1, 0], [2, 0, 0], [-0.0, 0, 0]]
    _, faces = tidy(np.array(vertices, float), np.array([[0, 1, 2], [0, 1, 3], [0, 4, 2], [0, 1, 1]]))
    assert len(faces) == 1


@pytest.mark.parametrize(
    ("name", "content"),
    [("none.stl", b""), ("junk.glb", b"not a mesh"), ("cube.step", b"x"), ("dots.ply", None), ("nan.obj", b"NaN")],
)
def test_file_that_is_no_body_is_refused_by_name(tmp_path, name, content):
    path = tmp_path / name
    if content is None:
        trimesh.PointCloud(np.eye(3)).export(path)
    elif content == b"NaN":
        path.write_bytes(b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    else:
        path.write_bytes(content)
    with pytest.raises(ValueError, match=name):
        load_mesh(path, 1.0)
    with pytest.raises(OSError):
        load_mesh(tmp_path / "missing.stl", 1.0)


@pytest.mark.parametrize("order", [1, -1])
def test_extruded_outline_is_closed_and_centred(order):
    vertices, faces = extrude_polygon(BOWL[::order], 0.2)
    body = body_of(vertices, faces)
    assert body.is_watertight
    assert body.volume == pytest.approx(0.65 * 0.2)
    assert (vertices[:, 2].min(), vertices[:, 2].max()) == (-0.1, 0.1)


@pytest.mark.parametrize(
    ("points", "thickness"),
    [([(0, 0), (1, 1)], 1.0), ([(0, 0), (1, 1), (1, 0), (0, 1)], 1.0), ([(0, 0), (1, 0), (2, 0)], 1.0), (BOWL, 0.0)],
)
def test_outline_without_a_body_is_refused(points, thickness):
    with pytest.raises(ValueError):
        extrude_polygon(points, thickness)


def test_pools_hold_each_body_in_its_own_tree():
    bodies = [extrude_polygon(BOWL, 0.2), tidy(*_box()), extrude_polygon(BOWL, 0.3)]
    triangles, boxes, links, _, rows = mesh_tables(bodies)
    assert (triangles.dtype, boxes.dtype, links.dtype) == (np.float64, np.float32, np.int32)
    for (first, count, node, _), (vertices, faces) in zip(rows, bodies, strict=True):
        waiting, held = [node], []
        while waiting:
            place = waiting.pop()
            real = boxes[place, :8] <= boxes[place, 24:32]
            for link in links[place, real].tolist():
                held += [link >> 1] if link & 1 else []
                waiting += [] if link & 1 else [link >> 1]
        assert sorted(held) == list(range(first // 4, first // 4 + len(held)))
        mine = triangles[held].reshape(-1, 9, 4).swapaxes(1, 2).reshape(-1, 9)
        mine = mine[~np.isnan(mine).any(axis=1)]
        assert len(mine) == count
        assert sorted(mine.tolist()) == sorted(vertices[faces].reshape(-1, 9).tolist())


def _box():
    box = trimesh.creation.box((1.0, 2.0, 3.0))
    return box.vertices, box.faces


def test_no_need_of_scipy_or_networkx(tmp_path):
    trimesh.creation.icosphere(subdivisions=1).export(tmp_path / "ball.glb")
    script = f"""
        import sys
        sys.modules.update(scipy=None, networkx=None, embreex=None)  # importing any of these fails
        from pathlib import Path
        from throughlight.stage.meshes import extrude_polygon, load_mesh
        assert len(load_mesh(Path({str(tmp_path / "ball.glb")!r}), 1.0)[1]) == 80
        assert len(extrude_polygon([(0, 0), (1, 0), (0, 1)], 0.1)[1]) == 8
    """
    subprocess.run([sys.executable, "-c", textwrap.dedent(script)], check=True, timeout=60)
