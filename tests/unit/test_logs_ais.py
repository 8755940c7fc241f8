"""AIS logs: every message type, every source of time, and every way a sentence can be worthless."""

from __future__ import annotations

import itertools
import math
import subprocess
import sys
import tracemalloc

import numpy as np
import pytest
from ais_encoder import (
    START,
    after,
    base_report,
    decoded,
    encoded,
    epoch,
    log,
    microseconds,
    report,
    sentence,
    sentences,
    tagged,
    xor,
)

from towzone.errors import InputError
from towzone.logs.ais import read_ais, vdm_count
from towzone.logs.ais_vessels import LONG_RANGE_RESOLUTION_M, RESOLUTION_M
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME

BOAT = 219_000_001
OTHER = 257_000_002


def read(data, **options):
    chunks = [data] if isinstance(data, bytes) else data
    return read_ais(chunks, file="a.log", name="a", options=ReadingOptions(**options))


def only_track(content):
    (track,) = content.raw
    return track


def told(content):
    return "\n".join(remark.message for remark in content.remarks)


def at(seconds):
    return microseconds(after(seconds))


def adds_up(content):
    tally = dict(content.tally)
    return tally.pop("sentences") == sum(tally.values())


# ---------------------------------------------------------------- messages


@pytest.mark.parametrize("kind", [1, 2, 3, 18, 19, 27])
def test_each_position_report_is_read_as_the_plain_decoder_reads_it(kind):
    fields = {"lon": -3.25512, "lat": 55.12345, "sog": 43, "cog": 314, "second": 17, "heading": 33}
    payload, _ = encoded(kind, BOAT, **fields)
    truth = decoded(payload)
    scale = 600 if kind == 27 else 600_000
    track = only_track(read(log(report(kind, BOAT, **fields))))
    assert (track.vessel, track.name) == ("219000001", "a/219000001")
    assert track.lon_deg[0] == truth["lon"] / scale
    assert track.lat_deg[0] == truth["lat"] / scale
    sog_kn, cog_deg = (43, 314) if kind == 27 else (4.3, 31.4)
    assert track.readings["sog_kn"][0] == pytest.approx(sog_kn)
    assert track.readings["cog_deg"][0] == pytest.approx(cog_deg, abs=1e-5)
    if kind == 27:
        assert np.isnan(track.readings["heading_deg"][0])
    else:
        assert track.readings["heading_deg"][0] == 33


def test_positions_are_the_whole_units_of_the_message_not_rounded_to_a_millionth():
    """1/600 000 of a degree is 1.67e-6: rounded to 1e-6, one unit in three is 4 cm off."""
    units = 1_000_001
    track = only_track(read(log(report(1, BOAT, lon=units / 600_000, lat=1.0))))
    assert track.lon_deg[0] == units / 600_000


@pytest.mark.parametrize(
    ("lon", "lat"), [(-180, 90), (180, -90), (-179.99999, -1 / 600_000), (1 / 600_000, 0.0), (0, 89.999998)]
)
def test_positions_at_the_ends_of_the_range_are_kept(lon, lat):
    track = only_track(read(log(report(1, BOAT, lon=lon, lat=lat))))
    assert (track.lon_deg[0], track.lat_deg[0]) == pytest.approx((lon, lat), abs=1e-6)


def test_speed_course_and_heading_that_are_not_available_are_unknown():
    track = only_track(read(log(report(1, BOAT, lon=1, lat=2), report(18, BOAT, lon=1, lat=2))))
    for column in track.readings.values():
        assert np.isnan(column).all()


def test_a_speed_of_102_2_and_a_course_of_359_9_are_available_but_a_heading_of_400_is_none():
    track = only_track(read(log(report(3, BOAT, lon=1, lat=2, sog=1022, cog=3599, heading=400))))
    assert track.readings["sog_kn"][0] == pytest.approx(102.2, abs=1e-4)
    assert track.readings["cog_deg"][0] == pytest.approx(359.9, abs=1e-4)
    assert np.isnan(track.readings["heading_deg"][0])


def test_other_types_are_counted_and_not_decoded():
    kinds = [4, 5, 9, 11, 21, 24]
    lines = [line for kind in kinds for line in sentences(kind, BOAT, parts=2 if kind in (5, 21) else 1)]
    content = read(log(report(1, BOAT, lon=1, lat=2), *lines))
    assert content.tally == {"sentences": 9, "used": 1, "other_types": 8}


# ---------------------------------------------------------------- vessels


def interleaved():
    lines = []
    for second in range(0, 50, 5):
        lines.append(
            tagged(report(1, BOAT, lon=1 + second / 1e4, lat=55, second=second), c=epoch(second + 1))
        )
        lines.append(
            tagged(report(18, OTHER, lon=2, lat=56 + second / 1e4, second=second), c=epoch(second + 2))
        )
    return log(*lines)


def test_interleaved_vessels_become_one_track_each_in_order_of_mmsi():
    content = read(interleaved())
    assert content.form == "AIS log"
    assert [track.name for track in content.raw] == ["a/219000001", "a/257000002"]
    for track, lines in zip(content.raw, (range(1, 21, 2), range(2, 21, 2)), strict=True):
        assert track.line.tolist() == list(lines)
        assert track.time_us.tolist() == [at(second) for second in range(0, 50, 5)]
        assert track.bounds == ((0, 10),)
    assert content.tally == {"sentences": 20, "used": 20}


def test_only_one_vessel_is_read_and_the_rest_counted():
    content = read(interleaved(), only=("257000002",))
    assert only_track(content).vessel == "257000002"
    assert content.tally == {"sentences": 20, "used": 10, "other_vessels": 10}


def test_an_mmsi_is_found_with_and_without_leading_zeros():
    data = log(report(1, 7_000_003, lon=1, lat=2))
    assert only_track(read(data, only=("007000003",))).vessel == "007000003"
    assert only_track(read(data, only=("7000003",))).vessel == "007000003"


def test_a_vessel_that_is_not_there_is_refused_and_others_named():
    with pytest.raises(InputError, match="219000009") as refusal:
        read(interleaved(), only=("219000009",))
    assert "219000001" in str(refusal.value)
    assert "257000002" in str(refusal.value)


def test_a_vessel_of_several_that_is_not_there_is_refused():
    with pytest.raises(InputError, match="219000009"):
        read(interleaved(), only=("219000001", "219000009"))


def test_a_refusal_does_not_name_a_thousand_vessels():
    lines = [report(1, 300_000_000 + number, lon=1, lat=2) for number in range(2000)]
    with pytest.raises(InputError, match="more") as refusal:
        read(log(*lines), only=("219000009",))
    assert len(str(refusal.value)) < 300


@pytest.mark.parametrize("text", ["Sea Otter", "", "12345678901", "-5", "0", "٢١٩"])
def test_a_vessel_that_is_no_mmsi_is_refused(text):
    with pytest.raises(InputError, match="MMSI"):
        read(interleaved(), only=(text,))


@pytest.mark.parametrize("mmsi", [2_190_001, 111_219_001, 992_190_001, 970_123_456])
def test_stations_aircraft_aids_and_beacons_are_not_vessels(mmsi):
    content = read(log(report(1, mmsi, lon=1, lat=2), report(1, BOAT, lon=1, lat=2)))
    assert only_track(content).vessel == "219000001"
    assert content.tally == {"sentences": 2, "used": 1, "other_stations": 1}


def test_a_station_that_is_asked_for_is_read():
    content = read(log(report(1, 2_190_001, lon=1, lat=2)), only=("002190001",))
    assert only_track(content).vessel == "002190001"


@pytest.mark.parametrize("mmsi", [123_456_789, 800_000_001, 982_190_001])
def test_an_odd_identity_is_still_a_vessel(mmsi):
    assert only_track(read(log(report(18, mmsi, lon=1, lat=2)))).vessel == f"{mmsi:09d}"


@pytest.mark.parametrize("mmsi", [0, 1_000_000_000, 2**30 - 1])
def test_messages_without_identity_are_counted_and_told(mmsi):
    content = read(log(report(1, mmsi, lon=1, lat=2)))
    assert content.raw == ()
    assert content.tally == {"sentences": 1, "used": 0, "no_identity": 1}
    assert "without an MMSI" in told(content)


def test_the_own_transponder_is_named():
    content = read(log(report(1, BOAT, tag="AIVDO", lon=1, lat=2), report(1, OTHER, lon=1, lat=2)))
    assert [track.vessel for track in content.raw] == ["219000001", "257000002"]
    assert "the ship's own transponder (VDO) is 219000001" in told(content)


def test_an_own_transponder_that_was_never_given_an_mmsi_is_the_own_ship():
    content = read(log(report(18, 0, tag="AIVDO", lon=1, lat=2)))
    track = only_track(content)
    assert (track.vessel, track.name) == ("", "a/own ship")


# ---------------------------------------------------------------- what is left out


@pytest.mark.parametrize(
    ("reason", "fields"),
    [
        ("void", {"lon": 181, "lat": 91}),
        ("void", {"lon": 181, "lat": 55}),
        ("void", {"lon": 5, "lat": 91}),
        ("bad_position", {"lon": 180.0001, "lat": 55}),
        ("bad_position", {"lon": -200, "lat": 55}),
        ("bad_position", {"lon": 5, "lat": 90.0001}),
        ("bad_position", {"lon": 5, "lat": -100}),
        ("zero_position", {"lon": 0, "lat": 0}),
        ("estimated", {"lon": 5, "lat": 55, "second": 61}),
        ("estimated", {"lon": 5, "lat": 55, "second": 62}),
        ("estimated", {"lon": 5, "lat": 55, "second": 63}),
    ],
)
@pytest.mark.parametrize("kind", [1, 18, 19])
def test_positions_that_cannot_be_used_are_left_out_with_their_reason(kind, reason, fields):
    good = tagged(report(1, BOAT, lon=1, lat=2, second=0), c=epoch(0))
    content = read(log(good, tagged(report(kind, BOAT, **fields), c=epoch(9))))
    track = only_track(content)
    assert len(track) == 1
    (left_out,) = track.left_out
    assert (left_out.reason, left_out.line.tolist(), left_out.file) == (reason, [2], "a.log")
    assert left_out.time_utc[0] == np.datetime64("2026-03-01T06:00:09")
    unreadable = reason in ("void", "bad_position")
    assert np.isnan(left_out.lon_deg[0]) == unreadable
    assert content.tally == {"sentences": 2, "used": 1, reason: 1}


@pytest.mark.parametrize(
    ("reason", "lon", "lat"),
    [("void", 181, 91), ("bad_position", 200, 5), ("bad_position", 5, 100), ("zero_position", 0, 0)],
)
def test_long_range_positions_that_cannot_be_used_are_left_out_too(reason, lon, lat):
    content = read(log(report(1, BOAT, lon=1, lat=2), report(27, BOAT, lon=lon, lat=lat)))
    assert content.tally == {"sentences": 2, "used": 1, reason: 1}


def test_a_vessel_without_one_usable_position_is_told_not_hidden():
    content = read(log(report(1, BOAT, lon=181, lat=91), report(1, OTHER, lon=1, lat=2)))
    assert [track.vessel for track in content.raw] == ["257000002"]
    assert "1 vessel sent no position that can be used: 219000001" in told(content)
    assert adds_up(content)


def test_a_log_without_any_position_says_so():
    content = read(log(*sentences(5, BOAT, parts=2)))
    assert content.raw == ()
    assert "no position" in told(content)
    assert read(b"").tally == {"sentences": 0, "used": 0}


class TestLongRange:
    def test_beside_better_positions_they_are_left_out_as_coarse(self):
        content = read(log(report(27, BOAT, lon=1.1, lat=2), report(1, BOAT, lon=1.12345, lat=2)))
        track = only_track(content)
        assert track.line.tolist() == [2]
        assert [(some.reason, some.line.tolist()) for some in track.left_out] == [("coarse", [1])]
        assert track.resolution_m == RESOLUTION_M

    def test_better_positions_of_another_vessel_do_not_matter(self):
        content = read(log(report(27, BOAT, lon=1.1, lat=2), report(1, OTHER, lon=1.12345, lat=2)))
        assert [len(track) for track in content.raw] == [1, 1]

    def test_better_positions_that_are_left_out_do_not_matter(self):
        content = read(log(report(27, BOAT, lon=1.1, lat=2), report(1, BOAT, lon=181, lat=91)))
        assert only_track(content).line.tolist() == [1]

    def test_alone_they_are_kept_with_their_resolution(self):
        content = read(log(report(27, BOAT, lon=1.1, lat=2)))
        assert only_track(content).resolution_m == LONG_RANGE_RESOLUTION_M
        assert "long-range positions only" in told(content)

    def test_the_resolution_is_half_the_diagonal_of_a_tenth_of_a_minute(self):
        """ingest 3: 0.1 minute = 185 m; half the diagonal of a square of that size is 131 m."""
        assert pytest.approx(185 * math.sqrt(0.5), abs=1) == LONG_RANGE_RESOLUTION_M

    def test_no_rounded_position_is_farther_off_than_the_resolution(self):
        from pyproj import Geod

        cell = 0.05 / 60
        for lat in (0.0, 20.0, 45.0, 70.0, 84.0):
            _, _, off_m = Geod(ellps="WGS84").inv(5, lat, 5 + cell, lat + cell)
            assert off_m <= LONG_RANGE_RESOLUTION_M + 0.01


# ---------------------------------------------------------------- sentences


class TestFragments:
    def test_a_message_of_two_sentences_is_put_together(self):
        content = read(log(*sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2)))
        assert only_track(content).line.tolist() == [1]
        assert content.tally == {"sentences": 2, "used": 2}

    def test_messages_whose_sentences_alternate_are_kept_apart(self):
        one = sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2)
        two = sentences(19, OTHER, parts=2, sequence="4", lon=3, lat=4)
        content = read(log(one[0], two[0], one[1], two[1]))
        assert [(track.vessel, track.lon_deg[0]) for track in content.raw] == [
            ("219000001", 1.0),
            ("257000002", 3.0),
        ]

    @pytest.mark.parametrize("there", [[0], [1], [0, 2], [1, 2], [2, 1, 0], [0, 0, 2]])
    def test_without_all_parts_in_order_nothing_is_used(self, there):
        parts = sentences(19, BOAT, parts=3, sequence="3", lon=1, lat=2)
        content = read(log(*(parts[index] for index in there)))
        assert content.raw == ()
        assert content.tally == {"sentences": len(there), "used": 0, "incomplete_groups": len(there)}
        assert "without the other sentences of their message" in told(content)

    def test_a_message_begun_again_is_used_once(self):
        parts = sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2)
        content = read(log(parts[0], parts[0], parts[1], parts[1]))
        assert content.tally == {"sentences": 4, "used": 2, "incomplete_groups": 2}

    def test_a_part_with_a_wrong_checksum_spoils_its_message(self):
        parts = sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2)
        content = read(log(parts[0], parts[1][:-2] + "ZZ"))
        assert content.tally == {"sentences": 2, "used": 0, "cut": 1, "incomplete_groups": 1}

    def test_a_part_that_comes_far_too_late_belongs_to_another_message(self):
        parts = sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2)
        between = [report(1, OTHER, lon=1, lat=2)] * 500
        content = read(log(parts[0], *between, parts[1]))
        assert content.tally == {"sentences": 502, "used": 500, "incomplete_groups": 2}

    def test_the_time_stands_on_whichever_part_has_one(self):
        parts = sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2, second=5)
        data = log(tagged(parts[0], g="1-2-77", c=epoch(6)), tagged(parts[1], g="2-2-77"))
        assert only_track(read(data)).time_us.tolist() == [at(5)]
        data = log(parts[0], tagged(parts[1], c=epoch(6)))
        assert only_track(read(data)).time_us.tolist() == [at(5)]


class TestChecksums:
    def test_a_wrong_one_is_dropped_and_counted(self):
        """pyais decodes such a sentence unless told otherwise (ingest 3)."""
        line = report(1, BOAT, lon=1, lat=2)
        wrong = line[:-2] + f"{int(line[-2:], 16) ^ 1:02X}"
        content = read(log(line, wrong))
        assert content.tally == {"sentences": 2, "used": 1, "bad_checksum": 1}
        assert "damaged are 1 of 2 AIS sentences: 1 with a wrong checksum (first in line 2)" in told(content)

    def test_any_changed_character_is_found(self):
        line = report(1, BOAT, lon=1, lat=2)
        for place in range(7, len(line) - 3):
            changed = line[:place] + ("1" if line[place] != "1" else "2") + line[place + 1 :]
            assert read(log(changed)).raw == ()

    def test_lower_case_is_accepted(self):
        lines = [report(1, BOAT, lon=1, lat=3, second=second) for second in range(20)]
        lower = [line[:-2] + line[-2:].lower() for line in lines]
        assert lower != lines
        assert len(only_track(read(log(*lower)))) == 20

    def test_a_sentence_without_one_is_rejected_and_counted(self):
        content = read(log(report(1, BOAT, lon=1, lat=2)[:-3]))
        assert content.raw == ()
        assert content.tally == {"sentences": 1, "used": 0, "no_checksum": 1}
        assert "without a checksum" in told(content)


@pytest.mark.parametrize("length", range(7, 47))
def test_a_cut_sentence_never_gives_a_position(length):
    line = report(1, BOAT, lon=1, lat=2)
    content = read(log(line[:length]))
    assert content.raw == ()
    assert adds_up(content)


@pytest.mark.parametrize("kind", [1, 2, 3, 18, 19, 27])
def test_a_cut_payload_with_a_right_checksum_never_gives_a_position(kind):
    """pyais answers with no latitude and a wrong longitude (ingest 3)."""
    payload, _ = encoded(kind, BOAT, lon=1, lat=2)
    for length in range(len(payload)):
        content = read(log(sentence(f"AIVDM,1,1,,A,{payload[:length]},0")))
        assert content.raw == (), length
        assert content.tally["sentences"] == 1
    assert content.tally == {"sentences": 1, "used": 0, "cut": 1}


def test_a_payload_that_is_longer_than_need_be_is_read():
    """Some receivers fill the short message 27 up to 168 bits."""
    payload, _ = encoded(27, BOAT, lon=1.1, lat=2)
    assert len(read(log(sentence(f"AIVDM,1,1,,A,{payload + '0' * 12},0"))).raw) == 1


def test_wrong_fill_bits_do_not_shift_a_position():
    payload, _ = encoded(1, BOAT, lon=1.5, lat=2)
    for fill in range(6):
        track = only_track(read(log(sentence(f"AIVDM,1,1,,A,{payload},{fill}"))))
        assert track.lon_deg[0] == 1.5


@pytest.mark.parametrize(
    "body",
    [
        "AIVDM,1,1,,A,{},6",
        "AIVDM,1,1,,A,{},",
        "AIVDM,1,1,,A,{},01",
        "AIVDM,1,2,,A,{},0",
        "AIVDM,0,1,,A,{},0",
        "AIVDM,1,0,,A,{},0",
        "AIVDM,10,1,,A,{},0",
        "AIVDM,,,,A,{},0",
        "AIVDM,1,1,,A,{},0,",
        "AIVDM,1,1,A,{},0",
        "AIVDM,1,1,,A,{}X,0",
        "AIVDM,1,1,,A,{}~,0",
        "AIVDM",
        "AIVDM,",
    ],
)
def test_a_sentence_of_another_form_is_malformed_though_its_checksum_is_right(body):
    payload, _ = encoded(1, BOAT, lon=1, lat=2)
    content = read(log(sentence(body.format(payload)), report(1, OTHER, lon=1, lat=2)))
    assert content.tally["sentences"] == 2 or body == "AIVDM"
    assert content.tally["used"] == 1
    assert adds_up(content)


@pytest.mark.parametrize("tag", ["AIVDM", "BSVDM", "ABVDM", "ANVDM", "SAVDO", "AIVDO"])
def test_every_talker_is_read(tag):
    assert len(read(log(report(1, BOAT, tag=tag, lon=1, lat=2))).raw) == 1


def test_sentences_after_noise_before_another_and_with_other_line_ends_are_read():
    lines = [report(1, BOAT, lon=1 + number / 100, lat=2) for number in range(6)]
    noise = b"\x00\xfe\xff!$\\*," + lines[0].encode()
    glued = f"!AIVDM,1,1,,A,15M67{lines[1]}".encode()
    two = f"{lines[2]} {lines[3]}".encode()
    content = read(noise + b"\n" + glued + b"\r" + two + b"\r\n\r\n" + f"{lines[4]}\n{lines[5]}".encode())
    track = only_track(content)
    assert track.lon_deg.tolist() == pytest.approx([1 + number / 100 for number in range(6)])
    assert content.tally == {"sentences": 7, "used": 6, "cut": 1}
    assert track.line.tolist() == [1, 2, 2, 2, 4, 5]


def test_sentences_of_one_line_share_its_time():
    lines = [report(1, BOAT, lon=1 + second, lat=2, second=second) for second in (3, 4)]
    data = f"2026-03-01T06:00:05Z {lines[0]} {lines[1]}\n".encode()
    assert only_track(read(data)).time_us.tolist() == [at(3), at(4)]


def test_nmea_sentences_between_are_no_ais_sentences():
    content = read(log("$GPGGA,1*00", report(1, BOAT, lon=1, lat=2), sentence("GPHDT,74.20,T", "$")))
    assert content.tally == {"sentences": 1, "used": 1}


# ---------------------------------------------------------------- time


def timed(second, prefix="", suffix="", **tags):
    line = f"{report(1, BOAT, lon=1, lat=2, second=second)}{suffix}"
    return log(prefix + (tagged(line, **tags) if tags else line))


@pytest.mark.parametrize(
    "data",
    [
        timed(5, c=epoch(6)),
        timed(5, c=f"{epoch(6)}500", s="r1"),
        timed(5, prefix="2026-03-01T06:00:06.5Z "),
        timed(5, prefix="2026-03-01 07:00:06+01:00,"),
        timed(5, prefix=f"{epoch(6)} "),
        timed(5, prefix="rx 2026:060:06:00:06.5000 "),
        timed(5, suffix=f",r003669945,{epoch(6)}"),
        timed(5, suffix=f",{epoch(6)}"),
    ],
)
def test_each_form_of_time_beside_a_sentence_dates_its_fix(data):
    """A reader of files in pyais finds no message at all behind a prefix (ingest 3)."""
    assert only_track(read(data)).time_us.tolist() == [at(5)]


@pytest.mark.parametrize(
    ("received", "second", "fixed"),
    [
        (6, 5, 5),  # a second old
        (5, 5, 5),
        (65, 59, 59),  # from the minute before
        (60, 50, 50),
        (4, 5, 5),  # the logger's clock is behind
        (57, 3, 63),  # and in the minute before
        (59, 9, 69),  # the last that is taken to be ahead
        (59, 10, 10),  # this one came 49 s late
        (49, 0, 0),
    ],
)
def test_a_fix_is_the_latest_instant_of_its_second_up_to_ten_seconds_after_reception(received, second, fixed):
    assert only_track(read(timed(second, c=epoch(received)))).time_us.tolist() == [at(fixed)]


def test_without_a_second_the_time_of_reception_stands():
    content = read(timed(60, c=epoch(6)))
    assert only_track(content).time_us.tolist() == [at(6)]
    assert "the messages name no second; positions (1)" in told(content)


def test_long_range_positions_have_the_time_of_reception():
    track = only_track(read(log(tagged(report(27, BOAT, lon=1.1, lat=2), c=epoch(6)))))
    assert track.time_us.tolist() == [at(6)]


def test_the_median_delay_is_told():
    lines = [
        tagged(report(1, BOAT, lon=1, lat=2, second=second % 60), c=f"{epoch(second)}600")
        for second in range(50)
    ]
    assert "0.6 s earlier in the median" in told(read(log(*lines)))


def delayed(delays):
    """A log with a message every 7 s and these delays of reception, in milliseconds."""
    lines = []
    for number, delay_ms in enumerate(delays):
        line = report(1, BOAT, lon=1, lat=2, second=7 * number % 60)
        lines.append(tagged(line, c=epoch(7 * number) * 1000 + delay_ms))
    return log(*lines)


def test_delays_such_as_were_measured_are_all_undone():
    """ingest 3: median 0.6 s, 5th percentile -0.8 s, 95th 18.7 s; here with tails beyond."""
    delays = np.interp(np.linspace(0, 1, 200), [0, 0.05, 0.5, 0.95, 1], [-4, -0.8, 0.6, 18.7, 44])
    shuffled = np.random.default_rng(1).permutation(delays)
    track = only_track(read(delayed((shuffled * 1000).astype(int))))
    assert track.time_us.tolist() == [at(7 * number) for number in range(200)]


@pytest.mark.parametrize("clock_s", [-12, -20, 20, 30])
def test_a_clock_too_far_off_leaves_the_times_as_the_logger_wrote_them(clock_s):
    rng = np.random.default_rng(2)
    delays = (1000 * (clock_s + rng.exponential(3, 200))).astype(int)
    content = read(delayed(delays))
    received = [at(7 * number) + 1000 * delay for number, delay in enumerate(delays.tolist())]
    assert only_track(content).time_us.tolist() == received
    assert "do not fit" in told(content)


def test_times_that_have_nothing_to_do_with_the_messages_are_not_refined():
    delays = np.random.default_rng(3).integers(0, 60_000, 200)
    content = read(delayed(delays))
    received = [at(7 * number) + 1000 * delay for number, delay in enumerate(delays.tolist())]
    assert only_track(content).time_us.tolist() == received
    assert "do not fit" in told(content)


def test_a_log_without_any_time_says_so_and_invents_none():
    content = read(log(*(report(1, BOAT, lon=1, lat=2, second=second) for second in range(5))))
    assert only_track(content).time_us.tolist() == [NOT_A_TIME] * 5
    assert "5 of 5 positions have no time" in told(content)


def test_a_date_that_can_be_read_both_ways_leaves_the_fix_without_time():
    content = read(timed(5, prefix="03/04/2026 06:00:06 "))
    assert only_track(content).time_us.tolist() == [NOT_A_TIME]
    assert "--date-order" in told(content)


def test_messages_that_came_out_of_order_are_handed_over_as_such():
    content = read(
        log(
            tagged(report(1, BOAT, lon=1, lat=2, second=40), c=epoch(41)),
            tagged(report(1, BOAT, lon=1, lat=2, second=30), c=epoch(45)),
        )
    )
    track = only_track(content)
    assert track.time_us.tolist() == [at(40), at(30)]
    assert track.any_order


def wrapper(moment, checksums):
    fields = f"{moment.year},{moment.month},{moment.day},{moment.hour},{moment.minute},{moment.second}"
    return sentence(f"PGHP,1,{fields},250,219,,2190001,1,{checksums}", "$")


class TestWrapper:
    def test_the_line_before_a_message_dates_it(self):
        line = report(1, BOAT, lon=1, lat=2, second=5)
        assert only_track(read(log(wrapper(after(6), line[-2:]), line))).time_us.tolist() == [at(5)]

    def test_its_checksum_is_that_of_all_sentences_of_the_message(self):
        parts = sentences(19, BOAT, parts=2, sequence="3", lon=1, lat=2, second=5)
        both = int(parts[0][-2:], 16) ^ int(parts[1][-2:], 16)
        track = only_track(read(log(wrapper(after(6), f"{both:02X}"), *parts)))
        assert track.time_us.tolist() == [at(5)]

    def test_without_such_a_checksum_it_is_believed(self):
        line = report(1, BOAT, lon=1, lat=2, second=5)
        assert only_track(read(log(wrapper(after(6), ""), line))).time_us.tolist() == [at(5)]

    def test_that_of_another_message_dates_nothing(self):
        line = report(1, BOAT, lon=1, lat=2, second=5)
        wrong = f"{int(line[-2:], 16) ^ 1:02X}"
        assert only_track(read(log(wrapper(after(6), wrong), line))).time_us.tolist() == [NOT_A_TIME]

    def test_it_dates_one_message_only(self):
        lines = [report(1, BOAT, lon=1, lat=2, second=5)] * 2
        track = only_track(read(log(wrapper(after(6), lines[0][-2:]), *lines)))
        assert track.time_us.tolist() == [at(5), NOT_A_TIME]

    def test_one_that_is_damaged_dates_nothing(self):
        line = report(1, BOAT, lon=1, lat=2, second=5)
        damaged = wrapper(after(6), line[-2:]).replace(",250,", ",251,")
        assert only_track(read(log(damaged, line))).time_us.tolist() == [NOT_A_TIME]

    def test_an_impossible_date_dates_nothing(self):
        line = report(1, BOAT, lon=1, lat=2, second=5)
        impossible = sentence(f"PGHP,1,2026,2,29,6,0,6,0,219,,2190001,1,{line[-2:]}", "$")
        assert only_track(read(log(impossible, line))).time_us.tolist() == [NOT_A_TIME]

    def test_a_tag_block_counts_before_it(self):
        line = report(1, BOAT, lon=1, lat=2, second=5)
        data = log(wrapper(after(600), line[-2:]), tagged(line, c=epoch(6)))
        assert only_track(read(data)).time_us.tolist() == [at(5)]


def rmc(moment, status="A", mode="A", date=None):
    stated = moment.strftime("%d%m%y") if date is None else date
    body = f"GPRMC,{moment:%H%M%S}.00,{status},5500.0000,N,00800.0000,E,4.0,90.0,{stated},,,{mode}"
    return sentence(body, "$")


def zda(moment):
    return sentence(f"GPZDA,{moment:%H%M%S}.00,{moment:%d,%m,%Y},00,00", "$")


class TestOtherClocks:
    LINE = report(1, BOAT, lon=1, lat=2, second=5)

    @pytest.mark.parametrize(
        ("clock", "source"),
        [
            (base_report, "base stations"),
            (rmc, "the ship's own receiver"),
            (zda, "the ship's own receiver"),
        ],
    )
    def test_reports_before_and_after_date_a_fix_between(self, clock, source):
        content = read(log(clock(after(0)), self.LINE, clock(after(10))))
        assert only_track(content).time_us.tolist() == [at(5)]
        assert source in told(content)
        assert "the logger wrote no time beside 1 position" in told(content)

    def test_a_message_that_came_late_is_dated_before_the_report(self):
        line = report(1, BOAT, lon=1, lat=2, second=45)
        data = log(base_report(after(60)), line, base_report(after(70)))
        assert only_track(read(data)).time_us.tolist() == [at(45)]

    @pytest.mark.parametrize(
        "lines",
        [
            (LINE,),
            (base_report(START), LINE),
            (LINE, base_report(START)),
            (base_report(after(0)), LINE, base_report(after(40))),
            (base_report(after(10)), LINE, base_report(after(0))),
            (base_report(after(0)), report(1, BOAT, lon=1, lat=2, second=60), base_report(after(10))),
        ],
    )
    def test_where_the_reports_leave_the_minute_open_there_is_no_time(self, lines):
        content = read(log(*lines))
        assert only_track(content).time_us.tolist() == [NOT_A_TIME]
        assert "1 of 1 positions have no time" in told(content)

    @pytest.mark.parametrize(
        "clock",
        [
            lambda moment: rmc(moment, status="V"),
            lambda moment: rmc(moment, mode="N"),
            lambda moment: rmc(moment, mode="S"),
            lambda moment: rmc(moment, date=""),
            lambda moment: rmc(moment, date="300226"),
            lambda moment: zda(moment.replace(year=1999)),
            lambda moment: rmc(moment)[:-2] + "00",
            lambda moment: base_report(moment.replace(year=2001)),
            lambda _: report(4, 2_190_001, year=2026, month=0, day=0, hour=24, minute=60, second=60),
        ],
    )
    def test_reports_that_are_void_or_impossible_date_nothing(self, clock):
        content = read(log(clock(after(0)), self.LINE, clock(after(10))))
        assert only_track(content).time_us.tolist() == [NOT_A_TIME]

    def test_clocks_that_contradict_each_other_date_nothing(self):
        """A receiver that counts its weeks over again is 1024 weeks behind."""
        behind = after(-1024 * 7 * 86_400)
        content = read(
            log(
                base_report(after(0)),
                rmc(behind),
                self.LINE,
                rmc(behind.replace(second=9)),
                base_report(after(10)),
            )
        )
        assert only_track(content).time_us.tolist() == [NOT_A_TIME]
        assert "differ by more than a minute" in told(content)

    def test_they_are_a_last_resort_where_lines_carry_times(self):
        data = log(base_report(after(0)), tagged(self.LINE, c=epoch(600)), base_report(after(10)))
        assert only_track(read(data)).time_us.tolist() == [at(605)]


# ---------------------------------------------------------------- the whole reader


@pytest.mark.parametrize("size", [1, 2, 7, 64, 1000])
def test_how_the_file_is_cut_into_chunks_makes_no_difference(size):
    data = (
        interleaved() + b"\r\n" + log(*sentences(19, BOAT, parts=2, sequence="1", lon=1, lat=2)) + b"!AIVDM"
    )
    whole = read(data)
    cut = read(data[start : start + size] for start in range(0, len(data), size))
    assert cut.tally == whole.tally
    assert [remark.message for remark in cut.remarks] == [remark.message for remark in whole.remarks]
    for one, two in zip(cut.raw, whole.raw, strict=True):
        assert one.name == two.name
        for name in ("lon_deg", "lat_deg", "time_us", "line"):
            assert getattr(one, name).tolist() == getattr(two, name).tolist()


@pytest.mark.parametrize("size", [1000, 65_535, 65_536, 65_537, 300_000])
def test_a_line_without_end_is_read_in_parts_wherever_chunks_end(size):
    line = report(1, BOAT, lon=1, lat=2)
    data = ("x" * 200_000 + line + "y" * 200_000 + "\n" + line).encode()
    content = read(data[start : start + size] for start in range(0, len(data), size))
    assert only_track(content).line.tolist() == [1, 2]


def test_memory_is_bounded_by_the_fixes_that_are_used():
    """Megabytes of another vessel's messages and one fix take little more than a block of lines."""
    block = log(*(report(1, OTHER, lon=1, lat=2, second=second % 60) for second in range(2000)))
    chunks = itertools.chain([log(report(1, BOAT, lon=1, lat=2))], itertools.repeat(block, 40))
    read(log(report(1, BOAT, lon=1, lat=2)))  # imports
    tracemalloc.start()
    content = read(chunks, only=("219000001",))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert content.tally["sentences"] == 80_001
    assert peak < 3_000_000


def test_memory_is_bounded_without_any_line_end():
    read(log(report(1, BOAT, lon=1, lat=2)))  # imports
    tracemalloc.start()
    content = read(itertools.repeat(b"\x00" * 99_991, 300))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert content.raw == ()
    assert peak < 3_000_000


def test_reading_takes_under_two_hundred_bytes_a_fix():
    block = log(*(report(1, OTHER, lon=1, lat=2, second=second % 60) for second in range(2000)))
    read(log(report(1, BOAT, lon=1, lat=2)))  # imports
    tracemalloc.start()
    content = read(itertools.repeat(block, 12))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(only_track(content)) == 24_000
    assert peak < 24_000 * 200 + 2_000_000


def test_pyais_is_imported_only_when_a_log_is_read():
    code = "import sys, towzone.logs.ais; assert 'pyais' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_whole_sentences_are_counted_for_recognition():
    line = report(1, BOAT, lon=1, lat=2)
    head = log("# a log", tagged(line, c=epoch(0)), line[:20], f"{line[:-2]}00", "$GPGGA,1*00", line)
    assert vdm_count(head) == (3 if line.endswith("00") else 2)
    assert vdm_count(b"") == 0


def test_the_checksum_of_the_encoder_is_the_published_one():
    """facts 7.3, number 5."""
    assert xor("HEHDT,341.8,T") == 0x21


def test_a_logger_clock_that_is_behind_is_told_as_such():
    assert "2.0 s later in the median" in told(read(delayed([-2000] * 50)))
