"""The zones of an audit, the files that could not be read and the inputs, as long tables."""

from __future__ import annotations

from towzone.model.fleet import FleetTotals, Unread, ZoneLine, in_one_line
from towzone.model.result import Status
from towzone.model.zone import ZoneKind
from towzone.record.catalogue import say
from towzone.record.overview.ledger import Cell, Column, Entry, Form, Ledger
from towzone.record.overview.vessels import NAME_LENGTH, length_text, name_text
from towzone.record.text import SENTENCE, short
from towzone.record.words import KIND, STATUS

__all__ = ["input_ledger", "unread_ledger", "zone_ledger"]

_OPEN = (Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED)

_COLUMNS = (
    Column(name="zone", sorted_by="text"),
    *(Column(name=status.value, form=Form.FIGURE, sorted_by="key") for status in _OPEN),
    Column(name="worst", sorted_by="text"),
    Column(name="clearance", form=Form.FIGURE, sorted_by="key"),
    Column(name="source"),
)


def zone_ledger(totals: FleetTotals) -> Ledger:
    """Return the zones, those with most vessels inside first."""
    zones = sorted(totals.zones, key=_badness)
    return Ledger(name="zones", columns=_COLUMNS, entries=tuple(_zone(zone) for zone in zones))


def _badness(zone: ZoneLine) -> tuple[int, ...]:
    return tuple(-zone.vessels.get(status, 0) for status in _OPEN)


def _zone(zone: ZoneLine) -> Entry:
    keys = {status.value: float(zone.vessels.get(status, 0)) for status in _OPEN}
    if zone.worst_clearance_m is not None:
        keys["clearance"] = zone.worst_clearance_m
    kind = KIND[ZoneKind(zone.kind)] if zone.kind in set(ZoneKind) else short(zone.kind, NAME_LENGTH)
    identity = short(zone.zone_id, NAME_LENGTH)
    required = ""
    if zone.margin_m is not None:
        required = say("overview.vessels.required", length=length_text(zone.margin_m))
    return Entry(
        look=next((status.value for status in _OPEN if zone.vessels.get(status, 0)), "none"),
        cells=(
            (
                short(zone.name or zone.zone_id, NAME_LENGTH),
                say("table.row.zone", kind=kind, zone_id=identity),
            ),
            *((str(zone.vessels.get(status, 0)), "") for status in _OPEN),
            _worst(zone),
            (length_text(zone.worst_clearance_m) if zone.worst_vessel else "", required),
            (short(zone.source) if zone.source else say("evidence.zones.no_source"), ""),
        ),
        keys=keys,
    )


def _worst(zone: ZoneLine) -> Cell:
    if not zone.worst_vessel:
        return "", ""
    below = STATUS[Status(zone.worst_status)] if zone.worst_status in set(Status) else ""
    return name_text(zone.worst_vessel), below


def unread_ledger(totals: FleetTotals) -> Ledger:
    """Return the files and parts of files that could not be read, in their order."""
    return Ledger(
        name="unread",
        columns=(
            Column(name="file", sorted_by="text"),
            Column(name="why"),
            Column(name="whose"),
        ),
        entries=tuple(
            Entry(
                look="none",
                cells=(
                    (short(one.file), ""),
                    (short(_why(one), SENTENCE), ""),
                    (_whose(one.vessels), ""),
                ),
            )
            for one in totals.unread
        ),
    )


def _why(one: Unread) -> str:
    """Return the reason without the name of the file, which stands beside it."""
    return in_one_line(one.reason, one.file).removeprefix(f"{one.file}: ")


def _whose(vessels: tuple[str, ...] | None) -> str:
    if vessels is None:
        return say("overview.unread.not_known")
    return short(", ".join(short(vessel, NAME_LENGTH) for vessel in vessels[:_MOST_NAMES]), SENTENCE) + (
        say("overview.unread.more", count=len(vessels) - _MOST_NAMES) if len(vessels) > _MOST_NAMES else ""
    )


_MOST_NAMES = 5
"""Own choice; each of these vessels says it in its own row."""


def input_ledger(totals: FleetTotals) -> Ledger:
    """Return the inputs with their digests, in their order."""
    return Ledger(
        name="sources",
        columns=(
            Column(name="file", sorted_by="text"),
            Column(name="role", sorted_by="text"),
            Column(name="bytes", form=Form.FIGURE, sorted_by="key"),
            Column(name="sha", form=Form.CODE),
        ),
        entries=tuple(
            Entry(
                look="none",
                cells=(
                    (short(one.file), ""),
                    (short(one.role.replace("_", " "), NAME_LENGTH), ""),
                    (str(one.bytes), ""),
                    (short(one.sha256, NAME_LENGTH), ""),
                ),
                keys={"bytes": float(one.bytes)},
            )
            for one in totals.inputs
        ),
    )
