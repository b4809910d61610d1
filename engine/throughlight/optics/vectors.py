"""Vectors as 3-tuples of floats: cheaper than small arrays, and the same source runs on a GPU.

A *frame* is nine floats in a row: the tangent, the bitangent and the normal of a right-handed orthonormal basis.
"""

from __future__ import annotations

import math

from throughlight.optics.kernel import inlined, kernel


@kernel
def subtract(a, b):
    """Return a − b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


@kernel
def scale(a, s):
    """Return s·a."""
    return (a[0] * s, a[1] * s, a[2] * s)


@kernel
def along(origin, direction, t):
    """Return the point origin + t·direction."""
    return (origin[0] + t * direction[0], origin[1] + t * direction[1], origin[2] + t * direction[2])


@kernel
def multiply(a, b):
    """Return the component-wise product, as for two triples of colour bands."""
    return (a[0] * b[0], a[1] * b[1], a[2] * b[2])


@kernel
def dot(a, b):
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@kernel
def cross(a, b):
    """Return the vector product a × b."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


@inlined
def normalise(a):
    """Return a / |a|."""
    s = 1.0 / math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])
    return (a[0] * s, a[1] * s, a[2] * s)


@kernel
def negate(a):
    """Return −a."""
    return (-a[0], -a[1], -a[2])


@kernel
def largest(a):
    """Return the largest of the three components."""
    return max(a[0], max(a[1], a[2]))


@inlined
def basis(n):
    """Return two unit vectors that complete the unit vector n to a right-handed frame.

    Source: Duff et al. 2017, "Building an Orthonormal Basis, Revisited", JCGT 6(1).
    """
    sign = 1.0 if n[2] >= 0.0 else -1.0
    a = -1.0 / (sign + n[2])
    b = n[0] * n[1] * a
    return (1.0 + sign * n[0] * n[0] * a, sign * b, -sign * n[0]), (b, sign + n[1] * n[1] * a, -n[1])


@inlined
def to_local(t, b, n, v):
    """Return v's components along the frame t, b, n."""
    return (dot(t, v), dot(b, v), dot(n, v))


@inlined
def to_world(t, b, n, v):
    """Return the world vector whose components along t, b, n are v."""
    return (
        t[0] * v[0] + b[0] * v[1] + n[0] * v[2],
        t[1] * v[0] + b[1] * v[1] + n[1] * v[2],
        t[2] * v[0] + b[2] * v[1] + n[2] * v[2],
    )
