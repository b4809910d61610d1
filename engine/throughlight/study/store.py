"""Where results are kept: one SQLite file beside the study file, written as they come.

Each batch is one transaction of a write-ahead log that is on the disk before it counts, so that whatever stops a
process, or the machine, costs at most what was in flight. Several processes may work on one file: a batch is claimed
for a while before it is traced, and since it comes out the same whoever traces it, a second one is simply not kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import time
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, NamedTuple

from throughlight.study.batch import Sums, add, batches_at, packed, unpacked
from throughlight.study.identity import Identity, changes
from throughlight.study.results_file import gone, owner, trouble

SCHEMA = 1
"""Version of the tables."""

_TABLES = """
CREATE TABLE IF NOT EXISTS about (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS batches (
    geometry TEXT NOT NULL, batch INTEGER NOT NULL, set_hash TEXT NOT NULL, study_hash TEXT NOT NULL,
    engine_version TEXT NOT NULL, engine_hash TEXT NOT NULL, seed INTEGER NOT NULL, seconds REAL NOT NULL,
    worker TEXT NOT NULL, finished TEXT NOT NULL, digest BLOB NOT NULL, sums BLOB NOT NULL,
    PRIMARY KEY (geometry, batch));
CREATE TABLE IF NOT EXISTS failures (
    candidate INTEGER PRIMARY KEY, set_hash TEXT NOT NULL, engine_hash TEXT NOT NULL, reason TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS rounds (number INTEGER PRIMARY KEY, geometries TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS claims (
    geometry TEXT NOT NULL, batch INTEGER NOT NULL, owner TEXT NOT NULL, ends REAL NOT NULL,
    PRIMARY KEY (geometry, batch)) WITHOUT ROWID;
"""
_PATIENCE = 60.0  # s, how long one process waits for another's transaction
_RUNNING = 32  # sets whose sums are kept at hand, since those in doubt are asked for again and again
_DAMAGED = "is not a file of results, or is damaged; renaming it and running the study anew would help"

Key = tuple[str, int]
"""A batch: geometry and number."""


def keys_of(geometry: str, level: int) -> list[Key]:
    """Return the batches of a level of a geometry."""
    return [(geometry, batch) for batch in range(batches_at(level - 1), batches_at(level))]


class Spent(NamedTuple):
    """What all batches together took: their number, seconds of tracing, and when the first and last were finished."""

    batches: int
    seconds: float
    first: str
    last: str


class Store:
    """The file of results, opened by one thread of one process."""

    def __init__(self, path: Path, identity: Identity | None, *, most_pages: int | None = None) -> None:
        """Open the file, or make it.

        Parameters
        ----------
        path
            The file.
        identity
            What the results are made from; None to read whatever is there.
        most_pages
            The most pages of 4 kB that the file may have.

        Raises
        ------
        SetupError
            When the file holds results of another set, study, engine or seed; says what has changed and what to do. Or
            when it is no such file, or one of a newer engine.
        """
        if identity is None and not path.exists():
            raise trouble(path, "there are no results yet; `throughlight study FILE` makes them")
        self.path, self.owner = path, owner()
        self._running: dict[str, tuple[int, Sums]] = {}
        with self._speaking():
            self._db = sqlite3.connect(path, timeout=_PATIENCE, isolation_level=None)
            self._db.execute("PRAGMA journal_mode = WAL")
            if most_pages is not None:
                self._db.execute(f"PRAGMA max_page_count = {most_pages:d}")
            with self._transaction():
                for statement in filter(str.strip, _TABLES.split(";")):
                    self._db.execute(statement)
                self.identity = self._same(identity)

    def _same(self, identity: Identity | None) -> Identity:
        """Return the identity of the file, which is the given one, or say what has changed."""
        about: dict[str, str] = dict(self._db.execute("SELECT name, value FROM about"))
        if not about:
            if identity is None:
                raise trouble(self.path, "there are no results yet; `throughlight study FILE` makes them")
            rows = [("schema", str(SCHEMA)), ("identity", json.dumps(identity._asdict()))]
            self._db.executemany("INSERT INTO about VALUES (?, ?)", rows)
            return identity
        if about.get("schema") != str(SCHEMA):
            words = f"holds results in form {about.get('schema')}, this engine knows form {SCHEMA}"
            raise trouble(self.path, f"{words}; --fresh puts them aside and begins anew")
        before = Identity(**json.loads(about["identity"]))
        said = [] if identity is None else changes(before, identity)
        if said:
            ways = (
                "--fresh puts the earlier results aside and begins anew; "
                "undoing the change, or giving the changed study a file of another name, keeps them"
            )
            raise trouble(self.path, f"since these results were made, {' and '.join(said)}. {ways}")
        return before

    @contextlib.contextmanager
    def _speaking(self) -> Iterator[None]:
        """Say in a sentence what SQLite has to complain about."""
        try:
            yield
        except sqlite3.Error as error:
            full = isinstance(error, sqlite3.OperationalError) and (
                "full" in str(error) or "disk I/O" in str(error) or "unable to open" in str(error)
            )
            if full:
                words = f"results cannot be written ({error}); with room on the disk the same command goes on from here"
                raise trouble(self.path, words) from error
            if isinstance(error, sqlite3.OperationalError):
                raise trouble(self.path, f"results cannot be kept there ({error})") from error
            raise trouble(self.path, _DAMAGED) from error

    @contextlib.contextmanager
    def _transaction(self, *, lasting: bool = True) -> Iterator[None]:
        """Do all or nothing; unless it is `lasting`, a machine that loses its power may forget it."""
        self._db.execute(f"PRAGMA synchronous = {'FULL' if lasting else 'NORMAL'}")
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            with contextlib.suppress(sqlite3.Error):  # what went wrong before says more
                self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    def close(self) -> None:
        """Let the file go, and what was claimed but not finished."""
        with contextlib.suppress(sqlite3.Error):
            self._db.execute("DELETE FROM claims WHERE owner = ?", (self.owner,))
        self._db.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def claim(self, key: Key, lease: float) -> Literal["mine", "done", "taken"]:
        """Ask for a batch to trace, for `lease` seconds."""
        now = time.time()
        with self._speaking(), self._transaction(lasting=False):
            if self._db.execute("SELECT 1 FROM batches WHERE geometry = ? AND batch = ?", key).fetchone():
                return "done"
            row = self._db.execute("SELECT owner, ends FROM claims WHERE geometry = ? AND batch = ?", key).fetchone()
            if row is not None and row[0] != self.owner and now < row[1] and not gone(row[0]):
                return "taken"
            self._db.execute("INSERT OR REPLACE INTO claims VALUES (?, ?, ?, ?)", (*key, self.owner, now + lease))
        return "mine"

    def release(self, key: Key) -> None:
        """Give up a claim."""
        with self._speaking(), self._transaction(lasting=False):
            self._db.execute("DELETE FROM claims WHERE geometry = ? AND batch = ? AND owner = ?", (*key, self.owner))

    def put(self, key: Key, sums: Sums, seconds: float, worker: str = "") -> None:
        """Keep a batch; one that is there already stays as it is."""
        content = packed(sums)
        made = self.identity
        row = (
            *key, made.set_hash, made.study_hash, made.engine_version, made.engine_hash, made.seed, seconds,
            worker if worker else self.owner, datetime.now(UTC).isoformat(timespec="milliseconds"),
            hashlib.sha256(content).digest(), content,
        )  # fmt: skip
        with self._speaking(), self._transaction():
            self._db.execute(f"INSERT OR IGNORE INTO batches VALUES ({', '.join('?' * len(row))})", row)
            self._db.execute("DELETE FROM claims WHERE geometry = ? AND batch = ?", key)

    def kept(self) -> set[Key]:
        """Return which batches are there."""
        with self._speaking():
            return set(self._db.execute("SELECT geometry, batch FROM batches"))

    def sums(self, geometry: str, batches: int) -> Sums:
        """Return the first batches of a geometry added up, in their order.

        Raises
        ------
        SetupError
            When one of them is not there or was damaged.
        """
        first, together = self._running.pop(geometry, (0, None))
        if first > batches:
            first, together = 0, None
        with self._speaking():
            rows = self._db.execute(
                "SELECT batch, digest, sums FROM batches WHERE geometry = ? AND batch BETWEEN ? AND ? ORDER BY batch",
                (geometry, first, batches - 1),
            ).fetchall()
        if [row[0] for row in rows] != list(range(first, batches)):
            raise trouble(self.path, "a batch that should be there is missing; --fresh begins anew")
        for _, digest, content in rows:
            if hashlib.sha256(content).digest() != digest:
                raise trouble(self.path, _DAMAGED)
            sums = unpacked(content)
            together = sums if together is None else add(together, sums)
        assert together is not None  # there is at least one batch
        self._running[geometry] = (batches, together)
        while len(self._running) > _RUNNING:
            del self._running[next(iter(self._running))]
        return together

    def round(self, number: int) -> list[str] | None:
        """Return which geometries a round doubles, or None when that is not decided yet."""
        with self._speaking():
            row = self._db.execute("SELECT geometries FROM rounds WHERE number = ?", (number,)).fetchone()
        return None if row is None else list(json.loads(row[0]))

    def decide(self, number: int, geometries: Sequence[str]) -> list[str]:
        """Write down which geometries a round doubles; return what another process may have written before."""
        with self._speaking(), self._transaction():
            self._db.execute("INSERT OR IGNORE INTO rounds VALUES (?, ?)", (number, json.dumps(list(geometries))))
        decided = self.round(number)
        assert decided is not None
        return decided

    def forget_failures(self) -> None:
        """Strike out why candidates could not be computed: they are tried again."""
        with self._speaking(), self._transaction(lasting=False):
            self._db.execute("DELETE FROM failures")

    def fail(self, reasons: Mapping[int, str]) -> None:
        """Write down why candidates, by number, cannot be computed."""
        made = self.identity
        rows = [(candidate, made.set_hash, made.engine_hash, reason) for candidate, reason in reasons.items()]
        if rows:
            with self._speaking(), self._transaction():
                self._db.executemany("INSERT OR REPLACE INTO failures VALUES (?, ?, ?, ?)", rows)

    def failures(self) -> dict[int, str]:
        """Return the reason of each candidate that cannot be computed."""
        with self._speaking():
            return dict(self._db.execute("SELECT candidate, reason FROM failures"))

    def note(self, name: str, words: str) -> None:
        """Write down something about the study for those who read its results."""
        with self._speaking(), self._transaction(lasting=False):
            self._db.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (f"note {name}", words))

    def noted(self, name: str) -> str:
        """Return what `note` wrote down, or nothing."""
        with self._speaking():
            row = self._db.execute("SELECT value FROM about WHERE name = ?", (f"note {name}",)).fetchone()
        return "" if row is None else str(row[0])

    def spent(self) -> Spent:
        """Return what all batches together took."""
        with self._speaking():
            row = self._db.execute(
                "SELECT count(*), coalesce(sum(seconds), 0), coalesce(min(finished), ''), coalesce(max(finished), '') "
                "FROM batches"
            ).fetchone()
        return Spent(*row)

    def at_work(self) -> bool:
        """Return whether a process seems to be working on it."""
        with self._speaking():
            rows = self._db.execute("SELECT owner FROM claims WHERE ends > ?", (time.time(),)).fetchall()
        return any(not gone(who) for (who,) in rows)
