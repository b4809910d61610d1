"""The system's Chromium and one report page for all tests of pages in a browser; they skip where there is none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from opened_page import Opened

from report_sets import sphere
from throughlight.sheets.report import report_page

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="no Playwright here")
    if CHROMIUM is None:
        pytest.skip("no Chromium here")
    own = {**os.environ, "XDG_CONFIG_HOME": str(tmp_path_factory.mktemp("chromium"))}  # it writes there
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET, env=own)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def screenshots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where screenshots are kept: the folder that THROUGHLIGHT_SCREENSHOTS names, else pytest's own."""
    named = os.environ.get("THROUGHLIGHT_SCREENSHOTS")
    folder = tmp_path_factory.mktemp("screenshots") if named is None else Path(named)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="session")
def report_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_page(sphere().shot), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def opened(chromium, report_file) -> Iterator[Opened]:
    """One page for the tests of a module; each leaves it as the set has it."""
    page = Opened(chromium, report_file, 1400, 900)
    yield page
    page.context.close()
    assert page.complaints == []
