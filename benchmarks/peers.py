"""The peers: Mitsuba 3 in its fastest variant that works here, and Embree through `embreex`.

Mitsuba's LLVM variants compile for the processor and use all cores, but need a libLLVM of their liking: some are
refused and with others the whole process ends. So each candidate first renders a tiny picture in a process of its own,
newest candidate first; where none works the scalar variant is used, and the table says so.
"""

from __future__ import annotations

import functools
import glob
import os
import re
import subprocess
import sys
from typing import Any

MISSING = "no peer: pip install -e '.[bench]'"
SCALAR = "peer without LLVM (scalar_rgb): slower than its best"
_PLACES = (
    "/usr/lib/*/libLLVM*.so*", "/usr/lib/libLLVM*.so*", "/usr/lib64/libLLVM*.so*", "/usr/lib64/llvm*/lib*/libLLVM*.so*",
    "/usr/lib/llvm-*/lib/libLLVM*.so*", "/usr/local/lib/libLLVM*.so*", "/opt/homebrew/opt/llvm*/lib/libLLVM*.dylib",
    "/usr/local/opt/llvm*/lib/libLLVM*.dylib",
)  # fmt: skip
_OLDEST = 16
_TRY = """
import mitsuba as mi
mi.set_variant("llvm_ad_rgb")
ball = {"type": "sphere", "to_world": mi.ScalarTransform4f().translate([0, 0, 4])}
film = {"type": "hdrfilm", "width": 4, "height": 4}
things = {"ball": ball, "sky": {"type": "constant"}, "eye": {"type": "perspective", "film": film}}
picture = mi.render(mi.load_dict({"type": "scene", "how": {"type": "path"}, **things}), spp=4)
assert float(picture.numpy().mean()) > 0.1
"""


def version_of(library: str) -> int:
    """Return the major version that the name of a libLLVM tells, 0 when it tells none."""
    found = re.search(r"libLLVM(?:\.so\.|\.so-|-|\.)(\d+)", os.path.basename(library))
    return int(found.group(1)) if found else 0


def candidates(found: list[str], named: str | None) -> list[str]:
    """Return which libraries to try in order: the named one alone, or the newest first; "" is the peer's own choice."""
    if named:
        return [named]
    return ["", *sorted({path for path in found if version_of(path) >= _OLDEST}, key=version_of, reverse=True)]


def _works(library: str) -> bool:
    environment = {key: value for key, value in os.environ.items() if key != "DRJIT_LIBLLVM_PATH"}
    if library:
        environment["DRJIT_LIBLLVM_PATH"] = library
    try:
        done = subprocess.run([sys.executable, "-c", _TRY], capture_output=True, env=environment, timeout=120)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


@functools.cache
def mitsuba() -> tuple[Any, str] | None:
    """Return Mitsuba with its best variant set, and the variant's name; None when it is not installed."""
    try:
        import mitsuba as mi
    except ImportError:
        return None
    found = [path for place in _PLACES for path in glob.glob(place)]
    for library in candidates(found, os.environ.get("DRJIT_LIBLLVM_PATH")):
        if _works(library):
            if library:
                os.environ["DRJIT_LIBLLVM_PATH"] = library
            mi.set_variant("llvm_ad_rgb")
            return mi, "llvm_ad_rgb"
    mi.set_variant("scalar_rgb")
    return mi, "scalar_rgb"


def note(variant: str) -> str:
    """Return what a reader must know of a variant."""
    return "" if variant.startswith("llvm") else SCALAR


@functools.cache
def embree() -> Any | None:  # noqa: ANN401 - untyped library
    """Return what makes an Embree scene of corners (v, 3) and faces (n, 3); None when `embreex` is not installed."""
    try:
        from embreex.mesh_construction import TriangleMesh
        from embreex.rtcore_scene import EmbreeScene
    except ImportError:
        return None
    import numpy as np

    def scene(vertices: Any, faces: Any) -> Any:  # noqa: ANN401 - untyped library
        made = EmbreeScene()
        TriangleMesh(made, np.ascontiguousarray(vertices, np.float32), np.ascontiguousarray(faces, np.int32))
        # The tree is built by the first question.
        made.run(np.zeros((1, 3), np.float32), np.array([[0, 0, 1]], np.float32), query="DISTANCE")
        return made

    return scene
