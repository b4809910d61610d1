"""What a coat leaves of a body: the core, smaller by the coat's thickness on every side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from throughlight.setup.faces import Disc, Rectangle
from throughlight.setup.islands import area_of
from throughlight.setup.sections import core, section
from throughlight.setup.shapes import Revolve, Slab, Sphere

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_TOO_THICK = "the coat is thicker than the body; a thinner one would fit"


def core_of_exact(shape: Slab | Sphere, thickness: float) -> Slab | Sphere:
    """Return the core of a ball, a disc or a rectangle.

    Raises
    ------
    ValueError
        When the coat leaves nothing; says so in a sentence.
    """
    twice = 2.0 * thickness
    if isinstance(shape, Sphere):
        return shape.model_copy(update={"diameter": _left(shape.diameter, twice)})
    outline = shape.outline
    if isinstance(outline, Disc):
        smaller: Disc | Rectangle = Disc.model_construct(diameter=_left(outline.diameter, twice))
    elif isinstance(outline, Rectangle):
        smaller = Rectangle.model_construct(width=_left(outline.width, twice), height=_left(outline.height, twice))
    else:
        raise TypeError(f"no exact core for {outline!r}")
    kept = {"outline": smaller, "thickness": _left(shape.thickness, twice), "edge": max(0.0, shape.edge - thickness)}
    return shape.model_copy(update=kept)


def core_of_outline(shape: Slab, thickness: float) -> tuple[BaseGeometry, float, float]:
    """Return outline, thickness and edge radius, m, of the core of a slab of any other outline.

    Raises
    ------
    ValueError
        When the coat leaves nothing; says so in a sentence.
    """
    from shapely import BufferJoinStyle

    if isinstance(shape.outline, Disc | Rectangle):
        raise TypeError("discs and rectangles have exact cores")
    area = area_of(shape.outline.islands).buffer(-thickness, join_style=BufferJoinStyle.mitre)
    if not area.area > 0.0:
        raise ValueError(_TOO_THICK)
    return area, _left(shape.thickness, 2.0 * thickness), max(0.0, shape.edge - thickness)


def core_section(shape: Revolve, thickness: float) -> BaseGeometry:
    """Return the whole section of the core of a body of revolution.

    Raises
    ------
    ValueError
        When the coat leaves nothing; says so in a sentence.
    """
    return core(section(shape.form), thickness)


def leave_core(shape: Slab | Sphere | Revolve, thickness: float) -> None:
    """Check that a coat leaves a core.

    Raises
    ------
    ValueError
        When it does not; says so in a sentence.
    """
    if isinstance(shape, Revolve):
        core_section(shape, thickness)
    elif isinstance(shape, Sphere) or isinstance(shape.outline, Disc | Rectangle):
        core_of_exact(shape, thickness)
    else:
        core_of_outline(shape, thickness)


def _left(size: float, less: float) -> float:
    if not size > less:
        raise ValueError(_TOO_THICK)
    return size - less
