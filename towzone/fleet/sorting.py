"""What all pieces of an audit gave, put together: who is in them, where, and what of it cannot be used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from towzone.errors import InputError
from towzone.files.inputs import name_stem
from towzone.files.table_parts import Settled, disagreement
from towzone.fleet.keys import known_by, name_key
from towzone.fleet.pieces import Cut, Piece
from towzone.fleet.reading import OTHERS, Receipt, Refusal
from towzone.fleet.spool import Spooled
from towzone.fleet.tasks import VesselTask
from towzone.model.fleet import KnownBy, Unread

__all__ = ["Sorted", "sorted_vessels"]

_REASONS = 5
"""Own choice: so many reasons why positions could not be read are told of a vessel, the others counted."""
_CLOCKS, _INSTANTS = "timestamps without a zone", "timestamps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """What is to be checked, and what could not be read.

    Parameters
    ----------
    tasks : tuple of VesselTask
        In order of the vessels' names.
    unread : tuple of Unread
    remarks : tuple of str
        On the inputs.
    routes : int
    missing : tuple of str
        Vessels asked for that are in no input.
    others : tuple of str
        Then some of those that are, in order.
    by_file : int
        Vessels known by the name of their file only.
    aside : tuple of str
        Inputs that do not say whose they are, left aside because others were asked for.
    """

    tasks: tuple[VesselTask, ...]
    unread: tuple[Unread, ...]
    remarks: tuple[str, ...]
    routes: int
    missing: tuple[str, ...]
    others: tuple[str, ...]
    by_file: int
    aside: tuple[str, ...]


@dataclass(slots=True)
class _Vessel:
    """One vessel as it is put together."""

    key: str
    spellings: dict[str, None] = field(default_factory=dict)
    files: dict[str, None] = field(default_factory=dict)
    spools: dict[tuple[int, str], None] = field(default_factory=dict)
    fixes: int = 0
    unread: dict[str, None] = field(default_factory=dict)
    asked_for: bool = False


def sorted_vessels(
    read: Sequence[tuple[Piece, Receipt]], refused: Sequence[Unread], only: Sequence[str]
) -> Sorted:
    """Return all vessels of an audit, and what of their positions could not be read.

    Parameters
    ----------
    read : sequence of (Piece, Receipt)
        In the order of the pieces.
    refused : sequence of Unread
        Files that could not be looked over.
    only : sequence of str
        Vessels asked for; empty for all.
    """
    vessels: dict[str, _Vessel] = {}
    unread = list(refused)
    by_source: dict[int, list[tuple[Piece, Receipt]]] = {}
    for piece, receipt in read:
        by_source.setdefault(piece.file.source, []).append((piece, receipt))
    for pieces in by_source.values():
        unread += _add_source(vessels, pieces, only)
    found = _chosen(vessels, only)
    names = _names(found)
    tasks = [
        VesselTask(
            key=one.key,
            vessel=names[one.key],
            spellings=tuple(one.spellings),
            files=tuple(one.files),
            spools=tuple(one.spools),
            fixes=one.fixes,
            unread=_some(one.unread),
        )
        for one in found
    ]
    keys, met = {one.key for one in found}, {name for _, receipt in read for name in receipt.found}
    by_name = set(names.values())
    return Sorted(
        tasks=tuple(sorted(tasks, key=lambda task: (task.vessel, task.key))),
        unread=tuple(unread),
        remarks=tuple(dict.fromkeys(said for _, receipt in read for said in receipt.remarks)),
        routes=sum(receipt.routes for _, receipt in read),
        missing=tuple(o for o in only if o not in met and name_key(o) not in keys and o not in by_name),
        others=tuple(_others(read)),
        by_file=sum(known_by(one.key) is KnownBy.FILE for one in found),
        aside=tuple(
            dict.fromkeys(
                file
                for one in vessels.values()
                if known_by(one.key) is KnownBy.FILE and one.key not in keys
                for file in one.files
            )
        ),
    )


def _others(read: Sequence[tuple[Piece, Receipt]]) -> list[str]:
    """Return names of vessels in the inputs, to choose from."""
    names = {name for _, receipt in read for name in receipt.others}
    for piece, receipt in read:
        if piece.cut is Cut.WHOLE:
            names |= {spooled.vessel or name_stem(piece.file.file) for _, spooled in receipt.vessels}
    return sorted(names)[:OTHERS]


def _add_source(
    vessels: dict[str, _Vessel], pieces: Sequence[tuple[Piece, Receipt]], only: Sequence[str]
) -> list[Unread]:
    """Add the pieces of one input; return what of it could not be read."""
    file = pieces[0][0].file.file
    clocks = _refused_clocks(pieces)
    used = [(piece, receipt) for piece, receipt in pieces if piece.number not in clocks]
    contradiction = _contradiction(file, [receipt for _, receipt in used])
    unread: list[Unread] = []
    for piece, receipt in pieces:
        reason = clocks.get(piece.number, contradiction)
        for place, spooled in receipt.vessels:
            vessel = _of(vessels, spooled, file)
            # Readers of tables have left all others aside, by any column that names a vessel.
            vessel.asked_for |= piece.cut is not Cut.WHOLE and known_by(spooled.key) is KnownBy.NAME
            if reason is not None:
                vessel.unread[reason] = None
                continue
            vessel.spools[piece.file.source, receipt.spools[place][0]] = None
            vessel.fixes += spooled.fixes + spooled.left_out
        for refusal in receipt.refusals:
            unread += _refused(vessels, refusal, file)
    _mark_all(vessels, pieces)
    for reason in dict.fromkeys([*clocks.values(), *([contradiction] if contradiction else [])]):
        affected = _spelled(pieces, clocks if contradiction is None else None)
        unread.append(Unread(file=file, reason=reason, vessels=affected))
    nothing = not any(receipt.vessels for _, receipt in pieces) and not unread
    if nothing and not only and not any(receipt.routes for _, receipt in pieces):
        unread.append(Unread(file=file, reason=f"{file}: holds no position", vessels=None))
    return unread


def _mark_all(vessels: Mapping[str, _Vessel], pieces: Sequence[tuple[Piece, Receipt]]) -> None:
    """Mark every vessel met in an input where it is not known whose some of its rows are: they may be its."""
    reasons = [one.reason for _, receipt in pieces for one in receipt.refusals if one.vessels is None]
    for _, receipt in pieces:
        for _, spooled in receipt.vessels:
            vessels[spooled.key].unread |= dict.fromkeys(reasons)


def _of(vessels: dict[str, _Vessel], spooled: Spooled, file: str) -> _Vessel:
    vessel = vessels.setdefault(spooled.key, _Vessel(spooled.key))
    if spooled.vessel:
        vessel.spellings[spooled.vessel] = None
    vessel.files[file] = None
    return vessel


def _refused(vessels: dict[str, _Vessel], refusal: Refusal, file: str) -> list[Unread]:
    if refusal.vessels is None:
        return [Unread(file=file, reason=refusal.reason, vessels=None, fault=refusal.fault)]
    for key, name in refusal.vessels:
        vessel = _of(vessels, Spooled(key=key, vessel=name, fixes=0, left_out=0), file)
        vessel.unread[refusal.reason] = None
    names = tuple(name or name_stem(file) for _, name in refusal.vessels)
    return [Unread(file=file, reason=refusal.reason, vessels=names)]


def _refused_clocks(pieces: Sequence[tuple[Piece, Receipt]]) -> dict[int, str]:
    """Return the pieces of a table whose times state no zone while those of other parts do, and why not."""
    forms = {settled.time_form for _, receipt in pieces for settled in receipt.settled}
    if not {_CLOCKS, _INSTANTS} <= forms:
        return {}
    return {
        piece.number: (
            f"{piece.file.shown}: its times state no zone, while those of other parts of the table do; state"
            " the zone with --track-tz (for example UTC)"
        )
        for piece, receipt in pieces
        if any(settled.time_form == _CLOCKS for settled in receipt.settled)
    }


def _contradiction(file: str, receipts: Iterable[Receipt]) -> str | None:
    """Return why the pieces of an input cannot be read as one table, if they cannot."""
    some = list(receipts)
    settled: list[Settled] = [one for receipt in some for one in receipt.settled]
    named = any(spooled.vessel for receipt in some for _, spooled in receipt.vessels)
    error: InputError | None = disagreement(file, settled, named=named)
    if error is not None:
        return str(error)
    if any(one.is_open for one in settled):
        return (
            f"{file}: its times can be read in several ways, and nothing in it settles which is meant: state"
            " the order of day and month with --date-order dmy or --date-order mdy, or name a column of"
            " numbers epoch_s"
        )
    return None


def _spelled(
    pieces: Sequence[tuple[Piece, Receipt]], some: Mapping[int, str] | None
) -> tuple[str, ...] | None:
    """Return the names in some pieces (or all), ``None`` where a piece does not tell whose it is."""
    chosen = [(p, r) for p, r in pieces if some is None or p.number in some]
    if any(receipt.is_open for _, receipt in chosen):
        return None
    names = (one.vessel or name_stem(p.file.file) for p, r in chosen for _, one in r.vessels)
    return tuple(dict.fromkeys(names))


def _chosen(vessels: Mapping[str, _Vessel], only: Sequence[str]) -> list[_Vessel]:
    if not only:
        return list(vessels.values())
    keys = {name_key(name) for name in only}
    stems = set(only)
    return [
        one
        for one in vessels.values()
        if one.asked_for
        or one.key in keys
        or (known_by(one.key) is KnownBy.FILE and any(name_stem(file) in stems for file in one.files))
    ]


def _names(found: Sequence[_Vessel]) -> dict[str, str]:
    """Return what vessels are called: as first spelled, or by their file, by its path if two are alike."""
    names: dict[str, str] = {}
    taken: dict[str, int] = {}
    for one in found:
        own = next(iter(one.spellings), "") if known_by(one.key) is KnownBy.NAME else ""
        names[one.key] = own or name_stem(next(iter(one.files)))
        if not own:
            taken[names[one.key]] = taken.get(names[one.key], 0) + 1
    for one in found:
        if known_by(one.key) is KnownBy.FILE and taken[names[one.key]] > 1:
            names[one.key] = next(iter(one.files))
    return names


def _some(reasons: Mapping[str, None]) -> tuple[str, ...]:
    told = list(reasons)
    hidden = len(told) - _REASONS
    return (*told[:_REASONS], *([f"and {hidden} more"] if hidden > 0 else []))
