"""A record opened in Chromium with the network cut, and all that it asked for and said meanwhile.

Shared by the tests in ``tests/browser``; its ``conftest.py`` turns this into the fixtures ``browser``
(Chromium, started once) and ``opener`` (records of one test, closed after it). Whoever wants one page for
a whole file builds it in a fixture of his own::

    @pytest.fixture(scope="module")
    def opened(browser, tmp_path_factory):
        opened = Opener(browser, tmp_path_factory.mktemp("part"))(build_result())
        yield opened
        opened.close()
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page, sync_playwright
from result_builders import result_json

from towzone.model.result import CheckResult
from towzone.record.page import render_record
from towzone.tables.rows_csv import to_csv

__all__ = [
    "CHROMIUM",
    "FLAGS",
    "Opened",
    "Opener",
    "launched",
    "record_text",
]

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
READY = "[data-ready]"
"""There once every part of the script has started."""

LISTEN = """
window.policyViolations = [];
document.addEventListener("securitypolicyviolation", function (event) {
  window.policyViolations.push(event.effectiveDirective + " " + event.blockedURI);
});
"""


@contextmanager
def launched() -> Iterator[Browser]:
    """Chromium as Debian installs it; without it the tests fail: a record nobody opened is untested."""
    if not CHROMIUM.exists():
        pytest.fail(f"{CHROMIUM} is missing; install the package chromium", pytrace=False)
    with sync_playwright() as playwright:
        try:
            started = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        except Error as error:
            pytest.fail(f"{CHROMIUM} does not start: {error}", pytrace=False)
        yield started
        started.close()


def record_text(result: CheckResult) -> str:
    """Return the record of a hand-made result, with its JSON and its table as a real run would give them."""
    return render_record(result, result_json(result), to_csv(result))


@dataclass
class Opened:
    """A record in a page, with all that the page asked for and said since it was opened."""

    page: Page
    url: str
    requests: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    failed: dict[str, str | None] = field(default_factory=dict)
    begun: float = 0.0
    ready_s: float = 0.0

    def disturbances(self) -> list[str]:
        """What the page did beyond being opened: requests, messages, errors, breaches of its own policy."""
        asked = list(self.requests)
        if self.url in asked:
            asked.remove(self.url)  # opening it; a second time would be one too many
        return [*(f"asked for {url}" for url in asked), *self.said, *self.violations()]

    def undisturbed(self) -> bool:
        """Whether the page asked for itself alone, said nothing and broke no policy."""
        return self.requests == [self.url] and self.disturbances() == []

    def violations(self) -> list[str]:
        """Breaches of the page's policy as the browser reported them; none are known without scripts."""
        try:
            found: list[str] = self.page.evaluate("window.policyViolations || []")
        except Error:
            return ["the page is gone"]
        return found

    def view(self) -> dict[str, float]:
        """What the chart shows, degrees."""
        view: dict[str, float] = self.page.evaluate(
            """() => { const b = towzoneMap.getBounds();
            return {south: b.getSouth(), north: b.getNorth(), west: b.getWest(), east: b.getEast()}; }"""
        )
        return view

    def island(self, element_id: str) -> Any:
        """The data carried in one of the page's islands (``chart-data``, ``result``, ``words``, ...)."""
        return json.loads(self.page.locator(f"#{element_id}").text_content() or "")

    def close(self) -> None:
        """Close the page and what was kept for it."""
        self.page.context.close()


class Opener:
    """Opens records in contexts of their own, from files in one folder."""

    def __init__(self, browser: Browser, folder: Path) -> None:
        self.browser = browser
        self.folder = folder
        self.contexts: list[BrowserContext] = []
        self.count = 0

    def __call__(self, result: CheckResult, **options: Any) -> Opened:
        """Write the record of a result and open it; the options are those of ``text``."""
        return self.text(record_text(result), **options)

    def text(self, text: str, **options: Any) -> Opened:
        """Write the text of a record and open it; the options are those of ``file``."""
        self.count += 1
        path = self.folder / ("record.html" if self.count == 1 else f"record-{self.count}.html")
        path.write_text(text, encoding="utf-8", newline="\n")
        return self.file(path, **options)

    def file(
        self,
        path: Path,
        *,
        scripts: bool = True,
        width: int = 1280,
        height: int = 900,
        dark: bool = False,
        touch: bool = False,
        tz: str | None = None,
        patience_s: float = 30.0,
    ) -> Opened:
        """Open a record from disk with the network cut, and wait until its script has started.

        Parameters
        ----------
        path : Path
            The record.
        scripts, width, height, dark, touch, tz
            The device: scripts allowed, size of its window in pixels, set to dark, a touch screen,
            IANA name of its own time zone.
        patience_s : float
            How long the page may take until it is ready, seconds.
        """
        context = self.browser.new_context(
            viewport={"width": width, "height": height},
            offline=True,
            java_script_enabled=scripts,
            color_scheme="dark" if dark else "light",
            has_touch=touch,
            timezone_id=tz,
        )
        self.contexts.append(context)
        context.set_default_timeout(patience_s * 1000.0)
        page = context.new_page()
        page.add_init_script(LISTEN)
        opened = Opened(page=page, url=path.resolve().as_uri())
        page.on("request", lambda request: opened.requests.append(request.url))
        page.on("requestfailed", lambda request: opened.failed.update({request.url: request.failure}))
        page.on("console", lambda message: opened.said.append(_words(message)))
        page.on("pageerror", lambda error: opened.said.append(str(error)))
        opened.begun = time.perf_counter()
        page.goto(opened.url)
        if scripts:
            page.wait_for_selector(READY, state="attached")
        opened.ready_s = time.perf_counter() - opened.begun
        return opened

    def close(self) -> None:
        """Close every page opened here."""
        for context in self.contexts:
            context.close()
        self.contexts.clear()


def _words(message: ConsoleMessage) -> str:
    return f"{message.type}: {message.text}"
