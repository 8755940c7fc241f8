"""Completed tracks made up from metres and seconds, and what cleaning and merging make of them.

Positions come from an independent geodesic library around an invented place, so that distances in the
tests are what they say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from oracles import GEOD

from towzone.model.track import Track, TrackKind
from towzone.tracks.cleaning import clean
from towzone.tracks.merging import merge

LON, LAT = -20.2503717, 57.4009113
START = np.datetime64("2026-03-01T06:00:00", "us")
KNOT_MPS = 1852.0 / 3600.0
TOW_MPS = 3.0 * KNOT_MPS


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
    plain = ("track_id", "source", "kind", "fixes_read", "vessel", "resolution_m", "dropped")
    columns = [(one.lon_deg, other.lon_deg), (one.lat_deg, other.lat_deg), (one.part, other.part)]
    columns += [(one.readings[k], other.readings[k]) for k in one.readings if k in other.readings]
    if one.line is not None and other.line is not None:
        columns.append((one.line, other.line))
    return (
        all(getattr(one, name) == getattr(other, name) for name in plain)
        and set(one.readings) == set(other.readings)
        and (one.line is None) == (other.line is None)
        and np.array_equal(one.time_utc.view(np.int64), other.time_utc.view(np.int64))
        and all(np.array_equal(a, b, equal_nan=True) for a, b in columns)
    )


def cleaned(
    track: Track, max_speed_kn: float = 12.0, position_error_m: float = 15.0, gap_s: float = 900.0
) -> tuple[Track, str]:
    """The cleaned track and all remarks as lines; cleaning it again must change nothing."""
    given = {"max_speed_kn": max_speed_kn, "position_error_m": position_error_m, "gap_s": gap_s}
    result, remarks = clean(track, **given)
    again, more = clean(result, **given)
    assert again is result
    assert not more
    return result, "\n".join(f"{remark.file}|{remark.where}|{remark.message}" for remark in remarks)


def scattered(n: int, size_m: float = 4.0) -> np.ndarray:
    """Invented errors of positions, the same every time, none larger than twice the size."""
    return np.clip(np.random.default_rng(20260301).normal(0.0, size_m, n), -2 * size_m, 2 * size_m)


def tow(n: int = 1200, step_s: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Seconds, metres east and metres north of a tow at 3 kn."""
    seconds = np.arange(n) * step_s
    return seconds, TOW_MPS * seconds + scattered(n), scattered(n)[::-1].copy()


def frozen_for(first: int, last: int, n: int = 3600) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A tow whose receiver repeats fix ``first`` up to fix ``last``."""
    seconds, east, north = tow(n)
    east[first : last + 1], north[first : last + 1] = east[first], north[first]
    return seconds, east, north


def merged(*tracks: Track, gap_s: float = 900.0, position_error_m: float = 15.0) -> tuple[list[Track], str]:
    """The merged tracks, and all remarks as lines."""
    result, remarks = merge(tracks, gap_s=gap_s, position_error_m=position_error_m)
    return list(result), "\n".join(f"{remark.file}|{remark.where}|{remark.message}" for remark in remarks)


def one_of(*tracks: Track, gap_s: float = 900.0) -> Track:
    """The one track that these are merged into."""
    (track,), _ = merged(*tracks, gap_s=gap_s)
    return track


def log(
    name: str, first_s: float, last_s: float, step_s: float, north_m: float = 0.0, **more: object
) -> Track:
    """A log of the same vessel at 3 kn to the east, from one time to another."""
    seconds = np.arange(first_s, last_s + step_s / 2, step_s)
    return made(seconds, TOW_MPS * seconds, north_m, name=name, **more)
