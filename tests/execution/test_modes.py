"""The same figures in every mode of execution: compiled, interpreted, and with bounds checked.

The figures of a few tiny sets stand in figures.json as a compiled run gave them; they are regression values between the
modes of execution, no outside check of anything (those are in tests/validation). They change whenever the order of the
random numbers or of the arithmetic does, and are then written anew: see tiny_sets.py. To be run three times:

    pytest tests/execution
    NUMBA_DISABLE_JIT=1 pytest tests/execution
    NUMBA_BOUNDSCHECK=1 pytest tests/execution
"""

from __future__ import annotations

import json
import warnings

import numba
import numpy as np
import pytest
import tiny_sets

from throughlight.trace import expose as doors
from throughlight.trace import layers, tree

EXPECTED = json.loads(tiny_sets.FIGURES.read_text())


@pytest.mark.parametrize("name", tiny_sets.SETS)
def test_figures_are_those_of_a_compiled_run(name):
    with warnings.catch_warnings():
        # Interpreted, NumPy tells of each product modulo 2⁶⁴, which hashing wants.
        warnings.simplefilter("ignore", RuntimeWarning)
        found = tiny_sets.trace(tiny_sets.SETS[name]())
    tiny_sets.compare(found, EXPECTED[name])


def test_figures_tell_of_every_kind():
    """Each layer of light is found somewhere, and each sampler finds something in each set."""
    for name, told in EXPECTED.items():
        for sampler in ("film", "picture", "front"):
            assert max(told[f"{sampler} by layer and band"]) > 0.0, (name, sampler)
        assert sum(told["sorted film"]) > 0


@pytest.mark.parametrize("name", tiny_sets.SETS)
def test_layers_that_guide_a_denoiser_keep_their_bounds(name):
    """Mean albedo lies in 0..1, a mean of unit normals is no longer than 1 and turned to the camera."""
    stage, cells = tiny_sets.SETS[name](), np.arange(16, dtype=np.int64)
    albedo, normal = np.zeros((16, 3)), np.zeros((16, 3))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        layers.look(stage, 4, 4, cells, 4, 1, 0, albedo, normal)
    assert albedo.min() >= 0.0
    assert 0.0 < albedo.max() <= 4.0
    assert np.linalg.norm(normal, axis=1).max() <= 4.0 + 1e-9
    assert normal[:, 2].max() > 0.0


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
def test_each_door_is_compiled_once():
    """Whatever the set holds, the kernels that Python calls have one signature: nothing is ever compiled twice."""
    for make in tiny_sets.SETS.values():
        tiny_sets.trace(make())
    for door in (doors.expose, doors.sort_film, layers.look, tree._build):
        assert len(door.signatures) == 1, door.py_func.__name__


@pytest.mark.skipif(not numba.config.BOUNDSCHECK, reason="asked for with NUMBA_BOUNDSCHECK=1")
def test_bounds_are_checked():
    """A row beyond the end is an error in this mode, so the other tests show that there is none."""

    @numba.njit
    def beyond(values):
        return values[len(values)]

    with pytest.raises(IndexError):
        beyond(np.zeros(3))
