"""The stretches a row is about, cut out of the path of the vessel or of the part of the gear it tells of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from towzone.model.result import CloseStretch, InsideStretch, Row
from towzone.record.frame import LonLat, metres_per_degree
from towzone.record.paths import TrackDrawing

__all__ = ["Course", "Highlight", "course_of_track", "highlights"]

_TOLERANCE_M = 0.5
_SAME_LENGTH = 0.05  # a stretch found again on the line must be as long as the check says, within 5 %


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Highlight:
    """A stretch of a path a row is about: ``inside`` or ``close``, with the two ends of a stay inside."""

    kind: str
    lonlat_deg: LonLat


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """What stretches are cut out of.

    Parameters
    ----------
    times_us : ndarray of int64, shape (n,)
        Microseconds since 1970, ascending.
    lonlat_deg : ndarray, shape (n, 2)
        Positions at those times, in the frame of the chart.
    paths : tuple of ndarray (m, 2)
        The same course as drawn lines, for stretches without times.
    track : TrackDrawing
        Gives longitudes of a file their place in the frame.
    """

    times_us: npt.NDArray[np.int64]
    lonlat_deg: LonLat
    paths: tuple[LonLat, ...]
    track: TrackDrawing


def course_of_track(drawing: TrackDrawing) -> Course:
    """Return the course of the vessel."""
    times = drawing.track.time_utc
    known = ~np.isnat(times)
    return Course(
        times_us=times[known].astype("datetime64[us]").astype(np.int64),
        lonlat_deg=drawing.lonlat_deg[known],
        paths=tuple(run.lonlat_deg for run in drawing.runs),
        track=drawing,
    )


def highlights(row: Row, course: Course) -> tuple[Highlight, ...]:
    """Return the stretches of a row that can be drawn, the too close ones first.

    A stretch with times is cut out by them; one without is found again by its two ends, and left out
    when the line between them is not as long as the check says (a route that crosses itself).
    """
    found = [_close(stretch, course) for stretch in row.close]
    found += [_inside(stretch, course) for stretch in row.inside]
    return tuple(highlight for highlight in found if highlight is not None)


def _close(stretch: CloseStretch, course: Course) -> Highlight | None:
    if np.isnat(stretch.from_utc) or np.isnat(stretch.to_utc) or not len(course.times_us):
        return None
    ends_us = np.array([stretch.from_utc, stretch.to_utc]).astype("datetime64[us]").astype(np.int64)
    lon = np.interp(ends_us, course.times_us, course.lonlat_deg[:, 0])
    lat = np.interp(ends_us, course.times_us, course.lonlat_deg[:, 1])
    return Highlight(kind="close", lonlat_deg=_between(np.column_stack([lon, lat]), ends_us, course))


def _inside(stretch: InsideStretch, course: Course) -> Highlight | None:
    ends = np.array(
        [
            [course.track.near_deg(stretch.enter_lon_deg), stretch.enter_lat_deg],
            [course.track.near_deg(stretch.leave_lon_deg), stretch.leave_lat_deg],
        ]
    )
    if np.isnat(stretch.enter_utc) or np.isnat(stretch.leave_utc):
        path = _found_again(ends, stretch.length_m, course)
        return None if path is None else Highlight(kind="inside", lonlat_deg=path)
    if not len(course.times_us):
        return None
    ends_us = np.array([stretch.enter_utc, stretch.leave_utc]).astype("datetime64[us]").astype(np.int64)
    return Highlight(kind="inside", lonlat_deg=_between(ends, ends_us, course))


def _between(ends: LonLat, ends_us: npt.NDArray[np.int64], course: Course) -> LonLat:
    first = np.searchsorted(course.times_us, ends_us[0], "right")
    last = np.searchsorted(course.times_us, ends_us[1], "left")
    path = np.vstack([ends[:1], course.lonlat_deg[first:last], ends[1:]])
    scale = np.array(metres_per_degree(float(ends[0, 1])))
    thin = shapely.simplify(shapely.linestrings(path * scale), _TOLERANCE_M, preserve_topology=False)
    return np.asarray(shapely.get_coordinates(thin) / scale)


def _found_again(ends: LonLat, length_m: float, course: Course) -> LonLat | None:
    scale = np.array(metres_per_degree(float(ends[:, 1].mean())))
    for path in course.paths:
        if len(path) < 2:
            continue
        line = shapely.linestrings(path * scale)
        start, stop = shapely.line_locate_point(line, shapely.points(ends * scale))
        if abs((stop - start) - length_m) <= _SAME_LENGTH * length_m + 1.0:
            corners = shapely.line_locate_point(line, shapely.points(path * scale))
            between = path[(corners > start) & (corners < stop)]
            return np.vstack([ends[:1], between, ends[1:]])
    return None
