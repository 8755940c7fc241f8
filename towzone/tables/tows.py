"""The tows of a trip as a table ready for a logbook: text, CSV, JSON."""

from __future__ import annotations

import csv
import io
import json
import textwrap
import zoneinfo
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from towzone.caution import CAUTION
from towzone.model.result import CheckResult, Part, Row, Tow
from towzone.model.track import TrackKind
from towzone.tables.cells import plain, safe_cell
from towzone.tables.result_json import rounded, tows_as_data
from towzone.tables.screen import track_lines, trip_lines
from towzone.units import (
    NAUTICAL_MILE_M,
    format_duration,
    format_instant,
    format_length,
    format_position,
    format_time,
)
from towzone.words import counted

__all__ = ["COLUMNS", "SCHEMA", "to_tow_csv", "to_tow_json", "to_tow_text"]

SCHEMA = "towzone.tows/1"

COLUMNS = (
    "track_id",
    "tow",
    "haul_id",
    "basis",
    "shoot_utc",
    "haul_utc",
    "shoot_local",
    "haul_local",
    "shoot_lat_deg",
    "shoot_lon_deg",
    "haul_lat_deg",
    "haul_lon_deg",
    "shoot_open",
    "haul_open",
    "hours",
    "gap_hours",
    "length_nmi",
    "mean_speed_kn",
    "depth_m",
    "rectangles",
    "nearest_zone_id",
    "nearest_clearance_m",
    "nearest_status",
    "nearest_part",
)

_WIDTH = 100


@dataclass(frozen=True, slots=True)
class _Nearest:
    """The zone a tow came nearest to, of those within reach."""

    row: Row | None

    @classmethod
    def of(cls, tow: Tow, result: CheckResult) -> _Nearest:
        rows = [
            row
            for row in result.rows
            if (row.track_id, row.tow) == (tow.track_id, tow.number) and row.clearance_m is not None
        ]
        if not rows:
            return cls(None)
        nearest = min(rows, key=lambda row: row.clearance_m or 0.0)
        # Shooting and hauling may have a row of their own for the same zone; rows come worst first.
        return cls(next(row for row in rows if (row.zone_id, row.part) == (nearest.zone_id, nearest.part)))


def to_tow_text(result: CheckResult, local: zoneinfo.ZoneInfo | None, *, verbose: bool = False) -> str:
    """Return the tows for one screen, with what the haul log and the move-on rule say."""
    tows = _towed(result)
    lines = [f"{counted(len(tows), 'tow')} in {_named(result)}.", ""]
    for tow in tows:
        lines += [*_block(tow, result, local), ""]
    lines += trip_lines(result)
    lines += [
        *track_lines(result, verbose=verbose),
        "",
        "Assumed:",
        *(_wrapped(f"- {line}", "  ") for line in result.assumptions),
        "",
    ]
    lines.append(_wrapped(CAUTION, ""))
    return "\n".join(lines) + "\n"


def _towed(result: CheckResult) -> list[Tow]:
    """Return the tows that were made; a planned route is none yet."""
    planned = {track.track_id for track in result.tracks if track.kind is TrackKind.PLANNED}
    return [tow for tow in result.tows if tow.track_id not in planned]


def _named(result: CheckResult) -> str:
    names = [plain(track.track_id) for track in result.tracks if track.kind is TrackKind.COMPLETED]
    if not names:
        return "no completed track; planned routes are not listed"
    return f"{'track' if len(names) == 1 else 'tracks'} {', '.join(names)}"


def _block(tow: Tow, result: CheckResult, local: zoneinfo.ZoneInfo | None) -> list[str]:
    whose = f" of {plain(tow.track_id)}" if len(result.tracks) > 1 else ""
    logged = f", haul {plain(tow.haul_id)} of the log" if tow.haul_id else ""
    duration = "duration not known" if tow.seconds is None else format_duration(tow.seconds)
    speed = "speed not known" if tow.mean_speed_kn is None else f"{tow.mean_speed_kn:.1f} kn"
    depth = "not known" if tow.depth_m is None else f"{tow.depth_m:.0f} m"
    return [
        f"  {tow.number}  tow{whose} ({tow.basis}{logged})",
        f"     shot    {_moment(tow.shoot_utc, tow.shoot_position, local)}{_open(tow.shoot_open, 'earlier')}",
        f"     hauled  {_moment(tow.haul_utc, tow.haul_position, local)}{_open(tow.haul_open, 'later')}",
        f"     {duration}, {tow.length_m / NAUTICAL_MILE_M:.1f} nmi, {speed}, depth {depth}",
        *_gaps_in(tow),
        _wrapped(
            f"     rectangles  {' '.join(tow.rectangles) or 'outside the ICES grid'}", "                 "
        ),
        *_nearest_line(tow, result),
    ]


def _open(unknown: bool, which: str) -> str:
    return f"   or {which}: the positions do not tell" if unknown else ""


def _gaps_in(tow: Tow) -> list[str]:
    if not tow.gap_seconds:
        return []
    return [
        f"     {format_duration(tow.gap_seconds)} of it without positions; length and speed are of the rest"
    ]


def _nearest_line(tow: Tow, result: CheckResult) -> list[str]:
    if not result.zones:
        return []
    row = _Nearest.of(tow, result).row
    if row is None or row.clearance_m is None:
        reach = float(str(result.settings["reach_m"]))
        return [f"     nearest zone  none within {format_length(reach)}"]
    status = row.status.value.replace("_", " ")
    whose = ", its gear" if row.part is Part.GEAR else ""
    return [f"     nearest zone  {plain(row.zone_id)}, {format_length(row.clearance_m)} ({status}){whose}"]


def _moment(
    instant: np.datetime64, position: tuple[float, float] | None, local: zoneinfo.ZoneInfo | None
) -> str:
    text = format_time(instant)
    if local is not None and not np.isnat(instant):
        text += f" = {_local(instant, local)[:16].replace('T', ' ')} {local.key}"
    where = format_position(*position) if position is not None else "position not known"
    return f"{text}   {where}"


def _local(instant: np.datetime64, local: zoneinfo.ZoneInfo) -> str:
    """Return an instant as ISO 8601 text in a time zone, to the second (rounded down)."""
    seconds = int(instant.astype("datetime64[s]").astype(np.int64))
    return datetime.fromtimestamp(seconds, UTC).astimezone(local).isoformat()


def to_tow_csv(result: CheckResult, local: zoneinfo.ZoneInfo | None) -> str:
    """Return one header and one line for each tow: UTF-8, comma, point as decimal mark, LF."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for tow in _towed(result):
        writer.writerow({name: safe_cell(value) for name, value in _cells(tow, result, local).items()})
    return out.getvalue()


def _cells(tow: Tow, result: CheckResult, local: zoneinfo.ZoneInfo | None) -> dict[str, object]:
    row = _Nearest.of(tow, result).row
    shoot, haul = tow.shoot_position, tow.haul_position
    return {
        "track_id": tow.track_id,
        "tow": tow.number,
        "haul_id": tow.haul_id,
        "basis": tow.basis,
        "shoot_utc": format_instant(tow.shoot_utc),
        "haul_utc": format_instant(tow.haul_utc),
        "shoot_local": _local_cell(tow.shoot_utc, local),
        "haul_local": _local_cell(tow.haul_utc, local),
        "shoot_lat_deg": rounded(shoot[1], 7) if shoot else None,
        "shoot_lon_deg": rounded(shoot[0], 7) if shoot else None,
        "haul_lat_deg": rounded(haul[1], 7) if haul else None,
        "haul_lon_deg": rounded(haul[0], 7) if haul else None,
        "shoot_open": "yes" if tow.shoot_open else "no",
        "haul_open": "yes" if tow.haul_open else "no",
        "gap_hours": rounded(tow.gap_seconds / 3600.0),
        "hours": rounded(tow.seconds / 3600.0) if tow.seconds is not None else None,
        "length_nmi": rounded(tow.length_m / NAUTICAL_MILE_M),
        "mean_speed_kn": rounded(tow.mean_speed_kn),
        "depth_m": rounded(tow.depth_m, 1),
        "rectangles": " ".join(tow.rectangles),
        "nearest_zone_id": row.zone_id if row else None,
        "nearest_clearance_m": rounded(row.clearance_m) if row else None,
        "nearest_status": row.status.value if row else None,
        "nearest_part": row.part.value if row else None,
    }


def _local_cell(instant: np.datetime64, local: zoneinfo.ZoneInfo | None) -> str | None:
    return _local(instant, local) if local is not None and not np.isnat(instant) else None


def to_tow_json(result: CheckResult, local: zoneinfo.ZoneInfo | None) -> str:
    """Return the tows as JSON text: keys sorted, no NaN, one line end at the end."""
    data = tows_as_data(result)
    made = _towed(result)
    data["tows"] = [entry for entry, tow in zip(data["tows"], result.tows, strict=True) if tow in made]
    for entry, tow in zip(data["tows"], made, strict=True):
        row = _Nearest.of(tow, result).row
        entry["shoot_local"] = _local_cell(tow.shoot_utc, local)
        entry["haul_local"] = _local_cell(tow.haul_utc, local)
        entry["nearest"] = row and {
            "zone_id": row.zone_id,
            "clearance_m": rounded(row.clearance_m),
            "status": row.status.value,
        }
    data["schema"] = SCHEMA
    data["local_time_zone"] = local.key if local is not None else None
    return json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _wrapped(text: str, indent: str) -> str:
    return textwrap.fill(plain(text), _WIDTH, subsequent_indent=indent)
