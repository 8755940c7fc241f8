"""A result as JSON, the form that all other outputs and later comparisons rest on."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from towzone.model.result import (
    CheckResult,
    Closest,
    CloseStretch,
    Disagreement,
    Doubt,
    Gap,
    InputFile,
    InsideStretch,
    MoveOn,
    Row,
    Tow,
)
from towzone.model.rule_words import rule_words
from towzone.model.track import Dropped, Track
from towzone.model.zone import Zone
from towzone.tables.gear_json import account_as_data, reach_as_data
from towzone.tables.plan_json import plan_as_data
from towzone.tables.rounding import DEGREE_DIGITS, rounded
from towzone.units import format_instant

__all__ = [
    "SCHEMA",
    "gap_as_data",
    "result_as_data",
    "rounded",
    "row_as_data",
    "to_json",
    "tow_as_data",
    "tows_as_data",
]

SCHEMA = "towzone.result/1"

_FIXES_TOLD = 100
"""Of those left out for one reason; all are counted. Own choice, to bound the size of a result."""


def to_json(result: CheckResult) -> str:
    """Return the result as JSON text: keys sorted, no NaN, one line end at the end."""
    data = result_as_data(result)
    return json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def result_as_data(result: CheckResult) -> dict[str, Any]:
    """Return the result as plain dictionaries and lists; the schema is in README, "The result as JSON"."""
    return {
        **tows_as_data(result),
        "schema": SCHEMA,
        "outcome": result.outcome.value,
        "counts": {status.value: count for status, count in result.counts.items()},
        "beyond_reach": result.beyond_reach,
        "zones": [_zone(zone, result) for zone in result.zones],
        "rows": [row_as_data(row) for row in result.rows],
        "gear": account_as_data(result.gear),
        "plan": plan_as_data(result),
    }


def tows_as_data(result: CheckResult) -> dict[str, Any]:
    """Return what the result tells of tracks and tows, and what it rests on."""
    return {
        "tracks": [_track(track, result) for track in result.tracks],
        "tows": [tow_as_data(tow, result) for tow in result.tows],
        "cannot_tell": [_doubt(doubt) for doubt in result.doubts],
        "haul_log": [
            _disagreement(track_id, item)
            for track_id, some in result.log_disagreements.items()
            for item in some
        ],
        "move_on": [_move(move) for move in result.moves],
        "assumptions": list(result.assumptions),
        "warnings": [{"file": w.file, "where": w.where, "message": w.message} for w in result.warnings],
        "provenance": {
            "towzone": result.version,
            "inputs": [_input(one) for one in result.inputs],
            "settings": result.settings,
            "methods": result.methods,
        },
    }


def _input(one: InputFile) -> dict[str, Any]:
    data: dict[str, Any] = {"file": one.file, "sha256": one.sha256, "bytes": one.bytes}
    data |= {"role": one.role} if one.role else {}
    return data | ({"format": one.form, "tally": dict(one.tally)} if one.form else {})


def _doubt(doubt: Doubt) -> dict[str, Any]:
    return {
        "track_id": doubt.track_id,
        "from_utc": format_instant(doubt.from_utc),
        "to_utc": format_instant(doubt.to_utc),
        "seconds": rounded(doubt.seconds),
    }


def _disagreement(track_id: str, item: Disagreement) -> dict[str, Any]:
    return {
        "track_id": track_id,
        "kind": item.kind.value,
        "haul_id": item.haul_id,
        "logged_shoot_utc": format_instant(item.logged_shoot_utc),
        "logged_haul_utc": format_instant(item.logged_haul_utc),
        "track_shoot_utc": format_instant(item.track_shoot_utc),
        "track_haul_utc": format_instant(item.track_haul_utc),
        "explain": item.explain,
    }


def _move(move: MoveOn) -> dict[str, Any]:
    known = move.distance_m is not None
    return {
        "track_id": move.track_id,
        "from_tow": move.from_tow,
        "tow": move.tow,
        "status": move.status.value,
        "reason": move.reason,
        "distance_m": rounded(move.distance_m),
        "required_m": rounded(move.required_m),
        "uncertainty_m": rounded(move.uncertainty_m),
        "shoot_utc": format_instant(move.shoot_utc),
        "lat_deg": rounded(move.lat_deg, DEGREE_DIGITS) if known else None,
        "lon_deg": rounded(move.lon_deg, DEGREE_DIGITS) if known else None,
        "nearest_utc": format_instant(move.nearest_utc),
        "nearest_lat_deg": rounded(move.nearest_lat_deg, DEGREE_DIGITS) if known else None,
        "nearest_lon_deg": rounded(move.nearest_lon_deg, DEGREE_DIGITS) if known else None,
        "explain": move.explain,
    }


def _track(track: Track, result: CheckResult) -> dict[str, Any]:
    timed = track.time_utc[~np.isnat(track.time_utc)]
    return {
        "track_id": track.track_id,
        "source": track.source,
        "kind": track.kind.value,
        "fixes_read": track.fixes_read,
        "fixes_used": len(track),
        "vessel": track.vessel,
        "dropped": [_dropped(d, track) for d in track.dropped],
        "start_utc": format_instant(timed[0]) if len(timed) else None,
        "end_utc": format_instant(timed[-1]) if len(timed) else None,
        "length_m": rounded(result.lengths_m[track.track_id]),
        "gaps": [gap_as_data(gap) for gap in result.gaps[track.track_id]],
    }


def _dropped(dropped: Dropped, track: Track) -> dict[str, Any]:
    """Return a reason with its count and the first fixes it was given to."""
    fixes: list[dict[str, Any]] = []
    for some in track.left_out:
        if some.reason == dropped.reason:
            for at in range(min(len(some), _FIXES_TOLD - len(fixes))):
                known = np.isfinite(some.lon_deg[at]) and np.isfinite(some.lat_deg[at])
                fixes.append(
                    {
                        "file": some.file,
                        "line": int(some.line[at]) or None,
                        "utc": format_instant(some.time_utc[at]),
                        "lat_deg": rounded(float(some.lat_deg[at]), DEGREE_DIGITS) if known else None,
                        "lon_deg": rounded(float(some.lon_deg[at]), DEGREE_DIGITS) if known else None,
                    }
                )
    return {"reason": dropped.reason, "count": dropped.count, "fixes": fixes}


def gap_as_data(gap: Gap) -> dict[str, Any]:
    """Return one gap of a track as it stands in the JSON of a result."""
    return {
        "from_utc": format_instant(gap.from_utc),
        "to_utc": format_instant(gap.to_utc),
        "seconds": rounded(gap.seconds),
        "reach_m": rounded(gap.reach_m),
        "could_reach": [
            {
                "zone_id": reach.zone_id,
                "least_speed_kn": rounded(reach.least_speed_kn),
                "longest_inside_seconds": rounded(reach.longest_inside_s),
                "tow_possible": reach.tow_fits,
            }
            for reach in gap.could_reach
        ],
    }


def _time_of_fix(result: CheckResult, tow: Tow, fix: int) -> np.datetime64:
    track = next(track for track in result.tracks if track.track_id == tow.track_id)
    return np.datetime64(track.time_utc[fix])


def tow_as_data(tow: Tow, result: CheckResult) -> dict[str, Any]:
    """Return one tow as it stands in the JSON of a result."""
    return {
        "track_id": tow.track_id,
        "tow": tow.number,
        "shoot_utc": format_instant(tow.shoot_utc),
        "haul_utc": format_instant(tow.haul_utc),
        "seconds": rounded(tow.seconds),
        "length_m": rounded(tow.length_m),
        "mean_speed_kn": rounded(tow.mean_speed_kn),
        "rectangles": list(tow.rectangles),
        "basis": tow.basis,
        "haul_id": tow.haul_id,
        "depth_m": rounded(tow.depth_m, 1),
        "shoot_open": tow.shoot_open,
        "haul_open": tow.haul_open,
        "gap_seconds": rounded(tow.gap_seconds),
        "in_track": tow.in_track,
        "gear_in_water": {
            "from_utc": format_instant(_time_of_fix(result, tow, tow.first)),
            "to_utc": format_instant(_time_of_fix(result, tow, tow.last)),
        },
        "shoot_lat_deg": rounded(tow.shoot_position[1], DEGREE_DIGITS) if tow.shoot_position else None,
        "shoot_lon_deg": rounded(tow.shoot_position[0], DEGREE_DIGITS) if tow.shoot_position else None,
        "haul_lat_deg": rounded(tow.haul_position[1], DEGREE_DIGITS) if tow.haul_position else None,
        "haul_lon_deg": rounded(tow.haul_position[0], DEGREE_DIGITS) if tow.haul_position else None,
    }


def _zone(zone: Zone, result: CheckResult) -> dict[str, Any]:
    return {
        "zone_id": zone.zone_id,
        "name": zone.name,
        "kind": zone.kind.value,
        "edges": zone.edges.value,
        "edges_stated": zone.edges_stated,
        "prohibits": [prohibition.value for prohibition in zone.prohibits],
        "margin_m": rounded(result.margins_m[zone.zone_id]),
        "radius_m": rounded(zone.radius_m),
        "rules": rule_words(zone.rules),
        "source": zone.source or "no source stated",
        "in_force_during_track": result.in_force[zone.zone_id],
        "file": zone.file,
    }


def row_as_data(row: Row) -> dict[str, Any]:
    """Return one row as it stands in the JSON of a result."""
    return {
        "track_id": row.track_id,
        "tow": row.tow,
        "activity": row.activity.value,
        "zone_id": row.zone_id,
        "part": row.part.value,
        "status": row.status.value,
        "reason": row.reason,
        "clearance_m": rounded(row.clearance_m),
        "margin_m": rounded(row.margin_m),
        "uncertainty_m": rounded(row.uncertainty_m),
        "closest": _closest(row.closest),
        "inside": [_inside(stay) for stay in row.inside],
        "close": [_close(stretch) for stretch in row.close],
        "explain": row.explain,
        "gear": reach_as_data(row.gear),
    }


def _closest(closest: Closest | None) -> dict[str, Any] | None:
    if closest is None:
        return None
    return {
        "utc": format_instant(closest.utc),
        "lat_deg": rounded(closest.lat_deg, DEGREE_DIGITS),
        "lon_deg": rounded(closest.lon_deg, DEGREE_DIGITS),
        "zone_lat_deg": rounded(closest.zone_lat_deg, DEGREE_DIGITS),
        "zone_lon_deg": rounded(closest.zone_lon_deg, DEGREE_DIGITS),
        "bearing_deg": rounded(closest.bearing_deg, 1),
    }


def _inside(stay: InsideStretch) -> dict[str, Any]:
    return {
        "enter_utc": format_instant(stay.enter_utc),
        "enter_lat_deg": rounded(stay.enter_lat_deg, DEGREE_DIGITS),
        "enter_lon_deg": rounded(stay.enter_lon_deg, DEGREE_DIGITS),
        "leave_utc": format_instant(stay.leave_utc),
        "leave_lat_deg": rounded(stay.leave_lat_deg, DEGREE_DIGITS),
        "leave_lon_deg": rounded(stay.leave_lon_deg, DEGREE_DIGITS),
        "seconds": rounded(stay.seconds),
        "length_m": rounded(stay.length_m),
        "min_speed_kn": rounded(stay.min_speed_kn),
        "mean_speed_kn": rounded(stay.mean_speed_kn),
    }


def _close(stretch: CloseStretch) -> dict[str, Any]:
    return {
        "from_utc": format_instant(stretch.from_utc),
        "to_utc": format_instant(stretch.to_utc),
        "seconds": rounded(stretch.seconds),
    }
