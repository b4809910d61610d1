"""How kernels become machine code: typed and lowered one by one, but linked and optimised once, inside their door.

By itself numba gives each function machine code of its own, optimised together with all that it calls; one that is
called through ten others is then optimised eleven times. Here a kernel stays as it was lowered, and only the doors that
Python calls are linked with all that they need, however deep, then optimised and turned to machine code. That halves
the time of compiling and leaves the arithmetic as it is.

Both compilers keep to numba's pipeline and give it other libraries of code, which rest on how numba 0.61 to 0.68 go
about linking.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numba
from llvmlite import binding
from numba.core import event
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler

_COMPILATION = "numba:compile"
_SELDOM = 20_000  # new objects between two looks for rubbish; by default 700


class _Part(JITCodeLibrary):
    """The code of one kernel, neither optimised nor turned to machine code, and which libraries it calls."""

    def finalize(self):
        self._raise_if_finalized()
        self._finalized = True

    def get_pointer_to_function(self, name):
        """Return that there is no such function that Python could call."""
        return 0

    @property
    def codegen(self):
        return _NowhereToSet


class _NowhereToSet:
    """Stands for the code generator where numba wants to tell a kernel's code of its surroundings in Python."""

    @staticmethod
    def set_env(name, environment):
        """Do nothing: only what raises or prints uses them, and no kernel does."""


class _Whole(JITCodeLibrary):
    """The code of a door with that of all kernels below it."""

    def finalize(self):
        self._linking_libraries = _all_below(self._linking_libraries)
        super().finalize()

    def _optimize_final_module(self):
        with _loops_one_by_one():
            super()._optimize_final_module()

    def serialize_using_object_code(self):
        """Return the machine code, without what would let other code be linked with it: no kernel calls a door."""
        names = [function.name for function in self._final_module.functions if not function.is_declaration]
        text = "\n".join(f'define void @"{name}"() {{ ret void }}' for name in names)
        return self.name, "object", (self._get_compiled_object(), binding.parse_assembly(text).as_bitcode())


def _all_below(libraries):
    """Return the libraries and all that they call, each once, in the order that they are met."""
    met, waiting = {}, list(reversed(libraries))
    while waiting:
        library = waiting.pop()
        if library not in met:
            met[library] = None
            waiting += reversed(library._linking_libraries)
    return list(met)


class KernelCompiler(Compiler):
    """Compiles a function that only kernels and doors call."""

    def compile_extra(self, func):
        """Type and lower it."""
        self.state.library = _Part(self.state.targetctx.codegen(), func.__qualname__)
        return super().compile_extra(func)


class DoorCompiler(Compiler):
    """Compiles a function that Python calls, with all that it calls."""

    def compile_extra(self, func):
        """Type, lower, link and optimise it."""
        self.state.library = _Whole(self.state.targetctx.codegen(), func.__qualname__)
        self.state.library.enable_object_caching()
        with _rubbish_left_lying():
            return super().compile_extra(func)


@contextmanager
def _rubbish_left_lying() -> Iterator[None]:
    """Have Python look for rubbish less often: a compiler makes objects by the million and drops few of them."""
    before = gc.get_threshold()
    gc.set_threshold(max(_SELDOM, before[0]), *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


@contextmanager
def _loops_one_by_one() -> Iterator[None]:
    """Have no loop turned into one over several numbers at a time.

    The tracer's loops run over three bands or a few heads, and what is made for longer ones takes a tenth of its time.
    """
    before = numba.config.LOOP_VECTORIZE
    numba.config.LOOP_VECTORIZE = 0
    try:
        yield
    finally:
        numba.config.LOOP_VECTORIZE = before


class Stopwatch:
    """Counts the seconds that are spent on something."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def add(self, seconds: float) -> None:
        """Count some more."""
        self.seconds += seconds


@contextmanager
def compiling_timed() -> Iterator[Stopwatch]:
    """Count the seconds that this process spends on compiling meanwhile, in whichever thread."""
    watch = Stopwatch()
    with event.install_timer(_COMPILATION, watch.add):
        yield watch


class _Start(event.Listener):
    def __init__(self, told: Callable[[], None]) -> None:
        self.told, self.said = told, False

    def on_start(self, event):
        if not self.said:
            self.said = True
            self.told()

    def on_end(self, event):
        pass


@contextmanager
def compiling_told(told: Callable[[], None]) -> Iterator[None]:
    """Call a function once, at the first compilation meanwhile, if there is one."""
    with event.install_listener(_COMPILATION, _Start(told)):
        yield
