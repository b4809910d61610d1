from __future__ import annotations

import numpy as np
import pytest

from throughlight.trace import tree


def _leaves(links):
    spans, inner, waiting = [], [], [0]
    while waiting:
        node = waiting.pop()
        inner.append(node)
        for link in links[node, :2].tolist():
            if link >= 0:
                assert links[link, 2] == node
                waiting.append(link)
            else:
                spans.append((node, *tree.leaf_span(link)))
    return inner, spans


def _soup(count, seed=1, size=0.05):
    rng = np.random.default_rng(seed)
    centres = rng.uniform(-1.0, 1.0, (count, 1, 3))
    return (centres + rng.normal(0.0, size, (count, 3, 3))).reshape(count, 9)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 17, 1000])
def test_every_triangle_lies_in_exactly_one_leaf(count):
    corners = _soup(count)
    order, boxes, links = tree.build(corners)
    assert sorted(order.tolist()) == list(range(count))
    inner, spans = _leaves(links)
    assert sorted(inner) == list(range(len(boxes)))
    held = sorted(i for _, first, last in spans for i in range(first, last))
    assert held == list(range(count))
    assert all(last - first <= tree.LEAF for _, first, last in spans)


def test_every_box_contains_all_triangles_beneath_it():
    corners = _soup(500)
    order, boxes, links = tree.build(corners)
    points = corners[order].reshape(-1, 3, 3)

    def check(node):
        below = []
        for side in range(2):
            link = int(links[node, side])
            rows = check(link) if link >= 0 else list(range(*tree.leaf_span(link)))
            inside = points[rows]
            assert (inside >= boxes[node, 6 * side : 6 * side + 3].astype(float)).all()
            assert (inside <= boxes[node, 6 * side + 3 : 6 * side + 6].astype(float)).all()
            below += rows
        return below

    assert len(check(0)) == 500


def test_coinciding_triangles_are_halved_not_stacked_up():
    corners = np.tile(_soup(1), (1000, 1))
    _, boxes, links = tree.build(corners)
    _, spans = _leaves(links)
    assert max(last - first for _, first, last in spans) <= tree.LEAF
    assert len(boxes) < 1000


def test_geometric_row_keeps_its_depth_below_the_trail_of_a_ray():
    # sizes shrinking by halves drive a surface-area split to peel off one triangle a level
    scale = 0.5 ** np.arange(2000, dtype=float).clip(max=120)
    corners = _soup(2000) * scale[:, None]
    _, _, links = tree.build(corners)
    deepest, waiting = 0, [(0, 1)]
    while waiting:
        node, depth = waiting.pop()
        deepest = max(deepest, depth)
        waiting += [(link, depth + 1) for link in links[node, :2].tolist() if link >= 0]
    assert deepest < 64


@pytest.mark.parametrize("corners", [np.empty((0, 9)), np.full((1, 9), np.nan)])
def test_build_refuses_what_has_no_boxes(corners):
    with pytest.raises(ValueError):
        tree.build(corners)


def test_build_leaves_its_argument_alone():
    corners = _soup(50)
    corners.setflags(write=False)
    kept = corners.copy()
    tree.build(corners)
    assert (corners == kept).all()
