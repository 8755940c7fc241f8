"""The record in a real browser with the network cut: what a person sees and does with it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from browser_page import Opener
from gear_results import build_gear_result
from playwright.sync_api import Page
from result_builders import build_result

HOSTILE = "</script><script>window.taken=1</script><img src=x onerror=window.taken=2>"


def island(page: Page, element_id: str) -> Any:
    return json.loads(page.locator(f"#{element_id}").text_content() or "")


def test_opening_the_record_asks_for_no_file_but_itself_and_says_nothing(opener: Opener) -> None:
    opened = opener(build_result())

    assert opened.page.locator("#chart svg path.zone").count() >= 4
    assert opened.page.locator("#chart").is_visible()
    assert not opened.page.locator("svg.still").first.is_visible()
    assert opened.page.locator(".leaflet-control-attribution").count() == 0
    assert opened.page.title() == "Clearance record: Invented trip"
    assert opened.undisturbed(), (opened.requests, opened.said)


def test_table_has_as_many_rows_as_the_embedded_result(opener: Opener) -> None:
    opened = opener(build_result())
    rows = island(opened.page, "result")["rows"]

    assert opened.page.locator("#rows tbody.row").count() == len(rows)
    for number, row in enumerate(rows, start=1):
        body = opened.page.locator(f"#row-{number}")
        assert row["explain"] in body.inner_text()
        assert row["zone_name"] in body.inner_text()


@pytest.mark.parametrize("width", [360, 1024])
def test_page_with_gear_fits_the_width_of_the_screen(opener: Opener, width: int) -> None:
    page = opener(build_gear_result(), width=width).page

    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_gear_is_printed_and_shown_without_scripts(opener: Opener) -> None:
    plain = opener(build_gear_result(), scripts=False)

    assert plain.page.locator("svg.still path.gear.corridor").first.is_visible()
    assert plain.page.locator(".legend .key").first.is_visible()
    opened = opener(build_gear_result(), dark=True)
    opened.page.emulate_media(media="print")
    assert opened.page.locator("svg.still path.gear.g-net").first.is_visible()
    # The day's colour, dark on paper: far more of it than any ink would be at night.
    stroke = opened.page.evaluate("getComputedStyle(document.querySelector('svg.still path.g-net')).stroke")
    assert stroke == "rgb(83, 54, 15)"


def test_template_and_markup_in_names_stay_text(opener: Opener) -> None:
    names = ("{{7*7}}", HOSTILE, "`${1}`", "a\u202eb", "x" * 10_000)
    opened = opener(build_result(names=names, source=HOSTILE))
    page = opened.page
    # A name that finds no room is left out, so the chart is moved to each.
    drawn = page.locator("#chart .word").all_text_contents()
    for number in range(1, page.locator("#rows tbody.row").count() + 1):
        page.click(f"#row-{number} button.show")
        drawn += page.locator("#chart .word").all_text_contents()

    assert page.evaluate("window.taken") is None
    assert page.locator("img").count() == 0
    assert "{{7*7}}" in drawn
    assert HOSTILE[:40] in "".join(drawn)
    table = page.locator("#rows").inner_text()
    assert "{{7*7}}" in table
    assert HOSTILE in table
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert opened.undisturbed(), (opened.requests, opened.said)


def test_injected_script_image_and_request_are_blocked_by_the_policy(opener: Opener) -> None:
    opened = opener(build_result())
    page = opened.page
    page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "window.taken = 1";
            document.body.appendChild(script);
            const node = document.createElement("div");
            node.innerHTML = "<img src='data:,x' onerror='window.taken = 2'>";
            document.body.appendChild(node);
            const image = document.createElement("img");
            image.src = "https://example.invalid/x.png";
            document.body.appendChild(image);
        }"""
    )
    page.wait_for_timeout(200)
    refused = page.evaluate("fetch('https://example.invalid/').then(() => 'sent', () => 'refused')")

    assert refused == "refused"
    assert page.evaluate("window.taken") is None
    assert [reason for url, reason in opened.failed.items() if url != opened.url] == ["csp"]
    assert any("Content Security Policy" in text for text in opened.said)


def test_scripts_off_shows_the_still_chart_and_the_whole_table(opener: Opener) -> None:
    result = build_result()
    opened = opener(result, scripts=False)
    page = opened.page

    assert page.locator("svg.still").first.is_visible()
    assert not page.locator("#chart").is_visible()
    assert not page.locator("#mode").is_visible()
    assert not page.locator("#next").is_visible()
    assert page.locator("#rows tbody.row").count() == len(result.rows)
    assert page.locator(".legend .swatch").first.is_visible()
    assert opened.undisturbed()


def test_script_that_fails_gives_the_still_chart_back(opener: Opener, tmp_path: Path) -> None:
    opener(build_result())
    path = tmp_path / "record.html"
    text = path.read_text(encoding="utf-8")
    broken = text.replace('"zones":[', '"zones":7,"left":[', 1)
    assert broken != text
    path.write_text(broken, encoding="utf-8", newline="\n")
    page = opener.browser.new_context(offline=True).new_page()
    page.goto(path.as_uri())

    assert page.locator("svg.still").first.is_visible()
    assert not page.locator("#chart").is_visible()


def test_print_shows_the_still_chart_in_day_colours_on_a4(opener: Opener) -> None:
    opened = opener(build_result())
    page = opened.page
    page.select_option("#mode", "night")
    page.emulate_media(media="print")

    assert page.locator("svg.still").first.is_visible()
    assert not page.locator("#chart").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    printed = page.pdf(format="A4")
    assert printed.startswith(b"%PDF-")
    assert printed.count(b"/Type /Page\n") >= 2
    assert len(printed) > 20_000


@pytest.mark.parametrize("width", [360, 768, 900, 1024, 1600])
def test_page_fits_the_width_of_the_screen(opener: Opener, width: int) -> None:
    page = opener(build_result(), width=width).page

    assert page.evaluate("document.documentElement.scrollWidth") <= width
    box = page.locator("#chart").bounding_box()
    assert box is not None
    assert box["width"] >= 0.5 * min(width, 1200)
