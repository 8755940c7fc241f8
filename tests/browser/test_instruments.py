"""The instruments on the chart, used as a person uses them: pointing, stepping, playing, measuring."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from browser_page import Opened, Opener
from gear_results import build_gear_result
from geographiclib.geodesic import Geodesic
from playwright.sync_api import Browser, Page
from result_builders import build_result

from towzone.geodesy.approach import clearances
from towzone.geodesy.lines import LineKind
from towzone.geodesy.region import Region
from towzone.model.result import CheckResult, Part
from towzone.model.track import Track
from towzone.model.zone import Zone
from towzone.record.clock import local_clock
from towzone.record.sections.instruments import instruments
from towzone.units import format_position

RESULT = build_gear_result()
TRACK, ROUTE = RESULT.tracks
DOUBT_M = 15.0


@pytest.fixture(scope="module")
def opened(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    """One record with a tow's gear, a gap and a route without times; each test begins with `fresh`."""
    opener = Opener(browser, tmp_path_factory.mktemp("instruments"))
    yield opener(RESULT)
    opener.close()


@pytest.fixture
def page(opened: Opened) -> Iterator[Page]:
    """The page of `opened`, with everything ended; nothing may have been asked for or said after the test."""
    page = opened.page
    page.mouse.move(1, 1)
    page.evaluate(
        """() => { if (towzone.record.playing) { document.getElementById("play").click(); }
        if (towzone.record.measuring) { document.getElementById("measure").click(); }
        document.getElementById("pace").value = "120";
        document.getElementById("instruments-said").textContent = "";
        document.getElementById("chart").scrollIntoView({block: "start"}); }"""
    )
    page.click("#whole")
    yield page
    assert opened.undisturbed(), opened.disturbances()


def moment(page: Page, place: float, track: int = 0) -> None:
    page.evaluate(
        "([track, place]) => towzone.record.emit('moment', {track, place, source: 'curves'})", [track, place]
    )


def readings(page: Page) -> dict[str, str]:
    told: dict[str, str] = page.evaluate(
        """() => Object.fromEntries(Array.from(document.querySelectorAll("#readout dd"),
        dd => [dd.dataset.reading, dd.textContent]))"""
    )
    return told


def zoom_to(page: Page, lon: float, lat: float, zoom: float = 14) -> tuple[float, float]:
    """Bring a place into the middle of the chart and return where that is on the screen."""
    at = page.evaluate(
        """([lat, lon, zoom]) => { towzoneMap.setView([lat, lon], zoom, {animate: false});
        const p = towzoneMap.latLngToContainerPoint([lat, lon]);
        const c = document.getElementById("chart").getBoundingClientRect();
        return [c.left + p.x, c.top + p.y]; }""",
        [lat, lon, zoom],
    )
    return at[0], at[1]


def until(page: Page, true: str) -> None:
    """Wait for something to be true; the page's policy does not let it be watched from within."""
    for _ in range(400):
        if page.evaluate(true):
            return
        page.wait_for_timeout(20)
    pytest.fail(f"{true} did not come true")


def frame(page: Page) -> None:
    page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def exact_m(zone: Zone, lon: float, lat: float) -> float:
    """Clearance of a place from a zone by the exact core, negative inside."""
    edge = np.vstack(
        [
            np.column_stack([corners, np.roll(corners, -1, axis=0)])[
                : None if closed or len(corners) == 1 else -1
            ]
            for corners, closed in zone.shape.strings()
        ]
    )
    place = np.full((len(edge), 2), (lon, lat))
    least = float(clearances(LineKind.GEODESIC, *place.T, *place.T, zone.edges, *edge.T).distance_m.min())
    inside = zone.shape.is_area and bool(Region(zone.shape, zone.edges).contains([lon], [lat])[0])
    return (-least if inside else least) - zone.radius_m


def nearest_in_force(result: CheckResult, track: Track, fix: int) -> tuple[float, Zone]:
    place = float(track.lon_deg[fix]), float(track.lat_deg[fix])
    zones = [zone for zone in result.zones if result.in_force[zone.zone_id]]
    return min(((exact_m(zone, *place), zone) for zone in zones), key=lambda pair: pair[0])


def test_pointing_at_a_fix_tells_when_and_where_it_was(page: Page) -> None:
    clock = local_clock(RESULT)
    for fix in (40, 200, 300):
        x, y = zoom_to(page, TRACK.lon_deg[fix], TRACK.lat_deg[fix])
        page.mouse.move(x + 3, y - 2)
        frame(page)
        told = readings(page)

        assert told["time"] == f"{clock.text(TRACK.time_utc[fix])}, Invented trip"
        assert told["position"] == format_position(TRACK.lon_deg[fix], TRACK.lat_deg[fix])
        assert page.locator(".moment-mark").count() == 1


def test_pointing_beside_the_track_keeps_what_was_told(page: Page) -> None:
    moment(page, 100)
    before = readings(page)
    x, y = zoom_to(page, TRACK.lon_deg[200], TRACK.lat_deg[200] + 0.004)
    page.mouse.move(x, y)
    frame(page)

    assert readings(page) == before


def test_between_far_fixes_the_place_on_the_leg_is_told_as_such(page: Page) -> None:
    lon = float(ROUTE.lon_deg[0] + ROUTE.lon_deg[1]) / 2.0
    lat = float(ROUTE.lat_deg[0] + ROUTE.lat_deg[1]) / 2.0
    x, y = zoom_to(page, lon, lat, 11)
    page.mouse.move(x, y)
    frame(page)
    told = readings(page)

    assert "(between two positions)" in told["position"]
    assert told["time"] == "between points 1 and 2 of 4, no time, Invented plan"
    assert told["motion"] == "not known"
    assert told["activity"] == "planned"


def test_speed_and_course_are_made_good_over_a_minute(page: Page) -> None:
    seconds = TRACK.time_utc.astype("datetime64[us]").astype(np.int64) / 1e6
    for fix in (50, 150, 250):
        around = [seconds[fix] - 30, seconds[fix] + 30]
        lon, lat = (np.interp(around, seconds, column) for column in (TRACK.lon_deg, TRACK.lat_deg))
        way = Geodesic.WGS84.Inverse(lat[0], lon[0], lat[1], lon[1])
        moment(page, fix)
        found = re.fullmatch(r"([\d.]+) kn, course (\d{3})°", readings(page)["motion"])

        assert found is not None
        assert float(found[1]) == pytest.approx(way["s12"] / 60 * 3600 / 1852, rel=0, abs=0.051)
        assert abs((float(found[2]) - way["azi1"] + 180) % 360 - 180) < 0.6


def test_activity_and_tow_are_those_of_the_check(page: Page) -> None:
    first, second = RESULT.tows[:2]

    moment(page, first.first + 20)
    assert readings(page)["activity"] == "towing, tow 1"
    moment(page, second.first + 20)
    assert readings(page)["activity"] == "towing, tow 2"
    moment(page, (first.last + second.first) / 2)
    assert readings(page)["activity"] == "not towing"


def test_clearance_is_that_of_the_exact_core_and_rounded(page: Page) -> None:
    for fix in range(5, len(TRACK), 37):
        metres, zone = nearest_in_force(RESULT, TRACK, fix)
        moment(page, fix)
        told = readings(page)["zone"]
        found = re.search(r"about (\d+) m \(([\d.]+) nmi\)", told)

        assert zone.name in told
        assert found is not None
        assert int(found[1]) == pytest.approx(abs(metres), rel=0, abs=2.1)
        assert ("inside" in told) is (metres < 0)


def test_margin_is_called_kept_only_beyond_all_doubt(page: Page) -> None:
    seen = set()
    for fix in range(0, len(TRACK), 5):
        metres, zone = nearest_in_force(RESULT, TRACK, fix)
        margin = zone.margin_m or 0.0
        moment(page, fix)
        told = readings(page)["zone"].split(". Nearer,")[0]
        kept, broken = told.endswith(": kept"), told.endswith("not kept")
        if metres < 0:
            assert "inside" in told
        elif kept or "no margin asked for" in told:
            assert metres > margin + DOUBT_M
        elif broken:
            assert metres < margin
        else:
            assert "in doubt" in told
            assert margin - 4 < metres < margin + DOUBT_M + 5
        seen.add("kept" if kept else "broken" if broken else "inside" if metres < 0 else told[-12:])
    assert {"kept", "broken", "inside"} <= seen


def test_within_the_position_error_of_the_margin_it_is_in_doubt(page: Page) -> None:
    places = page.evaluate(
        """() => { const found = [], track = towzone.record.tracks[0];
        for (let place = 0; place < track.count - 1; place += 0.1) {
          const at = track.at(place), near = at.covered ? towzone.record.nearest(at.lat, at.lon) : null;
          const over = near === null ? 0 : near.metres - towzone.record.data.zones[near.zone].margin_m;
          if (over > 3 && over < 13) { found.push(place); }
        }
        return found; }"""
    )
    assert places
    for place in places:
        moment(page, place)
        assert "in doubt, see the table" in readings(page)["zone"]


def test_beyond_where_a_zone_is_drawn_true_only_that_much_is_told(page: Page) -> None:
    told = []
    places = [fix for fix in range(0, len(TRACK), 5) if nearest_in_force(RESULT, TRACK, fix)[0] > 200.0]
    moment(page, places[0])
    told.append(readings(page)["zone"])
    page.evaluate("towzone.record.data.zones.forEach(zone => { zone.true_m = 110; zone.off_m = 10; })")
    try:
        moment(page, places[0])
        told.append(readings(page)["zone"])
    finally:
        page.evaluate("towzone.record.data.zones.forEach(zone => { zone.true_m = null; zone.off_m = 0; })")

    assert "more than" not in told[0]
    assert "more than 100 m (0.05 nmi)" in told[1]
    assert not re.search(r"(?<!not) kept", told[1])


def test_wide_margin_of_a_farther_zone_is_told_where_it_is_not_surely_kept(page: Page) -> None:
    """The nearest zone may ask for nothing while one behind it asks for more than there is."""
    fix = next(fix for fix in range(0, len(TRACK), 5) if nearest_in_force(RESULT, TRACK, fix)[0] > 200.0)
    place = float(TRACK.lon_deg[fix]), float(TRACK.lat_deg[fix])
    _, nearest = nearest_in_force(RESULT, TRACK, fix)
    farther = next(
        zone
        for zone in RESULT.zones
        if zone is not nearest and RESULT.in_force[zone.zone_id] and zone.margin_m
    )
    metres, index = exact_m(farther, *place), RESULT.zones.index(farther)
    set_margin = "([index, margin]) => { towzone.record.data.zones[index].margin_m = margin; }"
    told = {}
    for spare in (-500.0, 8.0, 100.0):
        page.evaluate(set_margin, [index, metres - spare])
        moment(page, fix)
        told[spare] = readings(page)["zone"].split(". Nearer,")[0]
    page.evaluate(set_margin, [index, RESULT.margins_m[farther.zone_id]])

    assert all(text.startswith(nearest.name) for text in told.values())
    assert farther.name in told[-500.0]
    assert told[-500.0].endswith(": not kept")
    assert farther.name in told[8.0]
    assert told[8.0].endswith("in doubt, see the table")
    assert farther.name not in told[100.0]


def test_rule_not_in_force_is_told_as_such(page: Page) -> None:
    pipeline = RESULT.zones[4]
    lon, lat = pipeline.shape.lines[0][0]
    near = int(np.argmin(np.hypot(ROUTE.lon_deg - lon, ROUTE.lat_deg - lat)))
    moment(page, near, 1)

    told = readings(page)["zone"]
    first, second = told.split("Nearer, but its rule is not in force: ")
    assert pipeline.name not in first
    assert pipeline.name in second


def test_gear_is_told_and_drawn_where_its_paths_say_it_was(page: Page) -> None:
    assert RESULT.gear is not None
    row = next(row for row in RESULT.rows if row.part is Part.GEAR)
    page.evaluate(
        "number => towzone.record.emit('choose', {row: number, move: true})", RESULT.rows.index(row) + 1
    )
    told = readings(page)["gear"]

    if row.clearance_m is not None and row.clearance_m < 0:
        assert "inside" in told
    assert page.locator(".moment-part.g-door").count() == 2
    assert page.locator(".moment-part.g-net").count() == 1
    assert page.locator("path.moment-warp").get_attribute("d").count("M") == 2
    moment(page, RESULT.tows[2].first + 20)
    assert readings(page)["gear"] == "where it was at this moment is not known"
    assert page.locator(".moment-part, path.moment-warp, path.moment-gear").count() == 0
    assert page.locator(".moment-mark").count() == 1


def test_gear_is_never_called_kept_by_its_figures_alone(page: Page) -> None:
    tow = RESULT.tows[0]
    ends = set()
    for fix in range(tow.first + 5, tow.last, 11):
        moment(page, fix)
        told = readings(page)["gear"].split(". Nearer,")[0]
        ends.add(told.rsplit(": ", 1)[-1])
    assert "kept" not in ends
    assert "kept by the figures alone, see the table" in ends


def test_nothing_is_made_up_in_a_gap(page: Page) -> None:
    (gap,) = RESULT.gaps[TRACK.track_id]
    moment(page, gap.fix - 10)
    assert page.locator(".moment-mark").count() == 1
    moment(page, gap.fix + 0.4)
    told = readings(page)

    assert told["position"].startswith("not covered by positions, ")
    assert not re.search(r"\d[°']", told["position"])
    assert {told[name] for name in ("motion", "activity", "zone", "gear")} == {"not known"}
    assert page.locator(".moment-mark, .moment-part, path.moment-warp").count() == 0
    assert "not covered by positions" in (
        page.locator("#moment-slider").get_attribute("aria-valuetext") or ""
    )
    for end in (gap.fix, gap.fix + 1):
        moment(page, end)
        assert readings(page)["position"] == format_position(TRACK.lon_deg[end], TRACK.lat_deg[end])


def test_keys_and_buttons_step_from_fix_to_fix_and_only_keys_speak(page: Page) -> None:
    place = "towzone.record.moment.place"
    moment(page, 20.4)
    page.focus("#chart")
    for key, wanted in ((".", 21), (",", 20), ("Shift+Period", 30), ("Shift+Comma", 20), (",", 19)):
        page.keyboard.press(key)
        assert page.evaluate(place) == wanted, key
    assert TRACK.track_id in page.inner_text("#instruments-said")
    page.evaluate("document.getElementById('instruments-said').textContent = ''")
    for step, wanted in ((10, 29), (1, 30), (-1, 29), (-10, 19)):
        page.click(f"button[data-step='{step}']")
        assert page.evaluate(place) == wanted
    page.evaluate("document.getElementById('instruments-said').textContent = ''")
    x, y = zoom_to(page, TRACK.lon_deg[60], TRACK.lat_deg[60])
    page.mouse.move(x, y)
    frame(page)
    assert page.evaluate(place) == 60
    assert page.inner_text("#instruments-said") == ""


def test_steps_end_at_the_ends_of_the_track(page: Page) -> None:
    moment(page, 3)
    page.focus("#chart")
    page.keyboard.press("Shift+Comma")
    assert page.evaluate("towzone.record.moment.place") == 0
    moment(page, len(TRACK) - 2)
    page.keyboard.press("Shift+Period")
    assert page.evaluate("towzone.record.moment.place") == len(TRACK) - 1


def test_stepping_out_of_the_view_moves_the_chart_and_pointing_never_does(page: Page, opened: Opened) -> None:
    moment(page, 100)
    zoom_to(page, TRACK.lon_deg[400], TRACK.lat_deg[400])
    before = opened.view()
    moment(page, 101)
    assert opened.view() == before
    page.focus("#chart")
    page.keyboard.press(".")
    view = opened.view()
    assert view["west"] < TRACK.lon_deg[102] < view["east"]
    assert view["south"] < TRACK.lat_deg[102] < view["north"]
    page.keyboard.press(".")
    assert opened.view() == view


def test_read_out_keeps_its_height_so_that_the_page_stays_where_it_is(opener: Opener) -> None:
    page = opener(RESULT).page

    def height() -> float:
        box = page.locator("#readout").bounding_box()
        assert box is not None
        return box["height"]

    empty = height()
    (gap,) = RESULT.gaps[TRACK.track_id]
    for place in (10, 150, gap.fix, gap.fix + 0.5):
        moment(page, place)
        assert height() == pytest.approx(empty, rel=0, abs=0.5)  # parts of a pixel


@pytest.mark.parametrize(("width", "height", "touch"), [(1280, 800, False), (390, 844, True)])
def test_chart_and_read_out_are_seen_together_and_no_button_moves_the_page(
    opener: Opener, width: int, height: int, touch: bool
) -> None:
    page = opener(build_result(), width=width, height=height, touch=touch).page
    page.evaluate("document.getElementById('chart').scrollIntoView()")
    chart, readout = (page.locator(name).bounding_box() for name in ("#chart", "#readout"))
    assert chart is not None
    assert readout is not None
    assert chart["y"] == pytest.approx(0, abs=1)
    assert 300 <= chart["height"] <= 0.6 * height
    assert readout["y"] + readout["height"] <= height
    at = page.evaluate("scrollY")
    for button in ("#play", "#play", "[data-step='1']", "#measure"):
        page.click(button)
        assert page.evaluate("scrollY") == at, button
    assert page.locator("#measured").is_visible()
    measuring = page.locator("#measured").bounding_box()
    assert measuring is not None
    assert measuring["height"] >= readout["height"] - 1
    page.evaluate("void towzone.record.chart.focus({preventScroll: true})")
    page.keyboard.press("Escape")
    assert page.locator("#readout").is_visible()


def test_show_in_the_table_brings_chart_and_read_out_to_the_screen(opener: Opener) -> None:
    page = opener(build_result(), width=390, height=844).page
    page.locator("#row-3 button.show").click()
    chart, readout = (page.locator(name).bounding_box() for name in ("#chart", "#readout"))

    assert chart is not None
    assert readout is not None
    assert chart["y"] > -1
    assert readout["y"] + readout["height"] <= 844


def test_chart_out_of_view_is_brought_back_by_stepping(page: Page) -> None:
    page.evaluate("document.querySelector('[data-step=\"1\"]').scrollIntoView({block: 'start'})")
    page.click("[data-step='1']")
    box = page.locator("#chart").bounding_box()

    assert box is not None
    assert box["y"] == pytest.approx(0, abs=1)


def test_gear_of_a_route_without_times_says_what_is_missing(page: Page) -> None:
    missing = "told only for times: give --depart and --speed"
    moment(page, 0.5, 1)
    assert readings(page)["gear"] == "where it was at this moment is not known"
    page.evaluate("towzone.record.data.gear[0].track = 1")
    moment(page, 0.6, 1)
    told = readings(page)["gear"]
    page.evaluate("towzone.record.data.gear[0].track = 0")
    assert told == missing


def test_chosen_row_sets_the_moment_of_its_closest_approach(page: Page) -> None:
    for number, row in enumerate(RESULT.rows, start=1):
        page.evaluate("number => towzone.record.emit('choose', {row: number, move: false})", number)
        at = page.evaluate("towzone.record.moment")
        assert row.closest is not None
        if np.isnat(row.closest.utc):
            assert at["track"] == 1
            continue
        time_s = row.closest.utc.astype("datetime64[us]").astype(np.int64) / 1e6
        assert at["track"] == 0
        assert page.evaluate("at => towzone.record.tracks[0].timeAt(at.place)", at) == pytest.approx(
            time_s, rel=0, abs=0.002
        )


def test_slider_moves_all_instruments_and_tells_its_time(page: Page) -> None:
    moment(page, 0)
    slider = page.locator("#moment-slider")
    slider.focus()
    page.keyboard.press("End")
    assert page.evaluate("towzone.record.moment.place") == len(TRACK) - 1
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    told = readings(page)["time"]

    assert 0 < page.evaluate("towzone.record.moment.place") < 2
    assert slider.get_attribute("aria-valuetext") == told.removesuffix(", Invented trip")
    seconds = float((TRACK.time_utc[-1] - TRACK.time_utc[0]) / np.timedelta64(1, "s"))
    assert float(slider.get_attribute("max") or 0) == pytest.approx(seconds, rel=0, abs=0.002)


def test_playing_goes_on_by_the_chosen_speed_and_stops_at_the_end(page: Page) -> None:
    moment(page, 100)
    page.select_option("#pace", "600")
    page.focus("#chart")
    begun = page.evaluate("[performance.now(), towzone.record.tracks[0].timeAt(towzone.record.moment.place)]")
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Pause"
    until(page, "towzone.record.moment.place > 105")
    page.keyboard.press("Space")
    ended = page.evaluate("[performance.now(), towzone.record.tracks[0].timeAt(towzone.record.moment.place)]")
    assert page.inner_text("#play") == "Play"
    assert ended[1] - begun[1] <= 600 * (ended[0] - begun[0]) / 1000
    place = page.evaluate("towzone.record.moment.place")
    frame(page)
    assert page.evaluate("towzone.record.moment.place") == place
    moment(page, len(TRACK) - 1.2)
    page.click("#play")
    until(page, "!towzone.record.playing")
    assert page.evaluate("towzone.record.moment.place") == len(TRACK) - 1
    assert page.inner_text("#play") == "Play"


def test_playing_again_from_the_end_begins_at_the_start(page: Page) -> None:
    moment(page, len(TRACK) - 1)
    page.click("#play")
    assert page.evaluate("towzone.record.moment.place") < 20
    page.click("#play")


def test_another_part_that_sets_the_moment_stops_the_playing(page: Page) -> None:
    moment(page, 100)
    page.click("#play")
    moment(page, 300)
    assert page.inner_text("#play") == "Play"
    assert page.evaluate("towzone.record.moment.place") == 300


def test_who_wants_little_motion_gets_one_picture_a_second(opener: Opener) -> None:
    page = opener(build_result()).page
    page.emulate_media(reduced_motion="reduce")
    page.evaluate(
        """() => { window.seen = 0;
        towzone.record.on("moment", d => { if (d.source === "playback") { window.seen += 1; } }); }"""
    )
    page.click("#play")
    page.wait_for_timeout(700)
    assert page.evaluate("window.seen") == 0
    until(page, "window.seen > 0")


def test_route_without_times_is_played_along_its_points_and_no_time_is_told(page: Page) -> None:
    page.select_option("#moment-track", "1")
    assert page.is_disabled("#pace")
    assert page.locator("#moment-slider").get_attribute("max") == str(len(ROUTE) - 1)
    assert (
        page.locator("#moment-slider").get_attribute("aria-valuetext") == f"point 1 of {len(ROUTE)}, no time"
    )
    page.click("#play")
    until(page, "towzone.record.moment.place > 0.05")
    page.click("#play")
    told = readings(page)
    assert "UTC" not in told["time"]
    assert told["motion"] == "not known"
    page.select_option("#moment-track", "0")
    assert page.is_enabled("#pace")


def measured(text: str) -> tuple[float, float, float]:
    found = re.match(r"([\d.]+) m \(([\d.]+) nmi\), (\d{3})° there, (\d{3})° back, true\.", text)
    assert found is not None, text
    assert float(found[2]) == pytest.approx(float(found[1]) / 1852, rel=0, abs=0.00051)
    return float(found[1]), float(found[3]), float(found[4])


def check_measured(text: str, places: list[dict[str, float]]) -> None:
    (a, b) = places
    there = Geodesic.WGS84.Inverse(a["lat"], a["lng"], b["lat"], b["lng"])
    length, out, back = measured(text)
    assert length == pytest.approx(there["s12"], rel=0, abs=0.051)
    assert abs((out - there["azi1"] + 180) % 360 - 180) <= 0.51
    assert abs((back - there["azi2"] - 180 + 180) % 360 - 180) <= 0.51


def test_distance_between_two_clicks_is_measured_on_the_ellipsoid(page: Page) -> None:
    page.evaluate(
        "() => { window.clicked = []; towzoneMap.on('click', e => window.clicked.push(e.latlng)); }"
    )
    moment(page, 50)
    before = readings(page)
    page.click("#measure")
    page.evaluate("document.getElementById('chart').scrollIntoView({block: 'start'})")
    box = page.locator("#chart").bounding_box()
    assert box is not None
    assert page.locator("#measure").get_attribute("aria-pressed") == "true"
    page.mouse.click(box["x"] + 120, box["y"] + 300)
    page.mouse.move(box["x"] + 300, box["y"] + 200)
    frame(page)
    measured(page.inner_text("#measured"))
    page.mouse.click(box["x"] + 430, box["y"] + 110)
    text = page.inner_text("#measured")

    check_measured(text, page.evaluate("window.clicked.slice(-2)"))
    assert page.inner_text("#instruments-said") == text
    assert page.locator("path.measure-line").count() == 1
    assert page.locator("path.measure-end").count() == 2
    assert readings(page) == before
    page.mouse.click(box["x"] + 200, box["y"] + 250)
    assert page.locator("path.measure-end").count() == 1
    assert page.locator("path.measure-line").count() == 0
    page.keyboard.press("Escape")
    assert page.locator("path.measure-line, path.measure-end").count() == 0
    assert page.inner_text("#measured") == ""
    assert page.locator("#measure").get_attribute("aria-pressed") == "false"


def test_measuring_on_the_track_leaves_the_read_out_alone(page: Page) -> None:
    moment(page, 50)
    before = readings(page)
    page.click("#measure")
    page.evaluate("document.getElementById('chart').scrollIntoView({block: 'start'})")
    x, y = zoom_to(page, TRACK.lon_deg[200], TRACK.lat_deg[200])
    page.mouse.click(x, y)
    frame(page)

    assert readings(page) == before
    page.click("#measure")


def test_distance_is_measured_by_keys_alone(page: Page) -> None:
    page.focus("#chart")
    page.keyboard.press("m")
    first = page.evaluate("towzoneMap.getCenter()")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowRight")
    until(page, f"towzoneMap.getCenter().lng > {first['lng']}")
    cross = page.evaluate("getComputedStyle(document.getElementById('chart'), '::before').content !== 'none'")
    page.wait_for_timeout(300)
    second = page.evaluate("towzoneMap.getCenter()")
    page.keyboard.press("Enter")

    assert cross
    check_measured(page.inner_text("#measured"), [first, second])
    page.keyboard.press("m")
    assert not page.evaluate("towzone.record.measuring")


def test_finger_taps_the_track_and_has_room_for_every_button(opener: Opener) -> None:
    opened = opener(build_gear_result(), width=390, touch=True)
    page = opened.page
    page.evaluate("document.getElementById('chart').scrollIntoView()")
    x, y = zoom_to(page, TRACK.lon_deg[200], TRACK.lat_deg[200])
    page.touchscreen.tap(x + 15, y)
    frame(page)
    assert "Invented trip" in readings(page)["time"]
    sizes: list[dict[str, Any]] = page.evaluate(
        """() => Array.from(document.getElementById("instruments").querySelectorAll("button, select, input"))
        .filter(n => n.offsetParent).map(n => n.getBoundingClientRect().toJSON())"""
    )
    assert len(sizes) == 9
    for i, one in enumerate(sizes):
        assert min(one["width"], one["height"]) >= 40
        assert one["right"] <= 390
        for other in sizes[i + 1 :]:
            apart = (
                one["right"] <= other["left"]
                or other["right"] <= one["left"]
                or one["bottom"] <= other["top"]
                or other["bottom"] <= one["top"]
            )
            assert apart
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert opened.undisturbed(), opened.disturbances()


def test_track_across_180_degrees_is_pointed_at_and_told(opener: Opener) -> None:
    result = build_gear_result(lon0=179.8, lat0=-17.3)
    opened = opener(result)
    page, (track, _) = opened.page, result.tracks
    page.evaluate("document.getElementById('chart').scrollIntoView()")
    fix = int(np.flatnonzero(np.abs(np.diff(track.lon_deg)) > 180)[0]) + 4
    lon = page.evaluate("fix => towzone.record.tracks[0].positions.lon[fix]", fix)
    x, y = zoom_to(page, lon, track.lat_deg[fix])
    page.mouse.move(x, y)
    frame(page)
    told = readings(page)

    assert told["position"] == format_position(track.lon_deg[fix], track.lat_deg[fix])
    metres, zone = nearest_in_force(result, track, fix)
    assert zone.name in told["zone"]
    assert f"{abs(metres):.0f}"[:-1] in told["zone"]
    assert opened.undisturbed(), opened.disturbances()


def test_names_from_files_are_shown_as_text(opener: Opener) -> None:
    name = "<img src=x onerror=window.taken=1>"
    opened = opener(build_result(names=(name,) * 5))
    moment(opened.page, 100)

    assert name in readings(opened.page)["zone"]
    assert opened.page.evaluate("window.taken === undefined")
    assert opened.undisturbed(), opened.disturbances()


def test_nothing_is_called_kept_when_no_position_error_is_known(opener: Opener) -> None:
    result = dataclasses.replace(build_result(), rows=(), settings={"legs": "rhumb"})
    assert "data-doubt-m" not in instruments(result)
    page = opener(result).page
    for fix in range(0, len(TRACK), 60):
        moment(page, fix)
        assert not re.search(r"(?<!not )kept|no margin", readings(page)["zone"])


def test_zones_without_a_rule_in_force_are_never_called_kept_or_broken(opener: Opener) -> None:
    base = build_result()
    page = opener(dataclasses.replace(base, in_force=dict.fromkeys(base.in_force, False))).page
    for fix in range(0, len(TRACK), 60):
        moment(page, fix)
        told = readings(page)["zone"]
        assert told.endswith("; rule not in force")
        assert "kept" not in told


def test_page_at_rest_does_nothing(page: Page) -> None:
    page.evaluate(
        """() => { window.frames_asked = 0; const asked = window.requestAnimationFrame;
        window.requestAnimationFrame = f => { window.frames_asked += 1; return asked(f); }; }"""
    )
    page.wait_for_timeout(250)
    assert page.evaluate("window.frames_asked") == 0
