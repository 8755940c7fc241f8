"""The vessels of an audit as a long table, worst first."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from towzone.model.fleet import FleetOutcome, FleetTotals, KnownBy, VesselLine, in_one_line, record_name
from towzone.model.result import Status
from towzone.record.catalogue import say, say_count
from towzone.record.overview.commands import check_words, shell_command
from towzone.record.overview.ledger import Cell, Column, Command, Entry, Form, Ledger
from towzone.record.text import SENTENCE, short
from towzone.record.words import STATUS
from towzone.units import format_position, format_time

__all__ = [
    "NAME_LENGTH",
    "STANDING",
    "counted",
    "grouped",
    "hours_text",
    "length_text",
    "name_text",
    "vessel_ledger",
]

NAME_LENGTH = 80
"""Characters of a name that a row shows. Own choice, as in the record."""

STANDING = {standing: say(f"overview.standing.{standing}") for standing in FleetOutcome}

_COLUMNS = (
    Column(name="vessel", sorted_by="text"),
    Column(name="result", form=Form.STATUS, sorted_by="key"),
    Column(name="worst", sorted_by="text"),
    Column(name="clearance", form=Form.FIGURE, sorted_by="key"),
    Column(name="when", form=Form.FIGURE, sorted_by="key"),
    Column(name="towing", form=Form.FIGURE, sorted_by="key"),
    Column(name="gaps", form=Form.FIGURE, sorted_by="key"),
    Column(name="left_out", form=Form.FIGURE, sorted_by="key"),
)

_UNCHECKED = (FleetOutcome.FAULT, FleetOutcome.NOT_CHECKED)

_LONGEST_COMMAND = 4000
"""Characters. Own choice: some terminals take no more than 4096 of a line."""

_HEAD, _RECORD = ("towzone", "check"), "--record"
"""What is typed is the same in every language."""


def vessel_ledger(totals: FleetTotals, lines: Sequence[VesselLine], records: Collection[str]) -> Ledger:
    """Return the table.

    Parameters
    ----------
    totals : FleetTotals
    lines : sequence of VesselLine
        Worst first.
    records : collection of str
        Names of the records that were made.
    """
    found = [zone.zone_id for zone in totals.zones if zone.vessels_with_findings]
    numbers = {zone_id: i for i, zone_id in enumerate(found)}
    names = {zone.zone_id: short(zone.name or zone.zone_id, NAME_LENGTH) for zone in totals.zones}
    tail = shell_command([*totals.check_words, _RECORD])
    return Ledger(
        name="vessels",
        columns=_COLUMNS,
        entries=tuple(
            _entry(i, line, numbers, records, with_command=tail is not None) for i, line in enumerate(lines)
        ),
        looks=tuple(_looks(lines)),
        groups=tuple(names[zone_id] for zone_id in found),
        head=" ".join(_HEAD),
        tail=tail or "",
        page=50,
    )


def _looks(lines: Sequence[VesselLine]) -> list[tuple[str, str]]:
    standings = [line.standing for line in lines]
    looks: list[tuple[str, str]] = []
    for standing in FleetOutcome:
        count = standings.count(standing)
        if count:
            looks.append((_look(standing), counted(count, STANDING[standing])))
    return looks


def _look(standing: FleetOutcome) -> str:
    return str(standing)


def counted(count: int, words: str) -> str:
    """Return words with their count behind them."""
    return say("overview.tools.counted", words=words, count=count)


def _entry(
    number: int,
    line: VesselLine,
    numbers: dict[str, int],
    records: Collection[str],
    *,
    with_command: bool,
) -> Entry:
    name = record_name(line.vessel, line.known_by)
    made = name in records
    # Of a vessel of which nothing could be read a check is refused, too: there is no record to be made.
    readable = line.fixes_read > 0 or line.standing not in _UNCHECKED
    command = _command(line, name) if with_command and readable and not made else None
    keys: dict[str, float | None] = {
        "result": float(number),
        "clearance": line.worst_clearance_m,
        "when": _seconds(line.worst_utc),
        "towing": line.towing_s if _is_known(line) else None,
        "gaps": line.gap_s if _is_known(line) else None,
        "left_out": float(line.fixes_left_out),
    }
    return Entry(
        look=_look(line.standing),
        cells=(
            (name_text(line.vessel), _beside_name(line)),
            (STANDING[line.standing], _counts(line)),
            _worst(line),
            _clearance(line),
            _when(line),
            _towing(line),
            _gaps(line),
            _fixes(line),
        ),
        keys={name: key for name, key in keys.items() if key is not None},
        note=_note(line, no_way=readable and not made and command is None),
        link=f"records/{name}" if made else "",
        command=command,
        groups=tuple(sorted(numbers[zone_id] for zone_id in line.found_in if zone_id in numbers)),
    )


def _beside_name(line: VesselLine) -> str:
    said = [say("overview.vessels.by_file")] if line.known_by is KnownBy.FILE else []
    if line.remarks:
        said.append(say_count("overview.vessels.remarks", len(line.remarks)))
    return "; ".join(said)


def _counts(line: VesselLine) -> str:
    """Return findings by kind and what is open; what is clear is not worth a line."""
    told = (Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED)
    return ", ".join(
        say("overview.vessels.count", count=line.counts[status], word=STATUS[status].lower())
        for status in told
        if line.counts.get(status, 0)
    )


def _note(line: VesselLine, *, no_way: bool) -> str:
    said = [short(in_one_line(line.problem, ""), SENTENCE)] if line.problem else []
    if line.standing in _UNCHECKED and not said:
        # Not checked, and nobody said why: that is said.
        said.append(say("overview.vessels.no_reason"))
    if no_way:
        said.append(say("overview.vessels.no_command"))
    return " ".join(said)


def _worst(line: VesselLine) -> Cell:
    if not line.worst_status:
        # Of a vessel that was not checked nobody knows what was within reach.
        unchecked = line.standing in _UNCHECKED
        return say("shared.not_known") if unchecked else say("overview.vessels.no_row"), ""
    what = STATUS[Status(line.worst_status)]
    if line.worst_part:
        what = say("overview.vessels.part", what=what, part=say(f"table.part.{line.worst_part}"))
    return short(line.worst_zone_name or line.worst_zone_id, NAME_LENGTH), what


def length_text(length_m: float | None) -> str:
    """Return a length in metres, or that it is not known."""
    return say("shared.not_known") if length_m is None else f"{length_m + 0.0:.1f} m"


def hours_text(seconds: float) -> str:
    r"""Return a time in hours, as long times of many vessels are compared.

    Examples
    --------
    >>> hours_text(5400.0)
    '1.5\u202fh'
    """
    return f"{seconds / 3600.0:.1f}\u202fh"


def grouped(count: int) -> str:
    r"""Return a count with its thousands apart, by narrow blanks that do not break.

    Examples
    --------
    >>> grouped(21600)
    '21\u202f600'
    """
    return f"{count:,}".replace(",", "\u202f")


def name_text(vessel: str) -> str:
    """Return a vessel's name as it is shown: cleaned, cut; that it is empty is said."""
    return short(vessel, NAME_LENGTH) if vessel.strip() else say("overview.vessels.no_name")


def _clearance(line: VesselLine) -> Cell:
    if not line.worst_status:
        return "", ""
    margin = line.worst_margin_m
    below = "" if margin is None else say("overview.vessels.required", length=length_text(margin))
    return length_text(line.worst_clearance_m), below


def _when(line: VesselLine) -> Cell:
    if not line.worst_status:
        return "", ""
    place = ""
    if line.worst_lon_deg is not None and line.worst_lat_deg is not None:
        place = format_position(line.worst_lon_deg, line.worst_lat_deg)
    if line.worst_utc is None:
        return (say("shared.clock.not_known") if place else ""), place
    return format_time(_instant(line.worst_utc)), place


def _instant(utc: str) -> np.datetime64:
    return np.datetime64(utc.removesuffix("Z"), "us")


def _seconds(utc: str | None) -> float | None:
    return None if utc is None else float(_instant(utc).astype(np.int64)) / 1e6


def _is_known(line: VesselLine) -> bool:
    """Return whether its positions were used at all: none of a kind is said of these only."""
    return line.fixes_used > 0 or line.standing not in _UNCHECKED


def _towing(line: VesselLine) -> Cell:
    if not _is_known(line):
        return say("shared.not_known"), ""
    tows = say_count("overview.vessels.tows", line.tows, tracked=hours_text(line.tracked_s))
    return hours_text(line.towing_s), tows


def _gaps(line: VesselLine) -> Cell:
    if not _is_known(line):
        return say("shared.not_known"), ""
    return say_count("overview.vessels.gaps", line.gaps), hours_text(line.gap_s) if line.gaps else ""


def _fixes(line: VesselLine) -> Cell:
    return grouped(line.fixes_left_out), say("overview.vessels.fixes", count=grouped(line.fixes_read))


def _command(line: VesselLine, name: str) -> Command | None:
    """Return the command that makes the record of a vessel; ``None`` where none can be written."""
    written = shell_command(check_words(line))
    if written is None or not line.files or len(written) > _LONGEST_COMMAND:
        return None
    return Command(words=written, record=name)
