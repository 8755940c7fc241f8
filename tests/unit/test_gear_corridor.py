"""The swept corridor against areas known in closed form and against brute force."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from oracles import GEOD

from towzone.errors import GeometryError
from towzone.gear.corridor import Swept, swept

PLACES = [(3.0, 57.0), (180.0, 57.0), (-179.9999, -60.0), (20.0, 80.0), (0.0, 0.0), (-70.0, 88.0)]
"""In open water, on and beside 180 degrees, far north, on both zero lines, nearly at the pole."""


def laid(xy_m, place=PLACES[0]):
    """Positions of points of a flat drawing, metres east and north of a place, shape (..., 2)."""
    flat = np.asarray(xy_m, dtype=float).reshape(-1, 2)
    start = [np.full(len(flat), value) for value in place]
    lon, lat, _ = GEOD.fwd(*start, np.degrees(np.arctan2(flat[:, 0], flat[:, 1])), np.hypot(*flat.T))
    return np.column_stack([lon, lat]).reshape(np.shape(xy_m))


def across(xy_m, heading_rad, offsets_m):
    """A flat path with points across it: (n, m, 2), offsets to the left."""
    left = np.stack([-np.sin(heading_rad), np.cos(heading_rad)], axis=-1)
    return xy_m[:, None, :] + np.asarray(offsets_m)[None, :, None] * left[:, None, :]


def straight(from_m, to_m, moments, offsets_m):
    """A straight tow over a flat drawing."""
    from_m, to_m = np.asarray(from_m, dtype=float), np.asarray(to_m, dtype=float)
    path = from_m + np.linspace(0.0, 1.0, moments)[:, None] * (to_m - from_m)
    heading = np.full(moments, np.arctan2(*(to_m - from_m)[::-1]))
    return across(path, heading, offsets_m)


def circling(radius_m, angle_rad, moments, spread_m=90.0):
    """Doors on a circle, to the left."""
    turned = np.linspace(0.0, angle_rad, moments)
    path = radius_m * np.stack([np.cos(turned), np.sin(turned)], axis=-1)
    return across(path, turned + np.pi / 2.0, [spread_m / 2.0, -spread_m / 2.0])


def ring_area_m2(ring):
    return GEOD.polygon_area_perimeter(ring[:, 0], ring[:, 1])[0]


def holds(found, xy_m, place=PLACES[0]):
    position = laid(np.asarray(xy_m, dtype=float), place)
    return found.holds(position[..., 0], position[..., 1])


# ---------------------------------------------------------------- areas known in closed form


@pytest.mark.parametrize("place", PLACES)
def test_a_straight_tow_sweeps_spread_times_length(place):
    found = swept([laid(straight((-1500.0, -800.0), (1500.0, 800.0), 230, [40.0, -40.0]), place)])

    assert found.area_m2 == pytest.approx(80.0 * 3400.0, rel=1e-6, abs=0)
    assert [len(polygon) for polygon in found.polygons] == [1]


@pytest.mark.parametrize("place", PLACES)
def test_half_a_circle_sweeps_spread_times_the_arc(place):
    """Check value V21: 90 m on a radius of 600 m; and to 1e-6 what 400 straight steps leave of it."""
    found = swept([laid(circling(600.0, np.pi, 401), place)])

    assert found.area_m2 == pytest.approx(169646.0033, rel=1e-4, abs=0)
    steps_m2 = 400 * 0.5 * np.sin(np.pi / 400) * (645.0**2 - 555.0**2)
    assert found.area_m2 == pytest.approx(steps_m2, rel=1e-6, abs=0)


@pytest.mark.parametrize("turns", [1.0, 1.25, 7.0])
def test_a_closed_loop_leaves_a_hole_and_counts_once(turns):
    """Of 800 steps a turn, however often round; the hole is what the inner door goes round."""
    found = swept([laid(circling(600.0, 2.0 * np.pi * turns, round(800 * turns) + 1))])

    step = 0.5 * np.sin(2.0 * np.pi / 800)
    assert [len(polygon) for polygon in found.polygons] == [2]
    assert found.area_m2 == pytest.approx(800 * step * (645.0**2 - 555.0**2), rel=1e-6, abs=0)
    assert -ring_area_m2(found.polygons[0][1]) == pytest.approx(800 * step * 555.0**2, rel=1e-6, abs=0)
    assert not holds(found, [0.0, 0.0])[0]
    assert holds(found, [[600.0, 0.0], [556.0, 0.0], [0.0, -644.0]]).all()


def test_going_round_and_round_leaves_no_crumbs_along_the_edges():
    """The rounding of degrees differs from round to round; the rings have the corners of one round."""
    found = swept([laid(circling(600.0, 2.0 * np.pi * 30.0, 80 * 30 + 1))])

    assert [len(ring) for ring in found.polygons[0]] == [81, 81]


def test_crossing_the_own_path_counts_once():
    east = straight((-1000.0, 0.0), (1000.0, 0.0), 131, [40.0, -40.0])
    north = straight((0.0, -1000.0), (0.0, 1000.0), 77, [40.0, -40.0])

    found = swept([laid(east), laid(north)])

    assert found.area_m2 == pytest.approx(2.0 * 80.0 * 2000.0 - 80.0**2, rel=1e-6, abs=0)
    assert len(found.polygons) == 1


def test_going_back_over_the_same_ground_sweeps_it_once():
    """Out and back at other moments on the same line, where sides run along each other."""
    out = straight((-1000.0, -500.0), (1000.0, 700.0), 97, [40.0, -40.0])
    back = straight((1000.0, 700.0), (-1000.0, -500.0), 61, [40.0, -40.0])

    found = swept([laid(np.concatenate([out, back]))])

    assert found.area_m2 == pytest.approx(80.0 * np.hypot(2000.0, 1200.0), rel=1e-6, abs=0)
    assert [len(polygon) for polygon in found.polygons] == [1]


@pytest.mark.parametrize(
    ("apart_m", "polygons", "area_m2"),
    [(100.0, 2, 2 * 80.0 * 2000.0), (80.0, 1, 2 * 80.0 * 2000.0), (50.0, 1, 130.0 * 2000.0)],
)
def test_twin_tows_beside_each_other(apart_m, polygons, area_m2):
    """Apart, edge on edge without a seam, and overlapping."""
    turn = np.array([[np.cos(0.4), np.sin(0.4)], [-np.sin(0.4), np.cos(0.4)]])
    first = straight((0.0, 0.0), (2000.0, 0.0), 150, [40.0, -40.0]) @ turn
    second = straight((0.0, apart_m), (2000.0, apart_m), 187, [40.0, -40.0]) @ turn

    found = swept([laid(first), laid(second)])

    assert [len(polygon) for polygon in found.polygons] == [1] * polygons
    assert found.area_m2 == pytest.approx(area_m2, rel=1e-6, abs=0)


def test_a_net_sweeps_the_hull_of_its_wings_and_codend():
    """One moment: a triangle; a straight tow: the width of the wings, and the triangle at the end."""
    net = np.array([[10.0, 0.0], [-10.0, 0.0], [0.0, -50.0]])
    ahead = np.linspace(0.0, 1000.0, 41)[:, None] * np.array([0.0, 1.0])

    assert swept([laid(net[None])]).area_m2 == pytest.approx(500.0, rel=1e-6, abs=0)
    towed = swept([laid(net + ahead[:, None, :])])
    assert towed.area_m2 == pytest.approx(20.0 * 1000.0 + 500.0, rel=1e-6, abs=0)


def test_what_is_between_the_outermost_points_is_swept_too():
    """Six points across, as of three laybacks: those within change nothing."""
    offsets = [40.0, -40.0, 0.0, 25.0, -38.0, 11.0]
    found = swept([laid(straight((0.0, 0.0), (900.0, 1200.0), 50, offsets))])

    assert found.area_m2 == pytest.approx(80.0 * 1500.0, rel=1e-6, abs=0)


@pytest.mark.parametrize("azimuth_deg", [0.0, 63.0, 90.0])
def test_a_tow_of_300_km_needs_no_parts(azimuth_deg):
    """Along a geodesic, doors square to it: spread times length, with 1 km between moments, and every point
    between two doors held."""
    way_m = np.linspace(0.0, 300_000.0, 301)
    lon, lat, back = GEOD.fwd(np.full(301, 178.5), np.full(301, 57.0), np.full(301, azimuth_deg), way_m)
    doors = [GEOD.fwd(lon, lat, back + side, np.full(301, 40.0))[:2] for side in (90.0, -90.0)]
    stretch = np.stack([np.stack(door, axis=-1) for door in doors], axis=1)

    found = swept([stretch])

    assert found.area_m2 == pytest.approx(80.0 * 300_000.0, rel=1e-6, abs=0)
    between = way_m[:-1] + 500.0
    start = (np.full(300, 178.5), np.full(300, 57.0), np.full(300, azimuth_deg))
    lon, lat, back = GEOD.fwd(*start, between)
    for aside_m, held in ((39.998, True), (-39.998, True), (40.003, False), (-40.003, False)):
        lon_aside, lat_aside, _ = GEOD.fwd(lon, lat, back + 90.0, np.full(300, aside_m))
        assert (found.holds(lon_aside, lat_aside) == held).all()


# ---------------------------------------------------------------- brute force


def nearest_on(points, tails, heads):
    """The nearest point of any of some segments to each point, all in a flat drawing."""
    nearest, away_m = np.zeros_like(points), np.full(len(points), np.inf)
    for tail, head in zip(tails, heads, strict=True):
        along = head - tail
        part = np.clip(((points - tail) @ along) / (along @ along), 0.0, 1.0)
        foot = tail + part[:, None] * along
        distance_m = np.hypot(*(points - foot).T)
        nearer = distance_m < away_m
        nearest[nearer], away_m[nearer] = foot[nearer], distance_m[nearer]
    return nearest, away_m


@pytest.mark.parametrize("place", [PLACES[0], PLACES[1], PLACES[3]])
def test_a_corner_tighter_than_half_the_spread_leaves_no_artefact(place):
    """A turn of 140 degrees on 20 m with doors 80 m apart: the inner door runs backwards between two cusps.

    Doors move by 2 cm a step at most, so that a point farther than 1 cm from the gear at every moment was
    not swept between two moments either.
    """
    turned = np.linspace(0.0, np.radians(140.0), 7001)
    path = 20.0 * np.stack([np.sin(turned), 1.0 - np.cos(turned)], axis=-1)
    doors = across(path, turned, [40.0, -40.0])

    found = swept([laid(doors, place)])

    rng = np.random.default_rng(20260410)
    held = doors[::20, 0] + rng.uniform(0.0, 1.0, (5, 351, 1)) * (doors[::20, 1] - doors[::20, 0])
    assert holds(found, held.reshape(-1, 2), place).all()
    points = rng.uniform([-60.0, -60.0], [90.0, 100.0], (800, 2))
    foot, away_m = nearest_on(points, doors[:, 0], doors[:, 1])
    beside = foot + (points - foot) * (0.02 / away_m)[:, None]
    outside = away_m > 0.2
    assert outside.sum() > 300
    assert not holds(found, points[outside], place).any()
    assert not holds(found, beside[outside], place).any()
    assert len(found.polygons) == 1


def test_doors_that_cross_over_do_not_make_a_bow_tie():
    """Gear that turns on the spot by 10 degrees: the hull of both moments, which has no waist."""
    doors = np.array(
        [
            [[40.0 * np.cos(a), 40.0 * np.sin(a)], [-40.0 * np.cos(a), -40.0 * np.sin(a)]]
            for a in (0.0, 0.1745)
        ]
    )

    found = swept([laid(doors)])

    assert found.area_m2 == pytest.approx(2.0 * 40.0**2 * np.sin(0.1745), rel=1e-6, abs=0)
    assert [len(polygon) for polygon in found.polygons] == [1]
    assert holds(found, [0.0, 0.0])[0]


# ---------------------------------------------------------------- rings


def loop_and_line(place):
    loop = circling(600.0, 2.2 * np.pi, 881)
    apart = straight((3000.0, 0.0), (4000.0, 0.0), 67, [40.0, -40.0])
    return [laid(loop, place), laid(apart, place)]


@pytest.mark.parametrize("place", PLACES[:5])
def test_rings_are_closed_kept_and_run_as_geojson_asks(place):
    """RFC 7946, section 3.1.6: shells anticlockwise, holes clockwise."""
    found = swept(loop_and_line(place))

    assert sorted(len(polygon) for polygon in found.polygons) == [1, 2]
    for polygon in found.polygons:
        assert shapely.is_valid(shapely.Polygon(polygon[0], polygon[1:]))
        for number, ring in enumerate(polygon):
            assert ring.ndim == 2
            assert ring.shape[1] == 2
            np.testing.assert_array_equal(ring[0], ring[-1])
            assert not ring.flags.writeable
            assert shapely.is_ccw(shapely.LinearRing(ring)) == (number == 0)


@pytest.mark.parametrize("place", PLACES[:5])
def test_the_area_is_that_of_the_rings(place):
    found = swept(loop_and_line(place))

    rings_m2 = sum(ring_area_m2(ring) for polygon in found.polygons for ring in polygon)
    assert found.area_m2 == pytest.approx(rings_m2, rel=1e-9, abs=0)


@pytest.mark.parametrize("turn", [0.0, 360.0, -360.0])
@pytest.mark.parametrize("place", [(180.0, 57.0), (-179.9999, -60.0), (179.98, 10.0)])
def test_at_180_degrees_rings_run_on_and_any_turn_is_understood(place, turn):
    stretches = loop_and_line(place)

    found = swept([stretches[0], stretches[1] + [turn, 0.0]])

    longitudes = np.concatenate([ring[:, 0] for polygon in found.polygons for ring in polygon])
    assert np.ptp(longitudes) < 0.2
    assert np.abs(longitudes).max() > 180.0
    for other in (0.0, 360.0, -360.0, 720.0):
        lon, lat = laid([[600.0, 0.0], [0.0, 0.0], [3500.0, 30.0]], place).T
        assert found.holds(lon + other, lat).tolist() == [True, False, True]


# ---------------------------------------------------------------- edges, little and nothing


@pytest.mark.parametrize(("off_m", "held"), [(-0.002, True), (0.0, True), (0.0008, True), (0.0015, False)])
def test_a_millimetre_off_the_edge_is_still_on_it(off_m, held):
    found = swept([laid(straight((0.0, 0.0), (2000.0, 0.0), 150, [40.0, -40.0]))])

    places = [[1000.0, 40.0 + off_m], [1003.7, -40.0 - off_m], [-off_m, 11.0], [2000.0 + off_m, -3.0]]
    assert (holds(found, places) == held).all()


@pytest.mark.parametrize("stretches", [[], [np.empty((0, 2, 2))], [np.empty((0, 3, 2)), np.empty((0, 2, 2))]])
def test_of_nothing_nothing_is_swept(stretches):
    for found in (swept(stretches), Swept()):
        assert found.polygons == ()
        assert found.area_m2 == 0.0
        assert found.holds([0.0, 3.0, 181.0], [57.0, 0.0, 1.0]).tolist() == [False, False, False]


def test_a_stretch_of_no_moments_changes_nothing_among_others():
    tow = laid(straight((0.0, 0.0), (100.0, 0.0), 5, [4.0, -4.0]))

    assert swept([np.empty((0, 2, 2)), tow]).area_m2 == swept([tow]).area_m2


@pytest.mark.parametrize("moments", [1, 40])
def test_gear_that_stands_still_holds_its_line_and_has_no_area(moments):
    """Also where the positions tremble by the rounding of degrees."""
    rng = np.random.default_rng(20260411)
    doors = np.array([[-40.0, 3.0], [40.0, 7.0]]) + rng.normal(0.0, 1e-9, (moments, 2, 2))

    found = swept([laid(doors)])

    assert found.polygons == ()
    assert found.area_m2 == 0.0
    places = [[0.0, 5.0], [-40.0, 3.0], [40.0, 7.0], [0.0, 5.01], [41.0, 7.0]]
    assert holds(found, places).tolist() == [True, True, True, False, False]


def test_one_point_at_one_moment_holds_itself():
    found = swept([laid(np.array([[[70.0, 20.0]]]))])

    assert found.area_m2 == 0.0
    assert holds(found, [[70.0, 20.0], [70.0, 20.01]]).tolist() == [True, False]


def test_gear_standing_still_apart_from_what_is_swept_is_held_beside_it():
    tow = straight((0.0, 0.0), (500.0, 0.0), 30, [40.0, -40.0])
    still = np.array([[[900.0, -40.0], [900.0, 40.0]]])

    found = swept([laid(tow), laid(still), laid(tow[-1:])])

    assert len(found.polygons) == 1
    assert found.area_m2 == pytest.approx(80.0 * 500.0, rel=1e-6, abs=0)
    assert holds(found, [[900.0, 12.0], [250.0, 12.0], [899.9, 12.0]]).tolist() == [True, True, False]


@pytest.mark.parametrize(("gap_m", "holes"), [(0.0004, 0), (0.003, 1)])
def test_a_hole_thinner_than_a_millimetre_is_rounding_and_a_wider_one_is_real(gap_m, holes):
    """A gap between two tows side by side, with both its ends towed across."""
    first = straight((0.0, 0.0), (400.0, 0.0), 21, [40.0, 0.0])
    second = straight((0.0, -gap_m), (400.0, -gap_m), 21, [0.0, -40.0])
    ends = [straight((x, -50.0), (x, 50.0), 11, [5.0, -5.0]) for x in (0.0, 400.0)]

    found = swept([laid(part) for part in (first, second, *ends)])

    assert [len(polygon) for polygon in found.polygons] == [1 + holes]
    assert holds(found, [200.0, -gap_m / 2.0])[0] == (holes == 0)


def test_a_strip_thinner_than_a_millimetre_has_no_area_but_is_held():
    """A sweep by a hair, which is wide enough to be no line."""
    found = swept([laid(straight((0.0, 0.0), (0.0004, 0.0), 2, [40.0, -40.0]))])

    assert found.polygons == ()
    assert found.area_m2 == 0.0
    assert holds(found, [[0.0002, 10.0], [0.01, 10.0]]).tolist() == [True, False]


def test_the_order_of_stretches_does_not_matter():
    stretches = [
        laid(straight((0.0, 0.0), (2000.0, 300.0), 150, [40.0, -40.0])),
        laid(circling(600.0, 5.0, 401)),
        laid(straight((700.0, -900.0), (100.0, 900.0), 90, [10.0, -10.0])),
    ]
    found, turned = swept(stretches), swept([stretches[i][::-1] for i in (2, 0, 1)])

    assert turned.area_m2 == pytest.approx(found.area_m2, rel=1e-9, abs=0)
    assert [len(p) for p in turned.polygons] == [len(p) for p in found.polygons]


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    "stretch",
    [np.zeros((5, 2)), np.zeros((5, 2, 3)), np.zeros((5, 0, 2)), np.zeros(4), np.zeros((1, 5, 2, 2))],
)
def test_another_shape_is_refused(stretch):
    with pytest.raises(
        GeometryError, match=r"stretch 2 of the gear has the shape .*needed is \(moments, points, 2\)"
    ):
        swept([np.zeros((1, 2, 2)), stretch])


@pytest.mark.parametrize(
    "bad", [(np.nan, 57.0), (3.0, np.nan), (np.inf, 57.0), (3.0, 90.001), (3.0, -np.inf)]
)
def test_positions_nowhere_on_the_globe_are_refused(bad):
    stretch = laid(straight((0.0, 0.0), (100.0, 0.0), 5, [4.0, -4.0]))
    found = swept([stretch])
    stretch[3, 1] = bad

    with pytest.raises(
        GeometryError, match="stretch 1 of the gear: 1 of 10 positions are nowhere on the globe"
    ):
        swept([stretch])
    with pytest.raises(GeometryError, match="asked about: 1 of 2 positions are nowhere on the globe"):
        found.holds([3.0, bad[0]], [57.0, bad[1]])
    with pytest.raises(GeometryError, match="nowhere on the globe"):
        Swept().holds(*bad)


def test_a_corridor_half_round_the_globe_is_refused():
    with pytest.raises(GeometryError, match="a corridor may reach 5000 km: check the positions"):
        swept([laid(np.zeros((1, 2, 2)), (0.0, 0.0)), laid(np.zeros((1, 2, 2)), (100.0, 0.0))])


def test_a_corridor_round_a_pole_is_refused():
    """It has no outside in longitude and latitude."""
    around = np.linspace(0.0, 360.0, 721)
    doors = np.stack([np.stack([around, np.full(721, lat)], axis=-1) for lat in (88.9, 88.901)], axis=1)

    with pytest.raises(GeometryError, match="round a pole"):
        swept([doors])
    assert len(swept([doors[:300]]).polygons) == 1


def test_what_is_given_is_left_as_it_was():
    stretch = laid(straight((0.0, 0.0), (100.0, 0.0), 5, [4.0, -4.0]))
    before = stretch.copy()
    stretch.flags.writeable = False

    swept([stretch])

    np.testing.assert_array_equal(stretch, before)
