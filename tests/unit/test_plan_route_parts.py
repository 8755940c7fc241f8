"""What the search for a line is built of: plane, zones in it, the way of the gear, the narrowest place."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from gear_stretches import BEAMS, SINGLE, TWIN
from planned_tows import bent, judge_of
from scenes import GEOD, area, line, moved, points, zone

from towzone.geodesy.lines import LineKind, points_along
from towzone.model.result import Part
from towzone.model.vessel import Current
from towzone.model.zone import ZoneKind
from towzone.plan.route import search
from towzone.plan.route.footprint import LEAST_LEG_LAYBACKS, SHARPEST_DEG, footprint_of
from towzone.plan.route.narrowest import is_closed, narrowest
from towzone.plan.route.nodes import around_shape, around_tips
from towzone.plan.route.obstacles import obstacles_in, shape_in_plane, waters_around
from towzone.plan.route.plane import plane_around
from towzone.plan.route.room import Ends, Leg, Room
from towzone.plan.route.wanted import Wanted

PORT = (-8.175, 54.5)
RIGS = {
    "single": (SINGLE, "OTB"),
    "twin, strongest current stated": (replace(TWIN, strongest_kn=0.4), "OTT"),
    "beams in a current": (replace(BEAMS, current=Current(set_deg=120.0, drift_kn=0.6)), "TBB"),
}

# ---------------------------------------------------------------- the plane


@pytest.mark.parametrize("kind", [LineKind.RHUMB, LineKind.GEODESIC])
@pytest.mark.parametrize("lon_deg", [-8.0, 179.99])
def test_legs_are_straight_in_the_plane_and_come_back(kind, lon_deg):
    lon, lat = np.array([lon_deg, moved((lon_deg, 60.0), 70.0, 60_000.0)[0]]), np.array([60.0, 60.2])
    plane = plane_around(lon, lat, kind)
    share = np.linspace(0.0, 1.0, 21)
    way = points_along(kind, lon[0], lat[0], lon[1], lat[1], share)
    xy = plane.to_plane(*way)
    straight = xy[0] + share[:, None] * (xy[-1] - xy[0])
    across = (
        (xy - straight) @ (np.array([[0.0, 1.0], [-1.0, 0.0]]) @ (xy[-1] - xy[0])) / math.dist(xy[0], xy[-1])
    )
    assert np.abs(across).max() < 0.1
    back = plane.from_plane(xy)
    assert np.abs((np.array(back[0]) - way[0] + 180.0) % 360.0 - 180.0).max() < 1e-9
    assert np.abs(back[1] - way[1]).max() < 1e-9


def test_the_scale_of_the_chart_is_that_of_lengths_on_the_ground():
    plane = plane_around(np.array([3.0, 4.0]), np.array([60.0, 61.0]), LineKind.RHUMB)
    for lat in (60.0, 60.5, 61.0):
        here, there = (3.5, lat), moved((3.5, lat), 90.0, 100.0)
        xy = plane.to_plane(*np.transpose([here, there]))
        assert math.dist(*xy) == pytest.approx(100.0 * plane.scale_at(xy)[0], rel=1e-6)


# ---------------------------------------------------------------- zones in the plane


@pytest.mark.parametrize("edges", list(LineKind))
def test_edges_of_any_kind_are_true_to_a_metre(edges):
    ring = [(179.5, 60.0), (-179.6, 60.0), (-179.6, 60.4), (179.5, 60.4)]
    plane = plane_around(np.array([179.9, -179.9]), np.array([60.1, 60.2]), LineKind.RHUMB)
    shape = shape_in_plane(zone(area(ring), edges=edges).shape, edges, plane)
    for (lon0, lat0), (lon1, lat1) in zip(ring, ring[1:] + ring[:1], strict=True):
        way = plane.to_plane(*points_along(edges, lon0, lat0, lon1, lat1, np.linspace(0.0, 1.0, 50)))
        assert shapely.distance(shape.boundary, shapely.points(way)).max() < 1.0
    assert shape.area == pytest.approx(_area_m2(ring), rel=0.02)


def _area_m2(ring):
    lon, lat = np.transpose(ring)
    return abs(GEOD.polygon_area_perimeter(lon, lat)[0])


def test_holes_stay_holes_and_points_and_lines_keep_their_need():
    at = moved(PORT, 90.0, 4000.0)
    around = [moved(at, float(b), 3000.0) for b in range(0, 360, 20)]
    inner = [moved(at, float(b), 1000.0) for b in range(0, 360, 20)]
    zones = [
        zone(area(around, inner), zone_id="ring"),
        zone(points(at), zone_id="point", radius_m=100.0, margin_m=50.0),
        zone(line(at, moved(at, 0.0, 2000.0)), zone_id="line", margin_m=0.0),
        zone(points(moved(at, 0.0, 300_000.0)), zone_id="far"),
    ]
    judge = judge_of(zones, check={"steering_m": 20.0, "position_error_m": 10.0})
    plane = plane_around(np.array([PORT[0]]), np.array([PORT[1]]), LineKind.RHUMB)
    xy = plane.to_plane([PORT[0], at[0]], [PORT[1], at[1]])
    found = obstacles_in(judge, plane, waters_around(xy, 10_000.0), span_s=(0.0, 1.0))
    assert [o.zone_id for o in found] == ["ring", "point", "line"]
    assert not shapely.intersects(found[0].shape, shapely.Point(xy[1]))
    assert found[1].vessel_m == pytest.approx(100.0 + 50.0 + 10.0 + 20.0, abs=2.0)
    assert found[1].gear_m == pytest.approx(100.0 + 50.0 + 20.0, abs=4.0)
    assert found[1].radius_m == pytest.approx(100.0, rel=1e-3)


# ---------------------------------------------------------------- the way of the gear


@pytest.mark.parametrize("name", RIGS)
@pytest.mark.parametrize("turn_deg", [0.0, 37.0, -55.0])
def test_the_way_of_the_gear_is_that_of_the_check(name, turn_deg):
    """Points beside a corner are as near to the outline here as the check finds them to the likely gear."""
    figures, gear = RIGS[name]
    wanted = bent((40.0, 6000.0), (40.0 + turn_deg, 6000.0))
    corner = float(wanted.lon_deg[1]), float(wanted.lat_deg[1])
    inside = 40.0 + turn_deg / 2.0 + (90.0 if turn_deg >= 0.0 else -90.0)
    probes = [moved(moved(corner, inside, 900.0), 40.0 + turn_deg, away) for away in (-400.0, 0.0, 400.0)]
    probes += [moved(moved(corner, inside + 180.0, 700.0), 40.0 + turn_deg, 300.0)]
    zones = [zone(points(at), zone_id=f"Z{n}", margin_m=5000.0) for n, at in enumerate(probes)]
    judge = judge_of(zones, figures=figures, check={"gear": gear}, strongest_kn=0.5)
    likely = {zone.zone_id: np.inf for zone in zones}
    for row in judge.rows(wanted):
        if row.part is Part.GEAR:
            likely[row.zone_id] = min(likely[row.zone_id], row.gear.likely_clearance_m)
    plane = plane_around(wanted.lon_deg, wanted.lat_deg, LineKind.RHUMB)
    room = Room(
        plane, footprint_of(judge, *corner), Ends(1.0, 1.0, 1.0), (), waters_around(np.zeros((1, 2)), 2e4), {}
    )
    a, b, c = (tuple(p) for p in plane.to_plane(wanted.lon_deg, wanted.lat_deg).tolist())
    ways = [room.gear_outline(Leg(start=a, end=b)), room.gear_outline(Leg(start=b, end=c, turn_deg=turn_deg))]
    for n, at in enumerate(probes):
        point = shapely.Point(plane.to_plane([at[0]], [at[1]])[0])
        away_m = min(shapely.distance(way, point) for way in ways)
        # In proportion between turns and courses that were run: under 4 % of the length of the gear.
        assert -17.0 < away_m - likely[f"Z{n}"] < 11.0
        if turn_deg == 0.0:
            assert away_m == pytest.approx(likely[f"Z{n}"], abs=5.0)


def test_the_footprint_turns_with_the_rig_and_settles():
    footprint = footprint_of(judge_of([]), *PORT)
    for course in (0.0, 47.0, 213.0):
        port, starboard = footprint.after_turn(course, 40.0)
        other_port, other_starboard = footprint.after_turn(course, -40.0)
        assert port == pytest.approx(other_starboard, abs=45.0)
        assert starboard == pytest.approx(other_port, abs=45.0)
        assert (port[-1], starboard[-1]) == pytest.approx(footprint.settled(course), abs=5.0)
        assert starboard[0] > port[0] + 300.0  # behind the corner the gear lies inside of the turn


# ---------------------------------------------------------------- the narrowest place


def room_of(zones):
    judge = judge_of(zones)
    plane = plane_around(np.array([PORT[0]]), np.array([PORT[1]]), LineKind.RHUMB)
    waters = waters_around(np.array([[0.0, 0.0], [10_000.0, 0.0]]), 8_000.0)
    obstacles = obstacles_in(judge, plane, waters, span_s=(0.0, 1.0))
    ends = Ends(judge.rope_m, judge.run_in_m, judge.run_out_m)
    return Room(plane, footprint_of(judge, *PORT), ends, obstacles, waters, {}), plane


def test_the_narrowest_place_is_between_the_two_that_are_nearest_to_each_other():
    """A wall of wrecks across the waters, 1500 m apart, but for two that are 1800 m apart."""
    at, zones, north_m = moved(PORT, 90.0, 5000.0), [], -9000.0
    while north_m < 9000.0:
        zones.append(zone(points(moved(at, 0.0, north_m)), zone_id=f"{north_m:.0f}", radius_m=400.0))
        north_m += 1800.0 if zones[-1].zone_id == "3000" else 1500.0
    room, plane = room_of(zones)
    wanted = np.array([[0.0, 0.0], [10_000.0, 0.0]])
    found = narrowest(room, wanted, room.waters)
    assert found is not None
    assert found.width_m == pytest.approx(1800.0 - 800.0, rel=0.01)
    assert {room.obstacles[n].zone_id for n in found.numbers} == {"3000", "4800"}
    lon, lat = plane.from_plane(np.array([found.xy_m]))
    assert GEOD.inv(lon[0], lat[0], *moved(at, 0.0, 3900.0))[2] < 100.0
    assert found.closed == is_closed(room, wanted, room.waters) == (found.width_m < found.needed_m)


def test_where_nothing_parts_start_from_end_nothing_is_narrow():
    room, _ = room_of([])
    assert narrowest(room, np.array([[0.0, 0.0], [10_000.0, 0.0]]), room.waters) is None


# ---------------------------------------------------------------- corners round the end of a wall


def _ways_back(room, corners, least_m, ends):
    """Ways over three corners from one end to the other that turns, legs and what is kept off allow."""
    z = corners[:, 0] + 1j * corners[:, 1]
    z = z[room.straight_m[0] <= shapely.distance(room.shapes[0], shapely.points(corners))]
    a, b, c = (n.ravel() for n in np.meshgrid(*[np.arange(len(z))] * 3, indexing="ij"))
    places = [np.full(len(a), ends[0]), z[a], z[b], z[c], np.full(len(a), ends[1])]
    legs = [after - before for before, after in itertools.pairwise(places)]
    fine = np.min(np.abs(legs), axis=0) >= least_m
    legs = [leg[fine] for leg in legs]
    turns = [np.abs(np.angle(after / before, deg=True)) for before, after in itertools.pairwise(legs)]
    ways = np.stack(places, axis=1)[fine][np.max(turns, axis=0) < SHARPEST_DEG]
    lines = shapely.linestrings(np.stack([ways.real, ways.imag], axis=-1))
    return int((shapely.distance(room.shapes[0], lines) >= room.straight_m[0]).sum())


@pytest.mark.parametrize("bearing_deg", [0.0, 17.0])
def test_round_the_end_of_a_wall_there_are_corners_to_turn_back_by_150_degrees(bearing_deg):
    """More than two corners of 60 degrees are; the corners that are tried at first do not do."""
    tip = moved(PORT, 90.0, 4000.0)
    room, plane = room_of([zone(line(tip, moved(tip, bearing_deg, 9000.0)), ZoneKind.CABLE, margin_m=50.0)])
    least_m = LEAST_LEG_LAYBACKS * room.footprint.layback_m
    ends = [
        complex(*plane.to_plane(*([value] for value in moved(tip, bearing_deg + off, 6000.0)))[0])
        for off in (15.0, -15.0)
    ]
    assert not _ways_back(room, around_shape(room, 0, 0, least_m), least_m, ends)
    assert _ways_back(room, around_tips(room, 0, least_m), least_m, ends)


# ---------------------------------------------------------------- the search over corners


@pytest.fixture(scope="module")
def bay():
    """A room, the start in the south of it, and the end in a bay that is open to the north."""
    end = moved(PORT, 0.0, 7000.0)
    posts = [moved(end, bearing, 5500.0) for bearing in (290.0, 240.0, 200.0, 160.0, 120.0, 70.0)]
    room, plane = room_of([zone(line(*pair), ZoneKind.CABLE) for pair in itertools.pairwise(posts)])
    return room, plane.to_plane(*np.transpose([PORT, end]))


def _searched(room, nodes, wanted, *, turning):
    least_m = LEAST_LEG_LAYBACKS * room.footprint.layback_m
    return search.cheapest(room, wanted, nodes, range(len(room.obstacles)), least_m, turning=turning)


def test_looking_at_turns_first_finds_the_same_way_and_looks_at_fewer_legs(bay, monkeypatch):
    """Over corners by chance; half of the lines want to pass a place on the way."""
    room, ends = bay
    by_a_place = replace(Wanted.of(np.array([ends[0], (6000.0, 3000.0), ends[1]])), near_m=np.array([2500.0]))
    given_up = 0
    for seed, wanted in itertools.product(range(6), (Wanted.of(ends), by_a_place)):
        some = np.random.default_rng(seed).uniform((-9000.0, -3000.0), (9000.0, 16_000.0), (90, 2))
        nodes = np.concatenate([ends, some])
        monkeypatch.setattr(search, "_MOST_POPS", 100_000)
        patient = _searched(room, nodes, wanted, turning=False)
        assert patient.xy_m is not None
        monkeypatch.setattr(search, "_MOST_POPS", 80)
        found = _searched(room, nodes, wanted, turning=True)
        assert np.array_equal(found.xy_m, patient.xy_m)
        assert found.cost_m == pytest.approx(patient.cost_m, abs=1e-6)
        assert not found.given_up
        hasty = _searched(room, nodes, wanted, turning=False)
        assert hasty.given_up == (hasty.xy_m is None)
        given_up += hasty.given_up
    assert given_up >= 3


def test_where_no_corner_lets_a_way_turn_back_the_search_ends_and_is_not_given_up(bay):
    room, ends = bay
    nodes = np.concatenate([ends, ends[1] + [(0.0, 3000.0), (1500.0, 5000.0)]])
    for turning in (False, True):
        found = _searched(room, nodes, Wanted.of(ends), turning=turning)
        assert found.xy_m is None
        assert not found.given_up


# ---------------------------------------------------------------- what is wanted


def test_inner_corners_are_wanted_and_a_way_tells_by_how_much_it_misses_them():
    straight = np.array([[0.0, 0.0], [9000.0, 0.0]])
    back = np.array([[0.0, 0.0], [9000.0, 0.0], [9000.0, 2000.0], [0.0, 2000.0]])
    assert len(Wanted.of(straight).via_m) == 0
    assert Wanted.of(straight).missed_m([(0.0, 0.0), (0.0, 4000.0), (9000.0, 0.0)]) == 0.0
    assert Wanted.of(back).via_m.tolist() == back[1:-1].tolist()
    assert Wanted.of(back).missed_m([(0.0, 0.0), (0.0, 2000.0)]) == pytest.approx(18_000.0)
    assert len(Wanted.of(back).freely().via_m) == 0
