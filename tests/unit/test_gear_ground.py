"""The ground swept, and what of a zone lies on it: also where no path of any part of the gear meets it."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import RIGS, SINGLE, flat, laid, stretch_along, zigzag
from scenes import area, line, points, zone

from towzone.checks.boundaries import Boundaries
from towzone.checks.gear_ground import (
    SweptShare,
    held_corner,
    likely_ground,
    met_at,
    nearness,
    stretch_nodes,
    swept_ground,
)
from towzone.checks.intervals import Intervals, merged
from towzone.gear.corridor import Swept, swept
from towzone.gear.stretch import gear_stretch
from towzone.model.zone import ZoneKind

EVERYWHERE = Intervals(np.array([-1.0]), np.array([1e9]))


def share_of(stretch, rigging, covered=EVERYWHERE):
    return SweptShare(stretches=[stretch], rigging=rigging, covered=covered)


def straight(figures=SINGLE, length_m=2000.0, **more):
    return stretch_along([(0.0, 0.0), (length_m, 0.0)], figures, **more)


def at(*xy_m):
    return [tuple(position) for position in laid(xy_m).tolist()]


def asked(shape, kind=ZoneKind.CLOSED_AREA, **more):
    some = zone(shape, kind, **more)
    return some, Boundaries.of((some,))


LAYBACK_M, NET_M = 331.9322, np.sqrt(110.0**2 - 30.0**2) + 50.0
"""gear.md of the plan, V2 and section 1.1."""


@pytest.mark.parametrize(
    ("rig", "doors_m"), [("single", 80.0), ("twin", 150.0), ("beams", 24.0), ("beam", 12.0)]
)
def test_doors_and_beams_sweep_their_width_times_their_way(rig, doors_m):
    # A clump ahead of the doors sweeps a triangle more, once: layback less the clump's.
    ahead = np.sqrt(350.0**2 - 105.0**2 - 71.0**2) - np.sqrt(310.0**2 - 105.0**2) if rig == "twin" else 0.0
    stretch, rigging = straight(RIGS[rig])
    assert swept_ground(share_of(stretch, rigging), nets=False).area_m2 == pytest.approx(
        2000.0 * doors_m + doors_m * ahead / 2.0, rel=1e-4
    )


def test_nets_sweep_the_width_of_their_wings_and_the_net_itself():
    stretch, rigging = straight()
    nets = swept_ground(share_of(stretch, rigging), doors=False)
    # From the first wing-ends on, and the triangle of the net at the beginning.
    assert nets.area_m2 == pytest.approx(2000.0 * 20.0 + 20.0 * 50.0 / 2.0, rel=1e-4)


def test_swept_by_all_nodes_or_by_those_kept_it_is_the_same_ground():
    stretch, rigging = stretch_along(zigzag(7, 6))
    all_nodes = swept([*stretch.doors, *stretch.nets])
    kept = swept_ground(share_of(stretch, rigging))
    assert kept.area_m2 == pytest.approx(all_nodes.area_m2, rel=1e-5)


@pytest.mark.parametrize("cut", [40.0, 77.5, 100.0])
def test_shares_that_begin_where_others_end_lose_no_ground_and_double_none(cut):
    stretch, rigging = stretch_along([(0.0, 0.0), (1000.0, 0.0), (1600.0, 500.0)])
    lead = stretch.lead
    if cut != int(cut):  # ends of shares are nodes (TowGear.leads)
        places = np.sort(np.append(lead.place, cut))
        stretch, rigging = _with_node(stretch, rigging, places)
    whole = swept_ground(share_of(stretch, rigging), nets=False)
    parts = [
        swept_ground(share_of(stretch, rigging, merged([low], [high])), nets=False)
        for low, high in ((-1.0, cut), (cut, 1e9))
    ]
    assert sum(part.area_m2 for part in parts) == pytest.approx(whole.area_m2, abs=1.0)


def _with_node(stretch, rigging, places):
    lead = stretch.lead
    columns = {
        name: np.interp(places, lead.place, getattr(lead, name))
        for name in ("clock_s", "lon_deg", "lat_deg", "speed_mps", "warp_m", "height_m")
    }
    return gear_stretch(replace(lead, place=places, **columns), rigging), rigging


def test_nothing_is_swept_while_the_warp_does_not_reach_down():
    warp = np.where(np.arange(201) < 60, 90.0, 350.0)
    warp[150:] = 90.0
    stretch, rigging = straight(warp_m=warp)
    runs = stretch_nodes(stretch, EVERYWHERE)
    assert [(run[0], run[-1]) for run in runs] == [(60, 149)]
    nothing = share_of(stretch, rigging, merged([0.0, 170.0], [55.0, 190.0]))
    assert swept_ground(nothing).polygons == ()
    assert likely_ground(nothing, 2.0).polygons == ()


def test_runs_end_with_the_share_and_are_told_apart_by_gaps_between_them():
    stretch, _ = straight()
    runs = stretch_nodes(stretch, merged([10.0, 50.0], [20.0, 50.0]))
    assert [run.tolist() for run in runs] == [list(range(10, 21)), [50]]
    assert stretch_nodes(stretch, merged([10.2], [10.8])) == []


def test_a_corner_between_the_doors_is_held_and_one_beside_them_is_not():
    stretch, rigging = straight()
    ground = swept_ground(share_of(stretch, rigging))
    inside, _ = asked(points(*at((500.0, 30.0))), ZoneKind.OBSTRUCTION)
    beside, _ = asked(points(*at((500.0, 41.0))), ZoneKind.OBSTRUCTION)
    assert held_corner(ground, inside) == pytest.approx(at((500.0, 30.0))[0], abs=1e-12)
    assert held_corner(ground, beside) is None


def test_a_cable_between_the_doors_all_along_the_tow_is_met_where_they_came_down():
    stretch, rigging = straight()
    ground = swept_ground(share_of(stretch, rigging))
    cable, boundaries = asked(line(*at((-5000.0, 25.0), (9000.0, 25.0))), ZoneKind.CABLE)
    assert held_corner(ground, cable) is None
    lon, lat = met_at(ground, cable, 0, boundaries)
    xy = flat(lon, lat)[0]
    assert min(abs(xy[0] + LAYBACK_M), abs(xy[0] - 2000.0 + LAYBACK_M)) < 0.5
    assert xy[1] == pytest.approx(25.0, abs=3.0)  # the cable is one geodesic of 14 km


@pytest.mark.parametrize("off_m", [44.0, -44.0])
def test_a_cable_beside_the_doors_is_not_met(off_m):
    stretch, rigging = straight()
    ground = swept_ground(share_of(stretch, rigging))
    cable, boundaries = asked(line(*at((-3000.0, off_m), (3000.0, off_m))), ZoneKind.CABLE)
    assert met_at(ground, cable, 0, boundaries) is None


def test_ground_that_nobody_swept_meets_nothing():
    cable, boundaries = asked(line(*at((-100.0, 0.0), (100.0, 0.0))), ZoneKind.CABLE)
    assert met_at(Swept(), cable, 0, boundaries) is None
    assert nearness(Swept(), [cable], [0], boundaries).clearance_m.tolist() == [np.inf]


def test_the_likely_clearance_is_that_of_the_ground_less_the_radius():
    stretch, rigging = straight()
    ground = swept_ground(share_of(stretch, rigging))
    places = [(500.0, 140.0), (500.0, -240.0), (500.0, 10.0), (500.0, 45.0)]
    radii = [0.0, 30.0, 25.0, 20.0]
    zones = [
        zone(points(*at(place)), ZoneKind.OBSTRUCTION, zone_id=str(n), radius_m=radius)
        for n, (place, radius) in enumerate(zip(places, radii, strict=True))
    ]
    found = nearness(ground, zones, [3, 0, 1, 2], Boundaries.of(tuple(zones))).clearance_m
    np.testing.assert_allclose(found, [5.0 - 20.0, 100.0, 200.0 - 30.0, -25.0], rtol=0, atol=0.02)


def test_an_area_that_the_likely_ground_reaches_is_at_no_distance():
    stretch, rigging = straight()
    box, boundaries = asked(area(at((400.0, 100.0), (600.0, 100.0), (600.0, 300.0), (400.0, 300.0))))
    nominal = nearness(swept_ground(share_of(stretch, rigging)), [box], [0], boundaries).clearance_m
    assert nominal[0] == pytest.approx(60.0, abs=0.02)
    assert (
        nearness(likely_ground(share_of(stretch, rigging), 2.0), [box], [0], boundaries).clearance_m[0] == 0.0
    )


def test_more_deviations_make_the_likely_ground_no_smaller():
    stretch, rigging = stretch_along([(0.0, 0.0), (700.0, 0.0), (700.0, 700.0)])
    share = share_of(stretch, rigging)
    grounds = [swept_ground(share), *(likely_ground(share, k) for k in (1.0, 2.0, 3.0))]
    assert (np.diff([ground.area_m2 for ground in grounds]) > 0.0).all()
    for inner, outer in itertools.pairwise(grounds):
        for polygon in inner.polygons:
            assert outer.holds(polygon[0][:, 0], polygon[0][:, 1]).all()
