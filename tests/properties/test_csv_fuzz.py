"""Tables written in any style read back as the same fixes; whatever else comes, only InputError comes out."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from towzone.errors import InputError
from towzone.files.csv_text import Lines, read_batches
from towzone.files.csv_tracks import read_csv_tracks
from towzone.files.haul_logs import read_haul_log
from towzone.tracks.options import DateOrder, ReadingOptions
from towzone.tracks.raw import NOT_A_TIME, SourceContent

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Fix:
    """One fix in whole units: millionths of a degree, milliseconds since 1970, hundredths of a knot."""

    lat_udeg: int
    lon_udeg: int
    time_ms: int | None
    vessel: int
    speed: int | None


def read(data: bytes, size: int = 1 << 20, options: ReadingOptions | None = None) -> SourceContent:
    chunks = (data[at : at + size] for at in range(0, len(data), size))
    return read_csv_tracks(chunks, file="a.csv", name="a", options=options or ReadingOptions())


# --- round trip -------------------------------------------------------------------------------------


def plain(value_udeg: int, _letters: str, mark: str) -> str:
    sign = "-" if value_udeg < 0 else ""
    return f"{sign}{abs(value_udeg) // 10**6}{mark}{abs(value_udeg) % 10**6:06d}"


def lettered(value_udeg: int, letters: str, mark: str) -> str:
    return plain(abs(value_udeg), letters, mark) + letters[value_udeg < 0]


def minutes(form: str) -> Callable[[int, str, str], str]:
    """Degrees and minutes to a millionth of a minute: exact to 1e-8 degrees."""

    def written(value_udeg: int, letters: str, mark: str) -> str:
        degrees, rest = divmod(abs(value_udeg), 10**6)
        whole, part = divmod(rest * 60, 10**6)
        return form.format(d=degrees, m=f"{whole:02d}{mark}{part:06d}", h=letters[value_udeg < 0])

    return written


def seconds(value_udeg: int, letters: str, mark: str) -> str:
    degrees, rest = divmod(abs(value_udeg), 10**6)
    minute, rest = divmod(rest * 60, 10**6)
    whole, part = divmod(rest * 60, 10**6)
    return f"{degrees}°{minute:02d}'{whole:02d}{mark}{part:06d}\"{letters[value_udeg < 0]}"


ANGLES = [
    plain,
    lettered,
    minutes("{d} {m}{h}"),
    minutes("{d}°{m}'{h}"),
    minutes("{h}{d:03d} {m}"),
    minutes("{d}-{m} {h}"),
    seconds,
]


def iso(form: str) -> Callable[[int], str]:
    def written(time_ms: int) -> str:
        moment = EPOCH + dt.timedelta(milliseconds=time_ms)
        return moment.strftime(form).replace("FFF", f"{time_ms % 1000:03d}")

    return written


def epoch(unit_ms: int) -> Callable[[int], str]:
    def written(time_ms: int) -> str:
        whole, part = divmod(time_ms, unit_ms)
        return f"{whole}.{part:03d}" if unit_ms > 1 else str(whole)

    return written


TIMES = {
    "time_utc": [
        iso("%Y-%m-%dT%H:%M:%S.FFFZ"),
        iso("%Y-%m-%d %H:%M:%S.FFF"),
        iso("%Y/%m/%d %H:%M:%S.FFF+00:00"),
        iso("%d-%b-%Y %H:%M:%S.FFF"),
        iso("%d %B %Y %I:%M:%S.FFF %p"),
    ],
    "Date (dd/mm/yyyy hh:mm:ss) UTC": [iso("%d/%m/%Y %H:%M:%S.FFF"), iso("%d.%m.%Y %H:%M:%S.FFF UTC")],
    "utc date mdy": [iso("%m-%d-%Y %I:%M:%S.FFF %p")],
    "epoch_s": [epoch(1000)],
    "timestamp_ms": [epoch(1)],
}

fixes = st.lists(
    st.builds(
        Fix,
        st.integers(-90 * 10**6, 90 * 10**6),
        st.integers(-180 * 10**6, 180 * 10**6),
        st.none() | st.integers(978_307_200_000, 4_102_444_799_999),
        st.integers(0, 3),
        st.none() | st.integers(0, 10_229),
    ).filter(lambda fix: abs(fix.lat_udeg) > 1 or abs(fix.lon_udeg) > 1),
    min_size=1,
    max_size=12,
)


@st.composite
def styles(draw: st.DrawFn) -> dict[str, object]:
    name = draw(st.sampled_from(sorted(TIMES)))
    return {
        "angle": draw(st.sampled_from(ANGLES)),
        "time_name": name,
        "time": draw(st.sampled_from(TIMES[name])),
        "delimiter": draw(st.sampled_from(",;\t|")),
        "mark": draw(st.sampled_from(".,")),
        "encoding": draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])),
        "ends": draw(st.sampled_from(["\n", "\r\n", "\r"])),
        "quoting": draw(st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])),
        "order": draw(st.permutations(range(6))),
        "vessels": draw(st.booleans()),
        "size": draw(st.sampled_from([1, 3, 1000])),
        "last_end": draw(st.booleans()),
    }


def written(rows: list[Fix], style: dict[str, object]) -> bytes:
    buffer = io.StringIO(newline="")
    out = csv.writer(
        buffer,
        delimiter=style["delimiter"],  # type: ignore[arg-type]
        lineterminator=style["ends"],  # type: ignore[arg-type]
        quoting=style["quoting"],  # type: ignore[arg-type]
    )
    mark: str = style["mark"]  # type: ignore[assignment]
    # A writer that quotes little knows of its own line end only.
    note = "ignored\næøå" if style["quoting"] == csv.QUOTE_ALL else "ignored; æøå"
    table = [
        [
            style["time_name"],
            "Latitude",
            "Longitude",
            "Speed (kn)",
            "vessel" if style["vessels"] else "trip",
            "x",
        ]
    ]
    for fix in rows:
        speed = "" if fix.speed is None else f"{fix.speed // 100}{mark}{fix.speed % 100:02d}"
        table.append(
            [
                "" if fix.time_ms is None else style["time"](fix.time_ms),  # type: ignore[operator]
                style["angle"](fix.lat_udeg, "NS", mark),  # type: ignore[operator]
                style["angle"](fix.lon_udeg, "EW", mark),  # type: ignore[operator]
                speed,
                f"vessel, {fix.vessel}",
                note,
            ]
        )
    order: list[int] = style["order"]  # type: ignore[assignment]
    out.writerows([row[at] for at in order] for row in table)
    text = buffer.getvalue()
    if not style["last_end"]:
        text = text.removesuffix(style["ends"])  # type: ignore[arg-type]
    return text.encode(style["encoding"])  # type: ignore[arg-type]


@settings(max_examples=300, deadline=None)
@given(fixes, styles())
def test_fixes_written_in_any_style_are_read_back(rows: list[Fix], style: dict[str, object]) -> None:
    content = read(written(rows, style), style["size"])  # type: ignore[arg-type]
    assert content.tally == {"rows": len(rows), "used": len(rows), "left_out": 0, "other_vessels": 0}
    groups: dict[object, list[Fix]] = {}
    for fix in rows:
        groups.setdefault(fix.vessel if style["vessels"] else "", []).append(fix)
    assert [raw.vessel for raw in content.raw] == [f"vessel, {key}" if key != "" else "" for key in groups]
    exact = style["angle"] in (plain, lettered)
    for raw, own in zip(content.raw, groups.values(), strict=True):
        for found, expected in (
            (raw.lat_deg, [fix.lat_udeg / 10**6 for fix in own]),
            (raw.lon_deg, [fix.lon_udeg / 10**6 for fix in own]),
        ):
            # A millionth of a minute, or of a second, is the last figure written; half of it is 1e-8 degrees.
            np.testing.assert_allclose(found, expected, rtol=0, atol=0 if exact else 1e-8)
        assert raw.time_us.tolist() == [
            NOT_A_TIME if fix.time_ms is None else fix.time_ms * 1000 for fix in own
        ]
        knots = [math.nan if fix.speed is None else fix.speed / 100 for fix in own]
        np.testing.assert_allclose(raw.readings["sog_kn"], knots, rtol=1e-6)


@settings(max_examples=100, deadline=None)
@given(fixes, styles(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing_but_the_order(
    rows: list[Fix], style: dict[str, object], chance: object
) -> None:
    style = style | {"vessels": False}
    mixed = list(rows)
    chance.shuffle(mixed)  # type: ignore[attr-defined]
    (one,), (other,) = read(written(rows, style)).raw, read(written(mixed, style)).raw

    def as_set(raw: object) -> list[tuple[object, ...]]:
        return sorted(zip(raw.lat_deg.tolist(), raw.lon_deg.tolist(), raw.time_us.tolist(), strict=True))  # type: ignore[attr-defined]

    assert as_set(one) == as_set(other)


@settings(max_examples=100, deadline=None)
@given(fixes, styles(), st.integers(0, 3))
def test_one_vessel_of_many_reads_as_in_a_file_of_its_own(
    rows: list[Fix], style: dict[str, object], vessel: int
) -> None:
    style = style | {"vessels": True}
    own = [fix for fix in rows if fix.vessel == vessel]
    options = ReadingOptions(only=(f"vessel, {vessel}",))
    if not own:
        with pytest.raises(InputError, match="there is no vessel"):
            read(written(rows, style), options=options)
        return
    (one,), (alone,) = read(written(rows, style), options=options).raw, read(written(own, style)).raw
    for name in ("lat_deg", "lon_deg", "time_us"):
        assert getattr(one, name).tolist() == getattr(alone, name).tolist()


figures = st.sampled_from(
    ["0", "7", "57", "057", "0057", "5730", "90", "91", "180", "181", "00830", "1234567"]
)
parts = st.sampled_from(["", ".", ".0", ".5", ".999999", "e-5"])
joints = st.sampled_from(
    ["", " ", "°", "-", ":", "'", " 30", " 30.5", "°30'", "°30.5'", " 60", "°30'15\"", "°30'60\""]
)
sides = st.sampled_from(["", "", "-", "+", " "])
capes = st.sampled_from(["", "", "N", "S", "E", "W", "n", " N", "NS"])
angles = st.tuples(sides, figures, parts, joints, capes).map("".join) | st.sampled_from(
    ["", " ", "nan", "N57.5"]
)


@settings(max_examples=600, deadline=None)
@given(st.lists(st.tuples(angles, angles), min_size=1, max_size=4), st.booleans())
def test_rows_are_read_alike_together_and_alone(rows: list[tuple[str, str]], packed: bool) -> None:
    """Cells that look alike are read by another way than those that do not; both must say the same."""
    names = ("lat_ddmm", "lon_ddmm") if packed else ("lat", "lon")
    good = ("5730.0N", "00815.0E") if packed else ("57.5", "8.25")

    def positions(some: list[tuple[str, str]]) -> list[tuple[float, float, int]] | None:
        buffer = io.StringIO(newline="")
        csv.writer(buffer, delimiter=";").writerows([names, good, *some])
        try:
            (raw,) = read(buffer.getvalue().encode()).raw
        except InputError:
            return None
        return [*zip(raw.lat_deg.tolist(), raw.lon_deg.tolist(), raw.line.tolist(), strict=True)][1:]

    alone = [positions([row]) for row in rows]
    together = positions(rows)
    if None in alone:
        assert together is None
    else:
        found = [(lat, lon, 3 + at) for at, one in enumerate(alone) for lat, lon, _ in one or ()]
        # Of blank rows nothing is left but the count of lines.
        assert together == found
    for row, one in zip(rows, alone, strict=True):
        assert one == positions([row, ("", "")])  # among cells that are not alike


# --- whatever comes ---------------------------------------------------------------------------------


REAL_LOOKING = [
    b"time,lat,lon,vessel,speed_kn,course_deg,depth_m,warp_m\n"
    b"2026-03-01T06:10:00Z,57.500000,-20.250000,invented,3.4,54.1,117.5,350\n"
    b"2026-03-01T06:10:10Z,57.500100,-20.250100,invented,3.5,54.0,117.0,350\n"
    b"2026-03-01T06:10:20Z,,,invented,,,,\n"
    b"2026-03-01T06:10:30Z,57.500300,-20.250300,other,3.4,360,,\n",
    "Dato;Date;Time;Latitude;Longitude;Fart (knop)\r\n"
    "x;13.03.2026;06:10:00;57,5001;-20,2501;3,4\r\nx;03.04.2026;06:10:10;57,5002;-20,2502;3,5\r\n".encode(
        "utf-16"
    ),
    b"MMSI\tBaseDateTime\tLAT\tNS\tLON\tEW\tSOG\r\n"
    b"100000001\t03/14/2026 06:10 PM\t57 30.5\tN\t20 15.1\tW\t3\r\n"
    b"100000002\t03/05/2026 06:11 PM\t57 30.6\tN\t20 15.2\tW\t3\r\n",
    b'sep=;\n"epoch";"lat";"lon"\n"1772345400";"5730.5N";"02015.1W"\n'
    b'"1772345401.5";"57\xc2\xb030\'15""N";"20 15 6W"\n',
    b"# logger\ntime_local   lat      lon\n1772345400  57.5  -20.25\n1772345410  57.6  -20.26\n",
    b"haul,shoot_utc,haul_utc,warp_m,depth_m,door_spread_m,gear\n"
    b"1,2026-03-01T06:10Z,2026-03-01T09:40Z,350,117.5,80,OTB\n2,2026-03-01 10:20,2026-03-01 13:00,,,,\n",
]
PIECES = [
    *(b",", b";", b"\t", b"|", b'"', b'""', b"\n", b"\r", b"\r\n", b"\0", b"'", b" ", b"#"),
    *(b"-", b"+", b".", b":", b"T", b"Z", b"N", b"W", b"E", b"e", b"S", b"e-5", b"E+01", b"_"),
    *(b"nan", b"inf", b"1e999", b"-0", b"0", b"91", b"181", b"1" * 400, b"9" * 20, b"0030.5"),
    *(b"\xff\xfe", b"\xef\xbb\xbf", b"\xe6", "°".encode(), "′".encode(), "\u2212".encode(), "١٢".encode()),
    *(b"2026-02-30", b"13/13/2026", b"03/04/2026", b"24:00:00", b"23:59:60", b"AM", b"+15:00", b"+02:00"),
    *(b"0001-01-01T00:00:00+14:00", b"9999-12-31T24:00:00", b"1772345400", b"1772345400000", b"2603120610"),
    *(
        b"lat",
        b"lon",
        b"time",
        b"date",
        b"vessel",
        b"time_utc",
        b"epoch_s",
        b"lat_ddmm",
        b"Depth (ftm)",
        b"sep=,",
    ),
    *(b"\x0b", "\u2028".encode(), b"=1+1", b"x" * 140_000),
]
ZONED = ReadingOptions(date_order=DateOrder.MONTH_FIRST, only=("invented", "100000001"))


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    data = bytearray(draw(st.sampled_from(REAL_LOOKING)))
    for _ in range(draw(st.integers(1, 5))):
        at = draw(st.integers(0, len(data)))
        cut = draw(st.sampled_from([0, 0, 1, 2, 7, 40, 10_000]))
        piece = draw(st.one_of(st.sampled_from(PIECES), st.binary(max_size=4)))
        data[at : at + cut] = piece
    return bytes(data)


def adds_up(content: SourceContent) -> None:
    tally = content.tally
    assert tally["rows"] == tally["used"] + tally["left_out"] + tally["other_vessels"]
    assert tally["used"] == sum(len(raw) for raw in content.raw) > 0
    assert len({raw.name for raw in content.raw}) == len(content.raw)
    for raw in content.raw:
        assert len(raw)
        assert (np.abs(raw.lat_deg) <= 90).all()
        assert (np.abs(raw.lon_deg) <= 180).all()
        assert not ((raw.lat_deg == 0) & (raw.lon_deg == 0)).any()
        known = raw.time_us[raw.time_us != NOT_A_TIME]
        assert (np.abs(known) < 2.6e17).all()  # inside the calendar


def answers_or_refuses(data: bytes) -> None:
    """Anything else than fixes that add up or an InputError, and the test fails.

    The size of the pieces makes no difference but to what is told of a file with several faults.
    """
    for options in (ReadingOptions(), ZONED):
        answers = []
        for size in (1 << 20, 13):
            try:
                content = read(data, size, options)
            except InputError:
                answers.append("")
                continue
            adds_up(content)
            answers.append(
                str([(raw.name, raw.lat_deg.tolist(), raw.time_us.tolist()) for raw in content.raw])
            )
        assert answers[0] == answers[1]


@settings(max_examples=1500, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(mutated())
@example(b"lat,lon,depth_m\n1,2," + b"9" * 20)
@example(b"time_ms,lat,lon\n" + b"99999999999999999999,1,2\n" * 600)
def test_a_mutated_table_of_fixes(data: bytes) -> None:
    answers_or_refuses(data)


@settings(max_examples=300, deadline=None)
@given(
    st.binary(max_size=200),
    st.sampled_from([b"", b"lat,lon\n", b"time;lat;lon\n", b"\xff\xfe", b'lat,lon\n"']),
)
def test_random_bytes_as_a_table(data: bytes, head: bytes) -> None:
    answers_or_refuses(head + data)


cells = st.text(st.sampled_from("0123456789.,:-+/ TZNSEWe°'\"\u2212AMPmar"), max_size=24)


@settings(max_examples=600, deadline=None)
@given(st.lists(st.tuples(cells, cells, cells), min_size=1, max_size=5))
def test_cells_of_the_right_letters_in_the_wrong_order(rows: list[tuple[str, str, str]]) -> None:
    buffer = io.StringIO(newline="")
    csv.writer(buffer, delimiter=";").writerows([("time", "lat", "lon"), *rows])
    answers_or_refuses(buffer.getvalue().encode())


@settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(mutated())
def test_a_mutated_haul_log(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hauls.csv"
        path.write_bytes(data)
        try:
            file = read_haul_log(str(path), track_tz=None)
        except InputError:
            return
    ends = [haul.haul_utc for haul in file.hauls]
    assert file.hauls
    assert all(haul.shoot_utc < haul.haul_utc for haul in file.hauls)
    assert all(end <= haul.shoot_utc for end, haul in zip(ends, file.hauls[1:], strict=False))


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.lists(st.text(st.sampled_from('ab", \n\r;é'), max_size=6), min_size=2, max_size=2), max_size=8
    ),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.integers(1, 9),
)
def test_cells_of_any_content_come_back(rows: list[list[str]], ends: str, size: int) -> None:
    """Leading blanks are not kept, and any line end is read as LF."""
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator=ends, quoting=csv.QUOTE_ALL).writerows(rows)
    data = buffer.getvalue().encode()

    def chunks() -> Iterator[bytes]:
        yield from (data[at : at + size] for at in range(0, len(data), size))

    batches = [*read_batches(Lines(chunks(), "a"), ",", 1)]
    expected = [[cell.replace("\r\n", "\n").replace("\r", "\n") for cell in row] for row in rows]
    assert [row for batch in batches for row in batch.rows] == expected
    lines = 1
    for line, row in zip([n for batch in batches for n in batch.lines], expected, strict=True):
        assert line == lines
        lines += 1 + sum(cell.count("\n") for cell in row)
