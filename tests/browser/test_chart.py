"""The interactive chart: what is drawn, what can be switched, and rows chosen on it and beside it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from browser_page import Opened, Opener
from gear_results import build_gear_result
from playwright.sync_api import Browser, Page
from result_builders import build_result

from towzone.model.result import FINDINGS, CheckResult, Part, Status, ZoneReach

IMPORTANT = FINDINGS | {Status.UNDETERMINED}
PLACES = {"plain": (-18.6, 63.1), "across-180": (179.8, -17.3)}
RESULTS = {name: build_gear_result(lon0=lon, lat0=lat) for name, (lon, lat) in PLACES.items()}
"""Five zones, three tows with gear of two, a gap and a planned route."""

LAID_OUT = """() => [...document.querySelectorAll("#chart .pin-mark b, #chart .word > span")].map(node => {
  const r = node.getBoundingClientRect(), c = document.getElementById("chart").getBoundingClientRect();
  return {text: node.textContent, className: node.parentNode.className,
    box: [r.left - c.left, r.top - c.top, r.right - c.left, r.bottom - c.top]};
})"""
"""Words and numbers on the chart with their boxes, in pixels of the chart."""


@pytest.fixture(scope="module")
def opened_ones(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Opened]]:
    opener = Opener(browser, tmp_path_factory.mktemp("chart"))
    yield {name: opener(result) for name, result in RESULTS.items()}
    opener.close()


@pytest.fixture(params=PLACES)
def both(request: pytest.FixtureRequest, opened_ones: dict[str, Opened]) -> tuple[CheckResult, Opened]:
    """Each place in turn."""
    return RESULTS[request.param], afresh(opened_ones[request.param])


@pytest.fixture
def opened(opened_ones: dict[str, Opened]) -> Opened:
    return afresh(opened_ones["plain"])


@pytest.fixture
def page(opened: Opened) -> Page:
    return opened.page


def afresh(opened: Opened) -> Opened:
    """The whole chart again, nothing chosen, the layers as at first."""
    opened.page.evaluate(
        """() => {
            document.activeElement.blur();
            document.querySelectorAll("input[data-layer]").forEach(one => {
                towzone.record.layers.turn(one.getAttribute("data-layer"), one.defaultChecked);
            });
            document.getElementById("whole").click();
            window.scrollTo(0, 0);
        }"""
    )
    return opened


def in_view(view: dict[str, float], lon: float, lat: float) -> bool:
    middle = (view["west"] + view["east"]) / 2.0
    lon += 360.0 * round((middle - lon) / 360.0)
    return view["west"] <= lon <= view["east"] and view["south"] <= lat <= view["north"]


def picked(page: Page) -> list[str | None]:
    return [body.get_attribute("id") for body in page.locator("tbody.picked").all()]


def test_first_view_holds_every_track_whole(both: tuple[CheckResult, Opened]) -> None:
    result, opened = both
    view = opened.view()

    for track in result.tracks:
        assert all(in_view(view, lon, lat) for lon, lat in zip(track.lon_deg, track.lat_deg, strict=True))


def test_button_of_each_row_brings_its_closest_approach_into_view(both: tuple[CheckResult, Opened]) -> None:
    result, opened = both
    page = opened.page
    for number, row in enumerate(result.rows, start=1):
        page.evaluate("towzone.record.whole()")
        before = opened.view()
        page.evaluate(f"document.querySelector('#row-{number} button.show').click()")
        after = opened.view()

        assert row.closest is not None
        assert after != before
        assert in_view(after, row.closest.lon_deg, row.closest.lat_deg)
        assert in_view(after, row.closest.zone_lon_deg, row.closest.zone_lat_deg)
        assert picked(page) == [f"row-{number}"]
        assert page.locator(f"#row-{number}.picked button.show[aria-pressed=true]").count() == 1
        assert row.explain in (page.locator("#chosen").text_content() or "")
        assert page.locator("#chart path.chosen-line").count() == 1
        pin = page.locator("#chart .pin-mark.picked")
        assert pin.locator("b").text_content() == str(number)
        assert ("gear" in (pin.get_attribute("aria-label") or "")) == (row.part is Part.GEAR)
        assert page.locator("#chart").is_visible()
    assert opened.undisturbed(), opened.disturbances()


def test_numbers_on_the_chart_are_the_findings_and_undecided_and_lead_to_their_rows(page: Page) -> None:
    rows = RESULTS["plain"].rows
    numbers = page.locator("#chart .pin-mark b").all_text_contents()
    assert sorted(map(int, numbers)) == [i for i, row in enumerate(rows, 1) if row.status in IMPORTANT]

    number = next(i for i, row in enumerate(rows, 1) if row.status is Status.TOO_CLOSE)
    pin = page.locator(f"#chart .pin-mark[aria-label^='Row {number}: Too close, ']")
    assert pin.get_attribute("role") == "button"
    pin.focus()
    page.keyboard.press("Enter")
    assert picked(page) == [f"row-{number}"]
    page.click("#to-row")
    assert page.evaluate("document.activeElement.closest('tbody').id") == f"row-{number}"
    assert page.locator(f"#row-{number}").is_visible()


def test_pins_of_each_status_have_their_own_shape(page: Page) -> None:
    shapes = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll("#chart .pin-mark")].map(pin => {
            const style = getComputedStyle(pin.querySelector("b"));
            return [[...pin.classList].find(name => name.startsWith("s-")),
                    [style.borderRadius, style.borderStyle, style.borderWidth].join(" ")];
        }))"""
    )

    assert {"s-inside", "s-too_close", "s-undetermined"} <= set(shapes)
    assert len(set(shapes.values())) == len(shapes)


def test_row_without_a_closest_approach_shows_its_zone(opener: Opener) -> None:
    base = build_result()
    rows = tuple(
        dataclasses.replace(
            row, status=Status.UNDETERMINED, clearance_m=None, closest=None, inside=(), close=()
        )
        for row in base.rows[:4]
    )
    result = dataclasses.replace(base, rows=rows)
    opened = opener(result)
    zones = {zone.zone_id: zone for zone in result.zones}

    for number, row in enumerate(rows, start=1):
        opened.page.click(f"#row-{number} button.show")
        view = opened.view()
        for string, _ in zones[row.zone_id].shape.strings():
            assert all(in_view(view, lon, lat) for lon, lat in string)
        assert opened.page.locator("#chart .pin-mark.picked b").text_content() == str(number)
    assert opened.undisturbed(), opened.disturbances()


def test_row_that_a_gap_leaves_open_has_its_number_at_the_gap_and_shows_where_the_vessel_can_have_been(
    opener: Opener,
) -> None:
    base = build_result()
    track_id, (gap, *rest) = next((name, gaps) for name, gaps in base.gaps.items() if gaps)
    reaches = tuple(
        ZoneReach(zone_id=zone.zone_id, least_speed_kn=4.0, longest_inside_s=60.0, tow_fits=False)
        for zone in base.zones[:2]
    )
    row = dataclasses.replace(
        base.rows[0],
        track_id=track_id,
        zone_id=base.zones[1].zone_id,
        status=Status.UNDETERMINED,
        clearance_m=None,
        closest=None,
        inside=(),
        close=(),
    )
    gaps = {**base.gaps, track_id: (dataclasses.replace(gap, could_reach=reaches), *rest)}
    opened = opener(dataclasses.replace(base, rows=(row,), gaps=gaps))
    page = opened.page
    assert page.locator("#chart .pin-mark b").all_text_contents() == ["1"]
    assert page.locator("input[data-layer='findings']").is_checked()
    page.uncheck("input[data-layer='ellipses']")
    page.click("#row-1 button.show")
    view, track = opened.view(), opened.island("chart-data")["tracks"][0]
    lons, lats = (np.cumsum(track["gaps"][0]["ellipse"][i::2]) / 1e6 for i in (0, 1))

    assert page.is_checked("input[data-layer='ellipses']")
    assert page.locator("#chart path.chosen-gap").count() == 1
    assert all(in_view(view, lon, lat) for lon, lat in zip(lons, lats, strict=True))
    assert page.evaluate("towzone.record.moment.place") == track["gaps"][0]["fix"] + 0.5
    assert "not covered by positions" in page.inner_text("#readout")
    assert "1: distance not known" in page.locator("#chart .word > span").all_text_contents()
    page.keyboard.press("Escape")
    assert page.locator("#chart path.chosen-gap").count() == 0
    assert opened.undisturbed(), opened.disturbances()


@pytest.mark.parametrize(("width", "height"), [(1280, 900), (390, 844)])
def test_chosen_row_is_always_labelled_beside_its_number_or_its_line(
    opener: Opener, width: int, height: int
) -> None:
    opened = opener(RESULTS["plain"], width=width, height=height)
    for number in range(1, len(RESULTS["plain"].rows) + 1):
        opened.page.evaluate(f"document.querySelector('#row-{number} button.show').click()")
        laid = opened.page.evaluate(LAID_OUT)
        words = [one["box"] for one in laid if one["text"].startswith(f"{number}: ")]
        (pin,) = (one["box"] for one in laid if one["text"] == str(number))

        assert len(words) == 1, number
        left, top, right, bottom = words[0]
        line = opened.page.evaluate(
            """number => { const ends = towzone.base.positions(towzone.record.data.rows[number - 1].line);
                const [a, b] = ends.map(end => towzoneMap.latLngToContainerPoint(end));
                return [...Array(51).keys()].map(k => k / 50).map(t =>
                    [a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t]); }""",
            number,
        )
        from_pin = max(left - pin[2], pin[0] - right, top - pin[3], pin[1] - bottom)
        from_line = min(max(left - x, x - right, top - y, y - bottom) for x, y in line)
        assert min(from_pin, from_line) < 45.0, number


def test_keys_go_on_from_a_button_elsewhere_that_shows_a_row(page: Page) -> None:
    page.locator("#row-2 button.show").click()
    assert page.evaluate("document.activeElement.id") == "chart"
    assert not page.evaluate("towzoneMap.scrollWheelZoom.enabled()")
    page.keyboard.press("n")
    assert picked(page) == ["row-3"]
    page.keyboard.press("p")
    assert picked(page) == ["row-2"]
    page.keyboard.press(".")
    assert page.evaluate("towzone.record.moment.source") == "probe"
    page.locator("#next").click()
    assert page.evaluate("document.activeElement.id") == "next"


def test_tows_are_named_with_their_track_where_there_are_several(page: Page) -> None:
    page.evaluate("document.querySelector('#row-1 button.show').click()")
    tows = page.locator("#chart .tow-word").all_text_contents()

    assert tows
    assert all(text.endswith((", Invented trip", ", Invented plan")) for text in tows)


def test_buttons_and_keys_walk_through_the_rows_and_stop_at_both_ends(page: Page) -> None:
    count = len(RESULTS["plain"].rows)
    page.click("#next")
    assert picked(page) == ["row-1"]
    page.evaluate("document.getElementById('previous').click()")
    assert picked(page) == ["row-1"]
    assert page.locator("#previous").get_attribute("aria-disabled") == "true"
    page.click("#next")
    assert picked(page) == ["row-2"]
    page.locator("#chart").focus()
    page.keyboard.press("n")
    assert picked(page) == ["row-3"]
    page.locator("#next").focus()
    page.keyboard.press("p")
    assert picked(page) == ["row-2"]
    for _ in range(count):
        page.keyboard.press("n")
    assert picked(page) == [f"row-{count}"]
    assert page.locator("#next").get_attribute("aria-disabled") == "true"
    assert page.evaluate("document.activeElement.id") == "next"
    page.keyboard.press("Escape")
    assert picked(page) == []
    assert not page.locator("#to-row").is_visible()


def test_keys_typed_elsewhere_leave_the_chart_alone(page: Page) -> None:
    page.evaluate("document.querySelector('#rows-part button').focus()")
    page.keyboard.press("n")
    assert picked(page) == []
    page.locator("#chart").focus()
    page.keyboard.press("Control+n")
    assert picked(page) == []


def test_every_key_is_listed_beside_the_chart(page: Page) -> None:
    keys = page.locator("details.keys")

    keys.locator("summary").click()
    assert keys.locator("kbd").all_text_contents() == [
        "n",
        "p",
        "Esc",
        "← ↑ → ↓",
        "+ −",
        ".",
        ",",
        "m",
        "space",
        "Enter",
    ]
    assert all(text for text in keys.locator("dd").all_text_contents())
    keys.locator("summary").click()


def test_button_of_a_tow_fits_the_chart_to_it(opened: Opened) -> None:
    result, page = RESULTS["plain"], opened.page
    whole = opened.view()
    for tow in result.tows:
        page.evaluate(
            """tow => {
                const button = document.createElement("button");
                button.className = "show-tow";
                button.setAttribute("data-track", "0");
                button.setAttribute("data-tow", String(tow));
                document.querySelector("main").appendChild(button);
                button.click();
                button.remove();
            }""",
            tow.number,
        )
        view, track = opened.view(), result.tracks[0]
        assert view["east"] - view["west"] < 0.8 * (whole["east"] - whole["west"])
        for fix in range(tow.first, tow.last + 1):
            assert in_view(view, track.lon_deg[fix], track.lat_deg[fix])


def test_gear_is_found_by_a_button_when_the_whole_chart_is_too_small_for_it(opened: Opened) -> None:
    page = opened.page
    page.locator("input[data-layer='gear']").uncheck()
    page.click("#gear-view")
    row = next(row for row in RESULTS["plain"].rows if row.part is Part.GEAR)

    assert page.locator("input[data-layer='gear']").is_checked()
    assert row.closest is not None
    assert in_view(opened.view(), row.closest.lon_deg, row.closest.lat_deg)


def test_gear_margins_and_zones_look_different_from_each_other(page: Page) -> None:
    names = ["gear.corridor", "gear.likely", "gear.g-door", "gear.g-net", "margin", "zone.k-cable.line"]
    looks = page.evaluate(
        """names => names.map(name => {
            const s = getComputedStyle(document.querySelector("#chart path." + name));
            return [s.fill !== "none", s.fillOpacity, s.stroke, s.strokeDasharray, s.strokeWidth].join(" ");
        })""",
        names,
    )

    assert len(set(looks)) == len(looks)


def test_track_is_drawn_by_what_the_vessel_did(page: Page) -> None:
    lines = page.evaluate(
        """() => [...document.querySelectorAll("#chart path.track")].map(path => {
            const s = getComputedStyle(path);
            return [path.getAttribute("class").split(" ").find(name => name.startsWith("a-")),
                    s.strokeWidth + " " + s.strokeDasharray]; })"""
    )
    looks = dict(lines)

    assert set(looks) == {"a-towing", "a-not_towing", "a-planned"}
    assert len(set(looks.values())) == 3


def test_zone_whose_rule_is_not_in_force_says_so_and_has_no_hatch(page: Page) -> None:
    words = page.locator("#chart .word").all_text_contents()

    assert "Fancy pipeline (not in force)" in words
    assert "Invented Bank closed area" in words
    off = page.evaluate("getComputedStyle(document.querySelector('#chart .zone.off')).strokeWidth")
    assert off == "1px"


@pytest.mark.parametrize(
    ("layer", "selector"),
    [
        ("zone-cable", "path.k-cable"),
        ("zone-closed_area", "path.k-closed_area"),
        ("margins", "path.margin"),
        ("track-completed", "path.t-completed"),
        ("track-planned", "path.t-planned"),
        ("gaps", "path.gap"),
        ("ellipses", "path.gap-ellipse"),
        ("gear", "path.corridor"),
        ("likely", "path.likely"),
        ("parts", "path[class*='gear g-']"),
        ("findings", ".pin-mark"),
        ("others", "path.closest.s-clear"),
        ("coast", "path.land"),
        ("grid", "path.grid"),
        ("names", ".word.k-cable"),
    ],
)
def test_each_layer_can_be_switched_off_and_on(page: Page, layer: str, selector: str) -> None:
    shown, switch = page.locator(f"#chart {selector}"), page.locator(f"input[data-layer='{layer}']")
    switch.check()
    before, rest = shown.count(), page.locator("#chart path.leaflet-interactive, #chart path").count()

    assert before > 0
    switch.uncheck()
    assert shown.count() == 0
    assert page.locator("#chart path").count() > rest / 2
    switch.check()
    assert shown.count() == before


def test_every_switch_in_the_key_belongs_to_something_on_the_chart(page: Page) -> None:
    names = page.eval_on_selector_all(
        "input[data-layer]", "all => all.map(one => one.getAttribute('data-layer'))"
    )
    drawn = page.evaluate(
        "names => names.map(name => towzone.record.layers.of(name).getLayers().length)", names
    )

    # Names have no shapes of their own: they are placed anew for every view.
    assert {name for name, count in zip(names, drawn, strict=True) if count == 0} <= {"names", "grid"}
    assert page.locator(".legend li").count() == page.locator(".legend li:has(svg.swatch):has(span)").count()


def test_row_hidden_with_its_layer_is_switched_on_when_chosen(page: Page) -> None:
    last = len(RESULTS["plain"].rows)

    assert not page.locator("input[data-layer='others']").is_checked()
    page.evaluate(f"document.querySelector('#row-{last} button.show').click()")
    assert page.locator("input[data-layer='others']").is_checked()
    assert page.locator("#chart .pin-mark.picked b").text_content() == str(last)


@pytest.mark.parametrize("number", [None, 1, 3, 6])
def test_words_on_the_chart_cover_neither_each_other_nor_the_closest_approach(
    page: Page, number: int | None
) -> None:
    if number is not None:
        page.evaluate(f"document.querySelector('#row-{number} button.show').click()")
    laid = page.evaluate(LAID_OUT)
    ends = page.evaluate(
        """() => towzone.record.data.rows.filter(row => row.matters && row.line).map(row =>
            towzone.base.positions(row.line).map(at => {
                const p = towzoneMap.latLngToContainerPoint(at); return [p.x, p.y]; }))"""
    )

    assert len(laid) > 8
    for i, one in enumerate(laid):
        for other in laid[:i]:
            a, b = one["box"], other["box"]
            assert a[2] <= b[0] + 1 or b[2] <= a[0] + 1 or a[3] <= b[1] + 1 or b[3] <= a[1] + 1, (one, other)
    covering = [one for one in laid if "grid-word" not in one["className"]]
    for (x0, y0), (x1, y1) in ends:
        for share in (k / 200.0 for k in range(201)):
            x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
            over = [
                c["text"] for c in covering if c["box"][0] < x < c["box"][2] and c["box"][1] < y < c["box"][3]
            ]
            assert over == []


def test_length_of_the_closest_approach_stands_at_its_line(page: Page) -> None:
    number, row = next((i, r) for i, r in enumerate(RESULTS["plain"].rows, 1) if r.status is Status.TOO_CLOSE)
    page.evaluate(f"document.querySelector('#row-{number} button.show').click()")
    word = next(one for one in page.evaluate(LAID_OUT) if one["text"].startswith(f"{number}: "))
    x, y = page.evaluate(
        """number => { const ends = towzone.base.positions(towzone.record.data.rows[number - 1].line);
            const m = [0, 1].map(i => towzoneMap.latLngToContainerPoint(ends[i]));
            return [(m[0].x + m[1].x) / 2, (m[0].y + m[1].y) / 2]; }""",
        number,
    )
    left, top, right, bottom = word["box"]
    off = max(left - x, 0.0, x - right) + max(top - y, 0.0, y - bottom)

    pin = next(one["box"] for one in page.evaluate(LAID_OUT) if one["text"] == str(number))
    off = min(off, max(left - pin[2], pin[0] - right, top - pin[3], pin[1] - bottom))

    assert row.clearance_m is not None
    assert f"{row.clearance_m:.1f} m" in word["text"] or f"{row.clearance_m:.0f} m" in word["text"]
    assert off < 35.0


def test_chart_can_be_moved_and_zoomed_by_keyboard_and_buttons(opened: Opened) -> None:
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
    page.click("#zoom-out")
    assert opened.view()["east"] - opened.view()["west"] > closer["east"] - closer["west"]
    page.click("#zoom-in")
    assert opened.view()["east"] - opened.view()["west"] < before["east"] - before["west"]


def test_wheel_scrolls_the_page_until_the_chart_is_in_use(opened: Opened) -> None:
    page = opened.page
    page.locator("#chart").scroll_into_view_if_needed()
    box = page.locator("#chart").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 60.0, box["y"] + box["height"] / 2.0)
    before, top = opened.view(), page.evaluate("scrollY")
    page.mouse.wheel(0, 120)
    page.wait_for_timeout(300)
    assert opened.view() == before
    assert page.evaluate("scrollY") > top

    page.locator("#chart").focus()
    top = page.evaluate("scrollY")
    page.mouse.wheel(0, -120)
    page.wait_for_timeout(300)
    assert opened.view() != before
    assert page.evaluate("scrollY") == top


def test_chart_has_a_name_and_a_description_and_says_choices_shortly(page: Page) -> None:
    chart = page.locator("#chart")
    described = chart.get_attribute("aria-describedby")

    assert chart.get_attribute("role") == "application"
    assert chart.get_attribute("aria-label")
    assert "zoom" in page.locator(f"#{described}").inner_text()
    page.click("#next")
    said = page.locator(".chart-bar [role=status]").text_content() or ""
    assert said.startswith("Row 1: ")
    assert len(said) < 80


def test_chart_and_its_bar_have_no_known_barrier(page: Page) -> None:
    page.click("#next")
    found = Axe().run(page, context=".chart-part").response["violations"]

    assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == []


def test_focus_goes_through_the_chart_and_out_again(page: Page) -> None:
    page.locator("#chart").focus()
    for _ in range(page.locator("#chart [tabindex='0'], #chart button").count() + 1):
        page.keyboard.press("Tab")

    assert page.evaluate("!document.getElementById('chart').contains(document.activeElement)")


def test_chart_says_when_it_is_ready(opened: Opened) -> None:
    opened.page.wait_for_selector("#chart[data-ready='true']", timeout=5000)

    assert opened.page.evaluate("performance.getEntriesByName('towzone-ready').length") == 1
    assert opened.undisturbed(), opened.disturbances()
