"""Invented totals and vessels for tests of the overview of a fleet: no check is run, no name is real."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from typing import Any

from towzone.model.fleet import FleetOutcome, FleetTotals, InputSeen, KnownBy, Unread, VesselLine, ZoneLine
from towzone.model.result import FINDINGS, Status

__all__ = ["HOSTILE", "build_fleet", "build_totals", "vessel_line", "zone_line"]

HOSTILE = (
    "<script>window.taken = 1</script>",
    "</script><script>window.taken = 2</script>",
    "<img src=x onerror='window.taken=3'>",
    "'\"><svg onload=window.taken=4>",
    "{{7*7}}{% x {# x",
    "-->]]>",
    "a\u202eb\u200bc",
    "two\nlines\ttab\x00nul",
    "\ud800 lone",
    "../../x",
    "CON",
    "--zones",
    "$(touch taken) `touch taken` 'x' \\ !",
    "x" * 5000,
    "\u6d77\u306e\u661f \u2693 e\u0301",
    "",
)
"""What a name, a file or a reason in a file may be."""


def vessel_line(vessel: str = "Vessel 1", **changes: Any) -> VesselLine:
    """Return a vessel that was checked and is clear, with changes."""
    values: dict[str, Any] = {
        "vessel": vessel,
        "known_by": KnownBy.NAME,
        "spellings": (vessel,),
        "outcome": FleetOutcome.CLEAR,
        "problem": "",
        "counts": {Status.CLEAR.value: 40},
        "worst_status": "clear",
        "worst_zone_id": "zone-1",
        "worst_zone_name": "Invented Bank",
        "worst_part": "vessel",
        "worst_clearance_m": 5200.0,
        "worst_margin_m": 463.0,
        "worst_utc": "2026-03-04T05:06:07Z",
        "worst_lon_deg": -8.1,
        "worst_lat_deg": 54.2,
        "tows": 12,
        "towing_s": 123_456.0,
        "tracked_s": 345_678.0,
        "gap_s": 7200.0,
        "start_utc": "2026-03-01T00:00:00Z",
        "end_utc": "2026-03-31T00:00:00Z",
        "length_m": 1.2e6,
        "fixes_read": 21_600,
        "fixes_used": 21_590,
        "fixes_left_out": 10,
        "gaps": 4,
        "tracks": 1,
        "remarks": (),
        "files": ("fleet.parquet",),
        "profile": "",
    }
    return VesselLine(**{**values, **changes})


def zone_line(number: int = 1, **changes: Any) -> ZoneLine:
    """Return a zone that nobody came near, with changes."""
    values: dict[str, Any] = {
        "zone_id": f"zone-{number}",
        "name": f"Invented Bank {number}",
        "kind": "closed_area",
        "margin_m": 463.0,
        "source": "Invented notice 1 of 2026",
        "counts": {"clear": 500},
        "vessels_with_findings": 0,
        "vessels": {"clear": 500},
    }
    return ZoneLine(**{**values, **changes})


def build_totals(vessels: Sequence[VesselLine], **changes: Any) -> FleetTotals:
    """Return totals that fit some vessels, with changes."""
    outcomes = [line.standing for line in vessels]
    values: dict[str, Any] = {
        "outcome": min(outcomes, key=list(FleetOutcome).index, default=FleetOutcome.NOT_CHECKED),
        "said": (),
        "notes": (),
        "vessels": {str(one): outcomes.count(one) for one in FleetOutcome},
        "counts": {str(s): sum(line.counts.get(s, 0) for line in vessels) for s in Status},
        "fixes_read": sum(line.fixes_read for line in vessels),
        "fixes_used": sum(line.fixes_used for line in vessels),
        "tows": sum(line.tows for line in vessels),
        "gaps": sum(line.gaps for line in vessels),
        "towing_s": sum(line.towing_s for line in vessels),
        "tracked_s": sum(line.tracked_s for line in vessels),
        "gap_s": sum(line.gap_s for line in vessels),
        "start_utc": "2026-03-01T00:00:00Z",
        "end_utc": "2026-03-31T00:00:00Z",
        "unread": (),
        "zones": (zone_line(),),
        "inputs": (
            InputSeen(file="fleet.parquet", role="track", sha256="ab" * 32, bytes=123_456),
            InputSeen(file="zones.geojson", role="zones", sha256="cd" * 32, bytes=7890),
        ),
        "assumptions": (("Each position is taken to be true within 15 m.", len(vessels)),),
        "remarks": (),
        "settings": {"gap_s": 900.0, "position_error_m": 15.0},
        "methods": {"distance": "geodesic on WGS 84"},
        "parts": {},
        "version": "0.1.0",
        "check_words": ("--zones", "zones.geojson", "--margin", "463m"),
    }
    return FleetTotals(**{**values, **changes})


def build_fleet(
    count: int = 500, zones: int = 60, *, names: Iterable[str] = (), unread: int = 2
) -> tuple[FleetTotals, list[VesselLine]]:
    """Return an invented fleet: one in forty not checked, one in fifteen with findings, some not decided."""
    given = list(names)
    dice = random.Random(8)
    lines = [
        _drawn(i, given[i] if i < len(given) else f"Invented {i:05d}", zones, dice) for i in range(count)
    ]
    totals = build_totals(
        lines,
        zones=tuple(_counted(zone_line(i), lines) for i in range(1, zones + 1)),
        unread=tuple(
            Unread(
                file=f"part-{i:04d}.parquet", reason="column lat: missing", vessels=None if i % 2 else ("A",)
            )
            for i in range(unread)
        ),
        assumptions=(
            ("Each position is taken to be true within 15 m.", count),
            ("Edges of 12 zones that do not say are taken as rhumb lines.", count),
            ("The vessel was taken to be able to make 12 kn.", count - 3),
        ),
        remarks=("zones.geojson: zone 7 has no source",),
    )
    return totals, lines


def _drawn(number: int, name: str, zones: int, dice: random.Random) -> VesselLine:
    zone = dice.randrange(1, zones + 1)
    place = {"worst_lon_deg": dice.uniform(-15.0, 5.0), "worst_lat_deg": dice.uniform(46.0, 61.0)}
    where = {"worst_zone_id": f"zone-{zone}", "worst_zone_name": f"Invented Bank {zone}", **place}
    if number % 40 == 7:
        return vessel_line(
            name,
            outcome=FleetOutcome.FAULT if number % 80 == 7 else FleetOutcome.NOT_CHECKED,
            problem="only 1 position, and a track needs 2",
            counts={},
            worst_status="",
            worst_clearance_m=None,
            worst_utc=None,
            fixes_used=1,
        )
    if number % 15 == 3:
        status = dice.choice((Status.INSIDE, Status.TOO_CLOSE))
        counts = {status.value: dice.randrange(1, 9), "undetermined": dice.randrange(4), "clear": 20}
        least = dice.uniform(-2500.0, 0.0) if status is Status.INSIDE else dice.uniform(0.0, 463.0)
        return vessel_line(
            name,
            outcome=FleetOutcome.FINDING,
            counts=counts,
            worst_status=status.value,
            worst_clearance_m=round(least, 2),
            found_in=(f"zone-{zone}",),
            remarks=("2 fixes repeat the one before",),
            gear_unchecked=True,
            **where,
        )
    if number % 6 == 1:
        return vessel_line(
            name,
            outcome=FleetOutcome.UNDETERMINED,
            counts={"undetermined": dice.randrange(1, 30), "clear": 11},
            worst_status="undetermined",
            worst_clearance_m=None,
            worst_utc=None,
            worst_part="vessel",
            gear_unchecked=True,
            **where,
        )
    return vessel_line(
        name, gear_unchecked=True, towing_s=dice.uniform(0, 9e5), fixes_left_out=dice.randrange(50), **where
    )


def _counted(zone: ZoneLine, lines: Sequence[VesselLine]) -> ZoneLine:
    own = [line for line in lines if line.worst_zone_id == zone.zone_id and line.worst_status]
    counts = {str(s): sum(line.worst_status == s for line in own) for s in Status}
    order = [str(s) for s in Status]
    worst = min(own, key=lambda line: order.index(line.worst_status), default=None)
    return zone_line(
        int(zone.zone_id.removeprefix("zone-")),
        vessels=counts,
        vessels_with_findings=sum(counts[s] for s in FINDINGS),
        worst_vessel="" if worst is None else worst.vessel,
        worst_status="" if worst is None else worst.worst_status,
        worst_clearance_m=None if worst is None else worst.worst_clearance_m,
    )
