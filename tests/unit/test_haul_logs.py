"""Haul logs: read whole or refused whole, because a haul lost or misread hides a tow."""

from __future__ import annotations

import gzip
import hashlib
import io
import zoneinfo
from pathlib import Path

import numpy as np
import pytest

from towzone.errors import InputError
from towzone.files.haul_logs import HaulLogFile, read_haul_log
from towzone.tows.logged import LoggedHaul
from towzone.tracks.options import DateOrder

BOTH = "2026-03-01T06:10Z,2026-03-01T09:40Z"
HEAD = "haul,shoot_utc,haul_utc,warp_m,depth_m,door_spread_m,gear\n"
FIRST = "1,2026-03-01T06:10:00Z,2026-03-01T09:40:00Z,350,117.5,80,OTB\n"
SECOND = "2,2026-03-01 10:20,2026-03-01 13:00,,,,\n"


def read(
    tmp_path: Path, text: str | bytes, zone: str | None = None, order: DateOrder | None = None
) -> HaulLogFile:
    path = tmp_path / "hauls.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    track_tz = zoneinfo.ZoneInfo(zone) if zone else None
    return read_haul_log(str(path), track_tz=track_tz, date_order=order)


def refusal(tmp_path: Path, text: str, **how: object) -> str:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text, **how)  # type: ignore[arg-type]
    return str(caught.value).replace(f"{tmp_path}/", "")


def times(haul: LoggedHaul) -> tuple[str, str]:
    return str(haul.shoot_utc.astype("datetime64[s]")), str(haul.haul_utc.astype("datetime64[s]"))


def said(file: HaulLogFile) -> list[str]:
    return [f"{remark.where}: {remark.message}" for remark in file.remarks]


def test_a_log_as_the_contract_has_it(tmp_path: Path) -> None:
    file = read(tmp_path, HEAD + FIRST + SECOND)
    assert file.hauls == (
        LoggedHaul(
            haul="1",
            shoot_utc=np.datetime64("2026-03-01T06:10:00", "us"),
            haul_utc=np.datetime64("2026-03-01T09:40:00", "us"),
            warp_m=350.0,
            depth_m=117.5,
            door_spread_m=80.0,
            gear="OTB",
            line=2,
        ),
        LoggedHaul(
            haul="2",
            shoot_utc=np.datetime64("2026-03-01T10:20:00", "us"),
            haul_utc=np.datetime64("2026-03-01T13:00:00", "us"),
            line=3,
        ),
    )
    assert file.remarks == ()
    assert {haul.shoot_utc.dtype for haul in file.hauls} == {np.dtype("datetime64[us]")}


def test_three_columns_are_enough(tmp_path: Path) -> None:
    (haul,) = read(tmp_path, "haul,shoot_utc,haul_utc\nA1,2026-03-01T06:10Z,2026-03-01T09:40Z\n").hauls
    assert (haul.haul, haul.warp_m, haul.depth_m, haul.door_spread_m, haul.gear) == (
        "A1",
        None,
        None,
        None,
        None,
    )


def test_usual_spellings_are_known_and_told(tmp_path: Path) -> None:
    text = (
        "Haul no.;Shooting time (UTC);Hauled UTC;Warp out [fathoms];Water depth (m);Door spread, m;Gear;X\n"
        "7;13.03.2026 06:10;13.03.2026 09:40;200;117,5;;TBB;3\n"
    )
    file = read(tmp_path, text)
    (haul,) = file.hauls
    assert (haul.haul, haul.gear, haul.depth_m) == ("7", "TBB", 117.5)
    # NIST Special Publication 811 (2008), Appendix B.8: the foot is 0.3048 m; a fathom has six.
    assert haul.warp_m == pytest.approx(200 * 6 * 0.3048, rel=1e-12)
    assert times(haul) == ("2026-03-13T06:10:00", "2026-03-13T09:40:00")
    assert said(file) == [
        "line 1: columns read: 'Haul no.' as haul, 'Shooting time (UTC)' as shoot_utc, 'Hauled UTC' as"
        " haul_utc, 'Warp out [fathoms]' as warp_m, 'Water depth (m)' as depth_m, 'Door spread, m' as"
        " door_spread_m",
        "line 1: columns not used: 'X'",
    ]


def test_hauls_come_in_order_of_time_whatever_their_order_in_the_log(tmp_path: Path) -> None:
    file = read(tmp_path, HEAD + SECOND + "\n,,,,,,\n" + FIRST)
    assert [(haul.haul, haul.line) for haul in file.hauls] == [("1", 5), ("2", 2)]


def test_times_without_a_zone_are_utc_only_where_the_column_says_so(tmp_path: Path) -> None:
    text = "haul,shoot,haul_time\n1,2026-07-01 06:10,2026-07-01T09:40Z\n"
    file = read(tmp_path, text)
    assert times(file.hauls[0]) == ("2026-07-01T06:10:00", "2026-07-01T09:40:00")
    assert "line 2: column 'shoot': 1 time without a zone, read as UTC" in said(file)
    # Copenhagen keeps UTC+2 in July (IANA time zone database, Europe/Copenhagen).
    file = read(tmp_path, text, zone="Europe/Copenhagen")
    assert times(file.hauls[0]) == ("2026-07-01T04:10:00", "2026-07-01T09:40:00")
    assert "line 2: column 'shoot': 1 time without a zone, read in Europe/Copenhagen, as asked" in said(file)
    assert not any("without seconds" in remark for remark in said(file))


def test_local_columns_need_a_zone(tmp_path: Path) -> None:
    text = "haul,shoot_local,haul_local\n1,2026-07-01 06:10,2026-07-01 09:40\n"
    message = refusal(tmp_path, text)
    assert "line 2, column 'shoot_local': the time states no zone" in message
    assert "--track-tz" in message
    assert times(read(tmp_path, text, zone="Europe/Copenhagen").hauls[0])[0] == "2026-07-01T04:10:00"
    stated = "haul,shoot_local,haul_local\n1,2026-07-01 06:10+02:00,2026-07-01 09:40+02:00\n"
    assert times(read(tmp_path, stated).hauls[0]) == ("2026-07-01T04:10:00", "2026-07-01T07:40:00")


def test_one_column_of_dates_settles_the_other(tmp_path: Path) -> None:
    text = "haul,shoot_utc,haul_utc\n1,12/03/2026 22:10,13/03/2026 01:40\n"
    assert times(read(tmp_path, text).hauls[0]) == ("2026-03-12T22:10:00", "2026-03-13T01:40:00")
    text = "haul,shoot_utc,haul_utc\n1,11/03/2026 22:10,12/03/2026 01:40\n"
    assert "--date-order dmy or --date-order mdy" in refusal(tmp_path, text)
    file = read(tmp_path, text, order=DateOrder.MONTH_FIRST)
    assert times(file.hauls[0]) == ("2026-11-03T22:10:00", "2026-12-03T01:40:00")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            "1,2026-03-01T06:10Z,2026-03-01T06:10Z,,,,",
            "line 2: haul '1' is hauled at 2026-03-01 06:10:00 UTC, not after",
        ),
        (
            "1,2026-03-01T06:10Z,2026-03-01T05:10Z,,,,",
            "line 2: haul '1' is hauled at 2026-03-01 05:10:00 UTC, not after",
        ),
        (",2026-03-01T06:10Z,2026-03-01T09:40Z,,,,", "line 2, column 'haul': the haul has no name or number"),
        ("1,,2026-03-01T09:40Z,,,,", "line 2, column 'shoot_utc': the haul has no such time"),
        ("1,2026-03-01T06:10Z,,,,,", "line 2, column 'haul_utc': the haul has no such time"),
        ("1,2026-03-01T06:10Z,soon,,,,", "line 2, column 'haul_utc': 'soon' is not a date and time"),
        ("1,06:10,2026-03-01T09:40Z,,,,", "line 2, column 'shoot_utc': the time of day has no date"),
        ("1,2026-03-01 06:10+01:00,2026-03-01T09:40Z,,,,", "is not UTC, as the column says"),
        (f"1,{BOTH},-5,,,", "line 2, column 'warp_m': '-5' cannot be; possible are more than 0"),
        (f"1,{BOTH},0,,,", "line 2, column 'warp_m': '0' cannot be"),
        (f"1,{BOTH},10000,,,", "line 2, column 'warp_m': '10000' cannot be"),
        (f"1,{BOTH},,12000,,", "line 2, column 'depth_m': '12000' cannot be"),
        (f"1,{BOTH},,,1000,", "line 2, column 'door_spread_m': '1000' cannot be"),
        (f"1,{BOTH},35O,,,", "line 2, column 'warp_m': '35O' is not a number"),
        (f"1,{BOTH},nan,,inf,", "line 2, column 'door_spread_m': 'inf' is not a number"),
        (f"1,{BOTH},,,,otb", "line 2, column 'gear': 'otb' is not a gear code; known are OTB, OTT,"),
        (f"1,{BOTH}", "line 2: the row has 3 cells, but the head names 7 columns; mend the row"),
        (
            FIRST + FIRST.replace("2026-03-01", "2026-03-02"),
            "line 3, column 'haul': haul '1' stands in line 2 as well",
        ),
    ],
)
def test_a_haul_that_cannot_be_refuses_the_log(tmp_path: Path, rows: str, words: str) -> None:
    assert words in refusal(tmp_path, HEAD + rows + "\n")


@pytest.mark.parametrize("swap", [False, True])
def test_overlapping_hauls_are_refused_with_both_lines(tmp_path: Path, swap: bool) -> None:
    late = "2,2026-03-01T09:39:59Z,2026-03-01T10:00Z,,,,\n"
    rows = late + FIRST if swap else FIRST + late
    lines = (2, 3) if swap else (3, 2)
    assert refusal(tmp_path, HEAD + rows) == (
        f"hauls.csv: line {lines[0]}: haul '2' is shot at 2026-03-01 09:39:59 UTC, before haul '1' in line"
        f" {lines[1]} is hauled at 2026-03-01 09:40:00 UTC"
    )


def test_a_haul_inside_a_long_one_is_found_past_others(tmp_path: Path) -> None:
    rows = (
        "1,2026-03-01T06:00Z,2026-03-01T18:00Z,,,,\n"
        "2,2026-03-01T07:00Z,2026-03-01T08:00Z,,,,\n"
        "3,2026-03-01T09:00Z,2026-03-01T10:00Z,,,,\n"
    )
    message = refusal(tmp_path, HEAD + rows)
    assert [f"line {line}" in message for line in (3, 4)] == [True, True]
    assert message.count("before haul '1' in line 2") == 2


def test_hauling_and_shooting_at_one_moment_is_no_overlap(tmp_path: Path) -> None:
    assert len(read(tmp_path, HEAD + FIRST + "2,2026-03-01T09:40:00Z,2026-03-01T10:00Z,,,,\n").hauls) == 2


def test_a_haul_of_more_than_a_day_is_remarked_on(tmp_path: Path) -> None:
    day = "1,2026-03-01T06:10Z,2026-03-02T06:10Z,,,,\n"
    assert read(tmp_path, HEAD + day).remarks == ()
    longer = day.replace("02T06:10", "02T07:20")
    assert said(read(tmp_path, HEAD + longer)) == [
        "line 2: haul '1' lasts 25 h 10 min, more than a day; check its dates"
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the file is empty"),
        ("# nothing\n", "holds no table"),
        (HEAD, "line 1: holds the names of columns, but no haul"),
        (
            "haul,shoot_utc\n1,2026-03-01T06:10Z\n",
            "line 1: has no column 'haul_utc'; found are 'haul', 'shoot_utc'. A haul log",
        ),
        (
            "time,lat,lon\n2026-03-01T06:10Z,57,8\n",
            "has no column 'haul', 'shoot_utc', 'haul_utc'; found are 'time'",
        ),
        ("haul,tow,shoot_utc,haul_utc\n", "has several columns that mean the same: 'haul', 'tow'"),
        ("haul,shoot_cet,haul_utc\n", "has no column 'shoot_utc'"),
        ('haul,shoot_utc,haul_utc\n1,"2026', "line 2: the row that begins here cannot be read"),
        ("haul,shoot_utc,haul_utc\n1\0,", "line 2: holds a NUL"),
    ],
)
def test_what_is_no_haul_log_is_refused(tmp_path: Path, text: str, words: str) -> None:
    assert words in refusal(tmp_path, text)


def test_a_length_without_a_unit_is_left_out_and_said(tmp_path: Path) -> None:
    file = read(tmp_path, "haul,shoot_utc,haul_utc,warp\n1,2026-03-01T06:10Z,2026-03-01T09:40Z,350\n")
    assert file.hauls[0].warp_m is None
    assert "column 'warp' is not used, because its name says no unit that is read (m or ftm)" in said(file)[0]


def test_all_that_is_wrong_is_told_together(tmp_path: Path) -> None:
    rows = "1,2026-03-01T06:10Z,x,,,,\n2,2026-03-02T06:10Z,2026-03-02T09:40Z,-1,,,XXX\n"
    assert len(refusal(tmp_path, HEAD + rows).splitlines()) == 3


def test_the_log_is_identified_by_its_bytes_and_may_be_compressed(tmp_path: Path) -> None:
    stored = gzip.compress((HEAD + FIRST).encode())
    file = read(tmp_path, stored)
    assert len(file.hauls) == 1
    assert (file.input.sha256, file.input.bytes) == (hashlib.sha256(stored).hexdigest(), len(stored))


def test_standard_input_may_hold_the_log(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO((HEAD + FIRST).encode())))
    assert read_haul_log("-", track_tz=None).input.file == "-"


def test_a_logged_haul_holds_itself_to_its_promises() -> None:
    begin = np.datetime64("2026-03-01T06:10", "us")
    for end, gear in (
        (begin, None),
        (np.datetime64("NaT", "us"), None),
        (begin + np.timedelta64(1, "h"), "XXX"),
    ):
        with pytest.raises(ValueError, match=r"does not end after|not a gear code"):
            LoggedHaul(haul="1", shoot_utc=begin, haul_utc=end, gear=gear)
