"""Published and independently computed answers for light through one plane-parallel slab that scatters.

R and T are totals: R has the mirrored light in it, T the light that was never scattered. `coll` is a pencil along the
normal, `diff` is light spread evenly over the hemisphere outside.
"""

from __future__ import annotations

from typing import NamedTuple


class Row(NamedTuple):
    """Reflectance and transmittance of one slab."""

    albedo: float
    r_coll: float
    t_coll: float
    r_diff: float
    t_diff: float


class Slab(NamedTuple):
    """Rows that share a refractive index, a Henyey–Greenstein asymmetry and an optical thickness (µs + µa)·d."""

    n: float
    g: float
    thickness: float
    rows: tuple[Row, ...]


class Material(NamedTuple):
    """A slab of a measured material, d in metres, coefficients in 1/m and totals by band (red, green, blue)."""

    n: float
    d: float
    scatter: tuple[float, float, float]
    absorb: tuple[float, float, float]
    r_coll: tuple[float, float, float]
    t_coll: tuple[float, float, float]
    r_diff: tuple[float, float, float]
    t_diff: tuple[float, float, float]


# Adding–doubling (van de Hulst 1980, Prahl's formulation), iadpython 0.5.3 with 64 quadrature points and Radau nodes
# taken from scipy's Jacobi roots, since its own are inaccurate beyond 32 points. 48 points agree within 2e-5.
SLABS = (
    Slab(1, 0, 1, (
        Row(0.5, 0.099119, 0.446058, 0.134165, 0.306709),
        Row(0.8, 0.210847, 0.541400, 0.280152, 0.416245),
        Row(0.95, 0.301718, 0.622567, 0.396401, 0.510978),
    )),
    Slab(1, 0.5, 5, (
        Row(0.9, 0.270013, 0.171606, 0.354668, 0.120246),
        Row(0.99, 0.518694, 0.382601, 0.609237, 0.299056),
        Row(1, 0.570615, 0.429385, 0.660191, 0.339809),
    )),
    Slab(1, 0.8, 2, (
        Row(0.8, 0.047002, 0.561874, 0.106310, 0.396701),
        Row(0.9, 0.074781, 0.693378, 0.162233, 0.530816),
        Row(0.99, 0.120111, 0.851871, 0.250885, 0.710289),
    )),
    Slab(1, 0.9, 20, (
        Row(0.95, 0.137635, 0.088568, 0.223765, 0.058267),
        Row(0.99, 0.351250, 0.324762, 0.456937, 0.245150),
        Row(0.999, 0.485259, 0.472614, 0.591287, 0.370023),
    )),
    Slab(1.33, 0, 2, (
        Row(0.5, 0.078771, 0.163838, 0.126762, 0.117208),
        Row(0.8, 0.184948, 0.242034, 0.235193, 0.193194),
        Row(0.95, 0.353253, 0.387683, 0.404967, 0.336711),
    )),
    Slab(1.33, 0.5, 1, (
        Row(0.5, 0.044575, 0.459233, 0.095293, 0.364033),
        Row(0.9, 0.143916, 0.642786, 0.211447, 0.548411),
        Row(1, 0.238766, 0.761234, 0.321822, 0.678178),
    )),
    Slab(1.33, 0.8, 10, (
        Row(0.9, 0.094390, 0.069528, 0.147257, 0.054187),
        Row(0.99, 0.362958, 0.361003, 0.414188, 0.320765),
        Row(1, 0.498373, 0.501627, 0.546090, 0.453910),
    )),
    Slab(1.33, 0.9, 5, (
        Row(0.8, 0.035023, 0.226904, 0.083641, 0.153838),
        Row(0.95, 0.101454, 0.502660, 0.164562, 0.391038),
        Row(0.99, 0.195748, 0.678859, 0.282115, 0.571341),
    )),
    Slab(1.4, 0, 5, (
        Row(0.9, 0.277984, 0.062819, 0.325434, 0.052424),
        Row(0.99, 0.575731, 0.253391, 0.610728, 0.228477),
        Row(0.999, 0.658993, 0.320618, 0.689697, 0.291124),
    )),
    Slab(1.4, 0.5, 2, (
        Row(0.5, 0.048236, 0.206272, 0.099147, 0.150025),
        Row(0.8, 0.109842, 0.321177, 0.164424, 0.255138),
        Row(0.95, 0.243639, 0.489195, 0.304100, 0.421307),
    )),
    Slab(1.4, 0.8, 20, (
        Row(0.99, 0.379636, 0.157904, 0.425914, 0.141721),
        Row(0.999, 0.589504, 0.332856, 0.624311, 0.303175),
        Row(1, 0.630567, 0.369433, 0.662942, 0.337058),
    )),
    Slab(1.4, 0.9, 10, (
        Row(0.95, 0.102981, 0.230847, 0.156765, 0.182756),
        Row(0.99, 0.259075, 0.462997, 0.317149, 0.402422),
        Row(0.999, 0.368984, 0.593842, 0.430104, 0.532201),
    )),
    Slab(1.5, 0, 10, (
        Row(0.99, 0.593840, 0.104239, 0.624544, 0.094899),
        Row(0.999, 0.749371, 0.204946, 0.769900, 0.187699),
        Row(1, 0.775696, 0.224304, 0.794438, 0.205562),
    )),
    Slab(1.5, 0.5, 1, (
        Row(0.5, 0.063928, 0.425994, 0.118418, 0.344934),
        Row(0.8, 0.113608, 0.524144, 0.173144, 0.438552),
        Row(0.99, 0.258446, 0.702759, 0.332522, 0.625320),
    )),
    Slab(1.5, 0.8, 5, (
        Row(0.8, 0.065238, 0.129667, 0.118553, 0.094329),
        Row(0.95, 0.167481, 0.319531, 0.222728, 0.265347),
        Row(1, 0.402819, 0.597181, 0.461778, 0.538222),
    )),
    Slab(1.5, 0.9, 2, (
        Row(0.5, 0.046123, 0.299469, 0.098427, 0.219729),
        Row(0.8, 0.064389, 0.515854, 0.122812, 0.394259),
        Row(0.95, 0.108749, 0.702760, 0.187951, 0.567536),
    )),
    Slab(1.5, 0.9, 50, (
        Row(0.999, 0.557294, 0.249060, 0.591183, 0.228347),
        Row(1, 0.661622, 0.338378, 0.688887, 0.311113),
    )),
)  # fmt: skip

# Sections through materials of Jensen, Marschner, Levoy and Hanrahan 2001, "A practical model for subsurface light
# transport", SIGGRAPH, figure 5 (reduced scattering taken as isotropic), both faces polished, in air. Totals by
# adding–doubling, iadpython 0.5.3 with 48 quadrature points, error below 2e-5, rounded to four digits.
MATERIALS = {
    "apple 3 mm": Material(
        1.3, 0.003, (2290.0, 2390.0, 1970.0), (3.0, 3.4, 46.0),
        (0.7267, 0.7319, 0.5309), (0.2417, 0.2325, 0.1456), (0.7537, 0.7583, 0.5693), (0.2170, 0.2087, 0.1282),
    ),
    "marble 5 mm": Material(
        1.5, 0.005, (2190.0, 2620.0, 3000.0), (2.1, 4.1, 7.1),
        (0.7618, 0.7631, 0.7492), (0.1905, 0.1495, 0.1134), (0.7813, 0.7822, 0.7692), (0.1744, 0.1369, 0.1037),
    ),
    "skin 3 mm": Material(
        1.3, 0.003, (740.0, 880.0, 1010.0), (32.0, 170.0, 480.0),
        (0.3910, 0.2247, 0.1305), (0.3625, 0.1300, 0.0272), (0.4412, 0.2730, 0.1781), (0.3151, 0.1022, 0.0180),
    ),
}  # fmt: skip

# Radiance over irradiance (1/sr) by exit angle (degrees) of the slab of van de Hulst 1980 as used by Wang, Jacques and
# Zheng 1995 (n 1, albedo 0.9, thickness 2, g 0.75), lit along the normal, without the unscattered light. Computed with
# iadpython 0.5.3, 48 quadrature points and a spline over the angle.
ANGLES = {
    # angle: (reflected, transmitted)
    10: (0.02010, 0.54409),
    20: (0.02145, 0.30680),
    30: (0.02382, 0.19218),
    40: (0.02740, 0.13619),
    50: (0.03226, 0.10627),
    60: (0.03806, 0.08844),
    70: (0.04325, 0.07497),
    80: (0.04440, 0.06026),
}


def row(n, g, albedo, thickness):
    """Return the published or computed row of a slab."""
    slab = next(slab for slab in SLABS if (slab.n, slab.g, slab.thickness) == (n, g, thickness))
    return next(one for one in slab.rows if one.albedo == albedo)
