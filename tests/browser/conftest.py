"""One Chromium for all tests of the record; each test's pages are closed after it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_page import Opener, launched
from playwright.sync_api import Browser


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with launched() as started:
        yield started


@pytest.fixture
def opener(browser: Browser, tmp_path: Path) -> Iterator[Opener]:
    made = Opener(browser, tmp_path)
    yield made
    made.close()
