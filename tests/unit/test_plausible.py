"""Zones whose coordinates look swapped: those an ocean away that would be near if turned round."""

from __future__ import annotations

import tracemalloc

import numpy as np
from pyproj import Geod
from scenes import area, box, fixes, line, points, zone

from towzone.checks.plausible import first_corners, swapped_looking
from towzone.model.zone import ZoneKind

TRACK = fixes([(-20.0, 57.0), (-19.9, 57.0)], [0.0, 600.0])


def suspects(target, *tracks):
    return [found.zone_id for found, _ in swapped_looking([target], tracks or [TRACK])]


def test_a_swapped_zone_near_the_track_is_suspected_and_both_readings_are_told():
    swapped = zone(area(box(57.0, -21.0, 58.0, -20.0)))
    ((found, sentence),) = swapped_looking([swapped], [TRACK])
    assert found is swapped
    assert "21°00.000'S 057°00.000'E" in sentence
    assert "57°00.000'N 021°00.000'W" in sentence


def test_zones_as_they_should_be_are_not_suspected():
    assert suspects(zone(area(box(-21.0, 57.0, -20.0, 58.0)))) == []


def test_a_zone_far_away_either_way_round_is_not_suspected():
    """Somebody's world-wide collection of cables."""
    assert suspects(zone(line((120.0, -30.0), (121.0, -31.0)), ZoneKind.CABLE)) == []
    assert suspects(zone(points((40.0, 30.0)), ZoneKind.OBSTRUCTION)) == []


def test_a_longitude_that_cannot_be_a_latitude_is_not_suspected():
    assert suspects(zone(points((150.0, -20.0)), ZoneKind.OBSTRUCTION)) == []


def test_one_near_track_of_several_is_enough():
    elsewhere = fixes([(100.0, 0.0)], [0.0], track_id="u")
    target = zone(points((57.0, -20.0)), ZoneKind.OBSTRUCTION)
    assert suspects(target, elsewhere) == []
    assert suspects(target, elsewhere, TRACK) == ["Z"]


def test_without_tracks_or_zones_nothing_is_suspected():
    assert swapped_looking([], [TRACK]) == []
    assert swapped_looking([zone(points((57.0, -20.0)), ZoneKind.OBSTRUCTION)], []) == []


def plainly_suspected(corner, positions):
    """Far as it is, near when turned round, by the geodesic from every position."""
    lon, lat = corner
    ellipsoid = Geod(ellps="WGS84")

    def nearest_m(lon, lat):
        return min(ellipsoid.inv(lon, lat, *position)[2] for position in positions)

    far = nearest_m(lon, lat) >= 1000.0 * 1852.0
    return abs(lon) <= 90.0 and far and nearest_m(lat, lon) < 200.0 * 1852.0


def test_corners_told_cheaply_are_as_each_by_itself():
    rng = np.random.default_rng(9)
    positions = [(-20.0, 57.0), (-19.9, 57.0), (62.0, -3.5), (4.0, 88.5)]
    track = fixes(positions, 600.0 * np.arange(4))
    corners = np.column_stack([rng.uniform(-180.0, 180.0, 400), rng.uniform(-90.0, 90.0, 400)])
    # Round the rim of what is near a position when it is turned round, where all is decided.
    turn, near_m = rng.uniform(0.0, 360.0, 400), rng.uniform(340e3, 400e3, 400)
    at = np.array(positions)[rng.integers(0, 4, 400)]
    lon, lat, _ = Geod(ellps="WGS84").fwd(at[:, 0], at[:, 1], turn, near_m)
    turned = np.column_stack([lat, lon])
    corners = np.concatenate([corners, turned[np.abs(turned[:, 1]) <= 90.0]])
    zones = [
        zone(points(tuple(corner)), ZoneKind.OBSTRUCTION, zone_id=str(number))
        for number, corner in enumerate(corners.tolist())
    ]
    expected = [str(n) for n, corner in enumerate(corners.tolist()) if plainly_suspected(corner, positions)]

    assert 50 < len(expected) < len(corners) - 50
    assert [found.zone_id for found, _ in swapped_looking(zones, [track])] == expected
    assert swapped_looking(zones, [track], first_corners(zones)) == swapped_looking(zones, [track])


def test_many_zones_and_many_tracks_are_compared_in_bounded_memory():
    """Where longitudes look like latitudes, as in the east of the Mediterranean, all zones are compared."""
    rng = np.random.default_rng(4)
    tracks = [fixes(rng.uniform(33.0, 36.0, (20, 2)), [None] * 20) for _ in range(250)]
    zones = [zone(points((33.0 + number / 1000.0, 34.0)), ZoneKind.OBSTRUCTION) for number in range(1500)]
    corners = first_corners(zones)
    tracemalloc.start()
    try:
        found = swapped_looking(zones, tracks, corners)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert found == []
    assert most < 60e6
