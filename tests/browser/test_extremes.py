"""Positions, shapes and times at the edges of what can be read: the page is there soon, whole and silent."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from browser_page import Opened, Opener
from browser_use import use_everything
from cli_runner import call, route_text, track_text, zones_text

PATIENCE_S = 60.0
"""After which a page counts as hanging, on a machine with other things to do; own choice, and no measure of
speed: that is printed by tests/bench/bench_record.py."""

Point = tuple[float, float]
MARCH = datetime(2026, 3, 1, tzinfo=UTC)
FIRST_DAY = datetime(1, 1, 1, tzinfo=UTC)
LAST_HOUR = datetime(9999, 12, 31, 22, 58, tzinfo=UTC)
"""Where the calendar of Python ends: local time lies beyond it, west or east of Greenwich."""
AREA = {"kind": "closed_area", "margin": "200m"}


def box(west: float, south: float, east: float, north: float) -> dict[str, object]:
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}


def wheel(lon: float, lat: float, radius_deg: float, corners: int) -> dict[str, object]:
    """A coast-like ring of many corners."""
    turn = [2.0 * math.pi * i / corners for i in range(corners)]
    size = [radius_deg * (1.0 + 0.05 * math.sin(97.0 * t)) for t in turn]
    ring = [[lon + 2.0 * r * math.cos(t), lat + r * math.sin(t)] for t, r in zip(turn, size, strict=True)]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}


def sailed(
    points: Sequence[Point], *, start: datetime = datetime(2026, 3, 1, tzinfo=UTC), step_s: int = 60
) -> str:
    """A track of fixes so many seconds apart."""
    rows = []
    for i, (lon, lat) in enumerate(points):
        time = (start + timedelta(seconds=i * step_s)).replace(tzinfo=None).isoformat()
        rows.append((f"{lon:.6f}", f"{lat:.6f}", f"{time}Z"))
    return track_text(rows)


def line(start: Point, end: Point, count: int = 60) -> list[Point]:
    return [
        (start[0] + (end[0] - start[0]) * i / (count - 1), start[1] + (end[1] - start[1]) * i / (count - 1))
        for i in range(count)
    ]


PLAIN = line((-18.1, 60.0), (-18.0, 60.02))
NEAR = box(-18.05, 60.0, -18.0, 60.03)
EAST = [(lon + 190.0, lat) for lon, lat in PLAIN]
CROSSING = [*line((179.96, -17.0), (179.999, -17.0), 30), *line((-179.999, -17.0), (-179.9, -17.0))]
CORNERS = [(-18.5 + 0.03 * (i % 40), 59.5 + 0.03 * (i // 40)) for i in range(1000)]
OCEAN = {
    "type": "Polygon",
    "coordinates": [[[-60, -50], [-10, -50], [-10, 0], [-10, 62], [-60, 62], [-60, 0], [-60, -50]]],
}
CASES: dict[str, tuple[str, list[dict[str, object]]]] = {
    "north": (sailed(line((0.0, 88.97), (3.0, 88.98))), [box(-60.0, 88.9, 60.0, 88.96)]),
    "south": (sailed(line((10.0, -84.99), (11.0, -84.95))), [box(10.2, -85.2, 10.8, -84.96)]),
    "across-180": (sailed(CROSSING), [box(179.9, -17.1, 180.0, -16.99)]),
    "many-corners": (sailed(PLAIN), [wheel(-18.05, 60.05, 0.06, 100_000)]),
    "thousand-zones": (sailed(PLAIN), [box(lon, lat, lon + 0.02, lat + 0.02) for lon, lat in CORNERS]),
    "one-place": (sailed([(-18.0, 60.0)] * 300), [NEAR]),
    "one-fix": (sailed([(-18.0, 60.0)]), [NEAR]),
    "ocean": (sailed(PLAIN), [OCEAN]),
    "years": (sailed(line((-30.0, 50.0), (-10.0, 60.0), 3000), step_s=30_000), [NEAR]),
    "year-1": (sailed(PLAIN, start=FIRST_DAY), [NEAR]),
    "year-9999": (sailed(EAST, start=LAST_HOUR), [box(171.95, 60.0, 172.0, 60.03)]),
    "no-time": (route_text(PLAIN), [NEAR]),
}


@pytest.fixture(params=CASES)
def opened(request: pytest.FixtureRequest, opener: Opener, tmp_path: Path) -> Opened:
    text, shapes = CASES[request.param]
    track, zones, record = tmp_path / "t.gpx", tmp_path / "z.geojson", tmp_path / "extreme.html"
    track.write_text(text, encoding="utf-8")
    zones.write_text(zones_text(*((shape, AREA | {"zone_id": f"Z{i}"}) for i, shape in enumerate(shapes))))
    ran = call("check", track, "--zones", zones, "--record", record)
    assert ran.code in (0, 1, 4), ran.err
    return opener.file(record, patience_s=PATIENCE_S)


def test_record_does_not_hang_and_is_whole_and_silent_when_used(opened: Opened) -> None:
    page = opened.page

    assert page.locator("#chart").is_visible()
    assert page.evaluate("document.documentElement.classList.contains('js')")
    assert "NaN" not in page.locator("main").inner_text()
    use_everything(page)
    assert opened.undisturbed(), opened.disturbances()
    view = opened.view()
    assert all(math.isfinite(side) for side in view.values())
    assert view["south"] < view["north"]
    assert view["west"] < view["east"]
