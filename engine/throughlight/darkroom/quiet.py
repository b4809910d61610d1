"""Decoders print what they think of a broken file; what is said of it is ours to say, in one sentence."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def decoders_silenced() -> Iterator[None]:
    """Let nothing that is written to standard error, by Python or by a library in C, be seen meanwhile."""
    try:
        sys.stderr.flush()
        kept = os.dup(2)
    except (AttributeError, OSError, ValueError):  # there is no standard error
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
