"""Planned lines from files: what is read of routes, tracks and tables, and which plans are refused how."""

from __future__ import annotations

import gzip
from itertools import pairwise

import numpy as np
import pytest
from bad_inputs import gpx
from hypothesis import given
from hypothesis import strategies as st
from oracles import GEOD

from towzone.errors import InputError
from towzone.files.planned_lines import TRACK_TOLERANCE_M, read_lines
from towzone.geodesy.lines import LineKind, points_along
from towzone.tracks.corners import MOST_CORNERS, corner_faults, thinned_to_corners

RTE = (
    '<rte><name>East</name><rtept lat="50" lon="1"><name>A</name></rtept>\n'
    '<rtept lat="50.1" lon="1.1"/><rtept lat="50" lon="1.2"><name>C</name></rtept></rte>\n'
)
TRK = "<trk><name>Old tow</name><trkseg>{}</trkseg></trk>\n"


def points(*corners, tag="rtept", inside=""):
    return "".join(f'<{tag} lat="{lat}" lon="{lon}">{inside}</{tag}>\n' for lat, lon in corners)


def route(*corners, name="R"):
    return f"<rte><name>{name}</name>\n{points(*corners)}</rte>\n"


@pytest.fixture
def read(tmp_path):
    """Reads the lines of a file given as text or bytes."""

    def reading(content, name="plan.gpx", **options):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return read_lines(str(path), **options)

    return reading


@pytest.fixture
def refused(read):
    """The problems of a file given as text: (place, message) pairs."""

    def reading(content, name="plan.gpx", **options):
        with pytest.raises(InputError) as caught:
            read(content, name, **options)
        return [(problem.where, problem.message) for problem in caught.value.problems]

    return reading


# Routes.


def test_each_route_is_a_line_with_the_names_of_its_points(read):
    file = read(gpx(RTE + route((51, 1), (51.1, 1))))
    east, other = file.lines
    assert (east.name, east.point_names, other.name) == ("plan/East", ("A", "", "C"), "plan/R")
    assert (east.lon_deg.tolist(), east.lat_deg.tolist()) == ([1.0, 1.1, 1.2], [50.0, 50.1, 50.0])
    assert file.times == (None, None)
    assert (file.remarks, file.input.form) == ((), "GPX 1.1")
    assert file.input.tally == {"track_points": 0, "route_points": 5, "waypoints": 0}
    assert east.source == file.input.file


def test_a_file_may_be_compressed_or_lie_elsewhere(read, tmp_path):
    assert len(read(gzip.compress(gpx(RTE)), "plan.gpx.gz").lines) == 1
    assert read_lines("told.gpx", at=str(tmp_path / "plan.gpx.gz")).lines[0].name == "told/East"


def test_routes_of_one_name_or_none_are_told_apart(read):
    bare = f"<rte>{points((51, 1), (51.1, 1))}</rte>"
    names = [line.name for line in read(gpx(RTE + RTE + bare)).lines]
    assert names == ["plan/East", "plan/East (2)", "plan/route 3"]


def test_an_empty_name_is_no_name(read):
    assert read(gpx(route((51, 1), (51.1, 1), name="  "))).lines[0].name == "plan/route 1"


def test_only_lines_that_are_asked_for_are_read_and_judged(read, refused):
    bad = route((51, 1), name="bad")
    assert [line.name for line in read(gpx(RTE + bad), only=("East",)).lines] == ["plan/East"]
    ((_, message),) = refused(gpx(RTE), only=("West",))
    assert message == "there is no line 'West'; those in the file are 'East'"


@pytest.mark.parametrize(
    ("times", "kept", "said"),
    [
        (("06:00:00Z", "06:30:00Z", "07:00:00Z"), True, None),
        (("06:00:00Z", "", "07:00:00Z"), False, "are not there for all of its points"),
        (("06:00:00Z", "06:00:00Z", "07:00:00Z"), False, "do not rise from point to point"),
        (("06:00:00Z", "05:00:00Z", "07:00:00Z"), False, "do not rise from point to point"),
        (("", "", ""), False, None),
    ],
)
def test_times_of_a_route_are_kept_where_all_are_there_and_rise(read, times, kept, said):
    own = "".join(
        f'<rtept lat="5{at}" lon="1">{f"<time>2026-03-01T{time}</time>" if time else ""}</rtept>'
        for at, time in enumerate(times)
    )
    file = read(gpx(f"<rte><name>R</name>{own}</rte>"))
    if kept:
        assert np.datetime_as_string(file.times[0], unit="m").tolist() == [
            "2026-03-01T06:00",
            "2026-03-01T06:30",
            "2026-03-01T07:00",
        ]
    else:
        assert file.times == (None,)
    assert [remark.message for remark in file.remarks] == (
        [f"the times of route 'R' {said}, and are not used"] if said else []
    )


def test_routes_come_before_tracks_and_that_is_said(read):
    file = read(gpx(TRK.format(points((50, 1), (50.5, 1), tag="trkpt")) + RTE))
    assert [line.name for line in file.lines] == ["plan/East"]
    (remark,) = file.remarks
    assert "its 2 track points left aside" in remark.message


def test_a_name_of_another_prefix_is_not_that_of_a_point(read):
    foreign = '<rtept lat="5{}" lon="1"><x:name xmlns:x="urn:x">no</x:name><name>yes</name></rtept>'
    text = gpx("<rte>" + foreign.format(0) + foreign.format(1) + "</rte>")
    assert read(text).lines[0].point_names == ("yes", "yes")


# Plans that cannot be.


@pytest.mark.parametrize(
    ("corners", "line", "words"),
    [
        (((51, 1),), 4, "the line has one point; a planned line needs at least two"),
        (((51, 1), (51, 1), (51.1, 1)), 5, "points 1 and 2 coincide, and a leg needs at least 1 m"),
        (((51, 1), (51.1, 1), (51.1, 1.00001)), 6, "points 2 and 3 are only 0.70 m apart"),
        (((51, 1), (51.2, 1), (51.1, 1)), 5, "point 2 turns by 180.0 degrees, back over its own gear"),
        (((51, 1), (51.2, 1), (51.0, 1.0001)), 5, "allowed is less than 179. End the line there"),
        (((51, 1), (56.5, 1)), 5, "point 2 lies 331 nmi from point 1; allowed are 300 nmi"),
        (((54, 8), (54.1, 8), (8.1, 54.2), (54.3, 8.2)), 6, "point 3 (08°06.000'N 054°12.000'E) lies far"),
        (((88.99, 10), (88.99, -170)), 5, "180 degrees of longitude from point 1"),
        (((89.5, 10), (89.6, 10)), 4, "point 1 is beyond 89 degrees of latitude"),
    ],
)
def test_a_line_that_cannot_be_towed_is_refused_with_its_points(refused, corners, line, words):
    where, message = refused(gpx(route(*corners)))[0]
    assert where == f"line {line} of line 'R'"
    assert words in message


def test_every_bad_leg_of_every_line_is_told_at_once(refused):
    text = gpx(route((51, 1), (51, 1), (51, 1)) + route((52, 1), name="S"))
    assert [where for where, _ in refused(text)] == [
        "line 5 of line 'R'",
        "line 6 of line 'R'",
        "line 9 of line 'S'",
    ]


@pytest.mark.parametrize(
    "corners",
    [
        ((51, 1), (51.2, 1), (51.001, 1.0131)),  # a turn of 177.6 degrees
        ((51, 1), (51.1, 1), (51.1, 1.1), (51, 1)),  # ends where it began
        ((51, 1), (51.00001, 1)),  # a leg of 1.1 m
        ((0.0, 1.0), (0.0, 0.5)),  # one of both is 0
        ((51, 179.9), (51, -179.9)),  # over 180 degrees
        ((51, 180), (51.1, -180)),
    ],
)
def test_what_is_odd_but_can_be_towed_is_left_to_the_check(read, corners):
    assert len(read(gpx(route(*corners))).lines[0]) == len(corners)


@pytest.mark.parametrize(
    ("attributes", "words"),
    [
        ('lat="NaN" lon="1"', "latitude 'NaN' is outside -90 to 90"),
        ('lat="91" lon="1"', "latitude '91' is outside -90 to 90"),
        ('lat="1" lon="181"', "longitude '181' is outside -180 to 180"),
        ('lat="0" lon="0"', "stands at 0, 0"),
        ('lat="54,5" lon="1"', "use a point as decimal mark"),
        ('lon="1"', "a point has no latitude"),
    ],
)
def test_a_point_without_a_sound_position_refuses_the_file(refused, attributes, words):
    text = gpx(f"<rte>\n{points((51, 1), (51.1, 1))}<rtept {attributes}/>\n</rte>")
    ((where, message),) = refused(text)
    assert (where, words in message) == ("line 6", True)


def test_more_corners_than_anyone_steers_are_refused(read, refused):
    corners = [(50 + 0.01 * (at % 2), 1 + 0.01 * at) for at in range(MOST_CORNERS + 1)]
    assert len(read(gpx(route(*corners[:-1]))).lines[0]) == MOST_CORNERS
    ((where, message),) = refused(gpx(route(*corners)))
    assert where == f"line {4 + MOST_CORNERS} of line 'R'"
    assert "the line has 501 points; allowed are 500. Plan it in parts" in message


def test_waypoints_alone_are_no_plan(refused):
    ((_, message),) = refused(gpx('<wpt lat="1" lon="2"/>'))
    assert "waypoints are not a track: join them to a route" in message


def test_a_log_of_sentences_is_no_plan(refused):
    text = "$GPGLL,5400.00,N,00800.00,E,060000,A*2F\n" * 3
    ((_, message),) = refused(text, "log.nmea")
    assert "this is a log of sentences, and no plan" in message


# Tracks taken for plans.


def sailed(corners, *, kind, step_m=50.0, noise_m=0.0):
    """Fixes along lines of one kind through some corners, each set off at random by up to so much."""
    lon, lat = map(np.array, zip(*corners, strict=True))
    rng = np.random.default_rng(7)
    x, y = [lon[:1]], [lat[:1]]
    for at in range(len(lon) - 1):
        length = GEOD.inv(lon[at], lat[at], lon[at + 1], lat[at + 1])[2]
        part = np.arange(1, max(int(length / step_m), 1) + 1) / max(int(length / step_m), 1)
        leg = points_along(kind, lon[at], lat[at], lon[at + 1], lat[at + 1], part)
        x.append(leg[0])
        y.append(leg[1])
    x, y = np.concatenate(x), np.concatenate(y)
    off = rng.uniform(0.0, noise_m, len(x)) if noise_m else np.zeros(len(x))
    x, y, _ = GEOD.fwd(x, y, rng.uniform(0.0, 360.0, len(x)), off)
    return np.asarray(x), np.asarray(y)


def off_the_line_m(lon, lat, kept, kind):
    """How far the fixes are from the line through those kept, at most: by brute force, a point every 2 m."""
    worst = 0.0
    for first, last in pairwise(kept):
        length = GEOD.inv(lon[first], lat[first], lon[last], lat[last])[2]
        part = np.linspace(0.0, 1.0, int(length / 2.0) + 2)
        x, y = points_along(kind, lon[first], lat[first], lon[last], lat[last], part)
        for at in range(first + 1, last):
            near = np.abs(y - lat[at]) < 0.01
            if not near.any():
                return np.inf
            count = int(near.sum())
            apart = GEOD.inv(x[near], y[near], np.full(count, lon[at]), np.full(count, lat[at]))[2]
            worst = max(worst, float(np.min(apart)))
    return worst


CORNERS = [(179.8, 60.0), (-179.9, 60.1), (-179.7, 60.05), (-179.7, 59.9)]


@pytest.mark.parametrize("kind", [LineKind.RHUMB, LineKind.GEODESIC])
@pytest.mark.parametrize("noise_m", [0.0, 6.0])
def test_a_track_comes_back_to_the_corners_it_was_sailed_by(kind, noise_m):
    lon, lat = sailed(CORNERS, kind=kind, step_m=150.0, noise_m=noise_m)
    kept = thinned_to_corners(lon, lat, kind, tolerance_m=10.0)
    assert off_the_line_m(lon, lat, kept, kind) <= 10.0 + 0.2  # points every 2 m find a foot within 1 m
    apart_m = [min(GEOD.inv(lon[at], lat[at], *corner)[2] for at in kept) for corner in CORNERS]
    assert max(apart_m) < (250.0 if noise_m else 1e-6)
    assert len(kept) <= (8 if noise_m else 4)


def test_the_kind_of_line_matters_over_a_long_leg():
    """A rhumb line of 60 nmi at 60 degrees strays by hundreds of metres from the geodesic."""
    lon, lat = sailed([(0.0, 60.0), (2.0, 60.0)], kind=LineKind.GEODESIC, step_m=500.0)
    assert len(thinned_to_corners(lon, lat, LineKind.GEODESIC, tolerance_m=10.0)) == 2
    as_rhumb = thinned_to_corners(lon, lat, LineKind.RHUMB, tolerance_m=10.0)
    assert len(as_rhumb) > 4
    assert off_the_line_m(lon, lat, as_rhumb, LineKind.RHUMB) <= 10.2


@given(
    st.sampled_from([LineKind.RHUMB, LineKind.GEODESIC]),
    st.lists(st.tuples(st.integers(-400, 400), st.integers(-400, 400)), min_size=2, max_size=14),
    st.sampled_from([(-8.0, 54.0), (179.999, -60.0), (20.0, 0.001)]),
)
def test_no_fix_is_farther_off_than_the_tolerance(kind, steps, origin):
    """Whatever the way: back over itself, on one spot, round in rings."""
    lon = origin[0] + np.array([step[0] for step in steps]) * 1e-5
    lat = origin[1] + np.array([step[1] for step in steps]) * 1e-5
    lon = np.where(lon > 180.0, lon - 360.0, lon)
    kept = thinned_to_corners(lon, lat, kind, tolerance_m=10.0)
    assert (kept[0], kept[-1]) == (0, len(lon) - 1)
    assert (np.diff(kept) > 0).all()
    assert off_the_line_m(lon, lat, kept, kind) <= 10.2


def test_thinning_gives_up_on_a_track_without_legs():
    lon, lat = 1.0 + 0.001 * np.arange(3000), 50.0 + 0.001 * (np.arange(3000) % 2)
    assert thinned_to_corners(lon, lat, LineKind.RHUMB, tolerance_m=10.0) is None


def test_a_track_is_a_line_of_its_corners_and_that_is_said(read):
    lon, lat = sailed([(1.0, 50.0), (1.05, 50.0), (1.05, 50.03)], kind=LineKind.RHUMB)
    file = read(gpx(TRK.format("".join(points(pair, tag="trkpt") for pair in zip(lat, lon, strict=True)))))
    (line,) = file.lines
    assert (line.name, len(line), file.times) == ("plan/Old tow", 3, (None,))
    (remark,) = file.remarks
    assert f"a track of {len(lon)} fixes taken for a plan, thinned to 3 corners" in remark.message
    assert f"more than {TRACK_TOLERANCE_M:g} m off the line. Its times are not used" in remark.message


def test_each_segment_is_a_line_and_segments_that_go_nowhere_are_told(read):
    one = points((50, 1), (50.1, 1), tag="trkpt")
    spot = points((50.2, 1), (50.20001, 1), tag="trkpt")
    text = f"<trk><name>T</name><trkseg>{one}</trkseg>\n<trkseg>{spot}</trkseg>\n<trkseg>{one}</trkseg></trk>"
    file = read(gpx(text + TRK.format(one)))
    assert [line.name for line in file.lines] == ["plan/T segment 1", "plan/T segment 3", "plan/Old tow"]
    said = [remark.message for remark in file.remarks]
    assert "track 'T' has 3 segments; each is a line of its own" in said[0]
    assert "'T segment 2': left aside, as it does not go more than 10 m" in said


def test_a_track_that_goes_nowhere_is_no_plan(refused):
    ((_, message),) = refused(gpx(TRK.format(points((50, 1), (50.00001, 1), tag="trkpt"))))
    assert "no track in it goes more than 10 m" in message


def test_fixes_without_a_position_are_left_out_and_counted(read):
    file = read(gpx(TRK.format(points((50, 1), (0, 0), (50.1, 1), tag="trkpt"))))
    assert len(file.lines[0]) == 2
    assert "1 track point at 0, 0 (no position) left out" in file.remarks[0].message


def test_a_track_of_too_many_corners_is_refused(refused):
    zigzag = [(50 + 0.001 * (at % 2), 1 + 0.001 * at) for at in range(MOST_CORNERS + 2)]
    ((where, message),) = refused(gpx(TRK.format(points(*zigzag, tag="trkpt"))))
    assert where == "line 3"
    assert "has more than 500 corners" in message


def test_a_track_back_over_itself_is_refused_with_the_line_of_the_fix(refused):
    there = points((50, 1), (50.1, 1), (50, 1), tag="trkpt")
    ((where, message),) = refused(gpx(TRK.format("\n" + there)))
    assert where == "line 5 of line 'Old tow'"
    assert "point 2 turns by 180.0 degrees" in message


def test_a_track_beyond_what_is_computed_is_refused(refused):
    ((where, message),) = refused(gpx(TRK.format("\n" + points((88, 1), (90, 1), (88, 2), tag="trkpt"))))
    assert (where, "beyond 89 degrees" in message) == ("line 5", True)


# Tables.


def test_a_table_of_waypoints_is_one_line(read):
    file = read("Name,Lat,Lon,Depth\nStart,54 30.2N,8 10.5W,100\n,54 32N,8 15W,\n", "tow.csv")
    (line,) = file.lines
    assert (line.name, line.point_names) == ("tow", ("Start", ""))
    assert line.lat_deg.tolist() == pytest.approx([54.5 + 0.2 / 60, 54.0 + 32 / 60], abs=1e-12)
    assert [remark.message for remark in file.remarks] == ["columns not used: 'Depth'"]
    assert (file.input.form, file.input.tally, file.times) == ("CSV", {"rows": 2}, (None,))


def test_a_table_may_hold_several_lines(read):
    text = "route;wpt;latitude;longitude\nA;1;54,5;8,1\nA;2;54,6;8,1\nB;3;54,7;8,1\nB;4;54,8;8,1\n"
    one, other = read(text, "tows.csv").lines
    assert (one.name, other.name, other.point_names) == ("tows/A", "tows/B", ("3", "4"))
    assert other.lat_deg.tolist() == [54.7, 54.8]


def test_letters_may_have_columns_of_their_own(read):
    (line,) = read("lat,ns,lon,ew\n54.5,N,8.1,W\n54.6,N,8.1,W\n", "tow.csv").lines
    assert line.lon_deg.tolist() == [-8.1, -8.1]


def test_no_times_are_needed_and_none_are_read(read):
    file = read("lat,lon,arrival time\n54.5,8.1,sometime\n54.6,8.1,later\n", "tow.csv")
    assert file.times == (None,)


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        ("54.5,8.1\n54.6,8.2\n", "line 1", "the first row must name the columns, for example name,lat,lon"),
        ("name,lat\na,54.5\n", "line 1", "has no column for the longitude"),
        ("name,point,lat,lon\na,b,54.5,8\n", "line 1", "several columns that mean the same: 'name', 'point'"),
        ("line,route,lat,lon\na,b,54.5,8\n", "line 1", "several columns that mean the same: 'line', 'route'"),
        ("lat,lon,latitude\n1,2,3\n", "line 1", "several columns that mean the same"),
        ("lat,lon\n", "", "holds the names of columns, but no row"),
        ("lat,lon\n54.5,8.1\n", "line 2", "the line has one point"),
        ("lat,lon\n54.5,8.1\n54.5,8.1\n", "line 3", "points 1 and 2 coincide"),
        ("lat,lon\n54.5,8.1\n,\n54.6,8.1\n", None, None),
        ("name,lat,lon\na,54.5,8.1\nb,,\nc,54.6,8.1\n", "line 3", "the row has no position"),
        ("lat,lon\n54.5,8.1\n0,0\n54.6,8.1\n", "line 3", "stands at 0, 0"),
        ("lat,lon\n54.5,8.1\nnan,8\n", "line 3, column 'lat'", "cannot be read"),
        ("lat,lon\n54.5,8.1\n91,8\n", "line 3, column 'lat'", "check whether latitude and longitude"),
        ("lat,lon\n54.5,8.1\n54 30,8 10\n", "line 3, column 'lat'", "has minutes but no letter"),
        ("lat,lon\n54.5,8.1\n54.6\n", "line 3", "the row has 1 cell, but the head names 2 columns"),
        ("lat,lon\n54.5,8.1\n54.6,8.1,x\n", "line 3", "the row has 3 cells"),
        ("line,lat,lon\nA,54.5,8.1\n,54.6,8.1\n", "line 3, column 'line'", "does not say which line"),
        (
            "line,lat,lon\nA,54.5,8.1\nB,54.6,8.1\nA,54.7,8.1\n",
            "line 4, column 'line'",
            "line 'A' goes on here after 'B' has begun",
        ),
        ("lat,lon\n54.5,8.1\n54.6,8.1\n54.5,8.1\n", "line 3", "point 2 turns by 180.0 degrees"),
    ],
)
def test_a_table_that_is_no_plan_is_refused_with_its_row(read, refused, text, where, words):
    if words is None:  # a row of empty cells is a blank row
        assert len(read(text, "tow.csv").lines[0]) == 2
        return
    found = refused(text, "tow.csv")
    assert found[0][0] == where
    assert words in found[0][1]


def test_what_stands_in_a_file_cannot_write_control_characters(refused):
    for text, name in (
        (gpx(route((51, 1), name="&#x9b;[2J")), "plan.gpx"),
        ("line,lat,lon\n\x1b[2J,54.5,8.1\n", "plan.csv"),
    ):
        assert not any(
            "\x1b" in f"{where}{message}" or "\x9b" in f"{where}{message}"
            for where, message in refused(text, name)
        )


# Corners alone.


@given(st.lists(st.tuples(st.floats(-180, 180), st.floats(-90, 90)), max_size=8))
def test_any_corners_are_judged_and_faults_name_them(corners):
    lon, lat = [lon for lon, _ in corners], [lat for _, lat in corners]
    faults = corner_faults(lon, lat)
    assert all(0 <= fault.corner < max(len(corners), 1) for fault in faults)
    assert [fault.corner for fault in faults] == sorted(fault.corner for fault in faults)
    if not faults:
        legs_m = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2]
        assert len(corners) >= 2
        assert min(legs_m) >= 1.0
        assert max(legs_m) <= 300 * 1852


def test_of_a_pair_too_far_apart_neither_is_said_to_be_swapped_wrongly():
    """With two points only, the first that would do is named, and only that one."""
    faults = corner_faults([8.0, 54.1], [54.0, 8.0])
    assert [fault.corner for fault in faults] == [0]
    assert "if latitude and longitude change places" in faults[0].message
