"""The stretches a row is about, cut out of the path of the vessel or of the part of the gear it tells of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from towzone.model.result import CloseStretch, InsideStretch, Row
from towzone.record.drawn.frame import LonLat, metres_per_degree
from towzone.record.drawn.paths import TrackDrawing

__all__ = ["Course", "Highlight", "course_of_track", "highlights"]

_TOLERANCE_M = 0.5
_SAME_LENGTH = 0.05  # a stretch found again on the line must be as long as the check says, within 5 %


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Highlight:
    """A stretch of a path a row is about.

    Parameters
    ----------
    kind : str
        ``inside`` or ``close``.
    ends : ndarray, shape (2, 2)
        Where it begins and ends.
    first, last : int
        The drawn fixes of the track between the ends; none lies between them where ``first > last``.
    own_deg : ndarray, shape (n, 2), or None
        The whole stretch, where it is not made of drawn fixes alone.
    track : TrackDrawing
    """

    kind: str
    ends: LonLat
    first: int
    last: int
    own_deg: LonLat | None
    track: TrackDrawing

    @property
    def lonlat_deg(self) -> LonLat:
        """The whole stretch, shape (n, 2)."""
        if self.own_deg is not None:
            return self.own_deg
        between = self.track.lonlat_deg[self.track.kept[self.first : self.last + 1]]
        return np.vstack([self.ends[:1], between, self.ends[1:]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """What stretches are cut out of.

    Parameters
    ----------
    times_us : ndarray of int64, shape (n,)
        Microseconds since 1970, ascending.
    lonlat_deg : ndarray, shape (n, 2)
        Positions at those times, in the frame of the chart.
    fixes : ndarray of int, shape (n,), or None
        Which fixes of the track they are; ``None`` for gear, and for a track drawn with bends.
    paths : tuple of ndarray (m, 2)
        The same course as drawn lines, for stretches without times.
    track : TrackDrawing
        Gives longitudes of a file their place in the frame.
    """

    times_us: npt.NDArray[np.int64]
    lonlat_deg: LonLat
    fixes: npt.NDArray[np.int64] | None
    paths: tuple[LonLat, ...]
    track: TrackDrawing

    def at(self, time_us: int) -> LonLat:
        """Return the place at an instant, shape (1, 2); the first or the last where it lies outside."""
        after = int(np.searchsorted(self.times_us, time_us))
        if after in (0, len(self.times_us)):
            return np.asarray(self.lonlat_deg[[min(after, len(self.times_us) - 1)]])
        low, high = self.times_us[[after - 1, after]].tolist()
        part = (time_us - low) / (high - low)
        start, stop = self.lonlat_deg[after - 1], self.lonlat_deg[after]
        return np.asarray(start + part * (stop - start))[np.newaxis]


def course_of_track(drawing: TrackDrawing) -> Course:
    """Return the course of the vessel."""
    times = drawing.track.time_utc
    known = np.flatnonzero(~np.isnat(times))
    times_us, lonlat = times[known].astype("datetime64[us]").astype(np.int64), drawing.lonlat_deg[known]
    if drawing.bends and len(known):
        times_us, lonlat = _with_bends(drawing, known, times_us, lonlat)
    return Course(
        times_us=times_us,
        lonlat_deg=lonlat,
        fixes=None if drawing.bends else known,
        paths=tuple(drawing.line(run.first, run.last) for run in drawing.runs),
        track=drawing,
    )


def _with_bends(
    drawing: TrackDrawing, known: npt.NDArray[np.int64], times_us: npt.NDArray[np.int64], lonlat: LonLat
) -> tuple[npt.NDArray[np.int64], LonLat]:
    """Return times and positions with those of the bends between timed fixes put in, at a steady speed."""
    places, more_us, more = [], [], []
    for at, bend in drawing.bends:
        number = int(np.searchsorted(known, drawing.kept[at]))
        ends = slice(number, number + 2)
        if known[ends].tolist() != [drawing.kept[at], drawing.kept[at] + 1]:
            continue
        leg = np.vstack([lonlat[number], bend, lonlat[number + 1]])
        scale = metres_per_degree(float(leg[:, 1].mean()))
        along = np.hypot(*(np.diff(leg, axis=0) * scale).T).cumsum()
        first_us, last_us = times_us[ends].tolist()
        places.append(np.full(len(bend), number + 1))
        more_us.append(first_us + np.rint((last_us - first_us) * along[:-1] / along[-1]).astype(np.int64))
        more.append(bend)
    if not places:
        return times_us, lonlat
    where = np.concatenate(places)
    return np.insert(times_us, where, np.concatenate(more_us)), np.insert(
        lonlat, where, np.vstack(more), axis=0
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
    ends_us = _microseconds(stretch.from_utc, stretch.to_utc)
    return _between("close", np.vstack([course.at(end) for end in ends_us]), ends_us, course)


def _inside(stretch: InsideStretch, course: Course) -> Highlight | None:
    ends = np.array(
        [
            [course.track.near_deg(stretch.enter_lon_deg), stretch.enter_lat_deg],
            [course.track.near_deg(stretch.leave_lon_deg), stretch.leave_lat_deg],
        ]
    )
    if np.isnat(stretch.enter_utc) or np.isnat(stretch.leave_utc):
        return _found_again("inside", ends, stretch.length_m, course)
    if not len(course.times_us):
        return None
    return _between("inside", ends, _microseconds(stretch.enter_utc, stretch.leave_utc), course)


def _microseconds(first: np.datetime64, last: np.datetime64) -> tuple[int, int]:
    first_us, last_us = np.array([first, last]).astype("datetime64[us]").astype(np.int64).tolist()
    return first_us, last_us


def _between(kind: str, ends: LonLat, ends_us: tuple[int, int], course: Course) -> Highlight:
    first = int(np.searchsorted(course.times_us, ends_us[0], "right"))
    stop = int(np.searchsorted(course.times_us, ends_us[1], "left"))
    if course.fixes is None:
        path = np.vstack([ends[:1], course.lonlat_deg[first:stop], ends[1:]])
        return Highlight(kind=kind, ends=ends, first=1, last=0, own_deg=_thin(path), track=course.track)
    fixes, kept = course.fixes[first:stop], course.track.kept
    if not len(fixes):
        return Highlight(kind=kind, ends=ends, first=1, last=0, own_deg=None, track=course.track)
    # Fixes left out next to the ends lie within the tolerance of thinning of the straight line there.
    return Highlight(
        kind=kind,
        ends=ends,
        first=int(np.searchsorted(kept, fixes[0], "left")),
        last=int(np.searchsorted(kept, fixes[-1], "right")) - 1,
        own_deg=None,
        track=course.track,
    )


def _thin(path: LonLat) -> LonLat:
    scale = np.array(metres_per_degree(float(path[0, 1])))
    thin = shapely.simplify(shapely.linestrings(path * scale), _TOLERANCE_M, preserve_topology=False)
    return np.asarray(shapely.get_coordinates(thin) / scale)


def _found_again(kind: str, ends: LonLat, length_m: float, course: Course) -> Highlight | None:
    scale = np.array(metres_per_degree(float(ends[:, 1].mean())))
    for path in course.paths:
        if len(path) < 2:
            continue
        line = shapely.linestrings(path * scale)
        start, stop = shapely.line_locate_point(line, shapely.points(ends * scale))
        if abs((stop - start) - length_m) <= _SAME_LENGTH * length_m + 1.0:
            corners = shapely.line_locate_point(line, shapely.points(path * scale))
            own = np.vstack([ends[:1], path[(corners > start) & (corners < stop)], ends[1:]])
            return Highlight(kind=kind, ends=ends, first=1, last=0, own_deg=own, track=course.track)
    return None
