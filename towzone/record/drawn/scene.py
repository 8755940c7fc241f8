"""What the chart shows, in one frame of longitude: the common source of both pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from towzone.model.gear import GearTier
from towzone.model.result import FINDINGS, CheckResult, Gap, Part, Row, Status
from towzone.model.track import TrackKind
from towzone.record.catalogue import say
from towzone.record.clock import local_clock
from towzone.record.drawn.frame import Box, LonLat, near
from towzone.record.drawn.gaps import clip_gap
from towzone.record.drawn.gear import GearDrawing, course_of_gear, draw_gear
from towzone.record.drawn.highlights import Highlight, course_of_track, highlights
from towzone.record.drawn.paths import TrackDrawing, draw_tracks
from towzone.record.drawn.plan import PlanMark, brief_names, draw_plan
from towzone.record.drawn.zones import (
    ZoneDrawing,
    ZoneOutline,
    draw_zone,
    guarded_shapes,
    outline_zone,
    reaches_into,
)
from towzone.record.words import brief_length

__all__ = ["RowDrawing", "Scene", "build_scene"]

_VIEW_BORDER = 0.08
_VIEW_LEAST_M = 1000.0
_REACH = 0.1  # what lies off the tracks and the gear pulls the view open by at most this share on each side
_WINDOW = 0.8  # land and zones are carried this many view sizes beyond the first view


MATTERS = FINDINGS | {Status.UNDETERMINED}
"""The statuses whose rows stand on the chart at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowDrawing:
    """What one row shows on the chart.

    Parameters
    ----------
    number : int
        From 1, in the order of the rows.
    row : Row
    line : ndarray, shape (2, 2), or None
        From the vessel, or the gear, to the boundary at the closest approach.
    label : str
        Its length, or how deep inside.
    highlights : tuple of Highlight
        Stretches of the track, or of the path of the gear, inside or too close.
    zone : int or None
        Index among the drawn zones.
    track : int
        Index among the tracks.
    likely_at : tuple of float or None
        Where the likely corridor of the gear came nearest, where that decided the row.
    gap : int or None
        Index among the gaps of the track: of an undecided row without a closest approach, the first that
        leaves its zone open.
    """

    number: int
    row: Row
    line: LonLat | None
    label: str
    highlights: tuple[Highlight, ...]
    zone: int | None
    track: int
    likely_at: tuple[float, float] | None
    gap: int | None

    @property
    def matters(self) -> bool:
        """Whether the row is a finding or undecided, so that its number stands on the chart at once."""
        return self.row.status in MATTERS

    @property
    def numbered(self) -> bool:
        """Whether the interactive chart has a place for its number."""
        known = self.line is not None or self.gap is not None
        return known or (self.matters and self.zone is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything to draw.

    Parameters
    ----------
    tracks, zones, rows
        In the order of the result; zones that with radius and margin lie outside the window are left out
        and counted in ``off_chart``.
    view : Box
        What both charts show at first.
    window : Box
        How far the interactive chart may be moved.
    off_chart : int
    fixes_used, fixes_drawn : int
    gear : tuple of GearDrawing
    clock_name : str
        What the local time is.
    clock_offsets : tuple of (int, int)
        From when on, seconds since 1970, it is how far from UTC, seconds; over the times of the tracks.
    plan : tuple of PlanMark
        Places of a plan.
    names : dict of str to str
        What the lines of a plan are called in brief, by track.
    """

    tracks: tuple[TrackDrawing, ...]
    zones: tuple[ZoneDrawing, ...]
    rows: tuple[RowDrawing, ...]
    view: Box
    window: Box
    off_chart: int
    fixes_used: int
    fixes_drawn: int
    gear: tuple[GearDrawing, ...]
    clock_name: str
    clock_offsets: tuple[tuple[int, int], ...]
    plan: tuple[PlanMark, ...] = ()
    names: dict[str, str] = field(default_factory=dict)


def build_scene(result: CheckResult) -> Scene:
    """Return what to draw of a result that has at least one track with at least one fix.

    Raises
    ------
    ValueError
        No track has a fix, so there is nothing to draw.
    """
    longitudes = [track.lon_deg for track in result.tracks if len(track)]
    if not longitudes:
        message = "a record needs at least one track with at least one position"
        raise ValueError(message)
    # The first fix sets the frame; tracks, zones and coast follow by whole turns.
    centre_deg = float(longitudes[0][0])
    outlines = [outline_zone(zone, centre_deg) for zone in result.zones]
    tracks = draw_tracks(result, centre_deg, lambda box: guarded_shapes(outlines, result.margins_m, box))
    gear = draw_gear(result.gear, tracks)
    plan = draw_plan(result, tracks)
    view = _view(result, tracks, gear, outlines, plan, centre_deg)
    window = _window(view)
    drawn = [outline for outline in outlines if reaches_into(outline, result.margins_m, window)]
    made = (
        draw_zone(
            outline,
            margin_m=result.margins_m[outline.zone.zone_id],
            in_force=result.in_force[outline.zone.zone_id],
            view=view,
            window=window,
        )
        for outline in drawn
    )
    zones = tuple(zone for zone in made if zone is not None)
    clock = local_clock(result)
    return Scene(
        tracks=tuple(_clipped(track, window) for track in tracks),
        zones=zones,
        rows=_rows(result, tracks, gear, zones),
        view=view,
        window=window,
        off_chart=len(outlines) - len(zones),
        fixes_used=sum(len(track) for track in result.tracks),
        fixes_drawn=sum(track.fixes_drawn for track in tracks),
        gear=gear,
        clock_name=clock.name,
        clock_offsets=tuple((at, offset) for at, offset in clock.offsets(*_times(result))),
        plan=plan,
        names=brief_names(result),
    )


def _clipped(track: TrackDrawing, window: Box) -> TrackDrawing:
    return replace(track, gaps=tuple(clip_gap(gap, window) for gap in track.gaps))


def _times(result: CheckResult) -> tuple[float, float]:
    """Return the first and the last known time, seconds since 1970; both 0 where none is known."""
    known = [track.time_utc[~np.isnat(track.time_utc)] for track in result.tracks]
    ends = [end for times in known if len(times) for end in (times[0], times[-1])]
    if not ends:
        return 0.0, 0.0
    seconds = np.array(ends).astype("datetime64[us]").astype(np.int64) / 1e6
    return float(seconds.min()), float(seconds.max())


def _view(
    result: CheckResult,
    tracks: Sequence[TrackDrawing],
    gear: Sequence[GearDrawing],
    outlines: Sequence[ZoneOutline],
    plan: Sequence[PlanMark],
    centre_deg: float,
) -> Box:
    box = Box.around(np.vstack([track.lonlat_deg for track in tracks if len(track.lonlat_deg)]))
    for drawing in gear:
        box = box.union(drawing.box)
    # How far a boundary or a zone lies off must not make the tracks small: only what is near counts.
    reach = box.padded(_REACH, 2.0 * _VIEW_LEAST_M)
    for row in result.rows:
        if row.closest is not None and row.status in MATTERS:
            part = Box.around(_closest_line(row, centre_deg)).intersection(reach)
            box = box if part is None else box.union(part)
    for gap in (gap for track in tracks for gap in track.gaps if gap.leaves_open):
        part = None if gap.outline is None else Box.around(gap.outline).intersection(reach)
        box = box if part is None else box.union(part)
    for mark in plan:
        part = Box.around(np.array([mark.place])).intersection(reach)
        box = box if part is None else box.union(part)
    concerned = {row.zone_id for row in result.rows}
    for outline in outlines:
        part = outline.box.intersection(reach) if outline.zone.zone_id in concerned else None
        if part is not None:
            box = box.union(part)
    return box.padded(_VIEW_BORDER, _VIEW_LEAST_M)


def _window(view: Box) -> Box:
    window = view.padded(_WINDOW, 5.0 * _VIEW_LEAST_M)
    # More than once round the earth shows nothing more, unless a track went round more than once.
    spare_deg = (window.east - window.west - max(360.0, view.east - view.west)) / 2.0
    return window.grown(-max(spare_deg, 0.0), 0.0)


def _closest_line(row: Row, centre_deg: float) -> LonLat:
    closest = row.closest
    if closest is None:
        message = "the row has no closest approach"
        raise ValueError(message)
    lon = closest.lon_deg + near(closest.lon_deg, centre_deg)
    zone_lon = closest.zone_lon_deg + near(closest.zone_lon_deg, lon)
    return np.array([[lon, closest.lat_deg], [zone_lon, closest.zone_lat_deg]])


def _rows(
    result: CheckResult,
    tracks: Sequence[TrackDrawing],
    gear: Sequence[GearDrawing],
    zones: Sequence[ZoneDrawing],
) -> tuple[RowDrawing, ...]:
    by_track = {track.track.track_id: i for i, track in enumerate(tracks)}
    courses = [course_of_track(track) for track in tracks]
    by_zone = {drawing.zone.zone_id: i for i, drawing in enumerate(zones)}
    drawings = []
    for number, row in enumerate(result.rows, start=1):
        at = by_track[row.track_id]
        track = tracks[at]
        line = None if row.closest is None else _closest_line(row, track.near_deg(row.closest.lon_deg))
        course = course_of_gear(row, gear, track) if row.part is Part.GEAR else courses[at]
        drawings.append(
            RowDrawing(
                number=number,
                row=row,
                line=line,
                label=_label(row, planned=track.track.kind is TrackKind.PLANNED),
                highlights=highlights(row, course),
                zone=by_zone.get(row.zone_id),
                track=at,
                likely_at=_likely_at(row, track),
                gap=_gap(row, result.gaps.get(row.track_id, ())),
            )
        )
    return tuple(drawings)


def _likely_at(row: Row, track: TrackDrawing) -> tuple[float, float] | None:
    known = row.gear
    if known is None or known.likely_at is None or known.tier is not GearTier.POSSIBLE:
        return None
    lon_deg, lat_deg = known.likely_at
    return track.near_deg(lon_deg), lat_deg


def _gap(row: Row, gaps: Sequence[Gap]) -> int | None:
    if row.closest is not None or row.status is not Status.UNDETERMINED:
        return None
    return next(
        (
            number
            for number, gap in enumerate(gaps)
            # Without a bound every zone is open.
            if gap.reach_m is None or any(reach.zone_id == row.zone_id for reach in gap.could_reach)
        ),
        None,
    )


def _label(row: Row, *, planned: bool) -> str:
    gear = "gear_" if row.part is Part.GEAR else ""
    if row.clearance_m is None:
        return say(f"chart.label.{gear}not_known")
    if row.clearance_m == 0.0:
        how = "not_ruled_out" if row.status is Status.UNDETERMINED else "planned" if planned else "done"
        return say(f"chart.label.{gear}touched_{how}")
    if row.clearance_m < 0.0:
        return say(f"chart.label.{gear}inside", length=brief_length(-row.clearance_m))
    return say(f"chart.label.{gear}clear", length=brief_length(row.clearance_m))
