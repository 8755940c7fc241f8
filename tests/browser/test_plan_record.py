"""The record of a plan in a real browser: lines told apart, all of it reached, on any screen and on paper."""

from __future__ import annotations

import base64
import io
import re
import unicodedata
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser_page import Opened, Opener
from browser_use import use_everything
from plan_results import NAMES, NOT_KNOWN, build_plan
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from towzone.model.result import CheckResult
from towzone.record.page import render_record
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv

FAINTEST = 6
"""Green or blue of 255 that still counts as none: rounding where red lies half over black. Own choice."""

OTHER_THAN_RED = """async data => {
  const picture = new Image();
  picture.src = "data:image/png;base64," + data;
  await picture.decode();
  const canvas = new OffscreenCanvas(picture.width, picture.height), pen = canvas.getContext("2d");
  pen.drawImage(picture, 0, 0);
  const seen = pen.getImageData(0, 0, picture.width, picture.height).data;
  let most = 0;
  for (let i = 0; i < seen.length; i += 4) { most = Math.max(most, seen[i + 1], seen[i + 2]); }
  return most;
}"""
OPEN_PLAN = "document.querySelectorAll('#plan details').forEach(node => { node.open = true; })"
SHOWN = """() => [...document.querySelectorAll("#rows > tbody.row")].map(body =>
  [Number(body.id.slice(4)), body.hasAttribute("data-last")])"""


def record(result: CheckResult) -> str:
    return render_record(result, to_json(result), to_csv(result))


@pytest.fixture(scope="module")
def opener(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opener]:
    opener = Opener(browser, tmp_path_factory.mktemp("plan"))
    yield opener
    opener.close()


@pytest.fixture(scope="module")
def opened(opener: Opener) -> Opened:
    return opener.text(record(build_plan()))


@pytest.fixture
def page(opened: Opened) -> Page:
    """The page as it is after being opened."""
    opened.page.reload()
    opened.page.wait_for_selector("#chart[data-ready]", state="attached")
    return opened.page


def complaints(page: Page) -> list[str]:
    results: dict[str, Any] = Axe().run(page).response
    assert len(results["passes"]) > 20, "the rules did not run"
    return [f"{found['id']}: {n['target']}" for found in results["violations"] for n in found["nodes"]]


def words(page: Page) -> list[str]:
    return page.locator("#chart .word").all_text_contents()


def style(page: Page, selector: str, name: str) -> str:
    got: str = page.evaluate(
        "([selector, name]) => getComputedStyle(document.querySelector(selector))[name]", [selector, name]
    )
    return got


def test_the_page_speaks_to_nobody_and_breaks_nothing_whatever_is_used(opener: Opener) -> None:
    opened = opener.text(record(build_plan(lines=(0,))))
    use_everything(opened.page)

    assert opened.undisturbed(), opened.disturbances()
    opened.close()


def test_wanted_and_corrected_line_are_told_apart_without_colour(page: Page) -> None:
    wanted, corrected = "#chart path.t-planned.a-planned:not(.corrected)", "#chart path.a-planned.corrected"
    assert style(page, wanted, "strokeDasharray") != "none"
    assert style(page, corrected, "strokeDasharray") == "none"
    outer, core = (
        float(style(page, one, "strokeWidth")[:-2]) for one in (corrected, "#chart path.track-core")
    )
    assert outer > core + 2.0
    assert page.locator("#chart path.track-core").count() == 1
    fine = float(style(page, "#chart path.t-planned.a-shooting", "strokeWidth")[:-2])
    assert fine < float(style(page, wanted, "strokeWidth")[:-2])


def test_corners_and_moments_are_named_on_the_chart(page: Page) -> None:
    assert {"A2", "A3", "Ac3", "A4: haul call", "B2: haul call", "C1: towing begins"} <= set(words(page))
    assert page.locator("#chart .plan-mark.p-haul_call").count() == 3
    assert page.locator("#chart .plan-mark.p-narrowest").count() == 1


NEAREST = """() => {
  const chart = document.getElementById("chart").getBoundingClientRect(), marks = towzone.record.data.plan;
  const places = marks.map(({place}) =>
    towzoneMap.latLngToContainerPoint([place[1] / 1e6, place[0] / 1e6]));
  return [...document.querySelectorAll("#chart .plan-word > span")].map(node => {
    const box = node.getBoundingClientRect();
    const x = box.left + box.width / 2 - chart.left, y = box.top + box.height / 2 - chart.top;
    const far = places.map(at => Math.hypot(at.x - x, at.y - y)), text = node.textContent;
    return [text, Math.min(...far.filter((_, i) => marks[i].text === text)) - Math.min(...far)];
  });
}"""


def test_every_word_of_a_mark_stands_nearer_to_it_than_to_any_other(page: Page) -> None:
    found = page.evaluate(NEAREST)

    assert len(found) >= 8
    # Two pixels: places are rounded to whole ones.
    assert [pair for pair in found if pair[1] > 2.0] == []


@pytest.mark.parametrize(
    ("layer", "selector"),
    [
        ("track-corrected", "path.track.corrected"),
        ("track-planned", "path.t-planned"),
        ("plan", ".plan-mark"),
    ],
)
def test_each_part_of_a_plan_can_be_switched_off_and_on(page: Page, layer: str, selector: str) -> None:
    shown, switch = page.locator(f"#chart {selector}"), page.locator(f"input[data-layer='{layer}']")
    before = shown.count()
    assert before > 0
    switch.uncheck()
    assert shown.count() < before
    switch.check()
    assert shown.count() == before


def test_rows_of_the_corrected_line_stay_last_however_the_table_is_sorted(page: Page) -> None:
    orders = set()
    for order in ("number", "zone", "tow", "clearance", "closest"):
        value = {"closest": "time"}.get(order, order)
        page.select_option("#rows-order", value) if page.locator("#rows-order").is_visible() else page.click(
            f"#rows th.c-{order} .sort"
        )
        rows = page.evaluate(SHOWN)
        last = [is_last for _, is_last in rows]
        assert last == sorted(last), order
        assert 0 < sum(last) < len(last)
        orders.add(tuple(number for number, _ in rows))
    assert len(orders) >= 3, "nothing was sorted"


def test_a_row_of_the_corrected_line_can_be_chosen_though_it_was_not_among_those_shown(page: Page) -> None:
    number = next(number for number, is_last in page.evaluate(SHOWN) if is_last)
    page.select_option("#rows-result", index=1)
    assert not page.locator(f"#row-{number}").is_visible()
    page.evaluate("number => towzone.record.emit('choose', { row: number, move: true })", number)

    assert page.locator(f"#row-{number}").is_visible()
    assert page.locator("tbody.picked").get_attribute("id") == f"row-{number}"


def test_a_line_of_the_comparison_is_shown_on_the_chart(page: Page) -> None:
    before = page.evaluate("towzoneMap.getBounds().toBBoxString()")
    page.locator("#plan .show-tow").nth(2).click()

    assert page.evaluate("towzoneMap.getBounds().toBBoxString()") != before
    assert "Wanted line C" in words(page)


def test_corners_can_be_copied_by_keyboard_without_a_button(page: Page) -> None:
    page.evaluate(OPEN_PLAN)
    page.locator("#plan .of-corrected summary").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.localName") == "textarea"
    page.keyboard.press("Control+A")
    copied = page.evaluate("getSelection().toString()")

    assert copied.splitlines()[1] == "2  57°00.686'N 019°54.950'W"
    assert len(copied.splitlines()) == 4
    page.keyboard.press("x")
    assert page.evaluate("document.activeElement.value.includes('x')") is False


@pytest.mark.parametrize(("width", "mode"), [(1280, "night"), (390, "day")])
def test_no_rule_of_access_is_broken_by_several_lines(page: Page, width: int, mode: str) -> None:
    page.set_viewport_size({"width": width, "height": 850})
    page.evaluate(OPEN_PLAN)
    page.locator(f"button.mode-button[value='{mode}']").click()
    found, wide = complaints(page), page.evaluate("document.documentElement.scrollWidth")
    page.locator("button.mode-button[value='day']").click()
    page.set_viewport_size({"width": 1280, "height": 900})

    assert found == []
    assert wide <= width


def test_a_single_line_breaks_no_rule_of_access_and_shows_its_corrected_line_on_the_first_screen(
    opener: Opener,
) -> None:
    opened = opener.text(record(build_plan(lines=(0,))), width=1280, height=900)
    ends = [
        opened.page.locator(f"#plan .of-{part} {inside}").last.bounding_box()
        for part, inside in (("corrected", "tbody tr"), ("advice", "ol"))
    ]
    chart = opened.page.locator("#chart").bounding_box()
    folded = opened.page.locator("#plan .of-times").evaluate("node => node.open")
    opened.page.evaluate(OPEN_PLAN)
    found = complaints(opened.page)
    opened.close()

    assert folded is False
    corrected, advice = ends
    assert corrected["y"] + corrected["height"] < 900
    # Beside each other, so that the chart is not far below.
    assert advice["x"] > corrected["x"] + 300
    assert chart["y"] < 1200
    assert found == []


def test_at_night_the_plan_is_red_alone(page: Page, browser: Browser) -> None:
    eye = browser.new_page()
    page.evaluate(OPEN_PLAN)
    page.locator("button.mode-button[value='night']").click()
    pictures = [
        page.locator(part).screenshot() for part in ("#plan .of-corrected", "#plan .compared", "#chart")
    ]
    most = [eye.evaluate(OTHER_THAN_RED, base64.b64encode(one).decode()) for one in pictures]
    page.locator("button.mode-button[value='day']").click()
    day = page.locator("#chart").screenshot()
    light = eye.evaluate(OTHER_THAN_RED, base64.b64encode(day).decode())
    eye.close()

    assert max(most) <= FAINTEST
    assert light > 200, "the look at pictures cannot fail"


def test_paper_holds_all_of_the_plan_though_it_is_folded(page: Page) -> None:
    data = page.pdf(prefer_css_page_size=True, print_background=True)
    pages = [one.extract_text() for one in PdfReader(io.BytesIO(data)).pages]
    text = re.sub(r"\s+", " ", unicodedata.normalize("NFKC", " ".join(pages)))

    for words_ in ("Ac2", "57°00.686'N 019°54.950'W", "Hold on for 560 m on leg 1", "haul call", *NOT_KNOWN):
        assert words_ in text
    assert "to be copied" not in text


def test_without_scripts_the_plan_is_read_and_drawn(opener: Opener) -> None:
    opened = opener.text(record(build_plan()), scripts=False)
    page = opened.page
    assert page.locator("#plan").inner_text().count("Long tow") >= 2
    assert page.locator("svg.still path.track.corrected").count() >= 1
    names = page.locator("svg.still text.plan-name").all_text_contents()
    opened.close()

    assert {"A2", "A3", "Ac2"} <= set(names)
    assert NAMES[0] not in names
