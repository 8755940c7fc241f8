"""One Chromium for all tests of the record; each test's pages are closed after it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_page import Opener, launched
from cli_runner import BANK, GAP_TRIP, PLOVER, RISE, check
from playwright.sync_api import Browser

VESSEL = "sample_tracks/greywether_vessel.toml"
CORNER = "sample_tracks/greywether_corner.gpx"
SAMPLES = {
    "gear": (CORNER, BANK, "--vessel", VESSEL),
    "gap": (GAP_TRIP, BANK),
    "across-180": (PLOVER, RISE),
}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with launched() as started:
        yield started


@pytest.fixture
def opener(browser: Browser, tmp_path: Path) -> Iterator[Opener]:
    made = Opener(browser, tmp_path)
    yield made
    made.close()


@pytest.fixture(scope="session")
def sample_records(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Records of the samples, as the command line writes them: a tow with gear, a gap, across 180 degrees."""
    folder = tmp_path_factory.mktemp("samples")
    for name, (track, zones, *more) in SAMPLES.items():
        ran = check(track, zones, *more, "--record", folder / f"{name}.html")
        assert ran.code in (1, 4), ran.err
    return {name: folder / f"{name}.html" for name in SAMPLES}
