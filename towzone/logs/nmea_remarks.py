"""What a person should know of how a log was read: what was left out, chosen, assumed and doubted."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import quoted
from towzone.logs.dating import BY_DATE, BY_LOGGER
from towzone.logs.disagreements import Disagreement
from towzone.logs.fixes import TOLERANCE_US, Reason
from towzone.logs.nmea_counts import LogCounts
from towzone.logs.nmea_refusals import NO_STAR, lost_stars, why
from towzone.logs.receivers import Receiver
from towzone.model.result import Remark
from towzone.tracks.raw import NOT_A_TIME
from towzone.units import format_instant, format_length
from towzone.words import counted

__all__ = ["disagreement_remarks", "log_remarks", "receiver_remarks"]

_NEARLY_ALL = 0.9
"""Own choice: a log with checksums on fewer than one sentence in ten has none as a rule."""
_MOST_RECEIVERS = 12


def log_remarks(
    one: Receiver, judged: Sequence[Receiver], passed: Sequence[Receiver], counts: LogCounts, file: str
) -> list[Remark]:
    """Return the remarks on a log of which one receiver is used, others beside it or passed over."""
    messages = _sentence_messages(counts)
    messages += _receiver_messages(one, judged, passed)
    messages += _fix_messages(one, counts)
    messages += _date_messages(one)
    messages += _reading_messages(one, counts)
    return _remarks(messages, file)


def receiver_remarks(one: Receiver, counts: LogCounts, file: str) -> list[Remark]:
    """Return the remarks on a receiver that is judged beside the first."""
    messages = _fix_messages(one, counts) + _date_messages(one)
    return _remarks([(line, f"receiver {_shown(one.name)}: {message}") for line, message in messages], file)


def disagreement_remarks(
    one: Receiver,
    apart: Sequence[tuple[Receiver, Disagreement]],
    judged: Sequence[Receiver],
    file: str,
) -> list[Remark]:
    """Return which receivers stand elsewhere than the one used, and what was made of them."""
    messages = []
    for other, some in [(other, some) for other, some in apart if some.told][:_MOST_RECEIVERS]:
        at = "" if some.time_us == NOT_A_TIME else f" at {format_instant(np.datetime64(some.time_us, 'us'))}"
        message = (
            f"receivers {_shown(one.name)} and {_shown(other.name)} do not agree: {some.different} of their"
            f" {counted(some.compared, 'common moment')} are more than 100 m apart, at most"
            f" {format_length(some.largest_m)}{at}, here"
        )
        if other in judged:
            message += (
                ". Most are more than 1 nmi apart, as of two vessels or of a false position: both are judged,"
                " as tracks of their own; --receiver states which one counts"
            )
        else:
            message += (
                f"; {_shown(one.name)} was taken. Make sure that it is the vessel; --receiver takes another"
            )
        messages.append((some.line, message))
    return _remarks(messages, file)


def _remarks(messages: Sequence[tuple[int, str]], file: str) -> list[Remark]:
    return [
        Remark(file=file, where=f"line {line}" if line else "", message=message) for line, message in messages
    ]


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
    if lost_stars(counts):
        found.append((0, f"{counted(numbers['no_star'], 'sentence')} {NO_STAR}"))
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


def _receiver_messages(
    one: Receiver, judged: Sequence[Receiver], passed: Sequence[Receiver]
) -> list[tuple[int, str]]:
    others = [*judged, *passed]
    if not others:
        return []
    shown = [one, *others][:_MOST_RECEIVERS]
    listed = ", ".join(
        f"{_shown(receiver.name)} {counted(int(receiver.usable().sum()), 'fix', 'fixes')}"
        f"{'' if receiver.has_dates else ' without dates'}"
        for receiver in shown
    )
    more = len(others) + 1 - len(shown)
    names = " and ".join(_shown(some.name) for some in [one, *judged][:_MOST_RECEIVERS])
    taken = f"{names} {'were each' if judged else 'was'}"
    message = (
        f"positions of {len(others) + 1} receivers in one log: {listed}{f' and {more} more' if more else ''}."
        f" {taken} taken, for the whole log; --receiver takes another. Fixes of different"
        " receivers are never mixed, antennas apart would lengthen the track"
    )
    found = [(0, message)]
    for other in passed[:_MOST_RECEIVERS]:
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


def _fix_messages(one: Receiver, counts: LogCounts) -> list[tuple[int, str]]:
    found = []
    reason, lines = one.fixes.reason, one.fixes.line
    for word, text in why(counts).items():
        own = lines[reason == word]
        # What stands at 0, 0 is told where the track is put together, conflicts below.
        if len(own) and word not in (Reason.ZERO_POSITION, Reason.CONFLICTING_TIME):
            found.append((int(own[0]), f"{_fixes(len(own))} {text} left out, the first here"))
    usable = one.usable()
    timeless = lines[(reason == Reason.GOOD) & ~usable & ~one.times.wrong]
    if len(timeless):
        message = (
            f"{_fixes(len(timeless))} without a time of day left out, as others have one; the first here"
        )
        found.append((int(timeless[0]), message))
    return found + _conflict_messages(one)


def _conflict_messages(one: Receiver) -> list[tuple[int, str]]:
    found = []
    some = one.conflicts
    if len(some):
        message = (
            f"{counted(some.moments, 'moment')} at which sentences of the same time stand more than 50 m"
            f" apart (up to {format_length(some.largest_m)}) left out, the first here: two devices of one"
            " name, or a clock that stands still. The track is interrupted there"
        )
        found.append((int(some.line[0]), message))
    if some.rounded:
        message = (
            f"{_fixes(some.rounded)} whose sentences of the same moment stand more than 50 m apart, as some"
            " are written with few decimals, the first here; the one with most decimals was taken"
        )
        found.append((some.first_rounded, message))
    return found


def _date_messages(one: Receiver) -> list[tuple[int, str]]:
    times, lines = one.times, one.fixes.line
    usable = one.usable()
    undated = lines[usable & (times.time_us == NOT_A_TIME)]
    found = []
    if len(undated) == int(usable.sum()):
        message = (
            "no date in the log: none of its fixes has a day, and so none a time. Without times nothing"
            " between positions is proved, no tow can be told, and rules with dates or seasons cannot be"
            " judged; --date states the day (UTC) of the first position"
        )
        if not (one.fixes.time_us != NOT_A_TIME).any():
            message = (
                "no times in the log: none of its fixes has one. Without times nothing between positions is"
                " proved, no tow can be told, and rules with dates or seasons cannot be judged. --date cannot"
                " help, as it needs times of day: have the logger write sentences with times (RMC, GGA)"
            )
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
