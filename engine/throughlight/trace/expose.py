"""The compiled doors into a trace: expose the film, gather on the front element, and sort the film by what it sees.

The film is a grid of square cells. Its points are given as fractions from the left and the top, and as places in the
plane of focus, where the thin lens makes them sharp. A sum over rays holds luminance × time × cos⁴ of the chief ray's
angle (the natural falloff of a small flat lens); the camera's constants turn its mean into lx·s. A moved film has a
falloff of its own (`optics.movements`). Rays that the front element's rim or the hood cuts add nothing, but count.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics import lens as optics_lens
from throughlight.optics import movements
from throughlight.optics.kernel import entry, kernel
from throughlight.optics.matte import sample as cosine_hemisphere
from throughlight.optics.vectors import along, dot, largest, multiply, negate, normalise, scale, subtract
from throughlight.trace.book import deposit
from throughlight.trace.intersect import clear_way
from throughlight.trace.lights import face_point, light, toward
from throughlight.trace.path import BLIND, EYE, follow
from throughlight.trace.sampler import sobol_owen, start
from throughlight.trace.seen import first_seen, past_supports
from throughlight.trace.tables import Region

_OTHER = int(Region.OTHER)
FILM, PICTURE, FRONT = 0, 1, 2
"""Where rays start: points spread over all given cells together; a sequence for each cell; the front element."""


@kernel
def _frame(lens):
    """Return the lens's origin, right, up and backward axes."""
    return (
        (lens["ox"], lens["oy"], lens["oz"]),
        (lens["tx"], lens["ty"], lens["tz"]),
        (lens["bx"], lens["by"], lens["bz"]),
        (lens["nx"], lens["ny"], lens["nz"]),
    )


@kernel
def _on_lens(lens, x, y):
    """Return the world point of a place on the lens, m right and up of its centre."""
    origin, right, up, _ = _frame(lens)
    return along(along(origin, right, x), up, y)


@kernel
def _on_front(lens, x, y):
    """Return the world point of a place on the front element, m right and up of its centre."""
    return along(_on_lens(lens, x, y), (lens["nx"], lens["ny"], lens["nz"]), -lens["depth"])


@kernel
def _film(lens):
    """Return a moved film's middle, right half and upper half in the lens's frame."""
    return (
        (lens["film_x"], lens["film_y"], lens["film_z"]),
        (lens["wide_x"], lens["wide_y"], lens["wide_z"]),
        (lens["high_x"], lens["high_y"], lens["high_z"]),
    )


@kernel
def camera_ray(lens, across, down, u, v):
    """Return a ray from the pupil to the point in focus for a film point, and what its luminance counts.

    That is cos⁴ of the chief ray's angle, or a moved film's own falloff; nothing for a ray that the lens or hood cuts.
    """
    _, right, up, backward = _frame(lens)
    px, py = optics_lens.pupil_point(u, v, lens["pupil"], lens["blades"], lens["turned"])
    start_point = _on_lens(lens, px, py)
    if lens["moved"]:
        middle, wide, high = _film(lens)
        point = movements.film_point(middle, wide, high, 2.0 * across - 1.0, 1.0 - 2.0 * down)
        dx, dy, dz = movements.ray(point, px, py, lens["focal"])
        direction = normalise(along(along(scale(right, dx), up, dy), backward, dz))
        weight = movements.falloff(point, lens["bright"])
    else:
        x = (2.0 * across - 1.0) * lens["half_width"]
        y = (1.0 - 2.0 * down) * lens["half_height"]
        target = along(_on_lens(lens, x, y), backward, -lens["focus"])
        direction = normalise(subtract(target, start_point))
        squared = lens["focus"] * lens["focus"] / (lens["focus"] * lens["focus"] + x * x + y * y)
        weight = squared * squared
    return start_point, direction, weight if _leaves(lens, px, py, direction) else 0.0


@kernel
def _leaves(lens, px, py, direction):
    """Return whether a ray from the pupil leaves through the front element and the mouth of the hood."""
    depth, hood = lens["depth"], lens["hood"]
    if depth <= 0.0 and hood <= 0.0:
        return True
    _, right, up, backward = _frame(lens)
    dx, dy, dz = dot(direction, right), dot(direction, up), -dot(direction, backward)
    if not optics_lens.ring_passes(px, py, dx, dy, dz, lens["front"], depth):
        return False
    return hood <= 0.0 or optics_lens.ring_passes(px, py, dx, dy, dz, lens["mouth"], depth + hood)


@kernel
def in_frame(lens, point, direction):
    """Return whether light that arrives at a place of the front element along −direction is in the picture angle."""
    origin, right, up, backward = _frame(lens)
    ahead = -dot(direction, backward)
    if ahead <= 0.0:
        return False
    if lens["moved"]:
        sx, sy = dot(direction, right) / ahead, dot(direction, up) / ahead
        local = subtract(point, origin)
        px, py = dot(local, right) - lens["depth"] * sx, dot(local, up) - lens["depth"] * sy
        middle, wide, high = _film(lens)
        x, y, image = movements.film_place(middle, wide, high, lens["focal"], px, py, sx, sy)
        return image > 0.0 and abs(x) <= 1.0 and abs(y) <= 1.0
    local = subtract(along(point, direction, (lens["focus"] - lens["depth"]) / ahead), origin)
    return abs(dot(local, right)) <= lens["half_width"] and abs(dot(local, up)) <= lens["half_height"]


@kernel
def _through_hood(lens, x, y, direction):
    """Return whether the hood lets light reach the place (x, y) of the front element from this direction."""
    _, right, up, backward = _frame(lens)
    ahead = -dot(direction, backward)
    if ahead <= 0.0:
        return False
    return optics_lens.ring_passes(x, y, dot(direction, right), dot(direction, up), ahead, lens["mouth"], lens["hood"])


@kernel
def _quasi(index, first, key):
    """Return four numbers of a quasi-random point, from its dimension `first` on."""
    return (
        sobol_owen(index, first, key),
        sobol_owen(index, first + 1, key),
        sobol_owen(index, first + 2, key),
        sobol_owen(index, first + 3, key),
    )


@kernel
def _heads_on_front(stage, lens, x, y, u, v, book, seen):
    """Write down the light each head sends straight to one place of the front element, and whether it sees it."""
    place = _on_front(lens, x, y)
    backward = (lens["nx"], lens["ny"], lens["nz"])
    nowhere = np.int64(0)
    for i in range(stage.heads.shape[0]):
        head = stage.heads[i]
        on_face, face = face_point(head, u, v)
        direction, distance, cosine = toward(place, on_face, face)
        if cosine <= 0.0 or not _through_hood(lens, x, y, direction):
            continue
        way = clear_way(stage, place, direction, distance)
        if largest(way) <= 0.0:
            continue
        seen[i] += 1
        if not in_frame(lens, place, direction):
            weight = -dot(direction, backward) * cosine * head["area"] / (distance * distance)
            sent = multiply(way, light(stage, head, cosine, negate(direction)))
            deposit(book, nowhere, nowhere, i, scale(sent, weight))


@kernel
def _front_ray(stage, lens, point, more, book, seen):
    """Return a ray that brings light to the front element, and whether it comes from outside the picture angle.

    Directions are spread by the cosine, so that π times the luminance they find is lx·s.
    """
    x, y = optics_lens.pupil_point(point[2], point[3], lens["front"], np.int64(0), 0.0)
    place = _on_front(lens, x, y)
    _, right, up, backward = _frame(lens)
    _heads_on_front(stage, lens, x, y, more[0], more[1], book, seen)
    local = cosine_hemisphere((0.0, 0.0, 1.0), point[0], point[1])
    direction = normalise(along(along(scale(right, local[0]), up, local[1]), backward, -local[2]))
    return place, direction, not in_frame(lens, place, direction) and _through_hood(lens, x, y, direction)


@entry
def expose(stage, mode, columns, rows, cells, first, count, seed, replicate, mask, cell_sums, route_sums, counts, seen):
    """Trace `count` paths (for each cell, where the mode is PICTURE) and add them to the given sums.

    Parameters
    ----------
    stage
        The Stage.
    mode
        FILM, PICTURE or FRONT.
    columns, rows
        The grid of cells that the film is divided into.
    cells
        (n,) int64, which cells to expose, as row · columns + column.
    first, count
        Where in the quasi-random sequence to begin, and how many points to take.
    seed, replicate
        The run's seed and which independent randomisation this is.
    mask
        Bit r set: paths whose first face is of region r are followed.
    cell_sums
        (n, layers, 3) float64, luminance × time × falloff by cell, summed over rays; for FRONT (1, …) lx·s.
    route_sums
        (layers, routes, 3) float64, the same by route.
    counts
        (n, 4) int64, rays by the region that they met first.
    seen
        (heads,) int64, for FRONT: how often a head's face saw the front element.

    Returns
    -------
    tuple of int
        Paths cut for length, paths lost in bodies that are not closed, paths that were not a number.
    """
    lens = stage.lens[0]
    book = (cell_sums, route_sums)
    cut, leaked, invalid = 0, 0, 0
    n_cells = cells.shape[0]
    front = mode == FRONT
    route_depth = np.int64(1) if front else np.int64(2)
    for i in range(count * n_cells if mode == PICTURE else count):
        slot = i // count if mode == PICTURE else np.int64(0)
        index = first + i % count
        stream = cells[slot] if mode == PICTURE else np.int64(-1 - mode)
        state = start(seed, replicate, stream, index)
        key = start(seed, replicate, stream, np.int64(-1))
        point = _quasi(index, np.int64(0), key)
        if front:
            more = _quasi(index, np.int64(4), key)
            place, direction, usable = _front_ray(stage, lens, point, more, book, seen)
            if not usable:
                continue
            density, weight = BLIND, math.pi
        else:
            u = point[0]
            if mode == FILM:
                slot = min(np.int64(u * n_cells), n_cells - 1)
                u = u * n_cells - slot
            across = (cells[slot] % columns + u) / columns
            down = (cells[slot] // columns + point[1]) / rows
            place, direction, weight = camera_ray(lens, across, down, point[2], point[3])
            if mode == PICTURE and lens["past_supports"]:
                place = past_supports(stage, place, direction)
            density = EYE
        # What a ray that is cut would have seen is still asked for, without following it.
        followed = mask if weight > 0.0 else np.int64(0)
        region, status = follow(
            stage, place, direction, density, weight, state, index, key, followed, route_depth, book, slot
        )
        counts[slot, region] += 1
        cut += status == 1
        leaked += status == 2
        invalid += status == 3
    return cut, leaked, invalid


@entry
def sort_film(stage, columns, rows, across_samples, counts, touched):
    """Count by region what regular rays through each cell meet first, without following them.

    Parameters
    ----------
    stage
        The Stage.
    columns, rows
        The grid of cells.
    across_samples
        Rays along each side of a cell; each goes through another place of the pupil.
    counts
        (rows · columns, 4) int64, filled with rays by region.
    touched
        (parts,) int64, filled with the rays that met each part.
    """
    lens = stage.lens[0]
    n = across_samples
    for cell in range(columns * rows):
        for i in range(n * n):
            across = (cell % columns + (i % n + 0.5) / n) / columns
            down = (cell // columns + (i // n + 0.5) / n) / rows
            key = np.uint64(12345)
            point = _quasi(cell * n * n + i, np.int64(0), key)
            place, direction, _ = camera_ray(lens, across, down, point[0], point[1])
            row = first_seen(stage, place, direction)
            if row < 0:
                counts[cell, _OTHER] += 1
                continue
            touched[row] += 1
            counts[cell, stage.parts[row]["region"]] += 1
