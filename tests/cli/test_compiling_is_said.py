"""A line on the screen while kernels compile, once, and none where they are loaded; no time limit runs meanwhile."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numba
import numpy as np
import pytest
from numba.core import event

from plain_camera import CAMERA
from throughlight.cli import progress
from throughlight.optics import keeping
from throughlight.optics.kernel import entry
from throughlight.readings import meter as metering
from throughlight.readings import picture as picturing
from throughlight.readings.film import Film
from throughlight.setup import loads

ONCE = "compiling the tracer for this computer, once"
SETUP = CAMERA + '\npixels = [24, 16]\n[ambient]\nilluminance = "100 lx"\n'
SLOW = 0.2


def _thrice(x):
    return 3 * x


def _compile() -> None:
    assert entry(_thrice)(7) == 21


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
def test_a_line_while_kernels_compile(cache, capsys):
    for said in (ONCE + "\n", ""):
        with progress.work_progress(quiet=False):
            _compile()
        assert capsys.readouterr().err == said


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
def test_quiet_is_quiet(cache, capsys):
    with progress.work_progress(quiet=True):
        _compile()
    assert capsys.readouterr().err == ""


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
def test_it_says_when_what_is_compiled_cannot_be_kept(cache, capsys, monkeypatch):
    file = cache / "file"
    file.write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(file))
    monkeypatch.setattr(keeping, "_spare", lambda: file / "spare")
    with progress.preview_progress(cache / "preview.png", quiet=False):
        _compile()
    said = capsys.readouterr().err
    assert "anew" in said
    assert "XDG_CACHE_HOME" in said


def _slow(*_: object) -> None:
    """Take a while, as compiling does, and announce it as numba does."""
    with event.trigger_event("numba:compile", data={}):
        time.sleep(SLOW)


class _Enough(Exception):
    pass


def _deadline_of(work: Callable[[], object], seen: list[float]) -> float:
    with pytest.raises(_Enough):
        work()
    return seen[0]


def test_compiling_does_not_count_against_the_time_limit_of_readings(monkeypatch):
    seen: list[float] = []

    def run(*_: object, deadline: float, **__: object) -> None:
        seen.append(deadline)
        raise _Enough

    monkeypatch.setattr(metering, "make_ready", _slow)
    monkeypatch.setattr(metering, "run", run)
    setup, before = loads(SETUP), time.monotonic()
    deadline = _deadline_of(lambda: metering.meter(setup, time_limit=5.0), seen)
    assert before + 5.0 + SLOW <= deadline <= time.monotonic() + 5.0


def test_compiling_does_not_count_against_the_time_limit_of_the_picture(monkeypatch):
    seen: list[float] = []

    def first_samples(self: picturing._Exposure, pool: object) -> bool:
        seen.append(self.deadline)
        raise _Enough

    monkeypatch.setattr(Film, "make_ready", _slow)
    monkeypatch.setattr(picturing._Exposure, "_first_samples", first_samples)
    setup, before = loads(SETUP), time.monotonic()
    deadline = _deadline_of(lambda: picturing.expose_picture(setup, time_limit=5.0), seen)
    assert before + SLOW + 5.0 <= deadline <= time.monotonic() + 5.0


@pytest.mark.parametrize("guided", [False, True])
def test_a_film_that_is_ready_compiles_nothing_while_it_is_exposed(guided):
    setup = loads(SETUP)
    film = Film(picturing.build(setup)[0], setup, 0, guided=guided)
    film.make_ready()
    assert not film.taken.any()
    assert not film.sums.any()
    with event.install_recorder("numba:compile") as recorder:
        film.expose(np.arange(4, dtype=np.int64), 8)
    assert len(recorder.buffer) == 0


def test_nothing_is_compiled_once_readings_are_being_traced(monkeypatch):
    compiled: list[int] = []
    run = metering.run

    def watched(*what: object, **how: object) -> object:
        with event.install_recorder("numba:compile") as recorder:
            outcome = run(*what, **how)
        compiled.append(len(recorder.buffer))
        return outcome

    monkeypatch.setattr(metering, "run", watched)
    metering.meter(loads(SETUP), tolerance=1.0)
    assert compiled[0] == 0
