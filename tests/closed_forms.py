"""Configuration factors in closed form, to check photometry and traced sets against.

F is the share of a uniform hemisphere that a source fills, cosine-weighted: a Lambertian source of luminance L gives
the receptor E = π·L·F. Numbers such as B-4 are those of J. R. Howell, A Catalog of Radiation Heat Transfer
Configuration Factors; the formulas are written from memory and checked in test_closed_forms.py against direct
quadrature. The polygon is Lambert's (1760, Photometria), with clipping to the receptor's horizon.
"""

from __future__ import annotations

import math

import numpy as np


def corner_rectangle(a, b, c):
    """B-4: element parallel to a rectangle a × b, whose corner lies c above it."""
    p, q = math.hypot(a, c), math.hypot(b, c)
    return (a / p * math.atan(b / p) + b / q * math.atan(a / q)) / (2 * math.pi)


def centred_rectangle(width, height, distance):
    """Four times B-4: element facing the middle of a rectangle."""
    return 4 * corner_rectangle(width / 2, height / 2, distance)


def perpendicular_rectangle(a, b, c):
    """B-5: element in the plane z = 0 facing +z, rectangle x in [0, a], z in [0, b] upright at distance c."""
    root = math.hypot(b, c)
    return (math.atan(a / c) - c / root * math.atan(a / root)) / (2 * math.pi)


def coaxial_disc(radius, distance):
    """B-12: element facing the centre of a parallel disc."""
    return radius**2 / (radius**2 + distance**2)


def offset_disc(radius, height, offset):
    """B-13: element parallel to a disc, `offset` beside its axis."""
    h, r = height / offset, radius / offset
    z = 1 + h * h + r * r
    return 0.5 * (1 - (z - 2 * r * r) / math.sqrt(z * z - 4 * r * r))


def perpendicular_disc(radius, height, offset):
    """Element `offset` beside a disc's axis and `height` from its plane, facing the axis, perpendicular to the disc."""
    h, r = height / offset, radius / offset
    z = 1 + h * h + r * r
    return 0.5 * h * (z / math.sqrt(z * z - 4 * r * r) - 1)


def side_of_cylinder(radius, distance, half_length):
    """B-31: element facing the axis of a cylinder beside its end, `distance` from the axis."""
    length, h = half_length / radius, distance / radius
    x, y = (1 + h) ** 2 + length**2, (1 - h) ** 2 + length**2
    slant = (x - 2 * h) / (h * math.sqrt(x * y)) * math.atan(math.sqrt(x * (h - 1) / (y * (h + 1))))
    end = math.atan(math.sqrt((h - 1) / (h + 1))) / h
    return math.atan(length / math.sqrt(h * h - 1)) / (math.pi * h) + length / math.pi * (slant - end)


def facing_sphere(radius, distance, tilt=0.0):
    """Element whose normal is `tilt` off the centre of a sphere that stands whole above its horizon."""
    assert tilt + math.asin(radius / distance) <= math.pi / 2
    return (radius / distance) ** 2 * math.cos(tilt)


def sphere_to_coaxial_disc(radius, distance):
    """Share of a sphere's light that falls on a disc of `radius`, its plane `distance` from the sphere's centre."""
    return 0.5 * (1 - distance / math.hypot(radius, distance))


def coaxial_discs(r1, r2, distance):
    """C-41: share of disc 1's light that reaches the parallel coaxial disc 2."""
    a, b = r1 / distance, r2 / distance
    x = 1 + (1 + b * b) / (a * a)
    return 0.5 * (x - math.sqrt(x * x - 4 * (b / a) ** 2))


def parallel_rectangles(a, b, c):
    """C-11: identical, directly opposed rectangles a × b, c apart."""
    x, y = a / c, b / c
    p, q = math.hypot(1, x), math.hypot(1, y)
    logarithm = math.log(p * q / math.sqrt(1 + x * x + y * y))
    arcs = x * q * math.atan(x / q) + y * p * math.atan(y / p) - x * math.atan(x) - y * math.atan(y)
    return 2 / (math.pi * x * y) * (logarithm + arcs)


def perpendicular_rectangles(height, width, length):
    """C-14: from a rectangle `width` × `length` to one `height` × `length` upright on their common edge `length`."""
    h, w = height / length, width / length
    a, b = h * h, w * w
    s = a + b
    arcs = w * math.atan(1 / w) + h * math.atan(1 / h) - math.sqrt(s) * math.atan(1 / math.sqrt(s))
    logarithm = (
        math.log((1 + b) * (1 + a) / (1 + s))
        + b * math.log(b * (1 + s) / ((1 + b) * s))
        + a * math.log(a * (1 + s) / ((1 + a) * s))
    )
    return (arcs + logarithm / 4) / (math.pi * w)


def polygon(corners, place, normal):
    """Lambert's polygon: corners (n, 3) in either order, seen from an element at `place` facing `normal`."""
    n = np.asarray(normal, float)
    n = n / np.linalg.norm(n)
    seen = clip_to_horizon(np.asarray(corners, float) - np.asarray(place, float), n)
    total = 0.0
    for first, second in zip(seen, np.roll(seen, -1, axis=0), strict=True):
        cross = np.cross(first, second)
        length = np.linalg.norm(cross)
        if length > 0:
            total += math.atan2(length, float(first @ second)) * float(n @ cross) / length
    return abs(total) / (2 * math.pi)


def clip_to_horizon(corners, normal):
    """Keep what of a polygon lies above the plane through the origin (Sutherland and Hodgman 1974, one plane)."""
    heights = corners @ normal
    kept = []
    for i in range(len(corners)):
        j = (i + 1) % len(corners)
        if heights[i] >= 0:
            kept.append(corners[i])
        if (heights[i] >= 0) != (heights[j] >= 0):
            share = heights[i] / (heights[i] - heights[j])
            kept.append(corners[i] + share * (corners[j] - corners[i]))
    return np.array(kept).reshape(-1, 3)


def rectangle_corners(centre, width, height, facing, upward=(0.0, 1.0, 0.0)):
    """Corners of a rectangle of `width` × `height` (along `upward`) at `centre` that faces the point `facing`."""
    centre = np.asarray(centre, float)
    z = np.asarray(facing, float) - centre
    z /= np.linalg.norm(z)
    x = np.cross(upward, z)
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    return np.array([centre + 0.5 * (i * width * x + j * height * y) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))])


def solid_angle_of_rectangle(width, height, distance):
    """Solid angle of a centred rectangle, sr."""
    root = math.sqrt(4 * distance**2 + width**2 + height**2)
    return 4 * math.atan(width * height / (2 * distance * root))
