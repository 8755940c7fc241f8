"""The invented work that speed is measured on is what the benches say it is."""

import hashlib

import numpy as np
import shapely
from bench import fleets, seas, workload

from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings
from towzone.files.zones import read_zones
from towzone.model.track import Track, TrackKind

SMALL = fleets.Fleet(vessels=2, every_s=7_200, fixes=500)


def digest(*columns):
    return hashlib.sha256(b"".join(np.ascontiguousarray(column).tobytes() for column in columns)).hexdigest()


def columns(number, fleet):
    fixes = fleets.vessel(number, fleet)
    return fixes.time_utc, fixes.lon_deg, fixes.lat_deg


def corners(zones):
    return [zone.shape.polygons[0][0] if zone.shape.polygons else zone.shape.lines[0] for zone in zones]


def test_the_same_seed_gives_the_same_fixes_and_another_vessel_others():
    assert digest(*columns(7, SMALL)) == digest(*columns(7, SMALL))
    assert digest(*columns(7, SMALL)) != digest(*columns(8, SMALL))


def test_the_same_seed_gives_the_same_files(tmp_path):
    for suffix, write in (("parquet", fleets.write_parquet), ("csv", fleets.write_csv)):
        one, two = tmp_path / f"one.{suffix}", tmp_path / f"two.{suffix}"
        write(one, SMALL)
        write(two, SMALL)
        assert one.read_bytes() == two.read_bytes()


def test_a_vessel_month_has_its_fixes_in_order_with_silences():
    step_s = np.diff(fleets.vessel(3).time_utc).astype(int)
    assert len(step_s) == 21_600 - 1
    assert step_s.min() == 120
    assert 1 <= (step_s > 1_800).sum() <= 8


def test_a_vessel_month_holds_tows_of_three_to_five_hours_at_about_three_knots():
    fixes = fleets.vessel(3)
    track = Track(
        track_id="t",
        source="t",
        kind=TrackKind.COMPLETED,
        lon_deg=fixes.lon_deg,
        lat_deg=fixes.lat_deg,
        time_utc=fixes.time_utc,
        part=np.zeros(len(fixes.lon_deg)),
        fixes_read=len(fixes.lon_deg),
    )
    path = build_path(track, CheckSettings())
    hours = np.array([tow.seconds for tow in path.tows]) / 3_600.0
    assert 60 <= len(hours) <= 150
    assert 2.5 <= np.median(hours) <= 5.5


def test_the_zones_along_the_trip_are_as_many_and_as_near_as_the_bars_assume():
    trip = workload.trip(864_000)
    zones = seas.along(trip.lon_deg, trip.lat_deg)
    assert (len(zones), seas.vertices_of(zones)) == (540, 33_671)
    assert digest(*corners(zones)) == digest(*corners(seas.along(trip.lon_deg, trip.lat_deg)))
    # Degrees of longitude made as long as those of latitude at 44 degrees; near enough to count.
    scale = np.array([np.cos(np.radians(44.0)), 1.0])
    shapes = [
        (shapely.Polygon if zone.shape.polygons else shapely.LineString)(ring * scale)
        for zone, ring in zip(zones, corners(zones), strict=True)
    ]
    some = np.column_stack([trip.lon_deg, trip.lat_deg])[::2_000] * scale
    near = shapely.STRtree(shapes).query(shapely.points(some), predicate="dwithin", distance=5.0 / 60.0)
    assert 14.0 <= near.shape[1] / len(some) <= 20.0


def test_zones_of_a_sea_read_back_the_same_from_their_file(tmp_path):
    sea = fleets.WEST_DEG, fleets.SOUTH_DEG, fleets.EAST_DEG, fleets.NORTH_DEG
    zones = seas.over(*sea, 50)
    seas.write_geojson(tmp_path / "zones.geojson", zones)
    read = read_zones(str(tmp_path / "zones.geojson")).zones
    assert [(z.zone_id, z.kind, z.edges, z.margin_m) for z in read] == [
        (z.zone_id, z.kind, z.edges, z.margin_m) for z in zones
    ]
    assert digest(*corners(read)) == digest(*corners(zones))
