from __future__ import annotations

import numpy as np
import pytest

from throughlight.trace import tree
from throughlight.trace.scratch import WAITING


def _children(boxes, links, node):
    """Return the children of a node with their bounds: (is a leaf, row, low, high)."""
    bounds = boxes[node].reshape(6, tree.WIDE).astype(float)
    real = np.flatnonzero((bounds[:3] <= bounds[3:]).all(axis=0))
    return [(link & 1, link >> 1, bounds[:3, k], bounds[3:, k]) for k in real if (link := int(links[node, k])) >= 0]


def _walk(made):
    """Return the nodes with their depths, from 1 on, and the leaves, as a walk from the root meets them."""
    nodes, leaves, waiting = [], [], [(0, 1)]
    while waiting:
        node, depth = waiting.pop()
        nodes.append((node, depth))
        for leaf, row, _, _ in _children(made.boxes, made.links, node):
            if leaf:
                leaves.append(row)
            else:
                waiting.append((row, depth + 1))
    return nodes, leaves


def _mesh(corners):
    return corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)


def _soup(count, seed=1, size=0.05):
    rng = np.random.default_rng(seed)
    centres = rng.uniform(-1.0, 1.0, (count, 1, 3))
    return (centres + rng.normal(0.0, size, (count, 3, 3))).reshape(count, 9)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 17, 1000])
def test_every_triangle_lies_in_exactly_one_leaf(count):
    made = tree.build(*_mesh(_soup(count)))
    nodes, leaves = _walk(made)
    assert sorted(node for node, _ in nodes) == list(range(len(made.boxes)))
    assert sorted(leaves) == list(range(len(made.slots)))
    held = made.slots[made.slots >= 0]
    assert sorted(held.tolist()) == list(range(count))
    assert (made.slots[:, 0] >= 0).all()


def test_every_box_contains_all_triangles_beneath_it():
    corners = _soup(500)
    made = tree.build(*_mesh(corners))
    points = corners.reshape(-1, 3, 3)

    def check(node):
        below = []
        for leaf, row, low, high in _children(made.boxes, made.links, node):
            rows = [i for i in made.slots[row].tolist() if i >= 0] if leaf else check(row)
            assert (points[rows] >= low).all()
            assert (points[rows] <= high).all()
            below += rows
        return below

    assert len(check(0)) == 500


def test_a_place_without_a_child_has_bounds_that_nothing_meets():
    made = tree.build(*_mesh(_soup(5)))
    bounds = made.boxes[0].reshape(6, tree.WIDE)
    empty = [k for k in range(tree.WIDE) if bounds[0, k] > bounds[3, k]]
    assert len(empty) == tree.WIDE - len(made.slots) > 0
    assert np.isposinf(bounds[:3, empty]).all()
    assert np.isneginf(bounds[3:, empty]).all()


def test_leaves_are_nearly_full():
    # four triangles are tested at once, so a leaf of one costs as much as one of four
    made = tree.build(*_mesh(_soup(20000, size=0.005)))
    assert (made.slots >= 0).mean() > 0.85


def test_coinciding_triangles_are_halved_not_stacked_up():
    made = tree.build(*_mesh(np.tile(_soup(1), (1000, 1))))
    nodes, leaves = _walk(made)
    assert max(depth for _, depth in nodes) <= 6
    assert len(leaves) <= 512


def test_geometric_row_keeps_its_depth_within_the_stack_of_a_ray():
    # sizes shrinking by halves drive a surface-area split to peel off one triangle at a time
    scale = 0.5 ** np.arange(2000, dtype=float).clip(max=120)
    nodes, _ = _walk(tree.build(*_mesh(_soup(2000) * scale[:, None])))
    assert max(depth for _, depth in nodes) <= tree.DEEPEST
    # of each node on the way all children but one can wait, and at the last node all but the one at hand
    assert (tree.WIDE - 1) * tree.DEEPEST + 1 <= WAITING


@pytest.mark.parametrize("corners", [np.empty((0, 9)), np.full((1, 9), np.nan)])
def test_build_refuses_what_has_no_boxes(corners):
    with pytest.raises(ValueError):
        tree.build(*_mesh(corners))


def test_build_leaves_its_arguments_alone():
    vertices, faces = _mesh(_soup(50))
    kept = vertices.copy(), faces.copy()
    vertices.setflags(write=False)
    faces.setflags(write=False)
    tree.build(vertices, faces)
    assert (vertices == kept[0]).all()
    assert (faces == kept[1]).all()


def test_tables_begin_at_a_cache_line():
    made = tree.build(*_mesh(_soup(500)))
    assert made.boxes.ctypes.data % 64 == 0
    assert made.boxes.flags.c_contiguous
