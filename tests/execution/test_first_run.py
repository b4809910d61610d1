"""The first run on a fresh install: processes that start at once on an empty cache, and what they say and leave."""

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


class Run:
    """A process that starts now, of which one hears later on."""

    def __init__(self, cache: Path, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, *arguments], env={**os.environ, "XDG_CACHE_HOME": str(cache)}, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip

    def told(self) -> tuple[str, str]:
        """Return what it printed, and what it printed on the side."""
        out, aside = self.process.communicate(timeout=600)
        assert self.process.returncode == 0, aside
        return out, aside


def _traced(cache: Path) -> Run:
    here = Path(__file__).parent
    return Run(cache, "-c", _TRACE, str(here), str(here.parent))


def _metered(cache: Path, file: Path) -> Run:
    return Run(cache, "-m", "throughlight", "meter", str(file), "--tolerance", "1 stop", "--seed", "1")


def test_processes_that_start_at_once_on_an_empty_cache_all_serve_and_leave_it_usable(tmp_path):
    cache, file = tmp_path / "cache", tmp_path / "set.toml"
    file.write_text(_SETUP, encoding="utf-8")
    first = [_traced(cache), _metered(cache, file)]
    (out, _), (readings, aside) = [run.told() for run in first]
    assert aside in (_SAID, "")  # "" had the other process been done before this one began
    one, compiled = json.loads(out)
    assert compiled > 0
    expected = json.loads(FIGURES.read_text())
    for name in expected:
        compare(one[name], expected[name])

    found, compiled = json.loads(_traced(cache).told()[0])
    assert compiled == 0
    assert found == one
    again, aside = _metered(cache, file).told()
    assert aside == ""
    assert _TIME.sub("", again) == _TIME.sub("", readings)
    assert len(list(cache.rglob("*-*"))) == 4, "the folder, and one file for each of three doors"
