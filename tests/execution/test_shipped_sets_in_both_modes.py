"""Every set that ships shows the same figures compiled, interpreted, and with bounds checked.

An interpreted run, and one with bounds checked, traces the sets in its own mode and has another process trace them as
an ordinary run does. The compiled process lays the sets out for both, for an interpreter takes a minute to make the
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
import pytest
import shipped_sets
from tiny_sets import compare

MODES = ("NUMBA_DISABLE_JIT", "NUMBA_BOUNDSCHECK")

pytestmark = pytest.mark.skipif(
    not (numba.config.DISABLE_JIT or numba.config.BOUNDSCHECK), reason="the runs in the two other modes compare"
)


def in_both_modes(folder):
    """Return what was found in this mode and in the ordinary one."""
    here = {} if numba.config.DISABLE_JIT else shipped_sets.traced(folder)
    environment = {name: value for name, value in os.environ.items() if name not in MODES}
    subprocess.run([sys.executable, shipped_sets.__file__, str(folder)], env=environment, check=True, timeout=600)
    ordinary = json.loads((folder / shipped_sets.FIGURES).read_text())
    return here or shipped_sets.traced(folder), ordinary


def test_shipped_sets_are_the_same_as_in_an_ordinary_run():
    """One test for all of them, so that they are laid out once however many processes share the tests."""
    with tempfile.TemporaryDirectory() as folder:
        here, ordinary = in_both_modes(Path(folder))
    assert len(here) == len(shipped_sets.NAMES) >= 8
    unlike = []
    for name, found in here.items():
        try:
            compare(found, ordinary[name])
        except AssertionError as difference:
            unlike.append(f"{name}: {difference}")
        assert max(found["picture by layer and band"]) > 0.0, name
    assert not unlike, "\n".join(unlike)
