"""The scene as plain numbers and words for the interactive chart."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from towzone.record.coast import Coast
from towzone.record.frame import Box, LonLat
from towzone.record.gear import GearDrawing
from towzone.record.island import MICRODEGREES, delta_path
from towzone.record.paths import TrackDrawing
from towzone.record.scene import RowDrawing, Scene
from towzone.record.text import SENTENCE, short
from towzone.record.words import KIND, STATUS
from towzone.record.zones import ZoneDrawing

__all__ = ["NAME_LENGTH", "chart_data"]

NAME_LENGTH = 40
"""Characters of a zone's name on the chart; the tables show more. Own choice."""


def chart_data(scene: Scene, coast: Coast | None) -> dict[str, Any]:
    """Return what the interactive chart draws, ready for JSON.

    Paths are lists of whole millionths of a degree, see `towzone.record.island.delta_path`; all text is
    cleaned and cut, and is only ever shown as text.
    """
    gear = {"gear": [_gear(drawing) for drawing in scene.gear]} if scene.gear else {}
    return gear | {
        "coast": {"land": [], "shore": []} if coast is None else _coast(coast),
        "rows": [_row(row) for row in scene.rows],
        "tracks": [_track(track) for track in scene.tracks],
        "view": _box(scene.view),
        "window": _box(scene.window),
        "zones": [_zone(zone) for zone in scene.zones],
    }


def _whole(angle_deg: float) -> int:
    return int(np.rint(angle_deg * MICRODEGREES))


def _box(box: Box) -> list[int]:
    return [_whole(box.west), _whole(box.south), _whole(box.east), _whole(box.north)]


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
        "label": [_whole(drawing.label[0]), _whole(drawing.label[1])],
        "lines": [delta_path(line) for line in drawing.outline.lines],
        "margin": _areas(drawing.margin),
        "name": short(drawing.zone.name, NAME_LENGTH),
        "points": [delta_path(point) for point in drawing.outline.points],
        "radius": _areas(drawing.radius),
        "word": KIND[drawing.zone.kind],
    }


def _track(drawing: TrackDrawing) -> dict[str, Any]:
    return {
        "gaps": [{"path": delta_path(path), "text": text} for path, text in drawing.gaps],
        "kind": str(drawing.track.kind),
        "marks": [
            {"at": [_whole(m.lon_deg), _whole(m.lat_deg)], "heading": m.heading_deg, "text": m.text}
            for m in drawing.marks
        ],
        "name": short(drawing.track.track_id, NAME_LENGTH),
        "runs": [{"path": delta_path(run.lonlat_deg), "tow": run.tow} for run in drawing.runs],
    }


def _gear(drawing: GearDrawing) -> dict[str, Any]:
    return {
        "corridor": _areas(drawing.corridor),
        "likely": _areas(drawing.likely),
        "paths": [{"path": delta_path(path.drawn_deg), "style": path.style} for path in drawing.paths],
    }


def _row(drawing: RowDrawing) -> dict[str, Any]:
    return {
        "highlights": [{"kind": h.kind, "path": delta_path(h.lonlat_deg)} for h in drawing.highlights],
        "label": drawing.label,
        "line": None if drawing.line is None else delta_path(drawing.line),
        "matters": drawing.matters,
        "number": drawing.number,
        "status": str(drawing.row.status),
        "text": short(drawing.row.explain, SENTENCE),
        "word": STATUS[drawing.row.status],
        "zone": drawing.zone,
    }
