"""Steps that a vessel could not have made, against every distance worked out by itself."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer

from towzone.tracks.possible import Possible
from towzone.units import KNOT_MPS

GEOCENTRIC = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)


def possible(lon_deg, lat_deg, seconds):
    time_us = np.round(np.cumsum(seconds) * 1e6).astype(np.int64)
    return Possible(
        lon_deg=lon_deg,
        lat_deg=lat_deg,
        earliest_us=time_us,
        latest_us=time_us,
        speed_kn=22.5,
        slack_m=30.0,
    )


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("lat_deg", [0.0, 54.0, -80.0, 89.99])
def test_impossible_steps_are_those_that_are_too_long_for_their_time(seed, lat_deg):
    """At the limit too, where many are a little longer and a little shorter, at 180 degrees and by a pole."""
    rng = np.random.default_rng([seed, int(abs(lat_deg) * 100)])
    n = 400
    seconds = rng.choice([0.0, 1.0, 120.0, 5000.0], n)
    away_m = (seconds * 22.5 * KNOT_MPS + 30.0) * rng.choice([0.3, 0.9, 0.9999, 1.0001, 1.5], n)
    course = rng.uniform(0.0, 2.0 * np.pi, n)
    lat = lat_deg + np.cumsum(away_m * np.cos(course)) / 111_320.0
    lat = np.clip(lat, -89.999, 89.999)
    lon = 179.9 + np.cumsum(away_m * np.sin(course) / (111_320.0 * np.cos(np.radians(lat))))
    lon = (lon + 180.0) % 360.0 - 180.0
    xyz = np.stack(GEOCENTRIC.transform(lon, lat, np.zeros(n)), axis=1)
    apart_m = np.linalg.norm(np.diff(xyz, axis=0), axis=1)
    expected = np.flatnonzero(apart_m > seconds[1:] * 22.5 * KNOT_MPS + 30.0)

    found = possible(lon, lat, seconds).impossible_steps()

    assert 0 < len(expected) < n - 1
    assert found.tolist() == expected.tolist()


def test_one_fix_makes_no_step():
    assert len(possible(np.zeros(1), np.zeros(1), np.zeros(1)).impossible_steps()) == 0
