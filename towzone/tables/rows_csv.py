"""The rows of a result as CSV, one line each."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from towzone.model.result import CheckResult, Row
from towzone.model.zone import Zone
from towzone.tables.cells import safe_cell
from towzone.tables.result_json import row_as_data
from towzone.tables.rounding import rounded

__all__ = ["COLUMNS", "row_cells", "to_csv"]

COLUMNS = (
    "track_id",
    "tow",
    "activity",
    "zone_id",
    "zone_name",
    "zone_kind",
    "part",
    "status",
    "reason",
    "clearance_m",
    "margin_m",
    "uncertainty_m",
    "closest_utc",
    "lat_deg",
    "lon_deg",
    "zone_lat_deg",
    "zone_lon_deg",
    "bearing_deg",
    "stays_inside",
    "first_enter_utc",
    "last_leave_utc",
    "inside_seconds",
    "close_seconds",
    "explain",
    "gear_nearest_part",
    "gear_tier",
    "gear_likely_clearance_m",
    "gear_rope_clearance_m",
)


def to_csv(result: CheckResult) -> str:
    """Return one header and one line for each row: UTF-8, comma, point as decimal mark, LF.

    Text that a spreadsheet would run as a formula is written with an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    zones = {zone.zone_id: zone for zone in result.zones}
    for row in result.rows:
        cells = row_cells(row, zones[row.zone_id], row_as_data(row))
        writer.writerow({name: safe_cell(value) for name, value in cells.items()})
    return out.getvalue()


def row_cells(row: Row, zone: Zone, told: Mapping[str, Any]) -> dict[str, object]:
    """Return what stands in the columns of one row, text as it is, by the names of `COLUMNS`.

    Parameters
    ----------
    told : mapping
        The row as `towzone.tables.result_json.row_as_data` tells it, of which most cells are a part.
    """
    closest, gear, stays = told["closest"] or _NOWHERE, told["gear"] or _NO_GEAR, told["inside"]
    return {
        "track_id": told["track_id"],
        "tow": told["tow"],
        "activity": told["activity"],
        "zone_id": told["zone_id"],
        "zone_name": zone.name,
        "zone_kind": zone.kind.value,
        "part": told["part"],
        "status": told["status"],
        "reason": told["reason"],
        "clearance_m": told["clearance_m"],
        "margin_m": told["margin_m"],
        "uncertainty_m": told["uncertainty_m"],
        "closest_utc": closest["utc"],
        "lat_deg": closest["lat_deg"],
        "lon_deg": closest["lon_deg"],
        "zone_lat_deg": closest["zone_lat_deg"],
        "zone_lon_deg": closest["zone_lon_deg"],
        "bearing_deg": closest["bearing_deg"],
        "stays_inside": len(stays),
        "first_enter_utc": stays[0]["enter_utc"] if stays else None,
        "last_leave_utc": stays[-1]["leave_utc"] if stays else None,
        "inside_seconds": _total([stay.seconds for stay in row.inside]),
        "close_seconds": _total([stretch.seconds for stretch in row.close]),
        "explain": told["explain"],
        "gear_nearest_part": gear["nearest_part"],
        "gear_tier": gear["tier"],
        "gear_likely_clearance_m": gear["likely_clearance_m"],
        "gear_rope_clearance_m": gear["rope_clearance_m"],
    }


_NOWHERE: dict[str, None] = dict.fromkeys(
    ("utc", "lat_deg", "lon_deg", "zone_lat_deg", "zone_lon_deg", "bearing_deg")
)
"""What is told of the nearest places of a row that knows of none."""

_NO_GEAR: dict[str, None] = dict.fromkeys(("nearest_part", "tier", "likely_clearance_m", "rope_clearance_m"))
"""What is told of the gear in a row of the vessel."""


def _total(seconds: list[float | None]) -> float | None:
    """Return the sum, or nothing when any part is unknown."""
    known = [value for value in seconds if value is not None]
    return rounded(sum(known)) if known and len(known) == len(seconds) else None
