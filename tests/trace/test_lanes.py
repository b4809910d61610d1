"""The vector code against the same said one by one: every bit of the answers agrees."""

from __future__ import annotations

import numpy as np
import pytest

from doors import loop
from throughlight.trace import lanes

pytestmark = pytest.mark.skipif(
    lanes.eight_boxes is lanes.plain_eight_boxes, reason="this mode of execution has no vectors"
)


def _columns(rng, step):
    """Return a column for each axis, in any order of the axes."""
    return tuple(np.uint64(step * k) for k in rng.permutation(3))


def _pick(rng, values, size):
    """Return random numbers, some of them the odd ones that arithmetic stumbles over."""
    return np.where(rng.random(size) < 0.1, rng.choice(values, size), rng.normal(size=size))


@loop
def _both_boxes(boxes, links, slabs, t_min, t_max, one, other):
    return (
        lanes.eight_boxes(boxes, links, np.uint64(0), slabs, t_min, t_max, one),
        lanes.plain_eight_boxes(boxes, links, np.uint64(0), slabs, t_min, t_max, other),
    )


@loop
def _both_triangles(triangles, sheared, sides, t_min, t_max, one, other):
    return (
        lanes.four_triangles(triangles, np.uint64(0), sheared, sides, t_min, t_max, one),
        lanes.plain_four_triangles(triangles, np.uint64(0), sheared, sides, t_min, t_max, other),
    )


def test_boxes():
    rng, met = np.random.default_rng(1), 0
    for _ in range(3000):
        ends = np.sort(_pick(rng, [np.inf, -np.inf, 0.0], (2, 24)).astype(np.float32), axis=0)
        boxes = np.concatenate(ends)[None]
        links = rng.integers(0, 2**31, (1, 8)).astype(np.int32)
        # powers of two: products round to themselves, so that fusing them with sums changes nothing
        over = tuple(float(s * 2.0**k) for s, k in zip(rng.choice([-1, 1], 3), rng.integers(-3, 4, 3), strict=True))
        start = tuple(_pick(rng, [0.0, np.nan], 3).tolist())
        near = tuple(np.uint64(8 * k + (24 if over[k] < 0.0 else 0)) for k in range(3))
        far = tuple(np.uint64(8 * k + (0 if over[k] < 0.0 else 24)) for k in range(3))
        one, other = np.zeros(8, np.int64), np.zeros(8, np.int64)
        limits = float(rng.choice([-1e-7, 1e-7])), float(rng.choice([np.inf, 1.0, 1e-8]))
        mine, plain = _both_boxes(boxes, links, (over, start, near, far), *limits, one, other)
        assert mine == plain
        bits = [k for k in range(8) if int(mine) >> k & 1]
        assert (one[bits] == other[bits]).all()
        assert (one[bits] & lanes.LINK == links[0, bits]).all()
        met += len(bits)
    assert met > 100


@pytest.mark.parametrize("sides", [lanes.EITHER, lanes.LEAVING])
def test_triangles(sides):
    rng, met = np.random.default_rng(2), 0
    for _ in range(3000):
        triangles = _pick(rng, [np.nan, 0.0, 1.0], (1, 36))
        shears = (*rng.normal(0.0, 0.5, 2).tolist(), float(rng.choice([-1.0, 1.0, 2.5])))
        start = tuple(_pick(rng, [0.0, 1.0], 3).tolist())
        one, other = np.zeros(4), np.zeros(4)
        limits = float(rng.choice([-1e-7, 1e-7])), float(rng.choice([np.inf, 1.0]))
        sheared = (_columns(rng, 4), shears, start)
        mine, plain = _both_triangles(triangles, sheared, sides, *limits, one, other)
        assert mine == plain
        bits = [k for k in range(4) if int(mine) >> k & 1]
        assert (one[bits] == other[bits]).all()
        met += len(bits)
    assert met > 100


@pytest.mark.parametrize("place", [0, 1, 7, 63])
def test_lowest_bit(place):
    @loop
    def both(mask):
        return lanes.lowest(mask), lanes.plain_lowest(mask)

    assert both(np.uint64((1 << place) | (1 << 63))) == (place, place)


def test_keys_rise_with_distance_whatever_the_link():
    distances = np.sort(np.concatenate([[0.0, np.inf], np.random.default_rng(3).lognormal(0.0, 5.0, 1000)]))
    distances = distances[np.diff(distances.astype(np.float32), prepend=-1.0) > 0.0]

    @loop
    def keys(distances, links):
        out = np.empty(len(distances), np.int64)
        for i in range(len(distances)):
            out[i] = lanes.key_of(distances[i], links[i])
        return out

    links = np.random.default_rng(4).integers(0, 2**32, len(distances))
    assert (np.diff(keys(distances, links)) > 0).all()
    assert (keys(distances, links) & lanes.LINK == links).all()
