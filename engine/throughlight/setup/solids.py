"""The things of a set as convex bodies; a mesh is its box, a slice or a body of revolution its convex hull."""

from __future__ import annotations

import numpy as np

from throughlight.setup.convex import Key, Solid, circle, frame, overlap, prism, rectangle, rod, surrounds
from throughlight.setup.faces import Disc, Rectangle
from throughlight.setup.heads import Head
from throughlight.setup.subject_solids import subject_solid
from throughlight.setup.whole import Setup

__all__ = ["Solid", "circle", "overlap", "prism", "rectangle", "rod", "solids", "surrounds"]


def _head(head: Head, index: int) -> Solid:
    key: Key = ("head", index)
    axes = frame(head.at, head.aim, head.roll)
    if isinstance(head.face, Disc):
        return prism(head.name, key, head.at, axes, circle(head.face.diameter), 0.0)
    if isinstance(head.face, Rectangle):
        return prism(head.name, key, head.at, axes, rectangle(head.face.width, head.face.height), 0.0)
    half = 0.5 * head.face.length * axes[:, 0]
    return rod(head.name, key, np.asarray(head.at) - half, np.asarray(head.at) + half, head.face.diameter)


def solids(setup: Setup) -> list[Solid]:
    """Return everything of a set that can stand in the way of something else."""
    things = [_head(head, i) for i, head in enumerate(setup.heads)]
    for key, cards in (("card", setup.cards), ("flag", setup.flags)):
        for i, card in enumerate(cards):
            axes = frame(card.at, card.aim, card.roll)
            things.append(prism(card.name, (key, i), card.at, axes, rectangle(card.width, card.height), 0.0))
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
