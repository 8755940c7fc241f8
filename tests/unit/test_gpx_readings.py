"""Speed, course and dilution of precision in GPX: read where they are the vessel's, never at a fix's cost."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from bad_inputs import GOOD_POINT, gpx, trk

from towzone.errors import InputError
from towzone.files.gpx import GpxContent, parse_gpx
from towzone.files.reading_limits import LIMITS
from towzone.model.track import READINGS

DATA = Path(__file__).parents[1] / "data" / "gpx"
HEAD_1_0 = '<?xml version="1.0"?>\n<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0">'
KN = 3600 / 1852
"""Knots in one metre per second: BIPM, SI Brochure, 8th ed. (2006), Table 8, the nautical mile is 1852 m."""


def point(*inner: str) -> bytes:
    """One point a line from line 4, each with these elements inside."""
    return trk("\n".join(f'<trkpt lat="57.5" lon="-20.25">{part}</trkpt>' for part in inner))


def read(data: bytes) -> GpxContent:
    return parse_gpx(data, "a.gpx")


def same(found: object, expected: list[float]) -> bool:
    """Whether a column of single precision holds these, NaN for NaN."""
    values = list(found)  # type: ignore[call-overload]
    return len(values) == len(expected) and all(
        math.isnan(a) if math.isnan(b) else math.isclose(a, b, rel_tol=1e-6)
        for a, b in zip(values, expected, strict=True)
    )


def test_gpx_1_0_tells_speed_in_metres_per_second_and_course() -> None:
    points = read((DATA / "version_1_0_with_speed.gpx").read_bytes()).points
    assert same(points.sog_kn, [1.75 * KN] * 3)
    assert same(points.cog_deg, [54.1] * 3)
    assert len(points.hdop) == 0


def test_gpx_1_1_tells_speed_inside_extensions_and_hdop_beside_them() -> None:
    points = read((DATA / "version_1_1_with_extensions.gpx").read_bytes()).points
    assert same(points.sog_kn, [1.75 * KN] * 3)
    assert same(points.hdop, [0.9] * 3)
    assert len(points.cog_deg) == 0


@pytest.mark.parametrize(
    "inner",
    [
        "<extensions><speed>2</speed></extensions>",
        '<extensions><a:one xmlns:a="b"><a:two><a:speed>2</a:speed></a:two></a:one></extensions>',
        '<extensions><a:speed xmlns:a="b"> 2.0 </a:speed><a:speed xmlns:a="b">9</a:speed></extensions>',
        "<speed>2</speed><extensions><speed>9</speed></extensions>",
        "<extensions><wind><speed>9</speed></wind><speed>2</speed></extensions>",
        '<extensions><n:Wind xmlns:n="b"><x><n:speed>9</n:speed></x></n:Wind><speed>2</speed></extensions>',
        '<y:speed xmlns:y="b">9</y:speed><speed>2</speed>',
        "<extensions><speed>x</speed><speed>2</speed></extensions>",
    ],
)
def test_the_first_speed_that_is_the_vessels_own_is_taken(inner: str) -> None:
    assert same(read(point(inner)).points.sog_kn, [2 * KN])


def test_course_also_by_its_other_name() -> None:
    assert same(read(point("<extensions><cog>7</cog></extensions>")).points.cog_deg, [7.0])


def test_a_document_with_prefixes_tells_them_too() -> None:
    inner = "<p:time>2026-03-01T06:10:00Z</p:time><p:hdop>1.2</p:hdop><hdop>9</hdop>"
    body = f'<p:trk><p:trkseg><p:trkpt lat="57" lon="-20">{inner}</p:trkpt></p:trkseg></p:trk>'
    data = f'<p:gpx xmlns:p="http://www.topografix.com/GPX/1/1" version="1.1">{body}</p:gpx>'.encode()
    assert same(read(data).points.hdop, [1.2])


def test_points_without_a_reading_stand_beside_those_with_one() -> None:
    nan = math.nan
    content = read(point("", "<hdop>1</hdop>", "", "<hdop>2</hdop>", ""))
    assert same(content.points.hdop, [nan, 1.0, nan, 2.0, nan])
    assert len(content.points.line) == 5
    assert len(content.points.sog_kn) == 0


def test_a_point_left_out_takes_its_readings_with_it() -> None:
    zero = '<trkpt lat="0" lon="0"><hdop>9</hdop></trkpt>'
    content = read(trk(f'{GOOD_POINT}\n{zero}\n<trkpt lat="57" lon="-20"><hdop>2</hdop></trkpt>'))
    assert same(content.points.hdop, [math.nan, 2.0])


def test_routes_and_waypoints_have_no_readings() -> None:
    body = (
        '<wpt lat="1" lon="1"><hdop>3</hdop></wpt>'
        '<rte><rtept lat="1" lon="2"><hdop>3</hdop><extensions><speed>4</speed></extensions></rtept></rte>'
    )
    content = read(gpx(body))
    assert len(content.route_points.line) == 1
    for columns in (content.points, content.route_points):
        assert not columns.hdop
        assert not columns.sog_kn
    assert content.unread == 0


@pytest.mark.parametrize(
    "text", ["", "abc", "1_0", "nan", "inf", "-0.1", "1,5", "١", "52.7", "1e400", "0x10", "1 2"]
)
def test_a_speed_that_is_none_is_passed_over_and_counted(text: str) -> None:
    """52.7 m/s are 102.4 kn, more than AIS can tell (ITU-R M.1371-5, table 48)."""
    content = read(point(f"<speed>{text}</speed>", "<speed>1</speed>"))
    assert same(content.points.sog_kn, [math.nan, KN])
    assert content.unread == 1
    line, words = content.first_unread
    assert line == 4
    assert words == f"speed '{text}'"


def test_of_many_unreadable_readings_the_first_is_kept_and_all_are_counted() -> None:
    content = read(point("<hdop>x</hdop>", "<course>360</course><hdop>0</hdop>", "<speed>-1</speed>"))
    assert content.unread == 4
    assert content.first_unread == (4, "hdop 'x'")
    assert not content.points.hdop


def test_hostile_text_in_a_reading_is_quoted() -> None:
    content = read(point("<speed>\u202e&#10;" + "9" * 500 + "</speed>"))
    assert content.first_unread[1].startswith("speed '\\u202e\\n999")
    assert len(content.first_unread[1]) < 100


def test_deep_extensions_are_refused_as_ever() -> None:
    with pytest.raises(InputError, match="nested more than 64 deep"):
        read(point("<extensions>" + "<a>" * 70 + "</a>" * 70 + "</extensions>"))


def test_every_reading_of_a_track_has_limits() -> None:
    assert set(LIMITS) == set(READINGS)
