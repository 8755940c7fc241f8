"""Fields are read exactly, and what is not what it should be is not read at all."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towzone.logs.fields import (
    NOT_A_DAY,
    angles,
    calendar_days,
    days_of_dates,
    decimals,
    times_of_day,
)
from towzone.logs.scan import PADDING_BYTES
from towzone.tracks.raw import NOT_A_TIME


def numbers(*texts):
    """The texts read as numbers, side by side as in a sentence."""
    data = ",".join(texts).encode("latin-1")
    ends = np.cumsum([len(text) + 1 for text in texts]) - 1
    begins = ends - [len(text) for text in texts]
    return decimals(np.frombuffer(data + b"\n" * PADDING_BYTES, dtype=np.uint8), begins, ends)


def letters(text):
    return np.frombuffer(text.encode(), dtype=np.uint8)


def day(text):
    return (dt.date.fromisoformat(text) - dt.date(1970, 1, 1)).days


@given(st.lists(st.from_regex(r"[0-9]{0,9}\.?[0-9]{0,8}", fullmatch=True), min_size=1, max_size=20))
def test_decimal_numbers_are_what_exact_fractions_say(texts):
    found = numbers(*texts)
    for row, text in enumerate(texts):
        is_number = any(c.isdigit() for c in text)
        assert found.known[row] == is_number
        assert found.empty[row] == (text == "")
        if is_number:
            assert Fraction(int(found.digits[row]), 10 ** int(found.places[row])) == Fraction(
                "0" + text if text[-1] != "." else "0" + text[:-1]
            )


@pytest.mark.parametrize(
    "text",
    ["1.2.3", ".", "-1", "+1", "1e3", "1,5"[:1] + "\x00", "0x1", "1 2", "\xb2", "nan", "9" * 18, "1" * 33],
)
def test_what_is_no_plain_number_is_bad_and_not_empty(text):
    found = numbers(text, "7")

    assert (found.known.tolist(), found.empty.tolist()) == ([False, True], [False, False])


def test_thirty_digits_are_read():
    """Some writers print all digits a double has, and more; a fixed width would lose them."""
    found = numbers("5430.123456789012345678901234")

    assert found.digits[0] / 10 ** found.places[0] == 5430.123456789012345678901234


@pytest.mark.parametrize(
    ("text", "letter", "expected"),
    [
        ("5430.0000", "N", 54.5),
        ("5430.0000", "S", -54.5),
        ("5430", "N", 54.5),
        ("0000.0600", "N", 0.001),
        ("830.0000", "N", 8.5),
        ("08912.5", "N", 89 + 12.5 / 60),
        ("9000.0000", "S", -90.0),
        ("5459.9999", "N", 54 + 59.9999 / 60),
        ("5430.0000", "E", None),
        ("5430.0000", "\0", None),
        ("5460.0000", "N", None),
        ("5475.0000", "N", None),
        ("9000.0001", "N", None),
        ("9100.0000", "N", None),
        ("37.352387", "N", None),
        ("7.5", "N", None),
        ("005430.00", "N", None),
        ("-5430.00", "N", None),
        ("54,30", "N", None),
    ],
)
def test_latitudes(text, letter, expected):
    (degrees,) = angles(numbers(text), letters(letter), "N", "S", 90.0).degrees

    assert degrees == pytest.approx(expected, rel=1e-15) if expected is not None else np.isnan(degrees)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("061000", 22200),
        ("061000.25", 22200.25),
        ("000000.000", 0),
        ("235959.999999", 86399.999999),
        ("235959.9999999", 86399.999999),
        ("235960.5", 86400.5),
        ("235961", None),
        ("240000", None),
        ("126000", None),
        ("61000", None),
        ("0061000", None),
        ("06:10:00", None),
        ("-61000", None),
    ],
)
def test_times_of_day(text, seconds):
    """Second 60 goes on behind 59; what is beyond it, or has not two digits each, is bad."""
    found = times_of_day(numbers(text))

    assert found.us.tolist() == [NOT_A_TIME if seconds is None else round(seconds * 1e6)]
    assert found.bad.tolist() == [seconds is None]


def test_an_empty_time_is_unknown_and_not_bad():
    found = times_of_day(numbers(""))

    assert (found.us.tolist(), found.bad.tolist()) == ([NOT_A_TIME], [False])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("140120", "2020-01-14"),
        ("191194", "1994-11-19"),
        ("060180", "1980-01-06"),
        ("311268", "2068-12-31"),
        ("010100", "2000-01-01"),
        ("290224", "2024-02-29"),
        ("290200", "2000-02-29"),
        ("290223", None),
        ("310426", None),
        ("000126", None),
        ("010026", None),
        ("011326", None),
        ("010169", None),
        ("010179", None),
        ("10126", None),
        ("0101260", None),
        ("0101.6", None),
    ],
)
def test_dates(text, expected):
    """Two-digit years 80 to 99 and 00 to 68; no others, and no days that are not."""
    days, bad = days_of_dates(numbers(text))

    assert days.tolist() == [NOT_A_DAY if expected is None else day(expected)]
    assert bad.tolist() == [expected is None]


@given(st.dates(dt.date(1980, 1, 1), dt.date(2099, 12, 31)))
def test_days_count_as_the_calendar_does(date):
    found = calendar_days(np.array([date.year]), np.array([date.month]), np.array([date.day]))

    assert found.tolist() == [(date - dt.date(1970, 1, 1)).days]


@given(st.integers(1970, 2110), st.integers(-1, 14), st.integers(-1, 33))
def test_only_days_of_the_calendar_are_days(year, month, number):
    try:
        expected = (dt.date(year, month, number) - dt.date(1970, 1, 1)).days
    except ValueError:
        expected = NOT_A_DAY
    if not 1980 <= year <= 2099:
        expected = NOT_A_DAY
    found = calendar_days(np.array([year]), np.array([month]), np.array([number]))

    assert found.tolist() == [expected]
