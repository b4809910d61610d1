"""Make the shapes of the shipped sets: an agate slice and a leaf, both invented.

Light through a body of one material shows its thickness, so the bands of the agate and the veins of the leaf are cut as
relief into the back. Run it with `python scenes/make_assets.py`; it writes the PLY files beside the setup files.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray

Array = NDArray[np.float64]
HERE = Path(__file__).parent


def slice_of(outline: Array, rings: Array, front: Array, back: Array) -> trimesh.Trimesh:
    """Return a closed body over a star-shaped outline.

    Parameters
    ----------
    outline
        (n, 2) corners, mm, anticlockwise.
    rings
        (m,) growing shares of the way from the middle to the outline, from above 0 to 1.
    front, back
        (m, n) heights of the two faces at each ring and corner, mm; in the middle, the mean of the first ring.
    """
    m, n = len(rings), len(outline)
    flat = rings[:, None, None] * outline[None]
    middle = np.array([[0.0, 0.0]])
    faces = []
    bodies = []
    for height, turned in ((front, False), (back, True)):
        points = np.vstack([middle, flat.reshape(-1, 2)])
        z = np.concatenate([[height[0].mean()], height.ravel()])
        bodies.append(np.column_stack([points, z]))
        start = len(faces) and 1 + m * n
        fan = [(0, 1 + j, 1 + (j + 1) % n) for j in range(n)]
        for i in range(m - 1):
            inner, outer = 1 + i * n, 1 + (i + 1) * n
            for j in range(n):
                k = (j + 1) % n
                fan += [(inner + j, outer + j, outer + k), (inner + j, outer + k, inner + k)]
        faces += [tuple(start + corner for corner in (face[::-1] if turned else face)) for face in fan]
    rim, under = 1 + (m - 1) * n, 1 + m * n + 1 + (m - 1) * n
    for j in range(n):
        k = (j + 1) % n
        faces += [(rim + j, under + j, under + k), (rim + j, under + k, rim + k)]
    return trimesh.Trimesh(np.vstack(bodies), np.array(faces), process=False)


def smooth_noise(angles: Array, seed: int, orders: range, size: float) -> Array:
    """Return a periodic curve of random harmonics."""
    draw = np.random.default_rng(seed)
    curve = np.zeros_like(angles)
    for order in orders:
        curve += size / order * draw.normal() * np.cos(order * angles + draw.uniform(0, 2 * np.pi))
    return curve


def agate() -> trimesh.Trimesh:
    """Return an agate slice, 95 mm across, its bands as relief of the back between 1.6 and 8 mm."""
    angles = np.linspace(0, 2 * np.pi, 144, endpoint=False)
    radius = 43.0 * (1.0 + smooth_noise(angles, 4, range(1, 7), 0.07)) * (1.0 - 0.10 * np.cos(2 * angles + 1.2))
    outline = np.column_stack([1.06 * radius * np.cos(angles), 0.92 * radius * np.sin(angles)])
    rings = np.linspace(0.03, 1.0, 62)
    share = rings[:, None] + 0.02 * smooth_noise(angles, 9, range(2, 12), 1.0)[None] * np.sin(np.pi * rings)[:, None]
    bands = np.zeros_like(share)
    for at, width, deep in (
        (0.22, 0.030, 1.0), (0.30, 0.016, -0.8), (0.38, 0.022, 0.9), (0.455, 0.012, -0.7), (0.52, 0.020, 1.1),
        (0.60, 0.014, -0.9), (0.665, 0.012, 0.8), (0.72, 0.016, -0.6), (0.79, 0.014, 1.0), (0.86, 0.012, -0.8),
        (0.915, 0.014, 0.9), (0.985, 0.020, 2.0),
    ):  # fmt: skip
        bands += deep * np.exp(-(((share - at) / width) ** 2))
    heart = -2.4 * np.exp(-((share / 0.16) ** 2))
    thickness = 4.4 + 1.7 * bands + heart + 0.5 * smooth_noise(angles, 2, range(1, 4), 1.0)[None] * rings[:, None]
    thickness = np.clip(thickness, 1.6, 8.0)
    return slice_of(outline, rings, np.zeros_like(thickness), -thickness)


def leaf() -> trimesh.Trimesh:
    """Return a leaf, 100 mm long and 0.2 mm thick, its veins as ridges of the back."""
    angles = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    along = np.cos(angles)
    width = 27.0 * np.sin(angles) * (1.0 - 0.28 * along) * (1.0 + 0.02 * np.cos(40 * angles))
    outline = np.column_stack([width, 50.0 * along + 4.0 * np.maximum(along, 0.0) ** 24])[::-1]
    rings = np.concatenate([[0.015], np.linspace(0.04, 1.0, 44)])
    x, y = (rings[:, None] * outline[None, :, i] for i in range(2))
    midrib = np.exp(-((x / 0.7) ** 2)) * np.clip((52.0 - y) / 90.0, 0.25, 1.0)
    # Side veins leave the midrib every 9 mm and rise toward the tip.
    phase = (y - 0.75 * np.abs(x) - 0.006 * x**2) / 9.0
    side = np.exp(-((np.abs(phase - np.round(phase)) * 9.0 / 0.45) ** 2)) * np.clip(1.0 - np.abs(x) / 30.0, 0.0, 1.0)
    thickness = 0.20 + 0.55 * midrib + 0.16 * side
    bend = 0.004 * x**2 + 0.0012 * (y - 10.0) ** 2
    return slice_of(outline, rings, bend, bend - thickness)


if __name__ == "__main__":
    for name, body in (("agate/slice.ply", agate()), ("leaf/leaf.ply", leaf())):
        assert body.is_watertight
        assert body.volume > 0.0
        body.export(HERE / name, encoding="binary", vertex_normal=False)
        print(name, len(body.faces), "triangles", body.bounds.round(1).tolist())
