"""The record in Firefox, from disk and with no way to a network: it opens, answers and is silent."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from firefox_driver import Firefox, Tab, started_firefox
from fleet_lines import HOSTILE, build_fleet

from towzone.record.overview.page import render_overview

OWN_FONT = "data:font/woff2;base64,"
"""Firefox draws the marks of lists and of what can be unfolded with a font from its own style sheet."""


@pytest.fixture(scope="module")
def firefox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    with started_firefox(tmp_path_factory.mktemp("firefox")) as firefox:
        yield firefox


@pytest.fixture(scope="module")
def tab(firefox: Firefox, sample_records: dict[str, Path]) -> Tab:
    return opened(firefox, sample_records["gear"])


def opened(firefox: Firefox, record: Path) -> Tab:
    tab = firefox.tab()
    tab.go(record.as_uri())
    assert tab.evaluate("towzone.record !== undefined")
    return tab


def disturbances(tab: Tab) -> list[str]:
    """What the page did beyond being opened.

    Firefox does not tell of files asked for from disk, but the policy lets the page ask for none, and a
    breach is told.
    """
    asked = [url for url in tab.requests if not url.startswith(OWN_FONT)]
    return asked + tab.said + tab.violations()


def test_record_opens_in_silence_and_asks_for_nothing(tab: Tab, sample_records: dict[str, Path]) -> None:
    assert tab.evaluate("location.href") == sample_records["gear"].as_uri()
    assert OWN_FONT not in sample_records["gear"].read_text(encoding="utf-8")
    assert disturbances(tab) == []


def test_first_screen_says_what_was_found(tab: Tab) -> None:
    top, bottom = tab.evaluate(
        "(r => [r.top, r.bottom])(document.getElementById('outcome').getBoundingClientRect())"
    )

    assert 0 <= top < bottom <= 900
    assert re.search(r"\d", tab.text("#answer"))
    assert tab.evaluate("getComputedStyle(document.getElementById('chart')).display") != "none"
    assert tab.evaluate("document.querySelectorAll('#chart .pin-mark').length") > 0


def test_row_can_be_chosen_with_mouse_and_keys(tab: Tab) -> None:
    tab.click("#row-1 button.show")
    first = tab.text("#chosen")
    tab.evaluate("document.getElementById('next').focus()")
    tab.keys("\ue007")  # Enter

    assert first.startswith("1,")
    assert tab.text("#chosen").startswith("2,")
    assert tab.evaluate("document.querySelectorAll('tbody.picked').length") == 1
    assert disturbances(tab) == []


def test_record_across_180_degrees_shows_its_track(firefox: Firefox, sample_records: dict[str, Path]) -> None:
    tab = opened(firefox, sample_records["across-180"])
    wide = tab.evaluate("(b => b.getEast() - b.getWest())(towzoneMap.getBounds())")

    assert 0.0 < wide < 10.0
    assert disturbances(tab) == []


def test_paper_shows_the_still_chart(tab: Tab) -> None:
    printed = tab.printed()

    assert printed.startswith(b"%PDF-")
    assert len(printed) > 20_000
    assert disturbances(tab) == []


def test_what_a_page_does_in_firefox_is_noticed(firefox: Firefox, tmp_path: Path) -> None:
    # Silence would mean nothing if nothing were heard.
    page = tmp_path / "loud.html"
    page.write_text(
        "<!doctype html><meta http-equiv=Content-Security-Policy "
        "content=\"img-src 'none'; style-src 'none'\">"
        "<img src='https://example.invalid/'><style>p { color: red }</style>"
        "<script>console.log('heard'); new WebSocket('ws://example.invalid/a'); missing();</script>",
        encoding="utf-8",
    )
    tab = firefox.tab()
    tab.go(page.as_uri())
    tab.wait(0.5)
    found = "\n".join(disturbances(tab))

    for part in (
        "info: heard",
        "missing is not defined",
        "example.invalid/a",
        "style-src-elem inline",
        "img-src https:",
    ):
        assert part in found, part


def test_an_overview_of_a_fleet_opens_in_silence_and_is_sorted(firefox: Firefox, tmp_path: Path) -> None:
    page = tmp_path / "index.html"
    text = render_overview(*build_fleet(120, 9, names=HOSTILE))
    page.write_text(text, encoding="utf-8", errors="backslashreplace", newline="\n")
    tab = opened(firefox, page)

    assert tab.evaluate("document.querySelectorAll('#vessels-table tbody').length") == 50
    tab.evaluate("document.querySelector('#vessels-table th.l-vessel button').click()")
    assert tab.evaluate("document.querySelector('#vessels-table th[aria-sort]').className") == "l-vessel"
    assert tab.evaluate("window.taken") is None
    assert disturbances(tab) == []
