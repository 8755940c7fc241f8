"""One fix a moment from a log: what makes it up, what speaks against it, and where everything else went."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from nmea_texts import (
    START,
    ddmm,
    fixes,
    gga,
    gll,
    gns,
    left_out,
    messages,
    place,
    read,
    rmc,
    sentence,
    steps,
    told,
    zda,
)

from towzone.errors import InputError
from towzone.model.track import READINGS, REASONS

LAT, LON = 54.5, -8.25
HERE = place(LAT, LON)


def line(body):
    return sentence(body)


def good(number=5):
    """A second of a good fix at the end of a log."""
    when = START + dt.timedelta(seconds=number)
    return rmc(when, LAT, LON) + gga(when, LAT, LON)


def one(log):
    """The fix of a log that gives one, without its line."""
    ((_, when, lat, lon),) = fixes(read(log))
    return when, round(lat, 9), round(lon, 9)


# --- lines that readers have got wrong --------------------------------------------------------------


def test_empty_positions_are_not_0_0():
    content = read(line("GPGGA,061000.00,,,,,0,00,,,M,,M,,") + good())

    assert [lat for _, _, lat, _ in fixes(content)] == [LAT]
    assert left_out(content) == {"void": 1}
    assert np.isnan(content.raw[0].left_out[0].lat_deg).all()


def test_a_valid_status_without_a_position_is_void():
    content = read(line("GPRMC,061000.00,A,,,,,3.4,120.5,010326,,,A") + good())

    assert left_out(content) == {"void": 1}


@pytest.mark.parametrize("where", ["5430.0000,,00815.0000,W", "5430.0000,N,00815.0000,", "5430.0000,N,,W"])
def test_a_missing_hemisphere_is_not_taken_for_north_or_east(where):
    content = read(line(f"GPGGA,061000.00,{where},1,09,0.9,12.3,M,48.1,M,,") + good())

    assert left_out(content) == {"bad_position": 1}
    assert told(content, "line 1: 1 fix whose position is none: .*without hemisphere")


def test_letters_of_hemispheres_in_lower_case_keep_their_sign():
    assert one(line("GPGGA,061000.00,3430.0000,s,05815.0000,w,1,09,0.9,12.3,M,48.1,M,,")) == (
        None,
        -34.5,
        -58.25,
    )


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (line(f"GPRMC,061000.00,V,{HERE},3.4,120.5,010326,,,A"), "void"),
        (line(f"GPRMC,061000.00,,{HERE},3.4,120.5,010326,,,A"), "void"),
        (line(f"GPRMC,061000.00,A,{HERE},3.4,120.5,010326,,,N"), "void"),
        (line(f"GPRMC,061000.00,A,{HERE},3.4,120.5,010326,,,X"), "void"),
        (line(f"GPRMC,061000.00,A,{HERE},3.4,120.5,010326,,,E"), "estimated"),
        (line(f"GPRMC,061000.00,A,{HERE},3.4,120.5,010326,,,M"), "estimated"),
        (line(f"GPRMC,061000.00,A,{HERE},3.4,120.5,010326,,,S"), "estimated"),
        (gga(START, LAT, LON, quality="0"), "void"),
        (gga(START, LAT, LON, quality=""), "void"),
        (gga(START, LAT, LON, quality="x"), "void"),
        (gga(START, LAT, LON, quality="6"), "estimated"),
        (gga(START, LAT, LON, quality="7"), "estimated"),
        (gga(START, LAT, LON, quality="8"), "estimated"),
        (gll(START, LAT, LON, status="V"), "void"),
        (gll(START, LAT, LON, mode="N"), "void"),
        (gll(START, LAT, LON, mode="S"), "estimated"),
        (gns(START, LAT, LON, talker="GP", mode="NN"), "void"),
        (gns(START, LAT, LON, talker="GP", mode=""), "void"),
        (gns(START, LAT, LON, talker="GP", mode="EN"), "estimated"),
        (line("GPGGA,061000.00,9100.0000,N,00815.0000,W,1,09,0.9,12.3,M,48.1,M,,"), "bad_position"),
        (line("GPGGA,061000.00,5475.0000,N,00815.0000,W,1,09,0.9,12.3,M,48.1,M,,"), "bad_position"),
        (line("GPGGA,061000.00,5430.0000,N,18100.0000,W,1,09,0.9,12.3,M,48.1,M,,"), "bad_position"),
        (line("GPGGA,061000.00,54.5,N,8.25,W,1,09,0.9,12.3,M,48.1,M,,"), "bad_position"),
        (line("GPGGA,061000.00,-5430.0000,N,00815.0000,W,1,09,0.9,12.3,M,48.1,M,,"), "bad_position"),
        (line("GPGGA,061000.00,0000.0000,N,00000.0000,E,1,09,0.9,12.3,M,48.1,M,,"), "zero_position"),
        (line(f"GPGGA,246000.00,{HERE},1,09,0.9,12.3,M,48.1,M,,"), "bad_time"),
        (line(f"GPGGA,xx,{HERE},1,09,0.9,12.3,M,48.1,M,,"), "bad_time"),
    ],
)
def test_why_a_fix_is_left_out(text, reason):
    """Each by its own word, in the line where it stands."""
    content = read(text + good())
    (some,) = content.raw[0].left_out

    assert (some.reason, some.line.tolist(), len(fixes(content))) == (reason, [1], 1)
    assert reason in REASONS
    # What stands at 0, 0 is told where the track is put together.
    assert reason == "zero_position" or told(content, "line 1: 1 fix ")


@pytest.mark.parametrize("quality", list("123459"))
def test_qualities_of_satellite_fixes_are_taken(quality):
    assert one(gga(START, LAT, LON, quality=quality)) == (None, LAT, LON)


@pytest.mark.parametrize("mode", ["A", "D", "F", "R", "P", "a", ""])
def test_modes_of_satellite_fixes_are_taken(mode):
    assert one(rmc(START, LAT, LON, mode=mode)) == (START, LAT, LON)


@pytest.mark.parametrize("mode", ["AN", "NA", "DNNN", "R", "EA", "NNNNP"])
def test_one_satellite_system_is_enough_for_gns(mode):
    assert one(gns(START, LAT, LON, mode=mode)) == (None, LAT, LON)


def test_the_navigation_status_behind_the_mode_of_rmc_says_nothing_of_the_fix():
    """V in it means that no integrity service is used: 120 of 120 valid fixes of a real log had it."""
    assert one(line(f"GNRMC,061000.00,A,{HERE},3.4,120.5,010326,,,A,V")) == (START, LAT, LON)


def test_a_longitude_without_leading_zeros():
    assert one(line("GPGGA,061000.00,5430.0000,N,830.0000,W,1,09,0.9,12.3,M,48.1,M,,")) == (None, 54.5, -8.5)


def test_blanks_around_a_time_do_not_shift_its_digits():
    assert one(line(f"GPRMC, 120000,A,{HERE},3.4,120.5,010326,,,A")) == (
        dt.datetime.fromisoformat("2026-03-01T12:00:00"),
        LAT,
        LON,
    )


@pytest.mark.parametrize(
    "before",
    [
        "2026-03-01T06:10:00.123Z\t",
        "2026-03-01 06:10:00,",
        "03/01/2026,06:10:00.123,",
        "2026:060:06:10:00.1234 gps ",
        "1772345400.5 ",
        'DATA, 2026-03-01T06:10:00Z, "',
        "12345 ",
        "\\s:bridge,c:1772345400*3D\\",
        "\\g:1-2-1234*59\\\\c:1772345400*50\\",
        "\0\0\0",
        "\x80\xff $GPRMC,06",
    ],
)
def test_what_loggers_write_before_a_sentence_is_no_part_of_it(before):
    assert one(before + rmc(START, LAT, LON)) == (START, LAT, LON)


def test_two_sentences_on_one_line_and_glued_lines_lose_nothing():
    first, second = steps(2)
    log = rmc(first, LAT, LON).strip() + " " + rmc(second, LAT, LON).strip() + rmc(second, LAT, LON)[:40]
    third = second + dt.timedelta(seconds=1)

    assert [when for _, when, _, _ in fixes(read(log + rmc(third, LAT, LON)))] == [first, second, third]


@pytest.mark.parametrize("ends", ["\r\n", "\n", "\r", "\n\n", "\r\r\n"])
def test_line_ends_of_any_kind(ends):
    log = "".join(rmc(when, LAT, LON).strip() + ends for when in steps(5))
    found = fixes(read(log))

    assert [when for _, when, _, _ in found] == steps(5)
    lines = [1, 3, 5, 7, 9] if ends == "\n\n" else [1, 2, 3, 4, 5]
    assert [number for number, _, _, _ in found] == lines


def test_a_log_cut_in_its_last_line_loses_that_line_only():
    content = read(rmc(START, LAT, LON) + gga(START, LAT, LON)[:45])

    assert [(when, lat) for _, when, lat, _ in fixes(content)] == [(START, LAT)]
    assert content.tally["cut"] == 1


# --- checksums --------------------------------------------------------------------------------------


def test_a_wrong_checksum_drops_the_sentence_and_is_counted():
    wrong = rmc(START, LAT, LON).replace("5430", "5431")
    content = read(wrong + good())

    assert len(fixes(content)) == 1
    assert content.tally["bad_checksum"] == 1
    assert told(content, "1 sentence with a wrong checksum left out, of 3")


def test_a_log_without_checksums_is_read_and_told():
    content = read("".join(rmc(when, LAT, LON).split("*")[0] + "\r\n" for when in steps(5)))

    assert [when for _, when, _, _ in fixes(content)] == steps(5)
    assert content.tally["no_checksum"] == 5
    assert told(content, "the log has no checksums")


@pytest.mark.parametrize("behind", [" ", "   ", "\0\0\0", "\t"])
def test_what_prints_nothing_behind_a_sentence_without_checksum_is_no_part_of_its_mode(behind):
    assert one(rmc(START, LAT, LON).split("*")[0] + behind + "\r\n") == (START, LAT, LON)


def test_single_sentences_without_checksum_are_taken_and_told():
    first, *rest = steps(20)
    log = rmc(first, LAT, LON).split("*")[0] + "\r\n" + "".join(rmc(when, LAT, LON) for when in rest)
    content = read(log)

    assert len(fixes(content)) == 20
    assert told(content, "1 sentence of 20 without a checksum taken like the others")


# --- epochs -----------------------------------------------------------------------------------------


def test_sentences_of_the_same_time_are_one_fix():
    whens = steps(3)
    log = "".join(
        gga(when, LAT, LON) + gll(when, LAT, LON) + gns(when, LAT, LON, talker="GP") + rmc(when, LAT, LON)
        for when in whens
    )

    assert [(number, when) for number, when, _, _ in fixes(read(log))] == list(
        zip([1, 5, 9], whens, strict=True)
    )


def test_any_sentence_of_a_moment_can_veto_it():
    """Whichever comes first."""
    when, later = steps(2)
    valid, void = rmc(when, LAT, LON), gga(when, LAT, LON, quality="0")

    for log in (valid + void, void + valid):
        content = read(log + rmc(later, LAT, LON))
        assert [moment for _, moment, _, _ in fixes(content)] == [later]
        assert left_out(content) == {"void": 1}


def test_the_position_with_most_decimals_is_taken():
    log = (
        gga(START, 54.5001, LON, places=2)
        + rmc(START, 54.5, LON, places=5)
        + gll(START, 54.5002, LON, places=3)
    )

    assert one(log) == (START, 54.5, LON)


@pytest.mark.parametrize(
    ("log", "lat"),
    [
        (rmc(START, 54.5001, LON) + gga(START, 54.5002, LON), 54.5002),
        (gns(START, 54.5001, LON, talker="GP") + rmc(START, 54.5002, LON), 54.5002),
        (
            gll(START, 54.5001, LON) + gns(START, 54.5002, LON, talker="GP") + rmc(START, 54.5002, LON),
            54.5002,
        ),
        (gll(START, 54.5001, LON) + gns(START, 54.5002, LON, talker="GP"), 54.5002),
    ],
)
def test_of_positions_written_alike_gga_goes_before_rmc_gns_and_gll(log, lat):
    assert [round(found, 9) for _, _, found, _ in fixes(read(log))] == [lat]


def test_a_bad_position_does_not_spoil_a_good_one_of_the_same_moment():
    bad = line("GPGGA,061000.00,5475.0000,N,00815.0000,W,1,09,0.9,12.3,M,48.1,M,,")

    assert one(bad + rmc(START, LAT, LON)) == (START, LAT, LON)


def test_positions_of_one_moment_fifty_metres_apart_are_one_place():
    """Fifty metres are more than rounding; 0.0004 degrees of latitude are 45 m."""
    near = read(gga(START, LAT, LON) + rmc(START, LAT + 0.0004, LON))
    across = read(gga(START, LAT, 179.99999) + rmc(START, LAT, -179.99999))

    assert not told(near, "more than 50 m")
    assert not told(across, "more than 50 m")


def test_positions_apart_by_rounding_only_are_told_and_the_finest_is_taken():
    """A tenth of a minute of latitude is 185 m; figures cut off stand that far away."""
    content = read(rmc(START, LAT + 0.09 / 60, LON) + gll(START, LAT, LON, places=1))

    assert [round(lat, 9) for _, _, lat, _ in fixes(content)] == [54.5015]
    assert told(
        content, "line 1: 1 fix .* written with few decimals, .*; the one with most decimals was taken"
    )


def test_a_sentence_without_a_time_belongs_to_the_moment_before():
    first, second = steps(2)
    timeless = line(f"GPGLL,{place(54.5002, LON, 6)}")
    log = rmc(first, LAT, LON) + timeless + rmc(second, LAT, LON)

    assert [(when, round(lat, 9)) for _, when, lat, _ in fixes(read(log))] == [
        (first, 54.5002),
        (second, LAT),
    ]


def test_the_second_sentence_of_a_type_without_a_time_is_of_no_moment_and_left_out():
    timeless = line(f"GPGLL,{HERE}")
    content = read(rmc(START, LAT, LON) + timeless + timeless)

    assert len(fixes(content)) == 1
    assert left_out(content) == {"bad_time": 1}
    assert told(content, "line 3: 1 fix without a time of day left out")


def test_a_log_without_any_times_gives_positions_in_order():
    log = "".join(line(f"GPGLL,{place(LAT + i / 100, LON)}") for i in range(3))
    content = read(log)

    assert [(when, round(lat, 9)) for _, when, lat, _ in fixes(content)] == [
        (None, 54.5),
        (None, 54.51),
        (None, 54.52),
    ]
    assert told(content, "no times in the log")


# --- readings ---------------------------------------------------------------------------------------


def readings(log, name):
    column = read(log).raw[0].readings.get(name)
    return None if column is None else [None if math.isnan(x) else round(float(x), 3) for x in column]


def test_readings_go_to_the_moment_they_follow():
    whens = steps(3)
    log = (
        rmc(whens[0], LAT, LON, sog="", cog="")
        + line("GPVTG,120.9,T,,M,4.5,N,8.3,K,A")
        + line("HEHDT,341.8,T")
        + line("SDDPT,53.0,0.4,")
        + rmc(whens[1], LAT, LON)
        + rmc(whens[2], LAT, LON)
        + line("SDDBT,,f,20.5,M,,F")
    )

    assert readings(log, "sog_kn") == [4.5, 3.4, 3.4]
    assert readings(log, "cog_deg") == [120.9, 120.5, 120.5]
    assert readings(log, "heading_deg") == [341.8, None, None]
    assert readings(log, "depth_m") == [53.4, None, 20.5]


def test_the_first_reading_behind_a_position_counts_and_none_from_far_behind():
    """A heading half an hour after the last fix is not the heading of that fix."""
    near = rmc(START, LAT, LON) + line("HEHDT,10.0,T") + line("HEHDT,20.0,T")
    far = rmc(START, LAT, LON) + line("SDDPT,,") * 501 + line("HEHDT,10.0,T")

    assert readings(near, "heading_deg") == [10.0]
    assert readings(far, "heading_deg") is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("HEHDT,360.0,T", 0.0),
        ("HEHDT,361.0,T", None),
        ("HEHDT,,T", None),
        ("HCHDG,100.0,,,5.0,W", 95.0),
        ("HCHDG,2.0,,,5.0,W", 357.0),
        ("HCHDG,359.0,1.5,E,2.5,E", 3.0),
        ("HCHDG,100.0,1.0,W,5.0,E", 104.0),
        ("HCHDG,100.0,,,,", None),
        ("HCHDG,100.0,,,5.0,", None),
        ("HCHDG,100.0,1.0,,5.0,E", None),
        ("HCHDM,100.0,M", None),
    ],
)
def test_only_true_headings_are_headings(text, expected):
    found = readings(rmc(START, LAT, LON) + line(text), "heading_deg")

    assert found == (None if expected is None else [expected])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("SDDPT,53.0,0.4,", 53.4),
        ("SDDPT,53.0,+0.4", 53.4),
        ("SDDPT,53.0,-0.4,", 53.0),
        ("SDDPT,53.0,,", 53.0),
        ("SDDPT,0.0,0.4,", None),
        ("SDDPT,,0.4,", None),
        ("SDDPT,20000,0.4,", None),
        ("SDDPT,-5.0,0.4,", None),
        ("SDDBT,7.7,f,2.3,M,1.3,F", 2.3),
        ("SDDBT,7.7,f,2.3,f,1.3,F", None),
        ("SDDBT,0.0,f,0.0,M,0.0,F", None),
    ],
)
def test_depths(text, expected):
    """Down from the waterline only where the offset says so; 0 is a lost bottom."""
    found = readings(rmc(START, LAT, LON) + line(text), "depth_m")

    assert found == (None if expected is None else [expected])


@pytest.mark.parametrize(
    ("depths", "words"),
    [
        (["SDDBT,7.7,f,2.3,M,1.3,F"], "1 fix with a depth, below the transducer"),
        (["SDDPT,5.0,0.0"], "1 fix with a depth, below the transducer"),
        (["SDDPT,5.0,0.4"], "1 fix with a depth, below the waterline, by the offset"),
        (["SDDPT,5.0,0.4", "SDDPT,5.0,-2.0"], r"below the waterline where the log has .* \(1 of 2\), else"),
    ],
)
def test_what_depths_are_counted_from_is_told(depths, words):
    assert told(read(rmc(START, LAT, LON) + "".join(map(line, depths))), words)


@pytest.mark.parametrize(
    ("text", "speed", "course"),
    [
        ("GPVTG,120.9,T,,M,4.5,N,8.3,K,A", 4.5, 120.9),
        ("GPVTG,120.9,T,118.0,M,4.5,N,8.3,K", 4.5, 120.9),
        ("GPVTG,120.9,118.0,4.5,8.3", 4.5, 120.9),
        ("GPVTG,360.0,T,,M,4.5,N,8.3,K,A", 4.5, 0.0),
        ("GPVTG,120.9,T,,M,4.5,N,8.3,K,N", None, None),
        ("GPVTG,120.9,T,,M,4.5,N,8.3,K,E", None, None),
        ("GPVTG,,T,,M,102.3,N,,K,A", None, None),
        ("INVTG,120.9,T,,M,4.5,N,8.3,K,A", None, None),
    ],
)
def test_speed_and_course_of_the_same_receiver(text, speed, course):
    log = gga(START, LAT, LON) + line(text)

    assert readings(log, "sog_kn") == (None if speed is None else [speed])
    assert readings(log, "cog_deg") == (None if course is None else [course])


def test_speed_of_rmc_goes_before_that_of_vtg_wherever_they_stand():
    vtg = line("GPVTG,99.9,T,,M,9.9,N,8.3,K,A")

    for log in (gga(START, LAT, LON) + vtg + rmc(START, LAT, LON), rmc(START, LAT, LON) + vtg):
        assert readings(log, "sog_kn") == [3.4]
        assert (
            read(log).raw[0].readings["sog_kn"].tolist()
            == read(log, piece_bytes=90).raw[0].readings["sog_kn"].tolist()
        )


def test_headings_of_two_devices_are_told():
    log = rmc(START, LAT, LON) + line("HEHDT,10.0,T") + line("GPHDT,11.0,T")

    assert told(read(log), r"heading from several devices \(GP 1, HE 1\)")


def test_readings_are_named_as_tracks_name_them():
    log = good() + line("HEHDT,10.0,T") + line("SDDPT,53.0,0.4,")
    columns = read(log).raw[0].readings

    assert set(columns) <= set(READINGS)
    assert {name: column.dtype for name, column in columns.items()} == dict.fromkeys(
        ("sog_kn", "cog_deg", "heading_deg", "depth_m", "hdop"), np.dtype(np.float32)
    )


# --- the account ------------------------------------------------------------------------------------


def test_every_sentence_is_counted_once():
    log = (
        good()
        + zda(START)
        + line("HEHDT,10.0,T")
        + line("GPDTM,W84,,0.0,N,0.0,E,0.0,W84")
        + line("GPGSV,1,1,00")
        + line("PGRME,1.0,M")
        + sentence("AIVDM,1,1,,A,13aEOK?P00PD2wVMdLDRhgvL289?,0", mark="!")
        + rmc(START, LAT, LON).replace("54", "53")
        + "$GPGGA,0610\r\n"
        + line("GPGGA,,,,,,0,,,,,,,,")
    )
    content = read(log)

    assert content.form == "NMEA 0183 log"
    assert content.tally == {
        "sentences": 11,
        "positions": 3,
        "readings": 1,
        "dates": 1,
        "datums": 1,
        "ais": 1,
        "other_types": 2,
        "bad_checksum": 1,
        "cut": 1,
        "no_checksum": 0,
        "empty": 1,
        "bad_time_or_date": 0,
        "other_lines": 0,
        "fixes": 1,
        "used": 1,
        "left_out": 0,
    }
    assert told(content, "1 AIS sentence not read: .*--only MMSI")


@pytest.mark.parametrize(
    ("log", "words"),
    [
        ("", "It holds 0 sentences"),
        (line("GPGSV,1,1,00") * 3, r"3 sentences, 3 of types that are not read \(GSV\)"),
        (rmc(START, LAT, LON, status="V"), "1 fix that the receiver itself marks as not valid"),
        (gga(START, 0.0, 0.0), "1 fix at 0, 0"),
        (rmc(START, LAT, LON).replace("54", "53"), "1 with a wrong checksum"),
        (sentence("AIVDM,1,1,,A,1,0", mark="!") + rmc(START, LAT, LON, status="V"), "--only MMSI"),
    ],
)
def test_a_log_without_a_usable_fix_is_refused_with_what_it_holds(log, words):
    with pytest.raises(InputError, match=f"trip.log: no position of this log can be used.*{words}"):
        read(log)


@pytest.mark.parametrize("code", ["W84", ""])
def test_wgs_84_and_no_datum_are_taken(code):
    assert len(fixes(read(line(f"GPDTM,{code},,0.0,N,0.0,E,0.0,W84") + good()))) == 1


@pytest.mark.parametrize("code", ["999", "W72", "P90", "ED5", "w84 or so"])
def test_positions_on_another_datum_are_refused(code):
    log = good() + line(f"GPDTM,{code},,0.08,N,0.07,E,-47.7,W84") + good(6)

    with pytest.raises(InputError, match=f"line 3: the receiver 'GP' declares .* datum '{code}', not WGS 84"):
        read(log)


def test_another_datum_of_another_receiver_does_not_matter():
    log = good() + line("INDTM,W72,,0.08,N,0.07,E,-47.7,W84") + rmc(START, LAT, LON, talker="IN")

    assert len(fixes(read(log, receiver="GP"))) == 1
    with pytest.raises(InputError, match="or take another receiver of the log, with --receiver"):
        read(log, receiver="IN")


@pytest.mark.parametrize(("places", "resolution_m"), [(0, 1852.0), (2, 18.52), (4, 0.1852), (8, 1.852e-5)])
def test_the_last_decimal_of_the_minutes_is_the_resolution(places, resolution_m):
    """A minute of latitude is a nautical mile, 1852 m."""
    log = "".join(rmc(when, LAT, LON, places=places) for when in steps(3))

    assert read(log).raw[0].resolution_m == pytest.approx(resolution_m)


def test_positions_written_shorter_for_their_zeros_do_not_make_a_log_coarse():
    whens = steps(100)
    log = "".join(
        line(f"GPGGA,{when:%H%M%S},5430.{number:04d},N,00815.0001,W,1,09,0.9,1,M,4,M,,")
        for number, when in enumerate(whens)
    ).replace(".0000,N", ".,N")
    coarse = "".join(rmc(when, LAT, LON, places=2 if i % 5 == 0 else 4) for i, when in enumerate(whens))

    assert read(log).raw[0].resolution_m == pytest.approx(0.1852)
    assert read(coarse).raw[0].resolution_m == pytest.approx(18.52)


def test_names_from_the_log_are_shown_without_their_control_characters():
    tag = "a\x1b[31m"
    body = f"s:{tag}"
    log = good() + "".join(
        "\\" + sentence(body, mark="", end="") + "\\" + rmc(when, LAT, LON, talker="IN") for when in steps(3)
    )

    assert "\x1b" not in messages(read(log))


def test_positions_to_the_last_written_digit():
    """Thirty-two millionths of a minute are 0.06 mm; nothing is lost on the way."""
    text = ddmm(54.123456789, 2, 8)
    (found,) = fixes(read(line(f"GPGGA,061000.00,{text},N,00815.0000,W,1,09,0.9,12.3,M,48.1,M,,")))

    assert found[2] == pytest.approx(54.123456789, rel=0, abs=2e-10)
