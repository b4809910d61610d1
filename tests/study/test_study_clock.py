"""How long a study takes: what counts against its time, and when it is expected to end."""

from __future__ import annotations

import time

import numpy as np
import pytest
from small_studies import STUDY, write
from synthetic_candidates import Bench, race

from throughlight.study import forecast
from throughlight.study.batch import FIRST
from throughlight.study.file import load_study
from throughlight.study.forecast import Speed, still_to_trace
from throughlight.study.limits import Limits, limits_of, next_time
from throughlight.study.runner import run
from throughlight.study.spread import REACHES
from throughlight.study.workers import Threads

SLOW = 0.4  # s
WIDTH = 1 + 2 * 31 * len(REACHES)


def test_compiling_does_not_count_against_a_duration(tmp_path, monkeypatch):
    """It takes longer than the limit, and the study still has all of its time; a time of the day stays what it is."""
    monkeypatch.setattr("throughlight.study.workers.make_ready", lambda stage: time.sleep(SLOW))
    study, ends = load_study(write(tmp_path)), []
    begun = time.time()
    run(
        study, limits=Limits(most_levels=1, lasts=60.0), threads=1, path=tmp_path / "lasting.db",
        progress=lambda progress: ends.append(progress.ends), stopped=lambda: bool(ends),
    )  # fmt: skip
    assert begun + SLOW + 60.0 <= ends[0] <= time.time() + 60.0
    at, ends = begun + 3600.0, []
    run(
        study, limits=Limits(ends=at, most_levels=1, lasts=7200.0), threads=1, path=tmp_path / "until.db",
        progress=lambda progress: ends.append(progress.ends), stopped=lambda: bool(ends),
    )  # fmt: skip
    assert ends[0] == at


def test_what_is_kept_is_read_before_the_clock_runs(tmp_path, monkeypatch):
    """Going on with a study that is through compiles nothing, and is no matter of time."""
    study = load_study(write(tmp_path))
    limits = Limits(resolution=1.0, most_levels=1)
    assert run(study, limits=limits, threads=1).reason == "decided"
    monkeypatch.setattr(Threads, "make_ready", lambda *_: pytest.fail("compiled"))
    assert run(study, limits=limits, threads=1).reason == "decided"


def test_budget_as_limits(tmp_path):
    now = time.mktime((2026, 1, 5, 22, 0, 0, 0, 0, -1))
    study = load_study(write(tmp_path, STUDY.replace('tolerance = "0.1 stop"', 'time_limit = "2 h"\nuntil = "06:30"')))
    limits = limits_of(study, now)
    assert limits.over(now + 100.0) == now + 100.0 + 7200.0
    assert limits.over(now + 8 * 3600.0) == next_time(6, 30, now)
    assert Limits().over(now) is None


def test_speed(monkeypatch):
    """8 s for 1000 paths: 500 more take 4 s; the clock may end it before."""
    clock = [100.0]
    monkeypatch.setattr(forecast.time, "monotonic", lambda: clock[0])
    monkeypatch.setattr(forecast.time, "time", lambda: 1e9 + clock[0])
    speed = Speed()
    assert not speed.foresees(lambda: 1)
    assert speed.earlier(None) is None
    assert speed.earlier(5.0) == 5.0
    clock[0] = 108.0
    speed.count(1000)
    assert speed.foresees(lambda: 500)
    assert speed.earlier(None) == pytest.approx(1e9 + 112.0)
    assert speed.earlier(1e9 + 110.0) == 1e9 + 110.0


def test_foreseen_paths_are_about_what_a_race_takes():
    """Foreseen from the first answers, and from the middle: within a factor of four of what each of 12 races then took.

    Over all races together within a factor of two.
    """
    ratios = {"first answers": [], "middle": []}
    for seed in range(12):
        truth = np.sort(1.0 + np.abs(np.random.default_rng(seed).standard_normal(30)))
        seen, groups = [], np.arange(30)

        def look(losses, levels, seen=seen, groups=groups):
            left = still_to_trace(losses, levels, groups, most_levels=12, resolution=0.05)
            seen.append((left / FIRST, int((2 ** (levels - 1)).sum())))

        bench = Bench(truth, seed)
        race(bench, resolution=0.05, each=look)
        for name, (foreseen, spent) in zip(ratios, (seen[0], seen[len(seen) // 2]), strict=True):
            ratios[name].append(foreseen / (bench.paths() - spent))
        assert seen[-1][0] == 0
    for name, found in ratios.items():
        print(f"{name}: {np.round(found, 2)}")
        assert min(found) > 0.25
        assert max(found) < 4.0
        assert 0.5 < np.exp(np.mean(np.log(found))) < 2.0


def test_nothing_is_left_where_everything_is_told():
    flat = np.repeat(np.array([[1.0], [2.0], [3.0]]), WIDTH, axis=1)
    assert still_to_trace(flat, np.ones(3, int), np.arange(3), most_levels=9, resolution=0.02) == 0
