"""The system's Chromium and one report page for all tests of pages in a browser; they skip where there is none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from report_sets import sphere
from throughlight.sheets.report import report_page

sync_api = pytest.importorskip("playwright.sync_api", reason="no Playwright here")
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    if CHROMIUM is None:
        pytest.skip("no Chromium here")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
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


class Opened:
    """A page that is open, with all that went wrong on it or was asked for from elsewhere."""

    def __init__(self, browser, file: Path, width: int, height: int, **how: object) -> None:
        self.context = browser.new_context(viewport={"width": width, "height": height}, **how)
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self._ask(request.url, file))
        self.page.goto(file.as_uri())
        self.page.wait_for_selector("html.live", timeout=20000)

    def _ask(self, url: str, file: Path) -> None:
        if not url.startswith(("data:", "blob:")) and url != file.as_uri():
            self.complaints.append(f"asked for {url}")

    def settle(self) -> None:
        """Wait until what was changed is drawn."""
        self.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def slide(self, name: str, value: int) -> None:
        self.page.evaluate(
            "([id, value]) => { const slider = document.getElementById(id); slider.value = value;"
            " slider.dispatchEvent(new Event('input', { bubbles: true })); }",
            [name, str(value)],
        )
        self.settle()

    def text(self, name: str) -> str:
        return self.page.inner_text(f"#{name}")


@pytest.fixture(scope="module")
def opened(chromium, report_file) -> Iterator[Opened]:
    """One page for the tests of a module; each leaves it as the set has it."""
    page = Opened(chromium, report_file, 1400, 900)
    yield page
    page.context.close()
    assert page.complaints == []
