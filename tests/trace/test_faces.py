from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, interpolate

import chi2
from doors import loop
from stages import Bench
from throughlight.optics import emission
from throughlight.stage.frames import facing
from throughlight.trace.lights import face_hit, face_point, light
from throughlight.trace.tables import HEAD, ShapeKind

ORIGIN = np.array([0.3, -0.2, 0.7])
FRAME = facing(ORIGIN, np.array([-0.4, 0.5, 0.1]))  # columns: tangent, bitangent, normal
SIZES = {ShapeKind.DISC: (0.11, 0.0, 0.0), ShapeKind.RECTANGLE: (0.3, 0.45, 0.0), ShapeKind.TUBE: (0.04, 0.0, 0.25)}


def areas(kind):
    a, b, c = SIZES[kind]
    return {
        ShapeKind.DISC: math.pi * a * a,
        ShapeKind.RECTANGLE: 4.0 * a * b,
        ShapeKind.TUBE: 4.0 * math.pi * a * c,
    }[kind]


def head_of(kind, exponent=1.0):
    heads = np.zeros(1, HEAD)
    head = heads[0]
    head["kind"], head["exponent"], head["area"] = int(kind), exponent, areas(kind)
    head["red"], head["green"], head["blue"] = 3.0, 2.0, 1.0
    for size, value in zip(("sa", "sb", "sc"), SIZES[kind], strict=True):
        head[size] = value
    for letter, column in zip("otbn", (ORIGIN, *FRAME.T), strict=True):
        for axis, value in zip("xyz", column, strict=True):
            head[letter + axis] = value
    return heads


@loop
def _face_points(heads, u):
    """(n, 6): the point and the normal."""
    out = np.empty((len(u), 6))
    for i in range(len(u)):
        out[i, :3], out[i, 3:] = face_point(heads[0], u[i, 0], u[i, 1])
    return out


@loop
def _hits(heads, origins, directions):
    """(n, 2): the distance to the face, and the cosine there."""
    out = np.empty((len(origins), 2))
    for i in range(len(origins)):
        o = (origins[i, 0], origins[i, 1], origins[i, 2])
        d = (directions[i, 0], directions[i, 1], directions[i, 2])
        out[i] = face_hit(heads[0], o, d)
    return out


@loop
def _disc(u, radius):
    out = np.empty((len(u), 2))
    for i in range(len(u)):
        out[i] = emission.sample_disc(radius, u[i, 0], u[i, 1])
    return out


@loop
def _light(stage, heads, cosines):
    out = np.empty((len(cosines), 3))
    for i in range(len(cosines)):
        out[i] = light(stage, heads[0], cosines[i], (0.0, 0.0, 1.0))
    return out


def rings(points, radius):
    """Count points by rings of equal area and by sectors."""
    ring = np.floor((np.hypot(*points.T) / radius) ** 2 * 12).astype(int)
    sector = np.floor(np.arctan2(points[:, 1], points[:, 0]) / (2.0 * math.pi) % 1.0 * 24).astype(int)
    assert ring.max() < 12
    return np.bincount(ring * 24 + sector, minlength=12 * 24)


def cells_of(kind, local):
    """Count points of a face, in its own axes, by cells of equal area."""
    a, b, c = SIZES[kind]
    if kind == ShapeKind.DISC:
        return rings(local[:, :2], a)
    if kind == ShapeKind.RECTANGLE:
        return np.histogram2d(local[:, 0], local[:, 1], bins=16, range=((-a, a), (-b, b)))[0]
    turns = np.arctan2(local[:, 1], local[:, 0]) / (2.0 * math.pi) % 1.0
    return np.histogram2d(turns, local[:, 2], bins=16, range=((0.0, 1.0), (-c, c)))[0]


@pytest.mark.parametrize("kind", SIZES)
def test_points_are_even_over_the_face(kind):
    found = _face_points(head_of(kind), np.random.default_rng(41).random((100_000, 2)))
    local, normals = (found[:, :3] - ORIGIN) @ FRAME, found[:, 3:] @ FRAME
    counts = cells_of(kind, local)
    assert counts.sum() == len(local)
    chi2.agrees(counts, np.full(counts.size, len(local) / counts.size), tests=len(SIZES))
    if kind == ShapeKind.TUBE:
        assert np.allclose(local[:, :2], SIZES[kind][0] * normals[:, :2], atol=1e-12)
        assert np.allclose(np.linalg.norm(normals, axis=1), 1.0, atol=1e-12)
        assert np.abs(normals[:, 2]).max() < 1e-12
    else:
        assert np.abs(local[:, 2]).max() < 1e-12
        assert np.allclose(normals, (0.0, 0.0, 1.0), atol=1e-12)


@pytest.mark.parametrize("kind", SIZES)
def test_a_ray_at_a_point_of_the_face_meets_it_there(kind):
    """Seen from its front a point of a convex face is the first thing a ray meets; from behind nothing is met."""
    heads = head_of(kind)
    found = _face_points(heads, np.random.default_rng(42).random((500, 2)))
    points, normals = found[:, :3], found[:, 3:]
    eyes = ORIGIN + np.random.default_rng(43).normal(size=(500, 3))
    lines = points - eyes
    distances = np.linalg.norm(lines, axis=1)
    directions = lines / distances[:, None]
    cosines = -np.sum(directions * normals, axis=1)
    hits = _hits(heads, eyes, directions)
    front = cosines > 1e-3
    assert front.sum() > 100
    assert hits[front] == pytest.approx(np.stack([distances, cosines], axis=1)[front], rel=1e-9)
    if kind != ShapeKind.TUBE:  # through a tube's wall the near side comes first
        assert np.isinf(hits[cosines < -1e-3, 0]).all()


@pytest.mark.parametrize("kind", SIZES)
def test_shares_of_the_face_and_of_the_directions_agree(kind):
    """What a face fills of a sphere of directions is the same by area, ∫ cos/r² dA, and by rays that meet it: 4 σ."""
    heads, samples = head_of(kind), 200_000
    rng = np.random.default_rng(44)
    eye = ORIGIN + FRAME @ np.array([0.25, 0.1, 0.3])
    found = _face_points(heads, rng.random((samples, 2)))
    lines = found[:, :3] - eye
    squared = np.sum(lines**2, axis=1)
    cosines = -np.sum(lines * found[:, 3:], axis=1) / np.sqrt(squared)
    by_area = np.maximum(cosines, 0.0) / squared * areas(kind)
    directions = rng.normal(size=(samples, 3))
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    met = np.isfinite(_hits(heads, np.broadcast_to(eye, directions.shape).copy(), directions)[:, 0]) * 4.0 * math.pi
    error = math.sqrt((by_area.var() + met.var()) / samples)
    assert abs(by_area.mean() - met.mean()) < 4.0 * error
    assert error < 0.03 * by_area.mean()


def test_disc_is_covered_evenly():
    counts = rings(_disc(np.random.default_rng(45).random((100_000, 2)), 2.5), 2.5)
    chi2.agrees(counts, np.full(counts.size, 100_000 / counts.size))
    last = 1.0 - 2.0**-53
    for u1 in (0.0, 0.5, last):
        for u2 in (0.0, 0.5, last):
            assert math.hypot(*emission.sample_disc(1.0, u1, u2)) <= 1.0 + 1e-15


def test_nothing_is_sent_backward():
    for exponent in (1.0, 3.7):
        assert emission.profile(0.0, exponent) == 0.0
        assert emission.profile(-0.4, exponent) == 0.0
        assert emission.profile(1.0, exponent) == 1.0


@pytest.mark.parametrize("beam", [120, 90, 60, 40])
def test_intensity_is_halved_at_half_the_beam_angle(beam):
    """The beam angle is where the intensity is half the axial one (CIE 17.4, luminaire terms, from memory)."""
    half = math.cos(math.radians(beam / 2))
    exponent = math.log(0.5) / math.log(half)
    assert emission.profile(half, exponent) * half == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize("exponent", [1.0, 2.0, 5.5])
def test_flux_of_a_face(exponent):
    """∫ I₀·cos^k dω = 2π·I₀/(k + 1): π·I₀ for Lambert's face (Lambert 1760)."""
    flux, _ = integrate.quad(lambda c: emission.profile(c, exponent) * c * 2.0 * math.pi, 0.0, 1.0)
    assert flux == pytest.approx(2.0 * math.pi / (exponent + 1.0), rel=1e-9)


def test_bands_share_the_profile():
    cosines = np.array([1.0, 0.5, 0.1])
    expected = np.outer(cosines**2, (3.0, 2.0, 1.0))
    assert _light(Bench().stage(), head_of(ShapeKind.DISC, 3.0), cosines) == pytest.approx(expected, rel=1e-12)


@loop
def _curve(curves, first, rows, columns, directions):
    out = np.empty(len(directions))
    for i in range(len(directions)):
        x, y, z = directions[i]
        out[i] = emission.curve(curves, first, rows, columns, z, x, y)
    return out


def _directions(theta, phi):
    return np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)], axis=-1)


@pytest.mark.parametrize("columns", [1, 4, 7])
def test_tabled_intensity_is_linear_in_both_angles(columns):
    """Against scipy's bilinear interpolation of the table, wrapped round the turn; over cos θ it is the radiance."""
    rng = np.random.default_rng(46)
    rows, table = 10, rng.random((10, columns))
    curves = np.concatenate([[0.0, 9.0], table.ravel(), [9.0]])
    theta, phi = rng.uniform(0.0, 0.5 * math.pi - 2e-3, 4000), rng.uniform(-math.pi, math.pi, 4000)
    wrapped = np.concatenate([table, table[:, :1]], axis=1)
    nodes = np.linspace(0.0, 0.5 * math.pi, rows), np.linspace(0.0, 2.0 * math.pi, columns + 1)
    look_up = interpolate.RegularGridInterpolator(nodes, wrapped)
    expected = look_up(np.stack([theta, phi % (2.0 * math.pi)], axis=-1)) / np.cos(theta)
    found = _curve(curves, 2, rows, columns, _directions(theta, phi))
    assert found == pytest.approx(expected, rel=1e-9)


def test_tabled_intensity_at_its_ends():
    """On the axis, along the face (the cosine in the radiance stops at 1e-3), and behind it."""
    curves = np.array([0.0, 2.0, 1.0, 0.5])
    ends = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 1e-12], [1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])
    assert _curve(curves, 1, 3, 1, ends) == pytest.approx([2.0, 500.0, 0.0, 0.0], rel=1e-9)
    assert _curve(curves, 1, 3, 1, np.array([[0.0, -0.0, 1.0]]))[0] == 2.0


def test_flux_of_a_tabled_lambertian_face():
    """∫ L·cosθ dω of the kernel's own radiance over the half space: π (Lambert 1760)."""
    curves = np.concatenate([[0.0], np.cos(np.linspace(0.0, 0.5 * math.pi, 721))])

    def ring(theta):
        found = _curve(curves, 1, 721, 1, _directions(np.array([theta]), np.zeros(1)))[0]
        return 2.0 * math.pi * found * math.cos(theta) * math.sin(theta)

    flux, _ = integrate.quad(ring, 0.0, 0.5 * math.pi, limit=400, epsabs=1e-7)
    assert flux == pytest.approx(math.pi, rel=5e-6)
