"""What a person should know of how a log was read: what was left out, chosen, assumed and doubted."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.logs.dating import BY_DATE, BY_LOGGER
from towzone.logs.fixes import TOLERANCE_US, Reason
from towzone.logs.nmea_counts import LogCounts
from towzone.logs.receivers import Receiver
from towzone.model.result import Remark
from towzone.tracks.raw import NOT_A_TIME
from towzone.units import format_instant
from towzone.words import counted

__all__ = ["log_remarks", "nothing_usable"]

Ints = npt.NDArray[np.int64]

_NEARLY_ALL = 0.9
"""Own choice: a log with checksums on fewer than one sentence in ten has none as a rule."""
_SHOWN = 8
_MOST_RECEIVERS = 12

_WHY = {
    Reason.VOID: "that the receiver itself marks as not valid (status V, quality 0, mode N) or leaves empty",
    Reason.ESTIMATED: "of dead reckoning, set by hand or simulated (mode E, M or S, quality 6, 7 or 8)",
    Reason.BAD_POSITION: (
        "whose position is none: degrees and minutes out of range, without hemisphere, or not written as"
        " degrees and minutes in one number (decimal degrees, for example)"
    ),
    Reason.ZERO_POSITION: "at 0, 0, which receivers write when they have no position,",
    Reason.BAD_TIME: "whose time of day or date is none",
}


def log_remarks(one: Receiver, others: Sequence[Receiver], counts: LogCounts, file: str) -> list[Remark]:
    """Return the remarks on a log of which one receiver is used."""
    messages = _sentence_messages(counts)
    messages += _receiver_messages(one, others)
    messages += _fix_messages(one)
    messages += _date_messages(one)
    messages += _reading_messages(one, counts)
    return [
        Remark(file=file, where=f"line {line}" if line else "", message=message) for line, message in messages
    ]


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
    why = [f"{_fixes(of_reason[word])} {text}" for word, text in _WHY.items() if of_reason[word]]
    message += f"; in them are {', '.join(why)}" if why else ""
    if numbers["ais"]:
        message += ". Positions of other vessels in AIS sentences are read with --only MMSI"
    return InputError(file, [Problem("", message)])


def _sentence_messages(counts: LogCounts) -> list[tuple[int, str]]:
    numbers = counts.numbers
    found = []
    if numbers["bad_checksum"]:
        message = f"{counted(numbers['bad_checksum'], 'sentence')} with a wrong checksum left out"
        found.append((0, f"{message}, of {numbers['sentences']}"))
    if numbers["cut"]:
        found.append((0, f"{counted(numbers['cut'], 'sentence')} cut off or broken left out"))
    if numbers["no_checksum"] > _NEARLY_ALL * counts.whole:
        found.append((0, "the log has no checksums; damage to its figures cannot be seen"))
    elif numbers["no_checksum"]:
        message = (
            f"{counted(numbers['no_checksum'], 'sentence')} of {counts.whole} without a checksum taken like"
            " the others, as far as complete; damage to their figures cannot be seen"
        )
        found.append((0, message))
    if numbers["ais"]:
        message = (
            f"{counted(numbers['ais'], 'AIS sentence')} not read: the log has positions of the vessel itself."
            " --only MMSI reads the positions of a vessel from AIS instead"
        )
        found.append((0, message))
    if numbers["bad_time_or_date"]:
        count = counted(numbers["bad_time_or_date"], "sentence")
        found.append((0, f"{count} with a time or date that does not exist; it counts as unknown"))
    return found


def _receiver_messages(one: Receiver, others: Sequence[Receiver]) -> list[tuple[int, str]]:
    if not others:
        return []
    shown = [one, *others][:_MOST_RECEIVERS]
    listed = ", ".join(
        f"{_shown(receiver.name)} {counted(int(receiver.usable().sum()), 'fix', 'fixes')}"
        f"{'' if receiver.has_dates else ' without dates'}"
        for receiver in shown
    )
    more = len(others) + 1 - len(shown)
    message = (
        f"positions of {len(others) + 1} receivers in one log: {listed}{f' and {more} more' if more else ''}."
        f" {_shown(one.name)} was taken, for the whole log; --receiver takes another. Fixes of different"
        " receivers are never mixed, antennas apart would lengthen the track"
    )
    found = [(0, message)]
    for other in others[:_MOST_RECEIVERS]:
        filled, silences = _in_silences(one, other)
        if filled:
            message = (
                f"receiver {_shown(other.name)} has {counted(filled, 'fix', 'fixes')} in"
                f" {counted(silences, 'silence')} of {_shown(one.name)} longer than 5 min; they were not"
                " filled in"
            )
            found.append((0, message))
    return found


def _in_silences(one: Receiver, other: Receiver) -> tuple[int, int]:
    """Return how many fixes of another receiver lie in silences of the one used, and in how many of these."""
    own = one.times.time_us[one.usable()]
    own = np.sort(own[own != NOT_A_TIME])
    theirs = other.times.time_us[other.usable()]
    theirs = theirs[theirs != NOT_A_TIME]
    if len(own) < 2 or not len(theirs):
        return 0, 0
    place = np.searchsorted(own, theirs)
    inside = (place > 0) & (place < len(own))
    place = place[inside]
    silent = own[place] - own[place - 1] > TOLERANCE_US
    return int(silent.sum()), len(np.unique(place[silent]))


def _fix_messages(one: Receiver) -> list[tuple[int, str]]:
    found = []
    reason, lines = one.fixes.reason, one.fixes.line
    for word, text in _WHY.items():
        own = lines[reason == word]
        # What stands at 0, 0 is told where the track is put together.
        if len(own) and word != Reason.ZERO_POSITION:
            found.append((int(own[0]), f"{_fixes(len(own))} {text} left out, the first here"))
    usable = one.usable()
    timeless = lines[(reason == Reason.GOOD) & ~usable & ~one.times.wrong]
    if len(timeless):
        message = (
            f"{_fixes(len(timeless))} without a time of day left out, as others have one; the first here"
        )
        found.append((int(timeless[0]), message))
    apart = lines[one.fixes.apart & usable]
    if len(apart):
        message = (
            f"{_fixes(len(apart))} whose sentences of the same moment stand more than 50 m apart, the first"
            " here; the one written with most decimals was taken"
        )
        found.append((int(apart[0]), message))
    return found


def _date_messages(one: Receiver) -> list[tuple[int, str]]:
    times, lines = one.times, one.fixes.line
    usable = one.usable()
    undated = lines[usable & (times.time_us == NOT_A_TIME)]
    found = []
    if len(undated) == int(usable.sum()):
        message = (
            "no date in the log: none of its fixes has a day. State the day (UTC) of the first position with"
            " --date; until then, rules with dates or seasons cannot be judged"
        )
        if not (one.fixes.time_us != NOT_A_TIME).any():
            message = "no times in the log: none of its fixes has one"
        return [(int(undated[0]), message)]
    if len(undated):
        message = (
            f"{_fixes(len(undated))} without a sure date, the first here: before the first date of the log,"
            " or between dates that do not agree. They are kept without times"
        )
        found.append((int(undated[0]), message))
    if one.dated_by:
        first = np.datetime64(one.first_time_us, "us")
        message = (
            f"receiver {_shown(one.name)} tells no date; its days were taken from {one.dated_by}, from"
            f" {format_instant(first)} on"
        )
        found.append((0, message))
    if times.before_first:
        message = (
            f"{_fixes(times.before_first)} before the first date dated back from it: their times of day lead"
            " up to it without a silence"
        )
        found.append((0, message))
    found += _contradictions(one, lines)
    if times.counted_on is not None:
        source = "the day given" if one.dated_by == BY_DATE else "the last date"
        message = (
            f"after {source} days were counted on over {counted(times.counted_on.number, 'silence')} of more"
            " than 5 min, the first before this line, as if shorter than a day; if one was longer, later"
            " fixes are whole days too early"
        )
        found.append((int(lines[times.counted_on.row]), message))
    return found


def _contradictions(one: Receiver, lines: npt.NDArray[np.uint32]) -> list[tuple[int, str]]:
    times = one.times
    dates = "times of the logger" if one.dated_by == BY_LOGGER else "dates"
    found = []
    if times.wrong.any():
        wrong = lines[times.wrong]
        message = (
            f"{_fixes(len(wrong))} left out whose {dates} are years away from the rest of the log, as"
            " receivers write before they know the date; the first here"
        )
        found.append((int(wrong[0]), message))
    for days, some in times.corrected.items():
        message = (
            f"{counted(some.number, 'date')} put forward by {days} days, whole rounds of 1024 weeks, because"
            " the dates beside them in the log are so much ahead; the first here"
        )
        found.append((int(lines[some.row]), message))
    if times.doubted is not None:
        message = (
            f"{counted(times.doubted.number, 'date')} contradict those around them and do not count, the"
            " first here"
        )
        found.append((int(lines[times.doubted.row]), message))
    if len(times.backward):
        message = (
            f"the {dates} go back {counted(len(times.backward), 'time')}, the first time here; a new part of"
            " the track begins there"
        )
        found.append((int(lines[times.backward[0]]), message))
    return found


def _reading_messages(one: Receiver, counts: LogCounts) -> list[tuple[int, str]]:
    found = []
    depths = int((~np.isnan(one.fixes.depth_m)).sum())
    if depths:
        surface, total = counts.numbers["depths_from_waterline"], sum(counts.talkers("dpt", "dbt").values())
        referred = "below the transducer"
        if surface == total:
            referred = "below the waterline, by the offset of the transducer in the log"
        elif surface:
            referred = (
                f"below the waterline where the log has the offset of the transducer ({surface} of {total}),"
                " else below the transducer"
            )
        found.append((0, f"{counted(depths, 'fix', 'fixes')} with a depth, {referred}"))
    for what, words in (("heading", ("hdt", "hdg")), ("depth", ("dpt", "dbt"))):
        talkers = counts.talkers(*words)
        if len(talkers) > 1:
            listed = ", ".join(f"{_shown(talker)} {count}" for talker, count in talkers.items())
            message = f"{what} from several devices ({listed}): the first said after each position was taken"
            found.append((0, message))
    return found


def _fixes(count: int) -> str:
    return counted(count, "fix", "fixes")


def _shown(name: str) -> str:
    return name if name.isalnum() and name.isascii() else quoted(name)
