"""The record's own arithmetic in the browser, against independent and against our exact ways of doing it."""

from __future__ import annotations

import importlib.resources
import zoneinfo
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from playwright.sync_api import Browser, Page

from towzone.geodesy.approach import clearances
from towzone.geodesy.lines import WGS84, LineKind
from towzone.geodesy.region import Region
from towzone.geodesy.shape import Shape, freeze
from towzone.model.zone import Prohibition, Zone, ZoneKind
from towzone.record.catalogue import said_by_script
from towzone.record.clock import LocalClock
from towzone.record.drawn.fix_times import times_of
from towzone.record.drawn.zones import outline_zone
from towzone.record.island import delta_path
from towzone.units import format_length, format_position

PARTS = ("base", "geodesy", "clock", "tracks", "gear_at", "boundary", "nearness")
START = """
([words, data]) => {
  const record = { data: data, say: towzone.base.speaker(words) };
  towzone.base.bus(record);
  for (const part of ["geodesy", "clock", "tracks", "gearAt", "nearness"]) { towzone[part].start(record); }
  window.record = record;
}
"""
NEAR_M = 1.5
"""What the read-outs promise against the exact clearance, within 5 nmi."""


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """An empty page with those parts of the script that need no chart."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    for part in PARTS:
        file = importlib.resources.files("towzone.record").joinpath("assets", "script", f"{part}.js")
        page.add_script_tag(content=file.read_text(encoding="utf-8"))
    begin(page)
    yield page
    context.close()


def begin(page: Page, **data: Any) -> None:
    """Start the parts with the data of a page."""
    empty = {"clock": {"name": "", "offsets": []}, "gear": [], "tracks": [], "zones": []}
    page.evaluate(START, [said_by_script(), empty | data])


def pairs(seed: int, count: int) -> list[tuple[float, float, float, float]]:
    """Random pairs 0.1 m to 500 km apart, many near the poles, at 180 degrees and due along a parallel."""
    random = np.random.default_rng(seed)
    lat = random.uniform(-90.0, 90.0, count)
    lat[: count // 8] = random.choice([-90.0, 90.0, 89.9999, -89.999999, 0.0, 1e-9], count // 8)
    lon = random.uniform(-180.0, 180.0, count)
    lon[::5] = random.choice([180.0, -180.0, 179.99999, -179.9999999, 0.0], len(lon[::5]))
    length_m = 10.0 ** random.uniform(-1.0, np.log10(500_000.0), count)
    bearing = random.uniform(0.0, 360.0, count)
    bearing[::7] = random.choice([0.0, 90.0, 180.0, 270.0], len(bearing[::7]))
    ends = [Geodesic.WGS84.Direct(*one) for one in zip(lat, lon, bearing, length_m, strict=True)]
    return [(float(a), float(o), e["lat2"], e["lon2"]) for a, o, e in zip(lat, lon, ends, strict=True)]


INVERSE = "all => all.map(p => towzone.geodesy.inverse(p[0], p[1], p[2], p[3]))"


def test_distances_and_bearings_are_those_of_an_independent_library(page: Page) -> None:
    some = pairs(20260616, 3000)
    found = page.evaluate(INVERSE, some)
    wanted = [Geodesic.WGS84.Inverse(*pair) for pair in some]

    metres = np.array([one["metres"] for one in found])
    exact_m = np.array([one["s12"] for one in wanted])
    assert np.isfinite(metres).all()
    np.testing.assert_allclose(metres, exact_m, rtol=0, atol=0.0005)
    # At a pole a bearing hangs on the longitude alone; elsewhere it must lead to the other end.
    away = np.array([abs(pair[0]) < 89.99 for pair in some])
    off_deg = np.array([one["bearing_deg"] for one in found]) - [one["azi1"] for one in wanted]
    off_m = np.radians((off_deg + 180.0) % 360.0 - 180.0) * exact_m
    np.testing.assert_allclose(off_m[away], 0.0, rtol=0, atol=0.0005)


def test_long_ways_are_right_or_not_known_and_never_wrong(page: Page) -> None:
    random = np.random.default_rng(5)
    lat, lon = random.uniform(-90.0, 90.0, (2, 400)), random.uniform(-180.0, 180.0, (2, 400))
    some = np.column_stack([lat[0], lon[0], lat[1], lon[1]])
    # Close to the other side of the globe, where the iteration finds no end.
    opposite = np.column_stack(
        [lat[0], lon[0], -lat[0] + random.normal(0, 0.3, 400), lon[0] + 180 + random.normal(0, 0.3, 400)]
    )
    some = np.clip(np.vstack([some, opposite]), [-90, -540, -90, -540], [90, 540, 90, 540])
    found = page.evaluate(INVERSE, some.tolist())

    unknown = [one["metres"] is None for one in found]
    assert not any(unknown[:390])
    assert any(unknown[400:])
    for pair, one in zip(some, found, strict=True):
        if one["metres"] is not None:
            assert one["metres"] == pytest.approx(Geodesic.WGS84.Inverse(*pair)["s12"], rel=0, abs=0.002)
        else:
            assert one["bearing_deg"] is None


@pytest.mark.parametrize(
    "pair",
    ["0, 0, NaN, 1", "0, Infinity, 1, 1", "91, 0, 1, 1", "undefined, 0, 1, 1", "0, 0, -90.5, 0"],
)
def test_what_is_no_place_has_no_distance(page: Page, pair: str) -> None:
    found = page.evaluate(f"towzone.geodesy.inverse({pair})")

    assert found == {"metres": None, "bearing_deg": None}
    assert page.evaluate("towzone.geodesy.lengthText(null)") == "not known"
    assert page.evaluate("towzone.geodesy.bearingText(NaN)") == "not known"
    assert page.evaluate("towzone.geodesy.positionText(null, 1)") == "not known"


def test_one_place_twice_is_no_way_and_no_bearing(page: Page) -> None:
    assert page.evaluate("towzone.geodesy.inverse(60.1, -181, 60.1, 179)") == {
        "metres": 0,
        "bearing_deg": None,
    }


def test_lengths_are_written_as_everywhere_in_the_record(page: Page) -> None:
    random = np.random.default_rng(7)
    lengths = [
        *(random.normal(0.0, 1.0, 600) * 10.0 ** random.uniform(-3, 7, 600)).tolist(),
        # Ties, where one way of rounding goes up and the other to the even digit
        *[0.25, 0.75, 12.25, -12.25, 12.75, 0.35, 463.0, 0.0, 1852.0, 1852 / 16, 1852 * 3 / 16, 0.05, -0.04],
    ]

    found = page.evaluate("all => all.map(towzone.geodesy.lengthText)", lengths)
    assert found == [format_length(length) for length in lengths]


def test_positions_are_written_as_everywhere_in_the_record(page: Page) -> None:
    random = np.random.default_rng(8)
    places = [
        *zip(random.uniform(-400, 760, 500).tolist(), random.uniform(-90, 90, 500).tolist(), strict=True),
        *[(180.0, -59.9999999), (-180.0, 0.0), (180.5, -0.0), (540.0, 90.0), (-0.0, 59.99999167)],
        *[(0.5 / 60_000, 1.5 / 60_000), (359.9999999, 9.999999999), (-8.175, 54.50333333)],
    ]

    found = page.evaluate("all => all.map(p => towzone.geodesy.positionText(p[1], p[0]))", places)
    assert found == [format_position(lon, lat) for lon, lat in places]


def test_bearings_have_three_digits_and_never_360(page: Page) -> None:
    found = page.evaluate("[0, 7.2, 45.5, 359.4, 359.6, -90].map(towzone.geodesy.bearingText)")

    assert found == ["000°", "007°", "046°", "359°", "000°", "270°"]


@pytest.mark.parametrize(
    "name",
    ["Europe/Paris", "Asia/Kolkata", "America/St_Johns", "UTC", "Australia/Lord_Howe", "Africa/Monrovia"],
)
def test_times_are_written_as_everywhere_in_the_record(page: Page, name: str) -> None:
    clock = LocalClock(zone=zoneinfo.ZoneInfo(name), name=name)
    random = np.random.default_rng(9)
    first = 0 if name == "Africa/Monrovia" else 1_750_000_000  # its offset had seconds until 1972
    span = 70_000_000
    seconds = [first, *np.sort(random.uniform(first, first + span, 300)).tolist()]
    offsets = clock.offsets(first, first + span)
    seconds += [at + beside for at, _ in offsets for beside in (-0.5, 0.0, 0.25, 1.0) if at + beside >= first]
    begin(page, clock={"name": name, "offsets": offsets})
    instants = [np.datetime64(round(s * 1e6), "us") for s in seconds]

    assert len(offsets) > 1 or name in ("Asia/Kolkata", "UTC")
    assert page.evaluate("all => all.map(towzone.clock.text)", seconds) == [clock.text(i) for i in instants]
    assert page.evaluate("towzone.clock.text(null)") == clock.text(np.datetime64("NaT", "us"))


def zone_of(shape: Shape, edges: LineKind, **other: Any) -> Zone:
    return Zone(
        zone_id="z",
        name="Invented",
        kind=ZoneKind.CLOSED_AREA,
        shape=shape,
        edges=edges,
        edges_stated=True,
        prohibits=(Prohibition.FISHING,),
        **other,
    )


def drawn(zone: Zone, centre_deg: float, **other: Any) -> dict[str, Any]:
    """A zone as the page's data carry it."""
    outline = outline_zone(zone, centre_deg)
    return {
        "areas": [[delta_path(ring) for ring in area] for area in outline.areas],
        "lines": [delta_path(line) for line in outline.lines],
        "points": [delta_path(point) for point in outline.points],
        "name": "Invented",
        "in_force": True,
        "outside": False,
        "margin_m": 0.0,
        "radius_m": zone.radius_m,
    } | other


def ring(random: np.random.Generator, lon: float, lat: float, size_m: float, corners: int) -> np.ndarray:
    """A ring around a place, in and out like a star, longitudes within [-180, 180)."""
    bearing = np.sort(random.uniform(0.0, 360.0, corners))
    out = random.uniform(0.4, 1.0, corners) * size_m
    x, y, _ = WGS84.fwd(np.full(corners, lon), np.full(corners, lat), bearing, out)
    return np.column_stack([(np.asarray(x) + 180.0) % 360.0 - 180.0, y])


def exact_m(zone: Zone, places: np.ndarray) -> np.ndarray:
    """Clearances of places by the exact core, negative inside; shape (n,)."""
    edges = [
        np.column_stack([corners, np.roll(corners, -1, axis=0)])[
            : None if closed or len(corners) == 1 else -1
        ]
        for corners, closed in zone.shape.strings()
    ]
    edge = np.tile(np.vstack(edges), (len(places), 1))
    place = np.repeat(places, len(edge) // len(places), axis=0)
    found = clearances(LineKind.GEODESIC, *place.T, *place.T, zone.edges, *edge.T)
    least = found.distance_m.reshape(len(places), -1).min(axis=1)
    inside = Region(zone.shape, zone.edges).contains(*places.T)
    return np.where(inside, -least, least) - zone.radius_m


def beside(random: np.random.Generator, ring_deg: np.ndarray, count: int, farthest_m: float) -> np.ndarray:
    """Places around a boundary, half of them close to it."""
    corner = ring_deg[random.integers(0, len(ring_deg), count)]
    away = random.uniform(0.0, farthest_m, count)
    away[::2] *= 0.02
    x, y, _ = WGS84.fwd(corner[:, 0], corner[:, 1], random.uniform(0, 360, count), away)
    return np.column_stack([np.asarray(x), np.asarray(y)])


NEAREST = "all => all.map(p => window.record.nearest(p[1], p[0]))"


@pytest.mark.parametrize("edges", list(LineKind), ids=[str(kind) for kind in LineKind])
@pytest.mark.parametrize("lat0", [0.0, 35.0, 63.0, 75.0, -52.0])
def test_clearances_are_those_of_the_exact_core(page: Page, lat0: float, edges: LineKind) -> None:
    random = np.random.default_rng(int(abs(lat0)) + len(edges))
    for lon0, size_m in ((-18.6, 3000.0), (179.99, 40_000.0), (12.0, 250_000.0)):
        corners = freeze(ring(random, lon0, lat0, size_m, 9))
        line = freeze(ring(random, lon0, lat0, size_m, 4))
        for shape in (Shape(polygons=((corners,),)), Shape(lines=(line,), points=freeze(line[:1] + 0.01))):
            zone = zone_of(shape, edges, radius_m=float(random.choice([0.0, 500.0])))
            begin(page, zones=[drawn(zone, lon0)])
            places = beside(random, corners if shape.polygons else line, 12, 5 * 1852.0)
            wanted = exact_m(zone, places)
            found = page.evaluate(NEAREST, places.tolist())
            got = np.array([one["metres"] for one in found])
            near = np.abs(wanted + zone.radius_m) < 5 * 1852.0
            assert near.sum() >= 4
            np.testing.assert_allclose(got[near], wanted[near], rtol=0, atol=NEAR_M)
            # Farther off and deep inside it stays within a few parts in a hundred thousand.
            np.testing.assert_allclose(got, wanted, rtol=1e-4, atol=NEAR_M)


@pytest.mark.parametrize("edges", [LineKind.RHUMB, LineKind.LONLAT, LineKind.GEODESIC], ids=str)
def test_long_edges_are_near_where_they_truly_run(page: Page, edges: LineKind) -> None:
    for lat0 in (20.0, 60.0, 74.0):
        square = freeze([[10.0, lat0], [13.0, lat0], [13.0, lat0 + 1.0], [10.0, lat0 + 1.0]])
        zone = zone_of(Shape(polygons=((square,),)), edges)
        begin(page, zones=[drawn(zone, 10.0)])
        places = np.array([[lon, lat0 + off] for lon in (10.7, 11.5, 12.9) for off in (-0.05, 0.002, 0.03)])
        found = [one["metres"] for one in page.evaluate(NEAREST, places.tolist())]
        np.testing.assert_allclose(found, exact_m(zone, places), rtol=0, atol=NEAR_M)


def flat(*metres: tuple[float, float]) -> np.ndarray:
    """Places so many metres east and north of 20 E 63 N."""
    x, y = np.array(metres).T
    lon, lat, _ = WGS84.fwd(
        np.full(len(x), 20.0), np.full(len(x), 63.0), np.degrees(np.arctan2(x, y)), np.hypot(x, y)
    )
    return np.column_stack([lon, lat])


SHAPE = "all => window.record.nearestShape(all.map(p => [p[1], p[0]])).metres"


def test_cable_across_the_gear_is_touched_and_one_beside_it_is_not(page: Page) -> None:
    gear = flat((-40, 0), (40, 0), (0, -160)).tolist()
    for ends, wanted in (
        (((-900, -60), (5300, -75)), 0.0),
        (((-3000, 25), (3000, 25)), 25.0),
        (((100, -3000), (100, 3000)), 60.0),
    ):
        begin(page, zones=[drawn(zone_of(Shape(lines=(freeze(flat(*ends)),)), LineKind.GEODESIC), 20.0)])
        assert page.evaluate(SHAPE, gear) == pytest.approx(wanted, rel=0, abs=NEAR_M)


def test_far_end_of_a_wide_gear_finds_what_is_near_it_alone(page: Page) -> None:
    gear = flat((0, -300), (0, 300), (-5, 0)).tolist()
    lines = [
        [(150 + 0.5 * i, 0) for i in range(49)],
        [(0.5 * i, 900) for i in range(48)],
        [(0.5 * i, 350) for i in range(100)],
    ]
    shape = Shape(lines=tuple(freeze(flat(*line)) for line in lines))
    data = drawn(zone_of(shape, LineKind.GEODESIC), 20.0)
    begin(page, zones=[data | {"lines": [delta_path(line) for line in shape.lines]}])

    assert page.evaluate(SHAPE, gear) == pytest.approx(50.0, rel=0, abs=NEAR_M)


def test_shape_of_gear_is_as_near_as_its_nearest_point(page: Page) -> None:
    random = np.random.default_rng(3)
    corners = freeze(ring(random, 20.0, 63.0, 4000.0, 8))
    zone = zone_of(Shape(polygons=((corners,),)), LineKind.RHUMB)
    begin(page, zones=[drawn(zone, 20.0)])
    for lon, lat in beside(random, corners, 20, 9000.0):
        heading = random.uniform(0, 360)
        x, y, _ = WGS84.fwd(
            [lon] * 3, [lat] * 3, [heading + 90, heading - 90, heading + 180], [40.0, 40.0, 160.0]
        )
        gear = np.column_stack([x, y])
        found = page.evaluate(
            "all => window.record.nearestShape(all.map(p => [p[1], p[0]])).metres", gear.tolist()
        )
        # Along its sides, sampled to two metres.
        sides = [
            WGS84.npts(*gear[i], *gear[(i + 1) % 3], 80, initial_idx=0, terminus_idx=0) for i in range(3)
        ]
        least = exact_m(zone, np.vstack(sides)).min()
        deepest = exact_m(zone, gear).min()
        wanted = deepest if deepest < 0 else max(least, 0.0)
        assert found == pytest.approx(wanted, rel=0, abs=2.0)


def test_zone_between_the_parts_of_the_gear_is_touched(page: Page) -> None:
    wreck = zone_of(Shape(points=freeze([[20.0, 63.0]])), LineKind.RHUMB)
    begin(page, zones=[drawn(wreck, 20.0)])
    around = [[63.0004, 20.0], [62.9996, 20.001], [62.9996, 19.999]]

    assert page.evaluate("all => window.record.nearestShape(all).metres", around) == 0
    assert page.evaluate("all => window.record.nearestShape(all.slice(1)).metres", around) > 40
    beside_it = [[lat, lon + 0.002] for lat, lon in around]
    assert page.evaluate("all => window.record.nearestShape(all).metres", beside_it) > 40


def test_zone_that_allows_only_inside_is_told_the_other_way_round(page: Page) -> None:
    square = freeze([[10.0, 60.0], [10.1, 60.0], [10.1, 60.05], [10.0, 60.05]])
    zone = zone_of(Shape(polygons=((square,),)), LineKind.RHUMB)
    begin(page, zones=[drawn(zone, 10.0, outside=True)])
    places = np.array([[10.05, 60.001], [10.05, 59.999]])
    within, without = (one["metres"] for one in page.evaluate(NEAREST, places.tolist()))

    assert within > 100
    assert without < -100
    np.testing.assert_allclose([within, without], -exact_m(zone, places), rtol=0, atol=NEAR_M)


def test_nearest_zone_is_one_whose_rule_is_in_force_and_a_nearer_one_is_told_beside(page: Page) -> None:
    zones = [
        drawn(zone_of(Shape(points=freeze([[10.0, 60.0 + step]])), LineKind.RHUMB), 10.0, in_force=force)
        for step, force in ((0.0, False), (0.01, True), (0.03, True))
    ]
    begin(page, zones=zones)
    first, second = page.evaluate(NEAREST, [[10.0, 59.99], [10.0, 60.02]])

    assert (first["zone"], first["inForce"], first["idle"]["zone"]) == (1, True, 0)
    assert first["idle"]["inForce"] is False
    assert first["idle"]["metres"] < first["metres"]
    assert second["zone"] in (1, 2)
    assert second["idle"] is None
    begin(page, zones=zones[:1])
    only = page.evaluate(NEAREST, [[10.0, 59.99]])[0]
    assert (only["zone"], only["inForce"]) == (0, False)


def test_no_zone_and_no_place_give_no_clearance(page: Page) -> None:
    begin(page, zones=[])
    assert page.evaluate(NEAREST, [[10.0, 60.0]]) == [None]
    begin(page, zones=[drawn(zone_of(Shape(points=freeze([[10.0, 60.0]])), LineKind.RHUMB), 10.0)])
    assert page.evaluate("[window.record.nearest(null, null), window.record.nearestShape([])]") == [
        None,
        None,
    ]


def test_hole_and_seam_at_180_degrees_are_seen(page: Page) -> None:
    shell = freeze([[179.9, -17.1], [-179.9, -17.1], [-179.9, -16.9], [179.9, -16.9]])
    hole = freeze([[179.98, -17.02], [-179.98, -17.02], [-179.98, -16.98], [179.98, -16.98]])
    zone = zone_of(Shape(polygons=((shell, hole),)), LineKind.RHUMB)
    for centre in (179.0, -179.0):
        begin(page, zones=[drawn(zone, centre)])
        places = [[180.0, -17.0], [-180.0, -17.05], [-179.95, -17.0], [179.85, -17.0], [181.0, -17.0]]
        places += [[179.95, -17.08], [179.95, -17.03]]
        found = [one["metres"] for one in page.evaluate(NEAREST, places)]
        np.testing.assert_allclose(found, exact_m(zone, np.array(places)), rtol=0, atol=NEAR_M)
        assert [value < 0 for value in found] == [False, True, True, False, False, True, True]


def track(lonlat: np.ndarray, **other: Any) -> dict[str, Any]:
    """A track as the page's data carry it, towing all along."""
    last = len(lonlat) - 1
    return {
        "name": "Invented",
        "kind": "completed",
        "path": delta_path(lonlat),
        "time": None,
        "runs": [[0, last, "towing", 1]],
        "bends": [],
        "gaps": [],
    } | other


@pytest.mark.parametrize(
    ("stamps", "form"),
    [
        (["2026-06-16T05:00:00", "2026-06-16T05:00:10", "2026-06-16T05:00:20"], "runs"),
        (["2026-06-16T05:00:00.25", "2026-06-16T05:00:01.5", "2026-06-16T05:00:09"], "steps"),
    ],
)
def test_times_of_fixes_come_back_as_they_were(page: Page, stamps: list[str], form: str) -> None:
    times = times_of(np.array(stamps, dtype="datetime64[us]"))
    assert times is not None
    assert form in times
    begin(page, tracks=[track(np.array([[10.0, 60.0], [10.01, 60.0], [10.02, 60.0]]), time=times)])
    seconds = np.array(stamps, dtype="datetime64[us]").astype(np.int64) / 1e6

    assert page.evaluate("[0, 1, 2].map(i => record.tracks[0].timeAt(i))") == seconds.tolist()
    middle = float(seconds[1] + 0.25 * (seconds[2] - seconds[1]))
    assert page.evaluate("t => record.tracks[0].placeAt(t)", middle) == pytest.approx(1.25, rel=0, abs=1e-6)
    assert page.evaluate("record.tracks[0].timeAt(1.25)") == pytest.approx(middle, rel=0, abs=1e-6)
    beyond = [float(seconds[0]) - 0.1, float(seconds[2]) + 0.1]
    assert page.evaluate("all => all.map(t => record.tracks[0].placeAt(t))", beyond) == [None, None]
    assert page.evaluate("[-0.1, 2.1].map(p => record.tracks[0].at(p).covered)") == [False, False]


def test_place_on_a_long_leg_follows_its_bends(page: Page) -> None:
    ends = np.array([[10.0, 60.0], [13.0, 60.0]])
    between = np.array(WGS84.npts(*ends[0], *ends[1], 9))
    begin(page, tracks=[track(ends, bends=[[0, delta_path(between)]])])
    length_m = Geodesic.WGS84.Inverse(60.0, 10.0, 60.0, 13.0)
    for part in (0.0, 0.03, 0.45, 0.5, 0.97, 1.0):
        here = page.evaluate("p => record.tracks[0].at(p)", part)
        wanted = Geodesic.WGS84.Direct(60.0, 10.0, length_m["azi1"], length_m["s12"] * part)
        off = Geodesic.WGS84.Inverse(here["lat"], here["lon"], wanted["lat2"], wanted["lon2"])
        assert off["s12"] < 25.0  # the bends of this test stand 17 km apart


def test_nothing_is_known_between_the_fixes_of_a_gap_nor_speed_across_it(page: Page) -> None:
    fixes = np.column_stack([10.0 + 0.001 * np.arange(20), np.full(20, 60.0)])
    times = {"unit": 1, "start": 0, "runs": [9, 10, 1, 3600, 9, 10]}
    gap = {"fix": 9, "text": "", "ellipse": None, "open": True}
    runs = [[0, 9, "towing", 1], [10, 19, "unknown", None]]
    begin(page, tracks=[track(fixes, time=times, runs=runs, gaps=[gap])])

    covered = page.evaluate("[9, 9.001, 9.5, 9.999, 10].map(p => record.tracks[0].at(p))")
    assert [one["covered"] for one in covered] == [True, False, False, False, True]
    assert [one["lat"] is None for one in covered] == [False, True, True, True, False]
    assert [one["activity"] for one in covered] == ["towing", None, None, None, "unknown"]
    leg_m = Geodesic.WGS84.Inverse(60.0, 10.0, 60.0, 10.001)["s12"]
    for place in (0, 4.5, 8, 9, 10, 15, 19):
        speed = page.evaluate("p => record.tracks[0].speed(p)", place)
        assert speed["speed_kn"] == pytest.approx(leg_m / 10 * 3600 / 1852, rel=0, abs=0.02)
        assert speed["course_deg"] == pytest.approx(90.0, rel=0, abs=0.01)
    assert page.evaluate("record.tracks[0].speed(9.5)") is None


def test_gap_is_a_gap_even_where_a_stretch_is_said_to_go_on(page: Page) -> None:
    fixes = np.array([[10.0, 60.0], [10.01, 60.0], [10.02, 60.0]])
    gap = {"fix": 1, "text": "", "ellipse": None, "open": False}
    begin(page, tracks=[track(fixes, gaps=[gap])])

    assert page.evaluate("[0.5, 1, 1.5, 2].map(p => record.tracks[0].at(p).covered)") == [
        True,
        True,
        False,
        True,
    ]


def test_speed_is_that_of_a_minute_and_no_longer_or_shorter(page: Page) -> None:
    metres = np.cumsum([0.0, *[20.0] * 10, *[60.0] * 3, *[0.0] * 3, *[20.0] * 10])
    _, lat, _ = WGS84.fwd(np.full(27, 10.0), np.full(27, 60.0), np.zeros(27), metres)
    fixes = np.column_stack([np.full(27, 10.0), lat])
    begin(page, tracks=[track(fixes, time={"unit": 1, "start": 0, "runs": [26, 10]})])

    # Around fix 13: three legs of 60 m before and three of no length after.
    found = page.evaluate("[13, 3, 10, 12].map(p => record.tracks[0].speed(p).speed_kn)")
    knots = np.array([180.0, 120.0, 240.0, 200.0]) / 60 * 3600 / 1852
    np.testing.assert_allclose(found, knots, rtol=0, atol=0.02)


@pytest.mark.parametrize("count", [1, 2, 128, 129, 130, 257])
def test_last_fix_is_found_like_any_other(page: Page, count: int) -> None:
    fixes = np.column_stack([10.0 + 0.01 * np.arange(count), np.full(count, 60.0)])
    begin(page, tracks=[track(fixes)])
    at = {"lat": 60.001, "lng": float(fixes[-1, 0]) + 0.001}
    for legs in (True, False):
        found = page.evaluate("([at, legs]) => record.tracks[0].nearest(at, legs)", [at, legs])
        assert found["place"] == count - 1
        way = Geodesic.WGS84.Inverse(at["lat"], at["lng"], *fixes[-1, ::-1])
        assert found["metres"] == pytest.approx(way["s12"], rel=0, abs=0.1)


def test_speed_of_less_than_twenty_seconds_and_course_of_a_vessel_lying_still_are_not_told(
    page: Page,
) -> None:
    fixes = np.array([[10.0, 60.0], [10.00001, 60.0], [10.0, 60.0]])
    begin(page, tracks=[track(fixes, time={"unit": 1, "start": 0, "runs": [2, 9]})])
    assert page.evaluate("record.tracks[0].speed(1)") is None
    begin(page, tracks=[track(fixes, time={"unit": 1, "start": 0, "runs": [2, 30]})])
    still = page.evaluate("record.tracks[0].speed(1)")
    assert still["speed_kn"] < 0.1
    assert still["course_deg"] is None
    begin(page, tracks=[track(fixes)])
    assert page.evaluate("record.tracks[0].speed(1)") is None


def test_nearest_of_a_million_fixes_is_the_one_a_brute_search_finds(page: Page) -> None:
    page.evaluate(
        """() => { const path = [0, 60000000];
        for (let i = 1; i < 1e6; i += 1) {
          path.push(Math.round(9 * Math.sin(i / 3e4)), Math.round(9 * Math.cos(i / 4e4)));
        }
        const runs = [[0, 1e6 - 1, "towing", 1]];
        const data = { tracks: [{ path: path, time: null, runs: runs, bends: [], gaps: [] }] };
        const record = { data: data, say: key => key };
        towzone.base.bus(record);
        towzone.tracks.start(record);
        window.many = record.tracks[0]; }"""
    )
    right = page.evaluate(
        """() => { const track = window.many; let right = 0;
        for (let k = 0; k < 40; k += 8) {
          const fix = (k * 24989) % 1e6;
          const lat = track.positions.lat[fix] + 3e-3, lng = track.positions.lon[fix] - 2e-3;
          let best = Infinity, brute = null;
          for (let i = 0; i < 1e6; i += 1) {
            const x = (track.positions.lon[i] - lng) * Math.cos(lat * Math.PI / 180);
            const y = track.positions.lat[i] - lat;
            if (x * x + y * y < best) { best = x * x + y * y; brute = i; }
          }
          right += track.nearest({ lat, lng }).place === brute ? 1 : 0;
        }
        return right; }"""
    )
    assert right == 5


def test_zone_of_a_hundred_thousand_corners_is_as_near_as_its_nearest_corner(page: Page) -> None:
    bearing = np.linspace(0.0, 360.0, 100_000, endpoint=False)
    out = 30_000.0 + 2_000.0 * np.sin(np.radians(bearing) * 40.0)
    x, y, _ = WGS84.fwd(np.full(len(out), 5.0), np.full(len(out), 58.0), bearing, out)
    path = delta_path(np.column_stack([x, y]))
    begin(page, zones=[drawn(zone_of(Shape(points=freeze([[5, 58]])), LineKind.RHUMB), 5.0) | {
        "areas": [[path]], "points": [],
    }])  # fmt: skip
    places = [(4.7 + 0.017 * i, 57.6 + 0.02 * i) for i in range(40)]
    told = page.evaluate(
        "places => places.map(([lon, lat]) => window.record.nearest(lat, lon).metres)",
        [list(p) for p in places],
    )

    # Corners lie a few metres apart, so the nearest of them is as near as the line between them, nearly.
    corner_m = [WGS84.inv(np.full(len(x), lon), np.full(len(x), lat), x, y)[2].min() for lon, lat in places]
    np.testing.assert_allclose(np.abs(told), corner_m, rtol=0, atol=1.0)
