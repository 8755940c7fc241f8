"""Times of tables: every form to the same instant, and nothing that can be read in two ways is guessed."""

from __future__ import annotations

import zoneinfo

import numpy as np
import pytest

from towzone.errors import InputError
from towzone.files.csv_names import time_words
from towzone.files.csv_text import Problems
from towzone.files.csv_times import TimeColumn, TimeWords
from towzone.tracks.options import DateOrder
from towzone.tracks.raw import NOT_A_TIME

COPENHAGEN = zoneinfo.ZoneInfo("Europe/Copenhagen")
UTC_COLUMN = TimeWords(utc=True)
DMY, MDY = DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST


def column(
    *texts: str,
    words: TimeWords = UTC_COLUMN,
    zone: zoneinfo.ZoneInfo | None = None,
    order: DateOrder | None = None,
    others: tuple[str, ...] = (),
    at_once: int = 1000,
) -> tuple[list[str], list[str]]:
    """Times as ISO text and what was noted; lines count from 2."""
    problems = Problems("a.csv")
    made = TimeColumn("when", words, zone=zone, order=order, problems=problems)
    lines = list(range(2, 2 + len(texts)))
    for at in range(0, len(texts), at_once):
        made.add(texts[at : at + at_once], lines[at : at + at_once])
    made.overhear(others, [90] * len(others))
    time_us = made.finish(np.array(lines, dtype=np.uint32))
    problems.refuse()
    assert (time_us[[not text.strip() for text in texts]] == NOT_A_TIME).all()
    return [str(np.datetime64(us, "us")) for us in time_us.tolist()], [
        f"line {line}: {message}" for line, message in made.notes
    ]


def times(*texts: str, **how: object) -> list[str]:
    return column(*texts, **how)[0]  # type: ignore[arg-type]


def refusal(*texts: str, **how: object) -> str:
    with pytest.raises(InputError) as caught:
        column(*texts, **how)  # type: ignore[arg-type]
    return str(caught.value)


MARCH_12 = "2026-03-12T06:10:00.000000"


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-12T06:10:00Z",
        "2026-03-12t06:10:00z",
        "2026-03-12 06:10:00",
        " 2026-03-12  06:10:00 ",
        "2026-03-12T06:10",
        "2026-03-12T06:10:00.0000001",
        "2026-03-12 06:10:00 UTC",
        "2026-03-12 06:10:00 GMT",
        "2026-03-12 06:10:00+00:00",
        "2026-03-12 06:10:00+00",
        "2026-03-12 06:10:00-0000",
        "2026-03-12 6:10 am",
        "2026-03-12 06:10:00 A.M.",
        "2026/03/12 06:10:00",
        "2026/3/12 6:10",
        "2026.03.12 06:10",
        "12-Mar-2026 06:10:00",
        "12 Mar 2026 06:10:00",
        "12 march 2026, 06:10",
        "12-MAR-2026 06:10",
        "12Mar2026 06:10",
        "Mar 12, 2026 06:10",
        "March 12 2026 6:10 AM",
        "2026-Mar-12 06:10",
    ],
)
def test_every_form_is_the_same_instant(text: str) -> None:
    assert times(text) == [MARCH_12]


@pytest.mark.parametrize("text", ["13.03.2026 06:10", "13/03/2026 06:10:00", "13-3-2026 6:10"])
def test_figures_over_twelve_settle_the_order(text: str) -> None:
    day, month = text[:2], text[3:5].strip("-")
    swapped = text.replace(f"{day}{text[2]}{month}", f"{month}{text[2]}{day}")
    for form in (text, swapped):
        assert times(form) == ["2026-03-13T06:10:00.000000"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-12T06:10:00.25Z", "2026-03-12T06:10:00.250000"),
        ("2026-03-12T06:10:00,25Z", "2026-03-12T06:10:00.250000"),
        ("2026-03-12T06:10:00.1234569Z", "2026-03-12T06:10:00.123456"),
        ("2026-03-12T24:00:00Z", "2026-03-13T00:00:00.000000"),
        ("2026-12-31T23:59:60Z", "2027-01-01T00:00:00.000000"),
        ("2026-03-12 12:00 AM", "2026-03-12T00:00:00.000000"),
        ("2026-03-12 12:59:59 PM", "2026-03-12T12:59:59.000000"),
        ("2026-03-12 01:00 PM", "2026-03-12T13:00:00.000000"),
        ("2024-02-29 00:00:00", "2024-02-29T00:00:00.000000"),
    ],
)
def test_clocks_as_they_are_written(text: str, expected: str) -> None:
    assert times(text) == [expected]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-12T00:30:00-03:30", "2026-03-12T04:00:00.000000"),
        ("2026-03-12T00:30:00+0100", "2026-03-11T23:30:00.000000"),
        ("2026-03-12T00:30:00.5+14", "2026-03-11T10:30:00.500000"),
        ("2026-03-12 11:30 PM -01:00", "2026-03-13T00:30:00.000000"),
    ],
)
def test_offsets_are_applied(text: str, expected: str) -> None:
    assert times(text, words=TimeWords()) == [expected]


def test_the_same_time_is_read_alike_the_first_and_the_second_time() -> None:
    """Minutes and what is behind them are remembered by their text; no mixture of two rows may result."""
    texts = [
        "2026-03-12 12:00:00 AM",
        "2026-03-12 12:00:00 PM",
        "2026-03-12 12:00:00",
        "2026-03-12 12:00:30.25",
        "2026-03-12 12:00:30",
        "2026-03-12 12:00:30.5+01:00",
        "2026-03-12 12:00:30+01:00",
        "2026-03-12 24:00:00",
        "2026-03-12 12:00",
        "2026-03-13T12:00:30.25",
    ]
    apart = [times(text, words=TimeWords())[0] for text in texts]
    assert times(*texts, *texts, *reversed(texts), words=TimeWords()) == apart + apart + apart[::-1]
    assert times(*texts, *texts, words=TimeWords(), at_once=3) == apart * 2
    assert len(set(apart)) == 8  # 12:00:00, 12:00 and 12 PM are the same


def test_remembering_does_not_let_through_what_is_wrong_alone() -> None:
    good = ["2026-03-12 24:00:00", "2026-03-12 11:10:30", "2026-03-12 01:10:30 PM"]
    for wrong in (
        "2026-03-12 24:00:30",
        "2026-03-12 24:10:30",
        "2026-03-12 11:10:30 XM",
        "2026-03-12 13:10:30 PM",
    ):
        assert refusal(wrong) == refusal(*good, wrong).replace("line 5", "line 2")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2026-03-12", "is a date without a time of day"),
        ("06:10:00", "the time of day has no date"),
        (":10", "has no date"),
        ("6:10", "has no date"),
        ("soon", "is not a date and time"),
        ("2026-02-29 06:10", "date '2026-02-29' is not in the calendar"),
        ("31.02.2026 06:10", "date '31.02.2026' is not in the calendar"),
        ("13/13/2026 06:10", "date '13/13/2026' is not in the calendar"),
        ("0000-01-01 06:10", "is not in the calendar"),
        ("2026-13-01 06:10", "is not in the calendar"),
        ("12.03.26 06:10", "date '12.03.26' has a year of two digits"),
        ("12-Mar-26 06:10", "date '12-Mar-26' has a year of two digits"),
        ("12 Okt 2026 06:10", "names no month in English"),
        ("12 Ma 2026 06:10", "'12 Ma 2026' is not a date"),
        ("12/03-2026 06:10", "'12/03-2026' is not a date"),
        ("2026-03-12T06-10-00", "is not a date and time"),
        ("2026-03-12 25:10", "impossible clock time"),
        ("2026-03-12 06:60", "impossible clock time"),
        ("2026-03-12 06:10:61", "impossible clock time"),
        ("2026-03-12 24:00:01", "impossible clock time"),
        ("2026-03-12 24:00:00.5", "impossible clock time"),
        ("2026-03-12 13:10 PM", "before AM or PM stands 1 to 12"),
        ("2026-03-12 00:10 AM", "before AM or PM stands 1 to 12"),
        ("2026-03-12 06:10 CET", "'06:10 CET' is not a time of day"),
        ("2026-03-12 06:10:00.", "is not a time of day"),
        ("2026-03-12 06:10:00+15:00", "impossible offset"),
        ("2026-03-12 06:1", "is not a time of day"),
        ("2026-03-12 06:10:00 06:11:00", "is not a time of day"),
        ("2026-03-12 ٠٦:10", "is not a time of day"),
        ("２026-03-12 06:10", "is not a date"),
    ],
)
def test_what_is_no_time_is_refused_with_line_and_column(text: str, said: str) -> None:
    message = refusal("2026-03-12 06:10:00", text)
    assert message.startswith("a.csv: line 3, column 'when': ")
    assert said in message


# --- the order of day and month ---------------------------------------------------------------------


def test_one_date_settles_the_order_of_the_whole_column_wherever_it_stands() -> None:
    open_dates = ["03/04/2026 06:10", "03/05/2026 06:10"]
    assert times(*open_dates, "13/05/2026 06:10")[0].startswith("2026-04-03")
    assert times(*open_dates, "05/13/2026 06:10")[0].startswith("2026-03-04")
    assert times("13/05/2026 06:10", *open_dates, at_once=1)[1].startswith("2026-04-03")


def test_an_order_that_nothing_settles_is_asked_for_once() -> None:
    message = refusal(
        "2026-03-01 06:10", "02.02.2026 06:10", "03.04.2026 06:10", "04.04.2026 06:10", "05.04.2026 1:00"
    )
    assert message.count("\n") == 0
    assert "line 4, column 'when': date '03.04.2026' can be read with the day or the month first" in message
    assert "--date-order dmy or --date-order mdy" in message


def test_the_stated_order_settles_what_the_column_does_not() -> None:
    assert times("03/04/2026 06:10", order=DMY)[0].startswith("2026-04-03")
    assert times("03/04/2026 06:10", order=MDY)[0].startswith("2026-03-04")


def test_the_name_of_the_column_settles_it_too() -> None:
    assert times("03/04/2026 06:10", words=TimeWords(utc=True, order=MDY))[0].startswith("2026-03-04")
    message = refusal("03/04/2026 06:10", words=TimeWords(order=MDY), order=DMY)
    assert "the name of the column tells another order" in message


def test_a_stated_order_that_the_dates_contradict_is_refused() -> None:
    message = refusal("03/04/2026 06:10", "13/04/2026 06:10", order=MDY)
    assert "line 3, column 'when': date '13/04/2026' has the day before month, not as asked for" in message


def test_dates_that_contradict_each_other_are_refused_with_both_lines() -> None:
    message = refusal("13/04/2026 06:10", "01/04/2026 06:10", "04/14/2026 06:10")
    assert message.count("\n") == 0
    assert "line 4, column 'when': date '04/14/2026' and date '13/04/2026' in line 2" in message


def test_the_same_day_and_month_leaves_nothing_open() -> None:
    assert times("03/03/2026 06:10", "04.04.2026 06:10") == [
        "2026-03-03T06:10:00.000000",
        "2026-04-04T06:10:00.000000",
    ]


def test_rows_of_others_tell_the_order_and_are_not_held_to_it() -> None:
    assert times("03/04/2026 06:10", others=("nonsense", "13/04/2026 6:10"))[0].startswith("2026-04-03")
    assert times("13/04/2026 06:10", others=("31/31/2026 6:10", ""))[0].startswith("2026-04-13")
    assert "and date '13/04/2026' in line 2" in refusal("13/04/2026 06:10", others=("04/13/2026 6:10",))


# --- numbers counted from 1970 ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # 1 234 567 890 s is 2009-02-13T23:31:30Z (POSIX.1-2017, 4.16: 14288 days of 86 400 s and 84 690 s).
        ("1234567890", "2009-02-13T23:31:30.000000"),
        ("1234567890.", "2009-02-13T23:31:30.000000"),
        ("1234567890.25", "2009-02-13T23:31:30.250000"),
        ("1234567890,1234569", "2009-02-13T23:31:30.123456"),
        ("1234567890123", "2009-02-13T23:31:30.123000"),
        ("1234567890123.4567", "2009-02-13T23:31:30.123456"),
        ("1234567890123456", "2009-02-13T23:31:30.123456"),
    ],
)
def test_numbers_whose_size_says_what_they_count(text: str, expected: str) -> None:
    assert times(text, words=TimeWords()) == [expected]
    assert times(text, text, "", text, words=TimeWords(since_1970=True))[::2] == [expected, "NaT"]
    assert column(text, words=TimeWords())[1] == []  # UTC by definition: nothing was assumed


def test_a_unit_in_the_name_is_taken() -> None:
    """999 999 999 999 ms are one millisecond before 10^9 s, 2001-09-09T01:46:40Z."""
    words = TimeWords(unit_us=1000)
    assert times("999999999999", "1000000000000", words=words) == [
        "2001-09-09T01:46:39.999000",
        "2001-09-09T01:46:40.000000",
    ]
    assert "in milliseconds since 1970, is a time before 1980" in refusal("1234567890", words=words)


@pytest.mark.parametrize(
    "text",
    ["0", "46000.25", "20260312", "20260312061000", "202603120610", "999999999", "12345678901", "9999999999"],
)
def test_other_numbers_are_no_times(text: str) -> None:
    """A day of a spreadsheet, dates run together, what would be before 2001 or after 2099."""
    assert f"number '{text}'" in refusal(text, words=TimeWords())
    assert f"number '{text}'" in refusal("1234567890", text, words=TimeWords())


@pytest.mark.parametrize(
    "text", ["-1234567890", "1.2345E+09", "1 234 567 890", "١٢٣٤٥٦٧٨٩٠", "2026-03-12 06:10"]
)
def test_what_is_no_plain_number_is_refused_among_numbers(text: str) -> None:
    assert "is not a number counted from 1970" in refusal("1234567890", text, words=TimeWords())


def test_a_number_among_dates_is_refused() -> None:
    assert "is not a date and time, as others" in refusal("2026-03-12 06:10", "1234567890", words=TimeWords())


@pytest.mark.parametrize(
    ("texts", "open_"),
    [
        (("1203120610", "1203120611"), True),  # 2012-03-12 06:10, or 2008-02-16
        (("1203120610", "1203120661"), False),  # no 61st minute
        (("1999070061000",) * 2, True),  # day 70 of 1999, or 2033
        (("1999370061000",), False),
        (("2026031206100000",), True),
    ],
)
def test_numbers_that_may_be_dates_run_together_are_refused(texts: tuple[str, ...], open_: bool) -> None:
    if open_:
        assert "line 2, column 'when': number" in refusal(*texts, words=TimeWords())
        assert "may be counted from 1970 or be a date run together" in refusal(*texts, words=TimeWords())
    else:
        assert len(times(*texts, words=TimeWords())) == len(texts)
    assert len(times(*texts, words=TimeWords(since_1970=True))) == len(texts)


def test_many_numbers_are_read_as_one_is() -> None:
    """Where a batch holds nothing but whole numbers of one length it is read at once."""
    texts = [str(1_234_567_890 + n) for n in range(40)]
    mixed = [*texts, "", "1234567890.5", *texts]
    expected = [times(text, words=TimeWords())[0] if text else "NaT" for text in mixed]
    assert times(*mixed, words=TimeWords(), at_once=20) == expected
    assert "line 63, column 'when': number '999999999'" in refusal(
        *texts, *texts[:21], "999999999", words=TimeWords(), at_once=20
    )
    large = ["1234567890123456"] * 4 + ["9" * 16, "9" * 20]
    assert "number '9999999999999999'" in refusal(*large, words=TimeWords(), at_once=2)


# --- zones ------------------------------------------------------------------------------------------


def test_times_without_a_zone_are_utc_and_counted_once() -> None:
    texts = ("2026-03-12 06:10:00Z", "2026-03-12 06:11:00", "2026-03-12 06:12:00")
    found, notes = column(*texts, words=TimeWords())
    assert found[1] == "2026-03-12T06:11:00.000000"
    assert notes == ["line 3: 2 times without a zone, read as UTC"]


def test_a_column_that_says_utc_needs_no_note_and_bears_no_offset() -> None:
    assert column("2026-03-12 06:10:00")[1] == []
    assert column("2026-07-12 06:10:00", zone=COPENHAGEN)[0] == ["2026-07-12T06:10:00.000000"]
    assert "line 2, column 'when': time '2026-03-12 06:10:00+01:00' is not UTC" in refusal(
        "2026-03-12 06:10:00+01:00"
    )


def test_a_given_zone_applies_to_times_without_one_only() -> None:
    """Copenhagen keeps UTC+1, in summer UTC+2 (IANA time zone database, Europe/Copenhagen)."""
    texts = ("2026-03-12 06:10:00", "2026-07-12 06:10:00", "2026-07-12 06:10:00Z", "")
    found, notes = column(*texts, words=TimeWords(), zone=COPENHAGEN)
    assert found == [
        "2026-03-12T05:10:00.000000",
        "2026-07-12T04:10:00.000000",
        "2026-07-12T06:10:00.000000",
        "NaT",
    ]
    assert notes == [
        "line 5: 1 fix without a time",
        "line 2: 2 times without a zone, read in Europe/Copenhagen, as asked",
    ]


def test_local_times_need_a_zone() -> None:
    words = TimeWords(local=True)
    assert "state the zone with --track-tz" in refusal("2026-03-12 06:10:00", words=words)
    assert times("2026-03-12 06:10:00", words=words, zone=COPENHAGEN) == ["2026-03-12T05:10:00.000000"]
    assert times("2026-03-12 06:10:00+01:00", words=words) == ["2026-03-12T05:10:00.000000"]


@pytest.mark.parametrize(
    ("text", "word"), [("2026-10-25 02:30:00", "twice"), ("2026-03-29 02:30:59.5", "never")]
)
def test_local_times_at_the_change_of_clocks_are_refused(text: str, word: str) -> None:
    """Directive 2000/84/EC: last Sundays of October and March, 01:00 UTC."""
    before_and_after = (text.replace(" 02:", " 01:"), text.replace(" 02:", " 03:"))
    message = refusal(before_and_after[0], text, before_and_after[1], words=TimeWords(), zone=COPENHAGEN)
    assert message.count("\n") == 0
    assert (
        f"line 3, column 'when': time '{text[:10]}T{text[11:19]}' occurs {word} in Europe/Copenhagen"
        in message
    )


def test_a_clock_set_in_the_middle_of_a_minute_is_followed_to_the_second() -> None:
    """Paris left local mean time, 0:09:21 ahead, at 1911-03-11T00:00 by setting clocks back: from 23:50:39
    to midnight they showed every time twice (IANA time zone database, Europe/Paris)."""
    paris = zoneinfo.ZoneInfo("Europe/Paris")
    assert times("1911-03-10 23:50:38", words=TimeWords(), zone=paris) == ["1911-03-10T23:41:17.000000"]
    assert "occurs twice" in refusal("1911-03-10 23:50:39", words=TimeWords(), zone=paris)
    assert times("1911-03-11 00:00:00", words=TimeWords(), zone=paris) == ["1911-03-11T00:00:00.000000"]


def test_a_time_at_the_end_of_the_calendar_is_refused_not_crashed_on() -> None:
    assert "beyond the calendar" in refusal("9999-12-31T24:00:00", words=TimeWords(), zone=COPENHAGEN)


# --- what is noted ----------------------------------------------------------------------------------


def test_assumptions_are_counted_with_their_first_line() -> None:
    texts = ("2026-03-12 06:10:00", "2026-03-12 06:11", "", "2026-03-12 23:59:60", "2026-03-12 06:12", " ")
    assert column(*texts)[1] == [
        "line 4: 2 fixes without a time",
        "line 3: 2 times without seconds, taken at the full minute",
        "line 5: 1 time with second 60, read as the next second",
    ]


def test_rows_before_the_first_time_have_none() -> None:
    for first in ("2026-03-12 06:10:00", "1234567890"):
        assert times("", " ", first, words=TimeWords(), at_once=1)[:2] == ["NaT", "NaT"]
    assert times("", "") == ["NaT", "NaT"]


# --- names ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "kind", "words"),
    [
        ("time", "time", TimeWords()),
        ("Time", "time", TimeWords()),
        ("time_utc", "time", TimeWords(utc=True)),
        ("UTC", "time", TimeWords(utc=True)),
        ("Time (GMT)", "time", TimeWords(utc=True)),
        ("Time UTC+0", "time", TimeWords(utc=True)),
        ("Time (UTC+2)", "time", TimeWords(local=True)),
        ("GMT-03:30 time", "time", TimeWords(local=True)),
        ("local time", "time", TimeWords(local=True)),
        ("Ship's time", "time", TimeWords(local=True)),
        ("time_lt", "time", TimeWords(local=True)),
        ("Time (hh:mm:ss)", "time", TimeWords()),
        ("Timestamp", "stamp", TimeWords()),
        ("BaseDateTime", "stamp", TimeWords()),
        ("date_time_utc", "stamp", TimeWords(utc=True)),
        ("Date/Time (dd/mm/yyyy hh:mm)", "stamp", TimeWords(order=DMY)),
        ("Date (MM-DD-YYYY)", "date", TimeWords(order=MDY)),
        ("Date", "date", TimeWords()),
        ("Time of day", "clock", TimeWords()),
        ("epoch", "stamp", TimeWords(since_1970=True)),
        ("Unix time (ms)", "stamp", TimeWords(since_1970=True, unit_us=1000)),
        ("epoch_s", "stamp", TimeWords(since_1970=True, unit_us=1_000_000)),
        ("timestamp_ms", "stamp", TimeWords(unit_us=1000)),
    ],
)
def test_what_the_name_of_a_column_says_of_its_times(name: str, kind: str, words: TimeWords) -> None:
    assert time_words(name) == (kind, words)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "lat",
        "time zone",
        "utc offset",
        "timestep",
        "time_cet",
        "ship",
        "local",
        "update",
        "sometime",
        "°",
    ],
)
def test_other_names_are_not_of_times(name: str) -> None:
    assert time_words(name) is None
