"""The overview of a fleet in a browser with the network cut: sorted, filtered, paged, printed, heard."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser_page import Opened, Opener
from fleet_lines import HOSTILE, build_fleet
from playwright.sync_api import Browser, Page

from towzone.record.overview.ledger import PRINTED
from towzone.record.overview.page import render_overview

COUNT = 470
PAGE = 50

_RED_ONLY = """() => {
  var bad = [];
  document.querySelectorAll("body *").forEach(node => {
    var seen = getComputedStyle(node);
    ["color", "backgroundColor", "borderTopColor", "outlineColor", "fill", "stroke"].forEach(name => {
      var found = /rgba?\\((\\d+), (\\d+), (\\d+)(?:, ([\\d.]+))?\\)/.exec(seen[name]);
      if (found && found[4] !== "0" && (found[2] !== "0" || found[3] !== "0")) {
        bad.push(node.localName + "." + node.className + " " + name + " " + seen[name]);
      }
    });
  });
  return bad.slice(0, 5);
}"""


@pytest.fixture(scope="module")
def text() -> str:
    return render_overview(*build_fleet(COUNT, 30))


@pytest.fixture(scope="module")
def opener(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opener]:
    opener = Opener(browser, tmp_path_factory.mktemp("overview"))
    yield opener
    opener.close()


@pytest.fixture(scope="module")
def opened(opener: Opener, text: str) -> Opened:
    return opener.text(text)


@pytest.fixture
def page(opened: Opened) -> Page:
    """The page as it is after being opened."""
    opened.requests.clear()
    opened.page.reload()
    opened.page.wait_for_selector("html[data-ready]", state="attached")
    return opened.page


def names(page: Page, table: str = "vessels") -> list[str]:
    return page.locator(f"#{table}-table tbody th strong").all_text_contents()


def cells(page: Page, column: str, table: str = "vessels") -> list[str]:
    return page.locator(f"#{table}-table tbody .l-{column}").evaluate_all(
        "nodes => nodes.map(node => node.firstChild ? node.firstChild.textContent : '')"
    )


def complaints(page: Page) -> list[str]:
    results: dict[str, Any] = Axe().run(page).response
    assert len(results["passes"]) > 20, "the rules did not run"
    return [
        f"{found['id']}: {node['target']} {node['failureSummary']}"
        for found in results["violations"]
        for node in found["nodes"]
    ]


def test_the_page_asks_for_nothing_says_nothing_and_keeps_its_own_policy(opened: Opened, page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    for what in ("vessels-find", "zones-find"):
        page.fill(f"#{what}", "7")

    assert opened.undisturbed()


def test_the_script_writes_the_very_rows_that_stand_in_the_file(opener: Opener, text: str) -> None:
    still = opener.text(text, scripts=False).page
    moving = opener.text(text).page
    rows = "nodes => nodes.slice(0, 20).map(node => node.outerHTML)"
    for table in ("vessels", "zones", "sources", "unread"):
        wanted = still.locator(f"#{table}-table tbody").evaluate_all(rows)
        made = moving.locator(f"#{table}-table tbody").evaluate_all(rows)

        assert wanted != []
        assert made == wanted
    still.context.close()
    moving.context.close()


def test_without_a_script_the_first_rows_stand_there_and_what_is_missing_is_said(
    opener: Opener, text: str
) -> None:
    still = opener.text(text, scripts=False).page

    assert still.locator("#vessels-table tbody").count() == PRINTED
    assert f"the first {PRINTED} of {COUNT} vessels" in still.locator("#vessels .left-out").inner_text()
    assert still.locator(".row-tools").first.is_hidden()
    assert still.locator("#not-checked").is_visible()
    still.context.close()


def test_pages_are_turned_by_keys_and_hold_every_vessel_once(page: Page) -> None:
    seen = names(page)
    assert len(seen) == PAGE
    assert page.locator("#vessels-before").is_disabled()
    while page.locator("#vessels-after").is_enabled():
        page.locator("#vessels-after").focus()
        page.keyboard.press("Enter")
        seen += names(page)

    assert len(seen) == len(set(seen)) == COUNT
    assert page.locator("#vessels-page").inner_text() == f"451 to {COUNT} of {COUNT}; page 10 of 10"


@pytest.mark.parametrize("column", ["clearance", "left_out"])
def test_a_heading_sorts_up_and_down_and_what_is_not_known_stands_last(page: Page, column: str) -> None:
    heading = page.locator(f"#vessels-table th.l-{column} button")

    def told() -> list[float]:
        plain = (text.replace("\u202f", "").split(" ")[0] for text in cells(page, column))
        return [float(one) for one in plain if one.strip("-.").replace(".", "").isdigit()]

    heading.focus()
    page.keyboard.press("Enter")
    up = told()
    assert up == sorted(up)
    assert heading.evaluate("node => node.parentNode.getAttribute('aria-sort')") == "ascending"
    page.keyboard.press("Enter")
    down = told()
    assert down == sorted(down, reverse=True)
    assert down[0] >= up[-1] > up[0]
    page.locator("#vessels-last").click()
    if column == "clearance":
        assert cells(page, column)[-1] in ("", "not known")
    page.locator("#vessels-reset").click()
    assert names(page)[0] == page.evaluate("towzone.record.ledgers[0].entries[0][1][0][0]")


def test_results_zones_and_words_choose_rows_and_how_many_is_said(page: Page) -> None:
    page.select_option("#vessels-look", "not_checked")
    assert set(cells(page, "result")) == {"Not checked"}
    shown = page.locator("#vessels-table tbody").count()
    assert page.locator("#vessels-count").inner_text() == f"{shown} of {COUNT} shown, as first listed."

    page.select_option("#vessels-look", "")
    page.select_option("#vessels-group", label="Invented Bank 3")
    assert set(cells(page, "worst")) == {"Invented Bank 3"}
    assert set(cells(page, "result")) == {"Problem found"}

    page.select_option("#vessels-group", "")
    page.fill("#vessels-find", "invented 00042")
    assert names(page) == ["Invented 00042"]
    page.fill("#vessels-find", "nobody is called so")
    assert names(page) == []
    assert "none fits" in page.locator("#vessels-count").inner_text()
    page.locator("#vessels-reset").click()
    assert len(names(page)) == PAGE


def test_paper_shows_the_first_rows_as_they_first_stood_and_says_what_is_left_out(page: Page) -> None:
    first = names(page)
    page.fill("#vessels-find", "00042")
    page.emulate_media(media="print")
    page.wait_for_function(f"() => document.querySelectorAll('#vessels-table tbody').length === {PRINTED}")

    assert names(page)[:PAGE] == first
    assert page.locator("#vessels .left-out").is_visible()
    assert page.locator(".row-tools").first.is_hidden()
    assert page.locator("#not-checked").is_visible()
    assert page.locator("#vessels-table .make code").first.is_visible()
    page.emulate_media(media="screen")
    page.wait_for_function("() => document.querySelectorAll('#vessels-table tbody').length === 1")
    assert names(page) == ["Invented 00042"]


@pytest.mark.parametrize(("width", "modes"), [(1280, ("day", "night")), (390, ("dusk", "night"))])
def test_no_rule_of_access_is_broken_in_any_light_and_nothing_is_wider_than_the_screen(
    opener: Opener, width: int, modes: tuple[str, ...]
) -> None:
    page = opener.text(render_overview(*build_fleet(24, 3, names=HOSTILE)), width=width, height=850).page
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    found = {}
    for mode in modes:
        page.locator(f"button.mode-button[value='{mode}']").click()
        found[mode] = complaints(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width

    assert {mode: what for mode, what in found.items() if what} == {}
    assert page.evaluate(_RED_ONLY) == []
    page.context.close()


def test_hostile_names_stay_names_however_they_are_sorted_and_looked_for(opener: Opener) -> None:
    opened = opener.text(render_overview(*build_fleet(40, 5, names=HOSTILE)))
    page = opened.page
    for text in HOSTILE[:6]:
        page.fill("#vessels-find", text)
        assert page.locator("#vessels-table tbody").count() >= 1
    page.fill("#vessels-find", "")
    for by in ("vessel", "worst", "when", ""):
        page.evaluate(
            """by => { var order = document.getElementById("vessels-order"); order.value = by;
            order.dispatchEvent(new Event("change")); }""",
            by,
        )

    assert opened.undisturbed()
    assert page.evaluate("window.taken") is None
    assert page.locator("img").count() == 0
    assert "<script>window.taken = 1</script>" in names(page)
    page.context.close()


def test_a_script_that_fails_leaves_the_page_as_it_was_without_one(opener: Opener, text: str) -> None:
    page = opener.text(text).page
    page.evaluate("setTimeout(function () { throw new Error('on purpose'); })")
    page.wait_for_function("() => !document.documentElement.classList.contains('js')")

    assert page.locator("#not-checked").is_visible()
    assert page.locator("#vessels-table tbody").count() > 0
    page.context.close()


def test_ten_thousand_vessels_are_in_the_page_and_found(opener: Opener) -> None:
    page = opener.text(render_overview(*build_fleet(10_000, 20))).page
    page.fill("#vessels-find", "Invented 09999")

    assert names(page) == ["Invented 09999"]
    assert page.locator("tbody").count() < 200
    assert json.loads(page.locator("#ledgers").text_content() or "")[0]["name"] == "vessels"
    page.context.close()
