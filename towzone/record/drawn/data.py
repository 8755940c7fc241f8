"""The scene as plain numbers and words for the interactive chart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from towzone.record.catalogue import say
from towzone.record.drawn.coast import Coast
from towzone.record.drawn.fix_times import times_of, times_of_seconds
from towzone.record.drawn.frame import Box, LonLat
from towzone.record.drawn.gaps import GapDrawing
from towzone.record.drawn.gear import GearDrawing
from towzone.record.drawn.highlights import Highlight
from towzone.record.drawn.paths import TowDrawing, TrackDrawing
from towzone.record.drawn.plan import SHAPES, PlanMark
from towzone.record.drawn.scene import RowDrawing, Scene
from towzone.record.drawn.zones import ZoneDrawing
from towzone.record.island import MICRODEGREES, delta_path
from towzone.record.text import SENTENCE, clean, short
from towzone.record.words import KIND, STATUS

__all__ = ["BRIEF_LENGTH", "NAME_LENGTH", "chart_data"]

NAME_LENGTH = 40
"""Characters of a zone's name on the chart; the tables show more. Own choice."""


BRIEF_LENGTH = 24
"""Characters of a track's name beside the number of a tow on the chart. Own choice."""


def chart_data(scene: Scene, coast: Coast | None, csv: str) -> dict[str, Any]:
    """Return what the interactive chart draws, ready for JSON.

    Paths are lists of whole millionths of a degree, see `towzone.record.island.delta_path`; times are as in
    `towzone.record.drawn.fix_times.times_of`; all text is cleaned and cut, and is only ever shown as text.

    Parameters
    ----------
    scene : Scene
    coast : Coast or None
    csv : str
        The exact text of ``--format csv``, carried along to be saved again.
    """
    return {
        "clock": {
            "name": short(scene.clock_name, NAME_LENGTH * 3),
            "offsets": [list(pair) for pair in scene.clock_offsets],
        },
        "coast": {"land": [], "shore": []} if coast is None else _coast(coast),
        "csv": csv,
        "gear": [_gear(drawing, scene.tracks) for drawing in scene.gear],
        "plan": [_plan_mark(mark) for mark in scene.plan],
        "rows": [_row(row) for row in scene.rows],
        "tracks": [_track(track, scene.names.get(track.track.track_id, "")) for track in scene.tracks],
        "view": _box(scene.view),
        "window": _box(scene.window),
        "zones": [_zone(zone) for zone in scene.zones],
    }


def _whole(angle_deg: float) -> int:
    return int(np.rint(angle_deg * MICRODEGREES))


def _place(place: Sequence[float]) -> list[int]:
    return [_whole(angle) for angle in place]


def _box(box: Box) -> list[int]:
    return _place((box.west, box.south, box.east, box.north))


def _areas(areas: tuple[tuple[LonLat, ...], ...]) -> list[list[list[int]]]:
    return [[delta_path(ring) for ring in area] for area in areas]


def _coast(coast: Coast) -> dict[str, Any]:
    land = [
        [delta_path(shapely.get_coordinates(ring)[:-1]) for ring in shapely.get_rings(part)]
        for part in coast.land
    ]
    return {"land": land, "shore": [delta_path(shapely.get_coordinates(line)) for line in coast.shore]}


def _zone(drawing: ZoneDrawing) -> dict[str, Any]:
    return {
        "areas": _areas(drawing.outline.areas),
        "in_force": drawing.in_force,
        "kind": str(drawing.zone.kind),
        "label": _place(drawing.label),
        "lines": [delta_path(line) for line in drawing.outline.lines],
        "margin": _areas(drawing.margin),
        "margin_m": drawing.margin_m,
        "name": short(drawing.zone.name, NAME_LENGTH),
        "off_m": round(drawing.outline.off_m, 2),
        "outside": drawing.zone.rules.allowed_only_inside,
        "points": [delta_path(point) for point in drawing.outline.points],
        "radius": _areas(drawing.radius),
        "radius_m": drawing.zone.radius_m,
        "true_m": None if drawing.true_m is None else round(drawing.true_m, 1),
        "word": KIND[drawing.zone.kind],
    }


def _track(drawing: TrackDrawing, brief: str) -> dict[str, Any]:
    """Return a track; ``brief`` is what it is called on the chart, if anything but by its own name."""
    own = drawing.track.track_id
    name = say("chart.plan.of_line", name=brief, track=own) if brief else own
    return {
        "bends": [[at, delta_path(bend)] for at, bend in drawing.bends],
        "brief": brief or _brief(own),
        "corrected": drawing.corrected,
        "gaps": [_gap(gap) for gap in drawing.gaps],
        "kind": str(drawing.track.kind),
        "layer": drawing.layer,
        "name": short(name, NAME_LENGTH),
        "path": delta_path(drawing.drawn_deg),
        "runs": [[run.first, run.last, str(run.activity), run.tow] for run in drawing.runs],
        "time": times_of(drawing.track.time_utc[drawing.kept]) if drawing.timed else None,
        "tows": [_tow(tow) for tow in drawing.tows],
    }


def _brief(name: str) -> str:
    return clean(name) if len(name) <= BRIEF_LENGTH else f"{clean(name[:BRIEF_LENGTH])}…"


def _gap(gap: GapDrawing) -> dict[str, Any]:
    return {
        "ellipse": None if gap.outline is None else delta_path(gap.outline),
        "fix": gap.fix,
        "open": gap.leaves_open,
        "text": gap.text,
    }


def _tow(tow: TowDrawing) -> dict[str, Any]:
    return {
        "first": tow.first,
        "heading": tow.label.heading_deg,
        "label": _place((tow.label.lon_deg, tow.label.lat_deg)),
        "last": tow.last,
        "status": None if tow.status is None else str(tow.status),
        "tow": tow.number,
    }


def _gear(drawing: GearDrawing, tracks: Sequence[TrackDrawing]) -> dict[str, Any]:
    track_ids = [track.track.track_id for track in tracks]
    return {
        "corrected": drawing.track.corrected,
        "corridor": _areas(drawing.corridor),
        "likely": _areas(drawing.likely),
        "paths": [
            {
                "part": path.part,
                "path": delta_path(path.drawn_deg),
                "style": path.style,
                "time": times_of_seconds(path.drawn_s),
            }
            for path in drawing.paths
        ],
        "tow": drawing.tow,
        "track": track_ids.index(drawing.track.track.track_id),
    }


def _plan_mark(mark: PlanMark) -> dict[str, Any]:
    return {
        "corrected": mark.corrected,
        "kind": mark.kind,
        "place": _place(mark.place),
        "shape": SHAPES[mark.kind],
        "text": mark.text,
    }


def _row(drawing: RowDrawing) -> dict[str, Any]:
    row = drawing.row
    return {
        "gap": drawing.gap,
        "highlights": [_highlight(highlight) for highlight in drawing.highlights],
        "label": drawing.label,
        "likely_at": None if drawing.likely_at is None else _place(drawing.likely_at),
        "line": None if drawing.line is None else delta_path(drawing.line),
        "matters": drawing.matters,
        "number": drawing.number,
        "part": str(row.part),
        "status": str(row.status),
        "text": short(row.explain, SENTENCE),
        "time": None if row.closest is None else _seconds(row.closest.utc),
        "tow": row.tow,
        "track": drawing.track,
        "word": STATUS[row.status],
        "zone": drawing.zone,
    }


def _seconds(instant: np.datetime64) -> float | None:
    if np.isnat(instant):
        return None
    seconds = int(instant.astype("datetime64[us]").astype(np.int64)) / 1e6
    return int(seconds) if seconds.is_integer() else seconds


def _highlight(highlight: Highlight) -> dict[str, Any]:
    if highlight.own_deg is not None:
        return {"kind": highlight.kind, "path": delta_path(highlight.own_deg)}
    start, stop = highlight.ends.tolist()
    return {
        "first": highlight.first,
        "from": _place(start),
        "kind": highlight.kind,
        "last": highlight.last,
        "to": _place(stop),
    }
