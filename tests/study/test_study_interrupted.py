"""Whatever cuts a study short, going on ends with the very readings of a run that nothing disturbed."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import sqlite3
import time
from itertools import pairwise

import numpy as np
import pytest
from small_studies import SET, STUDY, write

from throughlight.setup import SetupError
from throughlight.study.batch import unpacked
from throughlight.study.file import load_study
from throughlight.study.limits import Limits
from throughlight.study.results_file import put_aside, store_path
from throughlight.study.runner import run
from throughlight.study.stopping import stopping

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked, so that they start warm")

LIMITS, QUICK = Limits(resolution=0.01, most_levels=4), Limits(resolution=1.0, most_levels=1)
MANY = STUDY.replace('values = ["40 deg", "60 deg", "80 deg"]', 'from = "25 deg"\nto = "85 deg"\ncount = 10')


def kept(file):
    """Return every batch and every decision of a study's results."""
    db = sqlite3.connect(store_path(file))
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    batches = {(g, b): unpacked(s) for g, b, s in db.execute("SELECT geometry, batch, sums FROM batches")}
    rounds = db.execute("SELECT number, geometries FROM rounds ORDER BY number").fetchall()
    db.close()
    return batches, rounds


def same(one, other):
    """Return whether two results are the same, bit for bit."""
    (batches, rounds), (others, other_rounds) = one, other
    return (
        rounds == other_rounds
        and batches.keys() == others.keys()
        and all(np.array_equal(batches[key][name], others[key][name]) for key in batches for name in batches[key])
    )


def readings(outcome):
    """Return the figures of all candidates."""
    return {one.case.number: (one.told.figures, one.losses.tolist()) for one in outcome.standing.order()}


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    file = write(tmp_path_factory.mktemp("undisturbed"), MANY)
    study = load_study(file)
    run(study, limits=QUICK, threads=2, path=tmp_path_factory.mktemp("warm") / "warm.db")  # compiles, perhaps
    outcome = run(study, limits=LIMITS, threads=2)
    assert outcome.reason == "decided"
    return kept(file), readings(outcome), outcome.seconds


def begin(study):
    """Start a process that runs the study; forked, so that everything is imported and compiled already."""
    process = multiprocessing.get_context("fork").Process(target=_child, args=(study,))
    process.start()
    return process


def _child(study):
    with stopping() as stopped:
        outcome = run(study, limits=LIMITS, threads=2, stopped=stopped)
    os._exit(0 if outcome.reason == "decided" else 130)


def test_killed_at_twenty_random_moments(tmp_path, undisturbed):
    file = write(tmp_path, MANY)
    study = load_study(file)
    moments = random.Random(20)
    grown = []
    for _ in range(20):
        process = begin(study)
        time.sleep(moments.uniform(0.0, undisturbed[2] / 4.0))
        process.kill()
        process.join()
        grown.append(len(kept(file)[0]) if store_path(file).exists() else 0)
    print("batches kept after each kill:", grown, "of", len(undisturbed[0][0]))
    outcome = run(study, limits=LIMITS, threads=2)
    assert outcome.reason == "decided"
    assert same(kept(file), undisturbed[0])
    assert readings(outcome) == undisturbed[1]
    assert grown == sorted(grown)
    assert sum(before < after for before, after in pairwise(grown)) >= 3


def test_two_processes_at_one_study(tmp_path, undisturbed):
    file = write(tmp_path, MANY)
    study = load_study(file)
    processes = [begin(study), begin(study)]
    for process in processes:
        process.join()
        assert process.exitcode == 0
    assert same(kept(file), undisturbed[0])
    db = sqlite3.connect(store_path(file))
    workers = {worker for (worker,) in db.execute("SELECT DISTINCT worker FROM batches")}
    assert len(workers) == 2  # both did something
    assert db.execute("SELECT count(*) FROM claims").fetchone() == (0,)
    db.close()


def test_asked_to_stop(tmp_path, undisturbed):
    file = write(tmp_path, MANY)
    study = load_study(file)
    process = begin(study)
    time.sleep(undisturbed[2] / 2.0)
    process.terminate()
    begun = time.monotonic()
    process.join(20.0)
    assert process.exitcode == 130
    print(f"left off {time.monotonic() - begun:.2f} s after SIGTERM, {len(kept(file)[0])} batches kept")
    run(study, limits=LIMITS, threads=2)
    assert same(kept(file), undisturbed[0])


def test_full_disk(tmp_path, undisturbed):
    file = write(tmp_path, MANY)
    study = load_study(file)
    with pytest.raises(SetupError, match=r"with room on the disk the same command goes on from here"):
        run(study, limits=LIMITS, threads=2, most_pages=60)
    there = kept(file)[0]
    assert 0 < len(there) < len(undisturbed[0][0])
    run(study, limits=LIMITS, threads=2)
    assert same(kept(file), undisturbed[0])


def test_one_thread_or_three(tmp_path, undisturbed):
    file = write(tmp_path, MANY)
    outcome = run(load_study(file), limits=LIMITS, threads=3)
    assert same(kept(file), undisturbed[0])
    assert readings(outcome) == undisturbed[1]


@pytest.mark.parametrize(
    ("what", "study", "the_set", "said"),
    [
        ("set", STUDY, SET.replace('energy = "50 J"', 'energy = "60 J"'), r"“energy = \"60 J\"” is new"),
        ("study", STUDY.replace("80 deg", "85 deg"), SET, "85 deg"),
        ("study", STUDY.replace("weight = 0.5", "weight = 0.7"), SET, r"weight = 0\.7"),
    ],
)
def test_change_is_noticed(tmp_path, what, study, the_set, said):
    before = run(load_study(write(tmp_path)), limits=QUICK, threads=2)
    changed = load_study(write(tmp_path, study, the_set))
    with pytest.raises(SetupError, match=rf"the {what} has changed .*{said}.*--fresh"):
        run(changed, limits=QUICK, threads=2)
    aside = put_aside(store_path(changed.path))
    assert aside is not None
    assert aside.exists()
    assert run(changed, limits=QUICK, threads=2).reason == "decided"
    assert run(load_study(write(tmp_path, study, the_set)), limits=QUICK, threads=2).traced == 0
    assert before.traced > 0


def test_what_changes_nothing_is_no_change(tmp_path):
    run(load_study(write(tmp_path)), limits=QUICK, threads=2)
    later = STUDY.replace('tolerance = "0.1 stop"', 'until = "06:30"').replace("Where the key", "Where our key")
    again = run(load_study(write(tmp_path, later, f"# a comment\n{SET}")), limits=QUICK, threads=2)
    assert again.traced == 0


def test_another_seed_is_noticed(tmp_path):
    study = load_study(write(tmp_path))
    run(study, limits=QUICK, threads=2)
    with pytest.raises(SetupError, match=r"the seed has changed \(7 then, 8 now\)"):
        run(study, limits=QUICK, threads=2, seed=8)


def test_no_results_of_ours(tmp_path):
    study = load_study(write(tmp_path))
    store_path(study.path).write_bytes(b"no results at all, but long enough to be looked at" * 100)
    with pytest.raises(SetupError, match="is not a file of results"):
        run(study, limits=LIMITS, threads=2)


def test_signal_handlers_are_put_back():
    before = signal.getsignal(signal.SIGTERM)
    with stopping() as stopped:
        assert not stopped()
        os.kill(os.getpid(), signal.SIGTERM)
        assert stopped()
    assert signal.getsignal(signal.SIGTERM) == before
