"""Routes as written: sound GPX 1.1, no point moved, names that plotters show, no file's text let through."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import gpxpy
import numpy as np
import pytest
from gpx_rules import broken_rules
from hypothesis import given
from hypothesis import strategies as st
from oracles import GEOD

from towzone.caution import CAUTION
from towzone.files.gpx_routes import gpx_route
from towzone.files.planned_lines import read_lines
from towzone.model.plan import PlannedLine

NAME = re.compile(r"[A-Za-z0-9 _.+()-]+")


def line(*corners, name="plan", names=()):
    lon, lat = zip(*corners, strict=True)
    return PlannedLine(name=name, lon_deg=np.array(lon), lat_deg=np.array(lat), point_names=names)


PLAIN = line((-8.175, 54.503333333), (-8.25, 54.533333333), (-8.3, 54.5))


def names_of(text):
    routes = gpxpy.parse(text).routes
    return [route.name for route in routes], [[point.name for point in route.points] for route in routes]


def read_back(text, tmp_path, name="written.gpx"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8", newline="\n")
    return read_lines(str(path)).lines


def moved_m(one, other):
    return GEOD.inv(one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg)[2]


def test_a_route_is_sound_and_read_by_another_reader():
    text = gpx_route([PLAIN], description="Corrected lines.")
    assert broken_rules(text) == []
    parsed = gpxpy.parse(text)
    assert (parsed.version, parsed.creator) == ("1.1", "towzone")
    assert parsed.description == f"Corrected lines. {CAUTION}"
    (route,) = parsed.routes
    assert (route.name, route.description, route.number, route.type) == ("plan", "plan", 1, "planned tow")
    assert [point.name for point in route.points] == ["TZ01", "TZ02", "TZ03"]
    assert [point.longitude for point in route.points] == [-8.175, -8.25, -8.3]


def test_a_document_says_the_caution_without_a_description():
    assert gpxpy.parse(gpx_route([PLAIN])).description == CAUTION


def test_our_own_reader_gives_the_line_back(tmp_path):
    named = line((1.0, 50.0), (1.1, 50.1), (1.0, 50.2), name="a/To the bank", names=("START", "", "END"))
    one, other = read_back(gpx_route([PLAIN, named]), tmp_path)
    assert (one.name, other.name) == ("written/plan", "written/To the bank")
    assert one.point_names == ("TZ01", "TZ02", "TZ03")
    assert other.point_names == ("START", "TZ04", "END")
    assert moved_m(PLAIN, one).max() < 0.01
    assert moved_m(named, other).max() < 0.01


def test_180_degrees_are_written_as_the_schema_has_them(tmp_path):
    (back,) = read_back(gpx_route([line((180.0, 0.5), (179.99999999, 0.6), (-180.0, 0.7))]), tmp_path)
    assert back.lon_deg.tolist() == [-180.0, -180.0, -180.0]


def test_nothing_is_written_with_an_exponent_or_as_negative_nought():
    text = gpx_route([line((-1e-9, 0.1), (1e-7, 1e-6))])
    assert 'lat="0.1000000" lon="0.0000000"' in text
    assert 'lat="0.0000010" lon="0.0000001"' in text
    assert broken_rules(text) == []


@given(
    st.lists(
        st.tuples(
            st.floats(-180.0, 180.0, allow_subnormal=False), st.floats(-89.0, 89.0, allow_subnormal=False)
        ),
        min_size=2,
        max_size=6,
    )
)
def test_rounding_moves_no_point_by_a_centimetre(corners):
    given_line = line(*corners)
    text = gpx_route([given_line])
    assert broken_rules(text) == []
    points = gpxpy.parse(text).routes[0].points
    _, _, apart_m = GEOD.inv(
        given_line.lon_deg,
        given_line.lat_deg,
        [point.longitude for point in points],
        [point.latitude for point in points],
    )
    assert max(apart_m) < 0.01


@given(st.lists(st.text(max_size=40), min_size=1, max_size=8), st.text(max_size=60))
def test_whatever_a_file_calls_things_names_are_short_plain_and_differ(names, route):
    lines = [
        line(*((0.01 * at, 50.0) for at in range(len(names) + 1)), name=own, names=("", *names))
        for own in (route, f"file/{route}", "file/other")
    ]
    text = gpx_route(lines, description=route)
    assert broken_rules(text) == []
    routes, points = names_of(text)
    flat = [name for own in points for name in own]
    assert all(NAME.fullmatch(name) and len(name) <= 10 for name in flat)
    assert len({name.upper() for name in flat}) == len(flat)
    assert all(NAME.fullmatch(name) and len(name) <= 20 for name in routes)
    assert len({name.upper() for name in routes}) == len(routes)


def test_a_name_of_a_file_cannot_end_its_element():
    hostile = '</desc><rtept lat="0" lon="0"/>]]>&amp;<!DOCTYPE x>'
    text = gpx_route([line((1.0, 50.0), (1.0, 51.0), name=hostile, names=(hostile, "\x1b[2J"))])
    assert broken_rules(text) == []
    (route,) = gpxpy.parse(text).routes
    assert len(route.points) == 2
    assert route.description == hostile


def test_characters_that_no_xml_has_are_left_out():
    text = gpx_route(
        [line((1.0, 50.0), (1.0, 51.0), name="a\x00b\x08c\ufffe\ud800d", names=("\x00", "\ud800"))]
    )
    assert ET.fromstring(text.encode("utf-8"))[1][1].text == "abcd"
    assert names_of(text) == (["abcd"], [["TZ01", "TZ02"]])


def test_accents_are_taken_off_and_long_names_cut_and_told_apart():
    twice = ("Wreck of the Grey Goose", "Wreck of the Grey Gull", "Vågsberget")
    lines = [line((1.0, 50.0), (1.0, 50.1), (1.0, 50.2), name="f/Søndre Bank, along the ridge", names=twice)]
    routes, points = names_of(gpx_route([*lines, *lines]))
    assert routes == ["Sondre Bank along th", "Sondre Bank along-2"]
    assert points == [
        ["Wreck of t", "Wreck of-2", "Vagsberget"],
        ["Wreck of-3", "Wreck of-4", "Vagsberg-2"],
    ]


def test_counted_names_pass_over_those_that_a_file_has():
    text = gpx_route([line((1.0, 50.0), (1.0, 50.1), (1.0, 50.2), names=("", "tz01", ""))])
    assert names_of(text)[1] == [["TZ02", "tz01", "TZ03"]]


def test_hundreds_of_points_are_counted_on():
    text = gpx_route([line(*((0.001 * at, 50.0) for at in range(500)))])
    assert names_of(text)[1][0][98:101] == ["TZ99", "TZ100", "TZ101"]


def test_times_are_written_where_there_are_any():
    times = np.array(["2026-03-01T06:00:00", "2026-03-01T06:30:00.25", "NaT"], dtype="datetime64[us]")
    text = gpx_route([PLAIN, PLAIN], times=[times, None])
    assert broken_rules(text) == []
    first, second = gpxpy.parse(text).routes
    assert [point.time and point.time.isoformat() for point in first.points] == [
        "2026-03-01T06:00:00+00:00",
        "2026-03-01T06:30:00.250000+00:00",
        None,
    ]
    assert all(point.time is None for point in second.points)


def test_the_same_lines_give_the_same_bytes():
    assert gpx_route([PLAIN, PLAIN]) == gpx_route([PLAIN, PLAIN])


def test_no_line_or_other_times_is_an_error_of_the_program():
    with pytest.raises(ValueError, match="at least one line"):
        gpx_route([])
    with pytest.raises(ValueError, match="as many times"):
        gpx_route([PLAIN], times=[None, None])


# The rules bite.


@pytest.mark.parametrize(
    ("find", "put", "broken"),
    [
        ('version="1.1"', 'version="1.0"', "version is 1.0"),
        (' creator="towzone"', "", "gpx has attributes ['version']"),
        ("GPX/1/1", "GPX/1/0", "the root is"),
        ("<number>1<", "<number>one<", "number one"),
        ('lat="54.5000000"', 'lat="90.0000001"', "lat 90.0000001"),
        ('lon="-8.3000000"', 'lon="180.0"', "lon 180.0"),
        ('lon="-8.3000000"', 'lon="-8,3"', "lon -8,3"),
        ('lon="-8.3000000"', 'lon="1e-7"', "lon 1e-7"),
        (' lon="-8.3000000"', "", "rtept has attributes ['lat']"),
        ("<name>TZ03</name>", "<name>TZ03</name><time>2026-03-01T06:00:00Z</time>", "in the wrong order"),
        ("<name>TZ03</name>", "<time>6 o'clock</time>", "time 6 o'clock"),
        ("<name>TZ03</name>", "<name/><name/>", "rtept holds name twice"),
        ("<type>planned tow</type>", "<kind/>", "rte may not hold kind"),
        ("  <rte>", "  <rte>text", "rte holds text"),
        ("<name>TZ03</name>", "<name><b/></name>", "name holds elements"),
    ],
)
def test_a_broken_rule_is_seen(find, put, broken):
    text = gpx_route([PLAIN])
    assert find in text
    assert any(broken in rule for rule in broken_rules(text.replace(find, put)))
