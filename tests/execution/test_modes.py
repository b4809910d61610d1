"""The same figures in every mode of execution: compiled, interpreted, and with bounds checked.

The figures of a few tiny sets stand in figures.json as a compiled run gave them; they are regression values between the
modes of execution, no outside check of anything (those are in tests/validation). They change whenever the order of the
random numbers or of the arithmetic does, and are then written anew: see tiny_sets.py. To be run three times:

    pytest tests/execution
    NUMBA_DISABLE_JIT=1 pytest tests/execution
    NUMBA_BOUNDSCHECK=1 pytest tests/execution

The third wants a cache of kernels of its own (XDG_CACHE_HOME), or it would load those compiled without checks.
"""

from __future__ import annotations

import json
import warnings

import numba
import numpy as np
import pytest
import tiny_sets

from throughlight.trace import expose as doors
from throughlight.trace import tree

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


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
def test_each_door_is_compiled_once():
    """Whatever the set holds, the kernels that Python calls have one signature: nothing is ever compiled twice."""
    for make in tiny_sets.SETS.values():
        tiny_sets.trace(make())
    for door in (doors.expose, doors.sort_film, tree._build):
        assert len(door.signatures) == 1, door.py_func.__name__


@pytest.mark.skipif(not numba.config.BOUNDSCHECK, reason="asked for with NUMBA_BOUNDSCHECK=1")
def test_bounds_are_checked():
    """A row beyond the end is an error in this mode, so the other tests show that there is none."""

    @numba.njit
    def beyond(values):
        return values[len(values)]

    with pytest.raises(IndexError):
        beyond(np.zeros(3))
