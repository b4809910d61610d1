"""Adding–doubling against published slabs, an independent implementation, closed forms and the laws it must keep."""

from __future__ import annotations

import math

import numpy as np
import pytest
from grid import GRID
from hypothesis import given, settings
from hypothesis import strategies as st

from throughlight.swatch.adding_doubling import Layer, layer_of, slab
from throughlight.swatch.nodes import cosines, nodes_for, radau

GRID_ERROR = 2e-5


@pytest.mark.parametrize(("points", "error"), [(24, 2e-4), (48, GRID_ERROR)])
def test_slabs_of_an_independent_adding_doubling(points, error):
    for n, g, albedo, tau, *expected in GRID:
        found = slab([Layer(albedo, tau, g, n)], points)
        assert found == pytest.approx(expected, abs=error), (n, g, albedo, tau)


def test_slab_van_de_hulst_1980_table_35():
    # µa 10/cm, µs 90/cm, g 0.75, d 0.02 cm, matched index: Rd 0.09739, Tt 0.66096. Van de Hulst 1980, Multiple Light
    # Scattering, as quoted by Wang, Jacques and Zheng 1995, Comput. Methods Programs Biomed. 47:131, table 1.
    found = slab([layer_of(9000.0, 1000.0, 0.75, 1.0, 0.2e-3)])
    assert found[:2] == pytest.approx((0.09739, 0.66096), abs=1e-5)


def test_half_space_giovanelli_1955():
    # Albedo 0.9, isotropic, n 1.5: total R 0.2600 (from memory, through Wang, Jacques and Zheng 1995, table 2). Another
    # adding–doubling gives 0.25992 with 96 points.
    assert slab([Layer(0.9, 100.0, 0.0, 1.5)]).R_coll == pytest.approx(0.2600, abs=2e-4)


def test_two_layers_of_different_index():
    # 0.1 mm of µa 2/mm, µs 20/mm, g 0.7, n 1.3 on a half space of µa 1/mm, µs 20/mm, g 0.9, n 1.4: mirrored 0.0170 and
    # scattered back 0.1050, or 0.1049 ± 0.0002 by another code (Virtual Photonics, wiki of Vts.MonteCarlo, page "MCCL
    # Validation And Comparison With MCML").
    stack = [layer_of(20e3, 2e3, 0.7, 1.3, 0.1e-3), layer_of(20e3, 1e3, 0.9, 1.4, 50e-3)]
    assert slab(stack).R_coll == pytest.approx(0.0170 + 0.1050, abs=2e-4)
    assert slab(stack).T_coll < 1e-9


@pytest.mark.parametrize(("one", "other"), [((0.9, 1.0, 0.5), (0.99, 4.0, 0.8)), ((0.5, 0.3, 0.0), (1.0, 8.0, 0.9))])
def test_two_layers_of_one_index_by_iadpython(one, other):
    iadpython = pytest.importorskip("iadpython")
    from iadpython import combine, start

    sample = iadpython.Sample(a=one[0], b=one[1], g=one[2], d=1, n=1.4, quad_pts=24)
    top = combine.simple_single_layer_matrices(sample)
    boundary = start.boundary_layer(sample)
    sample.a, sample.b, sample.g = other
    low = combine.simple_single_layer_matrices(sample)
    both = combine.add_layers(sample, top[0], top[0], top[1], top[1], low[0], low[0], low[1], low[1])
    r01, r10, t01, t10 = boundary
    above = combine.add_slide_above(sample, r01, r10, t01, t10, *both)
    whole = combine.add_slide_below(sample, *above, r10, r01, t10, t01)
    expected = sample.UX1_and_UXU(whole[0], whole[2])
    found = slab([Layer(*one, 1.4), Layer(*other, 1.4)])
    assert found == pytest.approx(expected, abs=5e-4)  # 24 points there are good for 3e-4


@pytest.mark.parametrize(
    ("n", "t", "expected"),
    [(1.5, 0.95, (0.073318, 0.876786)), (1.65, 0.98, (0.111380, 0.868646)), (1.49, 0.92, (0.069051, 0.851206))],
)
def test_absorbing_clear_plate(n, t, expected):
    # T = (1 − F)²·t/(1 − F²t²), R = F + F(1 − F)²t²/(1 − F²t²), F = ((n − 1)/(n + 1))²: incoherent plate of internal
    # transmittance t at normal incidence (e.g. Born and Wolf, Principles of Optics).
    assert slab([Layer(0.0, -math.log(t), 0.0, n)])[:2] == pytest.approx(expected, abs=1e-6)


def test_clear_plate_lets_everything_on():
    # Normal incidence, incoherent: T = 2n/(n² + 1).
    found = slab([Layer(0.0, 0.0, 0.0, 1.5)])
    assert found.T_coll == pytest.approx(3.0 / 3.25, abs=1e-9)
    assert found.R_coll + found.T_coll == pytest.approx(1.0, abs=1e-9)


layers = st.builds(
    Layer,
    st.floats(0.0, 1.0),
    st.floats(0.0, 60.0),
    st.sampled_from([-0.5, 0.0, 0.5, 0.9]),
    st.sampled_from([1.0, 1.33, 1.5, 1.7]),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(layers, min_size=1, max_size=3))
def test_stacks_keep_the_laws(stack):
    """Nothing is made, and Helmholtz reciprocity: from below a stack passes what it passes from above."""
    found = slab(stack)
    assert all(-1e-9 <= one <= 1.0 + 1e-9 for one in found)
    assert found.R_coll + found.T_coll <= 1.0 + 1e-7
    assert found.R_diff + found.T_diff <= 1.0 + 1e-7
    turned = slab(stack[::-1])
    assert turned.T_diff == pytest.approx(found.T_diff, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(layers, min_size=1, max_size=3))
def test_matter_that_absorbs_nothing_loses_nothing(stack):
    found = slab([layer._replace(albedo=1.0) for layer in stack])
    assert found.R_coll + found.T_coll == pytest.approx(1.0, abs=1e-6)
    assert found.R_diff + found.T_diff == pytest.approx(1.0, abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(layers, st.floats(0.05, 0.95))
def test_a_layer_cut_in_two_is_the_same_layer(layer, share):
    albedo, tau, g, n = layer
    halves = [Layer(albedo, share * tau, g, n), Layer(albedo, (1.0 - share) * tau, g, n)]
    assert slab(halves) == pytest.approx(slab([layer]), abs=1e-7)


def test_arrays_are_solved_as_one_by_one():
    albedo, tau = np.array([[0.5, 1.0], [0.9, 0.0]]), np.array([[1.0, 20.0], [0.01, 3.0]])
    together = slab([Layer(albedo, tau, 0.8, 1.4), Layer(0.5, 0.2, 0.0, 1.33)])
    for i in np.ndindex(2, 2):
        alone = slab([Layer(albedo[i], tau[i], 0.8, 1.4), Layer(0.5, 0.2, 0.0, 1.33)])
        assert [flux[i] for flux in together] == pytest.approx(list(alone), abs=1e-9)


@pytest.mark.parametrize("count", [2, 5, 24, 48])
def test_radau_nodes(count):
    """Inner nodes are the zeros of the Jacobi polynomial P⁽¹·⁰⁾ of degree count − 1 (scipy), moved to (0, 1)."""
    special = pytest.importorskip("scipy.special")
    x, w = radau(count)
    inner = special.roots_jacobi(count - 1, 1, 0)[0]
    assert x == pytest.approx(np.append(0.5 * (1.0 + inner), 1.0), abs=1e-14)
    for degree in range(2 * count - 1):
        assert w @ x**degree == pytest.approx(1.0 / (degree + 1.0), abs=1e-13)


def test_nodes_of_all_layers_carry_the_same_flux():
    """n²∫µdµ over the directions that a layer has is n²/2 (Lambert), less nothing."""
    nodes = nodes_for([1.3, 1.5, 1.0], 48)
    for n in (1.0, 1.3, 1.5):
        _, cosine, weight = cosines(nodes, n)
        assert cosine @ weight == pytest.approx(0.5, abs=1e-12)
        assert weight.sum() == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(
    "stack",
    [
        [],
        [Layer(1.1, 1.0, 0.0, 1.5)],
        [Layer(0.5, -1.0, 0.0, 1.5)],
        [Layer(0.5, 1.0, 1.0, 1.5)],
        [Layer(0.5, 1.0, 0.0, 0.9)],
        [Layer(math.nan, 1.0, 0.0, 1.5)],
        [Layer(0.5, math.inf, 0.0, 1.5)],
    ],
)
def test_what_no_matter_is(stack):
    with pytest.raises(ValueError):
        slab(stack)


def test_too_few_directions():
    with pytest.raises(ValueError, match="two a piece would fit"):
        slab([Layer(0.5, 1.0, 0.0, 1.3), Layer(0.5, 1.0, 0.0, 1.5)], points=4)


def test_clear_plates_beside_very_thick_slabs():
    """One batch of clear plates and deep slabs: T = 2n/(n² + 1) of a clear plate (two faces, Born and Wolf), to 1e-6.

    Cut as often as its neighbour, a clear plate's parts lose less than rounding, and light caught in it never ends.
    """
    for deep in (1e3, 1e6, 1e9):
        for n in (1.33, 1.5):
            flux = slab([layer_of(np.array([0.0, 1e-12, deep]), np.array([0.0, 0.0, 1e-3]), 0.0, n, 1.0)])
            assert flux.T_coll[:2] == pytest.approx(2.0 * n / (n * n + 1.0), abs=1e-6)
            assert flux.T_coll[:2] + flux.R_coll[:2] == pytest.approx(1.0, abs=1e-6)
            assert np.all(np.isfinite(flux.T_diff))
