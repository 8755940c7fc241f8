"""The chart on a phone, with more positions than SVG draws well, and with more zones than anybody reads."""

from __future__ import annotations

import importlib.resources
import json
import re
from typing import Any

import pytest
from browser_page import Opener, record_text
from result_builders import build_result

READY = "#chart[data-ready='true']"
SCRIPTS = importlib.resources.files("towzone.record").joinpath("assets", "script")
GRID = "\n".join(SCRIPTS.joinpath(name).read_text(encoding="utf-8") for name in ("base.js", "grid.js"))


def changed(text: str, change: Any) -> str:
    """The record with the data of its chart changed."""
    found = re.search(r'(<script type="application/json" id="chart-data">)(.*?)(</script>)', text, re.DOTALL)
    assert found is not None
    data = json.loads(found[2])
    change(data)
    return text[: found.start(2)] + json.dumps(data) + text[found.end(2) :]


def moved(path: list[int], lon: int, lat: int) -> list[int]:
    return [path[0] + lon, path[1] + lat, *path[2:]]


def test_one_finger_scrolls_the_page_until_the_chart_was_touched(opener: Opener) -> None:
    """What a finger may do is decided by touch-action: with ``none`` the page cannot be scrolled there."""
    page = opener(build_result(), width=390, height=800, touch=True).page
    action = "getComputedStyle(document.getElementById('chart')).touchAction"

    if not page.evaluate("L.Browser.mobile"):
        page.evaluate("L.Browser.mobile = true; void towzoneMap.fire('blur')")
    assert page.evaluate(action) in ("pan-x pan-y", "pan-y pan-x", "auto")
    assert page.evaluate("towzoneMap.touchZoom.enabled()")
    page.locator("#chart").focus()
    assert page.evaluate("towzoneMap.dragging.enabled()")
    page.evaluate("document.activeElement.blur()")
    assert not page.evaluate("towzoneMap.dragging.enabled()")


def test_on_a_narrow_screen_the_key_is_folded_and_opens(opener: Opener) -> None:
    page = opener(build_result(), width=390, height=800).page

    assert not page.locator(".legend input").first.is_visible()
    page.click(".legend summary")
    assert page.locator(".legend input").first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_many_positions_are_painted_on_a_canvas_that_follows_the_display(opener: Opener) -> None:
    def lengthen(data: dict[str, Any]) -> None:
        track = data["tracks"][0]
        more = 210_000
        track["path"] += [3, 2, -3, -2] * (more // 2)
        track["runs"].append([len(track["path"]) // 2 - more, len(track["path"]) // 2 - 1, "towing", None])
        track["time"] = None

    page = opener.text(changed(record_text(build_result()), lengthen)).page
    page.wait_for_selector(READY)
    colours = """() => {
        const canvas = document.querySelector(".leaflet-towzone-tracks-pane canvas, .leaflet-pane canvas");
        const all = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
        let green = 0, drawn = 0;
        for (let i = 0; i < all.length; i += 4) {
            if (all[i + 3] > 200) { drawn += 1; green = Math.max(green, all[i + 1], all[i + 2]); }
        }
        return [drawn, green];
    }"""

    drawn, brightest = page.evaluate(colours)
    assert drawn > 100
    assert brightest > 90
    page.click(".modes button[value=night]")
    page.wait_for_timeout(100)
    drawn, brightest = page.evaluate(colours)
    assert drawn > 100
    assert brightest <= 6


def test_thousands_of_zones_and_hundreds_of_findings_do_not_hang_the_page(opener: Opener) -> None:
    def multiply(data: dict[str, Any]) -> None:
        zones = list(data["zones"])
        for k in range(1200):
            zone = dict(zones[k % len(zones)])
            shift = ((k % 50) * 3000 - 75_000, (k // 50) * 4000 - 50_000)
            for part in ("areas", "margin", "radius"):
                zone[part] = [[moved(ring, *shift) for ring in area] for area in zone[part]]
            for part in ("lines", "points"):
                zone[part] = [moved(path, *shift) for path in zone[part]]
            data["zones"].append(zone)
        rows = [row for row in data["rows"] if row["line"]]
        for k in range(450):
            number = len(data["rows"]) + 1
            data["rows"].append(dict(rows[k % len(rows)], number=number, matters=True, status="inside"))

    page = opener.text(changed(record_text(build_result()), multiply)).page
    page.wait_for_selector(READY)

    assert 20 < page.locator("#chart .pin-mark").count() <= 400
    page.evaluate("void towzoneMap.setZoom(towzoneMap.getZoom() + 5, {animate: false})")
    assert page.locator("#chart .pin-mark").count() <= 400
    page.click("#whole")
    page.evaluate("towzone.record.emit('layer', {})")
    assert 20 < page.locator("#chart .pin-mark").count() <= 400


@pytest.mark.parametrize(("span", "most"), [(1e-7, 8.0), (0.3, 7.0), (400.0, 5.0), (1e9, 9.0)])
def test_graticule_has_few_lines_however_wide_the_view(opener: Opener, span: float, most: float) -> None:
    page = opener.browser.new_page()
    page.add_script_tag(content=GRID)
    values = page.evaluate("([span, most]) => towzone.grid.values(-span / 2, span / 2, most)", [span, most])

    assert len(values) <= most + 1
    page.close()
