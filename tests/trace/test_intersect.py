from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doors import loop
from stages import Bench
from throughlight.stage.meshes import mesh_tables
from throughlight.trace import intersect
from throughlight.trace.tables import ShapeKind
from throughlight.trace.triangles import EITHER, nearest

CLOSED = (ShapeKind.BOX, ShapeKind.ROUND, ShapeKind.SPHERE, ShapeKind.MESH)
EXACT = tuple(kind for kind in ShapeKind if kind != ShapeKind.MESH)
SIZES = (0.3, 0.2, 0.1)


@loop
def _all_closest(stage, origins, directions, t_max):
    n = len(origins)
    t, shape, normal, front = np.empty(n), np.empty(n, np.int64), np.empty((n, 3)), np.empty(n, np.bool_)
    for i in range(n):
        o, d = origins[i], directions[i]
        t[i], shape[i], m, front[i] = intersect.closest(stage, (o[0], o[1], o[2]), (d[0], d[1], d[2]), t_max[i])
        normal[i, 0], normal[i, 1], normal[i, 2] = m
    return t, shape, normal, front


@loop
def _all_blocked(stage, origins, directions, distance):
    out = np.empty(len(origins), np.bool_)
    for i in range(len(origins)):
        o, d = origins[i], directions[i]
        out[i] = intersect.clear_way(stage, (o[0], o[1], o[2]), (d[0], d[1], d[2]), distance[i])[0] == 0.0
    return out


@loop
def _all_leave(stage, shape, origins, directions):
    t, normal = np.empty(len(origins)), np.empty((len(origins), 3))
    for i in range(len(origins)):
        o, d = origins[i], directions[i]
        t[i], m, _ = intersect.leave(stage, shape, (o[0], o[1], o[2]), (d[0], d[1], d[2]))
        normal[i, 0], normal[i, 1], normal[i, 2] = m
    return t, normal


def closest(stage, origins, directions, t_max=np.inf):
    origins, directions = (np.ascontiguousarray(v, dtype=float) for v in np.broadcast_arrays(origins, directions))
    return _all_closest(stage, origins, directions, np.array(np.broadcast_to(t_max, len(origins)), dtype=float))


def blocked(stage, origins, directions, distance):
    return _all_blocked(stage, origins, directions, np.array(np.broadcast_to(distance, len(origins)), dtype=float))


def leave(stage, shape, origins, directions):
    origins, directions = (np.ascontiguousarray(v, dtype=float) for v in np.broadcast_arrays(origins, directions))
    return _all_leave(stage, shape, origins, directions)


def units(rng, count):
    v = rng.normal(size=(count, 3))
    return v / np.linalg.norm(v, axis=1)[:, None]


def turn(quaternion):
    """Return the rotation of a quaternion (Shepperd's form, any textbook)."""
    w, x, y, z = np.asarray(quaternion) / np.linalg.norm(quaternion)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def with_meshes(stage, bodies):
    """Return the stage with triangles for its MESH shapes, in order."""
    triangles, boxes, links, _, rows = mesh_tables(bodies)
    for row, pointer, (vertices, _) in zip(
        np.flatnonzero(stage.shapes["kind"] == ShapeKind.MESH), rows, bodies, strict=True
    ):
        record = stage.shapes[row : row + 1]
        record["first_triangle"], record["triangles"], record["first_node"] = pointer[:3]
        for k, axis in enumerate("xyz"):
            record[f"lo_{axis}"], record[f"hi_{axis}"] = vertices[:, k].min() - 1e-6, vertices[:, k].max() + 1e-6
    return stage._replace(triangles=triangles, boxes=boxes, links=links)


def bumpy(subdivisions=3, size=0.2):
    """Return a closed mesh that is not convex, facing outward."""
    trimesh = pytest.importorskip("trimesh")
    ball = trimesh.creation.icosphere(subdivisions=subdivisions)
    v = np.array(ball.vertices)
    radius = 1.0 + 0.3 * np.sin(5.0 * v[:, 0]) * np.sin(6.0 * v[:, 1]) * np.cos(4.0 * v[:, 2])
    return size * v * radius[:, None], np.array(ball.faces)


def alone(kind, at=(0.0, 0.0, 0.0), frame=None, sizes=SIZES):
    """Return a stage of one shape."""
    bench = Bench()
    frame = np.eye(3) if frame is None else frame
    if kind != ShapeKind.MESH:
        bench.shape(kind, at, frame, sizes, bench.part())
        return bench.stage()
    vertices, faces = bumpy()
    bench.shape(ShapeKind.SPHERE, at, np.eye(3), (1.0, 0.0, 0.0), bench.part())
    bench.shapes[0]["kind"] = kind
    return with_meshes(bench.stage(), [(vertices @ frame.T + np.asarray(at), faces)])


def off_surface(kind, p, sizes=SIZES):
    """Return how far local points lie off the surface of an exact shape, zero on it."""
    a, b, c = sizes
    x, y, z = np.abs(p).T
    plan = np.hypot(x, y)
    return {
        ShapeKind.RECTANGLE: np.maximum.reduce([z, x - a, y - b]),
        ShapeKind.DISC: np.maximum(z, plan - a),
        ShapeKind.BOX: np.maximum.reduce([x - a, y - b, z - c]),
        ShapeKind.ROUND: np.maximum(plan - a, z - c),
        ShapeKind.SPHERE: np.linalg.norm(p, axis=1) - a,
        ShapeKind.TUBE: np.maximum(np.abs(plan - a), z - c),
    }[kind]


def inside_points(kind, rng, count):
    """Return local points within a closed shape, by rejection from its bounds."""
    if kind == ShapeKind.MESH:
        return units(rng, count) * (0.1 * rng.random(count) ** (1 / 3))[:, None]  # the bumpy ball holds a ball of 0.14
    p = rng.uniform(-1.0, 1.0, (20 * count, 3)) * 0.3
    return p[off_surface(kind, p) < -1e-6][:count]


places = st.tuples(*(st.floats(-2.0, 2.0) for _ in range(3)))
quaternions = st.tuples(*(st.floats(-1.0, 1.0) for _ in range(4))).filter(lambda q: np.linalg.norm(q) > 0.1)
seeds = st.integers(0, 2**32 - 1)


@pytest.mark.parametrize("kind", EXACT)
@settings(max_examples=25, deadline=None)
@given(at=places, quaternion=quaternions, seed=seeds)
def test_hit_lies_on_the_shape_and_its_normal_faces_the_ray(kind, at, quaternion, seed):
    rng, frame = np.random.default_rng(seed), turn(quaternion)
    stage = alone(kind, at, frame)
    origins = np.asarray(at) + rng.uniform(-1.0, 1.0, (200, 3))
    aims = np.asarray(at) + rng.uniform(-0.3, 0.3, (200, 3))
    directions = aims - origins
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    t, shape, normal, front = closest(stage, origins, directions)
    hit = shape == 0
    assert hit.any()
    assert np.isinf(t[~hit]).all()
    assert (shape[~hit] == -1).all()
    local = (origins + np.where(hit, t, 0.0)[:, None] * directions - at) @ frame
    assert np.abs(off_surface(kind, local[hit])).max() < 1e-12
    assert np.linalg.norm(normal[hit], axis=1) == pytest.approx(1.0, abs=1e-12)
    assert (np.einsum("ij,ij->i", normal, directions)[hit] < 1e-12).all()
    # stepping a little along the outside's normal must raise the distance from the shape's inside or middle plane
    outside = np.where(front[:, None], normal, -normal)[hit] @ frame
    if kind in (ShapeKind.RECTANGLE, ShapeKind.DISC):
        assert outside == pytest.approx(np.tile([0.0, 0.0, 1.0], (len(outside), 1)), abs=1e-12)
    elif kind == ShapeKind.TUBE:
        step = np.hypot(*(local[hit] + 1e-6 * outside)[:, :2].T)
        assert step == pytest.approx(SIZES[0] + 1e-6, abs=1e-10)
    else:
        assert off_surface(kind, local[hit] + 1e-6 * outside) == pytest.approx(1e-6, abs=1e-9)


def test_sphere_closed_form():
    # chord through a sphere of radius r passed at distance b from the middle: 2·√(r² − b²)
    stage = alone(ShapeKind.SPHERE)
    b = np.linspace(0.0, 0.2999, 50)
    origins = np.stack([b, np.zeros(50), np.full(50, 5.0)], axis=1)
    t, _, normal, front = closest(stage, origins, [[0.0, 0.0, -1.0]])
    assert t == pytest.approx(5.0 - np.sqrt(0.09 - b**2), rel=1e-13)
    assert front.all()
    assert normal[:, 0] == pytest.approx(b / 0.3, abs=1e-12)
    past, _ = leave(stage, 0, origins + t[:, None] * [[0.0, 0.0, -1.0]], [[0.0, 0.0, -1.0]])
    assert past == pytest.approx(2.0 * np.sqrt(0.09 - b**2), rel=1e-9)


@pytest.mark.parametrize("kind", [ShapeKind.RECTANGLE, ShapeKind.DISC, ShapeKind.BOX, ShapeKind.ROUND, ShapeKind.TUBE])
@pytest.mark.parametrize("axis", range(3))
@pytest.mark.parametrize("sign", [-1.0, 1.0])
@pytest.mark.parametrize("zero", [-0.0, 0.0])
def test_rays_parallel_to_the_planes(kind, axis, sign, zero):
    direction = np.full(3, zero)
    direction[axis] = sign
    origin = np.full(3, 0.05)
    origin[axis] = -sign
    t, shape, _, _ = closest(alone(kind), [origin], [direction])
    extents = {ShapeKind.RECTANGLE: (0, 0, 0), ShapeKind.DISC: (0, 0, 0), ShapeKind.BOX: SIZES}
    wall = np.sqrt(0.3**2 - 0.05**2)
    extent = extents.get(kind, (wall, wall, 0.1))[axis]
    meets = axis == 2 if kind in (ShapeKind.RECTANGLE, ShapeKind.DISC) else (kind != ShapeKind.TUBE or axis < 2)
    if meets:
        assert (t[0], shape[0]) == (pytest.approx(1.0 - extent, abs=1e-12), 0)
    else:
        assert (t[0], shape[0]) == (np.inf, -1)
    # a line outside the other two extents passes by
    origin[(axis + 1) % 3] = 0.35
    assert closest(alone(kind), [origin], [direction])[1][0] == -1


@pytest.mark.parametrize("kind", CLOSED)
@settings(max_examples=15, deadline=None)
@given(at=places, quaternion=quaternions, seed=seeds)
def test_leave_agrees_with_closest_from_inside(kind, at, quaternion, seed):
    rng, frame = np.random.default_rng(seed), turn(quaternion)
    stage = alone(kind, at, frame)
    points = np.asarray(at) + inside_points(kind, rng, 200) @ frame.T
    directions = units(rng, len(points))
    t, _, normal, front = closest(stage, points, directions)
    far, outward = leave(stage, 0, points, directions)
    assert not front.any()
    assert far == pytest.approx(t, rel=1e-12)
    assert outward == pytest.approx(-normal, abs=1e-9)
    assert (np.einsum("ij,ij->i", outward, directions) > -1e-12).all()


@pytest.mark.parametrize("kind", CLOSED)
def test_a_line_leaves_a_closed_shape_as_often_as_it_enters(kind):
    rng = np.random.default_rng(5)
    stage = alone(kind, (0.1, -0.2, 0.3), turn((0.3, 0.5, -0.2, 0.7)))
    origins = np.array([0.1, -0.2, 0.3]) + 2.0 * units(rng, 2000)
    directions = np.array([0.1, -0.2, 0.3]) + rng.uniform(-0.3, 0.3, (2000, 3)) - origins
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    entered, left = np.zeros(2000, int), np.zeros(2000, int)
    for _ in range(40):
        t, shape, _, front = closest(stage, origins, directions)
        met = shape == 0
        if not met.any():
            break
        entered += met & front
        left += met & ~front
        origins = origins + np.where(met, t, 0.0)[:, None] * directions
    else:
        pytest.fail("a line meets a shape without end")
    assert entered.sum() > 500
    assert (entered == left).all()
    if kind != ShapeKind.MESH:
        assert entered.max() == 1


@pytest.mark.parametrize("kind", CLOSED)
def test_a_start_on_the_surface_is_neither_met_again_nor_lost(kind):
    rng = np.random.default_rng(8)
    at, frame = (0.4, 0.2, -0.3), turn((0.9, -0.3, 0.2, 0.4))
    stage = alone(kind, at, frame)
    points = np.asarray(at) + inside_points(kind, rng, 20000) @ frame.T
    directions = units(rng, len(points))
    t, normal = leave(stage, 0, points, directions)
    skin = points + t[:, None] * directions
    # back into the body: the far side is found, and found by both
    inward = units(rng, len(points))
    cosine = np.einsum("ij,ij->i", inward, normal)
    inward -= 2.0 * np.maximum(cosine, 0.0)[:, None] * normal
    onward, outward = leave(stage, 0, skin, inward)
    assert np.isfinite(onward).all()
    assert (onward >= 0.0).all()
    assert (np.einsum("ij,ij->i", outward, inward) > -1e-9).all()
    long = onward > 1e-6
    assert long.mean() > 0.99
    found = closest(stage, skin, inward)[0]
    assert found[long] == pytest.approx(onward[long], rel=1e-9)
    # straight out of a convex body nothing is met, and leaving it takes no way at all
    assert leave(stage, 0, skin, normal)[0] == pytest.approx(0.0, abs=1e-12)
    if kind != ShapeKind.MESH:
        assert (closest(stage, skin, normal)[1] == -1).all()


def test_no_ray_slips_through_the_edges_and_corners_of_a_closed_mesh():
    trimesh = pytest.importorskip("trimesh")
    ball = trimesh.creation.icosphere(subdivisions=3)
    vertices, faces = np.array(ball.vertices), np.array(ball.faces)
    bench = Bench()
    bench.shape(ShapeKind.SPHERE, (0, 0, 0), np.eye(3), (1.0, 0.0, 0.0), bench.part())
    bench.shapes[0]["kind"] = ShapeKind.MESH
    stage = with_meshes(bench.stage(), [(vertices, faces)])
    rng = np.random.default_rng(2)
    edges = np.array(ball.edges_unique)[rng.integers(0, len(ball.edges_unique), 100000)]
    part = rng.random((100000, 1)) * (np.arange(100000) % 4 > 0)[:, None]  # a quarter at corners
    aims = vertices[edges[:, 0]] * (1.0 - part) + vertices[edges[:, 1]] * part
    aims = np.concatenate([aims, vertices[rng.integers(0, len(vertices), 30000)]])
    origins = 3.0 * units(rng, 130000)
    origins[::5] = 2.0 * aims[::5]  # from straight above
    origins[1::5] = [0.0, 0.0, 0.0]  # from within, along the axes too
    directions = aims - origins
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    # a line aimed at an edge of the very rim may rightly pass by; the ball holds one of radius 0.98, so others may not
    deep = np.linalg.norm(np.cross(origins, directions), axis=1) < 0.97
    assert deep.sum() >= 100000
    origins, directions = origins[deep], directions[deep]
    t, shape, _, front = closest(stage, origins, directions)
    assert (shape == 0).all()
    inside = np.linalg.norm(origins, axis=1) < 0.5
    assert not front[inside].any()
    assert front[~inside].all()
    onward, _ = leave(stage, 0, origins[inside], directions[inside])
    assert onward == pytest.approx(t[inside], rel=1e-12)


@pytest.mark.parametrize("subdivisions", [1, 4])
def test_mesh_against_a_test_of_every_triangle(subdivisions):
    # Möller and Trumbore 1997 for every pair, vectorised: another test than the engine's, and no tree
    vertices, faces = bumpy(subdivisions)
    triangles, boxes, links, _, _ = mesh_tables([(vertices, faces)])
    rng = np.random.default_rng(3)
    origins = 0.5 * units(rng, 300)
    directions = 0.15 * units(rng, 300) - origins
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    for o, d in zip(origins, directions, strict=True):
        with np.errstate(divide="ignore", invalid="ignore"):
            p = np.cross(d, c - a)
            s, q = o - a, np.cross(o - a, b - a)
            scale = 1.0 / np.einsum("ij,ij->i", b - a, p)
            u, v = np.einsum("ij,ij->i", s, p) * scale, (q @ d) * scale
            t = np.einsum("ij,ij->i", c - a, q) * scale
            t = t[(u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-7)]
        found, _ = _nearest(triangles, boxes, links, o, d)
        assert found == pytest.approx(t.min() if len(t) else np.inf, rel=1e-11)


@loop
def _nearest(triangles, boxes, links, o, d):
    return nearest(
        triangles, boxes, links, 0, (o[0], o[1], o[2]), (d[0], d[1], d[2]), EITHER, 1e-7, np.inf, False
    )  # fmt: skip


def test_mesh_against_embree():
    pytest.importorskip("embreex")
    from embreex import rtcore_scene
    from embreex.mesh_construction import TriangleMesh

    vertices, faces = bumpy(5)
    stage = alone(ShapeKind.MESH)
    stage = with_meshes(stage, [(vertices, faces)])
    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, vertices[faces].astype(np.float32))
    rng = np.random.default_rng(4)
    origins = 0.6 * units(rng, 50000)
    directions = rng.uniform(-0.25, 0.25, (50000, 3)) - origins
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    theirs = scene.run(origins.astype(np.float32), directions.astype(np.float32), query="DISTANCE")
    ours, shape, _, _ = closest(stage, origins, directions)
    hit = shape == 0
    # Embree works in float32: rays within its rounding of the silhouette may differ, the rest to 1e-5
    assert np.mean(hit != (theirs < 1e30)) < 2e-4
    both = hit & (theirs < 1e30)
    assert np.mean(np.abs(ours[both] - theirs[both]) > 1e-5) < 2e-4


def _crowd():
    """Return a stage of all kinds, two meshes among them, strewn about."""
    rng, bench, bodies = np.random.default_rng(6), Bench(), []
    for k in range(21):
        kind, at, frame = ShapeKind(k % 7), rng.uniform(-1.0, 1.0, 3), turn(rng.normal(size=4))
        bench.shape(min(kind, ShapeKind.TUBE), at, frame, SIZES, bench.part())
        if kind == ShapeKind.MESH:
            bench.shapes[-1]["kind"] = kind
            vertices, faces = bumpy(2)
            bodies.append((vertices @ frame.T + at, faces))
    return with_meshes(bench.stage(), bodies)


def test_closest_is_the_nearest_of_all_shapes_and_blocked_says_the_same():
    stage = _crowd()
    rng = np.random.default_rng(7)
    origins, directions = rng.uniform(-1.5, 1.5, (5000, 3)), units(rng, 5000)
    t, shape, normal, front = closest(stage, origins, directions)
    singles = [closest(stage._replace(shapes=stage.shapes[i : i + 1].copy()), origins, directions) for i in range(21)]
    each = np.array([single[0] for single in singles])
    assert (t == each.min(axis=0)).all()
    met = shape >= 0
    assert (shape[met] == each.argmin(axis=0)[met]).all()
    assert len(set(shape[met].tolist())) == 21
    for i in range(21):
        assert (normal[shape == i] == singles[i][2][shape == i]).all()
        assert (front[shape == i] == singles[i][3][shape == i]).all()
    distance = rng.uniform(0.0, 3.0, 5000)
    assert (blocked(stage, origins, directions, distance) == (t < distance * (1.0 - 1e-9) - intersect.T_MIN)).all()
    assert blocked(stage, origins[met], directions[met], t[met] + 1e-6).all()
    assert not blocked(stage, origins[met], directions[met], t[met]).any()
    short, none, _, _ = closest(stage, origins[met], directions[met], t[met])
    assert np.isinf(short).all()
    assert (none == -1).all()


def test_numbers_that_are_none_meet_nothing():
    stage = _crowd()
    nan = np.full((3, 3), np.nan)
    good = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0], [0.5, 0.0, 0.0]])
    axis = np.array([[0.0, 0.0, 1.0]] * 3)
    for origins, directions in ((nan, axis), (good, nan), (good, np.zeros((3, 3)))):
        t, shape, _, _ = closest(stage, origins, directions)
        assert (shape == -1).all()
        assert np.isinf(t).all()
        assert not blocked(stage, origins, directions, 1.0).any()


def test_a_hole_in_a_mesh_is_reported_as_an_infinite_way():
    vertices, faces = bumpy()
    stage = with_meshes(alone(ShapeKind.MESH), [(vertices, faces[1:])])
    middle = vertices[faces[0]].mean(axis=0)
    t, _ = leave(stage, 0, [[0.0, 0.0, 0.0]], [middle / np.linalg.norm(middle)])
    assert np.isinf(t[0])
