"""The record on paper: as a person prints it to a PDF file, read back from that file."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_page import Opened, Opener
from gear_results import build_gear_result
from playwright.sync_api import Browser
from pypdf import PdfReader

from towzone.record.catalogue import say

A4_WIDTH_PX = 793.7
"""210 mm at 96 px an inch (CSS Values and Units Level 4, W3C, section 6.2); the margins are 11 mm each."""

PRINTED_PX = int(A4_WIDTH_PX - 2 * 11 / 25.4 * 96)
MOST_PAGES = 7


def pages_of(opened: Opened) -> list[str]:
    """Print to PDF and return the text of each page."""
    data = opened.page.pdf(prefer_css_page_size=True, print_background=True)
    texts = [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]
    return [unicodedata.normalize("NFKC", text) for text in texts]  # "fi" may be printed as one letter


@pytest.fixture(scope="module")
def opened(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    opener = Opener(browser, tmp_path_factory.mktemp("print"))
    yield opener(build_gear_result())
    opener.close()


@pytest.fixture(scope="module")
def pages(opened: Opened) -> list[str]:
    return pages_of(opened)


def test_every_page_has_its_number_and_says_that_it_is_not_for_navigation(pages: list[str]) -> None:
    for number, text in enumerate(pages, start=1):
        assert "Not for navigation" in text
        assert re.search(rf"page {number} of {len(pages)}(?!\d)", text)


def test_sample_with_gear_takes_few_pages(opener: Opener, sample_records: dict[str, Path]) -> None:
    opened = opener.file(sample_records["gear"])

    assert 3 <= len(pages_of(opened)) <= MOST_PAGES


def test_paper_holds_the_answer_first_and_all_of_the_evidence_though_it_is_folded(
    opened: Opened, pages: list[str]
) -> None:
    assert opened.page.locator(".evidence > details:not([open])").count() >= 8
    words = " ".join(" ".join(pages).split())
    names = ("tracks", "left_out", "tows", "gear", "gaps", "zones", "inputs", "settings", "methods", "drawn")
    titles = [say(f"evidence.title.{name}") for name in (*names, "versions", "file")]
    places = [words.index(text) for text in ("problems found", "Not proved", "Results, worst first")]
    for title in titles:
        places.append(words.index(title, places[-1]))

    assert places == sorted(places)
    for text in ("No sea trial was found", "ASSUMED ones were stated nowhere", "pyproj", "reach_m"):
        assert text in words
    result = build_gear_result()
    digits = words.replace(" ", "")
    assert all(entry.sha256 in digits for entry in result.inputs)
    assert (opened.page.locator("#digest").text_content() or "") in digits
    assert all("".join(row.explain.split()) in digits for row in result.rows)


def test_paper_is_the_same_with_scripts_off(opener: Opener, pages: list[str]) -> None:
    opened = opener(build_gear_result(), scripts=False)

    assert pages_of(opened) == pages


def test_heads_of_a_table_stand_on_each_of_its_pages(pages: list[str]) -> None:
    closest = [i for i, text in enumerate(pages) if "Closest approach" in " ".join(text.split())]
    with_rows = [i for i, text in enumerate(pages) if "of the likely corridor" in " ".join(text.split())]

    assert len(with_rows) >= 2
    assert set(with_rows) <= set(closest)


def test_no_heading_stands_alone_at_the_foot_of_a_page(opened: Opened, pages: list[str]) -> None:
    headings = {" ".join(text.split()) for text in opened.page.locator("h2").all_text_contents()}
    for text in pages:
        lines = [" ".join(line.split()) for line in text.splitlines()]
        lines = [line for line in lines if line and line != "Not for navigation" and "page " not in line]
        last = re.sub(r" \(\d+\)$", "", lines[-1])
        assert last not in headings


def test_nothing_is_cut_off_at_the_right(opened: Opened) -> None:
    page = opened.page
    before = page.viewport_size
    page.emulate_media(media="print")
    page.set_viewport_size({"width": PRINTED_PX, "height": 1000})
    beyond = page.evaluate(
        """(width) => [...document.querySelectorAll("main *, .top *")].filter((e) => {
          const box = e.getBoundingClientRect();
          return box.width > 0 && box.right > width + 1 && !e.closest("svg, #chart");
        }).map((e) => e.tagName + "." + e.className)""",
        PRINTED_PX,
    )
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.emulate_media(media="screen")
    page.set_viewport_size(before)

    assert beyond == []
    assert wide <= PRINTED_PX


@pytest.mark.parametrize("mode", ["day", "dusk", "night"])
def test_paper_is_white_and_its_ink_black_whatever_the_screen_shows(opened: Opened, mode: str) -> None:
    page = opened.page
    page.evaluate("(mode) => document.documentElement.setAttribute('data-mode', mode)", mode)
    page.emulate_media(media="print", color_scheme="dark")
    colours = page.evaluate(
        "[getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]"
    )
    still, chart = page.locator("svg.still").first.is_visible(), page.locator("#chart").is_visible()
    page.emulate_media(media="screen", color_scheme="light")

    assert colours == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert still
    assert not chart


def test_sections_are_opened_for_paper_and_closed_again_after_it(opened: Opened) -> None:
    """For browsers that cannot print a closed section open."""
    page = opened.page
    closed = "document.querySelectorAll('details:not([open])').length"
    before = page.evaluate(closed)
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    during = page.evaluate(closed)
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")

    assert before > 8
    assert during == 0
    assert page.evaluate(closed) == before
