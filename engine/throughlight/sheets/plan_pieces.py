"""What stands on a set, as a plan shows it: each piece with its number, its place, its aim and its outline.

Outlines are convex bodies, given by points whose hull is drawn in any view. The face of a head is true; what stands
behind it (a bowl, a box, a lamp housing) and the camera's body are symbols, since a set says nothing of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.field import image_distance
from throughlight.setup import Camera, Card, Disc, Head, Setup, Sheet, Subject, Support, Tube, Vec3, Window
from throughlight.setup.shades import barrel, leaves
from throughlight.setup.subject_solids import skin
from throughlight.sheets.plan_beam import beam_angle
from throughlight.sheets.plan_tones import Tone, tone_of
from throughlight.stage.frames import facing

Floats = NDArray[np.float64]
Kind = Literal[
    "camera", "subject", "head", "window", "card", "flag", "sheet", "backdrop", "table", "support"
]  # fmt: skip

MARK: Vec3 = (0.0, 0.0, 0.0)
_ROUND = 48
_HOUSING = (0.11, 0.22)  # m, a flash head's usual diameter and length: a symbol
_BODY = (0.14, 0.10, 0.045)  # m, a camera body of the usual 36 × 24 mm kind: a symbol


class Body(NamedTuple):
    """A convex body: points (n, 3), m. `symbol` tells that its size is not the set's."""

    points: Floats
    symbol: bool = False


class Flat(NamedTuple):
    """A thin piece: four corners (4, 3), m, the way its front faces, and what front and back do with light."""

    corners: Floats
    normal: Floats
    front: Tone | None = None
    back: Tone | None = None


class Beam(NamedTuple):
    """A cone of light: where it begins, its axis, half its angle (rad) and how far the head is from its aim, m."""

    apex: Floats
    axis: Floats
    half: float
    reach: float


class Piece(NamedTuple):
    """One thing of the set.

    `size` is what it measures, sides or diameter in m as they are said (empty where that is of no use on the set); `at`
    the place that is measured, `aim` what it faces.
    """

    number: int
    kind: Kind
    name: str
    at: Vec3
    aim: Vec3 | None
    size: tuple[float, ...] = ()
    bodies: tuple[Body, ...] = ()
    flats: tuple[Flat, ...] = ()
    beam: Beam | None = None

    @property
    def points(self) -> Floats:
        """Return all points that span it, (n, 3), m."""
        parts = [body.points for body in self.bodies] + [flat.corners for flat in self.flats]
        return np.concatenate(parts) if parts else np.array([self.at], float)


def pieces_of(setup: Setup) -> tuple[Piece, ...]:
    """Return all pieces of a set, numbered from 1 in the order in which a sheet lists them.

    Raises
    ------
    OSError
        If the file of a subject's mesh cannot be opened.
    """
    return tuple(piece._replace(number=number) for number, piece in enumerate(_all(setup), 1))


def _all(setup: Setup) -> Iterator[Piece]:
    yield _camera(setup.camera)
    yield from (_subject(one, setup.camera.at) for one in setup.subjects)
    yield from map(_head, setup.heads)
    yield from map(_window, setup.windows)
    yield from (_card(one, "card") for one in setup.cards)
    yield from (_card(one, "flag") for one in setup.flags)
    yield from map(_sheet, setup.sheets)
    yield from _ground(setup)
    yield from map(_support, setup.supports)


def _camera(camera: Camera) -> Piece:
    frame, at = facing(camera.at, camera.aim, camera.roll), np.asarray(camera.at, float)
    film = -min(image_distance(camera.focal, camera.focus), 0.25)
    width, height, depth = _BODY
    box = _box(width, height, depth) + np.array([0.0, 0.0, film - 0.3 * depth])
    (front, radius), (mouth, wide) = camera.rings
    lens = np.concatenate([_ring(2.0 * radius, film), _ring(2.0 * radius, front)])
    bodies = [Body(at + box @ frame.T, symbol=True), Body(at + lens @ frame.T, symbol=True)]
    if camera.hood > 0.0:
        hood = np.concatenate([_ring(2.0 * radius, front), _ring(2.0 * wide, mouth)])
        bodies.append(Body(at + hood @ frame.T))
    return Piece(0, "camera", "camera", camera.at, camera.aim, bodies=tuple(bodies))


def _subject(subject: Subject, camera: Vec3) -> Piece:
    frame = facing(subject.at, subject.faces(camera), subject.turn)
    points = skin(subject.shape)
    aim = subject.faces(camera)
    size = tuple(float(side) for side in np.ptp(points, axis=0))
    return Piece(
        0, "subject", subject.name, subject.at, aim, size, bodies=(Body(np.asarray(subject.at) + points @ frame.T),)
    )


def _head(head: Head) -> Piece:
    frame, at = facing(head.at, head.aim, head.roll), np.asarray(head.at, float)
    angle = beam_angle(head)
    beam = None if angle is None else Beam(at, frame[:, 2], 0.5 * angle, math.dist(head.at, head.aim))
    bodies = [Body(at + part @ frame.T, symbol=True) for part in _lamp(head)]
    flats = []
    if not isinstance(head.face, Tube) and head.snoot is not None:
        tube = barrel(head.name, head.at, frame, head.face, head.snoot)
        ends = [_ring(tube.diameter, 0.0), _ring(tube.diameter, head.snoot.length)]
        bodies.append(Body(at + np.concatenate(ends) @ frame.T))
    if not isinstance(head.face, Tube) and head.barn_doors is not None:
        for door in leaves(head.name, head.at, frame, head.face, head.barn_doors):
            corners = _corners(door.width, door.height) @ door.axes[:, :2].T + door.middle
            flats.append(Flat(corners, door.axes[:, 2], Tone.BLACK, Tone.BLACK))
    return Piece(0, "head", head.name, head.at, head.aim, _face_size(head), tuple(bodies), tuple(flats), beam)


def _face_size(head: Head) -> tuple[float, ...]:
    face = head.face
    if isinstance(face, Disc):
        return (face.diameter,)
    return (face.length, face.diameter) if isinstance(face, Tube) else (face.width, face.height)


def _lamp(head: Head) -> Iterator[Floats]:
    """Give a head's parts in its own frame: what sits on it, from its true face back, and its housing."""
    width, length = _HOUSING
    face = head.face
    if isinstance(face, Tube):
        half = 0.5 * face.length
        yield np.array([[x, y, z] for x in (-half, half) for y, z in _circle(face.diameter)])
        return
    if isinstance(face, Disc):
        rim, depth = _ring(face.diameter, 0.0), 0.6 * face.diameter
    else:
        rim = np.column_stack([_corners(face.width, face.height), np.zeros(4)])
        depth = 0.5 * min(face.width, face.height)
    depth, neck = min(max(depth, 0.02), 0.4), min(width, 2.0 * float(np.abs(rim[:, :2]).max()))
    yield np.concatenate([rim, _ring(neck, -depth)])
    yield np.concatenate([_ring(neck, -depth), _ring(neck, -depth - length)])


def _window(window: Window) -> Piece:
    flat = _flat(window.at, window.aim, window.roll, window.width, window.height)
    return Piece(0, "window", window.name, window.at, window.aim, (window.width, window.height), flats=(flat,))


def _card(card: Card, kind: Literal["card", "flag"]) -> Piece:
    flat = _flat(card.at, card.aim, card.roll, card.width, card.height)
    sides = flat._replace(front=tone_of(card.front), back=tone_of(card.back))
    return Piece(0, kind, card.name, card.at, card.aim, (card.width, card.height), flats=(sides,))


def _sheet(sheet: Sheet) -> Piece:
    flat = _flat(sheet.at, sheet.aim, sheet.roll, sheet.width, sheet.height)
    return Piece(0, "sheet", sheet.name, sheet.at, sheet.aim, (sheet.width, sheet.height), flats=(flat,))


def _ground(setup: Setup) -> Iterator[Piece]:
    """Give the backdrop and the table."""
    drop, table = setup.backdrop, setup.table
    if drop is not None:
        flat = _flat(drop.at, drop.aim, 0.0, drop.width, drop.height)._replace(front=tone_of(drop.surface))
        yield Piece(0, "backdrop", "backdrop", drop.at, drop.aim, (drop.width, drop.height), flats=(flat,))
    if table is not None:
        at = (table.at[0], table.height, table.at[2])
        flat = _flat(at, (at[0], at[1] + 1.0, at[2]), 0.0, table.width, table.depth)
        yield Piece(0, "table", "table", at, None, (table.width, table.depth), flats=(flat,))


def _support(support: Support) -> Piece:
    ends = np.array([support.start, support.end], float)
    frame = facing(support.start, support.end)
    rings = [end + _ring(support.diameter, 0.0) @ frame.T for end in ends]
    return Piece(
        0, "support", support.name, support.start, support.end, (support.diameter,), (Body(np.concatenate(rings)),)
    )


def _flat(at: Vec3, aim: Vec3, roll: float, width: float, height: float) -> Flat:
    frame = facing(at, aim, roll)
    return Flat(np.asarray(at) + _corners(width, height) @ frame[:, :2].T, frame[:, 2])


def _corners(width: float, height: float) -> Floats:
    return 0.5 * np.array([[-width, -height], [width, -height], [width, height], [-width, height]])


def _box(width: float, height: float, depth: float) -> Floats:
    return 0.5 * np.array([[x, y, z] for x in (-width, width) for y in (-height, height) for z in (-depth, depth)])


def _circle(diameter: float) -> Floats:
    angle = np.arange(_ROUND) * (2.0 * math.pi / _ROUND)
    return 0.5 * diameter * np.column_stack([np.cos(angle), np.sin(angle)])


def _ring(diameter: float, z: float) -> Floats:
    return np.column_stack([_circle(diameter), np.full(_ROUND, z)])
