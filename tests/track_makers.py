"""Completed tracks made up from metres and seconds, for tests of cleaning and merging.

Positions come from an independent geodesic library around an invented place, so that distances in the
tests are what they say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from oracles import GEOD

from towzone.model.track import Track, TrackKind

LON, LAT = -20.2503717, 57.4009113
START = np.datetime64("2026-03-01T06:00:00", "us")
KNOT_MPS = 1852.0 / 3600.0


def at(east_m: npt.ArrayLike, north_m: npt.ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Longitudes and latitudes of points given in metres east and north of the invented place."""
    east, north = np.broadcast_arrays(np.asarray(east_m, float), np.asarray(north_m, float))
    there = np.full(east.shape, LON), np.full(east.shape, LAT)
    lon, lat, _ = GEOD.fwd(*there, np.degrees(np.arctan2(east, north)), np.hypot(east, north))
    return np.asarray(lon), np.asarray(lat)


def instants(seconds: npt.ArrayLike) -> np.ndarray:
    """Instants so many seconds after the start, NaN where unknown."""
    seconds = np.asarray(seconds, float)
    known = ~np.isnan(seconds)
    times = np.full(seconds.shape, np.datetime64("NaT", "us"))
    times[known] = START + np.round(seconds[known] * 1e6).astype("timedelta64[us]")
    return times


def seconds_of(track: Track) -> list[float]:
    """Times of a track in seconds after the start."""
    return ((track.time_utc - START) / np.timedelta64(1, "s")).tolist()


def made(
    seconds: npt.ArrayLike,
    east_m: npt.ArrayLike,
    north_m: npt.ArrayLike = 0.0,
    *,
    name: str = "trip",
    source: str = "",
    part: Sequence[int] | np.ndarray | None = None,
    lines: bool = True,
    readings: Mapping[str, npt.ArrayLike] | None = None,
    vessel: str = "",
    resolution_m: float = 0.0,
) -> Track:
    """Return a completed track; fix ``i`` stands in line ``i + 2`` of its file."""
    times = instants(seconds)
    lon, lat = at(np.broadcast_to(east_m, times.shape), np.broadcast_to(north_m, times.shape))
    return Track(
        track_id=name,
        source=source or f"{name}.csv",
        kind=TrackKind.COMPLETED,
        lon_deg=lon,
        lat_deg=lat,
        time_utc=times,
        part=np.zeros(len(times), np.int32) if part is None else np.asarray(part, np.int32),
        fixes_read=len(times),
        line=np.arange(2, len(times) + 2, dtype=np.uint32) if lines else None,
        readings={key: np.asarray(column, np.float32) for key, column in (readings or {}).items()},
        vessel=vessel,
        resolution_m=resolution_m,
    )


def counts(track: Track) -> dict[str, int]:
    """How many fixes were left out, by reason."""
    return {item.reason: item.count for item in track.dropped}


def lines_left_out(track: Track, reason: str) -> list[int]:
    """Lines of the fixes left out for a reason."""
    return [int(line) for some in track.left_out if some.reason == reason for line in some.line]


def same(one: Track, other: Track) -> bool:
    """Whether two tracks tell exactly the same."""
    columns = ("lon_deg", "lat_deg", "time_utc", "part", "line")
    plain = ("track_id", "source", "kind", "fixes_read", "vessel", "resolution_m", "dropped")
    return (
        all(np.array_equal(getattr(one, c), getattr(other, c), equal_nan=c == "time_utc") for c in columns[:4])
        and (one.line is None) == (other.line is None)
        and (one.line is None or np.array_equal(one.line, other.line))
        and all(getattr(one, name) == getattr(other, name) for name in plain)
        and set(one.readings) == set(other.readings)
        and all(np.array_equal(one.readings[k], other.readings[k], equal_nan=True) for k in one.readings)
    )
