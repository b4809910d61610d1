"""Where compiled doors are kept, for the next run and for processes that run beside this one.

A door's code lies in one file, in a folder keyed by a hash over the sources of all kernels, the versions of what turns
them to machine code, and the processor: an edit anywhere compiles anew, and never returns an old result. A file appears
whole or not at all, and says what it has to hold; one that does not hold it counts as missing. So any number of
processes may start on an empty folder: each compiles for itself, and whichever is last leaves what all of them have.

The folder is the user's own for things that can be made again. Where that cannot be written to, it is read all the
same, and what is new goes to a folder in the temporary one, if that is the user's alone; where that fails too, each
process compiles for itself.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import pickle
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numba
import numpy as np
from llvmlite import binding
from numba.core import compiler, serialize
from numba.core.caching import _Cache

_KEPT_FOLDERS = 4
_DIGEST = hashlib.sha256


def user_cache() -> Path:
    """Return the folder for files that can be made again: XDG_CACHE_HOME or the system's own place.

    Raises
    ------
    RuntimeError
        Where the user has no home.
    """
    if os.environ.get("XDG_CACHE_HOME"):
        return Path(os.environ["XDG_CACHE_HOME"]) / "throughlight"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", str(Path.home()))) / "throughlight"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "throughlight"
    return Path.home() / ".cache" / "throughlight"


def _spare() -> Path:
    """Return a folder for this user in the temporary one."""
    who = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    return Path(tempfile.gettempdir()) / f"throughlight-{who}"


def _is_ours_alone(folder: Path) -> bool:
    """Return whether a folder is the user's own and nobody else may write there, so that its code can be trusted."""
    if not hasattr(os, "getuid"):
        return True  # each user has a temporary folder of their own
    try:
        state = folder.lstat()
    except OSError:
        return False
    return stat.S_ISDIR(state.st_mode) and state.st_uid == os.getuid() and not state.st_mode & 0o022


@functools.cache
def _key() -> str:
    """Hash the kernels' sources with all that shapes their machine code."""
    config = numba.config
    shape = (
        numba.__version__, binding.llvm_version_info, np.__version__, sys.version,
        binding.get_process_triple(), config.CPU_NAME or binding.get_host_cpu_name(), config.CPU_FEATURES,
        sorted(binding.get_host_cpu_features().items()), config.ENABLE_AVX,
        str(config.OPT), config.BOUNDSCHECK,
    )  # fmt: skip
    digest = _DIGEST(repr(shape).encode())
    engine = Path(__file__).resolve().parent.parent
    for room in ("optics", "trace"):
        for source in sorted((engine / room).glob("*.py")):
            digest.update(source.name.encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:20]


def _places() -> Iterator[Path]:
    """Yield the folders to look into, the user's own first."""
    with contextlib.suppress(RuntimeError):
        yield user_cache() / f"kernels-{_key()}"
    if _is_ours_alone(_spare()):
        yield _spare() / f"kernels-{_key()}"


def place_to_write() -> Path | None:
    """Return the folder where compiled code can be kept, made if need be, or None where nothing can be written."""
    with contextlib.suppress(OSError):
        _spare().mkdir(mode=0o700, exist_ok=True)
    for folder in _places():
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except OSError:
            continue
    return None


def _write(path: Path, content: bytes) -> None:
    """Put a file in its place whole: to a name of its own first, then moved."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f"{path.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(_DIGEST(content).digest() + content)
        os.chmod(name, 0o644)  # such files are made for their owner alone, but a folder may serve several users
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def _read(path: Path) -> bytes | None:
    """Return what a file was given to hold, or None if it holds something else."""
    try:
        content = path.read_bytes()
    except OSError:
        return None
    size = _DIGEST().digest_size
    return content[size:] if _DIGEST(content[size:]).digest() == content[:size] else None


def _prune(root: Path, keep: Path) -> None:
    """Drop all but the newest few folders; another process may be doing the same."""
    with contextlib.suppress(OSError):
        others = sorted((p for p in root.glob("kernels-*") if p != keep), key=lambda p: p.stat().st_mtime)
        for old in others[: max(0, len(others) - _KEPT_FOLDERS + 1)]:
            shutil.rmtree(old, ignore_errors=True)


class Shelf(_Cache):
    """Where numba looks for a door's code before it compiles, and puts it afterwards."""

    def __init__(self, function) -> None:
        self._name = f"{function.__module__.rpartition('.')[2]}.{function.__name__}"

    @property
    def cache_path(self) -> str:
        """Return the first folder that is looked into."""
        return str(next(_places(), ""))

    def load_overload(self, sig, target_context):
        """Return the compiled door for these types of arguments, or None."""
        for folder in _places():
            content = _read(folder / self._file(sig))
            if content is None:
                continue
            with contextlib.suppress(Exception):  # whatever is wrong with it, it can be made anew
                asked_for, reduced = pickle.loads(content)
                if any(binding.address_of_symbol(name) is None for name in asked_for):
                    target_context.refresh()  # costs more than all the rest, and only registers what is asked for
                return compiler.CompileResult._rebuild(target_context, *reduced)
        return None

    def save_overload(self, sig, data) -> None:
        """Keep a compiled door, if there is anywhere to."""
        folder = place_to_write()
        if folder is None:
            return
        module = data.library._final_module
        asked_for = [one.name for one in (*module.functions, *module.global_variables) if one.is_declaration]
        asked_for = [name for name in asked_for if not name.startswith("llvm.")]
        *reduced, _ = data._reduce()  # the last part tells of surroundings in Python, which no kernel uses
        with contextlib.suppress(OSError):
            _write(folder / self._file(sig), serialize.dumps((asked_for, (*reduced, ()))))
            _prune(folder.parent, folder)

    def _file(self, sig) -> str:
        return f"{self._name}-{_DIGEST(str(sig).encode()).hexdigest()[:12]}"

    def enable(self) -> None:
        """Do nothing: it always is."""

    def disable(self) -> None:
        """Do nothing: a door is asked for once."""

    def flush(self) -> None:
        """Do nothing: an edit changes the folder."""
