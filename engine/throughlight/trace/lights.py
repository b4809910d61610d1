"""Direct light: which head to ask, where on its face, and what arrives from there.

Densities over a head's face are per area (1/m²). A head is chosen in proportion to what it would give at the point if
nothing stood between, with a floor so that no head is ever forgotten.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.emission import curve, profile, sample_disc
from throughlight.optics.kernel import inlined, kernel
from throughlight.optics.vectors import dot, scale, subtract
from throughlight.trace.tables import ShapeKind

_DISC = int(ShapeKind.DISC)
_RECTANGLE = int(ShapeKind.RECTANGLE)
_FLOOR = 0.1  # the share of choices that ignores the estimate
_TAU = 2.0 * math.pi


@inlined
def centre(head):
    """Return the centre of a head's face."""
    return (head["ox"], head["oy"], head["oz"])


@kernel
def axes(head):
    """Return the tangent, bitangent and normal of a head's face."""
    return (
        (head["tx"], head["ty"], head["tz"]),
        (head["bx"], head["by"], head["bz"]),
        (head["nx"], head["ny"], head["nz"]),
    )


@kernel
def _estimate(head, x):
    """Return the illuminance that this head alone would give at x, unobstructed and facing it, as if it were small."""
    to_x = subtract(x, centre(head))
    squared = dot(to_x, to_x)
    if head["kind"] == _DISC or head["kind"] == _RECTANGLE:
        cosine = (to_x[0] * head["nx"] + to_x[1] * head["ny"] + to_x[2] * head["nz"]) / math.sqrt(squared + 1e-30)
        # A large face still reaches points a little behind its centre's horizon.
        lobe = max(cosine, 0.02)
        if head["exponent"] != 1.0:
            lobe = lobe ** head["exponent"]
    else:
        lobe = 1.0
    return head["intensity"] * lobe / (squared + head["area"])


@kernel
def _shared(own, total, n):
    """Return the probability of a head whose estimate is `own` of `total`."""
    return _FLOOR / n + ((1.0 - _FLOOR) * own / total if total > 0.0 else (1.0 - _FLOOR) / n)


@kernel
def head_probability(stage, x, index):
    """Return the probability with which `choose_head` picks this head at x."""
    n = stage.heads.shape[0]
    if n == 1:
        return 1.0
    total = 0.0
    for i in range(n):
        total += _estimate(stage.heads[i], x)
    return _shared(_estimate(stage.heads[index], x), total, n)


@kernel
def choose_head(stage, x, u):
    """Return a head's index and its probability at x, for one uniform number."""
    n = stage.heads.shape[0]
    if n == 1:
        return np.int64(0), 1.0
    total = 0.0
    for i in range(n):
        total += _estimate(stage.heads[i], x)
    below = 0.0
    probability = 0.0
    for i in range(n):
        probability = _shared(_estimate(stage.heads[i], x), total, n)
        below += probability
        if u < below:
            return i, probability
    return n - 1, probability


@inlined
def choose_for_body(stage, body, u):
    """Return a head's index and its probability for a translucent body, wherever in it or on it the light is asked for.

    A body is small against its distance from the heads, so its shares are worked out once, for its middle.
    """
    n = stage.heads.shape[0]
    below = 0.0
    for i in range(n - 1):
        below += stage.shares[body, i]
        if u < below:
            return i, stage.shares[body, i]
    return n - 1, stage.shares[body, n - 1]


def estimates(shapes: np.ndarray, heads: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return what `_estimate` says of each head at each shape's middle, (shapes, heads), and the unit vectors thither.

    Parameters
    ----------
    shapes, heads
        Record tables of SHAPE and HEAD.
    """
    low = np.stack([shapes[f"lo_{axis}"] for axis in "xyz"], axis=1)
    high = np.stack([shapes[f"hi_{axis}"] for axis in "xyz"], axis=1)
    line = ((low + high) / 2.0)[:, None, :] - np.stack([heads[f"o{axis}"] for axis in "xyz"], axis=1)[None]
    squared = np.sum(line**2, axis=2)
    normals = np.stack([heads[f"n{axis}"] for axis in "xyz"], axis=1)
    cosine = np.maximum(np.sum(line * normals, axis=2) / np.sqrt(squared + 1e-30), 0.02)
    lobe = np.where(heads["kind"] == int(ShapeKind.TUBE), 1.0, cosine ** heads["exponent"])
    return heads["intensity"] * lobe / (squared + heads["area"]), -line / np.sqrt(squared + 1e-30)[..., None]


def shares_of(shapes: np.ndarray, heads: np.ndarray) -> np.ndarray:
    """Return the table of `Stage.shares`: (shapes, heads) probabilities, by the estimate at each shape's middle."""
    estimate, _ = estimates(shapes, heads)
    total = np.maximum(estimate.sum(axis=1, keepdims=True), 1e-300)
    return np.ascontiguousarray(_FLOOR / max(1, len(heads)) + (1.0 - _FLOOR) * estimate / total)


@inlined
def face_point(head, u1, u2):
    """Return a point spread evenly over a head's face, and the face's normal there."""
    t, b, n = axes(head)
    if head["kind"] == _DISC:
        x, y = sample_disc(head["sa"], u1, u2)
        z = 0.0
        normal = n
    elif head["kind"] == _RECTANGLE:
        x = (2.0 * u1 - 1.0) * head["sa"]
        y = (2.0 * u2 - 1.0) * head["sb"]
        z = 0.0
        normal = n
    else:
        phi = _TAU * u1
        c, s = math.cos(phi), math.sin(phi)
        x, y, z = head["sa"] * c, head["sa"] * s, (2.0 * u2 - 1.0) * head["sc"]
        normal = (t[0] * c + b[0] * s, t[1] * c + b[1] * s, t[2] * c + b[2] * s)
    point = (
        head["ox"] + t[0] * x + b[0] * y + n[0] * z,
        head["oy"] + t[1] * x + b[1] * y + n[1] * z,
        head["oz"] + t[2] * x + b[2] * y + n[2] * z,
    )
    return point, normal


@kernel
def face_hit(head, origin, direction):
    """Return where a ray meets the front of a head's face: (distance or inf, cosine at the face)."""
    t, b, n = axes(head)
    local = subtract(origin, centre(head))
    if head["kind"] == _DISC or head["kind"] == _RECTANGLE:
        cosine = -dot(direction, n)
        if cosine <= 0.0:
            return math.inf, 0.0
        distance = dot(local, n) / cosine
        if distance <= 0.0:
            return math.inf, 0.0
        x = dot(local, t) + distance * dot(direction, t)
        y = dot(local, b) + distance * dot(direction, b)
        if head["kind"] == _DISC:
            inside = x * x + y * y <= head["sa"] * head["sa"]
        else:
            inside = abs(x) <= head["sa"] and abs(y) <= head["sb"]
        return (distance, cosine) if inside else (math.inf, 0.0)
    ox, oy, oz = dot(local, t), dot(local, b), dot(local, n)
    dx, dy, dz = dot(direction, t), dot(direction, b), dot(direction, n)
    a = dx * dx + dy * dy
    half_b = ox * dx + oy * dy
    c = ox * ox + oy * oy - head["sa"] * head["sa"]
    root = half_b * half_b - a * c
    if a < 1e-14 or root <= 0.0 or c <= 0.0:
        return math.inf, 0.0
    distance = (-half_b - math.sqrt(root)) / a
    if distance <= 0.0 or abs(oz + distance * dz) > head["sc"]:
        return math.inf, 0.0
    return distance, math.sqrt(root) / head["sa"]


@inlined
def out_of_sight(head, x, normal, behind):
    """Tell whether all of a head's face lies on the wrong side of the plane through x: the front, if `behind`."""
    line = subtract(centre(head), x)
    height = dot(line, normal)
    reach = head["sa"] + head["sb"] + head["sc"]
    return height > reach if behind else height < -reach


@inlined
def light(stage, head, cosine, out):
    """Return the luminance × time that a head's face sends along `out`, at this cosine from its normal, cd·s/m²."""
    if head["curve"] > 0:
        t, b, _ = axes(head)
        where, rows, columns = head["curve"], head["curve_rows"], head["curve_columns"]
        p = curve(stage.curves, where, rows, columns, cosine, dot(out, t), dot(out, b))
    else:
        p = profile(cosine, head["exponent"])
    return (head["red"] * p, head["green"] * p, head["blue"] * p)


@inlined
def toward(x, y, normal):
    """Return the direction, the distance and the face's cosine for the line from x to the point y of a face."""
    line = subtract(y, x)
    distance = math.sqrt(dot(line, line))
    direction = scale(line, 1.0 / distance)
    return direction, distance, -dot(direction, normal)
