"""The things of a set as convex bodies; a mesh is its box, a slice or a body of revolution its convex hull."""

from __future__ import annotations

import numpy as np

from throughlight.setup.convex import Array, Key, Solid, circle, frame, overlap, prism, rectangle, rod, surrounds
from throughlight.setup.faces import Disc, Tube
from throughlight.setup.heads import Head
from throughlight.setup.place import Vec3
from throughlight.setup.shades import across, barrel, leaves
from throughlight.setup.sheets import Sheet
from throughlight.setup.subject_solids import subject_solid
from throughlight.setup.surfaces import Card
from throughlight.setup.whole import Setup

__all__ = ["Solid", "circle", "overlap", "prism", "rectangle", "rod", "solids", "surrounds"]


def _head(head: Head, index: int) -> list[Solid]:
    """Return a head's face and what is hung before it, all under one key: they don't stand in one another's way."""
    key: Key = ("head", index)
    axes = frame(head.at, head.aim, head.roll)
    if isinstance(head.face, Tube):
        half = 0.5 * head.face.length * axes[:, 0]
        return [rod(head.name, key, np.asarray(head.at) - half, np.asarray(head.at) + half, head.face.diameter)]
    outline = circle(head.face.diameter) if isinstance(head.face, Disc) else rectangle(*across(head.face))
    things = [prism(head.name, key, head.at, axes, outline, 0.0)]
    if head.snoot is not None:
        tube = barrel(head.name, head.at, axes, head.face, head.snoot)
        middle = 0.5 * (tube.start + tube.end)
        things.append(prism(tube.name, key, _place(middle), axes, circle(tube.diameter), head.snoot.length))
    if head.barn_doors is not None:
        for door in leaves(head.name, head.at, axes, head.face, head.barn_doors):
            outline = rectangle(door.width, door.height)
            things.append(prism(door.name, key, _place(door.middle), door.axes, outline, 0.0))
    return things


def _flat(card: Card | Sheet, key: Key) -> Solid:
    axes = frame(card.at, card.aim, card.roll)
    return prism(card.name, key, card.at, axes, rectangle(card.width, card.height), 0.0)


def _place(point: Array) -> Vec3:
    return (float(point[0]), float(point[1]), float(point[2]))


def solids(setup: Setup) -> list[Solid]:
    """Return everything of a set that can stand in the way of something else."""
    things = [thing for i, head in enumerate(setup.heads) for thing in _head(head, i)]
    for i, window in enumerate(setup.windows):
        axes = frame(window.at, window.aim, window.roll)
        things.append(prism(window.name, ("window", i), window.at, axes, rectangle(window.width, window.height), 0.0))
    things += [_flat(card, ("card", i)) for i, card in enumerate(setup.cards)]
    things += [_flat(flag, ("flag", i)) for i, flag in enumerate(setup.flags)]
    things += [_flat(sheet, ("sheet", i)) for i, sheet in enumerate(setup.sheets)]
    if setup.backdrop is not None:
        drop = setup.backdrop
        axes = frame(drop.at, drop.aim)
        things.append(prism("backdrop", ("backdrop",), drop.at, axes, rectangle(drop.width, drop.height), 0.0))
    if setup.table is not None:
        table = setup.table
        place = (table.at[0], table.height, table.at[2])
        axes = frame(place, (place[0], place[1] + 1.0, place[2]))
        things.append(prism("table", ("table",), place, axes, rectangle(table.width, table.depth), 0.0))
    things += [subject_solid(one, ("subject", i), setup.camera.at) for i, one in enumerate(setup.subjects)]
    for i, support in enumerate(setup.supports):
        start, end = np.asarray(support.start), np.asarray(support.end)
        things.append(rod(support.name, ("support", i), start, end, support.diameter))
    return things
