"""The running command: what it says while it runs and at its end, resuming, beginning anew, being interrupted."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner
from small_studies import SET, STUDY, write

from throughlight.cli import main
from throughlight.cli.study_run import words
from throughlight.readings.intervals import Stops
from throughlight.study.limits import Best, Progress, next_time
from throughlight.study.results_file import store_path


def study(*said):
    told = CliRunner().invoke(main, ["study", *map(str, said)])
    assert told.exception is None or isinstance(told.exception, SystemExit), told.exception
    return told


def test_runs_to_its_end_resumes_and_begins_anew(tmp_path):
    file = write(tmp_path)
    told = study(file, "--threads", 2)
    assert told.exit_code == 0
    assert "Where the key stands: everything is decided, 6 of 6 candidates read" in told.output
    assert "best: candidate 5 (bearing 80 deg, flag in), loss 0.5" in told.output
    assert "settled at 95 %" in told.output
    assert f"next: throughlight study {file} --report" in told.output
    made = store_path(file).stat().st_mtime_ns
    again = study(file, "--quiet")
    said = [line for line in told.output.splitlines() if not line.startswith("compiling")]
    assert again.output.splitlines() == said[:-1]
    anew = study(file, "--fresh", "--time-limit", "1 h")
    assert anew.exit_code == 0
    assert "earlier results are now" in anew.output
    assert store_path(file).stat().st_mtime_ns > made
    assert len(list(tmp_path.glob("*.before-1.db"))) == 1


def test_everything_as_json(tmp_path):
    told = json.loads(study(write(tmp_path), "--json").stdout)
    assert told["schema"] == "throughlight/study/1"
    assert [row["rank"] for row in told["candidates"] if row["number"] == 5] == [1]


def test_change_ends_in_a_sentence_and_2(tmp_path):
    study(write(tmp_path))
    told = study(write(tmp_path, the_set=SET.replace('"50 J"', '"55 J"')))
    assert told.exit_code == 2
    assert "the set has changed" in told.output
    assert "--fresh" in told.output


def test_time_over(tmp_path):
    """Nothing is begun after the time; the two first answers that may be under way are kept, and nothing is settled."""
    told = study(write(tmp_path), "--time-limit", "1 us")
    assert told.exit_code == 0
    assert re.search("time is over, [0-2] of 6 candidates read", told.output)
    assert "settled" not in told.output
    assert study(write(tmp_path)).output.startswith("Where the key stands: everything is decided")


def test_dry_run_says_how_long(tmp_path):
    told = study(write(tmp_path), "--dry-run")
    assert told.exit_code == 0
    assert "6 candidates, 6 sets to trace" in told.output
    assert "expected to take" in told.output
    assert "measured on 3 of 6 sets; a first answer to each after" in told.output
    assert not store_path(tmp_path / "evening.toml").exists()
    limited = json.loads(study(write(tmp_path), "--dry-run", "--json", "--time-limit", "0.5 s").stdout)
    assert limited["expected_s"] <= 0.5


def test_nobody_at_the_cluster(tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("throughlight.study.cluster._PATIENCE", 1.0)
    told = study(write(tmp_path), "--cluster", "tcp://127.0.0.1:9")
    assert told.exit_code == 2
    assert "no scheduler answers at tcp://127.0.0.1:9" in told.output


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_interrupted_by_hand(tmp_path):
    long = STUDY.replace('"40 deg", "60 deg", "80 deg"', ", ".join(f'"{angle} deg"' for angle in range(20, 90, 1)))
    file = write(tmp_path, long)
    command = [sys.executable, "-m", "throughlight", "study", str(file)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    until = time.monotonic() + 60.0
    while not store_path(file).exists() and time.monotonic() < until:
        time.sleep(0.05)
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    output, error = process.communicate(timeout=30.0)
    assert process.returncode == 130
    assert "interrupted; the same command goes on from here" in error
    assert "Traceback" not in error
    assert "left off" in output


def test_progress_in_words():
    best = Best(12, "bearing 135 deg, flag in", Stops(0.25, 0.2, 0.3))
    now = time.mktime((2026, 1, 5, 22, 0, 0, 0, 0, -1))
    first = Progress(240, 0, 4, 0, None, 1, 0.5, now + 120.0)
    assert words(first, now) == "first answers: 118 of 236 candidates   first answers by 22:02"
    later = Progress(240, 236, 4, 7, best, 9, 0.1, next_time(6, 30, now))
    said = "round 9: 236 of 236 candidates   best 12 (bearing 135 deg, flag in), 0.25 off, 7 may be as good"
    said += "   ends by 06:30"
    assert words(later, now) == said
    foreseen = later._replace(ends=now + 3600.0, about=True)
    assert words(foreseen, now).endswith("7 may be as good   ends about 23:00")


def test_time_of_the_day_is_the_next_one():
    now = time.mktime((2026, 1, 5, 22, 0, 0, 0, 0, -1))
    assert next_time(6, 30, now) - now == 8.5 * 3600.0
    assert next_time(22, 30, now) - now == 0.5 * 3600.0
    assert next_time(22, 0, now) - now == 24 * 3600.0
