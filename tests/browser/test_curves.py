"""The drawings of clearance against time, used: pointed at, moved along by keys, looked at on a phone."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np
import pytest
from browser_page import Opened, Opener
from gear_results import build_gear_result
from playwright.sync_api import Browser, Page

from towzone.record.curves.figures import clearance_curves

RESULT = build_gear_result()
CURVES = clearance_curves(RESULT).curves


@pytest.fixture(scope="module")
def opened(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    opener = Opener(browser, tmp_path_factory.mktemp("curves"))
    yield opener(RESULT)
    opener.close()


@pytest.fixture
def page(opened: Opened) -> Iterator[Page]:
    """The page, which tells in ``heard`` what its parts say to each other."""
    opened.page.evaluate(
        """() => { window.heard = [];
        if (!window.listening) {
          window.listening = true;
          ["moment", "choose"].forEach(
            name => towzone.record.on(name, detail => window.heard.push([name, detail])));
        } }"""
    )
    yield opened.page
    assert opened.undisturbed(), opened.disturbances()


def at(page: Page, number: int, share: float) -> None:
    """Point at a drawing, at a share of its width."""
    area = page.locator(f"#curve-{number} .curve-cursor")
    area.scroll_into_view_if_needed()
    box = area.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * share, box["y"] + box["height"] / 2.0)


def moments(page: Page) -> list[dict[str, float]]:
    return [detail for name, detail in page.evaluate("window.heard") if name == "moment"]


def test_pointing_at_a_drawing_tells_the_moment_under_the_pointer(page: Page) -> None:
    drawn = CURVES[0]
    at(page, 1, 0.25)

    told = moments(page)[-1]
    assert (told["track"], told["source"]) == (drawn.track_number, "curves")
    time_s = page.evaluate("place => towzone.record.tracks[0].timeAt(place)", told["place"])
    pixel_s = (drawn.last - drawn.first) / 1000.0
    np.testing.assert_allclose(
        time_s, drawn.first + 0.25 * (drawn.last - drawn.first), rtol=0, atol=2.0 * pixel_s
    )


def test_route_without_times_is_pointed_at_by_its_way(page: Page) -> None:
    number, drawn = next((n, c) for n, c in enumerate(CURVES, start=1) if not c.timed and c.matters)
    at(page, number, 0.5)

    place = moments(page)[-1]["place"]
    way_m = np.interp(place, *drawn.knots.T)
    np.testing.assert_allclose(way_m, (drawn.first + drawn.last) / 2.0, rtol=0, atol=150.0)
    assert "nmi sailed" in page.locator(f"#curve-{number} .curve-cursor b").inner_text()


def test_cursor_of_every_drawing_of_the_track_follows_a_moment_told_by_another_part(page: Page) -> None:
    drawn = CURVES[0]
    middle_s = (drawn.first + drawn.last) / 2.0
    page.evaluate(
        """time => { const track = towzone.record.tracks[0];
        towzone.record.emit("moment", {track: 0, place: track.placeAt(time), source: "row"}); }""",
        middle_s,
    )

    left = page.locator("#curve-1 .curve-cursor i").evaluate("node => parseFloat(node.style.left)")
    np.testing.assert_allclose(left, 50.0, rtol=0, atol=0.01)
    assert "UTC (" in page.locator("#curve-1 .curve-cursor b").inner_text()
    shown = page.evaluate(
        """() => [...document.querySelectorAll("#curves figure")].map(figure => [
          figure.querySelector("svg.curve").dataset, figure.querySelector(".curve-cursor i").hidden
        ]).map(([data, hidden]) => [Number(data.track), Number(data.first), Number(data.last), hidden])"""
    )
    assert len(shown) == len(CURVES)
    for track, first, last, hidden in shown:
        if track == 0:
            assert hidden == (not first <= middle_s <= last)
    assert len(moments(page)) == 1


def test_keys_move_the_moment_by_a_column_and_say_it(page: Page) -> None:
    drawn = CURVES[0]
    page.locator("#curve-1 .curve-cursor").focus()
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("PageUp")
    page.keyboard.press("PageDown")

    place = moments(page)[-1]["place"]
    time_s = page.evaluate("place => towzone.record.tracks[0].timeAt(place)", place)
    column_s = (drawn.last - drawn.first) / len(drawn.vessel.state)
    np.testing.assert_allclose(time_s - drawn.first, column_s, rtol=0, atol=0.05)
    area = page.locator("#curve-1 .curve-cursor")
    assert "UTC" in (area.get_attribute("aria-valuetext") or "")
    assert area.get_attribute("role") == "slider"


def test_click_on_the_shade_of_a_finding_chooses_its_row(page: Page) -> None:
    drawn = CURVES[0]
    mark = next(mark for mark in drawn.marks if any(kind == "inside" for kind, *_ in mark.stretches))
    first, last = next((a, b) for kind, a, b in mark.stretches if kind == "inside")
    share = ((first + last) / 2.0 - drawn.first) / (drawn.last - drawn.first)
    at(page, 1, share)
    page.mouse.down()
    page.mouse.up()

    (choice,) = [detail for name, detail in page.evaluate("window.heard") if name == "choose"]
    assert choice["move"] is True
    assert choice["row"] in [mark.number for mark in drawn.marks]
    picked = page.locator("#curve-1 svg .picked").evaluate_all("nodes => nodes.map(n => n.dataset.row)")
    assert set(picked) == {str(choice["row"])}


def test_button_of_a_row_on_a_drawing_chooses_it(page: Page) -> None:
    button = page.locator("#curve-1 button.show-row").first
    number = int(button.get_attribute("data-row") or 0)
    page.click("#whole")
    button.click()

    assert page.locator(f"#row-{number}").get_attribute("class").split().count("picked") == 1


def test_words_keep_their_size_and_stay_on_a_phone(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    opener = Opener(browser, tmp_path_factory.mktemp("phone"))
    page = opener(RESULT, width=390).page
    sizes = page.evaluate(
        """() => [...document.querySelectorAll("#curve-1 svg.curve text")].filter(
          node => getComputedStyle(node).display !== "none").map(node => {
          const box = node.getBoundingClientRect();
          return [node.textContent, box.height, box.left, box.right]; })"""
    )
    wide = page.evaluate("document.documentElement.scrollWidth")
    opener.close()

    assert len(sizes) > 10
    assert min(height for _, height, _, _ in sizes) >= 12.0
    outside = [text for text, _, left, right in sizes if left < 0.0 or right > 390.0]
    assert outside == []
    assert wide <= 390


def test_drawings_are_there_with_scripts_off(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    opener = Opener(browser, tmp_path_factory.mktemp("plain"))
    page = opener(dataclasses.replace(RESULT), scripts=False).page
    box = page.locator("#curve-1 svg.curve").bounding_box()
    cursors = page.locator(".curve-cursor").count()
    opener.close()

    assert box is not None
    assert box["width"] > 900
    assert cursors == 0
