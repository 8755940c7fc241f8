"""Why a log is refused as a whole, with what it does hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from towzone.errors import InputError, Problem, quoted
from towzone.logs.conflicts import too_many
from towzone.logs.fixes import Reason
from towzone.logs.nmea_counts import LogCounts
from towzone.logs.readings import Datum
from towzone.logs.receivers import Receiver
from towzone.units import format_length
from towzone.words import counted

__all__ = ["NO_STAR", "lost_stars", "nothing_usable", "refuse_conflicts", "refuse_datum", "why"]

_SHOWN = 8

_WHY = {
    Reason.VOID: "that the receiver itself marks as not valid (status V, quality 0, mode N) or leaves empty",
    Reason.ESTIMATED: "of dead reckoning, set by hand or simulated (mode E, M or S, quality 6, 7 or 8)",
    Reason.BAD_POSITION: (
        "whose position is none: degrees and minutes out of range, without hemisphere, or not written as"
        " degrees and minutes in one number (decimal degrees, for example)"
    ),
    Reason.ZERO_POSITION: "at 0, 0, which receivers write when they have no position,",
    Reason.BAD_TIME: "whose time of day or date is none",
    Reason.CONFLICTING_TIME: "of moments at which the receiver stands at places more than 50 m apart",
}
_LOST = "marked as not valid or whose mark was lost with the asterisk"
_BY_CHANCE = 0.02
"""Own choice: of sentences without checksums one in 256 ends in what would be the right one, at most."""

NO_STAR = (
    "end in their checksum without the asterisk (*) before it, so that the last field, the mode or status in"
    " many, cannot be told from it; have the logger keep the asterisk"
)


def lost_stars(counts: LogCounts) -> bool:
    """Return whether more sentences end in their checksum without an asterisk than by chance."""
    return counts.numbers["no_star"] > _BY_CHANCE * counts.numbers["no_checksum"]


def why(counts: LogCounts) -> dict[Reason, str]:
    """Return what is wrong with fixes of each reason, to stand behind their number."""
    return _WHY | {Reason.VOID: _LOST} if lost_stars(counts) else _WHY


def nothing_usable(counts: LogCounts, receivers: Sequence[Receiver], file: str) -> InputError:
    """Return the refusal of a log without a single fix that can be used, with what it does hold."""
    numbers = counts.numbers
    holds = [counted(numbers["sentences"], "sentence")]
    holds += [
        f"{numbers[word]} {what}"
        for word, what in (
            ("bad_checksum", "with a wrong checksum"),
            ("cut", "cut off"),
            ("ais", "of AIS"),
            ("positions", "of positions (RMC, GGA, GNS, GLL)"),
            ("empty", "of these with neither time nor position"),
            ("other_types", "of types that are not read"),
        )
        if numbers[word]
    ]
    types = counts.types(_SHOWN)
    if types:
        holds[-1] += f" ({', '.join(types)})"
    message = f"no position of this log can be used. It holds {', '.join(holds)}"
    of_reason = {word: sum(int((one.fixes.reason == word).sum()) for one in receivers) for word in _WHY}
    faults = [
        f"{counted(of_reason[word], 'fix', 'fixes')} {text}"
        for word, text in why(counts).items()
        if of_reason[word]
    ]
    message += f"; in them are {', '.join(faults)}" if faults else ""
    if lost_stars(counts):
        message += f". {counted(numbers['no_star'], 'sentence')} {NO_STAR}"
    if numbers["ais"]:
        message += ". Positions of other vessels in AIS sentences are read with --only MMSI"
    return InputError(file, [Problem("", message)])


def refuse_conflicts(one: Receiver, others: Sequence[Receiver], file: str) -> None:
    """Refuse a receiver that stands at two places at too many of its moments.

    Raises
    ------
    InputError
        Which of two devices of one name is the vessel cannot be told.
    """
    some = one.conflicts
    moments = int(one.usable().sum()) + some.number
    if not too_many(some.number, moments):
        return
    message = (
        f"the receiver {quoted(one.name)} stands at two places at the same moment: {some.number} of its"
        f" {counted(moments, 'position')} lie more than 50 m from another of their moment, the first here, up"
        f" to {format_length(some.largest_m)}. So do two devices of one name in one log, or a clock that"
        " stands still; which is the vessel cannot be told. Split the log by device"
    )
    if others:
        names = ", ".join(quoted(other.name) for other in others[:_SHOWN])
        message += f", or take another receiver with --receiver ({names})"
    raise InputError(file, [Problem(f"line {int(some.line[0])}", message)])


def refuse_datum(
    datums: Mapping[int, Datum],
    judged: Sequence[Receiver],
    passed: Sequence[Receiver],
    names: Sequence[tuple[str, str]],
    file: str,
) -> None:
    """Refuse positions on another datum than WGS 84, unless another receiver of the log declares it."""
    of_others = {other.sender for other in passed} - {one.sender for one in judged}
    foreign = next((datum for sender, datum in datums.items() if sender not in of_others), None)
    if foreign is None:
        return
    message = (
        f"the receiver {quoted(names[foreign.sender][0])} declares its positions to be on the datum"
        f" {quoted(foreign.code)}, not WGS 84; they cannot be taken as they are. Set the receiver to WGS 84"
        " for the next trip, or transform this log's positions to WGS 84 and give them as CSV or GPX"
    )
    if of_others:
        message += "; or take another receiver of the log, with --receiver"
    raise InputError(file, [Problem(f"line {foreign.line}", message)])
