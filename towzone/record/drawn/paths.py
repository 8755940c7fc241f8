"""Tracks as drawn: the fixes that are drawn, what was done between them, gaps, tows and their labels."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import outline
from towzone.geodesy.shape import Shape
from towzone.model.result import CheckResult, Status, Tow
from towzone.model.track import Track, TrackKind
from towzone.plan.telling import corrected_ids
from towzone.record.drawn.activity import Doing, Stretch, stretches_of
from towzone.record.drawn.frame import (
    Box,
    LonLat,
    chart_true,
    mercator_y_deg,
    near,
    scales_at,
    shifted,
    unwrap,
)
from towzone.record.drawn.gaps import GapDrawing, draw_gaps
from towzone.record.drawn.thin import THIN_ABOVE, THIN_IN_TIME_M, THIN_TOLERANCE_M, kept_nodes, near_any

__all__ = ["Mark", "Run", "TowDrawing", "TrackDrawing", "draw_tracks"]

_LONG_LEG_M = 3000.0  # over 3 km a geodesic leg bends by up to half a metre on the chart at 60 degrees

Indices = npt.NDArray[np.int64]
Guarded = Callable[[Box], Sequence[shapely.Geometry]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch without a gap, from one drawn fix to another, of one activity, of one tow or of none."""

    first: int
    last: int
    activity: Doing
    tow: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A place on a track; ``heading_deg`` points along it, clockwise from north."""

    lon_deg: float
    lat_deg: float
    heading_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TowDrawing:
    """A tow between two drawn fixes, with the place of its label and the worst that was found of it.

    ``status`` is ``None`` where there was no zone to check it against.
    """

    number: int
    first: int
    last: int
    label: Mark
    status: Status | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrackDrawing:
    """A track in the frame of the chart.

    Parameters
    ----------
    track : Track
    lonlat_deg : ndarray, shape (n, 2)
        Every fix, longitudes continuous.
    kept : ndarray of int, shape (m,)
        Which fixes are drawn, ascending. All indices below count these.
    runs : tuple of Run
    bends : tuple of (int, ndarray (b, 2))
        Positions drawn after a fix, where a straight line on the chart would not be true.
    gaps : tuple of GapDrawing
    tows : tuple of TowDrawing
    heading : Mark or None
        Of a track without tows, at its middle.
    span_deg : tuple of float
        Least and greatest longitude.
    corrected : bool
        Whether it is a line that a plan proposes, not one that was asked about.
    """

    track: Track
    lonlat_deg: LonLat
    kept: Indices
    runs: tuple[Run, ...]
    bends: tuple[tuple[int, LonLat], ...]
    gaps: tuple[GapDrawing, ...]
    tows: tuple[TowDrawing, ...]
    heading: Mark | None
    span_deg: tuple[float, float]
    corrected: bool = False

    @property
    def layer(self) -> str:
        """The layer of the chart that it is drawn on, which the key can switch."""
        return f"track-{'corrected' if self.corrected else self.track.kind}"

    @property
    def timed(self) -> bool:
        """Whether the time of every fix is known."""
        return not bool(np.isnat(self.track.time_utc).any())

    @property
    def fixes_drawn(self) -> int:
        """How many fixes are drawn."""
        return len(self.kept)

    @property
    def drawn_deg(self) -> LonLat:
        """The drawn fixes, shape (m, 2)."""
        return self.lonlat_deg[self.kept]

    def line(self, first: int, last: int) -> LonLat:
        """Return what is drawn from one drawn fix to another, bends and all."""
        whole = self.lonlat_deg[self.kept[first : last + 1]]
        bends = [(at - first + 1, bend) for at, bend in self.bends if first <= at < last]
        if not bends:
            return whole
        places = np.repeat([at for at, _ in bends], [len(bend) for _, bend in bends])
        return np.insert(whole, places, np.vstack([bend for _, bend in bends]), axis=0)

    def near_deg(self, lon_deg: float) -> float:
        """Return the longitude of the track nearest, modulo whole turns, to a longitude of a file."""
        low, high = self.span_deg
        turns = np.arange(near(lon_deg, low), near(lon_deg, high) + 1.0, 360.0)
        if len(turns) == 1:
            return lon_deg + float(turns[0])
        lon = self.lonlat_deg[:, 0]
        distance = [float(np.abs(lon - (lon_deg + turn)).min()) for turn in turns]
        return lon_deg + float(turns[int(np.argmin(distance))])


def draw_tracks(result: CheckResult, centre_deg: float, guarded: Guarded) -> tuple[TrackDrawing, ...]:
    """Return all tracks near a longitude.

    Parameters
    ----------
    result : CheckResult
    centre_deg : float
    guarded : callable
        Returns the polygons that reach into a box and in which no fix may be left out; only asked when the
        tracks are so long that fixes are thinned.
    """
    thin = sum(len(track) for track in result.tracks) > THIN_ABOVE
    return tuple(_draw(result, track, centre_deg, guarded if thin else None) for track in result.tracks)


def _draw(result: CheckResult, track: Track, centre_deg: float, guarded: Guarded | None) -> TrackDrawing:
    lonlat = _positions(track, centre_deg)
    tows = [tow for tow in result.tows if tow.track_id == track.track_id]
    gaps = result.gaps.get(track.track_id, ())
    stretches = _stretches(result, track, tows)
    long_legs = _long_legs(lonlat, stretches)
    keep = np.ones(len(track), dtype=np.bool_)
    if guarded is not None and len(track):
        keep = near_any(lonlat, guarded(Box.around(lonlat)))
        ends = [end for s in stretches for end in (s.first, s.last)]
        ends += [end for tow in tows for end in (tow.first, tow.last)]
        ends += [end for gap in gaps for end in (gap.fix, gap.fix + 1)]
        keep[ends] = True
        keep[long_legs] = keep[long_legs + 1] = True
        time_s = _seconds(track)
        keep = kept_nodes(lonlat, keep, THIN_TOLERANCE_M, time_s=time_s, in_time_m=THIN_IN_TIME_M)
    kept = np.flatnonzero(keep)
    index = np.cumsum(keep) - 1
    return TrackDrawing(
        track=track,
        lonlat_deg=lonlat,
        kept=kept,
        runs=tuple(
            Run(first=int(index[s.first]), last=int(index[s.last]), activity=s.activity, tow=s.tow)
            for s in stretches
        ),
        bends=tuple((int(index[leg]), bend) for leg, bend in _bends(result, track, lonlat, long_legs)),
        gaps=draw_gaps(gaps, lonlat, index, zones=bool(result.zones)),
        tows=tuple(_tow(result, tow, lonlat, index) for tow in tows),
        heading=_mark(lonlat) if not tows and len(track) > 1 else None,
        span_deg=(float(lonlat[:, 0].min()), float(lonlat[:, 0].max())) if len(track) else (0.0, 0.0),
        corrected=track.track_id in corrected_ids(result),
    )


def _positions(track: Track, centre_deg: float) -> LonLat:
    if not len(track):
        return np.empty((0, 2))
    lon = unwrap(track.lon_deg)
    lon = lon + near(float(np.median(lon)), centre_deg)
    return np.column_stack([lon, track.lat_deg])


def _seconds(track: Track) -> npt.NDArray[np.float64] | None:
    if bool(np.isnat(track.time_utc).any()):
        return None
    return track.time_utc.astype("datetime64[us]").astype(np.int64) / 1e6


def _stretches(result: CheckResult, track: Track, tows: Sequence[Tow]) -> tuple[Stretch, ...]:
    gaps = [gap.fix for gap in result.gaps.get(track.track_id, ())]
    doubts = [doubt for doubt in result.doubts if doubt.track_id == track.track_id]
    elsewhere = Doing.PLANNED if track.kind is TrackKind.PLANNED else Doing.NOT_TOWING
    if elsewhere is Doing.NOT_TOWING and len(track) == 1 and result.settings.get("towing") != "none":
        # One position tells nothing of what the vessel did, unless the user said that it did not tow.
        elsewhere = Doing.UNKNOWN
    return tuple(stretches_of(len(track), gaps, tows, doubts, elsewhere=elsewhere))


def _long_legs(lonlat: LonLat, stretches: Sequence[Stretch]) -> Indices:
    """Return the fixes before legs that are long enough to bend on the chart."""
    if len(lonlat) < 2:
        return np.empty(0, dtype=np.int64)
    per_lon_m, per_lat_m = scales_at(np.abs(lonlat).min(axis=0)[1:])
    step = np.diff(lonlat, axis=0)
    long_leg = np.hypot(step[:, 0] * per_lon_m, step[:, 1] * per_lat_m) >= _LONG_LEG_M
    covered = np.zeros(len(step), dtype=np.bool_)
    for stretch in stretches:
        covered[stretch.first : stretch.last] = True
    return np.flatnonzero(long_leg & covered)


def _bends(
    result: CheckResult, track: Track, lonlat: LonLat, long_legs: Indices
) -> Iterator[tuple[int, LonLat]]:
    planned = track.kind is TrackKind.PLANNED
    kind = LineKind(str(result.settings.get("legs", "rhumb"))) if planned else LineKind.GEODESIC
    for leg in long_legs.tolist():
        corners = lonlat[leg : leg + 2].copy()
        corners[:, 0] = (corners[:, 0] + 180.0) % 360.0 - 180.0
        ((dense, _),) = outline(Shape(lines=(corners,)), kind, tolerance_m=0.5)
        dense = chart_true(shifted(dense, near(float(dense[0, 0]), float(lonlat[leg, 0]))))
        if len(dense) > 2:
            yield leg, dense[1:-1]


def _tow(result: CheckResult, tow: Tow, lonlat: LonLat, index: Indices) -> TowDrawing:
    found = {row.status for row in result.rows if row.track_id == tow.track_id and row.tow == tow.number}
    # Zones that a tow has no row for lie beyond the reach and are clear.
    known = found | ({Status.CLEAR} if result.zones else set())
    return TowDrawing(
        number=tow.number,
        first=int(index[tow.first]),
        last=int(index[tow.last]),
        label=_mark(lonlat[tow.first : tow.last + 1]),
        status=next((status for status in Status if status in known), None),
    )


def _mark(lonlat: LonLat) -> Mark:
    flat = np.column_stack([lonlat[:, 0], mercator_y_deg(lonlat[:, 1])])
    along = np.concatenate([[0.0], np.hypot(*np.diff(flat, axis=0).T).cumsum()])
    middle, span = along[-1] / 2.0, along[-1] / 50.0
    x, before_x, after_x = np.interp([middle, middle - span, middle + span], along, flat[:, 0])
    before_y, after_y = np.interp([middle - span, middle + span], along, flat[:, 1])
    return Mark(
        lon_deg=float(x),
        lat_deg=float(np.interp(middle, along, lonlat[:, 1])),
        heading_deg=round(math.degrees(math.atan2(after_x - before_x, after_y - before_y)) % 360.0, 1),
    )
