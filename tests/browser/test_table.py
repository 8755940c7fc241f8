"""The table of rows in a real browser: sorting, choosing, copying and saving, on any screen and on paper."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from browser_page import Opened, Opener
from playwright.sync_api import Browser, Page, expect
from result_builders import build_result

from towzone.model.result import CheckResult, Row, Status
from towzone.record.page import render_record
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv

NAMES = ("Box 10", "box 2", "Ærø cable", "Zulu", "Box 2")
TRAPS = (
    'a\\u003cb\\\\u003e "quoted", & <i>',
    "line\nbroken, and \u2028 and \u2029",
    "ends with a backslash \\",
    "</script><script>window.taken=1</script>",
    "Ærø · 日本 \t 'x' \u202e",
)
SHOWN = """() => [...document.querySelectorAll("#rows > tbody.row")]
    .filter(body => getComputedStyle(body).display !== "none").map(body => Number(body.id.slice(4)))"""
NEXT_FRAME = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"


def awkward() -> CheckResult:
    """Return a result with equal clearances, unknown ones and unknown times among its rows."""
    base = build_result(names=NAMES)
    rows = list(base.rows)
    rows[1] = dataclasses.replace(rows[1], clearance_m=None, closest=None, inside=(), close=())
    rows[4] = dataclasses.replace(rows[4], clearance_m=rows[6].clearance_m)
    return with_gaps(base, tuple(rows))


def with_gaps(result: CheckResult, rows: tuple[Row, ...]) -> CheckResult:
    """Return a result with other rows, and with the gaps of every track that a real one has."""
    gaps = {track.track_id: result.gaps.get(track.track_id, ()) for track in result.tracks}
    return dataclasses.replace(result, rows=rows, gaps=gaps)


def whole(result: CheckResult) -> str:
    """Return the record as the command line would write it."""
    return render_record(result, to_json(result), to_csv(result))


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return awkward()


@pytest.fixture(scope="module")
def opened(
    browser: Browser, result: CheckResult, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Opened]:
    opened = Opener(browser, tmp_path_factory.mktemp("table")).text(whole(result))
    yield opened
    opened.close()


@pytest.fixture
def page(opened: Opened) -> Iterator[Page]:
    """The page with all rows shown, worst first."""
    page = opened.page
    page.emulate_media(media="screen")
    for name in ("result", "zone", "tow"):
        page.select_option(f"#rows-{name}", "")
    page.evaluate(
        "const o = document.getElementById('rows-order'); o.value = 'number';"
        "o.dispatchEvent(new Event('change'))"
    )
    yield page
    assert opened.undisturbed(), opened.disturbances()


def shown(page: Page) -> list[int]:
    numbers: list[int] = page.evaluate(SHOWN)
    return numbers


def count(page: Page) -> str:
    return page.locator("#rows-count").inner_text()


def heading(column: str) -> str:
    return f"#rows th.c-{column} button"


def ordered(result: CheckResult, key: Callable[[Row], Any], *, down: bool) -> list[int]:
    """Return the numbers of the rows by a key: unknown last, equal ones in their first order."""
    numbered = list(enumerate(result.rows, start=1))
    known = [(number, row) for number, row in numbered if key(row) is not None]
    known.sort(key=lambda one: key(one[1]), reverse=down)
    return [number for number, _ in known] + [n for n, row in numbered if key(row) is None]


def time_of(row: Row) -> Any:
    return None if row.closest is None or np.isnat(row.closest.utc) else row.closest.utc


def name_order(result: CheckResult) -> Callable[[Row], int]:
    """Return the place of a row's zone among the names as a person would put them."""
    as_read = ["Ærø cable", "box 2", "Box 2", "Box 10", "Zulu"]
    names = {zone.zone_id: zone.name for zone in result.zones}
    return lambda row: as_read.index(names[row.zone_id])


@pytest.mark.parametrize("down", [False, True], ids=["up", "down"])
@pytest.mark.parametrize("column", ["clearance", "closest", "tow", "zone", "number"])
def test_rows_are_sorted_by_their_exact_values_with_the_unknown_last(
    page: Page, result: CheckResult, column: str, down: bool
) -> None:
    tracks = [track.track_id for track in result.tracks]
    numbers = {id(row): number for number, row in enumerate(result.rows)}
    keys: dict[str, Callable[[Row], Any]] = {
        "clearance": lambda row: row.clearance_m,
        "closest": time_of,
        "tow": lambda row: (tracks.index(row.track_id), row.tow is None, row.tow or 0),
        "zone": name_order(result),
        "number": lambda row: numbers[id(row)],
    }

    page.click(heading("clearance" if column != "clearance" else "zone"))
    page.click(heading(column))
    if down:
        page.click(heading(column))

    assert shown(page) == ordered(result, keys[column], down=down)
    sorted_by = page.locator("#rows th[aria-sort]")
    assert sorted_by.count() == 1
    assert sorted_by.get_attribute("aria-sort") == ("descending" if down else "ascending")
    assert f"c-{column}" in (sorted_by.get_attribute("class") or "")


def test_each_row_keeps_its_sentence_and_the_order_is_said(page: Page, result: CheckResult) -> None:
    page.click(heading("clearance"))
    page.click(heading("clearance"))

    texts = page.locator("#rows tbody.row").all_inner_texts()
    for number, text in zip(shown(page), texts, strict=True):
        assert result.rows[number - 1].explain in text
    assert count(page) == f"{len(result.rows)} of {len(result.rows)} rows shown, largest clearance first."


def test_sorting_works_by_keyboard_and_leaves_the_focus_where_it_was(page: Page) -> None:
    page.locator(heading("zone")).focus()
    before = shown(page)
    page.keyboard.press("Enter")
    up = shown(page)
    page.keyboard.press("Space")
    down = shown(page)

    assert before != up != down
    assert page.evaluate("document.activeElement.closest('th').className") == "c-zone"


def test_choices_are_joined_and_the_count_always_says_what_is_left(page: Page, result: CheckResult) -> None:
    every = len(result.rows)
    page.select_option("#rows-result", "clear")
    clear = [n for n, row in enumerate(result.rows, 1) if row.status is Status.CLEAR]
    assert shown(page) == clear
    assert count(page) == f"{len(clear)} of {every} rows shown, worst first."

    page.select_option("#rows-zone", "1")
    both = [n for n in clear if result.rows[n - 1].zone_id == "zone-1"]
    assert shown(page) == both
    page.select_option("#rows-tow", "0")
    three = [n for n in both if (result.rows[n - 1].track_id, result.rows[n - 1].tow) == ("Invented trip", 1)]
    assert shown(page) == three
    assert 0 < len(three) < len(both) < len(clear) < every

    page.select_option("#rows-result", "undetermined")
    assert shown(page) == []
    assert count(page) == f"0 of {every} rows shown: none fits what was chosen."
    assert page.locator("#rows-count").get_attribute("role") == "status"


def test_findings_and_what_is_not_decided_can_be_chosen_together(page: Page, result: CheckResult) -> None:
    page.select_option("#rows-result", "inside too_close undetermined")

    kept = {Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED}
    assert shown(page) == [n for n, row in enumerate(result.rows, 1) if row.status in kept]


def test_one_button_shows_all_rows_again_and_is_there_only_when_needed(
    page: Page, result: CheckResult
) -> None:
    reset, every = page.locator("#rows-reset"), list(range(1, len(result.rows) + 1))
    assert not reset.is_visible()
    page.click(heading("closest"))
    page.select_option("#rows-result", "clear")
    page.select_option("#rows-tow", "0")
    assert len(shown(page)) < len(every)

    reset.click()

    assert shown(page) == every
    assert count(page) == f"{len(every)} of {len(every)} rows shown, worst first."
    assert not reset.is_visible()
    assert page.evaluate("document.activeElement.id") == "rows-result"


def test_a_chosen_row_that_was_left_out_is_shown_and_it_is_said(page: Page, result: CheckResult) -> None:
    page.select_option("#rows-result", "clear")
    page.evaluate("towzone.record.emit('choose', {row: 1, move: false})")

    assert len(shown(page)) == len(result.rows)
    assert count(page).startswith("Row 1 was not among the rows shown; all are shown again.")
    page.select_option("#rows-result", "clear")
    page.evaluate("towzone.record.emit('row', {row: null})")
    last = len(result.rows)
    assert result.rows[last - 1].status is Status.CLEAR
    page.evaluate(f"towzone.record.emit('choose', {{row: {last}, move: false}})")
    assert len(shown(page)) < len(result.rows)


def test_paper_has_every_row_as_it_first_stood_whatever_was_chosen(page: Page, result: CheckResult) -> None:
    every = list(range(1, len(result.rows) + 1))
    page.click(heading("zone"))
    page.select_option("#rows-result", "clear")
    page.locator(f"#row-{every[-1]} button.show").focus()
    before = shown(page)

    page.emulate_media(media="print")
    page.evaluate(NEXT_FRAME)
    assert shown(page) == every
    assert not page.locator(".row-tools").is_visible()
    assert not page.locator(".file-tools").is_visible()
    page.emulate_media(media="screen")
    page.evaluate(NEXT_FRAME)
    assert shown(page) == before
    assert page.evaluate("document.activeElement.getAttribute('data-row')") == str(every[-1])
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(SHOWN) == sorted(before)
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert shown(page) == before


def saved(page: Page, button: str) -> tuple[str, bytes]:
    with page.expect_download() as waited:
        page.click(button)
    return waited.value.suggested_filename, Path(waited.value.path()).read_bytes()


@pytest.fixture(scope="module")
def trapped() -> CheckResult:
    """A result whose names hold everything that JSON, CSV, HTML and a spreadsheet give a meaning to."""
    base = build_result(names=TRAPS)
    rows = tuple(
        dataclasses.replace(row, explain=f"=1+1 {text}")
        for row, text in zip(base.rows, TRAPS * len(base.rows), strict=False)
    )
    return dataclasses.replace(
        with_gaps(base, rows),
        assumptions=tuple(f"{a}{b}" for a in TRAPS for b in TRAPS),
    )


@pytest.fixture(scope="module")
def trap(
    browser: Browser, trapped: CheckResult, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Opened]:
    opened = Opener(browser, tmp_path_factory.mktemp("trap")).text(whole(trapped))
    yield opened
    assert opened.page.evaluate("window.taken") is None
    assert not [url for url in opened.requests if not url.startswith(("file:", "blob:"))]
    assert opened.said == []
    opened.close()


def test_the_result_is_saved_to_the_byte_as_the_program_writes_it(trap: Opened, trapped: CheckResult) -> None:
    expected = to_json(trapped)
    assert "\\\\u003c" in expected
    assert "\u2028" in expected

    name, content = saved(trap.page, "#save-json")

    assert name == "towzone-result.json"
    assert content == expected.encode()


def test_all_rows_are_saved_to_the_byte_as_the_program_writes_them(
    trap: Opened, trapped: CheckResult
) -> None:
    button = trap.page.locator("#save-csv")
    assert button.inner_text() == f"Save all rows as CSV ({len(trapped.rows)})"

    name, content = saved(trap.page, "#save-csv")

    assert name == "towzone-rows.csv"
    assert content == to_csv(trapped).encode()


def test_of_chosen_rows_only_those_are_saved_and_the_button_says_so(
    trap: Opened, trapped: CheckResult
) -> None:
    kept = tuple(row for row in trapped.rows if row.zone_id == "zone-1")
    trap.page.select_option("#rows-zone", "1")
    trap.page.click(heading("clearance"))
    said = f"({len(kept)} of {len(trapped.rows)})"
    assert trap.page.locator("#save-csv").inner_text() == f"Save the rows shown as CSV {said}"

    name, content = saved(trap.page, "#save-csv")
    trap.page.click("#rows-reset")

    assert name == "towzone-rows-shown.csv"
    assert content == to_csv(dataclasses.replace(trapped, rows=kept)).encode()


def test_the_json_is_shown_as_text_when_asked_for(trap: Opened, trapped: CheckResult) -> None:
    page, text = trap.page, trap.page.locator("#json-text")
    assert text.text_content() == ""
    page.click("#show-json summary")
    expect(text).not_to_be_empty()

    assert text.text_content() == to_json(trapped)
    assert text.is_visible()
    page.click("#show-json summary")
    expect(text).to_be_empty()


CLIPBOARDS = {
    "modern": "delete navigator.clipboard",
    "absent": "Object.defineProperty(navigator, 'clipboard', {configurable: true, value: undefined})",
    "refused": """Object.defineProperty(navigator, 'clipboard', {configurable: true,
        value: {writeText: () => Promise.reject(new Error('no'))}})""",
}


@pytest.mark.parametrize("clipboard", CLIPBOARDS)
def test_rows_are_copied_whatever_clipboard_the_browser_has(
    trap: Opened, trapped: CheckResult, clipboard: str
) -> None:
    page, said = trap.page, trap.page.locator("#file-said")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.evaluate("navigator.clipboard.writeText('what was copied before')")
    page.evaluate(CLIPBOARDS[clipboard])
    page.evaluate("document.getElementById('file-said').textContent = ''")
    page.click("#copy-csv")
    expect(said).to_have_text(f"Copied all rows as CSV ({len(trapped.rows)}).")
    assert not page.locator("#by-hand").is_visible()
    assert page.evaluate("document.activeElement.id") == "copy-csv"

    page.evaluate(
        """() => { const field = document.createElement("textarea"); field.id = "pasted";
        document.body.appendChild(field); field.focus(); }"""
    )
    page.keyboard.press("Control+V")
    pasted = page.locator("#pasted").input_value()
    page.evaluate("document.getElementById('pasted').remove(); delete navigator.clipboard")

    assert pasted == to_csv(trapped)


def test_text_that_cannot_be_copied_is_selected_for_copying_by_hand(
    trap: Opened, trapped: CheckResult
) -> None:
    page, area = trap.page, trap.page.locator("#by-hand-text")
    page.evaluate(CLIPBOARDS["absent"])
    page.evaluate("document.execCommand = () => false")
    page.click("#copy-csv")
    text = area.input_value()
    selected = page.evaluate("(a => a.value.slice(a.selectionStart, a.selectionEnd))(document.activeElement)")
    page.evaluate("delete navigator.clipboard; delete document.execCommand")

    assert area.is_visible()
    assert text == selected == to_csv(trapped)
    assert "copy it by hand" in page.locator("#file-said").inner_text()


@pytest.fixture
def phone(browser: Browser, result: CheckResult, tmp_path: Path) -> Iterator[Page]:
    opened = Opener(browser, tmp_path).text(whole(result), width=320)
    yield opened.page
    opened.close()


def test_rows_are_cards_on_a_phone_with_nothing_beside_the_screen(phone: Page, result: CheckResult) -> None:
    right = phone.evaluate(
        """Math.max(...[...document.querySelectorAll("#rows-part *")]
        .map(n => n.getBoundingClientRect().right))"""
    )
    assert right <= 320
    assert not phone.locator("#rows thead").is_visible()
    heads = phone.evaluate(
        """[...document.querySelectorAll("#row-1 td.c-required, #row-1 td.c-closest")]
        .map(n => getComputedStyle(n, "::before").content)"""
    )
    assert heads == ['"Required, uncertainty: "', '"Closest approach: "']
    assert phone.locator("#row-1 .explain td").is_visible()
    small = phone.evaluate(
        """[...document.querySelectorAll("#rows-part button, #rows-part select")].filter(n => n.offsetWidth)
        .filter(n => Math.min(n.offsetWidth, n.offsetHeight) < 30).length"""
    )
    assert small == 0

    phone.select_option("#rows-order", "clearance")
    assert shown(phone) == ordered(result, lambda row: row.clearance_m, down=False)
    assert count(phone).endswith("rows shown, smallest clearance first.")


def test_on_a_phone_rows_with_nothing_found_are_brief_until_asked_for(
    phone: Page, result: CheckResult
) -> None:
    last = len(result.rows)
    assert result.rows[last - 1].status is Status.CLEAR
    sentence, row = phone.locator(f"#explain-{last}"), phone.locator(f"#row-{last}")
    assert phone.locator("#explain-1").is_visible()
    assert not sentence.is_visible()
    assert not row.locator(".c-closest").is_visible()
    brief = row.bounding_box()["height"]
    assert brief < 0.5 * phone.locator("#row-1").bounding_box()["height"]

    row.locator("summary").click()
    assert sentence.is_visible()
    assert row.locator(".c-closest").is_visible()
    row.locator("summary").click()
    phone.evaluate(f"towzone.record.emit('choose', {{row: {last}, move: false}})")
    assert sentence.is_visible()


def test_paper_has_the_sentence_of_every_row_though_a_phone_had_folded_it(
    phone: Page, result: CheckResult
) -> None:
    last = len(result.rows)
    assert not phone.locator(f"#explain-{last}").is_visible()
    phone.evaluate("dispatchEvent(new Event('beforeprint'))")
    phone.emulate_media(media="print")

    assert phone.locator(f"#explain-{last}").is_visible()
    assert phone.locator(f"#row-{last} .c-closest").is_visible()
    assert not phone.locator(f"#row-{last} summary").is_visible()


def test_table_has_no_fault_that_a_screen_reader_would_trip_over(page: Page) -> None:
    page.click(heading("clearance"))

    report = Axe().run(page, context="#rows-part")

    assert report.response["violations"] == [], json.dumps(report.response["violations"], indent=1)


def test_without_scripts_headings_are_words_and_no_dead_button_is_left(
    browser: Browser, result: CheckResult, tmp_path: Path
) -> None:
    opened = Opener(browser, tmp_path).text(whole(result), scripts=False)
    tools = opened.page.locator(".row-tools, .file-tools")

    assert [tools.nth(i).is_visible() for i in range(tools.count())] == [False, False]
    assert opened.page.locator("#rows th[scope=col]").first.inner_text() == "No."
    opened.close()


def test_two_thousand_rows_are_sorted_and_filtered_like_a_few(browser: Browser, tmp_path: Path) -> None:
    base = build_result(planned=False)
    plain = [dataclasses.replace(row, inside=(), close=()) for row in base.rows]
    rows = tuple(
        dataclasses.replace(plain[i % len(plain)], status=Status.CLEAR, clearance_m=float(i * 7919 % 2003))
        for i in range(2000)
    )
    result = dataclasses.replace(base, rows=rows)
    opened = Opener(browser, tmp_path).text(whole(result), patience_s=60.0)
    page = opened.page
    page.click("#rows th.c-clearance button")
    numbers = shown(page)
    page.select_option("#rows-zone", "1")
    some = shown(page)
    page.select_option("#rows-zone", "")
    again = shown(page)
    opened.close()

    assert numbers == ordered(result, lambda row: row.clearance_m, down=False)
    assert 0 < len(some) < len(numbers)
    assert some == [number for number in numbers if number in set(some)]
    assert again == numbers
