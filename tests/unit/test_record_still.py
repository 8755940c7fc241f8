"""The still chart, for paper: findings can be seen, words keep off places, hostile input ends soon."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
import shapely
from gear_results import build_gear_result
from result_builders import build_result

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.result import CheckResult, Status
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Prohibition, Zone, ZoneKind
from towzone.record.drawn import crowded as crowded_module
from towzone.record.drawn.chart_notes import chart_notes
from towzone.record.drawn.crowded import MANY
from towzone.record.drawn.data import chart_data
from towzone.record.drawn.frame import Box, metres_per_degree
from towzone.record.drawn.insets import MOST, choose_insets
from towzone.record.drawn.scene import MATTERS, build_scene
from towzone.record.drawn.sheet import sheet_for
from towzone.record.drawn.still_chart import draw_static
from towzone.record.drawn.still_labels import Labels
from towzone.record.island import dump


def picture(result: CheckResult) -> str:
    return draw_static(build_scene(result), None, "Title")


def classes(svg: str) -> set[str]:
    return {word for group in re.findall(r'class="([^"]*)"', svg) for word in group.split()}


def far_from(result: CheckResult, wide_deg: float) -> CheckResult:
    """The same result with a fix far away at the end, so that all findings become small."""
    first = result.tracks[0]
    track = dataclasses.replace(
        first,
        lon_deg=np.append(first.lon_deg, first.lon_deg[-1] + wide_deg),
        lat_deg=np.append(first.lat_deg, first.lat_deg[-1]),
        time_utc=np.append(first.time_utc, first.time_utc[-1] + np.timedelta64(86_400_000_000, "us")),
        part=np.append(first.part, first.part[-1]),
        readings={},
        line=None,
        fixes_read=first.fixes_read + 1,
    )
    return dataclasses.replace(result, tracks=(track, *result.tracks[1:]))


def test_everything_has_its_own_class() -> None:
    found = classes(picture(build_gear_result()))

    assert {"a-towing", "a-not_towing", "a-planned", "gap", "gap-ellipse", "corridor", "likely"} <= found
    assert {"g-door", "g-net", "margin", "closest", "s-inside", "s-too_close", "s-undetermined"} <= found


def test_findings_too_small_to_be_seen_have_insets_worst_first() -> None:
    scene = build_scene(far_from(build_gear_result(), 12.0))
    insets = choose_insets(scene, sheet_for(scene.view))

    assert 2 <= len(insets) <= MOST
    assert insets[0].rows[0].number == 1
    firsts = [inset.rows[0].number for inset in insets]
    assert firsts == sorted(firsts)
    for inset in insets:
        for row in inset.rows:
            assert row.line is not None
            xy = inset.sheet.xy(row.line)
            assert inset.sheet.holds(xy)
            assert np.hypot(*(xy[1] - xy[0])) >= 0.1 * inset.sheet.width or row is inset.rows[0]
        xy = inset.sheet.xy(inset.rows[0].line)
        widest_m = inset.sheet.width / inset.sheet.metre
        assert np.hypot(*(xy[1] - xy[0])) >= 0.2 * inset.sheet.width or widest_m < 1250.0


def test_a_hundred_metres_can_be_seen_in_an_inset_of_a_close_pass() -> None:
    result = far_from(build_result(planned=False), 12.0)
    scene = build_scene(result)
    close = [row for row in scene.rows if row.row.status is Status.TOO_CLOSE]
    (inset,) = [i for i in choose_insets(scene, sheet_for(scene.view)) if i.rows[0] is close[0]]

    assert inset.sheet.metre * 100.0 >= 30.0  # of 1000 units, which paper shows 184 mm wide: 5 mm


def test_findings_that_can_be_seen_need_no_inset() -> None:
    result = build_result(planned=False)
    rows = tuple(row for row in result.rows if row.status is Status.INSIDE)

    assert picture(dataclasses.replace(result, rows=rows)).count("<svg") == 1


@pytest.mark.parametrize("lon0", [-18.6, 179.9])
def test_no_number_and_no_word_covers_a_closest_approach(lon0: float) -> None:
    scene = build_scene(build_result(lon0=lon0, lat0=-17.3, planned=False))
    svg = draw_static(scene, None, "Title").split("</svg>")[0]
    sheet = sheet_for(scene.view)
    places = np.vstack([sheet.xy(row.line[:1]) for row in scene.rows if row.matters and row.line is not None])

    discs = re.findall(r'class="pin s-\w+" c?x="([\d.]+)" c?y="([\d.]+)"', svg)
    assert len(discs) == len(places)
    for x, y in discs:
        # Of a square the corner is told, which lies 10.5 up and left of its middle: both are far enough.
        assert np.hypot(*(places - [float(x), float(y)]).T).min() > 8.0
    words = re.findall(r'class="(?:name|tow-name|pin-label)[^"]*" x="([\d.]+)" y="([\d.]+)">([^<]*)<', svg)
    assert len(words) > 6
    for x, y, text in words:
        half = len(text) * 6.5 / 2.0
        off = np.abs(places - [float(x), float(y) - 4.5])
        assert not ((off[:, 0] < half) & (off[:, 1] < 7.0)).any(), text


def test_words_do_not_cover_each_other() -> None:
    sheet = sheet_for(Box(west=0.0, south=50.0, east=1.0, north=50.5))
    labels = Labels(sheet=sheet)

    assert labels.place(100.0, [(500.0, 200.0)]) == (500.0, 200.0)
    assert labels.place(100.0, [(500.0, 205.0), (500.0, 260.0)]) == (500.0, 260.0)
    assert labels.place(100.0, [(20.0, 205.0)]) is None  # off the sheet


def test_a_word_takes_the_place_that_covers_least() -> None:
    sheet = sheet_for(Box(west=0.0, south=50.0, east=1.0, north=50.5))
    labels = Labels(sheet=sheet)
    labels.draw([np.array([[0.0, 50.25], [1.0, 50.25]])], 1.0)
    on_line = float(sheet.xy(np.array([[0.5, 50.25]]))[0, 1])

    assert labels.place(100.0, [(500.0, on_line), (500.0, on_line + 40.0)]) == (500.0, on_line + 40.0)


def test_first_view_frames_tracks_and_findings_not_far_zones() -> None:
    result = build_result(planned=False)
    track = build_scene(result).tracks[0].lonlat_deg
    view = build_scene(result).view

    west, south = track.min(axis=0)
    east, north = track.max(axis=0)
    assert view.west < west < east < view.east
    assert view.south < south < north < view.north
    assert (view.east - view.west) < 1.6 * (east - west)


def test_a_large_zone_far_off_does_not_make_the_tracks_small() -> None:
    result = build_result(planned=False)
    far = Shape(lines=(freeze([(-18.6, 63.4), (-18.6, 70.0)]),))
    zones = tuple(dataclasses.replace(zone, shape=far) for zone in result.zones)
    rows = tuple(row for row in result.rows if row.status is Status.CLEAR)

    scene = build_scene(dataclasses.replace(result, zones=zones, rows=rows))

    track = Box.around(scene.tracks[0].lonlat_deg)
    assert scene.view.north - scene.view.south < 2.0 * (track.east - track.west)
    assert scene.view.east - scene.view.west < 1.4 * (track.east - track.west)


# Hostile input.


def track_of(lonlat: np.ndarray, step_s: int = 60) -> Track:
    n = len(lonlat)
    return Track(
        track_id="Invented trip",
        source="trip.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=(lonlat[:, 0] + 180.0) % 360.0 - 180.0,
        lat_deg=lonlat[:, 1],
        time_utc=np.datetime64("2026-03-01", "us") + (np.arange(n) * step_s).astype("timedelta64[s]"),
        part=np.zeros(n, dtype=np.int32),
        fixes_read=n,
    )


def alone(track: Track, shape: Shape, kind: ZoneKind = ZoneKind.CLOSED_AREA) -> CheckResult:
    zone = Zone(
        zone_id="z",
        name="z",
        kind=kind,
        shape=shape,
        edges=LineKind.GEODESIC,
        edges_stated=True,
        prohibits=(Prohibition.FISHING,),
    )
    return CheckResult(
        tracks=(track,),
        zones=(zone,),
        margins_m={"z": 463.0},
        in_force={"z": True},
        gaps={track.track_id: ()},
        lengths_m={track.track_id: 0.0},
        tows=(),
        rows=(),
        beyond_reach=0,
        assumptions=(),
    )


LINE = np.column_stack([np.linspace(0.0, 0.05, 50), np.full(50, 60.0)])
SQUARE = Shape(polygons=((freeze([(0.02, 60.01), (0.03, 60.01), (0.03, 60.02)]),),))


@pytest.mark.parametrize(
    ("track", "shape"),
    [
        pytest.param(LINE[:1], SQUARE, id="one fix"),
        pytest.param(np.repeat(LINE[:1], 100, axis=0), SQUARE, id="the same fix a hundred times"),
        pytest.param(
            np.column_stack([np.arange(10) * 36.0, np.full(10, 88.9)]),
            Shape(polygons=((freeze([(-120.0, 87.0), (0.0, 87.0), (120.0, 87.0)]),),)),
            id="round the pole",
        ),
        pytest.param(
            np.column_stack([np.arange(240) * 3.0, -55.0 + 0.1 * np.sin(np.arange(240.0))]),
            SQUARE,
            id="twice round",
        ),
        pytest.param(
            LINE,
            Shape(polygons=((freeze([(-50.0, 5.0), (0.0, 5.0), (0.0, 62.0), (-50.0, 62.0)]),),)),
            id="ocean",
        ),
    ],
)
def test_strange_places_give_a_small_page(track: np.ndarray, shape: Shape) -> None:
    scene = build_scene(alone(track_of(track, 86_400), shape))

    assert len(dump(chart_data(scene, None, ""))) + len(draw_static(scene, None, "Title")) < 300_000
    assert -85.0 <= scene.view.south < scene.view.north <= 85.0
    assert scene.view.west < scene.view.east
    assert scene.window.east - scene.window.west <= max(360.0, scene.view.east - scene.view.west) + 1e-6


@pytest.mark.parametrize("rough_deg", [0.0, 2e-4])
def test_zone_of_very_many_corners_gives_a_small_page_and_says_so(
    rough_deg: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(crowded_module, "_MOST", 4_000)
    n = 20_000
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    out = 1.0 + np.random.default_rng(1).uniform(-1.0, 1.0, n) * rough_deg / 0.02
    ring = np.column_stack([0.025 + 0.02 * out * np.cos(turn), 60.0 + 0.02 * out * np.sin(turn)])

    scene = build_scene(alone(track_of(LINE), Shape(polygons=((freeze(ring),),))))
    data = dump(chart_data(scene, None, ""))

    assert len(data) < 100_000
    (zone,) = scene.zones
    note = [text for text in chart_notes(scene) if "corners" in text]
    assert len(note) == 1
    scale = np.array(metres_per_degree(60.0))
    drawn = shapely.LinearRing(zone.outline.areas[0][0] * scale)
    shapely.prepare(drawn)
    off_m = shapely.distance(drawn, shapely.points(ring[::500] * scale))
    assert off_m.max() <= zone.outline.off_m + 1.0


def test_zone_of_a_few_thousand_corners_is_drawn_with_all_of_them() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, MANY - 10, endpoint=False)
    ring = np.column_stack([0.025 + 0.02 * np.cos(turn), 60.0 + 0.02 * np.sin(turn)])

    (zone,) = build_scene(alone(track_of(LINE), Shape(polygons=((freeze(ring),),)))).zones

    assert zone.outline.off_m == 0.0
    assert len(zone.outline.areas[0][0]) >= len(ring)


def test_rows_that_matter_are_findings_and_undecided_ones() -> None:
    assert set(Status) - MATTERS == {Status.TRANSIT, Status.NOT_IN_FORCE, Status.CLEAR}
