"""Doors through which tests try kernels one by one, compiled as in an ordinary run.

Python can call no kernel of an ordinary run but the doors (`optics/kernel.py`). `callable_kernels` gives each kernel
that a test calls a door of its own, made at its first call and kept on disk like the engine's. `loop` compiles a
function of a test that calls kernels many times; it is not kept, because the folder's name knows no test's source.
"""

from __future__ import annotations

from functools import cache

import numba
from numba.core.registry import CPUDispatcher

from throughlight.optics import kernel as kernels
from throughlight.optics.compiling import DoorCompiler

loop = numba.njit(pipeline_class=DoorCompiler)


class _Kernel(CPUDispatcher):
    """A kernel that Python may call too."""

    def __call__(self, *arguments):
        return _door(self.py_func)(*arguments)


_door = cache(kernels.entry)


def callable_kernels() -> None:
    """Have Python call the kernels of all modules that are imported from now on."""
    for name in ("kernel", "inlined"):
        setattr(kernels, name, _callable(getattr(kernels, name)))


def _callable(decorator):
    def decorated(function):
        made = decorator(function)
        if isinstance(made, CPUDispatcher):  # a plain function where nothing is compiled
            made.__class__ = _Kernel
        return made

    return decorated
