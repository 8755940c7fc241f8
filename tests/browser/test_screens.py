"""Pictures of the sample records as people see them, kept for people to look at.

They are written to the folder that the environment variable ``TOWZONE_ARTEFACTS`` names, else to one of
pytest's own.
"""

from __future__ import annotations

import base64
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_page import Opened, Opener
from playwright.sync_api import Browser, Page

DESK, PHONE = (1280, 900), (390, 844)
"""Widths and heights of windows, pixels; own choice of a usual desk and a usual phone."""
MODES = ("day", "dusk", "night")
RECORDS = ("gear", "gap", "across-180")
ON_PAPER = 794
"""Width of A4 at 96 pixels an inch: 210 mm (ISO 216)."""

_LOOK = """async address => {
  const picture = new Image();
  picture.src = address;
  await picture.decode();
  const canvas = new OffscreenCanvas(picture.width, picture.height), pen = canvas.getContext("2d");
  pen.drawImage(picture, 0, 0);
  const seen = new Uint32Array(pen.getImageData(0, 0, picture.width, picture.height).data.buffer);
  const light = seen.map(one => (one & 255) * 54 + (one >> 8 & 255) * 183 + (one >> 16 & 255) * 19);
  return {width: picture.width, height: picture.height, colours: new Set(seen).size,
    light: light.reduce((sum, one) => sum + one, 0) / 65280 / light.length};
}"""
"""Weights of the colours as in Rec. ITU-R BT.709 (0.2126, 0.7152, 0.0722), in 256ths; light from 0 to 1."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    named = os.environ.get("TOWZONE_ARTEFACTS")
    folder = Path(named) if named else tmp_path_factory.mktemp("artefacts")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def opener(browser: Browser, folder: Path) -> Iterator[Opener]:
    opener = Opener(browser, folder)
    yield opener
    opener.close()


@pytest.fixture(scope="module")
def desk(opener: Opener, sample_records: dict[str, Path]) -> dict[str, Opened]:
    width, height = DESK
    return {name: opener.file(sample_records[name], width=width, height=height) for name in RECORDS}


@pytest.fixture(scope="module")
def viewer(browser: Browser) -> Iterator[Page]:
    page = browser.new_page()
    yield page
    page.close()


def looked_at(viewer: Page, picture: bytes) -> dict[str, Any]:
    """Size of a picture in pixels, its mean light from 0 to 1 and how many colours it has."""
    seen: dict[str, Any] = viewer.evaluate(
        _LOOK, f"data:image/png;base64,{base64.b64encode(picture).decode()}"
    )
    return seen


def pressed(page: Page, mode: str) -> None:
    page.locator(f"button.mode-button[value='{mode}']").click()


@pytest.mark.parametrize("name", RECORDS)
def test_screens_of_a_desk_grow_darker_from_day_to_night(
    desk: dict[str, Opened], viewer: Page, folder: Path, name: str
) -> None:
    page, light = desk[name].page, {}
    for mode in MODES:
        pressed(page, mode)
        first = page.screenshot(path=folder / f"{name}-{mode}.png")
        seen = looked_at(viewer, first)
        light[mode] = seen["light"]
        assert (seen["width"], seen["height"]) == DESK
        assert seen["colours"] > 100, "an empty page"
    page.screenshot(path=folder / f"{name}-night-whole.png", full_page=True)
    pressed(page, "day")
    page.screenshot(path=folder / f"{name}-day-whole.png", full_page=True)
    page.locator("#rows button.show").first.click()
    page.screenshot(path=folder / f"{name}-day-chosen.png")

    assert light["day"] > 0.7 > light["dusk"] > light["night"]
    # Own bar: a tenth of the light of white paper does not spoil the eyes of a watch.
    assert light["night"] < 0.1
    assert desk[name].undisturbed(), desk[name].disturbances()


@pytest.mark.parametrize("name", RECORDS)
def test_paper_is_white_and_has_pages(desk: dict[str, Opened], viewer: Page, folder: Path, name: str) -> None:
    page = desk[name].page
    pressed(page, "night")
    page.set_viewport_size({"width": ON_PAPER, "height": DESK[1]})
    page.emulate_media(media="print")
    seen = looked_at(viewer, page.screenshot(path=folder / f"{name}-print.png", full_page=True))
    printed = page.pdf(path=folder / f"{name}-print.pdf", format="A4", prefer_css_page_size=True)
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": DESK[0], "height": DESK[1]})

    assert seen["light"] > 0.8
    assert seen["colours"] > 100
    assert printed.startswith(b"%PDF-")
    assert printed.count(b"/Type /Page\n") >= 2


@pytest.mark.parametrize("name", RECORDS)
def test_phone_shows_all_in_its_width(
    opener: Opener, sample_records: dict[str, Path], viewer: Page, folder: Path, name: str
) -> None:
    width, height = PHONE
    opened = opener.file(sample_records[name], width=width, height=height, touch=True)
    opened.page.screenshot(path=folder / f"{name}-phone.png")
    seen = looked_at(viewer, opened.page.screenshot(path=folder / f"{name}-phone-whole.png", full_page=True))

    assert seen["width"] == width
    assert seen["height"] > height
    assert seen["colours"] > 100
    assert opened.undisturbed(), opened.disturbances()


def test_without_scripts_the_still_chart_is_pictured(
    opener: Opener, sample_records: dict[str, Path], viewer: Page, folder: Path
) -> None:
    opened = opener.file(sample_records["gear"], scripts=False)
    seen = looked_at(viewer, opened.page.screenshot(path=folder / "gear-no-script.png", full_page=True))

    assert opened.page.locator("svg.still").first.is_visible()
    assert seen["colours"] > 100
