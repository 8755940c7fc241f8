"""Times for the fixes of all receivers of a log, from the best dates there are; every step is told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem
from towzone.logs.date_runs import ROLLOVER_DAYS
from towzone.logs.dates import dated
from towzone.logs.fields import DAY_US, NOT_A_DAY
from towzone.logs.fixes import TOLERANCE_US, Reason
from towzone.logs.other_clocks import Opinion, days_by_receiver, days_by_stamps, opinions, rounds_behind
from towzone.logs.receivers import Receiver
from towzone.logs.sampled_stamps import Sampled
from towzone.model.result import Remark
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME
from towzone.units import format_duration
from towzone.words import counted

__all__ = ["BY_DATE", "BY_LOGGER", "date_receivers", "put_right"]

Days = npt.NDArray[np.int32]

BY_DATE, BY_LOGGER = "--date", "the times the logger wrote"
_EPOCH = dt.date(1970, 1, 1)
_DOUBTED_BEFORE = dt.date(2000, 1, 1)
"""Own choice: before it no log was kept that is checked today."""
_MOST_ROUNDS = 4
"""Own choice: rounds of 1024 weeks tried for a stated year; there were two from 1980 to 2019."""


def date_receivers(receivers: Sequence[Receiver], sampled: Sampled, options: ReadingOptions) -> None:
    """Give each receiver the times of its fixes.

    The dates of its own sentences come first, and ZDA of others right beside them; without any, those of
    the best dated other receiver of the log; then the day the user states; then what the logger wrote.
    """
    for one in receivers:
        _apply(one, one.fixes.day)
    with_dates = [one for one in receivers if one.has_dates]
    best = max(with_dates, key=lambda one: int((one.times.time_us != NOT_A_TIME).sum()), default=None)
    for one in receivers:
        if not one.has_dates and best is not None:
            _apply(one, days_by_receiver(one, best), f"receiver {best.name}")
        if not one.has_dates and options.day is not None:
            _apply(one, _first_day(one, options.day), BY_DATE)
        if not one.has_dates:
            _apply(one, days_by_stamps(one, sampled), BY_LOGGER)


def put_right(
    one: Receiver,
    others: Sequence[Receiver],
    sampled: Sampled,
    differences: Mapping[int, tuple[int, int]],
    options: ReadingOptions,
    file: str,
) -> list[Remark]:
    """Bring the dates of a receiver forward where another clock of the log, or the user, shows them wrong.

    Parameters
    ----------
    one : Receiver
        Its times are changed.
    others : sequence of Receiver
    sampled : Sampled
    differences : mapping of int to (int, int)
        See `opinions`.
    options : ReadingOptions
    file : str

    Returns
    -------
    list of Remark
        What was put right, what other clocks say otherwise, and whether the dates are to be doubted.

    Raises
    ------
    InputError
        The year the user states has no 29 February, on which the log begins.
    """
    if not one.has_dates:
        return []
    remarks = []
    said = opinions(one, others, sampled, differences)
    behind = next((opinion for opinion in said if rounds_behind(opinion)), None)
    if behind is not None:
        days = rounds_behind(behind)
        _shift(one, days)
        message = (
            f"the dates of receiver {one.name} are {counted(days // ROLLOVER_DAYS, 'round')} of 1024 weeks"
            f" ({days} days) behind {behind.whose}, a known fault of receivers; they were put forward by that"
        )
        remarks.append(Remark(file=file, where=f"line {behind.line}", message=message))
    else:
        remarks += [_disagreement(one, opinion, file) for opinion in said if _disagrees(opinion)]
    first = _first_date(one)
    if options.year is not None and first.year != options.year:
        remarks.append(_to_year(one, first, options.year, file))
    elif first < _DOUBTED_BEFORE and options.year is None:
        message = (
            f"the log begins on {first}; receivers that have lost 1024 weeks show such dates, and nothing in"
            f" the log says otherwise (it would be {first + dt.timedelta(days=ROLLOVER_DAYS)} then). Read as"
            " it stands; --year states the year in which the log begins"
        )
        remarks.append(Remark(file=file, where="", message=message))
    if options.day is not None and one.dated_by != BY_DATE:
        message = f"the log has dates; --date {options.day} was not used"
        remarks.append(Remark(file=file, where="", message=message))
    return remarks


def _apply(one: Receiver, day: Days, dated_by: str = "") -> None:
    one.times = dated(one.fixes.time_us, day, one.fixes.reason == Reason.VOID)
    one.dated_by = dated_by if one.has_dates else ""


def _first_day(one: Receiver, day: dt.date) -> Days:
    days = np.full(len(one.fixes), NOT_A_DAY, dtype=np.int32)
    usable = np.flatnonzero((one.fixes.reason == Reason.GOOD) & (one.fixes.time_us != NOT_A_TIME))
    days[usable[:1]] = (day - _EPOCH).days
    return days


def _shift(one: Receiver, days: int) -> None:
    known = one.times.time_us != NOT_A_TIME
    one.times.time_us[known] += days * DAY_US


def _first_date(one: Receiver) -> dt.date:
    return _EPOCH + dt.timedelta(days=one.first_time_us // DAY_US)


def _to_year(one: Receiver, first: dt.date, year: int, file: str) -> Remark:
    for rounds in (sign * number for number in range(1, _MOST_ROUNDS + 1) for sign in (1, -1)):
        moved = first + dt.timedelta(days=rounds * ROLLOVER_DAYS)
        if moved.year == year:
            how = f"by {counted(abs(rounds), 'round')} of 1024 weeks"
            break
    else:
        try:
            moved = first.replace(year=year)
        except ValueError as error:
            message = f"the log begins on {first}, a day that the year {year} (--year) does not have"
            raise InputError(file, [Problem("", message)]) from error
        how = "by whole years, as no round of 1024 weeks leads to it"
    _shift(one, (moved - first).days)
    message = f"the log begins on {first} by its own dates; they were moved to {moved} {how} (--year {year})"
    return Remark(file=file, where="", message=message)


def _disagrees(opinion: Opinion) -> bool:
    return abs(opinion.ahead_us) > TOLERANCE_US


def _disagreement(one: Receiver, opinion: Opinion, file: str) -> Remark:
    way = "ahead of" if opinion.ahead_us > 0 else "behind"
    by = format_duration(abs(opinion.ahead_us) / 1e6)
    message = (
        f"the clock of {opinion.whose} is {by} {way} that of receiver {one.name}, in the median of"
        f" {counted(opinion.compared, 'moment')}; the receiver's own dates were used"
    )
    return Remark(file=file, where=f"line {opinion.line}", message=message)
