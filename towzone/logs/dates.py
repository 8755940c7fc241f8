"""Days for the times of day of one receiver, from the dates that some of its sentences have; never guessed.

Between two fixes the clock runs forward: the second is the first moment with its time of day that is not more
than a tolerance before the first. That counts days over any silence shorter than one, and over midnight.
Each date that a sentence states then says how many days the count is off; where two say the same, all fixes
between them are sure. Where they differ, a silence was longer than a day, or a date is wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from towzone.logs.fields import DAY_US, NOT_A_DAY
from towzone.logs.fixes import TOLERANCE_US
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["ROLLOVER_DAYS", "Dated", "dated"]

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

ROLLOVER_DAYS = 7168
"""Weeks of satellite navigation are counted to 1024; a receiver that has lost a round of the count is 1024
weeks behind. Published: IS-GPS-200, 20.3.3.3.1.1, from memory."""
_ERA_DAYS = 366
"""Own choice: dates that jump by more than a year are not of one trip, one of them is wrong."""
_DOUBTED_BEFORE_DAY = 10_957
"""2000-01-01. Own choice: before it no log was kept that is checked today; such a clock was not set."""


@dataclass(slots=True, kw_only=True, eq=False)
class Dated:
    """Times of the fixes of one receiver.

    Parameters
    ----------
    time_us : ndarray of int64, shape (n,)
        Microseconds since 1970-01-01 UTC, ``NOT_A_TIME`` where the day is not known.
    wrong : ndarray of bool, shape (n,)
        Fixes whose date is shown to be wrong by the rest of the log, and cannot be put right.
    doubted : ndarray of int64
        Rows of the dates that contradict those around them, which count instead.
    corrected : dict of int to ndarray of int64
        By days: rows of dates that a later one shows to be so much behind, put right.
    backward : ndarray of int64
        Rows before which the date goes back.
    before_first : int
        Fixes dated back from the first date.
    counted_on : ndarray of int64
        Rows after the last date before which the clock was silent: whether for a day more is not known.
    """

    time_us: Ints
    wrong: Flags
    doubted: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    corrected: dict[int, Ints] = field(default_factory=dict)
    backward: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    before_first: int = 0
    counted_on: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


@dataclass(slots=True)
class _Run:
    """Dates one after another that agree in how many days the count is off."""

    off: int
    first: int
    last: int
    number: int
    day: int


@dataclass(slots=True)
class _Clock:
    """The fixes whose times count: their rows, a count of microseconds, and which stretch without silence."""

    rows: Ints
    count_us: Ints
    stretch: Ints


def dated(time_us: Ints, day: npt.NDArray[np.int32], void: Flags) -> Dated:
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
    result = Dated(
        time_us=np.full(len(time_us), NOT_A_TIME, dtype=np.int64),
        wrong=np.zeros(len(time_us), dtype=np.bool_),
    )
    clock = _clock(time_us, np.flatnonzero((time_us != NOT_A_TIME) & ~void))
    anchors = np.flatnonzero(day[clock.rows] != NOT_A_DAY)
    if not len(anchors):
        return result
    stated = day[clock.rows[anchors]].astype(np.int64)
    off = stated - (clock.count_us[anchors] - time_us[clock.rows[anchors]]) // DAY_US
    wrong = np.zeros(len(anchors), dtype=np.bool_)
    if (off != off[0]).any():
        anchors, off, stated = _without_glitches(clock, anchors, off, stated, result)
        off, wrong = _eras(clock, anchors, off, stated, result)
    _spread(clock, anchors, off, wrong, result)
    _void_times(time_us, clock, result)
    return result


def _clock(time_us: Ints, rows: Ints) -> _Clock:
    """Return a count that runs forward over the times of day of some rows."""
    times = time_us[rows]
    steps = np.zeros(len(rows), dtype=np.int64)
    steps[1:] = (np.diff(times) + TOLERANCE_US) % DAY_US - TOLERANCE_US
    first = times[:1].sum()
    return _Clock(rows, first + np.cumsum(steps), np.cumsum(steps > TOLERANCE_US))


def _runs(anchors: Ints, off: Ints, stated: Ints) -> list[_Run]:
    """Return the runs of equal offsets; ``first`` and ``last`` are indices of anchors."""
    begins = np.flatnonzero(np.diff(off, prepend=off[0] - 1) != 0)
    ends = np.append(begins[1:], len(anchors)) - 1
    return [
        _Run(int(off[a]), a, b, b - a + 1, int(stated[a]))
        for a, b in zip(begins.tolist(), ends.tolist(), strict=True)
    ]


def _without_glitches(
    clock: _Clock, anchors: Ints, off: Ints, stated: Ints, result: Dated
) -> tuple[Ints, Ints, Ints]:
    """Leave out dates of a short while that those on both sides contradict, or at an end those beside."""

    def short(run: _Run) -> bool:
        return int(clock.count_us[anchors[run.last]] - clock.count_us[anchors[run.first]]) <= TOLERANCE_US

    def lags(left: _Run, right: _Run) -> bool:
        # At an end of the log only what receivers are known for: a date that changes seconds late or early.
        leads_over = clock.stretch[anchors[left.last]] == clock.stretch[anchors[right.first]]
        return bool(leads_over) and abs(left.off - right.off) == 1

    kept: list[_Run] = []
    doubted: list[_Run] = []
    for run in _runs(anchors, off, stated):
        if len(kept) > 1 and kept[-2].off == run.off and short(kept[-1]):
            doubted.append(kept.pop())
        if kept and kept[-1].off == run.off:
            kept[-1] = _Run(run.off, kept[-1].first, run.last, kept[-1].number + run.number, kept[-1].day)
        else:
            kept.append(run)
    if len(kept) > 1 and short(kept[-1]) and lags(kept[-2], kept[-1]) and kept[-1].number < kept[-2].number:
        doubted.append(kept.pop())
    if len(kept) > 1 and short(kept[0]) and lags(kept[0], kept[1]) and kept[0].number < kept[1].number:
        doubted.append(kept.pop(0))
    keep = np.ones(len(anchors), dtype=np.bool_)
    for run in doubted:
        keep[run.first : run.last + 1] = False
    result.doubted = clock.rows[anchors[~keep]]
    return anchors[keep], off[keep], stated[keep]


def _eras(clock: _Clock, anchors: Ints, off: Ints, stated: Ints, result: Dated) -> tuple[Ints, Flags]:
    """Return the offsets with those put right that are rounds of weeks behind, and which dates are wrong.

    Runs that lie within a year of each other make an era. Where one leads over to the next without a silence
    and they are whole rounds of weeks apart, the earlier date is put right by the later. Of the eras left the
    largest counts, of those after 1999 if there are any, and what lies within a year of it; one behind it in
    the file that is later stays as it is; every other one is wrong.
    """
    wrong = np.zeros(len(anchors), dtype=np.bool_)
    eras: list[list[_Run]] = []
    for run in _rounds_put_right(clock, anchors, _runs(anchors, off, stated), result):
        if eras and abs(run.off - eras[-1][-1].off) <= _ERA_DAYS:
            eras[-1].append(run)
        else:
            eras.append([run])
    off = off.copy()
    for run in (run for era in eras for run in era):
        off[run.first : run.last + 1] = run.off
    sizes = [
        (max(run.day for run in era) >= _DOUBTED_BEFORE_DAY, sum(run.number for run in era)) for era in eras
    ]
    main = max(range(len(eras)), key=lambda number: sizes[number])
    first = eras[main][0].off
    latest = eras[main][-1].off
    for number, era in enumerate(eras):
        if number < main:
            believed = abs(era[-1].off - first) <= _ERA_DAYS
        else:
            believed = era[0].off - latest >= -_ERA_DAYS
            latest = era[-1].off if believed else latest
        if not believed:
            wrong[era[0].first : era[-1].last + 1] = True
    return off, wrong


def _rounds_put_right(clock: _Clock, anchors: Ints, runs: list[_Run], result: Dated) -> list[_Run]:
    """Return the runs with those brought forward that are whole rounds of weeks behind a neighbour."""
    for number in range(1, len(runs)):
        before, run = runs[number - 1], runs[number]
        behind = run.off - before.off
        leads_over = clock.stretch[anchors[before.last]] == clock.stretch[anchors[run.first]]
        if behind == 0 or behind % ROLLOVER_DAYS or not leads_over:
            continue
        late = [run]
        if behind > 0:
            # All before that were within a year of the run before are as much behind.
            late = [before]
            for earlier in reversed(runs[: number - 1]):
                if abs(earlier.off - late[-1].off) > _ERA_DAYS:
                    break
                late.append(earlier)
        for one in late:
            one.off += abs(behind)
            one.day += abs(behind)
            rows = clock.rows[anchors[one.first : one.last + 1]]
            put_right = result.corrected.get(abs(behind), rows[:0])
            result.corrected[abs(behind)] = np.concatenate([put_right, rows])
    return runs


def _spread(clock: _Clock, anchors: Ints, off: Ints, wrong: Flags, result: Dated) -> None:
    """Give times to all fixes that count, from the dates around them."""
    if len(anchors) == len(clock.rows) and not wrong.any():
        result.time_us[clock.rows] = clock.count_us + off * DAY_US
        back = np.flatnonzero(np.diff(result.time_us[clock.rows]) < -TOLERANCE_US)
        result.backward = clock.rows[back + 1]
        return
    n = len(clock.rows)
    index = np.arange(n)
    number = np.searchsorted(anchors, index, side="right") - 1  # of the last date not after the fix
    has_before, has_after = number >= 0, np.searchsorted(anchors, index) < len(anchors)
    before = np.maximum(number, 0)
    after = np.minimum(np.searchsorted(anchors, index), len(anchors) - 1)
    near_before = has_before & (clock.stretch == clock.stretch[anchors[before]])
    near_after = has_after & (clock.stretch == clock.stretch[anchors[after]])
    agree = has_before & has_after & (off[before] == off[after]) & (wrong[before] == wrong[after])
    by_before = agree | (has_before & ~has_after) | (near_before & ~near_after)
    by_after = ~by_before & near_after & ~near_before
    known = by_before | by_after
    source = np.where(by_before, before, after)
    bad = known & wrong[source]
    good = known & ~bad
    rows = clock.rows
    result.time_us[rows[good]] = clock.count_us[good] + off[source[good]] * DAY_US
    result.wrong[rows[bad]] = True
    result.before_first = int((good & ~has_before).sum())
    silent = np.flatnonzero(np.diff(clock.stretch, prepend=clock.stretch[:1]) != 0)
    result.counted_on = rows[silent[good[silent] & ~has_after[silent]]]
    placed = np.flatnonzero(good)
    back = np.flatnonzero(np.diff(result.time_us[rows[placed]]) < -TOLERANCE_US)
    result.backward = rows[placed[back + 1]]


def _void_times(time_us: Ints, clock: _Clock, result: Dated) -> None:
    """Give times to the fixes that do not count: after the last before them, or before the first."""
    counts = np.zeros(len(time_us), dtype=np.bool_)
    counts[clock.rows] = True
    rows = np.flatnonzero((time_us != NOT_A_TIME) & ~counts)
    sure = np.flatnonzero(result.time_us != NOT_A_TIME)
    if not len(rows) or not len(sure):
        return
    place = np.searchsorted(sure, rows) - 1
    first = result.time_us[sure[0]]
    lead = first + TOLERANCE_US - (first + TOLERANCE_US - time_us[rows]) % DAY_US
    start = result.time_us[sure[np.maximum(place, 0)]]
    follow = start - TOLERANCE_US + (time_us[rows] - start + TOLERANCE_US) % DAY_US
    result.time_us[rows] = np.where(place >= 0, follow, lead)
