"""The file of results as a file: where it is, what is said about it, how it is put aside, who may be at work on it."""

from __future__ import annotations

import contextlib
import os
import socket
import sqlite3
from pathlib import Path

from throughlight.setup.mistakes import Mistake, SetupError


def store_path(study_file: Path) -> Path:
    """Return where the results of a study file are kept."""
    return study_file.with_name(f"{study_file.stem}.study.db")


def trouble(path: Path, words: str) -> SetupError:
    """Return a mistake about the file of results."""
    return SetupError([Mistake(str(path), 0, 0, "", words)])


def owner() -> str:
    """Return what this process is called in claims: its machine and number."""
    return f"{socket.gethostname()} {os.getpid()}"


def gone(who: str) -> bool:
    """Return whether a claim's owner is known to run no more."""
    host, _, process = who.rpartition(" ")
    if host != socket.gethostname() or not process.isdigit() or os.name != "posix":
        return False
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def put_aside(path: Path) -> Path | None:
    """Rename the file of results, and what SQLite keeps beside it, so that a study begins anew.

    Returns
    -------
    Path or None
        Where the earlier results are now; None when there were none.
    """
    if not path.exists():
        return None
    with contextlib.suppress(sqlite3.Error):  # brings the log into the file, so that the file is all there is
        db = sqlite3.connect(path, timeout=1.0)
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        db.close()
    number = next(i for i in range(1, 10**6) if not path.with_suffix(f".before-{i}.db").exists())
    there = path.with_suffix(f".before-{number}.db")
    path.rename(there)
    for end in ("-wal", "-shm"):
        beside = path.with_name(path.name + end)
        if beside.exists():
            beside.rename(there.with_name(there.name + end))
    return there
