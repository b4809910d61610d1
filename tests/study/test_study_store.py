"""The file of results: what is put in comes out, and what does not belong is refused in a sentence."""

from __future__ import annotations

import os
import sqlite3
import time

import numpy as np
import pytest

from throughlight.setup import SetupError
from throughlight.study.identity import Identity, engine_hash
from throughlight.study.results_file import owner, put_aside
from throughlight.study.store import Store

MADE = Identity("study", "what = 1", "set", "camera = 2", "0.2.0", "engine", 7)


def sums(seed, loose=False):
    random = np.random.default_rng(seed)
    told = {"light front": random.random((32, 3, 3)), "paths front": np.array(128.0), "share rest": np.array(0.25)}
    return told | ({"patch light": random.random((32, 9, 3)).astype(np.float32).astype(float)} if loose else {})


@pytest.fixture
def file(tmp_path):
    return tmp_path / "it.study.db"


def test_batches_add_up_in_their_order(file):
    with Store(file, MADE) as store:
        for batch in (2, 0, 1):
            store.put(("a", batch), sums(batch, loose=True), 1.5)
        store.put(("b", 0), sums(9), 1.0)
    with Store(file, MADE) as store:
        assert store.kept() == {("a", 0), ("a", 1), ("a", 2), ("b", 0)}
        three, two = store.sums("a", 3), store.sums("a", 2)
        parts = [sums(batch, loose=True) for batch in range(3)]
        for name in ("light front", "patch light"):
            assert np.array_equal(three[name], parts[0][name] + parts[1][name] + parts[2][name])
            assert np.array_equal(two[name], parts[0][name] + parts[1][name])
        assert three["paths front"] == 384.0
        assert three["share rest"] == 0.25
        assert store.spent().batches == 4
        assert store.spent().seconds == 5.5
        with pytest.raises(SetupError, match="is missing"):
            store.sums("a", 4)


def test_a_batch_is_kept_once(file):
    with Store(file, MADE) as one, Store(file, MADE) as other:
        one.put(("a", 0), sums(1), 1.0)
        other.put(("a", 0), sums(2), 1.0)
        assert np.array_equal(other.sums("a", 1)["light front"], sums(1)["light front"])


def test_rows_carry_what_they_were_made_with(file):
    with Store(file, MADE) as store:
        store.put(("a", 0), sums(1), 1.0)
        store.fail({3: "the subject stands in a card"})
        assert store.failures() == {3: "the subject stands in a card"}
    db = sqlite3.connect(file)
    row = db.execute("SELECT set_hash, study_hash, engine_version, engine_hash, seed FROM batches").fetchone()
    assert row == ("set", "study", "0.2.0", "engine", 7)
    assert db.execute("SELECT set_hash, engine_hash FROM failures").fetchone() == ("set", "engine")
    assert db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    db.close()


def test_claims(file):
    with Store(file, MADE) as one, Store(file, MADE) as other:
        other.owner = "another machine 12"
        assert one.claim(("a", 0), 60.0) == "mine"
        assert one.claim(("a", 0), 60.0) == "mine"
        assert other.claim(("a", 0), 60.0) == "taken"
        assert other.claim(("a", 1), 0.05) == "mine"
        assert one.claim(("a", 1), 60.0) == "taken"
        assert one.at_work()
        time.sleep(0.06)
        assert one.claim(("a", 1), 60.0) == "mine"  # the lease has ended
        one.release(("a", 0))
        assert other.claim(("a", 0), 60.0) == "mine"
        one.put(("a", 1), sums(1), 1.0)
        assert other.claim(("a", 1), 60.0) == "done"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="whether a process runs is asked by its number")
def test_claims_of_the_dead_are_free(file):
    child = os.fork()
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
    with Store(file, MADE) as one, Store(file, MADE) as other:
        other.owner = f"{owner().rpartition(' ')[0]} {child}"
        assert other.claim(("a", 0), 600.0) == "mine"
        assert one.claim(("a", 0), 600.0) == "mine"


def test_decisions_stand(file):
    with Store(file, MADE) as one, Store(file, MADE) as other:
        assert one.round(2) is None
        assert one.decide(2, ["a", "b"]) == ["a", "b"]
        assert other.decide(2, ["c"]) == ["a", "b"]
        assert other.round(2) == ["a", "b"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"set_hash": "x", "set_text": "camera = 3"},
            "the set has changed .*“camera = 2” is gone; “camera = 3” is new",
        ),
        ({"set_hash": "x"}, "a file that the set names has changed"),
        ({"study_hash": "x", "study_text": "what = 2"}, "the study has changed .*“what = 1” is gone"),
        ({"engine_hash": "x"}, "the engine has changed .its sources."),
        ({"engine_hash": "x", "engine_version": "0.3.0"}, r"the engine has changed \(0.2.0 then, 0.3.0 now\)"),
        ({"seed": 8}, r"the seed has changed \(7 then, 8 now\)"),
    ],
)
def test_what_has_changed_is_said(file, change, said):
    Store(file, MADE).close()
    with pytest.raises(SetupError, match=f"{said}.*--fresh.*undoing the change"):
        Store(file, MADE._replace(**change))
    Store(file, MADE).close()


def test_form_of_another_engine(file):
    Store(file, MADE).close()
    db = sqlite3.connect(file)
    with db:
        db.execute("UPDATE about SET value = '99' WHERE name = 'schema'")
    db.close()
    with pytest.raises(SetupError, match="holds results in form 99, this engine knows form 1"):
        Store(file, MADE)


def test_damage_is_noticed(file):
    with Store(file, MADE) as store:
        store.put(("a", 0), sums(1), 1.0)
    db = sqlite3.connect(file)
    with db:
        db.execute("UPDATE batches SET sums = substr(sums, 1, 100)")
    db.close()
    with Store(file, MADE) as store, pytest.raises(SetupError, match="damaged"):
        store.sums("a", 1)


def test_nothing_there(file):
    with pytest.raises(SetupError, match="there are no results yet"):
        Store(file, None)
    assert not file.exists()
    assert put_aside(file) is None


def test_put_aside_twice(file):
    for number in (1, 2):
        with Store(file, MADE) as store:
            store.put(("a", 0), sums(number), 1.0)
        aside = put_aside(file)
        assert not file.exists()
        with Store(aside, MADE) as store:
            assert np.array_equal(store.sums("a", 1)["light front"], sums(number)["light front"])
    assert len(list(file.parent.glob("*.before-*.db"))) == 2


def test_folder_that_cannot_be_written(tmp_path):
    with pytest.raises(SetupError, match="cannot be"):
        Store(tmp_path / "no such folder" / "it.db", MADE)


def test_engine_hash_is_steady():
    assert engine_hash() == engine_hash()
    assert len(engine_hash()) == 16
