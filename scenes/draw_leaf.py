"""Draw the picture of an autumn leaf on a light table, invented: it gives a set both the leaf's outline and its matter.

Run it with `python scenes/draw_leaf.py`, or with the other assets by `python scenes/make_assets.py`; it writes the PNG
file beside the setup file.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[np.float64]
HERE = Path(__file__).parent

LOBES = ((90.0, 1.0, 0.25), (40.0, 0.86, 0.21), (140.0, 0.84, 0.21), (-8.0, 0.56, 0.16), (188.0, 0.54, 0.16))
"""Of the leaf: direction in degrees from the right, length and half width; the unit is its height."""


def light_table() -> NDArray[np.uint8]:
    """Return the picture of an autumn leaf on a light table, (rows, columns, 3), sRGB; the table is white."""
    rows, columns, unit = 1500, 1400, 1060.0  # twice as fine as the picture
    y, x = np.mgrid[0:rows, 0:columns]
    x, y = (x - 0.5 * columns) / unit, (1130.0 - y) / unit
    x = x + 0.012 * np.sin(9.0 * y + 1.0) + 0.02 * y**2  # nothing grows straight
    inside = 0.05 - np.hypot(x, y)
    vein = np.zeros_like(x)
    for angle, length, half in LOBES:
        edge, ribs = lobe(x, y, np.radians(angle), length, half)
        inside, vein = np.maximum(inside, edge), np.maximum(vein, ribs)
    stem = np.where(
        (y < 0.02) & (y > -0.335), 0.010 + 0.03 * np.maximum(-0.26 - y, 0.0) - np.abs(x + 0.35 * y**2), -1.0
    )
    depth = np.clip(2.0 * blurred(inside > 0.0, 0.045 * unit) - 1.0, 0.0, 1.0)
    light = matter(x, y, depth, vein)
    light = mixed(light, (0.05, 0.024, 0.008), np.clip(stem * unit, 0.0, 1.0))
    light = mixed(np.ones_like(light), light, np.clip(np.maximum(inside, stem) * unit, 0.0, 1.0))
    light = light.reshape(rows // 2, 2, columns // 2, 2, 3).mean(axis=(1, 3))
    light = framed(light, light.min(axis=2) < 0.5)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)
    return np.round(255.0 * code).astype(np.uint8)


def framed(light: Array, thing: NDArray[np.bool_]) -> Array:
    """Return a picture cut so that a thing in it has 20 pixels of white ground on every side."""
    down, across = np.flatnonzero(thing.any(axis=1)), np.flatnonzero(thing.any(axis=0))
    cut = light[down[0] : down[-1] + 1, across[0] : across[-1] + 1]
    return np.pad(cut, ((20, 20), (20, 20), (0, 0)), constant_values=1.0)


def blurred(mask: NDArray[np.bool_], pixels: float) -> Array:
    """Return a mask blurred by a Gaussian of that standard deviation."""
    rows, columns = (np.fft.fftfreq(size) for size in mask.shape)
    keep = np.exp(-2.0 * (np.pi * pixels) ** 2 * (rows[:, None] ** 2 + columns[None, :] ** 2))
    return np.fft.ifft2(np.fft.fft2(mask) * keep).real


def lobe(x: Array, y: Array, angle: float, length: float, half: float) -> tuple[Array, Array]:
    """Return how far inside a lobe each place lies (negative: outside), and how much of a vein runs there, 0 to 1."""
    along = (x * np.cos(angle) + y * np.sin(angle)) / length
    aside = (y * np.cos(angle) - x * np.sin(angle)) / length
    t = np.clip(along, 0.0, 1.0)
    phase = 9.0 * (along - 0.9 * np.abs(aside) - 0.8 * aside**2) + 0.4 * (aside > 0.0)
    saw = (phase + 0.5) % 1.0
    tooth = np.where(saw < 0.8, saw / 0.8, (1.0 - saw) / 0.2) - 0.5  # a slope out and a short one back
    width = half / length * np.sin(np.pi * t**0.72) ** 0.85 * (1.0 + 0.26 * tooth * np.sin(np.pi * t) ** 0.5)
    edge = np.where((along > 0.0) & (along < 1.0), (width - np.abs(aside)) * length * 0.8, -1.0)
    middle = np.exp(-((aside / (0.010 * (1.15 - t))) ** 2)) * (along > 0.0) * (along < 1.0)
    branch = np.exp(-(((phase - np.round(phase)) / (0.05 * (1.3 - t))) ** 2)) * np.exp(-np.abs(aside) / 0.2)
    return edge, np.maximum(middle, 0.75 * branch * (edge > 0.0))


def matter(x: Array, y: Array, depth: Array, vein: Array) -> Array:
    """Return what each place of the leaf passes, (rows, columns, 3): red at the rim, gold, green in the middle."""
    cloud = sum(
        np.sin(k * (x * np.cos(a) + y * np.sin(a)) + p) / k**0.5
        for k, a, p in ((7.0, 0.3, 1.0), (13.0, 1.9, 2.0), (21.0, 2.6, 0.5), (34.0, 0.9, 4.0), (55.0, 1.4, 3.0))
    )
    depth = np.clip(depth + 0.25 * cloud * np.minimum(4.0 * depth, 1.0), 0.0, 1.0)
    light = mixed(np.full((*x.shape, 3), (0.22, 0.036, 0.008)), (0.27, 0.165, 0.016), depth**0.8)
    light = mixed(light, (0.135, 0.175, 0.022), np.clip(1.5 * depth - 0.8 + 0.25 * cloud, 0.0, 1.0))
    light = light * (0.70 + 0.30 * np.clip(network(x, y) / 0.006, 0.0, 1.0))[..., None]
    return mixed(light, (0.075, 0.05, 0.009), np.clip(0.85 * vein, 0.0, 1.0))


def network(x: Array, y: Array) -> Array:
    """Return the distance to the fine veins, which run midway between the two nearest of scattered points."""
    size = 0.026
    column, row = np.floor(x / size).astype(int), np.floor(y / size).astype(int)
    spread = np.random.default_rng(7).uniform(0.0, 1.0, (128, 128, 2))
    first = np.full(x.shape, np.inf)
    second = first.copy()
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            place = spread[(row + i) % 128, (column + j) % 128]
            far = np.hypot((column + j + place[..., 0]) * size - x, (row + i + place[..., 1]) * size - y)
            second = np.minimum(second, np.maximum(first, far))
            first = np.minimum(first, far)
    return 0.5 * (second - first)


def mixed(one: Array, other: Array | tuple[float, float, float], share: Array) -> Array:
    """Return two colours mixed, (rows, columns, 3)."""
    return one + share[..., None] * (np.asarray(other) - one)


def save() -> None:
    """Write the picture beside the set that uses it."""
    Image.fromarray(light_table()).save(HERE / "picture-leaf" / "light-table.png", optimize=True)


if __name__ == "__main__":
    save()
