"""The table of clearances of fixes, as it is asked for with zones."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import area, around, box, check, line, moved, steady, zone

from towzone.checks.boundaries import Boundaries
from towzone.checks.clearance_table import clearance_table
from towzone.geodesy.lines import LineKind
from towzone.model.rules import Rules

CENTRE = (-20.0, 57.0)


def table(track, zones, reach_m=9260.0):
    blocks = list(clearance_table(track.lon_deg, track.lat_deg, zones, Boundaries.of(tuple(zones)), reach_m))
    return [np.concatenate(c) for c in zip(*((b.point, b.zone, b.clearance_m) for b in blocks), strict=True)]


def test_the_least_of_each_zone_is_that_of_the_check():
    """Fixes every 15 m: between them nothing comes nearer, or lies deeper, by more than half of that."""
    zones = [
        zone(area(around(CENTRE, 3000.0)), zone_id="AREA"),
        zone(area(box(-19.9, 57.0, -19.8, 57.1)), edges=LineKind.RHUMB, zone_id="BOX"),
        zone(line(moved(CENTRE, 0.0, 9000.0), moved(CENTRE, 90.0, 9000.0)), zone_id="LINE", radius_m=500.0),
        zone(area(box(-40, 40, -39, 41)), zone_id="FAR"),
    ]
    track = steady([moved(CENTRE, 260.0, 6000.0), moved(CENTRE, 70.0, 12_000.0)], step_s=10.0)

    fix, number, clearance_m = table(track, zones)

    rows = {row.zone_id: row.clearance_m for row in check(track, zones).rows if row.clearance_m is not None}
    assert sorted(rows) == ["AREA", "BOX", "LINE"]
    for z, one in enumerate(zones):
        mine = clearance_m[number == z]
        if one.zone_id == "FAR":
            assert len(mine) == 0
            continue
        assert 0.0 <= mine.min() - rows[one.zone_id] + 0.002 < 8.0
        assert mine.max() <= 9260.0
    assert fix.max() < len(track)


def test_outside_an_area_that_may_not_be_left_is_negative_however_far():
    inside_only = Rules(allowed_only_inside=True)
    zones = [zone(area(around(CENTRE, 1000.0, 720)), rules=inside_only)]
    track = steady([CENTRE, moved(CENTRE, 90.0, 30_000.0)], step_s=60.0)

    fix, _, clearance_m = table(track, zones)

    assert fix.tolist() == list(range(len(track)))
    assert clearance_m[0] == pytest.approx(1000.0, abs=0.011)
    assert clearance_m[-1] == pytest.approx(-29_000.0, abs=0.011)
