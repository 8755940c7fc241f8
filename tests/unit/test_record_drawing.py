"""What is drawn lies where it should: straight pieces, rings, thinned tracks, seams and coast."""

from __future__ import annotations

import dataclasses
from itertools import pairwise

import numpy as np
import pyproj
import pytest
import shapely
from result_builders import build_result

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.zone import Prohibition, Zone, ZoneKind
from towzone.record.drawn import coast as coast_module
from towzone.record.drawn.coast import load_coast
from towzone.record.drawn.frame import Box, chart_true, mercator_y_deg, metres_per_degree
from towzone.record.drawn.graticule import grid_values
from towzone.record.drawn.rings import grown
from towzone.record.drawn.scene import build_scene
from towzone.record.drawn.thin import THIN_IN_TIME_M, THIN_TOLERANCE_M, kept_nodes, near_any
from towzone.record.drawn.zones import draw_zone, outline_zone

GEOD = pyproj.Geod(ellps="WGS84")


def zone_of(shape: Shape, edges: LineKind = LineKind.LONLAT) -> Zone:
    return Zone(
        zone_id="z",
        name="z",
        kind=ZoneKind.CLOSED_AREA,
        shape=shape,
        edges=edges,
        edges_stated=True,
        prohibits=(Prohibition.FISHING,),
    )


def test_straight_chart_pieces_stay_within_the_tolerance_of_a_lonlat_line() -> None:
    """Sampled between the points: latitude on the Mercator chord against latitude on the lon/lat line."""
    rng = np.random.default_rng(7)
    for _ in range(200):
        lon0, lat0 = rng.uniform(-180, 180), rng.uniform(-75, 75)
        ends = np.array(
            [[lon0, lat0], [lon0 + rng.uniform(0.5, 5), np.clip(lat0 + rng.uniform(-5, 5), -80, 80)]]
        )
        path = chart_true(ends, tolerance_m=0.5)
        lon = np.linspace(ends[0, 0], ends[1, 0], 4001)
        on_line = np.interp(lon, ends[:, 0], ends[:, 1])
        on_chart = np.interp(lon, path[:, 0], mercator_y_deg(path[:, 1]))
        drawn = np.degrees(np.arctan(np.sinh(np.radians(on_chart))))
        off_m = np.abs(drawn - on_line).max() * 111_700.0
        assert off_m <= 0.55


def test_long_diagonal_needs_points_and_a_meridian_does_not() -> None:
    assert len(chart_true(np.array([[0.0, 58.0], [2.0, 59.0]]))) > 5
    assert len(chart_true(np.array([[0.0, 50.0], [0.0, 60.0]]))) == 2


def test_degrees_have_the_lengths_of_wgs_84() -> None:
    """Against geodesics over a thousandth of a degree."""
    for lat in (-70.0, 0.0, 45.0, 63.0):
        per_lon_m, per_lat_m = metres_per_degree(lat)
        _, _, east_m = GEOD.inv(0.0, lat, 0.001, lat)
        _, _, north_m = GEOD.inv(0.0, lat - 0.0005, 0.0, lat + 0.0005)
        np.testing.assert_allclose([per_lon_m, per_lat_m], [east_m * 1000, north_m * 1000], rtol=0, atol=0.5)


@pytest.mark.parametrize("lat", [0.0, 45.0, 63.0, 75.0])
def test_outline_at_a_distance_is_drawn_within_two_per_cent(lat: float) -> None:
    line = shapely.LineString([(10.0, lat), (10.4, lat + 0.5), (11.0, lat + 0.4)])
    ring = shapely.get_coordinates(shapely.get_rings(grown([line], 926.0)))
    dense = shapely.get_coordinates(shapely.segmentize(line, 0.0002))

    nearest_m = [
        GEOD.inv(*np.broadcast_arrays(x, y), dense[:, 0], dense[:, 1])[2].min()
        for x, y in _as_rows(ring, dense)
    ]

    np.testing.assert_allclose(nearest_m, 926.0, rtol=0, atol=0.02 * 926.0)


def _as_rows(ring: np.ndarray, dense: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    return [(np.full(len(dense), x), np.full(len(dense), y)) for x, y in ring[::3]]


def test_thinning_keeps_every_fix_near_a_zone_and_the_line_elsewhere() -> None:
    rng = np.random.default_rng(11)
    lon = np.linspace(0.0, 1.0, 50_000)
    lonlat = np.column_stack([lon, 60.0 + 0.05 * np.sin(lon * 20.0) + rng.normal(0.0, 3e-6, len(lon))])
    guarded = shapely.box(0.4, 59.0, 0.5, 61.0)

    time_s = np.arange(len(lon), dtype=np.float64)
    keep = kept_nodes(
        lonlat, near_any(lonlat, [guarded]), THIN_TOLERANCE_M, time_s=time_s, in_time_m=THIN_IN_TIME_M
    )

    near = (lon >= 0.4) & (lon <= 0.5)
    assert keep[near].all()
    assert keep[0]
    assert keep[-1]
    assert keep[~near].mean() < 0.2
    scale = np.array(metres_per_degree(60.0))
    drawn = shapely.linestrings(lonlat[keep] * scale)
    assert shapely.distance(shapely.points(lonlat[::7] * scale), drawn).max() <= THIN_TOLERANCE_M + 0.01


def test_thinning_without_zones_still_keeps_the_ends() -> None:
    lonlat = np.column_stack([np.linspace(5.0, 5.1, 1000), np.full(1000, 60.0)])
    none = np.zeros(1000, dtype=np.bool_)

    keep = kept_nodes(lonlat, none, THIN_TOLERANCE_M, time_s=None, in_time_m=THIN_IN_TIME_M)

    assert np.flatnonzero(keep).tolist() == [0, 999]


def test_zone_cut_at_180_degrees_is_drawn_as_one_area() -> None:
    """RFC 7946 section 3.1.9 asks writers to cut there; the cut is no boundary."""
    west = freeze([(179.0, -17.0), (180.0, -17.0), (180.0, -16.0), (179.0, -16.0)])
    east = freeze([(-180.0, -17.0), (-179.0, -17.0), (-179.0, -16.0), (-180.0, -16.0)])

    drawn = outline_zone(zone_of(Shape(polygons=((west,), (east,)))), centre_deg=-179.5)

    assert len(drawn.areas) == 1
    assert drawn.box == Box(west=-181.0, south=-17.0, east=-179.0, north=-16.0)


def test_two_areas_that_are_not_cut_at_180_degrees_stay_two() -> None:
    one = freeze([(1.0, 1.0), (2.0, 1.0), (2.0, 2.0)])
    two = freeze([(2.0, 1.0), (3.0, 1.0), (3.0, 2.0), (2.0, 2.0)])

    assert len(outline_zone(zone_of(Shape(polygons=((one,), (two,)))), centre_deg=0.0).areas) == 2


def test_every_edge_of_a_ring_is_drawn_true_the_closing_one_too() -> None:
    ring = freeze([(0.0, 58.0), (4.0, 58.5), (2.0, 60.5)])

    ((drawn,),) = outline_zone(zone_of(Shape(polygons=((ring,),))), centre_deg=0.0).areas

    starts = [int(np.flatnonzero((drawn == corner).all(axis=1))[0]) for corner in ring]
    per_edge = np.diff([*starts, len(drawn)])
    longest_m = np.hypot(*(np.diff(np.vstack([drawn, drawn[:1]]), axis=0) * metres_per_degree(59.0)).T).max()
    assert (per_edge > 5).all()
    assert longest_m < 20_000.0


def test_hole_travels_with_its_area_across_180_degrees() -> None:
    outer = freeze([(179.0, 0.0), (-178.0, 0.0), (-178.0, 2.0), (179.0, 2.0)])
    hole = freeze([(-179.0, 0.5), (-178.5, 0.5), (-178.5, 1.0)])

    ((ring, inner),) = outline_zone(zone_of(Shape(polygons=((outer, hole),))), centre_deg=179.0).areas

    assert (ring[:, 0].min(), ring[:, 0].max()) == (179.0, 182.0)
    assert (inner[:, 0].min(), inner[:, 0].max()) == (181.0, 181.5)


def test_edge_kinds_are_drawn_apart() -> None:
    """Along a parallel at 58 N over 4 degrees the geodesic runs about 1 750 m poleward of the rhumb line.

    Derived: sagitta s^2 tan(lat) / (8 R) with s = 236.5 km, R = 6 390 km gives 1 751 m.
    """
    shape = Shape(lines=(freeze([(-3.0, 58.0), (1.0, 58.0)]),))

    highest = {
        kind: outline_zone(zone_of(shape, kind), centre_deg=0.0).lines[0][:, 1].max()
        for kind in (LineKind.RHUMB, LineKind.GEODESIC)
    }

    assert highest[LineKind.RHUMB] == pytest.approx(58.0, abs=1e-9)
    assert (highest[LineKind.GEODESIC] - 58.0) * 111_360.0 == pytest.approx(1751.0, abs=10.0)


def test_scene_across_180_degrees_has_one_frame() -> None:
    scene = build_scene(build_result(lon0=179.8, lat0=-17.3))

    assert scene.view.east - scene.view.west < 2.0
    for track in scene.tracks:
        assert np.abs(np.diff(track.lonlat_deg[:, 0])).max() < 1.0
    for row in scene.rows:
        assert row.line is not None
        assert np.ptp(row.line[:, 0]) < 1.0


def test_gap_is_no_part_of_any_run() -> None:
    result = build_result()
    scene = build_scene(result)
    (gap,) = result.gaps[result.tracks[0].track_id]
    ends = scene.tracks[0].lonlat_deg[[gap.fix, gap.fix + 1]]

    assert len(scene.tracks[0].gaps) == 1
    for run in scene.tracks[0].runs:
        line = scene.tracks[0].line(run.first, run.last)
        for start, stop in pairwise(line):
            assert not (np.array_equal(start, ends[0]) and np.array_equal(stop, ends[1]))
    drawn_tows = {run.tow for run in scene.tracks[0].runs}
    assert drawn_tows >= {tow.number for tow in result.tows}


def test_fix_between_two_gaps_is_drawn_by_itself() -> None:
    result = build_result(planned=False)
    track_id = result.tracks[0].track_id
    (gap,) = result.gaps[track_id]
    gaps = (gap, dataclasses.replace(gap, fix=gap.fix + 1))

    scene = build_scene(dataclasses.replace(result, gaps={track_id: gaps}))

    alone = [run for run in scene.tracks[0].runs if run.first == run.last]
    assert [run.first for run in alone] == [gap.fix + 1]


def test_zone_far_outside_the_chart_is_counted_not_drawn() -> None:
    result = build_result(planned=False)
    far = dataclasses.replace(
        result.zones[2], zone_id="far", shape=Shape(points=freeze([(100.0, -40.0)])), name="Far away"
    )
    result = dataclasses.replace(
        result,
        zones=(*result.zones, far),
        margins_m={**result.margins_m, "far": 0.0},
        in_force={**result.in_force, "far": True},
    )

    scene = build_scene(result)

    assert scene.off_chart == 1
    assert [zone.zone.zone_id for zone in scene.zones] == [zone.zone_id for zone in result.zones[:-1]]


def test_stretches_with_and_without_times_are_found_on_the_track() -> None:
    scene = build_scene(build_result())
    kinds = {(row.row.track_id, highlight.kind) for row in scene.rows for highlight in row.highlights}

    assert ("Invented trip", "inside") in kinds  # by time
    assert ("Invented trip", "close") in kinds
    assert ("Invented plan", "inside") in kinds  # by its two ends


def test_result_without_a_position_is_refused() -> None:
    result = dataclasses.replace(build_result(), tracks=())

    with pytest.raises(ValueError, match="at least one position"):
        build_scene(result)


def test_coast_tells_known_land_from_known_sea() -> None:
    """From memory, read off any atlas: 64.3 N 18.5 W lies inland in Iceland, 63.0 N 18.5 W at sea."""
    coast = load_coast(Box(west=-20.0, south=62.5, east=-17.0, north=64.5))

    assert coast is not None
    land = shapely.union_all(list(coast.land))
    assert shapely.contains_xy(land, -18.5, 64.3)
    assert not shapely.contains_xy(land, -18.5, 63.0)
    assert "GSHHG" in coast.credit


def test_edges_of_the_window_are_not_drawn_as_shore() -> None:
    window = Box(west=-20.0, south=62.5, east=-17.0, north=64.5)
    coast = load_coast(window)
    assert coast is not None

    shore = np.vstack([shapely.get_coordinates(line) for line in coast.shore])

    assert (shore[:, 0] > window.west).all()
    assert (shore[:, 0] < window.east).all()
    assert (shore[:, 1] < window.north).all()


@pytest.mark.parametrize(("west", "seam"), [(178.0, 180.0), (-182.0, -180.0)])
@pytest.mark.parametrize("south", [-18.0, 64.0, 69.0])
def test_no_false_shore_runs_along_180_degrees(south: float, west: float, seam: float) -> None:
    """Land on 180 degrees (an island at 16.9 S, a mainland at 67 N, an island at 71 N) is whole."""
    coast = load_coast(Box(west=west, south=south, east=west + 4.0, north=south + 3.0))
    assert coast is not None

    assert shapely.intersects_xy(
        shapely.union_all(list(coast.land)), seam, south + np.linspace(0, 3, 61)
    ).any()
    for line in coast.shore:
        xy = shapely.get_coordinates(line)
        along = (np.abs(xy[:-1, 0] - seam) < 1e-4) & (np.abs(xy[1:, 0] - seam) < 1e-4)
        assert np.abs(np.diff(xy[:, 1]))[along].sum() < 0.005


def test_without_coast_data_there_is_no_coast(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coast_module, "_DISTRIBUTION", "no-such-distribution-for-towzone")

    assert load_coast(Box(west=0.0, south=0.0, east=1.0, north=1.0)) is None


@pytest.mark.parametrize("span", [0.004, 0.1, 1.0, 7.0, 50.0])
def test_graticule_is_neither_empty_nor_crowded(span: float) -> None:
    values = grid_values(12.3456, 12.3456 + span, 7)

    assert 2 <= len(values) <= 8
    assert all(12.3456 <= value <= 12.3456 + span for value in values)


@pytest.mark.parametrize(("radius_m", "margin_m"), [(90_000.0, 0.0), (0.0, 90_000.0), (40_000.0, 50_000.0)])
def test_zone_whose_middle_is_far_off_is_drawn_where_its_radius_or_margin_reaches_the_chart(
    radius_m: float, margin_m: float
) -> None:
    """A wide safety zone, or margin, may lie under the whole track while its point is off the chart."""
    result = build_result(planned=False)
    track = result.tracks[0]
    place = (float(track.lon_deg[0]), float(track.lat_deg[0]) + 0.7)
    wide = dataclasses.replace(
        result.zones[2], zone_id="wide", shape=Shape(points=freeze([place])), radius_m=radius_m
    )
    result = dataclasses.replace(
        result,
        zones=(*result.zones, wide),
        margins_m={**result.margins_m, "wide": margin_m},
        in_force={**result.in_force, "wide": True},
    )

    scene = build_scene(result)

    assert scene.window.north < place[1]
    assert scene.off_chart == 0
    assert scene.zones[-1].zone.zone_id == "wide"
    assert bool(scene.zones[-1].radius) is (radius_m > 0.0)
    assert bool(scene.zones[-1].margin) is (margin_m > 0.0)


def test_zone_of_many_corners_tells_how_far_off_its_cut_is() -> None:
    turn = np.radians(np.linspace(0.0, 360.0, 6000, endpoint=False))
    jagged = np.where(np.arange(6000) % 2, 1.0, 0.98)
    ring = np.column_stack([-18.6 + 4.0 * jagged * np.cos(turn), 63.1 + 2.0 * jagged * np.sin(turn)])
    whole = outline_zone(zone_of(Shape(polygons=((freeze(ring),),))), -18.6)
    view = Box(west=-18.7, south=63.05, east=-18.5, north=63.15)
    window = view.padded(0.8, 0.0)
    drawn = draw_zone(whole, margin_m=0.0, in_force=True, view=view, window=window)

    assert drawn is not None
    assert drawn.true_m is not None
    cut = np.vstack([ring for area in drawn.outline.areas for ring in area])
    closed = shapely.LinearRing(cut)
    geod = pyproj.Geod(ellps="WGS84")
    along = [closed.interpolate(share, normalized=True) for share in np.linspace(0.0, 1.0, 400)]
    corners = [(lon, lat) for lon in (view.west, view.east) for lat in (view.south, view.north)]
    least = min(geod.inv(lon, lat, at.x, at.y)[2] for lon, lat in corners for at in along)
    assert 0.8 * least < drawn.true_m <= least


def test_zone_that_is_drawn_whole_has_no_such_bound() -> None:
    view = Box(west=-18.7, south=63.05, east=-18.5, north=63.15)
    ring = np.array([[-19.6, 62.1], [-17.6, 62.1], [-17.6, 64.1], [-19.6, 64.1]])
    whole = outline_zone(zone_of(Shape(polygons=((freeze(ring),),))), -18.6)
    drawn = draw_zone(whole, margin_m=0.0, in_force=True, view=view, window=view.padded(0.8, 0.0))

    assert drawn is not None
    assert drawn.true_m is None


@pytest.mark.parametrize("lon", [-9.5, 179.97])
@pytest.mark.parametrize("radius_m", [500.0, 10_000.0])
def test_circle_around_a_point_is_drawn_true_to_a_metre(lon: float, radius_m: float) -> None:
    rings = shapely.get_rings(grown([shapely.Point(lon, 58.2)], radius_m))
    ring = shapely.get_coordinates(shapely.segmentize(rings[0], 1e-4))
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(
        np.full(len(ring), lon), np.full(len(ring), 58.2), ring[:, 0], ring[:, 1]
    )

    assert len(rings) == 1
    np.testing.assert_allclose(metres, radius_m, rtol=0, atol=1.0)
    assert np.abs(np.diff(ring[:, 0])).max() < 1.0
