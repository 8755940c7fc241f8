"""The rows of a result as CSV, one line each."""

from __future__ import annotations

import csv
import io

from towzone.model.result import CheckResult, Row
from towzone.model.zone import Zone
from towzone.tables.cells import safe_cell
from towzone.tables.rounding import known, rounded
from towzone.units import format_instant

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
        cells = row_cells(row, zones[row.zone_id])
        writer.writerow({name: safe_cell(value) for name, value in cells.items()})
    return out.getvalue()


def row_cells(row: Row, zone: Zone) -> dict[str, object]:
    """Return what stands in the columns of one row, text as it is, by the names of `COLUMNS`."""
    closest, gear = row.closest, row.gear
    return {
        "track_id": row.track_id,
        "tow": row.tow,
        "activity": row.activity.value,
        "zone_id": row.zone_id,
        "zone_name": zone.name,
        "zone_kind": zone.kind.value,
        "part": row.part.value,
        "status": row.status.value,
        "reason": row.reason,
        "clearance_m": rounded(row.clearance_m),
        "margin_m": rounded(row.margin_m),
        "uncertainty_m": rounded(row.uncertainty_m),
        "closest_utc": format_instant(closest.utc) if closest else None,
        "lat_deg": rounded(closest.lat_deg, 7) if closest else None,
        "lon_deg": rounded(closest.lon_deg, 7) if closest else None,
        "zone_lat_deg": rounded(closest.zone_lat_deg, 7) if closest else None,
        "zone_lon_deg": rounded(closest.zone_lon_deg, 7) if closest else None,
        "bearing_deg": rounded(closest.bearing_deg, 1) if closest else None,
        "stays_inside": len(row.inside),
        "first_enter_utc": format_instant(row.inside[0].enter_utc) if row.inside else None,
        "last_leave_utc": format_instant(row.inside[-1].leave_utc) if row.inside else None,
        "inside_seconds": _total([stay.seconds for stay in row.inside]),
        "close_seconds": _total([stretch.seconds for stretch in row.close]),
        "explain": row.explain,
        "gear_nearest_part": gear.nearest_part if gear else None,
        "gear_tier": gear.tier.value if gear else None,
        "gear_likely_clearance_m": known(gear.likely_clearance_m) if gear else None,
        "gear_rope_clearance_m": known(gear.rope_clearance_m) if gear else None,
    }


def _total(seconds: list[float | None]) -> float | None:
    """Return the sum, or nothing when any part is unknown."""
    known = [value for value in seconds if value is not None]
    return rounded(sum(known)) if known and len(known) == len(seconds) else None
