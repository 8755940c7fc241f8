"""Tracks as drawn: runs between gaps, tows, direction marks."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely

from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import outline
from towzone.geodesy.shape import Shape
from towzone.model.result import CheckResult, Gap, Tow
from towzone.model.track import Track, TrackKind
from towzone.record.frame import LonLat, chart_true, mercator_y_deg, metres_per_degree, near, shifted, unwrap
from towzone.record.thin import THIN_ABOVE, kept_fixes
from towzone.units import format_duration

__all__ = ["Mark", "Run", "TrackDrawing", "draw_tracks"]

_LONG_LEG_M = 3000.0  # over 3 km a geodesic leg bends by up to half a metre on the chart at 60 degrees


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """A stretch of a track without a gap, of one tow or of none; one fix when gaps lie on both its sides."""

    tow: int | None
    lonlat_deg: LonLat


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A word at a place; ``heading_deg`` points an arrow along the track, clockwise from north."""

    lon_deg: float
    lat_deg: float
    text: str
    heading_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrackDrawing:
    """A track in the frame of the chart.

    Parameters
    ----------
    track : Track
    lonlat_deg : ndarray, shape (n, 2)
        Every fix, longitudes continuous.
    runs : tuple of Run
        What is drawn.
    gaps : tuple of (ndarray (2, 2), str)
        Straight line over each gap and its label.
    marks : tuple of Mark
        One for each tow (or for the track when it has none), at the middle.
    fixes_drawn : int
    """

    track: Track
    lonlat_deg: LonLat
    runs: tuple[Run, ...]
    gaps: tuple[tuple[LonLat, str], ...]
    marks: tuple[Mark, ...]
    fixes_drawn: int

    def near_deg(self, lon_deg: float) -> float:
        """Return the longitude of the track nearest, modulo whole turns, to a longitude of a file."""
        lon = self.lonlat_deg[:, 0]
        first = near(lon_deg, float(lon.min()))
        turns = np.arange(first, near(lon_deg, float(lon.max())) + 1.0, 360.0)
        distance = [float(np.abs(lon - (lon_deg + turn)).min()) for turn in turns]
        return lon_deg + float(turns[int(np.argmin(distance))])


def draw_tracks(
    result: CheckResult, centre_deg: float, guarded: Iterator[shapely.Geometry]
) -> tuple[TrackDrawing, ...]:
    """Return all tracks near a longitude.

    Parameters
    ----------
    result : CheckResult
    centre_deg : float
    guarded : iterator of shapely polygons
        Where no fix may be left out; only consumed when the tracks are so long that fixes are thinned.
    """
    thin = sum(len(track) for track in result.tracks) > THIN_ABOVE
    shapes = list(guarded) if thin else []
    drawings = []
    for track in result.tracks:
        lonlat = _positions(track, centre_deg)
        keep = kept_fixes(lonlat, shapes) if thin else np.ones(len(track), dtype=np.bool_)
        tows = [tow for tow in result.tows if tow.track_id == track.track_id]
        gaps = result.gaps.get(track.track_id, ())
        runs = tuple(_runs(track, lonlat, keep, tows, gaps, str(result.settings.get("legs", "rhumb"))))
        drawings.append(
            TrackDrawing(
                track=track,
                lonlat_deg=lonlat,
                runs=runs,
                gaps=tuple((lonlat[gap.fix : gap.fix + 2], _gap_label(gap)) for gap in gaps),
                marks=_marks(lonlat, tows),
                fixes_drawn=int(keep.sum()),
            )
        )
    return tuple(drawings)


def _positions(track: Track, centre_deg: float) -> LonLat:
    if not len(track):
        return np.empty((0, 2))
    lon = unwrap(track.lon_deg)
    lon = lon + near(float(np.median(lon)), centre_deg)
    return np.column_stack([lon, track.lat_deg])


def _runs(
    track: Track,
    lonlat: LonLat,
    keep: npt.NDArray[np.bool_],
    tows: list[Tow],
    gaps: tuple[Gap, ...],
    legs: str,
) -> Iterator[Run]:
    n = len(lonlat)
    if n == 1:
        yield Run(tow=None, lonlat_deg=lonlat)
    if n < 2:
        return
    kind = LineKind(legs) if track.kind is TrackKind.PLANNED else LineKind.GEODESIC
    # A tow's number on each of its legs, -1 outside tows; a run ends where the number changes or a gap lies.
    number = np.full(n - 1, -1, dtype=np.int64)
    for tow in tows:
        number[tow.first : tow.last] = tow.number
    covered = np.ones(n - 1, dtype=np.bool_)
    covered[[gap.fix for gap in gaps]] = False
    turn = np.flatnonzero((np.diff(number) != 0) | (np.diff(covered.astype(np.int8)) != 0)) + 1
    bounds = [0, *turn.tolist(), n - 1]
    # A fix between two gaps belongs to no leg but was a position all the same.
    for alone in np.flatnonzero(~np.append(covered, False) & ~np.insert(covered, 0, False)):
        yield Run(tow=None, lonlat_deg=lonlat[alone : alone + 1])
    for first, last in pairwise(bounds):
        if covered[first]:
            chosen = keep[first : last + 1].copy()
            chosen[[0, -1]] = True
            tow_number = None if number[first] < 0 else int(number[first])
            yield Run(tow=tow_number, lonlat_deg=_true_legs(lonlat[first : last + 1][chosen], kind))


def _true_legs(lonlat: LonLat, kind: LineKind) -> LonLat:
    scale = np.array(metres_per_degree(float(np.abs(lonlat[:, 1]).min())))
    if float(np.hypot(*(np.diff(lonlat, axis=0) * scale).T).max()) < _LONG_LEG_M:
        return lonlat
    corners = lonlat.copy()
    corners[:, 0] = (corners[:, 0] + 180.0) % 360.0 - 180.0
    ((dense, _),) = outline(Shape(lines=(corners,)), kind, tolerance_m=0.5)
    return chart_true(shifted(dense, near(float(dense[0, 0]), float(lonlat[0, 0]))))


def _gap_label(gap: Gap) -> str:
    length = "" if gap.seconds is None else f", {format_duration(gap.seconds)}"
    return f"not covered by positions{length}"


def _marks(lonlat: LonLat, tows: list[Tow]) -> tuple[Mark, ...]:
    if not tows:
        return (_mark(lonlat, ""),) if len(lonlat) > 1 else ()
    return tuple(_mark(lonlat[tow.first : tow.last + 1], f"Tow {tow.number}") for tow in tows)


def _mark(lonlat: LonLat, text: str) -> Mark:
    flat = np.column_stack([lonlat[:, 0], mercator_y_deg(lonlat[:, 1])])
    along = np.concatenate([[0.0], np.hypot(*np.diff(flat, axis=0).T).cumsum()])
    middle, span = along[-1] / 2.0, along[-1] / 50.0
    x, before_x, after_x = np.interp([middle, middle - span, middle + span], along, flat[:, 0])
    before_y, after_y = np.interp([middle - span, middle + span], along, flat[:, 1])
    return Mark(
        lon_deg=float(x),
        lat_deg=float(np.interp(middle, along, lonlat[:, 1])),
        text=text,
        heading_deg=round(math.degrees(math.atan2(after_x - before_x, after_y - before_y)) % 360.0, 1),
    )
