"""A page that is open in the browser, with all that goes wrong on it."""

from __future__ import annotations

from pathlib import Path


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
