"""Every set that ships shows the same figures compiled and interpreted.

Each run traces the sets in its own mode (with bounds checked, where that is asked for) and has another process trace
them in the other one. The compiled process lays the sets out for both, for an interpreter takes a minute to make the
tree of a large mesh; that it makes the same trees is seen with the small meshes of tiny_sets.py.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numba
import shipped_sets
from tiny_sets import compare


def in_both_modes(folder):
    """Return what was found in this mode and in the other one."""
    interpreted = bool(numba.config.DISABLE_JIT)
    here = {} if interpreted else shipped_sets.traced(folder)
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "0" if interpreted else "1"}
    subprocess.run([sys.executable, shipped_sets.__file__, str(folder)], env=environment, check=True, timeout=600)
    there = json.loads((folder / shipped_sets.FIGURES).read_text())
    return here or shipped_sets.traced(folder), there


def test_shipped_sets_are_the_same_in_both_modes():
    """One test for all of them, so that they are laid out once however many processes share the tests."""
    with tempfile.TemporaryDirectory() as folder:
        here, there = in_both_modes(Path(folder))
    assert len(here) == len(shipped_sets.NAMES) >= 8
    unlike = []
    for name, found in here.items():
        try:
            compare(found, there[name])
        except AssertionError as difference:
            unlike.append(f"{name}: {difference}")
        assert max(found["picture by layer and band"]) > 0.0, name
    assert not unlike, "\n".join(unlike)
