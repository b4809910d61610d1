"""The two decorators of everything that runs inside a trace, and where compiled code is kept.

`kernel` marks a function that other kernels call; `entry` marks the few that Python calls. Only entries are cached on
disk: numba's cache looks at one file alone, so its folder is keyed by a hash over all of the engine's sources. An edit
anywhere therefore compiles anew, and never returns an old result.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
import tempfile
from pathlib import Path

import numba
import numpy as np

_KEPT_CACHES = 4


def user_cache() -> Path:
    """Return the folder for files that can be made again: XDG_CACHE_HOME or the system's own place."""
    if os.environ.get("XDG_CACHE_HOME"):
        return Path(os.environ["XDG_CACHE_HOME"]) / "throughlight"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", str(Path.home()))) / "throughlight"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "throughlight"
    return Path.home() / ".cache" / "throughlight"


def _sources_key() -> str:
    """Hash the kernels' sources with the versions that shape machine code."""
    digest = hashlib.sha256(f"{numba.__version__} {np.__version__} {sys.version}".encode())
    engine = Path(__file__).resolve().parent.parent
    for room in ("optics", "trace"):
        for source in sorted((engine / room).glob("*.py")):
            digest.update(source.name.encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:20]


def _prune(root: Path, keep: Path) -> None:
    """Drop all but the newest few caches; another process may be doing the same."""
    others = sorted((p for p in root.glob("kernels-*") if p != keep), key=lambda p: p.stat().st_mtime)
    for old in others[: max(0, len(others) - _KEPT_CACHES + 1)]:
        shutil.rmtree(old, ignore_errors=True)


def _choose_cache() -> str:
    """Return a writable cache folder: the user's, or one in the temporary folder when that is read-only."""
    name = f"kernels-{_sources_key()}"
    for root in (user_cache(), Path(tempfile.gettempdir()) / f"throughlight-{os.environ.get('USER', 'user')}"):
        try:
            folder = root / name
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
            _prune(root, folder)
            return str(folder)
        except OSError:
            continue
    return ""


_folder = _choose_cache()
if _folder:
    numba.config.CACHE_DIR = _folder

_alone = "THROUGHLIGHT_CALLABLE_KERNELS" not in os.environ

# No kernel allocates, so numba's reference counts are left out: handing the Stage from function to function would count
# each of its arrays up and down with atomic operations that the threads contend for (a third of the time of a trace).
_how = {"error_model": "numpy", "nogil": True, "_nrt": False}

kernel = numba.njit(**_how, no_cpython_wrapper=_alone, no_cfunc_wrapper=_alone)
"""For functions that other kernels call. Leaving out the doors from Python saves a third of the compile time; tests,
which try kernels one by one, ask for them with the environment variable THROUGHLIGHT_CALLABLE_KERNELS."""

inlined = numba.njit(**_how, forceinline=True, no_cpython_wrapper=_alone, no_cfunc_wrapper=_alone)
"""For the few small functions that the compiler must not call, since a call would cost more than the work."""

entry = numba.njit(**_how, cache=bool(_folder))
"""For the functions that Python calls; compiled once and kept on disk."""
