"""Days for the times of day of one receiver, from the dates that some of its sentences have; never guessed.

Between two fixes the clock runs forward: the second is the first moment with its time of day that is not more
than a tolerance before the first. That counts days over any silence shorter than one, and over midnight.
Each date that a sentence states then says how many days the count is off; where two say the same, all fixes
between them are sure. Where they differ, a silence was longer than a day, or a date is wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.logs.date_runs import Run, believed_runs
from towzone.logs.fields import DAY_US, NOT_A_DAY
from towzone.logs.fixes import TOLERANCE_US
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["Dated", "Found", "dated", "undated"]

Ints = npt.NDArray[np.int64]
Days = npt.NDArray[np.int32]
Flags = npt.NDArray[np.bool_]

_BLOCK = 1 << 20
"""Own choice: fixes worked on at a time, so that what is needed on the way takes no memory to speak of."""


class Found(NamedTuple):
    """How many there are of something, and the row of the first."""

    number: int
    row: int


@dataclass(slots=True, kw_only=True, eq=False)
class Dated:
    """Times of the fixes of one receiver.

    Parameters
    ----------
    time_us : ndarray of int64, shape (n,)
        Microseconds since 1970-01-01 UTC, ``NOT_A_TIME`` where the day is not known.
    wrong : ndarray of bool, shape (n,)
        Fixes whose date is shown to be wrong by the rest of the log, and cannot be put right.
    doubted : Found or None
        Dates that contradict those around them, which count instead.
    corrected : dict of int to Found
        By days: dates that others show to be so much behind, put right.
    backward : list of int
        Rows before which the date goes back.
    before_first : int
        Fixes dated back from the first date.
    counted_on : Found or None
        Silences after the last date: whether any was a day longer is not known.
    """

    time_us: Ints
    wrong: Flags
    doubted: Found | None = None
    corrected: dict[int, Found] = field(default_factory=dict)
    backward: list[int] = field(default_factory=list)
    before_first: int = 0
    counted_on: Found | None = None


@dataclass(slots=True)
class _Clock:
    """The fixes whose times count.

    Parameters
    ----------
    rows : ndarray of int64 or None
        Which fixes they are; ``None`` for all.
    count_us : ndarray of int64
        Their times of day, counted on over midnights; later, in the same place, their times.
    silences : ndarray of int64
        Those before which the clock was silent, by their number here.
    """

    rows: Ints | None
    count_us: Ints
    silences: Ints

    def row(self, number: int) -> int:
        """Return which fix one of them is."""
        return number if self.rows is None else int(self.rows[number])


def undated(n: int) -> Dated:
    """Return no times for so many fixes."""
    return Dated(time_us=np.full(n, NOT_A_TIME, dtype=np.int64), wrong=np.zeros(n, dtype=np.bool_))


def dated(time_us: Ints, day: Days, void: Flags) -> Dated:
    """Return the times of fixes of one receiver in the order of the file.

    Parameters
    ----------
    time_us : ndarray of int64, shape (n,)
        Times of day, or ``NOT_A_TIME``.
    day : ndarray of int32, shape (n,)
        Days since 1970-01-01 that are stated, or `NOT_A_DAY`.
    void : ndarray of bool, shape (n,)
        Fixes that the receiver itself calls not valid: neither their times nor their dates count, but they
        are given times by the others.
    """
    counts = (time_us != NOT_A_TIME) & ~void
    rows = None if counts.all() else np.flatnonzero(counts)
    those = slice(None) if rows is None else rows
    clock = _clock(rows, time_us[those])
    runs = _runs(clock, time_us[those], day[those])
    if not runs:
        return undated(len(time_us))
    stretches = np.searchsorted(clock.silences, [[run.first, run.last] for run in runs], side="right")
    for run, (first, last) in zip(runs, stretches.tolist(), strict=True):
        run.stretch_first, run.stretch_last = first, last
    believed = believed_runs(runs)
    result = Dated(time_us=clock.count_us, wrong=np.zeros(len(time_us), dtype=np.bool_))
    result.doubted = _found(clock, believed.doubted)
    for days, some in believed.put_right.items():
        result.corrected[days] = Found(sum(run.number for run in some), min(clock.row(r.first) for r in some))
    _spread(clock, believed.runs, result)
    if rows is not None:
        result.time_us = np.full(len(time_us), NOT_A_TIME, dtype=np.int64)
        result.time_us[rows] = clock.count_us
        _date_others(time_us, rows, result)
    return result


def _clock(rows: Ints | None, time_us: Ints) -> _Clock:
    """Return a count that runs forward over times of day."""
    count_us = np.empty(len(time_us), dtype=np.int64)
    count_us[:1] = time_us[:1]
    silences = []
    for begin in range(1, len(time_us), _BLOCK):
        end = min(begin + _BLOCK, len(time_us))
        steps = np.diff(time_us[begin - 1 : end])
        steps += TOLERANCE_US
        steps %= DAY_US
        steps -= TOLERANCE_US
        silences.append(np.flatnonzero(steps > TOLERANCE_US) + begin)
        np.cumsum(steps, out=steps)
        count_us[begin:end] = steps + count_us[begin - 1]
    return _Clock(rows, count_us, np.concatenate(silences) if silences else np.zeros(0, dtype=np.int64))


def _runs(clock: _Clock, time_us: Ints, day: Days) -> list[Run]:
    """Return the runs of dates that agree in how many days the count is off."""
    runs: list[Run] = []
    for begin in range(0, len(time_us), _BLOCK):
        block = slice(begin, begin + _BLOCK)
        known = np.flatnonzero(day[block] != NOT_A_DAY)
        if not len(known):
            continue
        stated = day[block][known].astype(np.int64)
        off = stated - ((clock.count_us[block] - time_us[block]) // DAY_US)[known]
        firsts = np.flatnonzero(np.diff(off, prepend=off[0] - 1) != 0)
        for first, stop in pairwise([*firsts.tolist(), len(off)]):
            run = Run(
                off=int(off[first]),
                first=begin + int(known[first]),
                last=begin + int(known[stop - 1]),
                number=stop - first,
                day=int(stated[first]),
            )
            run.begin_us, run.end_us = int(clock.count_us[run.first]), int(clock.count_us[run.last])
            if runs and runs[-1].off == run.off:
                runs[-1].extend(run)
            else:
                runs.append(run)
    return runs


def _found(clock: _Clock, runs: list[Run]) -> Found | None:
    if not runs:
        return None
    return Found(sum(run.number for run in runs), min(clock.row(run.first) for run in runs))


def _spread(clock: _Clock, runs: list[Run], result: Dated) -> None:
    """Turn the count into times, from the dates before and behind each fix; unknown where these disagree."""
    last_time: int | None = None
    for begin, end, run in _shares(clock, runs):
        if run is None or run.wrong:
            clock.count_us[begin:end] = NOT_A_TIME
            if run is not None:
                result.wrong[slice(begin, end) if clock.rows is None else clock.rows[begin:end]] = True
            continue
        clock.count_us[begin:end] += run.off * DAY_US
        if last_time is not None and clock.count_us[begin] < last_time - TOLERANCE_US:
            result.backward.append(clock.row(begin))
        last_time = int(clock.count_us[end - 1])
    first, last = runs[0], runs[-1]
    if not first.wrong:
        result.before_first = int((clock.count_us[: first.first] != NOT_A_TIME).sum())
    silent = clock.silences[np.searchsorted(clock.silences, last.last, side="right") :]
    if len(silent) and not last.wrong:
        result.counted_on = Found(len(silent), clock.row(int(silent[0])))


def _shares(clock: _Clock, runs: list[Run]) -> Iterator[tuple[int, int, Run | None]]:
    """Yield, in order, from which fix to before which a run of dates tells the day, or none does.

    Behind a run it does so up to the next silence, before it from the last silence on; all the way where the
    next run says the same, and to the end behind the last. Two that meet without a silence and differ leave
    what is between them open.
    """
    n = len(clock.count_us)
    lead = _last_silence(clock, runs[0].first)
    if lead:
        yield 0, lead, None
    begin = lead
    for run, after in pairwise(runs):
        if (after.off, after.wrong) == (run.off, run.wrong):
            yield begin, after.first, run
            begin = after.first
            continue
        onward = int(np.searchsorted(clock.silences, run.last, side="right"))
        stop = int(clock.silences[onward]) if onward < len(clock.silences) else n
        back = _last_silence(clock, after.first)
        if back <= run.last:
            stop, back = run.last + 1, after.first
        yield begin, stop, run
        if stop < back:
            yield stop, back, None
        begin = back
    yield begin, n, runs[-1]


def _last_silence(clock: _Clock, number: int) -> int:
    """Return the first fix of those that lead up to one without a silence."""
    place = int(np.searchsorted(clock.silences, number, side="right")) - 1
    return int(clock.silences[place]) if place >= 0 else 0


def _date_others(time_us: Ints, rows: Ints, result: Dated) -> None:
    """Give times to the fixes that do not count: by the one that does before them, or else the first."""
    counts = np.zeros(len(time_us), dtype=np.bool_)
    counts[rows] = True
    others = np.flatnonzero(~counts & (time_us != NOT_A_TIME))
    if not len(others) or not len(rows):
        return
    place = np.searchsorted(rows, others) - 1
    known_us = result.time_us[rows[np.maximum(place, 0)]]
    others, place, known_us = (some[known_us != NOT_A_TIME] for some in (others, place, known_us))
    start_us = known_us - TOLERANCE_US
    follow_us = start_us + (time_us[others] - start_us) % DAY_US
    end_us = known_us + TOLERANCE_US
    lead_us = end_us - (end_us - time_us[others]) % DAY_US
    result.time_us[others] = np.where(place >= 0, follow_us, lead_us)
