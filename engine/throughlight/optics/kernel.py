"""The decorators of everything that runs inside a trace.

`kernel` marks a function that other kernels call; `entry` marks the few that Python calls, the doors. Only doors are
kept on disk (`optics.keeping`), and only they become machine code (`optics.compiling`).
"""

from __future__ import annotations

import numba
from numba.core.dispatcher import Dispatcher

from throughlight.optics.compiling import DoorCompiler, KernelCompiler
from throughlight.optics.keeping import Shelf

# No kernel allocates, so numba's reference counts are left out: handing the Stage from function to function would count
# each of its arrays up and down with atomic operations that the threads contend for (a third of the time of a trace).
_how = {"error_model": "numpy", "nogil": True, "_nrt": False}
_inside = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True, "pipeline_class": KernelCompiler}
_outside = {"no_cfunc_wrapper": True, "pipeline_class": DoorCompiler}

kernel = numba.njit(**_how, **_inside)
"""For functions that other kernels call. Python cannot call them, which saves most of the compile time; tests, which
try kernels one by one, give each a door of its own."""

inlined = numba.njit(**_how, **_inside, forceinline=True)
"""For the few small functions that the compiler must not call, since a call would cost more than the work."""


def entry(function):
    """Make a function of the kind that Python calls: compiled once, and kept on disk."""
    door = numba.njit(**_how, **_outside)(function)
    if isinstance(door, Dispatcher):
        door._cache = Shelf(function)
    return door
