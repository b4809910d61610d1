"""Small arrays for the time that a function runs, kept on its own stack: no kernel asks for memory.

An array made here must not be returned. Its content is what happens to be there.
"""

from __future__ import annotations

import numba
import numpy as np
from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic

WAITING = 256
"""The most children that can wait while a ray walks a tree; see `tree.DEEPEST`."""


def _local(count, kind):
    """Return a function for kernels that makes an array of `count` numbers."""
    if numba.config.DISABLE_JIT:
        return lambda: np.empty(count, kind)
    number = types.int64 if kind is np.int64 else types.float64
    array = types.Array(number, 1, "C")

    @intrinsic
    def fresh(typing):
        def code(context, builder, signature, arguments):
            element = context.get_value_type(number)
            size = context.get_abi_sizeof(element)
            place = cgutils.alloca_once(builder, element, size=count)
            place.align = 64
            made = context.make_array(array)(context, builder)
            context.populate_array(
                made,
                data=place,
                shape=[ir.IntType(64)(count)],
                strides=[ir.IntType(64)(size)],
                itemsize=ir.IntType(64)(size),
                meminfo=None,
            )
            return made._getvalue()

        return array(), code

    return fresh


eight_keys = _local(8, np.int64)
four_distances = _local(4, np.float64)
waiting_keys = _local(WAITING, np.int64)
