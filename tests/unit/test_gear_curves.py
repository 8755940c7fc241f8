"""Paths of parts of the gear as curves that are measured by places of the vessel."""

import itertools

import numpy as np
import pytest
from gear_stretches import flat, laid
from scenes import area, box, line, zone

from towzone.checks.boundaries import Boundaries
from towzone.checks.gear_curves import GearCurve, curve_batch, rims_of, side_together
from towzone.checks.intervals import merged
from towzone.checks.passages import Demand, measure
from towzone.checks.shares import Group
from towzone.gear.corridor import swept
from towzone.geodesy.approach import closest
from towzone.model.result import Activity
from towzone.model.zone import ZoneKind


class Ship:
    """A vessel whose time is its place, in minutes."""

    def positions(self, place):
        raise AssertionError(place)

    def time_at(self, place):
        return np.datetime64("2026-03-01T06:00:00", "us") + np.timedelta64(round(place * 60e6), "us")


def curve(xy_m, place=None, home=(-20.0, 57.0)):
    lon_lat = laid(xy_m, home)
    places = np.arange(len(lon_lat), dtype=float) if place is None else np.asarray(place, float)
    return GearCurve.of("net", places, lon_lat[:, 0], lon_lat[:, 1], Ship())


def group(*spans):
    covered = merged([s[0] for s in spans], [s[1] for s in spans], touch=-1.0)
    return Group(unit=0, tow=None, activity=Activity.TOWING, covered=covered, first_s=np.nan, last_s=np.nan)


EAST = curve([(100.0 * n, 0.0) for n in range(11)])


def test_between_nodes_a_part_goes_straight_by_the_place_of_the_vessel():
    one = curve([(0.0, 0.0), (10.0, 0.0), (10.0, 20.0)], place=[3.0, 3.5, 7.5])
    xy = flat(*one.positions(np.array([3.0, 3.25, 3.5, 4.5, 7.5])))
    np.testing.assert_allclose(xy, [(0, 0), (5, 0), (10, 0), (10, 5), (10, 20)], rtol=0, atol=1e-5)


@pytest.mark.parametrize("home", [(180.0, 10.0), (-179.999, -60.0), (0.0, 0.0), (10.0, 89.9)])
def test_no_place_on_the_globe_is_special(home):
    one = curve([(-50.0, -20.0), (50.0, 20.0)], home=home)
    lon, lat = one.positions(np.array([0.25]))
    np.testing.assert_allclose(flat(lon, lat, home)[0], (-25.0, -10.0), rtol=0, atol=1e-3)


def test_the_time_is_that_of_the_vessel():
    assert EAST.time_at(2.5) == np.datetime64("2026-03-01T06:02:30", "us")


def test_a_batch_has_the_pieces_of_each_group_and_no_other():
    batch = curve_batch(EAST, [group((0.0, 2.0), (5.0, 6.5)), group((2.0, 5.0)), group((8.0, 8.0))])
    spans = list(zip(batch.piece_begin.tolist(), batch.piece_end.tolist(), strict=True))
    assert spans == [
        (0.0, 1.0),
        (1.0, 2.0),
        (5.0, 6.0),
        (6.0, 6.5),
        (2.0, 3.0),
        (3.0, 4.0),
        (4.0, 5.0),
        (8.0, 8.0),
    ]
    assert batch.side.pieces.owner.tolist() == [0, 0, 0, 0, 1, 1, 1, 2]


def measured(groups, zones, reach_m=1e5, margin_m=0.0):
    zones = tuple(zones)
    batch = curve_batch(EAST, groups)
    demands = [Demand(margin_m=margin_m, uncertainty_m=0.0)] * len(zones)
    return {(p.group, p.zone): p for p in measure(batch, Boundaries.of(zones), demands, reach_m)}


def lines(*ends):
    return zone(line(*(tuple(p) for p in laid(ends).tolist())), ZoneKind.CABLE)


def test_each_group_is_measured_by_its_own_stretch():
    found = measured([group((0.0, 3.0)), group((7.0, 10.0))], [lines((500.0, -300.0), (500.0, 300.0))])
    assert found[0, 0].clearance_m == pytest.approx(200.0, abs=0.01)
    assert found[1, 0].clearance_m == pytest.approx(200.0, abs=0.01)
    assert found[0, 0].closest.utc == np.datetime64("2026-03-01T06:03:00", "us")
    assert found[1, 0].closest.utc == np.datetime64("2026-03-01T06:07:00", "us")


def test_cutting_a_curve_into_shares_changes_no_clearance_and_no_stay():
    corners = [
        tuple(p) for p in laid([(250.0, -40.0), (650.0, -40.0), (650.0, 90.0), (250.0, 90.0)]).tolist()
    ]
    shut = zone(area(corners))
    whole = measured([group((0.0, 10.0))], [shut])[0, 0]
    cuts = [0.0, 2.0, 3.3, 4.5, 10.0]
    parts = measured([group(ends) for ends in itertools.pairwise(cuts)], [shut])
    assert min(p.clearance_m for p in parts.values()) == pytest.approx(whole.clearance_m, abs=0.005)
    stays = merged(
        np.concatenate([p.inside.first for p in parts.values()]),
        np.concatenate([p.inside.last for p in parts.values()]),
    )
    np.testing.assert_allclose(
        [stays.first, stays.last], [whole.inside.first, whole.inside.last], rtol=0, atol=1e-4
    )
    np.testing.assert_allclose([whole.inside.first[0], whole.inside.last[0]], [2.5, 6.5], rtol=0, atol=1e-3)


def test_chords_of_long_legs_are_measured_as_straight_as_they_are():
    far = curve([(0.0, 0.0), (5000.0, 0.0)])
    batch = curve_batch(far, [group((0.0, 1.0))])
    cable = lines((2500.0, 40.0), (2500.0, 900.0))
    found = measure(batch, Boundaries.of((cable,)), [Demand(margin_m=0.0, uncertainty_m=0.0)], 1e5)
    assert found[0].clearance_m == pytest.approx(40.0, abs=0.01)


def test_the_rims_of_areas_with_holes_are_all_their_rings_by_owner():
    hollow = swept(
        [
            np.stack([laid([(0, 0), (0, 60)]), laid([(500, 0), (500, 60)])]),
            np.stack([laid([(440, 0), (500, 0)]), laid([(440, 400), (500, 400)])]),
            np.stack([laid([(0, 340), (0, 400)]), laid([(500, 340), (500, 400)])]),
            np.stack([laid([(0, 0), (60, 0)]), laid([(0, 400), (60, 400)])]),
        ]
    )
    assert [len(polygon) for polygon in hollow.polygons] == [2]
    solid = swept([np.stack([laid([(2000, 0), (2000, 60)]), laid([(2100, 0), (2100, 60)])])])
    side = rims_of([hollow, solid])
    middle = lines((250.0, 200.0), (250.1, 200.0))
    edge = Boundaries.of((middle,)).measured(np.array([0]))
    found = closest(side, np.array([0, 1]), edge, np.array([0, 0]), np.full(2, np.inf))
    # From the middle of the hole to its rim (60 m wide strips), and to the other area.
    np.testing.assert_allclose(found.distance_m, [140.0, np.hypot(1750.0, 140.0)], rtol=0, atol=0.1)


def test_sides_put_together_are_as_near_as_the_nearest_of_them():
    low, high = curve([(0.0, -50.0), (900.0, -50.0)]), curve([(0.0, 80.0), (900.0, 80.0)])
    side = side_together([curve_batch(one, [group((0.0, 1.0))]).side for one in (low, high)])
    assert set(side.pieces.owner.tolist()) == {0}
    for y, expected in ((100.0, 20.0), (-80.0, 30.0), (10.0, 60.0)):
        wall = lines((450.0, y), (450.1, y))
        edge = Boundaries.of((wall,)).measured(np.array([0]))
        found = closest(side, np.array([0]), edge, np.array([0]), np.array([np.inf]))
        assert found.distance_m[0] == pytest.approx(expected, abs=0.02)


def test_an_area_far_beyond_reach_is_not_measured_and_one_around_it_all_is():
    away = zone(area(box(10.0, 40.0, 11.0, 41.0)))
    round_it = zone(area(box(-21.0, 56.0, -19.0, 58.0)), zone_id="R")
    found = measured([group((0.0, 10.0))], [away, round_it], reach_m=1000.0)
    assert set(found) == {(0, 1)}
    assert found[0, 1].clearance_m < -50_000.0
