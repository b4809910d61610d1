"""How bright the heads make the inside of a thick translucent body, roughly: the slope that leads a walk to the light.

What a walk at x can still bring is, by reciprocity, as much as the light that the heads would spread to x. Diffusion
tells that well enough: on a grid of cells in the body's own frame

    D·∇²φ = σa·φ,    D = 1/(3σtr),  σtr = σa + (1 − g)·σs,    and at the skin  φ + 2A·D·∂φ/∂n = E,

with E what the heads and the room shine on a face of that normal, as if nothing stood in the way, and A = (1 + R)/(1 −
R) for the light R that the skin throws back inside. Walks are led along s = ∇φ/φ, 1/m. A guess is enough, for whatever
s is, the weights are exact (`trace/led.py`).

Sources: Ishimaru 1978, "Wave Propagation and Scattering in Random Media", chapter 9 (diffusion and its boundary);
Egan and Hilgeman 1979, "Optical Properties of Inhomogeneous Materials" (the fit of R to the refractive index).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np

from throughlight.trace.lead import CELLS
from throughlight.trace.lights import estimates
from throughlight.trace.tables import LEAD, ShapeKind, Stage

_UNEVEN = 1.8
"""How many times brighter than its dark parts the bright parts of a body must be for leading to pay. In a backlit slab
of σtr·thickness 1 it costs as much as it saves; at 2 it begins to save, at 4 it halves variance × time."""

_THICK = 1.5  # σtr × the shortest side of the body, under which no body is that uneven
_ROWS = 1 << 14  # of triangles that are looked at together
_SWEEPS = 24  # that even out the light between cells
_STEEPEST = 0.9  # s/σtr at most, so that no direction and no flight is left out
_FAINTEST = 1e-9  # the least share of the brightest place that the roulette is told of
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
_BANDS = ("red", "green", "blue")

Recall = Callable[[bytes, Callable[[], Any]], Any]
"""Returns what was made for these bytes before, or else makes it."""


class _Matter(NamedTuple):
    """What light meets in a body: σa and σtr by band, 1/m, the clearest band, the refractive index."""

    absorb: np.ndarray
    transport: np.ndarray
    clearest: int
    n: float


class _Grid(NamedTuple):
    """A body cut into cells in its own frame, axes as rows: middle; from there the lowest corner; a cell's sizes, m."""

    middle: np.ndarray
    frame: np.ndarray
    low: np.ndarray
    cell: np.ndarray


def anew(key: bytes, make: Callable[[], Any]) -> Any:
    """Make it: nothing is remembered."""
    return make()


def with_leads(stage: Stage, recall: Recall = anew) -> Stage:
    """Return the stage with a grid of slopes for each body in which leading walks toward the light pays.

    Bodies of mapped matter and those that others stand in are left as they are.

    Parameters
    ----------
    stage
        The stage without.
    recall
        What remembers, for many stages with the same meshes.
    """
    shapes, leads, slopes = stage.shapes.copy(), list(stage.leads), [stage.slopes]
    for i, shape in enumerate(shapes):
        if shape["medium"] < 0 or shape["crowded"] or stage.media[shape["medium"]]["map"]:
            continue
        found = _lead(stage, i, recall)
        if found is not None:
            record, table = found
            record["first"] = sum(map(len, slopes))
            shape["lead"] = len(leads)
            leads.append(record)
            slopes.append(table)
    return stage._replace(shapes=shapes, leads=np.array(leads, LEAD), slopes=np.concatenate(slopes))


def _lead(stage: Stage, i: int, recall: Recall) -> tuple[np.ndarray, np.ndarray] | None:
    """Return the record and the table of slopes of one body, or none where leading does not pay."""
    shape, matter = stage.shapes[i], _matter(stage.media[stage.shapes[i]["medium"]])
    place = _place(shape)
    grid = recall(b"grid" + place, lambda: _grid(stage, shape))
    if not (matter.transport[matter.clearest] * CELLS * grid.cell.min() >= _THICK and matter.transport.min() > 0.0):
        return None
    inside = recall(b"inside" + place, lambda: _inside(stage, shape, grid))
    light = _shone_on(stage, i, grid.frame)
    if not inside.any() or light.max() <= 0.0:
        return None
    key = b"".join((b"slopes", place, stage.media[shape["medium"]].tobytes(), light.tobytes()))
    return recall(key, lambda: _led(grid, inside, matter, light))  # type: ignore[no-any-return]


def _matter(stuff: np.ndarray) -> _Matter:
    absorb = np.array([stuff[f"absorb_{band}"] for band in _BANDS])
    transport = absorb + (1.0 - stuff["g"]) * np.array([stuff[f"scatter_{band}"] for band in _BANDS])
    return _Matter(absorb, transport, int(np.argmin(absorb * transport)), float(stuff["n"]))


def _place(shape: np.ndarray) -> bytes:
    """Return bytes that are the same for the same triangles, or the same exact shape, at the same place."""
    own = shape.copy()
    own["part"] = own["medium"] = own["lead"] = own["head"] = 0
    return own.tobytes()


def _grid(stage: Stage, shape: np.ndarray) -> _Grid:
    middle = np.array([shape[f"o{axis}"] for axis in "xyz"])
    frame = np.array([[shape[f"{letter}{axis}"] for axis in "xyz"] for letter in "tbn"])
    mesh = shape["kind"] == int(ShapeKind.MESH)
    low, high = _extent_of_mesh(_facets(stage, shape, middle, frame)) if mesh else _extent(shape)
    return _Grid(middle, frame, low, (high - low) / CELLS)


def _inside(stage: Stage, shape: np.ndarray, grid: _Grid) -> np.ndarray:
    """Return which cells have their middle inside a body."""
    if shape["kind"] != int(ShapeKind.MESH):
        return _inside_exact(shape, grid.low, grid.cell)
    return _inside_mesh(_facets(stage, shape, grid.middle, grid.frame), grid.low, grid.cell)


def _led(grid: _Grid, inside: np.ndarray, matter: _Matter, light: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """Return the record and the slopes of a body in the light of the heads; none where it is too even."""
    middle, frame, low, cell = grid
    absorb, transport, clearest, n = matter
    bright = diffuse(inside, cell, 1.0 / (3.0 * transport[clearest]), absorb[clearest], light, n)
    dim, full = np.percentile(bright[inside], (10, 90))
    if not full > _UNEVEN * dim > 0.0:
        return None
    slope, least = _slopes(bright, inside, cell)
    steep = np.linalg.norm(slope, axis=-1, keepdims=True)
    slope *= np.minimum(1.0, _STEEPEST * transport.min() / np.maximum(steep, 1e-30))
    record = np.zeros((), LEAD)
    record["free"] = 1.0 / transport.min()
    for axis, letter in enumerate("tbn"):
        for k, world in enumerate("xyz"):
            record[f"{letter}{world}"] = frame[axis, k] / cell[axis]
        record[f"{letter}0"] = -(frame[axis] @ middle + low[axis]) / cell[axis]
    return record, np.concatenate([slope @ frame, least[..., None]], axis=-1).reshape(-1, 4).astype(np.float32)


def _extent(shape: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the lowest and highest corner of an exact shape in its own frame."""
    a, b, c = shape["sa"], shape["sb"], shape["sc"]
    sizes = {ShapeKind.BOX: (a, b, c), ShapeKind.ROUND: (a, a, c)}.get(ShapeKind(int(shape["kind"])), (a, a, a))
    return -np.array(sizes), np.array(sizes)


def _extent_of_mesh(facets: Iterable[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return the lowest and highest corner of the box round a mesh."""
    ends = [(part.min(axis=(0, 1)), part.max(axis=(0, 1))) for part in facets if len(part)]
    return np.min([low for low, _ in ends], axis=0), np.max([high for _, high in ends], axis=0)


def _centres(low: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """Return the places of the cells' middles along each axis, (3, CELLS)."""
    return low[:, None] + cell[:, None] * (np.arange(CELLS) + 0.5)


def _inside_exact(shape: np.ndarray, low: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """Return which cells have their middle inside an exact shape."""
    x, y, z = np.meshgrid(*_centres(low, cell), indexing="ij")
    if shape["kind"] == int(ShapeKind.BOX):
        return np.ones(x.shape, bool)
    squared = x**2 + y**2 + (z**2 if shape["kind"] == int(ShapeKind.SPHERE) else 0.0)
    return squared <= shape["sa"] ** 2


def _facets(stage: Stage, shape: np.ndarray, middle: np.ndarray, frame: np.ndarray) -> Iterator[np.ndarray]:
    """Yield the corners of a mesh's triangles in its own frame, (n, 3, 3), a part of the mesh at a time."""
    first, last = int(shape["first_triangle"]), int(shape["first_triangle"] + shape["triangles"])
    for row in range(first // 4, (last + 3) // 4, _ROWS):
        rows = stage.triangles[row : min(row + _ROWS, (last + 3) // 4)]
        corners = rows.reshape(-1, 3, 3, 4).transpose(0, 3, 1, 2).reshape(-1, 3, 3)
        number = 4 * row + np.arange(len(corners))
        real = (number >= first) & (number < last) & np.isfinite(corners[:, 0, 0])
        yield (corners[real] - middle) @ frame.T


def _inside_mesh(facets: Iterable[np.ndarray], low: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """Return which cells have their middle inside a closed mesh, by how often lines along z have met it below them."""
    times = np.zeros((CELLS, CELLS, CELLS + 1), int)
    for corners in facets:
        i, j, height = _met((corners - low) / cell - 0.5 + 1e-7)  # off the lines themselves
        np.add.at(times, (i, j, np.ceil(height).astype(int).clip(0, CELLS)), 1)
    return np.cumsum(times, axis=2)[..., :CELLS] % 2 == 1


def _met(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return where lines along z meet triangles: the lines' numbers along x and y, and z; all counted in cells."""
    below = np.ceil(corners.min(axis=1)[:, :2]).astype(int).clip(0, CELLS)
    above = np.floor(corners.max(axis=1)[:, :2]).astype(int).clip(-1, CELLS - 1)
    wide = np.maximum(above - below + 1, 0)
    many = wide[:, 0] * wide[:, 1]
    which = np.repeat(np.arange(len(corners)), many)
    nth = np.arange(len(which)) - np.repeat(np.cumsum(many) - many, many)
    i, j = below[which, 0] + nth // wide[which, 1], below[which, 1] + nth % wide[which, 1]
    a, b, c = (corners[which, k] for k in range(3))

    def turn(p: np.ndarray, q: np.ndarray) -> np.ndarray:
        return (q[:, 0] - p[:, 0]) * (j - p[:, 1]) - (q[:, 1] - p[:, 1]) * (i - p[:, 0])

    u, v, w = turn(b, c), turn(c, a), turn(a, b)
    met = ((u > 0) & (v > 0) & (w > 0)) | ((u < 0) & (v < 0) & (w < 0))
    height = (u * a[:, 2] + v * b[:, 2] + w * c[:, 2])[met] / (u + v + w)[met]
    return i[met], j[met], height


def _shone_on(stage: Stage, i: int, frame: np.ndarray) -> np.ndarray:
    """Return the illuminance on faces turned toward −x, +x, −y, … of a body's frame, (3, 2)."""
    given, line = estimates(stage.shapes, stage.heads)
    toward = line[i] @ frame.T
    room = np.pi * float(stage.room @ _LUMINANCE)
    sides = [[np.maximum(0.0, sign * toward[:, axis]) @ given[i] + room for sign in (-1, 1)] for axis in range(3)]
    return np.array(sides)


def diffuse(
    inside: np.ndarray, cell: np.ndarray, spread: float, absorb: float, light: np.ndarray, n: float
) -> np.ndarray:
    """Return φ in the cells, zero in those outside.

    Parameters
    ----------
    inside
        (CELLS, CELLS, CELLS), the cells that are in the body.
    cell
        (3,) their sizes, m.
    spread, absorb
        D, m, and σa, 1/m.
    light
        (3, 2) illuminance on faces of the skin turned toward either end of each axis.
    n
        The refractive index.

    Solved for cells twice as wide, then evened out between the narrow ones.
    """
    back = -1.440 / n**2 + 0.710 / n + 0.668 + 0.0636 * n
    skin = 2.0 * (1.0 + back) / (1.0 - back)
    half = CELLS // 2
    wide = inside.reshape(half, 2, half, 2, half, 2).any(axis=(1, 3, 5))
    bright = _solved(*_balance(wide, 2.0 * cell, spread, absorb, light, skin))
    for axis in range(3):
        bright = np.repeat(bright, 2, axis)
    own, given, beside = _balance(inside, cell, spread, absorb, light, skin)
    for _ in range(_SWEEPS):
        bright = _swept(bright, own, given, beside)
    return np.where(inside, bright, 0.0)


def _balance(
    inside: np.ndarray, cell: np.ndarray, spread: float, absorb: float, light: np.ndarray, skin: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what each cell loses per φ, what it is given, and what it exchanges with the next along each axis."""
    padded = np.pad(inside, 1)
    own, given, beside = np.full(inside.shape, absorb), np.zeros(inside.shape), np.zeros((3, *inside.shape))
    for axis in range(3):
        exchange = spread / cell[axis] ** 2
        open_side = 1.0 / (cell[axis] * (cell[axis] / (2.0 * spread) + skin))
        for end, shift in enumerate((1, -1)):
            there = np.roll(padded, shift, axis)[1:-1, 1:-1, 1:-1]
            own += np.where(there, exchange, open_side)
            given += np.where(there, 0.0, open_side * light[axis, end])
        beside[axis] = np.where(there & inside, exchange, 0.0)
    return np.where(inside, own, 1.0), np.where(inside, given, 0.0), beside


def _swept(bright: np.ndarray, own: np.ndarray, given: np.ndarray, beside: np.ndarray) -> np.ndarray:
    """Return φ with each cell two thirds of the way into balance with its neighbours, which keeps it positive.

    Jacobi's method, damped so that it evens out best what alternates from cell to cell.
    """
    total = given.copy()
    for axis in range(3):
        near, far = [slice(None)] * 3, [slice(None)] * 3
        near[axis], far[axis] = slice(None, -1), slice(1, None)
        link = beside[axis][tuple(near)]
        total[tuple(near)] += link * bright[tuple(far)]
        total[tuple(far)] += link * bright[tuple(near)]
    return (bright + 2.0 * total / own) / 3.0


def _solved(own: np.ndarray, given: np.ndarray, beside: np.ndarray) -> np.ndarray:
    """Return φ in balance everywhere.

    Planes of cells are eliminated one after the other, which keeps every digit of what is many decades fainter.
    """
    side, shape = len(own), own.shape
    own, given, beside = own.reshape(side, -1), given.reshape(side, -1), beside.reshape(3, side, -1)
    inverses, sums = [], []
    for plane in range(side):
        matrix, total = np.diag(own[plane]), given[plane].copy()
        for links, step in ((beside[1, plane], side), (beside[2, plane], 1)):
            matrix -= np.diag(links[:-step], step) + np.diag(links[:-step], -step)
        if plane > 0:
            link = beside[0, plane - 1]
            matrix -= link[:, None] * inverses[-1] * link
            total += link * (inverses[-1] @ sums[-1])
        inverses.append(np.linalg.inv(matrix))
        sums.append(total)
    bright = np.zeros_like(own)
    for plane in reversed(range(side)):
        more = beside[0, plane] * bright[plane + 1] if plane < side - 1 else 0.0
        bright[plane] = inverses[plane] @ (sums[plane] + more)
    return bright.reshape(shape)


def _slopes(bright: np.ndarray, inside: np.ndarray, cell: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return ∇φ/φ by cell, in the body's frame, and the faintest φ over φ; cells at the skin take their neighbours'."""
    floor = _FAINTEST * bright.max()
    inside = inside & (bright > 0.0)
    log = np.log(np.where(inside, bright, 1.0))
    steps, sides = np.zeros((*inside.shape, 3)), np.zeros((*inside.shape, 3))
    for axis in range(3):
        both = np.delete(inside & np.roll(inside, -1, axis), -1, axis)
        step = np.where(both, np.diff(log, axis=axis) / cell[axis], 0.0)
        for before, after in ((0, 1), (1, 0)):
            pad = [(before, after) if k == axis else (0, 0) for k in range(3)]
            steps[..., axis] += np.pad(step, pad)
            sides[..., axis] += np.pad(both, pad)
    slope = steps / np.maximum(sides, 1)
    least = np.maximum(bright[inside].min(), floor) / np.maximum(bright, floor)
    values = np.where(inside[..., None], np.concatenate([slope, least[..., None]], axis=-1), 0.0)
    for _ in range(2):
        values, inside = _grown(values, inside)
    return values[..., :3], np.where(inside, np.minimum(values[..., 3], 1.0), 1.0)


def _grown(values: np.ndarray, known: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give the cells next to known ones the mean of those."""
    total, count = np.zeros_like(values), np.zeros(known.shape)
    padded, mask = np.pad(values, ((1, 1), (1, 1), (1, 1), (0, 0))), np.pad(known, 1)
    for axis in range(3):
        for shift in (1, -1):
            total += np.roll(padded, shift, axis)[1:-1, 1:-1, 1:-1]
            count += np.roll(mask, shift, axis)[1:-1, 1:-1, 1:-1]
    mean = total / np.maximum(count, 1)[..., None]
    return np.where(known[..., None], values, mean), known | (count > 0)
