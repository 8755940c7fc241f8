"""Of dates that contradict each other the right ones are believed; the others are told apart."""

from __future__ import annotations

import pytest

from towzone.logs.date_runs import ROLLOVER_DAYS, Run, believed_runs

HOUR_US = 3_600_000_000
DAY = 20_513
"""2026-03-01, counted from 1970-01-01."""


def runs(*told):
    """Runs of an hour each without a silence between, given as (days off, number of dates)."""
    return [
        Run(
            off=off,
            first=100 * place,
            last=100 * place + number - 1,
            number=number,
            day=DAY + off,
            begin_us=place * HOUR_US,
            end_us=place * HOUR_US + (HOUR_US if number >= 10 else 0),
        )
        for place, (off, number) in enumerate(told)
    ]


def outcome(*told):
    """The offsets believed, those that are wrong, and those doubted."""
    believed = believed_runs(runs(*told))
    return (
        [run.off for run in believed.runs if not run.wrong],
        [run.off for run in believed.runs if run.wrong],
        [run.off for run in believed.doubted],
    )


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ([(0, 50)], ([0], [], [])),
        ([(0, 50), (3, 50)], ([0, 3], [], [])),
        ([(3, 50), (0, 50)], ([3, 0], [], [])),
        # A moment's other date between two that agree.
        ([(0, 50), (-1, 1), (0, 50)], ([0], [], [-1])),
        ([(0, 50), (9000, 9), (0, 50)], ([0], [], [9000])),
        ([(0, 50), (-1, 1), (0, 50), (-1, 1), (0, 50)], ([0], [], [-1, -1])),
        # Not between two that agree, or not for a moment.
        ([(0, 50), (-1, 1), (1, 50)], ([0, -1, 1], [], [])),
        ([(0, 50), (-1, 10), (0, 50)], ([0, -1, 0], [], [])),
        # A date that changes late at an end, and only that.
        ([(0, 50), (-1, 3)], ([0], [], [-1])),
        ([(1, 3), (0, 50)], ([0], [], [1])),
        ([(0, 50), (-2, 3)], ([0, -2], [], [])),
        ([(0, 3), (1, 3)], ([0, 1], [], [])),
        # Years away: before the rest, behind it, between.
        ([(-9000, 10), (0, 50)], ([0], [-9000], [])),
        ([(0, 50), (-9000, 10)], ([0], [-9000], [])),
        ([(0, 20), (-9000, 10), (0, 50)], ([0, 0], [-9000], [])),
        ([(0, 50), (-9000, 10), (0, 20)], ([0, 0], [-9000], [])),
        ([(9000, 10), (0, 50)], ([0], [9000], [])),
        # A later trip stays; an earlier one behind it does not.
        ([(0, 50), (900, 10)], ([0, 900], [], [])),
        ([(0, 50), (900, 10), (450, 10)], ([0, 900], [450], [])),
        # Before 2000 number does not count.
        ([(-10_000, 500), (0, 10)], ([0], [-10_000], [])),
        ([(-3000, 500), (0, 10)], ([-3000, 0], [], [])),
        # Whole rounds of weeks.
        ([(-ROLLOVER_DAYS, 50), (0, 10)], ([0, 0], [], [])),
        ([(0, 10), (-ROLLOVER_DAYS, 50)], ([0, 0], [], [])),
        ([(-2 * ROLLOVER_DAYS, 50), (0, 10)], ([0, 0], [], [])),
        ([(-ROLLOVER_DAYS - 3, 50), (-ROLLOVER_DAYS, 50), (0, 10)], ([-3, 0, 0], [], [])),
        ([(-9000, 10), (-ROLLOVER_DAYS, 50), (0, 20)], ([0, 0], [-9000], [])),
    ],
)
def test_which_dates_are_believed(told, expected):
    """Offsets in days of runs in a row, with how many dates each has."""
    assert outcome(*told) == expected


def test_a_round_behind_before_a_silence_is_not_put_right():
    before, after = runs((-ROLLOVER_DAYS, 20), (0, 50))
    after.stretch_first = after.stretch_last = 1

    assert [run.wrong for run in believed_runs([before, after]).runs] == [True, False]


def test_a_late_date_behind_a_silence_at_the_end_counts():
    """It may be that a day has passed."""
    before, after = runs((0, 50), (1, 3))
    after.stretch_first = after.stretch_last = 1

    assert [run.off for run in believed_runs([before, after]).runs] == [0, 1]


def test_what_was_put_right_is_told_by_days():
    put_right = believed_runs(runs((-ROLLOVER_DAYS - 3, 50), (-ROLLOVER_DAYS, 50), (0, 10))).put_right

    assert {days: sorted(run.number for run in some) for days, some in put_right.items()} == {7168: [50, 50]}
