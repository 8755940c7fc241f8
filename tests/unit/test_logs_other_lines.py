"""What stands in a log beside sentences, and sentences that have lost something, is told or refused."""

from __future__ import annotations

import pytest
from nmea_texts import gga, messages, place, read, rmc, sentence, steps, told

from towzone.errors import InputError

LAT, LON = 54.5, -8.25
FIXES = [rmc(when, LAT, LON) for when in steps(20)]


def test_lines_without_a_sentence_are_counted_and_the_first_is_shown():
    log = "".join(FIXES[:5]) + "2026-03-01T06:10:05Z 54.6 -8.2\r\n" + "other\n" + "".join(FIXES[5:])
    content = read(log)

    assert content.tally["other_lines"] == 2
    assert told(
        content, "line 6: 2 lines without any sentence not read; the first is '2026-03-01T06:10:05Z 54.6"
    )


@pytest.mark.parametrize(
    "line",
    [
        "",
        " \t ",
        "# a comment",
        "  ; a comment",
        "// a comment",
        "\\s:aft,c:1772345400*00\\",
        "$GPGG",
        "\0\0 \r\r",
    ],
)
def test_blank_lines_comments_tag_blocks_and_broken_sentences_are_no_other_lines(line):
    assert read(FIXES[0] + f"{line}\r\n" * 9 + FIXES[1]).tally["other_lines"] == 0


def test_a_few_headers_are_not_worth_a_remark():
    content = read("logger 1.2\nport 3\nstarted\n" + "".join(FIXES))

    assert content.tally["other_lines"] == 3
    assert "without any sentence" not in messages(content)


def test_more_than_five_headers_are_told():
    content = read("header\n" * 5 + "54.6 -8.2\n" + "".join(FIXES))

    assert told(content, "line 6: 1 line without any sentence not read; the first is '54.6 -8.2'")


@pytest.mark.parametrize("mark", ["", "$", "hello! "])
def test_a_log_of_which_half_is_something_else_is_refused(mark):
    log = "".join(fix + f"{mark} 54.6 -8.2\r\n" for fix in FIXES)

    with pytest.raises(
        InputError, match=r"line 2: 20 of the 40 lines .* hold no sentence .*'.*54.6 -8.2'.*Take them out"
    ):
        read(log)


def test_just_less_than_half_is_read():
    log = "".join(fix + "54.6 -8.2\r\n" for fix in FIXES) + "# and\n"

    assert read(log).tally["other_lines"] == 20


def test_how_the_log_is_cut_makes_no_difference_to_its_other_lines():
    log = "head\n" * 7 + "".join(fix + ("" if i % 3 else "noise\r\n") for i, fix in enumerate(FIXES))
    whole = read(log)

    for piece_bytes in (80, 100, 333):
        cut = read(log, piece_bytes=piece_bytes)
        assert (cut.tally, messages(cut)) == (whole.tally, messages(whole))


# --- sentences without their asterisk -----------------------------------------------------------------


def test_a_checksum_without_its_asterisk_is_told():
    """As a logger that takes out the asterisk leaves it: the mode becomes A5C, which is none."""
    log = "".join(fix.replace("*", "") for fix in FIXES[:10]) + "".join(FIXES[10:])

    content = read(log)

    assert told(content, r"10 sentences end in their checksum without the asterisk \(\*\) before it")
    assert told(content, "line 1: 10 fixes marked as not valid or whose mark was lost with the asterisk")
    assert not told(content, "the receiver itself marks")


def test_a_comma_for_the_asterisk_is_told():
    log = "".join(fix.replace("*", ",") for fix in FIXES)

    assert told(read(log), "20 sentences end in their checksum without the asterisk")


def test_a_log_that_has_lost_all_asterisks_is_refused_with_the_cause():
    with pytest.raises(InputError, match="20 sentences end in their checksum without the asterisk"):
        read("".join(fix.replace("*", "") for fix in FIXES))


def test_a_log_without_checksums_has_lost_no_asterisk():
    content = read("".join(fix.partition("*")[0] + "\r\n" for fix in FIXES))

    assert not told(content, "asterisk")


# --- dates --------------------------------------------------------------------------------------------


def test_dates_of_the_logger_that_can_be_read_both_ways_name_the_option():
    whens = steps(20)
    log = "".join(when.strftime("05/04/2026,%H:%M:%S.000,") + gga(when, LAT, LON) for when in whens)
    content = read(log)

    assert told(content, "no date in the log")
    assert told(content, "can be read as day first or month first and were not used; --date-order settles it")


@pytest.mark.parametrize(
    ("log", "option"),
    [
        ("".join(gga(when, LAT, LON) for when in steps(3)), "--date states the day"),
        (sentence(f"GPGLL,{place(LAT, LON)}"), "no times in the log.*--date cannot help"),
    ],
)
def test_a_log_without_dates_is_told_what_that_means(log, option):
    content = read(log)

    assert told(content, "Without times nothing between positions is proved, no tow can be told")
    assert told(content, option)


def test_a_log_with_the_time_on_a_line_of_its_own_is_a_log():
    lines = "".join(f"2026-05-12 08:00:{n:02d}.123\r\n{FIXES[n % 2]}" for n in range(20))
    content = read(lines)
    assert content.tally["other_lines"] == 20
    assert any("without any sentence" in remark.message for remark in content.remarks)
