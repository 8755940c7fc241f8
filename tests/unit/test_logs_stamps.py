"""The time a logger wrote on a line: each form it takes, and what is no time at all."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import pytest
from ais_encoder import microseconds, tagged, xor

from towzone.logs.checksum import checksum
from towzone.logs.stamps import Origin, StampNote, StampReader
from towzone.tracks.options import DateOrder, ReadingOptions

MOMENT = dt.datetime(2019, 5, 17, 1, 2, 3, tzinfo=dt.UTC)
US = microseconds(MOMENT)
# `date -u -d @1558054923` on any system gives the moment above.
EPOCH_S = 1558054923


def read(before=b"", after=b"", **options):
    return StampReader(ReadingOptions(**options)).read(before, after)


def block(**fields):
    return tagged("", **fields).encode()


def test_the_moment_of_these_tests_is_the_epoch_second_they_use():
    assert US == EPOCH_S * 1_000_000


@pytest.mark.parametrize(
    ("text", "more_us", "stated"),
    [
        (b"2019-05-17T01:02:03Z ", 0, True),
        (b"2019-05-17t01:02:03z\t", 0, True),
        (b"2019-05-17 01:02:03,", 0, False),
        (b"2019-05-17 01:02:03.5 ", 500_000, False),
        (b"2019-05-17 01:02:03,250 ", 250_000, False),
        (b"2019-05-17T01:02:03.123456789Z,", 123_456, True),
        (b"2019-05-17T03:02:03+02:00 ", 0, True),
        (b"2019-05-16T21:02:03-0400 ", 0, True),
        (b"2019-05-17T03:02:03 +02 ", 0, True),
        (b"2019-05-17 01:02:03 UTC ", 0, True),
        (b"2019-05-17 01:02:03 GMT;", 0, True),
        (b"[2019-05-17 01:02:03] ", 0, False),
        (b"2019-05-17_01:02:03: ", 0, False),
        (b"log-2019-05-17 01:02:03 ", 0, False),
        (b"2019/05/17 01:02:03.123 TAG ", 123_000, False),
        (b"20190517T010203.5Z ", 500_000, True),
        (b"receiver1 2019:137:01:02:03.1234 ", 123_400, False),
        (b"17.05.2019 01:02:03 ", 0, False),
        (b"05/17/2019,01:02:03.123,", 123_000, False),
        (b"5/17/2019 1:02:03 AM ", 0, False),
        (b'DATA, 2019-05-17T01:02:03Z, "', 0, True),
        (b"1558054923 ", 0, True),
        (b"1558054923.25,", 250_000, True),
        (b"[1558054923] ", 0, True),
        (b"1558054923123\t", 123_000, True),
    ],
)
def test_a_prefix_is_read_in_each_of_its_forms(text, more_us, stated):
    stamp = read(text)
    assert stamp is not None
    assert (stamp.time_us, stamp.origin, stamp.zone_stated) == (US + more_us, Origin.PREFIX, stated)


@pytest.mark.parametrize(
    "text",
    [
        b"12345678 ",  # milliseconds since the logger was switched on
        b"987654321 ",
        b"0000001 ",
        b"4000000000 ",  # ten digits, but of no year in which a log was written
        b"GPS1558054923 ",
        b"IMEI 490154203237518 ",
        b"10.0.0.1:2000 ",
        b"/dev/ttyUSB0 ",
        b"COM3: ",
        b"01:02:03 ",  # a time of day without its date
        b"2019-05-17 ",  # a date without its time
        b"v2.10.2019 ",
        b"\x00\xff\xfe",
    ],
)
def test_counters_names_and_half_a_time_are_no_stamps(text):
    reader = StampReader(ReadingOptions())
    assert reader.read(text) is None
    assert reader.notes == {}


@pytest.mark.parametrize(
    "suffix",
    [
        b",r003669945,1558054923",
        b",1558054923",
        b",s23096,d-089,T23.12345678,r003669945,1558054923",
        b",r1234567890,1558054923",  # the time stands last
        b" 1558054923",
        b",2019-05-17T01:02:03Z",
    ],
)
def test_a_suffix_is_read_after_the_checksum(suffix):
    stamp = read(b"", suffix)
    assert stamp is not None
    assert (stamp.time_us, stamp.origin) == (US, Origin.SUFFIX)


class TestTagBlocks:
    def test_the_computed_checksum_of_the_published_layout_is_accepted(self):
        """facts 7.5: body ``s:r3669961,c:1120959341`` gives 7B."""
        stamp = read(b"\\s:r3669961,c:1120959341*7B\\")
        assert stamp is not None
        assert (stamp.time_us, stamp.origin) == (1120959341_000_000, Origin.TAG_BLOCK)

    def test_the_second_computed_checksum_is_accepted_with_its_group(self):
        """facts 7.5: body ``g:1-3-1234,s:r003669945,c:1120959341`` gives 0A."""
        stamp = read(b"\\g:1-3-1234,s:r003669945,c:1120959341*0A\\")
        assert stamp is not None
        assert stamp.time_us == 1120959341_000_000

    def test_milliseconds_are_known_by_their_size(self):
        stamp = read(block(c="1558054923123"))
        assert stamp is not None
        assert stamp.time_us == US + 123_000

    def test_a_wrong_checksum_makes_the_block_worthless(self):
        reader = StampReader(ReadingOptions())
        assert reader.read(b"\\s:r3669961,c:1120959342*7B\\") is None
        assert reader.notes == {StampNote.BAD_TAG_BLOCK: 1}

    def test_a_block_that_is_cut_is_not_searched_for_bare_numbers(self):
        reader = StampReader(ReadingOptions())
        assert reader.read(b"\\s:x,c:1558054923") is None
        assert reader.notes == {StampNote.BAD_TAG_BLOCK: 1}

    def test_several_blocks_are_all_looked_at(self):
        assert read(block(s="x") + block(c=EPOCH_S)) is not None
        assert read(block(c=EPOCH_S) + block(g="1-1-7")) is not None

    def test_a_damaged_block_does_not_hide_a_sound_one(self):
        stamp = read(b"\\s:a*00\\" + block(c=EPOCH_S))
        assert stamp is not None
        assert stamp.time_us == US

    def test_a_block_counts_before_a_prefix_and_a_prefix_before_a_suffix(self):
        other = b"2020-01-01T00:00:00Z "
        stamp = read(other + block(c=EPOCH_S), b",1600000000")
        assert stamp is not None
        assert stamp.time_us == US
        stamp = read(b"2019-05-17T01:02:03Z " + block(s="x"), b",1600000000")
        assert stamp is not None
        assert (stamp.time_us, stamp.origin) == (US, Origin.PREFIX)

    def test_a_block_whose_clock_was_not_set_gives_no_time(self):
        reader = StampReader(ReadingOptions())
        assert reader.read(block(c=12)) is None
        assert reader.read(block(c="99999999999")) is None
        assert reader.notes == {StampNote.UNSET_CLOCK: 2}

    def test_letters_in_place_of_seconds_give_no_time(self):
        reader = StampReader(ReadingOptions())
        assert reader.read(block(c="12a")) is None
        assert reader.notes == {StampNote.IMPOSSIBLE: 1}


class TestGroups:
    def test_later_parts_have_the_time_of_the_first(self):
        reader = StampReader(ReadingOptions())
        times = [
            reader.read(block(g="1-3-42", c=EPOCH_S)),
            reader.read(block(g="2-3-42")),
            reader.read(block(g="3-3-42")),
        ]
        assert [stamp and stamp.time_us for stamp in times] == [US, US, US]

    def test_a_group_that_has_ended_gives_nothing_more(self):
        reader = StampReader(ReadingOptions())
        reader.read(block(g="1-2-42", c=EPOCH_S))
        assert reader.read(block(g="2-2-42")) is not None
        assert reader.read(block(g="2-2-42")) is None

    @pytest.mark.parametrize("part", ["3-3-42", "2-2-42", "2-3-43"])
    def test_a_part_that_does_not_follow_has_no_time(self, part):
        reader = StampReader(ReadingOptions())
        reader.read(block(g="1-3-42", c=EPOCH_S))
        assert reader.read(block(g=part)) is None

    def test_a_number_that_comes_again_much_later_is_another_group(self):
        reader = StampReader(ReadingOptions())
        reader.read(block(g="1-2-42", c=EPOCH_S))
        for _ in range(1000):
            reader.read(b"12 ")
        assert reader.read(block(g="2-2-42")) is None

    def test_groups_of_which_the_rest_never_comes_are_forgotten(self):
        reader = StampReader(ReadingOptions())
        for number in range(10_000):
            reader.read(block(g=f"1-2-{number}", c=EPOCH_S))
        assert len(reader._groups) < 100


class TestDayAndMonth:
    def test_a_date_that_can_be_read_both_ways_is_not_read(self):
        reader = StampReader(ReadingOptions())
        assert reader.read(b"03/04/2019 01:02:03 ") is None
        assert reader.notes == {StampNote.EITHER_ORDER: 1}
        (remark,) = reader.remarks("a.log")
        assert "--date-order" in remark.message
        assert "03/04/2019" in remark.message

    @pytest.mark.parametrize(
        ("order", "month", "day"), [(DateOrder.DAY_FIRST, 4, 3), (DateOrder.MONTH_FIRST, 3, 4)]
    )
    def test_the_option_decides(self, order, month, day):
        stamp = read(b"03/04/2019 00:00:00 ", date_order=order)
        assert stamp is not None
        assert stamp.time_us == microseconds(dt.datetime(2019, month, day, tzinfo=dt.UTC))

    def test_a_date_that_the_option_makes_impossible_is_not_read(self):
        reader = StampReader(ReadingOptions(date_order=DateOrder.DAY_FIRST))
        assert reader.read(b"05/17/2019 01:02:03 ") is None
        assert reader.notes == {StampNote.IMPOSSIBLE: 1}

    def test_the_same_figure_twice_needs_no_order(self):
        stamp = read(b"05/05/2019 00:00:00 ")
        assert stamp is not None
        assert stamp.time_us == microseconds(dt.datetime(2019, 5, 5, tzinfo=dt.UTC))

    def test_three_dates_over_twelve_decide_for_those_after_them(self):
        reader = StampReader(ReadingOptions())
        for day in (28, 29, 30):
            assert reader.read(b"%d/04/2019 00:00:00 " % day) is not None
        stamp = reader.read(b"01/05/2019 00:00:00 ")
        assert stamp is not None
        assert stamp.time_us == microseconds(dt.datetime(2019, 5, 1, tzinfo=dt.UTC))
        assert reader.notes[StampNote.LIKE_OTHERS] == 1

    def test_one_date_alone_decides_nothing_else(self):
        """It may be a damaged 04/04."""
        reader = StampReader(ReadingOptions())
        reader.read(b"24/04/2019 00:00:00 ")
        assert reader.read(b"05/04/2019 00:00:00 ") is None

    def test_a_date_in_the_other_order_is_not_read(self):
        reader = StampReader(ReadingOptions())
        for second in range(3):
            reader.read(b"28/04/2019 00:00:%02d " % second)
        assert reader.read(b"04/29/2019 00:00:00 ") is None
        assert reader.notes[StampNote.OTHER_ORDER] == 1

    def test_a_date_that_is_not_read_at_first_is_read_once_others_decide(self):
        reader = StampReader(ReadingOptions())
        assert reader.read(b"01/05/2019 00:00:00 ") is None
        for second in range(3):
            reader.read(b"28/04/2019 00:00:%02d " % second)
        assert reader.read(b"01/05/2019 00:00:00 ") is not None


class TestZones:
    def test_without_option_a_time_without_zone_is_utc_and_noted(self):
        reader = StampReader(ReadingOptions())
        for _ in range(3):
            assert reader.read(b"2019-05-17 01:02:03 ") is not None
        assert reader.notes == {StampNote.NO_ZONE: 3}
        assert "UTC" in reader.remarks("a.log")[0].message

    def test_the_option_is_the_zone_of_times_without_one(self):
        """Oslo is two hours ahead of UTC in May."""
        oslo = zoneinfo.ZoneInfo("Europe/Oslo")
        stamp = read(b"2019-05-17 03:02:03 ", track_tz=oslo)
        assert stamp is not None
        assert stamp.time_us == US
        stamp = read(b"2019-05-17T01:02:03Z ", track_tz=oslo)
        assert stamp is not None
        assert stamp.time_us == US

    @pytest.mark.parametrize("text", [b"2019-10-27 02:30:00 ", b"2019-03-31 02:30:00 "])
    def test_a_local_time_that_occurs_twice_or_never_is_not_read(self, text):
        reader = StampReader(ReadingOptions(track_tz=zoneinfo.ZoneInfo("Europe/Oslo")))
        assert reader.read(text) is None
        assert reader.notes[StampNote.CLOCK_CHANGED] == 1


@pytest.mark.parametrize(
    "text",
    [
        b"2019-02-29 00:00:00 ",
        b"2019-13-01 00:00:00 ",
        b"2019-05-17 24:00:01 ",
        b"2019-05-17 12:60:00 ",
        b"2019-05-17 12:00:61 ",
        b"2019:366:00:00:00 ",
        b"2019:000:00:00:00 ",
        b"40/41/2019 00:00:00 ",
        b"2019-05-17 13:00:00 PM ",
        b"2019-05-17T00:00:00+15:00 ",
        b"0000-05-17 00:00:00 ",
    ],
)
def test_an_impossible_date_or_time_gives_none_and_is_noted(text):
    reader = StampReader(ReadingOptions())
    assert reader.read(text) is None
    assert reader.notes == {StampNote.IMPOSSIBLE: 1}


def test_a_clock_that_was_never_set_gives_no_time():
    reader = StampReader(ReadingOptions())
    assert reader.read(b"1970-01-01 00:00:17 ") is None
    assert reader.notes == {StampNote.UNSET_CLOCK: 1}


def test_an_afternoon_by_twelve_hours_is_not_read_as_a_morning():
    stamp = read(b"5/17/2019 1:02:03 PM ")
    assert stamp is not None
    assert stamp.time_us == US + 12 * 3600 * 1_000_000
    midnight = read(b"5/17/2019 12:00:00 am ")
    assert midnight is not None
    assert midnight.time_us == microseconds(dt.datetime(2019, 5, 17, tzinfo=dt.UTC))


def test_a_leap_second_is_the_second_after():
    stamp = read(b"2016-12-31T23:59:60Z ")
    assert stamp is not None
    assert stamp.time_us == microseconds(dt.datetime(2017, 1, 1, tzinfo=dt.UTC))


def test_the_same_text_again_is_noted_again():
    reader = StampReader(ReadingOptions())
    for _ in range(5):
        reader.read(b"03/04/2019 01:02:03 ")
        reader.read(b"\\s:a*00\\")
        reader.read(b"\\s:a*00\\")
    assert reader.notes == {StampNote.EITHER_ORDER: 5, StampNote.BAD_TAG_BLOCK: 10}


def test_an_empty_line_after_a_group_has_no_time():
    reader = StampReader(ReadingOptions())
    assert reader.read(block(g="1-2-42", c=EPOCH_S)) is not None
    assert reader.read(b"") is None


def test_remarks_show_hostile_text_in_quotes_and_cut():
    reader = StampReader(ReadingOptions())
    reader.read(b"\\\x1b[31m" + b"x" * 500)
    (remark,) = reader.remarks("a.log")
    assert "\x1b" not in remark.message
    assert len(remark.message) < 200


@pytest.mark.parametrize("length", [1, 7, 63, 64, 65, 127, 128, 129, 1000])
def test_the_checksum_is_the_exclusive_or_of_all_bytes(length):
    body = bytes((37 * at + 11) % 256 for at in range(length))
    assert checksum(body) == xor(body.decode("latin-1"))


def test_the_checksum_of_published_sentences():
    """facts 7.3, numbers 2 and 5."""
    assert checksum(b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,") == 0x47
    assert checksum(b"HEHDT,341.8,T") == 0x21
