"""The kit: every entry can be used, is described and sourced, and published values are the published ones.

Jensen et al. 2001: A practical model for subsurface light transport, Fig. 5 (as carried by pbrt-v3's medium.cpp, 1/mm).
Narasimhan et al. 2006: Acquiring scattering properties of participating media by dilution (same file, and mitsuba
0.6's materials.h, which also has g).
"""

from __future__ import annotations

import math
import re

import pytest

from throughlight import kit
from throughlight.setup import Camera, Curve, Gel, Head, Material, Sheeting, Surface

JENSEN_2001 = {
    "apple flesh": ((2.29, 2.39, 1.97), (0.0030, 0.0034, 0.046), 1.3),
    "chicken meat": ((0.15, 0.21, 0.38), (0.015, 0.077, 0.19), 1.3),
    "cream": ((7.38, 5.47, 3.15), (0.0002, 0.0028, 0.0163), 1.3),
    "tomato sauce": ((0.18, 0.07, 0.03), (0.061, 0.97, 1.45), 1.3),
    "marble": ((2.19, 2.62, 3.00), (0.0021, 0.0041, 0.0071), 1.5),
    "potato": ((0.68, 0.70, 0.55), (0.0024, 0.0090, 0.12), 1.3),
    "skim milk": ((0.70, 1.22, 1.90), (0.0014, 0.0025, 0.0142), 1.3),
    "skin, light": ((1.09, 1.59, 1.79), (0.013, 0.070, 0.145), 1.3),
    "sintered white": ((11.6, 20.4, 14.9), (0.0, 0.0, 0.0), 1.3),
    "whole milk": ((2.55, 3.21, 3.77), (0.0011, 0.0024, 0.014), 1.3),
}


def every(*kinds):
    return [
        pytest.param(entry, id=f"{entry.kind}: {entry.name}") for kind in kinds for entry in kit.entries(kind).values()
    ]


def material(name: str) -> Material:
    return Material.model_validate(dict(kit.lookup("materials", name).values))


@pytest.mark.parametrize("name", JENSEN_2001)
def test_material_jensen_2001_figure_5(name):
    scattering, absorption, index = JENSEN_2001[name]
    read = material(name)
    assert read.reduced_scattering == pytest.approx([1e3 * one for one in scattering])
    assert read.absorption == pytest.approx([1e3 * one for one in absorption])
    assert (read.n, read.g) == (index, 0.0)
    assert kit.lookup("materials", name).status == "published"


NARASIMHAN_2006 = {
    "regular milk, forward": (
        (18.2052, 20.3826, 22.3698),
        (0.00153, 0.00460, 0.01993),
        (0.750, 0.714, 0.681),
    ),
    "grapefruit juice": ((0.50499, 0.52742, 0.75282), (0.01380, 0.01883, 0.05678), (0.548, 0.545, 0.565)),
    "apple juice": ((0.00257, 0.00311, 0.00413), (0.01296, 0.02374, 0.05218), (0.947, 0.949, 0.945)),
    "cranberry juice": ((0.00196, 0.00238, 0.00301), (0.03944, 0.09422, 0.12426), (0.947, 0.951, 0.974)),
    "red wine": ((0.00081, 0.0, 0.0), (0.11632, 0.25191, 0.29434), (0.974, 0.0, 0.0)),
    "white wine": ((0.00021, 0.00033, 0.00048), (0.01078, 0.01186, 0.02400), (0.914, 0.958, 0.975)),
    "lager beer": ((0.00029, 0.00055, 0.00059), (0.01149, 0.02491, 0.05779), (0.917, 0.956, 0.982)),
    "cola": ((0.00254, 0.00299, 0.0), (0.10014, 0.16503, 0.24680), (0.965, 0.972, 0.0)),
    "shampoo gel": ((0.00797, 0.00874, 0.01127), (0.01411, 0.04569, 0.06172), (0.910, 0.905, 0.920)),
    "black coffee": ((7.78262, 8.13050, 8.53875), (4.79838, 6.57512, 8.84925), (0.907, 0.896, 0.880)),
    "chocolate milk": ((10.5685, 13.1416, 15.2202), (0.01006, 0.04313, 0.14375), (0.862, 0.838, 0.806)),
    "soy milk": ((4.66325, 5.20183, 8.74575), (0.00192, 0.00958, 0.06517), (0.873, 0.858, 0.832)),
}


@pytest.mark.parametrize("name", NARASIMHAN_2006)
def test_material_narasimhan_2006_undiluted(name):
    """One g stands for those of the bands that scatter: the full coefficient is kept, the reduced one moves with g."""
    scattering, absorption, g = NARASIMHAN_2006[name]
    read = material(name)
    assert read.scattering == pytest.approx([1e3 * one for one in scattering], rel=1e-3)
    assert read.absorption == pytest.approx([1e3 * one for one in absorption])
    scatters = [one for one, much in zip(g, scattering, strict=True) if much > 0.0]
    assert read.g == pytest.approx(sum(scatters) / len(scatters), abs=1e-3)
    assert (kit.lookup("materials", name).status, read.n) == ("published", 1.33)


def test_material_tea_has_the_colour_of_the_published_row():
    """Narasimhan et al. 2006, lemon tea: a fiftieth of its strength, in each band alike."""
    read = material("tea")
    strength = [one / much for one, much in zip(read.absorption, (2428.81, 4575.73, 7212.70), strict=True)]
    assert strength == pytest.approx([0.02, 0.02, 0.02], rel=2e-3)
    assert read.scattering == pytest.approx([one / 50.0 for one in (744.89, 838.23, 1001.58)], rel=2e-3)


# k at 650, 550 and 450 nm, and the index at 588 nm: refractiveindex 1.3.1 (open database, 24 May 2026).
ABSORPTION_INDEX = {
    "clear glass": ((1.245e-8, 7.235e-9, 1.064e-8), 1.51680),  # glass code 517642
    "window glass": ((8.371e-7, 2.200e-7, 1.925e-7), 1.52338),  # Rubin 1985, clear
    "grey glass": ((7.189e-6, 4.913e-6, 4.325e-6), 1.52338),  # Rubin 1985, grey
    "water": ((1.64e-8, 1.96e-9, 1.02e-9), 1.33340),  # Hale and Querry 1973; Daimon and Masumura 2007
    "ice": ((1.43e-8, 2.289e-9, 9.239e-11), 1.30977),  # Warren and Brandt 2008
    "glycerine": ((0.0, 0.0, 0.0), 1.47227),  # Rheims, Köser and Wriedt 1997
}


@pytest.mark.parametrize("name", ABSORPTION_INDEX)
def test_clear_matter_absorbs_by_four_pi_k_over_the_wavelength(name):
    k, index = ABSORPTION_INDEX[name]
    read = material(name)
    assert read.absorption == pytest.approx(
        [4.0 * math.pi * one / length for one, length in zip(k, (650e-9, 550e-9, 450e-9), strict=True)], rel=5e-3
    )
    assert read.n == pytest.approx(index, abs=1e-4)
    assert read.reduced_scattering == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("name", "millimetres"),
    [
        ("green bottle glass", 3.0),
        ("brown bottle glass", 3.0),
        ("cobalt glass", 3.0),
        ("honey, clear", 10.0),
        ("olive oil", 10.0),
        ("amber", 10.0),
    ],
)
def test_a_tint_passes_what_its_source_says(name, millimetres):
    """Beer and Lambert: e^(−µa·d) through the thickness and for the three shares that the entry's source names."""
    entry = kit.lookup("materials", name)
    said = re.search(r"of (\.\d\d) (\.\d\d) (\.\d\d) through (\d+) mm", entry.source)
    assert said is not None
    assert float(said.group(4)) == millimetres
    passed = [math.exp(-one * millimetres * 1e-3) for one in material(name).absorption]
    assert passed == pytest.approx([float(said.group(i)) for i in (1, 2, 3)], abs=2e-3)


# At 650, 550 and 450 nm: PROSPECT-D, N 1.5, Cab 40, Car 8, Cw .01, Cm .009 (prosail 2.0.5, run_prospect).
PROSPECT_GREEN_LEAF = [(0.04550, 0.02520), (0.15117, 0.15025), (0.04125, 0.00140)]
# Adding-doubling with 48 quadrature points, 5 mm, smooth faces, isotropic (iadpython 0.5.3): total R and T.
MARBLE_5_MM = [(0.7618, 0.1905), (0.7631, 0.1495), (0.7492, 0.1134)]
# The invented wall of 2 mm that the entry says it was computed from.
PORCELAIN_2_MM = [(0.800, 0.100), (0.785, 0.085), (0.745, 0.065)]


@pytest.mark.parametrize(
    ("name", "thickness", "expected"),
    [("leaf", 0.2e-3, PROSPECT_GREEN_LEAF), ("marble", 5e-3, MARBLE_5_MM), ("porcelain", 2e-3, PORCELAIN_2_MM)],
)
def test_a_slab_by_adding_doubling(name, thickness, expected):
    iadpython = pytest.importorskip("iadpython")
    read = material(name)
    for scatter, absorb, wanted in zip(read.scattering, read.absorption, expected, strict=True):
        extinction = scatter + absorb
        # 24 points: more make the package's own quadrature ill-conditioned
        sample = iadpython.Sample(
            a=scatter / extinction, b=extinction * thickness, g=read.g, d=1, n=read.n, quad_pts=24
        )
        assert sample.rt()[:2] == pytest.approx(wanted, abs=3e-4)


def test_there_is_enough_of_everything():
    assert len(kit.entries("bodies")) >= 6
    assert len(kit.entries("modifiers")) >= 10
    assert len(kit.entries("surfaces")) >= 8
    assert len(kit.entries("cloths")) >= 6
    assert len(kit.entries("sheets")) >= 7
    kinds = [entry.values["kind"] for one in ("surfaces", "cloths") for entry in kit.entries(one).values()]
    assert min(kinds.count("metal"), kinds.count("gloss"), kinds.count("cloth")) >= 4
    translucent = [one for one in kit.entries("materials") if max(material(one).reduced_scattering) > 0.0]
    assert len(translucent) >= 12
    assert len(kit.entries("gels")) >= 6
    assert {"white card", "silver card", "black card", "grey card", "bare steel"} <= set(kit.entries("surfaces"))
    assert {"black velvet", "black felt", "black paper", "grey paper", "white fabric"} <= set(kit.entries("cloths"))


@pytest.mark.parametrize("entry", every(*kit.KINDS))
def test_every_entry_says_what_it_is_good_for_and_where_it_comes_from(entry):
    assert entry.status in kit.STATUSES
    assert entry.title
    assert entry.good_for
    assert entry.source
    assert (entry.status == "demo") == ("invented" in entry.source)
    assert (entry.status == "common practice") <= ("common practice, no source" in entry.source)


@pytest.mark.parametrize("entry", every("materials"))
def test_every_material_can_be_used(entry):
    read = Material.model_validate(dict(entry.values))
    assert {"reduced_scattering", "absorption", "g", "n"} <= set(entry.values)
    assert all(one >= 0.0 for one in (*read.reduced_scattering, *read.absorption))
    assert 1.0 <= read.n < 2.0


@pytest.mark.parametrize("entry", every("surfaces", "cloths"))
def test_every_surface_can_be_used_and_returns_no_more_than_it_gets(entry):
    read = Surface.model_validate(dict(entry.values))
    assert all(one <= 1.0 for one in read.sheen)
    if read.kind == "metal":
        assert all(0.0 < one < 1.0 for one in normal_reflectance(*read.complex_index))
    else:
        assert all(0.0 < one < 1.0 for one in read.reflectance)


def normal_reflectance(index, extinction):
    """Fresnel's law along the normal, by band: |(n − 1 + ik)/(n + 1 + ik)|² (Born and Wolf 1999, §14.2)."""
    return [abs((complex(n, k) - 1.0) / (complex(n, k) + 1.0)) ** 2 for n, k in zip(index, extinction, strict=True)]


# Along the normal at 650, 550 and 450 nm: refractiveindex 1.3.1 (open database), Johnson and Christy 1972, Rakic 1995.
METALS = {
    "silver": (0.98983, 0.98305, 0.98024),
    "gold": (0.95652, 0.79155, 0.40819),
    "aluminium": (0.90561, 0.91537, 0.92186),
    "copper": (0.93522, 0.62351, 0.53826),
}


@pytest.mark.parametrize("name", METALS)
def test_a_metal_reflects_what_its_source_says(name):
    read = Surface.model_validate(dict(kit.lookup("surfaces", name).values))
    assert normal_reflectance(*read.complex_index) == pytest.approx(METALS[name], abs=2e-5)
    assert kit.lookup("surfaces", name).status == "published"


@pytest.mark.parametrize("entry", every("sheets"))
def test_every_sheet_can_be_used_and_returns_no_more_than_it_gets(entry):
    read = Sheeting.model_validate(dict(entry.values))
    whole = [sum(shares) for shares in zip(read.straight, read.diffuse, read.reflectance, strict=True)]
    assert all(0.0 < one <= 2.0 * read.n / (read.n**2 + 1.0) for one in whole)


@pytest.mark.parametrize(
    ("name", "most", "least"),
    [
        ("white scrim", -1.0, -1.3),
        ("tracing paper", -0.7, -1.3),
        ("light diffusion", -0.25, -0.75),
        ("heavy diffusion", -1.25, -2.0),
        ("bleached muslin", -1.5, -2.0),
        ("single black net", -0.4, -0.6),
        ("double black net", -0.9, -1.1),
    ],
)
def test_a_sheet_takes_the_stops_that_are_met(name, most, least):
    """Common practice, no source; a stop is log₂ of the share that passes."""
    read = Sheeting.model_validate(dict(kit.lookup("sheets", name).values))
    assert least <= math.log2(read.transmittance[1]) <= most


@pytest.mark.parametrize("entry", every("modifiers"))
def test_every_modifier_can_be_used(entry):
    head = Head.model_validate({**entry.values, "at": ["1 m", "0 m", "0 m"], "energy": "100 J"})
    assert 0.0 < head.efficiency <= 1.0


@pytest.mark.parametrize("entry", every("gels"))
def test_every_gel_can_be_used(entry):
    gel = Gel.model_validate(dict(entry.values))
    assert (gel.mired is None) == (gel.transmittance is not None)


@pytest.mark.parametrize(("name", "stops"), [("neutral 0.3", 1), ("neutral 0.6", 2), ("neutral 0.9", 3)])
def test_a_density_of_a_third_is_nearly_a_stop(name, stops):
    """Transmittance 10⁻ᴰ (definition of optical density); log₂ 10 = 3.3219, so that 0.3 is 0.9966 stop."""
    assert math.log2(Gel.model_validate(dict(kit.lookup("gels", name).values)).bands[0]) == pytest.approx(
        -0.9966 * stops, abs=5e-4
    )


@pytest.mark.parametrize(("name", "width", "height"), [
    ("softbox 60x60", 0.6, 0.6), ("softbox 60x90", 0.6, 0.9), ("strip 30x120", 0.3, 1.2),
    ("round softbox 90 cm", 0.9, None),
])  # fmt: skip
def test_softbox_behind_its_rim(name, width, height):
    """What is seen of the front through its rim 5 cm before it, by areas of polygons (shapely), times the cosine."""
    from shapely.affinity import translate
    from shapely.geometry import Point, box

    front = Point(0, 0).buffer(width / 2, quad_segs=256) if height is None else box(0, 0, width, height)
    profile = Head.model_validate(
        {**kit.lookup("modifiers", name).values, "at": ["1 m", "0 m", "0 m"], "energy": "100 J"}
    ).profile
    assert isinstance(profile, Curve)
    for angle, relative in zip(profile.angles[:-1], profile.intensities[:-1], strict=True):
        shift, turns = 0.05 * math.tan(angle), [math.radians(d + 0.5) for d in range(0, 360, 3)]
        seen = [front.intersection(translate(front, shift * math.cos(t), shift * math.sin(t))).area for t in turns]
        assert relative == pytest.approx(math.cos(angle) * sum(seen) / len(seen) / front.area, abs=1e-3)


@pytest.mark.parametrize("entry", every("bodies"))
def test_every_body_can_be_used(entry):
    shot = {"focal": "100 mm", "f_number": 8, "shutter": "1/125 s", "iso": 100, "at": ["0 m", "0 m", "1 m"]}
    camera = Camera.model_validate({"body": entry.name, **shot})
    assert camera.sensor_width >= camera.sensor_height


def test_crop_factor_of_the_smaller_format():
    """36x24 over 23.6x15.6 along the diagonal is 1.5294 (validated figure for these two sizes)."""
    from math import hypot

    shot = {"focal": "100 mm", "f_number": 8, "shutter": "1/125 s", "iso": 100, "at": ["0 m", "0 m", "1 m"]}
    big, small = (Camera.model_validate({"sensor": name, **shot}) for name in ("36x24", "23.6x15.6"))
    crop = hypot(big.sensor_width, big.sensor_height) / hypot(small.sensor_width, small.sensor_height)
    assert crop == pytest.approx(1.52940, abs=5e-6)


def test_names_and_other_names_are_unique():
    for kind in kit.KINDS:
        names = [name.lower() for entry in kit.entries(kind).values() for name in (entry.name, *entry.also)]
        assert len(names) == len(set(names)), kind
    both = [*kit.entries("surfaces"), *kit.entries("cloths")]
    assert len(both) == len(set(both))


def test_other_names_and_other_spellings_find_the_same_thing():
    assert kit.lookup("cloths", "Black-Velvet").name == kit.lookup("cloths", "velvet").name == "black velvet"


def test_an_unknown_name_is_told_the_nearest():
    with pytest.raises(kit.NotInKit, match='no materials called "marbel"; did you mean "marble"'):
        kit.lookup("materials", "marbel")
    with pytest.raises(kit.NotInKit, match="it has white card, black card"):
        kit.lookup("surfaces", "qqqqqq")
    with pytest.raises(kit.NotInKit, match='the kit has no "lenses"'):
        kit.entries("lenses")
