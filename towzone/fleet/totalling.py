"""The totals of an audit: added up from the answers of its vessels, and written as JSON."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from towzone import __version__
from towzone.caution import CAUTION
from towzone.errors import quoted
from towzone.files.outputs import put_in_place
from towzone.files.zone_sets import ZoneSet
from towzone.fleet.answers import Answer
from towzone.fleet.gathering import Part, together
from towzone.fleet.pieces import Survey
from towzone.fleet.sorting import Sorted
from towzone.fleet.sources import SourceFile
from towzone.model.fleet import SCHEMA, FleetOutcome, FleetTotals, InputSeen, VesselLine, ZoneLine
from towzone.model.result import FINDINGS, ROLE_TRACK, InputFile, Status
from towzone.tables.rounding import rounded
from towzone.words import counted

__all__ = ["Found", "totals_of", "write_totals"]

_ASSUMPTIONS = 1000
"""Own choice: so many assumptions are told, those that hold for most vessels first; the others counted."""
_NAMED = 5
"""Own choice: so many profiles of nobody, or inputs left aside, are named, the others counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Everything that totals are made of.

    Parameters
    ----------
    answers : sequence of Answer
        Without tables, in order of the vessels' names.
    surveys : sequence of (SourceFile, Survey)
    margin_m : float or None
        That overrides those of zones.
    idle_profiles : sequence of str
        Names of files of ``--profiles`` that are for no vessel of the positions.
    """

    sorted: Sorted
    answers: Sequence[Answer]
    parts: Sequence[Part]
    vessels_sha256: str
    surveys: Sequence[tuple[SourceFile, Survey]]
    inputs: Sequence[InputFile]
    zones: ZoneSet
    settings: Mapping[str, Any]
    margin_m: float | None
    check_words: tuple[str, ...]
    idle_profiles: Sequence[str]


def totals_of(found: Found) -> FleetTotals:
    """Return the totals of an audit."""
    lines = [answer.line for answer in found.answers]
    outcomes = {outcome.value: sum(line.standing is outcome for line in lines) for outcome in FleetOutcome}
    worst = next((outcome for outcome in FleetOutcome if outcomes[outcome.value]), FleetOutcome.NOT_CHECKED)
    if found.sorted.unread and worst in (FleetOutcome.UNDETERMINED, FleetOutcome.CLEAR):
        worst = FleetOutcome.NOT_CHECKED
    starts = [line.start_utc for line in lines if line.start_utc is not None]
    ends = [line.end_utc for line in lines if line.end_utc is not None]
    files = {name: sha256 for part in found.parts for name, sha256 in part.files.items()}
    return FleetTotals(
        outcome=worst,
        said=tuple(_said(found.sorted, outcomes, lines)),
        notes=tuple(_notes(found)),
        vessels=outcomes,
        counts={status.value: sum(line.counts[status.value] for line in lines) for status in Status},
        fixes_read=sum(line.fixes_read for line in lines),
        fixes_used=sum(line.fixes_used for line in lines),
        tows=sum(line.tows for line in lines),
        gaps=sum(line.gaps for line in lines),
        towing_s=round(math.fsum(line.towing_s for line in lines), 3),
        tracked_s=round(math.fsum(line.tracked_s for line in lines), 3),
        gap_s=round(math.fsum(line.gap_s for line in lines), 3),
        start_utc=min(starts, default=None),
        end_utc=max(ends, default=None),
        unread=found.sorted.unread,
        zones=tuple(_zone_lines(found)),
        inputs=tuple(_inputs(found)),
        assumptions=tuple(_assumptions(found)),
        remarks=(*found.sorted.remarks, *(_remark(one) for one in found.zones.remarks)),
        settings=found.settings,
        methods=next((answer.methods for answer in found.answers if answer.methods), {}),
        parts={**files, "vessels.parquet": found.vessels_sha256},
        version=__version__,
        check_words=found.check_words,
    )


def _remark(one: Any) -> str:
    return ": ".join(part for part in (one.file, one.where, one.message) if part)


def _said(found: Sorted, outcomes: Mapping[str, int], lines: Sequence[VesselLine]) -> list[str]:
    said = []
    unknown = dict.fromkeys(one.file for one in found.unread if one.vessels is None)
    if unknown:
        said.append(
            f"Positions could not be read from {counted(len(unknown), 'input')}, and it is not known whose"
            " they are: any vessel may have been where this audit does not show it."
        )
    if outcomes[FleetOutcome.FAULT]:
        count = counted(outcomes[FleetOutcome.FAULT], "vessel")
        said.append(f"On {count} towzone itself failed: nothing is known of them. Please report it.")
    if outcomes[FleetOutcome.NOT_CHECKED]:
        count = counted(outcomes[FleetOutcome.NOT_CHECKED], "vessel")
        said.append(f"Of {count} positions could not be read, or not be checked: nothing there is clear.")
    left = outcomes[FleetOutcome.FAULT] + outcomes[FleetOutcome.NOT_CHECKED]
    said.append(
        f"{counted(len(lines), 'vessel')}: {outcomes[FleetOutcome.FINDING]} with findings,"
        + (f" {left} not checked," if left else "")
        + f" {outcomes[FleetOutcome.UNDETERMINED]} undetermined, {outcomes[FleetOutcome.CLEAR]} clear."
    )
    unchecked = sum(line.gear_unchecked for line in lines)
    if unchecked:
        count = counted(unchecked, "vessel")
        said.append(
            f"Of {count} the gear was not checked, only the vessel: state its figures in a vessel profile"
            " (--profiles, --vessel)."
        )
    return said


def _notes(found: Found) -> list[str]:
    """Return what else people should know, beside the answer."""
    notes = []
    if found.idle_profiles:
        count = counted(len(found.idle_profiles), "profile")
        notes.append(
            f"{count} not used, called like no vessel of these positions: {_named(found.idle_profiles)}."
        )
    if found.sorted.aside:
        count = counted(len(found.sorted.aside), "input")
        notes.append(
            f"{count} left aside, not saying whose they are nor called like a vessel asked for (--only):"
            f" {_named(found.sorted.aside)}."
        )
    if found.sorted.by_file:
        notes.append(
            f"{counted(found.sorted.by_file, 'vessel')} known by the name of a file only: the file does not"
            " say whose it is."
        )
    if found.sorted.routes:
        routes = counted(found.sorted.routes, "planned route")
        notes.append(f"{routes} left aside: an audit looks at completed tracks (towzone check takes routes).")
    return notes


def _named(files: Sequence[str]) -> str:
    told = [quoted(file) for file in files[:_NAMED]]
    return ", ".join([*told, *([f"and {len(files) - _NAMED} more"] if len(files) > _NAMED else [])])


def _zone_lines(found: Found) -> list[ZoneLine]:
    shares = together(part.zones for part in found.parts)
    statuses = [status.value for status in Status]
    lines = []
    for zone in found.zones.zones:
        share = shares.get(zone.zone_id)
        margin_m = found.margin_m if found.margin_m is not None else zone.margin_m
        rank, clearance_m, vessel = share.worst if share is not None else (0, math.inf, "")
        by_status = share.vessels if share is not None else {}
        lines.append(
            ZoneLine(
                zone_id=zone.zone_id,
                name=zone.name,
                kind=zone.kind.value,
                margin_m=rounded(margin_m),
                source=zone.source,
                counts={s: share.counts.get(s, 0) if share is not None else 0 for s in statuses},
                vessels_with_findings=sum(by_status.get(status.value, 0) for status in FINDINGS),
                vessels={status: by_status[status] for status in statuses if by_status.get(status)},
                worst_vessel=vessel,
                worst_status=statuses[rank] if share is not None else "",
                worst_clearance_m=None if math.isinf(clearance_m) else clearance_m,
            )
        )
    return lines


def _inputs(found: Found) -> list[InputSeen]:
    read = [
        InputSeen(file=file.shown, role=ROLE_TRACK, sha256=one.seen.sha256, bytes=one.seen.bytes)
        for file, one in found.surveys
    ]
    beside = [
        InputSeen(file=one.file, role=one.role, sha256=one.sha256, bytes=one.bytes) for one in found.inputs
    ]
    return [*read, *beside]


def _assumptions(found: Found) -> list[tuple[str, int]]:
    counts: dict[str, int] = {}
    for answer in found.answers:
        for sentence in answer.assumptions:
            counts[sentence] = counts.get(sentence, 0) + 1
    told = sorted(counts.items(), key=lambda pair: -pair[1])
    return told[:_ASSUMPTIONS]


def write_totals(path: Path, totals: FleetTotals, asked: Mapping[str, Any]) -> None:
    """Write totals as JSON, keys sorted, with what was asked, by which the same audit is known again."""
    data = {"schema": SCHEMA, "caution": CAUTION, "asked": dict(asked), **totals_as_data(totals)}
    text = json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    content = text.encode("utf-8", "backslashreplace")

    def write(place: Path) -> None:
        place.write_bytes(content)

    put_in_place(path, write)


def totals_as_data(totals: FleetTotals) -> dict[str, Any]:
    """Return totals as plain dictionaries and lists."""
    return dataclasses.asdict(totals)
