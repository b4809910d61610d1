"""The first runs on a fresh install: what they say and leave. Of such as start at once: optics/test_keeping.py."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numba
import pytest
from tiny_sets import FIGURES, compare

from plain_camera import CAMERA

pytestmark = pytest.mark.skipif(
    bool(numba.config.DISABLE_JIT or numba.config.BOUNDSCHECK), reason="of the ordinary, compiled mode"
)
_TRACE = """
import json, sys
sys.path[:0] = sys.argv[1:]
from numba.core import event
import tiny_sets
with event.install_recorder("numba:compile") as recorder:
    found = {name: tiny_sets.trace(tiny_sets.SETS[name]()) for name in tiny_sets.SETS}
print(json.dumps([found, len(recorder.buffer) // 2]))
"""
_SETUP = (
    CAMERA
    + """
[backdrop]
distance = "90 cm"
width = "140 cm"
height = "140 cm"
cloth = "grey paper"
[ambient]
illuminance = "100 lx"
"""
)
_SAID = "compiling the tracer for this computer, once\n"
_TIME = re.compile(r"in [\d.]+ s\b")


def _told(cache: Path, *arguments: str) -> tuple[str, str]:
    """Return what a process printed, and what it printed on the side."""
    run = subprocess.run(
        [sys.executable, *arguments], env={**os.environ, "XDG_CACHE_HOME": str(cache)}, text=True,
        capture_output=True, timeout=600,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    return run.stdout, run.stderr


def _traced(cache: Path) -> tuple[dict, int]:
    """Return the figures of the tiny sets, and how many functions were compiled for them."""
    here = Path(__file__).parent
    return json.loads(_told(cache, "-c", _TRACE, str(here), str(here.parent))[0])


def _metered(cache: Path, file: Path) -> tuple[str, str]:
    return _told(cache, "-m", "throughlight", "meter", str(file), "--tolerance", "1 stop", "--seed", "1")


def test_the_first_run_says_that_it_compiles_and_leaves_what_later_ones_load(tmp_path):
    cache, file = tmp_path / "cache", tmp_path / "set.toml"
    file.write_text(_SETUP, encoding="utf-8")
    readings, aside = _metered(cache, file)
    assert aside == _SAID
    one, compiled = _traced(cache)
    assert compiled > 0, "the door that the meter had no use for"
    expected = json.loads(FIGURES.read_text())
    for name in expected:
        compare(one[name], expected[name])

    found, compiled = _traced(cache)
    assert compiled == 0
    assert found == one
    again, aside = _metered(cache, file)
    assert aside == ""
    assert _TIME.sub("", again) == _TIME.sub("", readings)
    assert len(list(cache.rglob("*-*"))) == 4, "the folder, and one file for each of three doors"
