"""Being asked to stop: Ctrl-C and SIGTERM are noted, and whoever works leaves off between two pieces of work."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

_ASKED_BY = (signal.SIGINT, signal.SIGTERM)


@contextmanager
def stopping() -> Iterator[Callable[[], bool]]:
    """Yield a function that says whether this process was asked to stop; asked a second time, it stops at once.

    Outside of the main thread nobody can be asked.
    """
    if threading.current_thread() is not threading.main_thread():
        yield lambda: False
        return
    asked = threading.Event()

    def note(number: int, frame: FrameType | None) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    before = {number: signal.signal(number, note) for number in _ASKED_BY}
    try:
        yield asked.is_set
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
