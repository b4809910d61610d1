"""The frozen tables a trace reads: one NamedTuple of flat arrays and aligned record tables, the Stage.

No size stands inside a type, so one compilation serves every set: triangles and nodes are flat pools that a shape's
record points into by (offset, count).
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np


class ShapeKind(IntEnum):
    """The exact shapes that a ray can meet; sizes are in the record's `sa`, `sb`, `sc`, in metres."""

    RECTANGLE = 0  # sa, sb: half width, half height; in the local plane z = 0
    DISC = 1  # sa: radius; in the local plane z = 0
    BOX = 2  # sa, sb, sc: half extents; closed
    ROUND = 3  # sa: radius, sc: half thickness along local z; closed, with flat ends
    SPHERE = 4  # sa: radius; closed
    TUBE = 5  # sa: radius, sc: half length along local z; the lateral surface only
    MESH = 6  # triangles from number `first_triangle` on, with their own tree from `first_node`; world coordinates


class SurfaceKind(IntEnum):
    """What an opaque face does with light."""

    MATTE = 0
    CLOTH = 1
    BOUNDARY = 2  # the face of a translucent body: Fresnel, polished or rough
    MIRROR = 3
    METAL = 4  # complex index, polished or rough
    GLOSS = 5  # a clear skin over a matte ground
    SHEET = 6  # thin and looked through: straight, spread, mirrored


class Region(IntEnum):
    """What a part of the set is to the readings: the class of the first thing a camera ray meets."""

    SUBJECT = 0
    BACKDROP = 1
    SUPPORT = 2
    OTHER = 3  # cards, flags, table, the faces and backs of heads, and the room beyond the set


def _floats(*names: str) -> list[tuple[str, str]]:
    return [(name, "f8") for name in names]


SHAPE = np.dtype(
    [
        ("kind", "i8"),
        ("part", "i8"),  # the face toward +normal (outside); its back is part + 1
        ("medium", "i8"),  # the translucent medium inside, or −1
        ("head", "i8"),  # the head whose emitting face this is, or −1
        ("first_triangle", "i8"),
        ("triangles", "i8"),
        ("first_node", "i8"),
        ("first_normal", "i8"),  # row of the first triangle's corner normals in `normals`; 0: flat facets
        ("crowded", "i8"),  # 1 when other things stand inside this body or reach into it
        ("lead", "i8"),  # row of `leads` with the way toward the light in this body; 0: none
        *_floats("ox", "oy", "oz"),  # the local origin in the world
        *_floats("tx", "ty", "tz", "bx", "by", "bz", "nx", "ny", "nz"),  # local x, y, z axes in the world
        *_floats("sa", "sb", "sc"),
        *_floats("lo_x", "lo_y", "lo_z", "hi_x", "hi_y", "hi_z"),  # bounds in the world, slightly enlarged
    ],
    align=True,
)
"""One thing a ray can meet. A face belongs to part `part` seen from its +normal side, and `part + 1` from behind."""

PART = np.dtype(
    [
        ("region", "i8"),
        ("surface", "i8"),  # SurfaceKind
        *_floats("red", "green", "blue"),  # reflectance
        *_floats("pile"),  # cloth: optical thickness of the fibres
        *_floats("sheen_red", "sheen_green", "sheen_blue"),  # cloth: albedo of the fibres
        ("map", "i8"),  # row of `maps` whose picture stands for the reflectance; 0: none
        *_floats("alpha"),  # metal and gloss: GGX roughness
        *_floats("n"),  # gloss: index of the skin; sheet: index of the film, 1 for one that mirrors nothing
        *_floats("n_red", "n_green", "n_blue", "k_red", "k_green", "k_blue"),  # metal: complex index n + ik
        ("lost", "i8"),  # where in `curves` the share of light stands that a rough face's facets lose; 0: none
        *_floats("straight_red", "straight_green", "straight_blue"),  # sheet: passed on straight, normal incidence
        *_floats("through_red", "through_green", "through_blue"),  # sheet: passed on and spread
        *_floats("spread"),  # sheet: the film's transmittance in diffuse light over that along the normal; 1: no film
    ],
    align=True,
)
"""One face of a thing: what it is to the readings and what it does with light. Routes are told by part."""

MEDIUM = np.dtype(
    [
        *_floats("scatter_red", "scatter_green", "scatter_blue"),  # scattering coefficient, 1/m
        *_floats("absorb_red", "absorb_green", "absorb_blue"),  # absorption coefficient, 1/m
        *_floats("g", "n", "alpha"),  # Henyey–Greenstein asymmetry, refractive index, GGX roughness of the boundary
        ("map", "i8"),  # row of `maps` with the absorption, 1/m; the next row has the scattering; 0: even matter
        *_floats("most"),  # mapped matter: the largest extinction of any band anywhere, 1/m
    ],
    align=True,
)
"""The inside of a translucent body."""

LEAD = np.dtype(
    [
        ("first", "i8"),  # of its cells in `slopes`
        *_floats("free"),  # the transport mean free path, m
        # A place's cell along each axis: the whole part of the scalar product with the row and the number at its end.
        *_floats("tx", "ty", "tz", "t0", "bx", "by", "bz", "b0", "nx", "ny", "nz", "n0"),
    ],
    align=True,
)
"""How walks in one thick body are led toward the light: its grid of cells."""

HEAD = np.dtype(
    [
        ("kind", "i8"),  # ShapeKind.DISC, RECTANGLE or TUBE
        ("shape", "i8"),  # the row of its face in the table of shapes
        *_floats("ox", "oy", "oz", "tx", "ty", "tz", "bx", "by", "bz", "nx", "ny", "nz", "sa", "sb", "sc"),
        *_floats("area"),  # of the emitting face, m²
        *_floats("red", "green", "blue"),  # axial luminance × time, cd·s/m², by band
        *_floats("exponent"),  # I = I0 cosᵏ θ, unless there is a curve
        ("curve", "i8"),  # where in `curves` the relative intensity by angle begins; 0: none
        ("curve_rows", "i8"),  # angles from the axis, evenly from 0 to 90°
        ("curve_columns", "i8"),  # angles round the axis, evenly over the turn; 1: the same all round
        *_floats("intensity"),  # luminous axial intensity × time, cd·s, for choosing between heads
    ],
    align=True,
)
"""One head: the frame of its face, its light and its angular profile."""

LENS = np.dtype(
    [
        *_floats("ox", "oy", "oz", "tx", "ty", "tz", "bx", "by", "bz", "nx", "ny", "nz"),  # x right, y up, z backwards
        *_floats("focus"),  # distance from the lens to the plane of focus, m
        *_floats("half_width", "half_height"),  # of the frame in the plane of focus, m
        *_floats("pupil"),  # radius of the entrance pupil, m
        ("blades", "i8"),
        *_floats("turned"),  # of the blades, parts of a full turn, anticlockwise seen from behind
        *_floats("depth"),  # how far the pupil lies behind the front element, m
        *_floats("front"),  # radius of the front element, m
        *_floats("hood", "mouth"),  # depth of the hood before it and radius of the hood's mouth, m
        ("past_supports", "i8"),  # 1 when the picture is to look past supports, which stand in the light all the same
        ("moved", "i8"),  # 1 when the film is not square to the lens and centred on it: what follows is then used
        *_floats("focal"),  # focal length, m
        *_floats("film_x", "film_y", "film_z"),  # the upright film's middle in the lens's frame, m
        *_floats("wide_x", "wide_y", "wide_z", "high_x", "high_y", "high_z"),  # from there to its right and upper edge
        *_floats("bright"),  # distance from lens to film's plane times the unmoved image distance squared, m³
    ],
    align=True,
)
"""The camera: frame of the lens (looking along −normal), focus, pupil, front element."""


MAP = np.dtype(
    [
        ("first", "i8"),  # of its texels
        ("columns", "i8"),
        ("rows", "i8"),
        *_floats("left", "top", "width", "height"),  # where the picture lies in the shape's local x and y, m
    ],
    align=True,
)
"""A picture laid on a shape along its local z: row 0 is at the top, values stand at the middles of the pixels."""


class Stage(NamedTuple):
    """Everything a trace reads, as C-contiguous arrays; made by `throughlight.stage`, changed by nobody.

    Attributes
    ----------
    shapes, parts, media, heads, lens
        Record tables of SHAPE, PART, MEDIUM, HEAD and (one row) LENS.
    triangles
        (n_leaves, 36) float64, corners of up to four triangles in the world, m: x of the four first corners, then y
        and z, then the second and third corners; not a number where a leaf is not full. Triangle i is i mod 4 of row
        i div 4.
    boxes, links
        (n_nodes, 48) float32 and (n_nodes, 8) int32, bounds and places of the children of each node, as of
        `throughlight.trace.tree.Tree`.
    room
        (3,) float64 luminance × time of the surround by band, cd·s/m².
    shares
        (shapes, heads) float64, how often each head is asked for light to a translucent body.
    guides
        (n, 4) float64, middle and radius, m, of a ball round each translucent body.
    normals
        (n, 9) float32, unit normals at the corners of smooth triangles; row 0 is not used.
    maps
        Record table of MAP; row 0 stands for no map.
    texels
        (n, 3) float32, the pixels of all maps by band.
    curves
        (n,) float64, tabulated functions one after the other; place 0 is not used.
    skins
        (media + 1, media + 1) int64, where in `curves` a rough boundary's losses stand, by 1 + medium on the incident
        side and on the other, 0 for air; 0: none.
    leads
        Record table of LEAD; row 0 is not used.
    slopes
        (n, 4) float32, for each cell of each lead the slope ∇φ/φ of the light, 1/m, and the body's faintest φ over φ.
    """

    shapes: np.ndarray
    parts: np.ndarray
    media: np.ndarray
    heads: np.ndarray
    lens: np.ndarray
    triangles: np.ndarray
    boxes: np.ndarray
    links: np.ndarray
    room: np.ndarray
    shares: np.ndarray
    guides: np.ndarray
    normals: np.ndarray
    maps: np.ndarray
    texels: np.ndarray
    curves: np.ndarray
    skins: np.ndarray
    leads: np.ndarray
    slopes: np.ndarray


def plain_tables(media: int) -> dict[str, np.ndarray]:
    """Return the tables of a set without smooth meshes, maps, curves and compensated skins."""
    return {
        "normals": np.zeros((1, 9), np.float32),
        "maps": np.zeros(1, MAP),
        "texels": np.zeros((1, 3), np.float32),
        "curves": np.zeros(1),
        "skins": np.zeros((media + 1, media + 1), np.int64),
        "leads": np.zeros(1, LEAD),
        "slopes": np.zeros((1, 4), np.float32),
    }
