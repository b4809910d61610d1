"""Make the shapes of the shipped sets, and the pictures, the drawing and the lamp file of the examples, all invented.

Light through a body of one material shows its thickness, so the bands of the agate and the veins of the leaf are cut as
relief into the back. Run it with `python scenes/make_assets.py`; it writes the files beside the setup files.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[np.float64]
Codes = NDArray[np.uint8]
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


def coordinates(columns: int, rows: int) -> tuple[Array, Array]:
    """Return x from -1 to 1 and y, up, in the same measure, at the middle of each pixel."""
    x = (np.arange(columns) + 0.5) / columns * 2.0 - 1.0
    y = (rows - 2.0 * np.arange(rows) - 1.0) / columns
    across, up = np.meshgrid(x, y)
    return across, up


def fan_leaf() -> Codes:
    """Return a fan-shaped leaf with a stalk, dark on light paper, that something has eaten two holes into."""
    x, y = coordinates(280, 240)
    radius, angle = np.hypot(x, y + 0.55), np.arctan2(x, y + 0.55)
    rim = 1.22 + 0.04 * np.cos(14.0 * angle) - 0.32 * np.exp(-((angle / 0.10) ** 2))
    inside = np.minimum(rim - radius, (0.88 - np.abs(angle)) * radius)
    stalk = np.minimum(0.035 - np.abs(x - 0.08 * (y + 0.55)), np.minimum(-0.45 - y, y + 0.80))
    for left, up, size in ((-0.36, 0.18, 0.10), (0.30, 0.02, 0.12)):
        inside = np.minimum(inside, np.hypot(x - left, 1.2 * (y - up)) - size)
    edge = np.clip(0.5 + 140.0 * np.maximum(inside, stalk), 0.0, 1.0)
    return np.round(235.0 - 205.0 * edge).astype(np.uint8)


def banded_slice() -> Codes:
    """Return the middle of a banded slice as a camera sees it before a light table that reads 240 of 255 beside it."""
    x, y = coordinates(160, 160)
    angle = np.arctan2(y, x)
    edge = 1.45 + 0.056 * np.cos(3.0 * angle + 0.4) - 0.16 * np.cos(2.0 * angle)
    depth = np.hypot(x, 1.45 * y) / edge + 0.02 * smooth_noise(angle, 5, range(3, 9), 1.0)
    white = 0.50 + 0.30 * np.sin(34.0 * depth) * np.exp(-((depth - 0.55) ** 2) / 0.18)
    rust = np.exp(-(((depth - 0.72) / 0.045) ** 2)) + 0.7 * np.exp(-(((depth - 0.33) / 0.03) ** 2))
    passed = np.stack([0.95 * white, white - 0.28 * rust, 0.85 * white - 0.40 * rust], axis=-1)
    return np.round(240.0 * np.clip(passed, 0.05, 0.9)).astype(np.uint8)


def print_of_tiles() -> Codes:
    """Return a print of triangles in two colours on white, with a dark border."""
    x, y = coordinates(240, 160)
    u, v = np.mod(4.0 * x, 1.0), np.mod(4.0 * y + 1.0 / 3.0, 1.0)
    first = u > v
    second = (u + v < 1.0) & ~first
    codes = np.full((*x.shape, 3), 245, np.uint8)
    codes[first] = (196, 62, 40)
    codes[second] = (30, 96, 140)
    codes[(np.abs(x) > 0.95) | (np.abs(y) > 0.95 - 1.0 / 3.0)] = (24, 24, 26)
    return codes


def rosette() -> str:
    """Return a drawing of a rosette with eight petals and nine holes, as for a cutter."""
    turn = np.linspace(0.0, 2.0 * np.pi, 128, endpoint=False)
    radius = 42.0 + 6.0 * np.cos(8.0 * turn)
    rim = " L".join(f"{50 + r * np.cos(a):.2f} {50 + r * np.sin(a):.2f}" for r, a in zip(radius, turn, strict=True))
    places = [(50.0, 50.0, 9.0)]
    places += [(50 + 28 * np.cos(a), 50 + 28 * np.sin(a), 6.0) for a in np.arange(8) * np.pi / 4]
    holes = [f'  <circle cx="{x:.2f}" cy="{y:.2f}" r="{r:g}"/>' for x, y, r in places]
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" fill="none" stroke="black">'
    return "\n".join([head, f'  <path d="M{rim} Z"/>', *holes, "</svg>", ""])


def work_lamp() -> str:
    """Return an LM-63 file of a lamp that throws its light in a broad, flat fan, three to one, at the axis 900 cd."""
    verticals, horizontals = np.arange(0, 91, 5), np.arange(0, 91, 15)
    t, p = np.radians(verticals)[None], np.radians(horizontals)[:, None]
    wide, narrow = np.radians(62.0), np.radians(21.0)
    spread = np.sqrt((np.sin(t) * np.cos(p) / np.sin(wide)) ** 2 + (np.sin(t) * np.sin(p) / np.sin(narrow)) ** 2)
    candela = 900.0 * np.exp(-np.log(2.0) * spread**4) * np.cos(t)
    rows = [" ".join(f"{one:.1f}" for one in plane) for plane in np.maximum(candela, 0.0)]
    return "\n".join(
        [
            "IESNA:LM-63-2002",
            "[TEST] none: invented for an example",
            "[MANUFAC] nobody",
            "[LUMINAIRE] work lamp that throws a broad, flat fan",
            "TILT=NONE",
            f"1 -1 1 {len(verticals)} {len(horizontals)} 1 2 0.06 0.12 0",
            "1 1 20",
            " ".join(map(str, verticals)),
            " ".join(map(str, horizontals)),
            *rows,
            "",
        ]
    )


PICTURES = {"fan-leaf.png": fan_leaf, "banded-slice.png": banded_slice, "print-of-tiles.png": print_of_tiles}
TEXTS = {"rosette.svg": rosette, "work-lamp.ies": work_lamp}


def assets(folder: Path) -> None:
    """Write the pictures and texts of the examples into a folder."""
    for name, picture in PICTURES.items():
        Image.fromarray(picture()).save(folder / name, optimize=True)
    for name, text in TEXTS.items():
        (folder / name).write_text(text(), "utf-8", newline="\n")


if __name__ == "__main__":
    for name, body in (("agate/slice.ply", agate()), ("leaf/leaf.ply", leaf())):
        assert body.is_watertight
        assert body.volume > 0.0
        body.export(HERE / name, encoding="binary", vertex_normal=False)
        print(name, len(body.faces), "triangles", body.bounds.round(1).tolist())
    assets(HERE / "examples" / "assets")

    from draw_leaf import save  # beside this script

    save()
