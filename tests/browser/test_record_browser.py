"""The record in a real browser with the network cut: what a person sees and does with it."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest
from browser_page import Opened, Opener
from gear_results import build_gear_result
from playwright.sync_api import Page
from result_builders import build_result

from towzone.model.result import FINDINGS, Part, Status

HOSTILE = "</script><script>window.taken=1</script><img src=x onerror=window.taken=2>"


def in_view(view: dict[str, float], lon: float, lat: float) -> bool:
    middle = (view["west"] + view["east"]) / 2.0
    lon += 360.0 * round((middle - lon) / 360.0)
    return view["west"] <= lon <= view["east"] and view["south"] <= lat <= view["north"]


def island(page: Page, element_id: str) -> Any:
    return json.loads(page.locator(f"#{element_id}").text_content() or "")


def test_opening_the_record_asks_for_no_file_but_itself_and_says_nothing(opener: Opener) -> None:
    opened = opener(build_result())

    assert opened.page.locator("#chart svg path.zone").count() >= 4
    assert opened.page.locator("#chart").is_visible()
    assert not opened.page.locator("svg.still").is_visible()
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


@pytest.mark.parametrize("place", [(-18.6, 63.1), (179.8, -17.3)], ids=["plain", "across-180"])
def test_button_of_each_row_brings_its_closest_approach_into_view(
    opener: Opener, place: tuple[float, float]
) -> None:
    result = build_result(lon0=place[0], lat0=place[1])
    opened = opener(result)
    page = opened.page
    for number, row in enumerate(result.rows, start=1):
        page.click("#whole")
        before = opened.view()
        page.click(f"#row-{number} button.show")
        after = opened.view()

        assert row.closest is not None
        assert after != before
        assert in_view(after, row.closest.lon_deg, row.closest.lat_deg)
        assert in_view(after, row.closest.zone_lon_deg, row.closest.zone_lat_deg)
        assert page.locator("tbody.picked").count() == 1
        assert page.locator(f"#row-{number}.picked button[aria-pressed=true]").count() == 1
        assert row.explain in (page.locator("#chosen").text_content() or "")
        assert page.locator("#chart path.chosen-line").count() == 1
        assert page.locator("#chart .pin-mark.picked b").text_content() == str(number)
        assert page.locator("#chart").is_visible()
    assert opened.undisturbed(), (opened.requests, opened.said)


def test_numbers_on_the_chart_are_the_findings_and_lead_to_their_rows(opener: Opener) -> None:
    result = build_result()
    opened = opener(result)
    page = opened.page
    important = FINDINGS | {Status.UNDETERMINED}

    numbers = page.locator("#chart .pin-mark b").all_text_contents()
    assert sorted(map(int, numbers)) == [i for i, r in enumerate(result.rows, 1) if r.status in important]
    pin = page.locator("#chart .pin-mark", has_text="18.3 m")
    assert pin.get_attribute("aria-label") == "Row 3: Too close, 18.3 m"
    pin.focus()
    page.keyboard.press("Enter")
    assert page.locator("#row-3.picked").count() == 1
    page.click("#to-row")
    assert page.evaluate("document.activeElement.getAttribute('data-row')") == "3"


def test_row_without_a_closest_approach_shows_its_zone(opener: Opener) -> None:
    base = build_result()
    rows = tuple(
        dataclasses.replace(
            row, status=Status.UNDETERMINED, clearance_m=None, closest=None, inside=(), close=()
        )
        for row in base.rows
    )
    result = dataclasses.replace(base, rows=rows)
    opened = opener(result)
    zones = {zone.zone_id: zone for zone in result.zones}

    for number, row in enumerate(rows, start=1):
        opened.page.click(f"#row-{number} button.show")
        view = opened.view()
        for string, _ in zones[row.zone_id].shape.strings():
            assert all(in_view(view, lon, lat) for lon, lat in string)
    assert opened.undisturbed(), (opened.requests, opened.said)


def test_next_and_previous_walk_through_the_rows(opener: Opener) -> None:
    page = opener(build_result()).page

    page.click("#next")
    assert page.locator("#row-1.picked").count() == 1
    assert page.locator("#previous").is_disabled()
    page.click("#next")
    assert page.locator("#row-2.picked").count() == 1
    page.click("#previous")
    assert page.locator("#row-1.picked").count() == 1


@pytest.mark.parametrize("dark", [False, True], ids=["day", "night"])
def test_gear_is_drawn_with_its_corridors_and_paths_and_the_page_stays_silent(
    opener: Opener, dark: bool
) -> None:
    opened = opener(build_gear_result(), dark=dark)
    page = opened.page

    for name, count in (("corridor", 2), ("likely", 2), ("g-door", 4), ("g-net", 2)):
        assert page.locator(f"#chart path.gear.{name}").count() == count, name
    looks = page.evaluate(
        """() => Object.fromEntries(["corridor", "likely", "g-door", "g-net"].map(name => {
            const s = getComputedStyle(document.querySelector("#chart path.gear." + name));
            return [name, [s.fill !== "none", s.stroke !== "none", s.strokeDasharray !== "none"]]; }))"""
    )
    assert looks == {
        "corridor": [True, False, False],
        "likely": [False, True, True],
        "g-door": [False, True, False],
        "g-net": [False, True, True],
    }
    assert opened.undisturbed(), (opened.requests, opened.said)


def test_gear_has_one_switch_for_all_that_is_drawn_of_it(opener: Opener) -> None:
    page = opener(build_gear_result()).page
    shown, switch = page.locator("#chart path.gear"), page.locator("input[data-layer='gear']")

    assert shown.count() == 10
    switch.uncheck()
    assert shown.count() == 0
    assert page.locator("#chart path.t-completed").count() > 0
    switch.check()
    assert shown.count() == 10


def test_button_of_a_gear_row_brings_the_gear_into_view(opener: Opener) -> None:
    result = build_gear_result(lon0=179.8, lat0=-17.3)
    opened = opener(result)
    for number, row in enumerate(result.rows, start=1):
        if row.part is Part.GEAR:
            opened.page.click(f"#row-{number} button.show")
            view = opened.view()
            assert row.closest is not None
            assert in_view(view, row.closest.lon_deg, row.closest.lat_deg)
            assert in_view(view, row.closest.zone_lon_deg, row.closest.zone_lat_deg)
            pin = opened.page.locator("#chart .pin-mark.picked")
            assert "gear" in (pin.get_attribute("aria-label") or "")
    assert opened.undisturbed(), (opened.requests, opened.said)


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
    assert stroke == "rgb(74, 44, 18)"


@pytest.mark.parametrize(
    ("layer", "selector"),
    [
        ("zone-cable", "path.k-cable"),
        ("zone-closed_area", "path.k-closed_area"),
        ("margins", "path.margin"),
        ("track-completed", "path.t-completed"),
        ("track-planned", "path.t-planned"),
        ("gaps", "path.gap"),
        ("findings", ".pin-mark"),
        ("coast", "path.land"),
        ("grid", "path.grid"),
        ("names", ".word.k-cable"),
    ],
)
def test_each_layer_can_be_switched_off_and_on(opener: Opener, layer: str, selector: str) -> None:
    page = opener(build_result()).page
    shown = page.locator(f"#chart {selector}")
    switch = page.locator(f"input[data-layer='{layer}']")
    before = shown.count()

    assert before > 0
    switch.uncheck()
    assert shown.count() == 0
    switch.check()
    assert shown.count() == before


def test_row_hidden_with_its_layer_is_switched_on_when_chosen(opener: Opener) -> None:
    result = build_result()
    page = opener(result).page
    last = len(result.rows)

    assert not page.locator("input[data-layer='others']").is_checked()
    page.click(f"#row-{last} button.show")
    assert page.locator("input[data-layer='others']").is_checked()
    assert page.locator("#chart .pin-mark.picked b").text_content() == str(last)


def test_day_and_night_can_be_chosen_and_follow_the_device(opener: Opener) -> None:
    def paper(opened: Opened) -> str:
        colour: str = opened.page.evaluate("getComputedStyle(document.body).backgroundColor")
        return colour

    light, dark = opener(build_result()), opener(build_result(), dark=True)

    day, night = paper(light), paper(dark)
    assert day == "rgb(255, 255, 255)"
    assert night != day
    light.page.select_option("#mode", "night")
    assert paper(light) == night
    dark.page.select_option("#mode", "day")
    assert paper(dark) == day


def test_template_and_markup_in_names_stay_text(opener: Opener) -> None:
    names = ("{{7*7}}", HOSTILE, "`${1}`", "a\u202eb", "x" * 10_000)
    opened = opener(build_result(names=names, source=HOSTILE))
    page = opened.page
    page.click("#row-1 button.show")

    assert page.evaluate("window.taken") is None
    assert page.locator("img").count() == 0
    drawn = page.locator("#chart .word").all_text_contents()
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

    assert page.locator("svg.still").is_visible()
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

    assert page.locator("svg.still").is_visible()
    assert not page.locator("#chart").is_visible()


def test_print_shows_the_still_chart_in_day_colours_on_a4(opener: Opener) -> None:
    opened = opener(build_result())
    page = opened.page
    page.select_option("#mode", "night")
    page.emulate_media(media="print")

    assert page.locator("svg.still").is_visible()
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


def test_first_view_holds_the_whole_track_and_every_finding(opener: Opener) -> None:
    result = build_result(lon0=-179.9, lat0=-17.3)
    view = opener(result).view()

    for track in result.tracks:
        assert all(in_view(view, lon, lat) for lon, lat in zip(track.lon_deg, track.lat_deg, strict=True))


def test_chart_can_be_moved_and_zoomed_by_keyboard(opener: Opener) -> None:
    opened = opener(build_result())
    page = opened.page
    page.locator("#chart").focus()
    before = opened.view()

    page.keyboard.press("+")
    closer = opened.view()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(400)
    moved = opened.view()

    assert closer["east"] - closer["west"] < before["east"] - before["west"]
    assert moved["west"] > closer["west"]


def test_words_on_the_chart_do_not_cover_each_other(opener: Opener) -> None:
    page = opener(build_result()).page
    boxes = page.evaluate(
        """() => [...document.querySelectorAll("#chart .pin-mark b, #chart .pin-mark i, #chart .word > span")]
            .filter(n => !n.parentNode.classList.contains("grid-word"))
            .filter(n => getComputedStyle(n).visibility === "visible" && n.offsetWidth)
            .map(n => { const r = n.getBoundingClientRect(); return [r.left, r.top, r.right, r.bottom]; })"""
    )

    assert len(boxes) > 10
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert a[2] <= b[0] + 1 or b[2] <= a[0] + 1 or a[3] <= b[1] + 1 or b[3] <= a[1] + 1
