"""What all tests share: kernels that can be called one by one, and no kit file of whoever runs them.

Run on several processes, the tests of one file stay together, so that what they share is made once; the rooms with the
longest files begin, so that no process is left with one of those at the end.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from doors import callable_kernels

LONGEST = ("tests/execution/", "tests/validation/", "tests/study/")

callable_kernels()
os.environ["XDG_CONFIG_HOME"] = str(Path(__file__).parent / "no such folder")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not item.nodeid.startswith(LONGEST))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    from xdist.scheduler import LoadFileScheduling

    config.option.loadscopereorder = False  # or the files with the most tests would begin
    return LoadFileScheduling(config, log)
