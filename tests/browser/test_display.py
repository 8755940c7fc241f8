"""Day, dusk and night in a real browser: what is chosen is shown, and at night no pixel is other than red."""

from __future__ import annotations

import base64
from collections.abc import Iterator

import pytest
from browser_page import CHROMIUM, FLAGS, Opened, Opener
from gear_results import build_gear_result
from playwright.sync_api import Browser, Page

FAINTEST = 6
"""Green or blue of 255 that still counts as none: rounding where red lies half over black. Own choice."""

PIXELS = """async data => {
  const image = await createImageBitmap(await (await fetch("data:image/png;base64," + data)).blob());
  const canvas = document.createElement("canvas");
  canvas.width = image.width; canvas.height = image.height;
  const brush = canvas.getContext("2d");
  brush.drawImage(image, 0, 0);
  const all = brush.getImageData(0, 0, image.width, image.height).data;
  let red = 0, other = 0, where = null;
  for (let i = 0; i < all.length; i += 4) {
    red = Math.max(red, all[i]);
    if (Math.max(all[i + 1], all[i + 2]) > other) {
      other = Math.max(all[i + 1], all[i + 2]);
      where = [i / 4 % image.width, Math.floor(i / 4 / image.width)];
    }
  }
  return {red, other, where};
}"""
CONTROLS = """() => {
  const kinds = {};
  document.querySelectorAll("button, input, select, summary, a[href], [tabindex='0']").forEach(node => {
    const state = (node.getAttribute("aria-pressed") || "") + (node.checked || "") + (node.disabled || "");
    const kind = [node.localName, node.type || "", node.closest("#chart") ? "chart" : "page", state].join();
    if (!kinds[kind] && node.tabIndex >= 0 && node.offsetWidth) { kinds[kind] = node; }
  });
  return Object.values(kinds).map((node, i) => { node.setAttribute("data-look", i); return node.outerHTML; });
}"""
"""The first of each kind of control that a browser paints by itself, in each state."""


@pytest.fixture(scope="module")
def opened(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    opener = Opener(browser, tmp_path_factory.mktemp("display"))
    yield opener(build_gear_result())
    opener.close()


@pytest.fixture(scope="module")
def eye(browser: Browser) -> Iterator[Page]:
    """An empty page that looks at pictures."""
    page = browser.new_page()
    yield page
    page.close()


def choose(page: Page, mode: str) -> None:
    page.click(f".modes button[value={mode}]")


def paper(page: Page) -> str:
    colour: str = page.evaluate("getComputedStyle(document.body).backgroundColor")
    return colour


def seen(eye: Page, picture: bytes) -> dict[str, float]:
    found: dict[str, float] = eye.evaluate(PIXELS, base64.b64encode(picture).decode())
    return found


def assert_red_alone(eye: Page, picture: bytes, what: str) -> None:
    found = seen(eye, picture)
    assert found["other"] <= FAINTEST, (what, found)
    assert found["red"] > 200, (what, "nothing is shown")


def test_a_light_device_gets_the_day_and_a_dark_one_the_dusk(opener: Opener) -> None:
    light, dark = opener(build_gear_result()).page, opener(build_gear_result(), dark=True).page

    assert paper(light) == "rgb(255, 255, 255)"
    choose(light, "dusk")
    assert paper(light) == paper(dark) != "rgb(255, 255, 255)"
    choose(dark, "day")
    assert paper(dark) == "rgb(255, 255, 255)"
    choose(dark, "auto")
    assert paper(dark) == paper(light)


def test_display_is_chosen_by_buttons_or_by_the_list_behind_them_and_kept_nowhere(opened: Opened) -> None:
    page = opened.page
    for mode in ("night", "dusk", "day", "auto"):
        choose(page, mode)
        assert page.evaluate("document.documentElement.getAttribute('data-mode')") == mode
        assert page.locator("#mode").input_value() == mode
        pressed = page.locator(".modes button[aria-pressed='true']")
        assert pressed.get_attribute("value") == mode
    page.select_option("#mode", "night")
    assert paper(page) == "rgb(0, 0, 0)"
    assert page.locator(".modes button[aria-pressed='true']").get_attribute("value") == "night"
    kept = "localStorage.length + sessionStorage.length + document.cookie.length"
    assert page.evaluate(f"(() => {{ try {{ return {kept}; }} catch (error) {{ return 0; }} }})()") == 0
    page.reload()
    page.wait_for_selector("#chart[data-ready]")
    assert page.evaluate("document.documentElement.getAttribute('data-mode')") == "auto"


def test_day_is_not_red_alone_so_that_the_test_of_the_night_can_fail(opened: Opened, eye: Page) -> None:
    choose(opened.page, "day")

    assert seen(eye, opened.page.screenshot())["other"] == 255


@pytest.mark.parametrize("width", [1280, 390])
def test_at_night_the_whole_page_is_red_alone(opened: Opened, eye: Page, width: int) -> None:
    page = opened.page
    page.set_viewport_size({"width": width, "height": 900})
    choose(page, "night")
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    page.click("#next")
    page.evaluate("towzone.record.layers.turn('others', true); towzone.record.layers.turn('ellipses', true)")

    assert_red_alone(eye, page.screenshot(full_page=True), f"page {width} wide")
    page.set_viewport_size({"width": 1280, "height": 900})


def test_at_night_focus_and_selection_are_red_alone(opened: Opened, eye: Page) -> None:
    page = opened.page
    choose(page, "night")
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    page.keyboard.press("Tab")  # from here on the ring of the focus is shown
    controls = page.evaluate(CONTROLS)
    assert len(controls) >= 8
    for place, control in enumerate(controls):
        page.evaluate(f"document.querySelector('[data-look=\"{place}\"]').focus()")
        assert page.evaluate("document.activeElement.getAttribute('data-look')") == str(place), control
        assert_red_alone(eye, page.screenshot(), control)
    page.evaluate("getSelection().selectAllChildren(document.getElementById('answer'))")
    page.evaluate("scrollTo(0, 0)")
    assert_red_alone(eye, page.screenshot(), "selected text")
    page.evaluate("getSelection().removeAllRanges()")


def test_at_night_a_close_view_and_a_pointed_at_button_are_red_alone(opened: Opened, eye: Page) -> None:
    page = opened.page
    choose(page, "night")
    page.click("#gear-view")
    page.hover("#whole")
    assert_red_alone(eye, page.screenshot(), "gear, close up")
    page.hover("#chart .pin-mark b")
    assert_red_alone(eye, page.screenshot(), "a number pointed at")


def test_at_night_the_bars_for_scrolling_are_red_alone(opened: Opened, browser: Browser, eye: Page) -> None:
    started = browser.browser_type.launch(
        executable_path=str(CHROMIUM), args=FLAGS, ignore_default_args=["--hide-scrollbars"]
    )
    page = started.new_page(viewport={"width": 1000, "height": 700})
    page.goto(opened.url)
    page.wait_for_selector("#chart[data-ready]")
    choose(page, "night")

    assert page.evaluate("innerWidth > document.documentElement.clientWidth"), "no bar to look at"
    assert_red_alone(eye, page.screenshot(), "bars")
    started.close()


def test_at_night_nothing_shows_a_note_in_colours_of_the_device(opened: Opened) -> None:
    """A title is shown by the device itself, black on white."""
    assert opened.page.locator("body [title], body svg title").count() == 0
    assert opened.page.locator("img").count() == 0


def test_paper_has_the_colours_of_the_day_whatever_the_screen_has(opened: Opened) -> None:
    page = opened.page

    def colours() -> list[str]:
        found: list[str] = page.evaluate(
            """() => ["track", "gear.corridor", "zone.k-cable", "gap"].map(name => {
                const s = getComputedStyle(document.querySelector("svg.still path." + name));
                return s.stroke + " " + s.fill; })"""
        )
        return found

    choose(page, "day")
    page.emulate_media(media="print")
    day = colours()
    page.emulate_media(media="screen")
    choose(page, "night")
    assert colours() != day
    page.emulate_media(media="print")
    assert colours() == day
    page.emulate_media(media="screen")
