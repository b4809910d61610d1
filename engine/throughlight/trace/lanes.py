"""A ray against eight boxes, or against four triangles, in one go.

A processor works on several numbers at once where it is told to; left to itself, a compiler does not see the chance
here. So the two tests are spelt out in LLVM's vector types, which every processor has a translation for. The `plain_…`
functions say the same one box and one triangle after another: they run in modes of execution without vectors.

The boxes: a ray is inside where it is between all three pairs of planes (Kay and Kajiya 1986). The triangles: space is
sheared so that the ray runs along +z (Woop, Benthin, Wald 2013, "Watertight Ray/Triangle Intersection", JCGT 2(1)) in
float64: the two triangles of an edge compute the same number with opposite signs, and zero counts as inside for both,
so no ray slips between them. There products never fuse with sums, since both must round alike; at the boxes they may,
which are padded for far larger errors.
"""

from __future__ import annotations

import numba
import numpy as np
from llvmlite import ir
from numba.core import types
from numba.extending import intrinsic

from throughlight.optics.kernel import inlined
from throughlight.trace.slabs import less, more

EITHER, LEAVING = np.int64(0), np.int64(1)  # literals would compile what they are handed to again
"""Which sides of a triangle count: both, or only those that a ray meets from behind, leaving the body."""

BOXES, TRIANGLES = 8, 4
LINK = np.int64(0xFFFFFFFF)
"""The part of a key that holds the link."""

_FLOAT, _DOUBLE, _INT, _LONG = ir.FloatType(), ir.DoubleType(), ir.IntType(32), ir.IntType(64)
_FUSED = ("contract",)


@inlined
def key_of(distance, link):
    """Return a number that orders children by distance and tells the link: the float32's bits, then 32 of the link.

    Bits of floats from 0 on rise as the floats do.
    """
    return (np.int64(np.float32(distance).view(np.int32)) << 32) | link


@inlined
def plain_eight_boxes(boxes, links, node, slabs, t_min, t_max, keys):
    """Return which children's boxes a ray meets within [t_min, t_max], one bit each, and write their `key_of`.

    `slabs`: 1/d, o/d by axis, and the first column of the nearer and of the farther planes of each axis.
    """
    (x, y, z), (ox, oy, oz), near, far = slabs
    mask = np.uint64(0)
    for lane in range(BOXES):
        k = np.uint64(lane)
        enter = more(
            more(boxes[node, near[0] + k] * x - ox, boxes[node, near[1] + k] * y - oy),
            more(boxes[node, near[2] + k] * z - oz, t_min),
        )
        leave = less(
            less(boxes[node, far[0] + k] * x - ox, boxes[node, far[1] + k] * y - oy),
            less(boxes[node, far[2] + k] * z - oz, t_max),
        )
        if enter <= leave:
            keys[k] = key_of(more(enter, 0.0), np.int64(links[node, k]))
            mask |= np.uint64(1) << k
    return mask


@inlined
def plain_four_triangles(triangles, leaf, sheared, sides, t_min, t_max, distances):
    """Return which triangles of a leaf a ray meets within (t_min, t_max), one bit each, and write the distances.

    `sheared`: first columns of the axes kx, ky, kz, shears sx, sy, sz, and the origin along the axes.
    """
    (kx, ky, kz), (sx, sy, sz), (ox, oy, oz) = sheared
    mask = np.uint64(0)
    for lane in range(TRIANGLES):
        a = np.uint64(lane)
        b, c = a + np.uint64(3 * TRIANGLES), a + np.uint64(6 * TRIANGLES)
        az, bz, cz = triangles[leaf, a + kz] - oz, triangles[leaf, b + kz] - oz, triangles[leaf, c + kz] - oz
        ax, ay = triangles[leaf, a + kx] - ox - sx * az, triangles[leaf, a + ky] - oy - sy * az
        bx, by = triangles[leaf, b + kx] - ox - sx * bz, triangles[leaf, b + ky] - oy - sy * bz
        cx, cy = triangles[leaf, c + kx] - ox - sx * cz, triangles[leaf, c + ky] - oy - sy * cz
        u = cx * by - cy * bx
        v = ax * cy - ay * cx
        w = bx * ay - by * ax
        behind = more(more(u, v), w) <= 0.0  # no number positive: the corners run clockwise as the ray sees them
        before = (less(less(u, v), w) >= 0.0) & (sides == EITHER)
        t = (u * az + v * bz + w * cz) * sz / (u + v + w)  # no number at all when the ray lies in the plane
        if (behind | before) & (t > t_min) & (t < t_max):
            distances[a] = t
            mask |= np.uint64(1) << a
    return mask


def _vector(element, lanes):
    return ir.VectorType(element, lanes)


def _all(builder, value, lanes):
    """Return a vector that holds a value in each lane."""
    empty = ir.Constant(_vector(value.type, lanes), ir.Undefined)
    one = builder.insert_element(empty, value, _INT(0))
    return builder.shuffle_vector(one, empty, ir.Constant(_vector(_INT, lanes), [0] * lanes))


def _row(context, builder, kind, table, row, columns):
    """Return the address of a row of a C-contiguous table."""
    data = context.make_array(kind)(context, builder, table).data
    return builder.gep(data, [builder.mul(row, _LONG(columns))])


def _load(builder, row, column, lanes):
    """Load neighbouring numbers, wherever they lie."""
    address = builder.gep(row, [column])
    element = address.type.pointee
    align = 4 if element in (_FLOAT, _INT) else 8
    return builder.load(builder.bitcast(address, _vector(element, lanes).as_pointer()), align=align)


def _store(context, builder, kind, table, vector):
    data = context.make_array(kind)(context, builder, table).data
    builder.store(vector, builder.bitcast(data, vector.type.as_pointer()), align=8)


def _more(builder, a, b):
    return builder.select(builder.fcmp_ordered(">", a, b), a, b)


def _less(builder, a, b):
    return builder.select(builder.fcmp_ordered("<", a, b), a, b)


def _bits(builder, flags, lanes):
    return builder.zext(builder.bitcast(flags, ir.IntType(lanes)), _LONG)


def _parts(builder, value, count):
    return [builder.extract_value(value, k) for k in range(count)]


@intrinsic
def _eight_boxes(typing, boxes, links, node, slabs, t_min, t_max, keys):
    """`plain_eight_boxes` in vectors."""
    signature = types.uint64(boxes, links, node, slabs, t_min, t_max, keys)

    def code(context, builder, signature, arguments):
        boxes, links, node, slabs, t_min, t_max, keys = arguments
        over, start, near, far = (_parts(builder, part, 3) for part in _parts(builder, slabs, 4))
        over, start = ([_all(builder, v, BOXES) for v in three] for three in (over, start))
        row = _row(context, builder, signature.args[0], boxes, node, 6 * BOXES)

        def distance(column, axis):
            plane = builder.fpext(_load(builder, row, column, BOXES), _vector(_DOUBLE, BOXES))
            return builder.fsub(builder.fmul(plane, over[axis], flags=_FUSED), start[axis], flags=_FUSED)

        x, y, z = (distance(near[axis], axis) for axis in range(3))
        enter = _more(builder, _more(builder, x, y), _more(builder, z, _all(builder, t_min, BOXES)))
        x, y, z = (distance(far[axis], axis) for axis in range(3))
        leave = _less(builder, _less(builder, x, y), _less(builder, z, _all(builder, t_max, BOXES)))
        ahead = _more(builder, enter, ir.Constant(enter.type, [0.0] * BOXES))
        order = builder.bitcast(builder.fptrunc(ahead, _vector(_FLOAT, BOXES)), _vector(_INT, BOXES))
        longs = _vector(_LONG, BOXES)
        order = builder.shl(builder.zext(order, longs), ir.Constant(longs, [32] * BOXES))
        row = _row(context, builder, signature.args[1], links, node, BOXES)
        links = builder.zext(_load(builder, row, _LONG(0), BOXES), longs)
        _store(context, builder, signature.args[6], keys, builder.or_(order, links))
        return _bits(builder, builder.fcmp_ordered("<=", enter, leave), BOXES)

    return signature, code


@intrinsic
def _four_triangles(typing, triangles, leaf, sheared, sides, t_min, t_max, distances):
    """`plain_four_triangles` in vectors."""
    signature = types.uint64(triangles, leaf, sheared, types.int64, t_min, t_max, distances)

    def code(context, builder, signature, arguments):
        triangles, leaf, sheared, sides, t_min, t_max, distances = arguments
        axes, shears, start = (_parts(builder, part, 3) for part in _parts(builder, sheared, 3))
        row = _row(context, builder, signature.args[0], triangles, leaf, 9 * TRIANGLES)
        sx, sy, sz = (_all(builder, v, TRIANGLES) for v in shears)
        start = [_all(builder, v, TRIANGLES) for v in start]
        add, subtract, multiply = builder.fadd, builder.fsub, builder.fmul

        def corner(k):
            columns = [builder.add(_LONG(3 * TRIANGLES * k), axis) for axis in axes]
            x, y, z = (
                subtract(_load(builder, row, column, TRIANGLES), o) for column, o in zip(columns, start, strict=True)
            )
            return subtract(x, multiply(sx, z)), subtract(y, multiply(sy, z)), z

        (ax, ay, az), (bx, by, bz), (cx, cy, cz) = (corner(k) for k in range(3))
        u = subtract(multiply(cx, by), multiply(cy, bx))
        v = subtract(multiply(ax, cy), multiply(ay, cx))
        w = subtract(multiply(bx, ay), multiply(by, ax))
        zero = ir.Constant(u.type, [0.0] * TRIANGLES)
        behind = builder.fcmp_ordered("<=", _more(builder, _more(builder, u, v), w), zero)
        before = builder.fcmp_ordered(">=", _less(builder, _less(builder, u, v), w), zero)
        both = _all(builder, builder.icmp_signed("==", sides, sides.type(int(EITHER))), TRIANGLES)
        height = add(add(multiply(u, az), multiply(v, bz)), multiply(w, cz))
        t = builder.fdiv(multiply(height, sz), add(add(u, v), w))
        met = builder.or_(behind, builder.and_(before, both))
        met = builder.and_(met, builder.fcmp_ordered(">", t, _all(builder, t_min, TRIANGLES)))
        met = builder.and_(met, builder.fcmp_ordered("<", t, _all(builder, t_max, TRIANGLES)))
        _store(context, builder, signature.args[6], distances, t)
        return _bits(builder, met, TRIANGLES)

    return signature, code


@intrinsic
def _lowest(typing, mask):
    """`plain_lowest` in one instruction."""

    def code(context, builder, signature, arguments):
        return builder.cttz(arguments[0], ir.IntType(1)(1))

    return types.uint64(types.uint64), code


@inlined
def plain_lowest(mask):
    """Return the place of the lowest bit of a number other than zero."""
    place = np.uint64(0)
    while (mask >> place) & np.uint64(1) == np.uint64(0):
        place += np.uint64(1)
    return place


_PLAIN = numba.config.DISABLE_JIT or numba.config.BOUNDSCHECK

eight_boxes = plain_eight_boxes if _PLAIN else _eight_boxes
four_triangles = plain_four_triangles if _PLAIN else _four_triangles
lowest = plain_lowest if _PLAIN else _lowest
