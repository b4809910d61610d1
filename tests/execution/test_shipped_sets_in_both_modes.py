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

import numba
import pytest
import shipped_sets
from tiny_sets import compare


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """Return what was found in this mode and in the other one."""
    folder = tmp_path_factory.mktemp("shipped")
    interpreted = bool(numba.config.DISABLE_JIT)
    if not interpreted:
        shipped_sets.laid_out(folder)
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "0" if interpreted else "1"}
    other = [sys.executable, shipped_sets.__file__, str(folder)]
    subprocess.run(other, env=environment, check=True, timeout=600)
    return shipped_sets.traced(folder), json.loads((folder / shipped_sets.FIGURES).read_text())


@pytest.mark.parametrize("name", shipped_sets.NAMES)
def test_shipped_set_is_the_same_in_both_modes(name, both):
    here, there = both
    compare(here[name], there[name])
    assert max(here[name]["film by layer and band"]) > 0.0
    assert sum(here[name]["film counts"]) > 0


def test_all_sets_are_tried():
    assert len(shipped_sets.NAMES) >= 3
