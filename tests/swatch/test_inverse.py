"""Matter from transmittance: published coefficients come back from slabs computed elsewhere, and limits are kept."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throughlight.swatch.inverse import FLOOR, Kind, absorption_for, coefficients_for, transmittance

# Slabs of published matter: n, µs′ and µa in 1/mm, thickness in mm, T along the normal, T of an even hemisphere.
# Only bands that absorb enough for a slab to tell.
# Coefficients: Jensen, Marschner, Levoy and Hanrahan 2001, Fig. 5; T: adding–doubling with 48 points (iadpython 0.5.3).
SLABS = {
    "apple, blue": (1.3, 1.97, 0.046, 3.0, 0.1456, 0.1282),
    "marble, green": (1.5, 2.62, 0.0041, 5.0, 0.1495, 0.1369),
    "marble, blue": (1.5, 3.00, 0.0071, 3.0, 0.2014, 0.1843),
    "potato, blue": (1.3, 0.55, 0.12, 3.0, 0.2565, 0.2058),
    "skin, red": (1.3, 0.74, 0.032, 3.0, 0.3625, 0.3151),
    "skin, green": (1.3, 0.88, 0.17, 3.0, 0.1300, 0.1022),
    "skin, blue": (1.3, 1.01, 0.48, 3.0, 0.0272, 0.0180),
    "milk, blue": (1.3, 3.77, 0.014, 3.0, 0.1262, 0.1130),
}


@pytest.mark.parametrize("name", SLABS)
def test_published_absorption_comes_back(name):
    n, reduced, absorb, thickness, along, even = SLABS[name]
    for seen, passed in (("light table", along), ("diffuse", even)):
        near = transmittance(Kind(reduced * 1e3, 0.0, n), absorb * 1e3 * np.array([1.0, 1.02]), thickness * 1e-3, seen)
        slope = 0.02 / (near[0] - near[1])  # relative change of absorption for a change of transmittance
        found = absorption_for(passed, reduced * 1e3, 0.0, n, thickness * 1e-3, seen)
        # half a unit of the last digit, 1e-4 of quadrature, 0.3 % of T of interpolation
        allowed = slope * (1.5e-4 + 0.003 * passed)
        assert found == pytest.approx(absorb * 1e3, rel=allowed), seen
        assert allowed < 0.15


@pytest.mark.parametrize(("n", "t", "passed"), [(1.5, 0.95, 0.876786), (1.65, 0.98, 0.868646), (1.49, 0.92, 0.851206)])
def test_clear_plate(n, t, passed):
    # T = (1 − F)²·t/(1 − F²t²), F = ((n − 1)/(n + 1))² (e.g. Born and Wolf, Principles of Optics).
    assert absorption_for(passed, 0.0, 0.0, n, 2e-3) == pytest.approx(-math.log(t) / 2e-3, rel=2e-3)


kinds = st.builds(
    Kind,
    st.floats(0.0, 5e4),
    st.sampled_from([0.0, 0.6, 0.9]),
    st.sampled_from([1.0, 1.33, 1.54]),
)


@settings(max_examples=12, deadline=None)
@given(kinds, st.sampled_from(["light table", "diffuse"]))
def test_what_comes_out_passes_what_went_in(kind, seen):
    """Within 1 % of the transmittance, from the floor to a clear plate."""
    clear = float(transmittance(kind._replace(reduced_scattering=0.0), 0.0, 3e-3, seen))
    wanted = np.geomspace(FLOOR * 1.001, clear, 37)
    matter = coefficients_for(wanted, kind, 3e-3, seen)
    passed = transmittance(kind, matter.absorption, 3e-3, seen, matter.reduced_scattering)
    assert passed == pytest.approx(wanted, rel=0.01)
    assert matter.dark == 0.0
    assert np.all(np.diff(matter.absorption) <= 0.0)
    assert np.all(np.diff(matter.reduced_scattering) <= 0.0)
    assert np.all((matter.absorption == 0.0) | (matter.reduced_scattering == kind.reduced_scattering))


def test_what_cannot_be_told_is_counted():
    kind = Kind(2000.0, 0.0, 1.5)
    matter = coefficients_for([[0.0, FLOOR, 0.1], [0.3, 0.95, 1.0]], kind, 3e-3)
    assert matter.dark == pytest.approx(2 / 6)
    assert matter.bright == pytest.approx(2 / 6)  # a clear plate of index 1.5 passes 0.923
    assert matter.absorption[0, 0] == matter.absorption[0, 1] > matter.absorption[0, 2] > 0.0
    assert matter.reduced_scattering[1, 2] == 0.0
    assert matter.reduced_scattering[0, 0] == 2000.0


def test_a_picture_takes_no_time():
    wanted = np.random.default_rng(3).uniform(0.0, 0.6, (316, 316))
    begin = time.perf_counter()
    coefficients_for(wanted, Kind(2200.0, 0.6, 1.5), 5e-3)
    assert time.perf_counter() - begin < 2.0


@pytest.mark.parametrize(
    ("kind", "thickness"), [(Kind(-1.0, 0, 1.5), 1.0), (Kind(1.0, 0, 1.5), 0.0), (Kind(math.nan, 0, 1.5), 1.0)]
)
def test_no_such_slab(kind, thickness):
    with pytest.raises(ValueError):
        coefficients_for([0.5], kind, thickness)
