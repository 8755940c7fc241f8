"""Times of a planned route from departure and speed."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import Lines
from scenes import GEOD, KNOT_MPS, NMI_M, route

from towzone.checks.schedule import scheduled
from towzone.geodesy.lines import LineKind

DEPART = np.datetime64("2026-05-12T06:30:00")
CORNERS = [(-10.0, 50.0), (-9.5, 50.4), (-9.5, 50.4), (-8.0, 50.4), (-8.0, 49.9)]


def seconds(track):
    return (track.time_utc - DEPART.astype("datetime64[us]")) / np.timedelta64(1, "us") / 1e6


@pytest.mark.parametrize("kind", ["rhumb", "geodesic"])
def test_corners_are_passed_when_their_way_is_made_good(kind):
    """Lengths by the slow oracle; a corner given twice is passed at one time."""
    planned = scheduled(route(CORNERS), DEPART, 3.4, LineKind(kind))
    a, b = np.array(CORNERS[:-1]), np.array(CORNERS[1:])
    apart = np.array([GEOD.inv(*p, *q)[2] for p, q in zip(a, b, strict=True)]) > 0.0
    length = np.zeros(len(a))
    length[apart] = Lines.between(kind, *a[apart].T, *b[apart].T).inverse()[0]
    wanted = np.concatenate([[0.0], np.cumsum(length)]) / (3.4 * KNOT_MPS)
    np.testing.assert_allclose(seconds(planned), wanted, rtol=0, atol=0.001)


def test_a_mile_at_a_knot_takes_an_hour():
    lon, lat, _ = GEOD.fwd(0.0, 10.0, 0.0, NMI_M)
    planned = scheduled(route([(0.0, 10.0), (lon, lat)]), DEPART, 1.0, LineKind.GEODESIC)
    np.testing.assert_allclose(seconds(planned), [0.0, 3600.0], rtol=0, atol=1e-5)


def test_only_times_change():
    before = route(CORNERS)
    after = scheduled(before, DEPART, 3.0, LineKind.RHUMB)
    np.testing.assert_array_equal(before.lon_deg, after.lon_deg)
    assert (before.track_id, before.kind, before.fixes_read) == (after.track_id, after.kind, after.fixes_read)
    assert np.isnat(before.time_utc).all()
