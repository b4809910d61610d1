"""From a checked description to the flat tables that a trace reads."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from throughlight.photometry.colour import temperature_bands
from throughlight.setup import (
    Card,
    Setup,
    Sheet,
)
from throughlight.stage.crowds import mark_crowded, meeting
from throughlight.stage.frames import between, facing
from throughlight.stage.heads import add_head, add_shades, add_window
from throughlight.stage.lens import lens_row
from throughlight.stage.losses import add_skins
from throughlight.stage.rows import Rows, table
from throughlight.stage.subjects import add_subject
from throughlight.trace.glow import Recall, anew, with_leads
from throughlight.trace.guide import guides_of
from throughlight.trace.lights import shares_of
from throughlight.trace.tables import (
    HEAD,
    LENS,
    MEDIUM,
    PART,
    SHAPE,
    Region,
    ShapeKind,
    Stage,
    plain_tables,
)

if TYPE_CHECKING:
    from throughlight.stage.meshes import Body, Pools, SmoothBody

    Lay = Callable[[Sequence[Body | SmoothBody]], Pools]


class Cast(NamedTuple):
    """The names behind the numbers: one for each head (windows after heads) and one for each part of the set."""

    heads: tuple[str, ...]
    parts: tuple[str, ...]


def _add_card(rows: Rows, card: Card) -> None:
    front = rows.face(f"{card.name}, {card.front.name} face", Region.OTHER, card.front)
    rows.face(f"{card.name}, {card.back.name} face", Region.OTHER, card.back)
    sizes = (card.width / 2.0, card.height / 2.0, 0.0)
    rows.shape(ShapeKind.RECTANGLE, card.at, facing(card.at, card.aim, card.roll), sizes, part=front)


def _add_sheet(rows: Rows, sheet: Sheet) -> None:
    front = rows.face(sheet.name, Region.OTHER, sheet.sheeting)
    rows.face(f"{sheet.name}, back", Region.OTHER, sheet.sheeting)
    sizes = (sheet.width / 2.0, sheet.height / 2.0, 0.0)
    rows.shape(ShapeKind.RECTANGLE, sheet.at, facing(sheet.at, sheet.aim, sheet.roll), sizes, part=front)


def build(setup: Setup, *, supports: bool = True, lay: Lay | None = None, recall: Recall = anew) -> tuple[Stage, Cast]:
    """Lay a set out as the tables that a trace reads.

    Parameters
    ----------
    setup
        The checked description.
    supports
        Whether wires, rods and clamps stand in the set (a finished picture may leave them out).
    lay
        What lays meshes out as pools: `mesh_tables` by default; one that remembers saves many sets with one subject
        their trees.
    recall
        What remembers how walks are led in thick bodies (`trace.glow`); asked after `lay`, and nobody by default.

    Returns
    -------
    tuple of Stage and Cast
        The tables, and the names of heads and parts.

    Raises
    ------
    SetupError
        When a mesh file cannot be read.
    """
    rows = Rows()
    for subject in setup.subjects:
        add_subject(rows, subject, setup.camera.at)
    pieces = len(rows.shapes)
    for head in setup.heads:
        add_head(rows, head, setup.camera.balance, setup.camera.shutter)
    for window in setup.windows:
        add_window(rows, window, setup.camera.balance, setup.camera.shutter)
    for head in setup.heads:
        add_shades(rows, head)
    for card in (*setup.cards, *setup.flags):
        _add_card(rows, card)
    for sheet in setup.sheets:
        _add_sheet(rows, sheet)
    if setup.backdrop is not None:
        drop = setup.backdrop
        part = rows.face("backdrop", Region.BACKDROP, drop.surface)
        rows.face("backdrop, back", Region.BACKDROP, drop.surface)
        sizes = (drop.width / 2.0, drop.height / 2.0, 0.0)
        rows.shape(ShapeKind.RECTANGLE, drop.at, facing(drop.at, drop.aim), sizes, part=part)
    if setup.table is not None:
        top = setup.table
        part = rows.face("table", Region.OTHER, top.surface)
        rows.face("table, underside", Region.OTHER, top.surface)
        place = (top.at[0], top.height, top.at[2])
        frame = facing(place, (place[0], place[1] + 1.0, place[2]))
        rows.shape(ShapeKind.RECTANGLE, place, frame, (top.width / 2.0, top.depth / 2.0, 0.0), part=part)
    for support in setup.supports if supports else ():
        part = rows.face(support.name, Region.SUPPORT, support.surface)
        rows.face(f"{support.name}, inside", Region.SUPPORT, support.surface)
        middle, frame, size = between(support.start, support.end)
        rows.shape(ShapeKind.TUBE, middle, frame, (support.diameter / 2.0, 0.0, size / 2.0), part=part)
    mark_crowded(rows.shapes, pieces, [(row, *body[:2]) for row, body in zip(rows.mesh_rows, rows.meshes, strict=True)])
    return _freeze(rows, setup, lay, recall), Cast(setup.lights, tuple(rows.names))


def _freeze(rows: Rows, setup: Setup, lay: Lay | None, recall: Recall) -> Stage:
    """Turn the collected records into the tables."""
    more = plain_tables(len(rows.media))
    triangles, boxes, links = np.zeros((1, 36)), np.zeros((1, 48), np.float32), np.zeros((1, 8), np.int32)
    if rows.meshes:
        from throughlight.stage.meshes import mesh_tables

        laid = mesh_tables(rows.meshes) if lay is None else lay(rows.meshes)
        triangles, boxes, links, more["normals"], pointers = laid
        for row, pointer in zip(rows.mesh_rows, pointers, strict=True):
            rows.shapes[row] |= dict(
                zip(("first_triangle", "triangles", "first_node", "first_normal"), pointer, strict=True)
            )
    if not rows.parts:
        rows.face("nothing", Region.OTHER, None)
    room = np.zeros(3)
    if setup.ambient is not None:
        bands = temperature_bands(setup.ambient.temperature, setup.camera.balance)
        room = np.multiply(bands, setup.ambient.illuminance / np.pi * setup.camera.shutter)
    shapes, heads = table(rows.shapes, SHAPE), table(rows.heads, HEAD)
    skins = add_skins(rows.curves, [(row["n"], row["alpha"]) for row in rows.media], meeting(rows.shapes))
    stage = Stage(
        shapes=shapes,
        parts=table(rows.parts, PART),
        media=table(rows.media, MEDIUM),
        heads=heads,
        lens=table([lens_row(setup)], LENS),
        triangles=triangles,
        boxes=boxes,
        links=links,
        room=np.array(room, np.float64),
        shares=shares_of(shapes, heads),
        guides=guides_of(shapes),
        **(more | rows.pools() | {"skins": skins, "curves": rows.curves.table()}),
    )
    return with_leads(stage, recall)
