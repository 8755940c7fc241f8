"""Quantities are parsed with their unit or refused with a hint, and printed for people."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from strategies import numbers

from towzone.errors import UsageError
from towzone.units import (
    FATHOM_M,
    KNOT_MPS,
    NAUTICAL_MILE_M,
    format_duration,
    format_instant,
    format_length,
    format_position,
    parse_duration,
    parse_fuel_rate,
    parse_length,
    parse_speed,
)


@pytest.mark.parametrize(
    ("text", "expected_m"),
    [
        ("500m", 500.0),
        ("0m", 0.0),
        ("0.25nmi", 463.0),
        ("0.25 NM", 463.0),
        (" 1.5km ", 1500.0),
        ("12ftm", 12 * 1.8288),
        (".5m", 0.5),
        ("5.m", 5.0),
        ("1e3m", 1000.0),
        ("+2m", 2.0),
    ],
)
def test_parse_length_reads_metres(text, expected_m):
    """The number and the unit, spaces allowed between and around."""
    assert parse_length(text) == pytest.approx(expected_m, rel=0, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("0.25", "no unit"),
        ("500M", "nmi for nautical miles or m for metres"),
        ("1nm", "nanometre"),
        ("1mi", "statute"),
        ("1fm", "ftm"),
        ("1 parsec", "not one of"),
        ("-1m", "zero or more"),
        ("-0m", "zero or more"),
        ("nanm", "not a length"),
        ("infm", "not a length"),
        ("1e999m", "finite"),
        ("1,5km", "not a length"),
        ("", "not a length"),
        ("m", "not a length"),
        ("1m 2m", "not a length"),
        ("1m\n;", "not a length"),
        ("١m", "not a length"),
    ],
)
def test_parse_length_refuses_and_says_what_to_write(text, hint):
    """No bare numbers, no look-alike units, nothing negative, nothing that is not finite."""
    with pytest.raises(UsageError, match=re.escape(hint)):
        parse_length(text)


@pytest.mark.parametrize(
    ("text", "expected_kn"), [("3.4kn", 3.4), ("18.52km/h", 10.0), ("1m/s", 1 / KNOT_MPS)]
)
def test_parse_speed_reads_knots(text, expected_kn):
    """Knots whatever the unit."""
    assert parse_speed(text) == pytest.approx(expected_kn, rel=0, abs=1e-9)


@pytest.mark.parametrize("text", ["6", "6kt", "6kts", "6knots", "6 m", "-6kn", "6 kn h"])
def test_parse_speed_refuses(text):
    """As lengths."""
    with pytest.raises(UsageError, match="speed"):
        parse_speed(text)


@pytest.mark.parametrize(
    ("text", "expected_s"),
    [("90s", 90.0), ("15min", 900.0), ("2h", 7200.0), ("1d", 86400.0), ("0.5h", 1800.0)],
)
def test_parse_duration_reads_seconds(text, expected_s):
    """Seconds whatever the unit."""
    assert parse_duration(text) == expected_s


@pytest.mark.parametrize("text", ["15", "15m", "15 minutes", "-1h", "1h30"])
def test_parse_duration_refuses(text):
    """'15m' would be metres."""
    with pytest.raises(UsageError, match="duration"):
        parse_duration(text)


@pytest.mark.parametrize(("text", "expected"), [("180l/h", 180.0), ("0 l/h", 0.0), (" 62.5 l/h ", 62.5)])
def test_parse_fuel_rate_reads_litres_an_hour(text, expected):
    assert parse_fuel_rate(text) == expected


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("180", "no unit; write for example 180l/h"),
        ("180L/h", "write l/h for litres an hour"),
        ("180 l", "write l/h for litres an hour"),
        ("40gal/h", "gallons differ"),
        ("150kg/h", "density"),
        ("180m/h", "not one of l/h"),
        ("-1l/h", "zero or more"),
        ("1e9l/h", "more than makes sense"),
        ("l/h", "is not a rate of fuel"),
    ],
)
def test_parse_fuel_rate_refuses_and_says_what_to_write(text, hint):
    with pytest.raises(UsageError, match=re.escape(hint)):
        parse_fuel_rate(text)


@given(numbers(0.0, 1e4))
def test_a_printed_length_reads_back(length):
    """Parsing takes back what was written with all digits."""
    assert parse_length(f"{length!r}m") == length
    assert parse_length(f"{length!r}nmi") == length * NAUTICAL_MILE_M


@given(numbers(-1e6, 1e6))
def test_format_length_prints_both_units_of_one_length(length_m):
    """Metres to a decimetre, miles to three decimals; no negative zero."""
    metres, miles = re.fullmatch(r"(-?[\d.]+) m \((-?[\d.]+) nmi\)", format_length(length_m)).groups()

    assert abs(float(metres) - length_m) <= 0.0500001
    assert abs(float(miles) * NAUTICAL_MILE_M - length_m) <= 0.0005001 * NAUTICAL_MILE_M


def test_format_length_has_no_negative_zero():
    """A clearance of -0.0 is nought."""
    assert format_length(-0.0) == "0.0 m (0.000 nmi)"


@given(numbers(-180.0, 180.0), numbers(-90.0, 90.0))
def test_a_printed_position_reads_back_to_a_thousandth_of_a_minute(lon, lat):
    """Latitude first; minutes below 60; degrees in range; hemisphere letters right."""
    pattern = r"(\d\d)°(\d\d\.\d{3})'([NS]) (\d{3})°(\d\d\.\d{3})'([EW])"
    a, b, north, c, d, east = re.fullmatch(pattern, format_position(lon, lat)).groups()
    back_lat = (int(a) + float(b) / 60) * (1 if north == "N" else -1)
    back_lon = (int(c) + float(d) / 60) * (1 if east == "E" else -1)

    assert float(b) < 60
    assert float(d) < 60
    assert abs(back_lat - lat) <= 0.00051 / 60
    assert abs(back_lon - lon) <= 0.00051 / 60


@pytest.mark.parametrize(
    ("lon", "lat", "expected"),
    [
        (0.0, 0.0, "00°00.000'N 000°00.000'E"),
        (-0.0, -0.0, "00°00.000'N 000°00.000'E"),
        (-0.0083333, -0.0083333, "00°00.500'S 000°00.500'W"),
        (179.99999999, 59.99999999, "60°00.000'N 180°00.000'E"),
        (-179.5, -1.5, "01°30.000'S 179°30.000'W"),
        (190.0, 0.0, "00°00.000'N 170°00.000'W"),
        (-190.0, 0.0, "00°00.000'N 170°00.000'E"),
        (360.0, 0.0, "00°00.000'N 000°00.000'E"),
    ],
)
def test_format_position_at_its_edges(lon, lat, expected):
    """Signs below one degree, rounding up to whole degrees, longitudes beyond half a turn."""
    assert format_position(lon, lat) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-01T06:10:00", "2026-03-01T06:10:00Z"),
        ("2026-03-01T06:10:00.999999", "2026-03-01T06:10:00.999Z"),
        ("2026-03-01T06:10:00.000400", "2026-03-01T06:10:00Z"),
        ("1969-12-31T23:59:59.5", "1969-12-31T23:59:59.500Z"),
        ("NaT", None),
    ],
)
def test_format_instant_is_utc_and_unknown_stays_unknown(text, expected):
    """RFC 3339 with Z; no time is no text."""
    assert format_instant(np.datetime64(text, "us")) == expected


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [
        (0, "0 s"),
        (59.4, "59 s"),
        (59.6, "1 min"),
        (3599.6, "1 h 00 min"),
        (86400, "24 h 00 min"),
    ],
)
def test_format_duration_rounds_once(seconds, expected):
    """No '60 s' and no '60 min'."""
    assert format_duration(seconds) == expected


def test_constants_are_exact():
    """The mile and the fathom are defined numbers; sources stand in tests/reference/units.csv."""
    assert (NAUTICAL_MILE_M, FATHOM_M) == (1852.0, 1.8288)
    assert abs(KNOT_MPS * 3600 - 1852.0) < 1e-9
