"""The record for those who read it by ear, by keyboard, in the dark or on a small screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser_page import Opened, Opener
from playwright.sync_api import Browser, Page

MODES = ("day", "dusk", "night")
MOST_TABS = 200
"""More stops than the page has; own choice."""

_STOPS = """() => {
  var nodes = document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]");
  var stops = [...nodes].filter(node => node.tabIndex >= 0 && !node.disabled &&
    node.checkVisibility({checkVisibilityCSS: true, checkOpacity: false}));
  stops.forEach((node, i) => node.setAttribute("data-stop", i));
  return stops.length;
}"""
_FOCUS = """() => {
  var node = document.activeElement, box = node.getBoundingClientRect();
  if (!node.hasAttribute("data-stop")) { return null; }
  return {stop: Number(node.getAttribute("data-stop")),
    what: node.outerHTML.slice(0, 120),
    marked: [node, ...node.querySelectorAll("*")].map(one => getComputedStyle(one)).some(
      seen => seen.outlineStyle !== "none" && parseFloat(seen.outlineWidth) >= 2),
    on_screen: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth};
}"""


@pytest.fixture(scope="module")
def opener(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opener]:
    opener = Opener(browser, tmp_path_factory.mktemp("access"))
    yield opener
    opener.close()


@pytest.fixture(scope="module")
def opened(opener: Opener, sample_records: dict[str, Path]) -> Opened:
    return opener.file(sample_records["gear"])


@pytest.fixture
def page(opened: Opened) -> Page:
    """The page as it is after being opened."""
    opened.page.reload()
    opened.page.wait_for_function("towzone.record !== undefined")
    return opened.page


def tab_to(page: Page, selector: str) -> None:
    """Press the tab key until an element has the focus; the other way when it cannot be reached this way."""
    for key in ("Tab", "Shift+Tab"):
        for _ in range(MOST_TABS):
            if page.evaluate("selector => document.activeElement.matches(selector)", selector):
                return
            page.keyboard.press(key)
    pytest.fail(f"{selector} cannot be reached by the tab key")


def use(page: Page, selector: str, key: str = "Enter") -> None:
    """Reach an element by the tab key and press a key on it."""
    tab_to(page, selector)
    page.keyboard.press(key)


def chosen(page: Page) -> str | None:
    rows = page.locator("tbody.picked")
    return rows.first.get_attribute("id") if rows.count() == 1 else None


def complaints(page: Page) -> list[str]:
    """What axe-core finds wrong by any of its rules that are not experimental, best practices among them."""
    results: dict[str, Any] = Axe().run(page).response
    assert len(results["passes"]) > 20, "the rules did not run"
    return [
        f"{found['id']}: {node['target']} {node['failureSummary']}"
        for found in results["violations"]
        for node in found["nodes"]
    ]


@pytest.mark.parametrize(
    ("name", "width", "modes"),
    [
        ("gear", 1280, MODES),
        ("gear", 390, ("day", "night")),
        ("gap", 1280, ("day",)),
        ("across-180", 1280, ("day",)),
    ],
)
def test_no_rule_of_access_is_broken_in_any_light_open_or_closed(
    opener: Opener, sample_records: dict[str, Path], name: str, width: int, modes: tuple[str, ...]
) -> None:
    page = opener.file(sample_records[name], width=width, height=850).page
    found = {"as opened": complaints(page)}
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    page.locator("#rows button.show").first.click()
    for mode in modes:
        page.locator(f"button.mode-button[value='{mode}']").click()
        found[f"{mode}, a row chosen, all open"] = complaints(page)
    page.context.close()

    assert {when: what for when, what in found.items() if what} == {}


def test_what_breaks_a_rule_of_access_is_found(opener: Opener, sample_records: dict[str, Path]) -> None:
    page = opener.file(sample_records["gap"]).page
    page.evaluate("document.querySelector('main').appendChild(document.createElement('button'))")
    page.evaluate("document.getElementById('outcome').style.color = '#bbb'")
    found = "\n".join(complaints(page))
    page.context.close()

    assert "button-name" in found
    assert "color-contrast" in found


def test_tab_key_passes_every_control_in_order_and_each_shows_that_it_has_the_focus(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    stops, passed = page.evaluate(_STOPS), []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        focus = page.evaluate(_FOCUS)
        if focus is None:
            break
        passed.append(focus)

    assert stops > 30
    assert [focus["stop"] for focus in passed] == list(range(stops))
    assert [focus["what"] for focus in passed if not focus["marked"]] == []
    assert [focus["what"] for focus in passed if not focus["on_screen"]] == []


def test_nothing_jumps_the_queue_of_the_tab_key(page: Page) -> None:
    assert (
        page.evaluate("[...document.querySelectorAll('[tabindex]')].filter(n => n.tabIndex > 0).length") == 0
    )


def test_row_is_chosen_and_found_again_by_keys(page: Page) -> None:
    use(page, "#rows button.show")
    assert chosen(page) == "row-1"
    use(page, "#to-row")
    assert page.evaluate("document.activeElement.matches('#row-1 button.show')")


def test_rows_are_walked_through_by_keys(page: Page) -> None:
    use(page, "#next")
    assert chosen(page) == "row-1"
    page.keyboard.press("Enter")
    assert chosen(page) == "row-2"
    use(page, "#previous")
    assert chosen(page) == "row-1"
    page.locator("#chart").focus()
    page.keyboard.press("n")
    assert chosen(page) == "row-2"
    page.keyboard.press("p")
    assert chosen(page) == "row-1"


def test_finding_on_the_chart_is_chosen_by_keys(page: Page) -> None:
    use(page, "#chart .pin-mark")
    assert chosen(page) == "row-1"


def test_layer_is_switched_by_keys(page: Page) -> None:
    shown = page.evaluate("towzone.record.layers.shown('gear')")
    use(page, "input[data-layer='gear']", "Space")
    assert page.evaluate("towzone.record.layers.shown('gear')") is not shown


def test_rows_are_filtered_and_sorted_by_keys(page: Page) -> None:
    rows = page.locator("#rows tbody.row")
    before = rows.count()
    use(page, "#rows-result", "End")
    assert 0 < page.locator("#rows tbody.row:visible").count() < before
    use(page, "#rows-reset")
    assert page.locator("#rows tbody.row:visible").count() == before

    def numbers() -> list[str]:
        return [row.get_attribute("id") or "" for row in rows.all()]

    order = numbers()
    use(page, "#rows button.sort")
    assert numbers() == order[::-1]
    assert page.locator("th[aria-sort]").count() == 1


def test_rows_are_copied_and_saved_by_keys(page: Page) -> None:
    use(page, "#copy-csv")
    page.wait_for_timeout(200)
    assert "CSV" in page.locator("#file-said").inner_text()
    with page.expect_download() as saved:
        use(page, "#save-csv")
    text = saved.value.path().read_text(encoding="utf-8")
    assert text == towzone_csv(page)


def towzone_csv(page: Page) -> str:
    csv: str = page.evaluate("towzone.record.data.csv")
    return csv


def test_track_is_played_and_stepped_by_keys(page: Page) -> None:
    slider = page.locator("#moment-slider")
    start = slider.input_value()
    use(page, "#play")
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")
    played = slider.input_value()
    assert played != start
    page.wait_for_timeout(200)
    assert slider.input_value() == played
    page.locator("#chart").focus()
    page.keyboard.press(".")
    page.keyboard.press(".")
    ahead = slider.input_value()
    assert float(ahead) > float(played)
    page.keyboard.press(",")
    assert float(slider.input_value()) < float(ahead)
    use(page, "#moment-slider", "End")
    last = page.evaluate("(t => towzone.clock.text(t.timeAt(t.count - 1)))(towzone.record.tracks[0])")
    assert slider.get_attribute("aria-valuetext") == last


def test_distance_is_measured_by_keys(page: Page) -> None:
    use(page, "#measure")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")

    assert page.locator("#measured").inner_text().count("°") >= 4
    assert "nmi" in page.locator("#measured").inner_text()
    page.keyboard.press("Escape")
    assert page.locator("#measured").inner_text() == ""


def test_light_is_chosen_by_keys(page: Page) -> None:
    for mode in MODES:
        use(page, f"button.mode-button[value='{mode}']")
        assert page.evaluate("document.documentElement.getAttribute('data-mode')") == mode


def test_chart_is_moved_by_keys_and_left_again(page: Page) -> None:
    tab_to(page, "#chart")
    before = page.evaluate("towzoneMap.getBounds().toBBoxString()")
    page.keyboard.press("+")
    assert page.evaluate("towzoneMap.getBounds().toBBoxString()") != before
    page.keyboard.press("Tab")
    assert not page.evaluate("document.activeElement.id === 'chart'")
    use(page, "#whole")


def test_sections_are_opened_by_keys(page: Page) -> None:
    closed = page.locator("section details:not([open]) > summary").first
    if not closed.count():
        pytest.fail("no section is closed at first; this test shows nothing")
    closed.evaluate("node => node.setAttribute('data-first', '')")
    use(page, "[data-first]")
    assert page.locator("details[open] > [data-first]").count() == 1


def test_keys_never_disturb_the_page(opened: Opened) -> None:
    # The module's pages were reloaded for each test: one request each, and nothing else.
    assert set(opened.requests) == {opened.url} | {url for url in opened.requests if url.startswith("blob:")}
    assert opened.said == []
    assert opened.violations() == []
