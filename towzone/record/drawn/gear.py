"""The gear as drawn: the sea bed between the doors, the likely corridor, and the paths of the parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.model.gear import GearAccount, GearLine, GearTow, Ring
from towzone.model.result import Row
from towzone.record.drawn.frame import Box, LonLat, near, shifted, unwrap
from towzone.record.drawn.highlights import Course
from towzone.record.drawn.paths import TrackDrawing
from towzone.record.drawn.rings import dissolved
from towzone.record.drawn.thin import (
    GEAR_IN_TIME_M,
    GEAR_TOLERANCE_M,
    LIKELY_LONG_M,
    THIN_ABOVE,
    kept_nodes,
    thinned_area,
)

__all__ = ["GearDrawing", "GearPath", "course_of_gear", "draw_gear"]

Areas = tuple[tuple[LonLat, ...], ...]

_STYLES = {"net": "net", "clump": "clump"}
"""How the path of a part is drawn; all others are the outer ends of the gear, drawn as doors."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearPath:
    """The path of one part on one stretch, in the frame of the chart.

    Parameters
    ----------
    part : str
        As in the model.
    style : str
        ``door``, ``clump`` or ``net``.
    whole_deg : ndarray, shape (n, 2)
        Every node.
    time_s : ndarray, shape (n,)
        Of every node, seconds since 1970; ``NaN`` where not known.
    kept : ndarray of int, shape (m,)
        Which nodes are drawn.
    """

    part: str
    style: str
    whole_deg: LonLat
    time_s: npt.NDArray[np.float64]
    kept: npt.NDArray[np.int64]

    @property
    def drawn_deg(self) -> LonLat:
        """The nodes that are drawn, shape (m, 2)."""
        return self.whole_deg[self.kept]

    @property
    def drawn_s(self) -> npt.NDArray[np.float64]:
        """Their times, shape (m,)."""
        return self.time_s[self.kept]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearDrawing:
    """The gear of one tow in the frame of the chart; areas hold a shell and its holes."""

    track: TrackDrawing
    tow: int
    corridor: Areas
    likely: Areas
    paths: tuple[GearPath, ...]

    @property
    def box(self) -> Box:
        """The box around everything drawn; there is something."""
        shells = [area[0] for area in (*self.corridor, *self.likely)]
        return Box.around(np.vstack([*shells, *(path.drawn_deg for path in self.paths)]))


def draw_gear(account: GearAccount | None, tracks: Sequence[TrackDrawing]) -> tuple[GearDrawing, ...]:
    """Return the gear of every tow of which something was computed, near its track."""
    long = sum(len(track.lonlat_deg) for track in tracks) > THIN_ABOVE
    likely_m = LIKELY_LONG_M if long else GEAR_TOLERANCE_M
    by_track = {drawing.track.track_id: drawing for drawing in tracks}
    tows = account.tows if account is not None else ()
    return tuple(
        GearDrawing(
            track=by_track[tow.track_id],
            tow=tow.tow,
            corridor=_areas(tow.corridor, by_track[tow.track_id], GEAR_TOLERANCE_M),
            likely=_areas(tow.likely, by_track[tow.track_id], likely_m),
            paths=_paths(tow, by_track[tow.track_id]),
        )
        for tow in tows
        if tow.corridor or tow.likely or tow.lines
    )


def _areas(areas: tuple[tuple[Ring, ...], ...], track: TrackDrawing, tolerance_m: float) -> Areas:
    """Return areas in the frame of the chart, those that touch as one: where shares meet is no edge."""
    drawn: list[tuple[LonLat, ...]] = []
    for area in dissolved([_placed_area(area, track) for area in areas]):
        drawn += thinned_area(area, tolerance_m)
    return tuple(drawn)


def _placed_area(area: tuple[Ring, ...], track: TrackDrawing) -> tuple[LonLat, ...]:
    shell = _placed(area[0], track)
    middle_deg = float(shell[:, 0].mean())
    return (shell, *(shifted(hole, near(float(hole[:, 0].mean()), middle_deg)) for hole in area[1:]))


def _placed(lonlat_deg: LonLat, track: TrackDrawing) -> LonLat:
    first_deg = float(lonlat_deg[0, 0])
    return shifted(lonlat_deg, track.near_deg(first_deg) - first_deg)


def _paths(tow: GearTow, track: TrackDrawing) -> tuple[GearPath, ...]:
    return tuple(_path(line, track) for line in tow.lines if len(line.lon_deg) > 1)


def _path(line: GearLine, track: TrackDrawing) -> GearPath:
    whole = _placed(np.column_stack([unwrap(line.lon_deg), line.lat_deg]), track)
    none = np.zeros(len(whole), dtype=np.bool_)
    keep = kept_nodes(whole, none, GEAR_TOLERANCE_M, time_s=line.time_s, in_time_m=GEAR_IN_TIME_M)
    return GearPath(
        part=line.part,
        style=_STYLES.get(line.part, "door"),
        whole_deg=whole,
        time_s=line.time_s,
        kept=np.flatnonzero(keep),
    )


def course_of_gear(row: Row, drawings: Sequence[GearDrawing], track: TrackDrawing) -> Course:
    """Return the course of the part of the gear that a row is about; empty where none is known."""
    part = row.gear.nearest_part if row.gear is not None else ""
    paths = [
        path
        for drawing in drawings
        if drawing.track.track.track_id == row.track_id and drawing.tow == row.tow
        for path in drawing.paths
        if path.part == part
    ]
    times_s = np.concatenate([np.empty(0), *(path.time_s for path in paths)])
    lonlat_deg = np.concatenate([np.empty((0, 2)), *(path.whole_deg for path in paths)])
    order = np.argsort(times_s, kind="stable")
    order = order[np.isfinite(times_s[order])]
    return Course(
        times_us=np.rint(times_s[order] * 1e6).astype(np.int64),
        lonlat_deg=lonlat_deg[order],
        fixes=None,
        paths=tuple(path.whole_deg for path in paths),
        track=track,
    )
