"""Tables of fixes: every row used or counted, vessels kept apart, and nothing half read."""

from __future__ import annotations

import math
import tracemalloc
import zoneinfo
from collections.abc import Iterator

import numpy as np
import pytest

from towzone.errors import InputError
from towzone.files.csv_tracks import read_csv_tracks
from towzone.tracks.options import DateOrder, ReadingOptions
from towzone.tracks.raw import RawTrack, SourceContent

T = "2026-03-01T06:1{}:00Z"


def read(text: str | bytes, size: int = 1 << 20, **options: object) -> SourceContent:
    data = text if isinstance(text, bytes) else text.encode()
    chunks = (data[at : at + size] for at in range(0, len(data), size))
    return read_csv_tracks(chunks, file="a.csv", name="a", options=ReadingOptions(**options))  # type: ignore[arg-type]


def one(text: str | bytes, **options: object) -> RawTrack:
    (raw,) = read(text, **options).raw
    return raw


def refusal(text: str | bytes, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        read(text, **options)
    return str(caught.value)


def said(content: SourceContent) -> list[str]:
    return [f"{remark.where}: {remark.message}" for remark in content.remarks]


def utc(raw: RawTrack) -> list[str]:
    return [str(np.datetime64(us, "s")) if us > 0 else "NaT" for us in (raw.time_us // 1_000_000).tolist()]


SAME = {
    "as the contract has it": """
time,lat,lon
2026-03-01T06:10:00Z,57.5,-20.25
2026-03-01T06:11:00Z,57.501,-20.2475
""",
    "semicolons and commas": """
time_utc;lat;lon
2026-03-01 06:10:00;57,5;-20,25
2026-03-01 06:11:00;57,501;-20,2475
""",
    "quoted commas": """
time,lat,lon
2026-03-01T06:10:00Z,"57,5","-20,25"
2026-03-01T06:11:00Z,"57,501","-20,2475"
""",
    "tabs, two columns": """
Date\tTime UTC\tLatitude\tLongitude
01-Mar-2026\t06:10\t57.5\t-20.25
01-Mar-2026\t06:11\t57.501\t-20.2475
""",
    "bars, letters": """
time|lat|N|lon|W
2026-03-01T06:10:00Z|57.5|N|20.25|W
2026-03-01T06:11:00Z|57.501|N|20.2475|W
""",
    "blanks": """
epoch   lat    lon
1772345400 57.5 -20.25
1772345460   57.501   -20.2475
""",
    "minutes": """
time,lat,lon
2026-03-01T06:10:00Z,57 30.0N,20 15.0W
2026-03-01T06:11:00Z,57 30.06N,20 14.85W
""",
    "a receiver's figures": """
time,lat_ddmm,ns,lon_ddmm,ew
2026-03-01T06:10:00Z,5730.0,N,02015.0,W
2026-03-01T06:11:00Z,5730.06,N,02014.85,W
""",
}


@pytest.mark.parametrize("name", SAME)
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_the_same_trip_reads_the_same_in_every_style(name: str, ends: str, encoding: str) -> None:
    """All are the same two invented fixes."""
    content = read(SAME[name].replace("\n", ends).encode(encoding), size=11)
    (raw,) = content.raw
    np.testing.assert_allclose(raw.lat_deg, [57.5, 57.501], rtol=0, atol=1e-12)
    np.testing.assert_allclose(raw.lon_deg, [-20.25, -20.2475], rtol=0, atol=1e-12)
    assert utc(raw) == ["2026-03-01T06:10:00", "2026-03-01T06:11:00"]
    assert raw.line.tolist() == [3, 4]
    assert (raw.file, raw.name, raw.vessel, raw.bounds, raw.any_order) == ("a.csv", "a", "", ((0, 2),), True)
    assert content.form == "CSV"
    assert content.tally == {"rows": 2, "used": 2, "left_out": 0, "other_vessels": 0}


def test_lines_are_those_of_the_file_past_comments_blanks_and_cells_over_several() -> None:
    text = '# by hand\n\nlat,lon,note\n57.1,8,a\n\n57.2,8,"b\nc\nd"\n,,\n57.3,8,e\n'
    raw = one(text)
    assert raw.lat_deg.tolist() == [57.1, 57.2, 57.3]
    assert raw.line.tolist() == [4, 6, 10]


def test_rows_of_nothing_are_no_rows_and_a_last_delimiter_is_no_cell() -> None:
    content = read(f"time,lat,lon\n{T.format(0)},57.5,8,\n,,\n,,,,\n , , \n{T.format(1)},57.6,8\n")
    assert content.tally["rows"] == 2
    assert content.raw[0].line.tolist() == [2, 6]


def test_rows_without_a_position_are_counted_with_their_lines() -> None:
    t = T.format
    content = read(
        f"time,lat,lon\n{t(0)},57.5,8\n{t(1)},,\n{t(2)},0,0\n,57.6,8\n{t(4)},91,181\n{t(5)},0.0,-0.0000001\n"
    )
    (raw,) = content.raw
    assert content.tally == {"rows": 6, "used": 2, "left_out": 4, "other_vessels": 0}
    assert utc(raw) == ["2026-03-01T06:10:00", "NaT"]
    void, zero = raw.left_out
    assert (void.reason, void.line.tolist()) == ("void", [3, 6])
    assert (zero.reason, zero.line.tolist(), zero.lat_deg.tolist()) == ("zero_position", [4, 7], [0.0, 0.0])
    assert np.isnan(void.lon_deg).all()
    assert (
        void.time_utc.tolist()
        == np.array(["2026-03-01T06:11", "2026-03-01T06:14"], "datetime64[us]").tolist()
    )
    assert "line 3: 2 rows without a position left out" in said(content)
    assert "line 5: 1 fix without a time" in said(content)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no table"),
        ("time,lat,lon\n", "holds the names of columns, but no row"),
        ("time,lat,lon\n,,\n", "holds the names of columns, but no row"),
        (
            f"time,lat,lon\n{T.format(0)},,\n{T.format(0)},0,0\n",
            "holds no position: 1 row without a position and 1 row at 0, 0",
        ),
        ("57.5,-20.25\n57.6,-20.3\n", "line 1: begins with numbers; the first row must name the columns"),
        ("# lat,lon\n\n57.5,-20.25\n", "line 3: begins with numbers; .*; line 1 would do, without its '#'"),
        ('{"type": "FeatureCollection"}', "this is no table of fixes"),
        ("lat;lon\n57,5,8\n", "line 2: the row has 1 cell, but the head names 2 columns"),
        (
            "lat,lon\n57,5,8\n",
            "line 2: the row has 3 cells, but the head names 2 columns; .*decimal comma in quotes",
        ),
        ("lat,lon\n57.5\n", "line 2: the row has 1 cell, but the head names 2 columns; mend the row$"),
        ("lat,lon\n57.5,8\n# end\n", "line 3: the row has 1 cell"),
    ],
)
def test_what_is_no_table_of_fixes_is_refused(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(text)


def test_all_that_is_wrong_is_told_together_in_order_of_lines() -> None:
    text = (
        "time,lat,lon,depth_m\n"
        "31.02.2026 06:10,57.5,8,1\n"  # found when all dates are known
        "2026-03-01 06:10,95,8,1\n"
        "2026-03-01 06:10,57.5,8,deep\n"
        "2026-03-01 06:10,57.5\n"
        "2026-03-01 99:10,57.5,x,1\n"
    )
    lines = refusal(text).splitlines()
    assert [line.split(": ")[1] for line in lines] == [
        "line 2, column 'time'",
        "line 3, column 'lat'",
        "line 4, column 'depth_m'",
        "line 5",
        "line 6, column 'lon'",
        "line 6, column 'time'",
    ]


def test_ten_problems_are_told_and_the_rest_counted() -> None:
    message = refusal("lat,lon\n" + "x,8\n" * 40).splitlines()
    assert len(message) == 11
    assert message[-1] == "a.csv: and 30 more problems"
    assert "reading stopped after 1000 problems" not in message
    with pytest.raises(InputError) as caught:
        read("lat,lon\n" + "x,8\n" * 100_000)
    assert len(caught.value.problems) == 1001


def test_a_fault_after_a_million_good_rows_refuses_all_of_them() -> None:
    good = f"{T.format(0)},57.5,8\n" * 100_000
    assert "line 100002, column 'lat': latitude '57.5.1' cannot be read" in refusal(
        f"time,lat,lon\n{good}{T.format(0)},57.5.1,8\n"
    )


def test_readings_stand_beside_their_fixes() -> None:
    text = (
        "time,lat,lon,Speed (m/s),course_deg,heading,depth_m,warp_m,hdop\n"
        f"{T.format(0)},57.5,8,1.75,54.1,,96.2,,0.9\n{T.format(1)},,,9,9,9,9,9,9\n{T.format(2)},57.6,8,NA,360,511,,300,\n"
    )
    content = read(text)
    (raw,) = content.raw
    nan = math.nan
    # 1.75 m/s are 1.75 x 3600 / 1852 kn (BIPM, SI Brochure, 8th ed. (2006), Table 8).
    expected = {
        "sog_kn": [1.75 * 3600 / 1852, nan],
        "cog_deg": [54.1, nan],
        "heading_deg": [nan, nan],
        "depth_m": [96.2, nan],
        "warp_m": [nan, 300.0],
        "hdop": [0.9, nan],
    }
    assert set(raw.readings) == set(expected)
    for name, column in expected.items():
        np.testing.assert_allclose(raw.readings[name], column, rtol=1e-6)
        assert raw.readings[name].dtype == np.float32
    assert (
        "line 4: 1 value of column 'course_deg' left out, the first '360': possible are 0 to under 360"
        in said(content)
    )


def test_remarks_say_how_columns_were_understood() -> None:
    content = read("Latitude,Longitude,SOG,crew\n57.5,8,3,4\n")
    assert said(content) == [
        "line 1: has no column of times, so that nothing is known of when the vessel was there",
        "line 1: column 'SOG' is not used, because its name says no unit that is read (kn, m/s or km/h); name"
        " it speed_kn, if that is what it is",
        "line 1: columns read: 'Latitude' as lat, 'Longitude' as lon",
        "line 1: columns not used: 'crew'",
    ]


# --- times ------------------------------------------------------------------------------------------


def test_the_zone_and_the_order_of_dates_are_taken_from_the_options() -> None:
    text = "date,time,lat,lon\n03/07/2026,06:10:00,57.5,8\n"
    raw = one(text, track_tz=zoneinfo.ZoneInfo("Europe/Copenhagen"), date_order=DateOrder.DAY_FIRST)
    assert utc(raw) == ["2026-07-03T04:10:00"]
    assert "line 2, column 'date and time': date '03/07/2026' can be read" in refusal(text)


def test_a_time_of_day_without_its_date_and_a_date_without_time_are_refused() -> None:
    lines = refusal("date,time,lat,lon\n2026-03-01,,57.5,8\n,06:10,57.5,8\n,,57.5,8\n").splitlines()
    assert len(lines) == 2
    assert "line 2, column 'date and time': '2026-03-01' is a date without a time of day" in lines[0]
    assert "line 3, column 'date and time': the time of day has no date" in lines[1]


# --- vessels ----------------------------------------------------------------------------------------


FLEET = (
    "time,lat,lon,mmsi,vessel name,hdop\n"
    "2026-03-01T06:10:00Z,57.5,8,100000001,Alpha,1\n"
    "2026-03-01T06:10:00Z,58.5,9,100000002,Beta,2\n"
    "2026-03-01T06:11:00Z,57.6,8,100000001,Alpha,3\n"
    "2026-03-01T06:11:00Z,0,0,100000002,Beta,4\n"
    "2026-03-01T06:12:00Z,,,100000003,Gamma,5\n"
)


@pytest.mark.parametrize("size", [5, 1 << 20])
def test_vessels_are_kept_apart_in_order_of_their_first_rows(size: int) -> None:
    content = read(FLEET, size=size)
    first, second = content.raw
    assert (first.name, first.vessel) == ("a/100000001", "100000001")
    assert (second.name, second.vessel) == ("a/100000002", "100000002")
    assert (first.lat_deg.tolist(), first.line.tolist()) == ([57.5, 57.6], [2, 4])
    assert (second.lat_deg.tolist(), second.line.tolist()) == ([58.5], [3])
    assert first.readings["hdop"].tolist() == [1.0, 3.0]
    assert first.left_out == ()
    assert [(some.reason, some.line.tolist()) for some in second.left_out] == [("zero_position", [5])]
    assert content.tally == {"rows": 5, "used": 3, "left_out": 2, "other_vessels": 0}
    assert ": 3 vessels, told apart by column 'mmsi', each with a track of its own" in said(content)
    assert ": no position at all of '100000003'" in said(content)


@pytest.mark.parametrize("asked", ["100000002", "Beta"])
def test_only_the_vessel_asked_for_is_read_and_the_others_are_counted(asked: str) -> None:
    content = read(FLEET, only=(asked,))
    (raw,) = content.raw
    assert (raw.vessel, raw.line.tolist()) == ("100000002", [3])
    assert content.tally == {"rows": 5, "used": 1, "left_out": 1, "other_vessels": 3}
    assert ": 3 rows of other vessels left aside" in said(content)


def test_what_is_wrong_with_others_does_not_matter_to_the_one_asked_for() -> None:
    text = FLEET + "soon,95,x,100000003,Gamma,x\n"
    assert len(read(text, only=("100000001",)).raw) == 1
    assert "line 7" in refusal(text)


def test_dates_of_others_settle_the_order_for_all() -> None:
    text = "time,lat,lon,vessel\n03/04/2026 06:10,57.5,8,A\n13/04/2026 06:10,57.5,8,B\n"
    assert utc(one(text, only=("A",))) == ["2026-04-03T06:10:00"]
    assert utc(one(text.replace("B", "A"))) == ["2026-04-03T06:10:00", "2026-04-13T06:10:00"]


def test_a_vessel_that_is_not_there_is_refused_with_some_that_are() -> None:
    assert refusal(FLEET, only=("Alfa", "Beta")) == (
        "a.csv: there is no vessel 'Alfa'; those in the file are '100000001', '100000002', '100000003',"
        " 'Alpha', 'Beta', 'Gamma'"
    )


def test_a_file_that_names_no_vessel_is_read_whole_and_that_is_said() -> None:
    content = read(f"time,lat,lon\n{T.format(0)},57.5,8\n", only=("Alpha",))
    assert content.tally["used"] == 1
    assert "the file does not say which vessel it is of, so that all of it was read" in said(content)[0]


@pytest.mark.parametrize("only", [(), ("Alpha",)])
def test_a_row_without_its_vessel_is_refused(only: tuple[str, ...]) -> None:
    """It may be any vessel's; leaving it out could lose the fix that matters."""
    text = "time,lat,lon,vessel\n2026-03-01T06:10:00Z,57.5,8,Alpha\n2026-03-01T06:11:00Z,57.6,8, \n"
    assert "line 3, column 'vessel': the row does not say which vessel it is of" in refusal(text, only=only)


def test_a_column_of_vessels_that_is_empty_throughout_names_none() -> None:
    raw = one("time,lat,lon,vessel\n2026-03-01T06:10:00Z,57.5,8,\n2026-03-01T06:11:00Z,57.6,8,\n")
    assert (raw.name, raw.vessel, len(raw)) == ("a", "", 2)


def test_blanks_around_a_name_do_not_make_another_vessel() -> None:
    text = "lat,lon,vessel\n57.5,8,Alpha\n57.6,8,Alpha \n57.7,8, Alpha\n57.8,8,alpha\n"
    assert [(raw.vessel, len(raw)) for raw in read(text).raw] == [("Alpha", 3), ("alpha", 1)]


def test_ten_thousand_vessels_are_read() -> None:
    rows = "".join(f"57.{n % 1000:03d},8,v{n % 10_000}\n" for n in range(30_000))
    content = read(f"lat,lon,vessel\n{rows}")
    assert len(content.raw) == 10_000
    assert {len(raw) for raw in content.raw} == {3}
    assert content.raw[9_999].line.tolist() == [10_001, 20_001, 30_001]


# --- size -------------------------------------------------------------------------------------------


def test_memory_is_that_of_the_columns() -> None:
    """A fix takes 8 bytes each for latitude, longitude and its time, 4 for its line; work on it some more."""
    row = b"2026-03-01T06:10:%02dZ,57.500000,-20.250000\n"

    def chunks() -> Iterator[bytes]:
        yield b"time,lat,lon\n"
        for n in range(12):
            yield row % (n % 60) * 5_000

    tracemalloc.start()
    content = read_csv_tracks(chunks(), file="a", name="a", options=ReadingOptions())
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(content.raw[0]) == 60_000
    assert most < 60_000 * 200


def test_a_head_marked_as_a_comment_counts_where_numbers_stand_right_under_it() -> None:
    raw = one("# Invented\n# time,lat,lon\n2026-03-01T06:10:00Z,57.5,-20.25\n")
    assert (raw.lat_deg.tolist(), raw.line.tolist()) == ([57.5], [3])
    plain = one("# columns: time, lat, lon\ntime,lat,lon\n2026-03-01T06:10:00Z,57.5,-20.25\n")
    assert plain.line.tolist() == [3]
