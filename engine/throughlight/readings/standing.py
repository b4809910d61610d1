"""What stands in the picture: the outlines of things, cut by the pyramid that the lens takes in.

Everything is seen from the middle of the lens. A thing's outline is a flat convex polygon; cutting it by the four
sides of the picture angle (Sutherland and Hodgman 1974, one plane after another) leaves the part that is in the frame,
and its image has the area ½·|Σ x_i·y_{i+1} − x_{i+1}·y_i| (shoelace). What stands close to the lens can blur into the
frame from a little outside it; that is the tracer's business.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.movements import film
from throughlight.setup import Camera, Card, Disc, Head, Setup, Sheet, Support, Tube
from throughlight.setup.place import crossed
from throughlight.setup.shades import barrel, leaves
from throughlight.stage.frames import facing
from throughlight.stage.lens import camera_axes

Floats = NDArray[np.float64]

ROUND_CORNERS = 64
_NEAREST = 1e-3  # m before the lens from which on things can be seen
_ON_FACE = 1e-9


@dataclass(frozen=True)
class Standing:
    """A thing that the picture angle takes in.

    `kind` is head, window, card, flag, sheet or support; `whole` tells whether all of its outline is in the frame;
    `share` is the part of the frame that its outline fills; `hidden` tells that backdrop, table, cards or flags cover
    what is in the frame of it, or that it is an edgewise card or sheet.
    """

    name: str
    kind: str
    whole: bool
    share: float
    hidden: bool


class View(NamedTuple):
    """The camera's outlook: lens centre, columns right, up and forward, and half the picture per metre of depth.

    The axes are those of the film, which alone make the perspective; `middle` is where the middle of a shifted or
    turned frame lies, right and up per metre of depth.
    """

    place: Floats
    axes: Floats
    across: float
    upward: float
    middle: tuple[float, float] = (0.0, 0.0)

    def seen(self, points: Floats) -> Floats:
        """Return world points (n, 3) as (right, up, depth), m, right and up from the middle of the frame."""
        turned: Floats = (points - self.place) @ self.axes
        turned[:, :2] -= turned[:, 2:] * np.array(self.middle)
        return turned

    def square(self, seen: Floats) -> Floats:
        """Return seen points (n, 3) as (right, up, depth) from the lens in the film's own square axes, m."""
        squared = np.array(seen, float)
        squared[:, :2] += squared[:, 2:] * np.array(self.middle)
        return squared

    def steepness(self, plane: Floats) -> float:
        """Return how fast p·plane grows for seen points p, for each metre moved square to the plane."""
        right, up, depth = plane
        return math.hypot(right, up, depth - right * self.middle[0] - up * self.middle[1])


def view_of(camera: Camera) -> View:
    """Return the outlook of a camera: the sensor's half sides over the distance between lens and film."""
    place = film(camera.focal, camera.focus, camera.movements)
    axes = camera_axes(camera) @ place.film_axes
    across, upward = 0.5 * camera.sensor_width / place.distance, 0.5 * camera.sensor_height / place.distance
    middle = (place.centre[0] / place.distance, place.centre[1] / place.distance)
    return View(np.asarray(camera.at, float), axes, across, upward, middle)


def rectangle_outline(at: Floats, frame: Floats, width: float, height: float) -> Floats:
    """Return the four corners (4, 3) of a rectangle in a frame's x–y plane."""
    corners = 0.5 * np.array([[-width, -height], [width, -height], [width, height], [-width, height]])
    outline: Floats = at + corners @ frame[:, :2].T
    return outline


def disc_outline(at: Floats, frame: Floats, diameter: float) -> Floats:
    """Return 64 points (64, 3) on the rim of a disc in a frame's x–y plane."""
    angle = np.arange(ROUND_CORNERS) * (2.0 * math.pi / ROUND_CORNERS)
    outline: Floats = at + 0.5 * diameter * np.stack([np.cos(angle), np.sin(angle)], axis=1) @ frame[:, :2].T
    return outline


def rod_outline(start: Floats, end: Floats, diameter: float, eye: Floats) -> Floats:
    """Return the silhouette (4, 3) of a rod: the lengthwise cut through its axis that faces the eye."""
    sideways = crossed(end - start, eye - 0.5 * (start + end))
    size = float(np.linalg.norm(sideways))
    if size == 0.0:  # seen end on: nothing of its length shows
        return np.empty((0, 3))
    half = 0.5 * diameter * sideways / size
    return np.stack([start - half, end - half, end + half, start + half])


def _head_outline(head: Head, eye: Floats) -> Floats:
    at, frame, face = np.asarray(head.at, float), facing(head.at, head.aim, head.roll), head.face
    if isinstance(face, Disc):
        return disc_outline(at, frame, face.diameter)
    if isinstance(face, Tube):
        half = 0.5 * face.length * frame[:, 0]
        return rod_outline(at - half, at + half, face.diameter, eye)
    return rectangle_outline(at, frame, face.width, face.height)


def _shade_outlines(head: Head, eye: Floats) -> Iterator[tuple[str, Floats]]:
    """Give name and outline of the snoot and the doors before a head."""
    frame = facing(head.at, head.aim, head.roll)
    if isinstance(head.face, Tube):
        return
    if head.snoot is not None:
        tube = barrel(head.name, head.at, frame, head.face, head.snoot)
        yield tube.name, rod_outline(tube.start, tube.end, tube.diameter, eye)
    for door in () if head.barn_doors is None else leaves(head.name, head.at, frame, head.face, head.barn_doors):
        yield door.name, rectangle_outline(door.middle, door.axes, door.width, door.height)


def _card_outline(card: Card | Sheet) -> Floats:
    frame = facing(card.at, card.aim, card.roll)
    return rectangle_outline(np.asarray(card.at, float), frame, card.width, card.height)


def _support_outline(support: Support, eye: Floats) -> Floats:
    start, end = np.asarray(support.start, float), np.asarray(support.end, float)
    return rod_outline(start, end, support.diameter, eye)


def _outlines(setup: Setup, eye: Floats) -> Iterator[tuple[str, str, Floats]]:
    """Give kind, name and outline of everything that should stay out of a picture."""
    for head in setup.heads:
        yield "head", head.name, _head_outline(head, eye)
        yield from (("head", name, outline) for name, outline in _shade_outlines(head, eye))
    for window in setup.windows:
        frame = facing(window.at, window.aim, window.roll)
        at = np.asarray(window.at, float)
        yield "window", window.name, rectangle_outline(at, frame, window.width, window.height)
    for card in setup.cards:
        yield "card", card.name, _card_outline(card)
    for flag in setup.flags:
        yield "flag", flag.name, _card_outline(flag)
    for sheet in setup.sheets:
        yield "sheet", sheet.name, _card_outline(sheet)
    for support in setup.supports:
        yield "support", support.name, _support_outline(support, eye)


def _screens(setup: Setup) -> Iterator[Floats]:
    """Give the outlines of the flat opaque things that can hide others."""
    yield from (_card_outline(card) for card in (*setup.cards, *setup.flags))
    if setup.backdrop is not None:
        drop = setup.backdrop
        yield rectangle_outline(np.asarray(drop.at, float), facing(drop.at, drop.aim), drop.width, drop.height)
    if setup.table is not None:
        table = setup.table
        place = np.array([table.at[0], table.height, table.at[2]])
        lying = facing((0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
        yield rectangle_outline(place, lying, table.width, table.depth)


def cut(polygon: Floats, normal: Floats, offset: float = 0.0) -> Floats:
    """Return the part of a convex polygon (n, 3) with p·normal ≥ offset."""
    heights = polygon @ normal - offset
    kept: list[Floats] = []
    for i, (point, height) in enumerate(zip(polygon, heights, strict=True)):
        j = (i + 1) % len(polygon)
        if height >= 0.0:
            kept.append(point)
        if (height >= 0.0) != (heights[j] >= 0.0):
            kept.append(point + height / (height - heights[j]) * (polygon[j] - point))
    return np.array(kept).reshape(-1, 3)


def within_frame(polygon: Floats, view: View) -> Floats:
    """Return the part of a polygon in camera coordinates (right, up, depth) that the picture angle takes in."""
    part = cut(polygon, np.array([0.0, 0.0, 1.0]), _NEAREST)
    for side in ((1.0, 0.0, view.across), (-1.0, 0.0, view.across), (0.0, 1.0, view.upward), (0.0, -1.0, view.upward)):
        part = cut(part, np.array(side))
    return part


def frame_share(polygon: Floats, view: View) -> float:
    """Return which part of the frame a polygon in camera coordinates fills, all of it inside the frame."""
    if len(polygon) < 3:
        return 0.0
    x, y = (polygon[:, :2] / polygon[:, 2:]).T
    area = 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))
    return area / (4.0 * view.across * view.upward)


def _covered(points: Floats, screen: Floats) -> NDArray[np.bool_]:
    """Return which points (n, 3) a screen (m, 3) hides from the lens, all in camera coordinates."""
    normal = crossed(screen[1] - screen[0], screen[-1] - screen[0])
    toward = points @ normal
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = float(screen[0] @ normal) / toward  # where on the way to the point the screen's plane is crossed
        crossing = points * reach[:, None]
        sides = np.cross(np.roll(screen, -1, axis=0) - screen, crossing[:, None, :] - screen[None, :, :]) @ normal
        inside: NDArray[np.bool_] = (reach > 0.0) & (reach < 1.0 - _ON_FACE) & (sides >= 0.0).all(axis=1)
    return inside


def _sample(polygon: Floats) -> Floats:
    """Return points inside a convex polygon: its middle, and the corners drawn in by a tenth and by a half."""
    middle = polygon.mean(axis=0)
    return np.concatenate([middle[None, :], middle + 0.9 * (polygon - middle), middle + 0.5 * (polygon - middle)])


def standing_in_frame(setup: Setup) -> tuple[Standing, ...]:
    """Return what the picture angle takes in of all that should stay out of a picture, in the order of the set."""
    view = view_of(setup.camera)
    screens = [view.seen(screen) for screen in _screens(setup)]
    found = []
    for kind, name, outline in _outlines(setup, view.place):
        if len(outline) == 0:
            continue
        polygon = view.seen(outline)
        part = within_frame(polygon, view)
        if len(part) < 3:
            continue
        share = frame_share(part, view)
        points = _sample(part)
        covered = np.zeros(len(points), bool)
        for screen in screens:
            covered |= _covered(points, screen)
        whole = len(part) == len(polygon) and bool(np.allclose(part, polygon))
        found.append(Standing(name, kind, whole, share, bool(covered.all()) or share < _ON_FACE))
    return tuple(found)
