"""Clearance against time: what is drawn, where it stands, and what is said beside it."""

from __future__ import annotations

import dataclasses
import re
from datetime import UTC, timedelta, timezone
from typing import Any

import numpy as np
import pytest
import shapely
from gear_results import build_gear_result
from result_builders import NEVER, build_result
from scenes import START, area, around, box, check, fixes, line, moved, points, route, steady, zone

from towzone.model.gear import GearAccount, GearLine, GearTow
from towzone.model.result import CheckResult, Part, Status
from towzone.model.rules import Rules, Window
from towzone.model.zone import ZoneKind
from towzone.record.clock import LocalClock
from towzone.record.curves.drawing import draw_curve
from towzone.record.curves.figures import ZoneCurves, clearance_curves
from towzone.record.curves.least import State
from towzone.record.curves.section import curves_part
from towzone.record.curves.strands import axis_of
from towzone.record.curves.ticks import level_ticks, time_ticks, way_ticks
from towzone.record.drawn.scene import build_scene

MIDDLE = (-18.6, 63.1)
CLOCK = LocalClock(zone=timezone(timedelta(hours=-1)), name="")
HOSTILE = '</svg><script>x</script>"&'


def part_of(result: CheckResult) -> str:
    return curves_part(result, build_scene(result))


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def only(result: CheckResult) -> ZoneCurves:
    (drawn,) = clearance_curves(result).curves
    return drawn


def passing(aside_m: float, **settings: Any) -> CheckResult:
    """A straight way of 4 km past a point, nearest to it in the middle."""
    middle = moved(MIDDLE, 0.0, aside_m)
    track = steady([moved(middle, 270.0, 2000.0), moved(middle, 90.0, 2000.0)])
    return check(track, zone(points(MIDDLE), ZoneKind.OBSTRUCTION, **settings))


@pytest.fixture(scope="module")
def gear_result() -> CheckResult:
    return build_gear_result()


# Figures.


def test_least_between_two_fixes_is_found_though_both_are_far() -> None:
    track = fixes([moved(MIDDLE, 270.0, 1000.0), moved(MIDDLE, 90.0, 1000.0)], [0.0, 600.0])
    drawn = only(check(track, zone(points(moved(MIDDLE, 0.0, 50.0)), ZoneKind.OBSTRUCTION)))

    within = drawn.vessel.state == State.WITHIN
    np.testing.assert_allclose(drawn.vessel.least_m[within].min(), 50.0, rtol=0, atol=0.1)
    middle = (drawn.first + drawn.last) / 2.0
    at = drawn.first + (np.argmin(np.where(within, drawn.vessel.least_m, np.inf)) + 0.5) * (
        drawn.last - drawn.first
    ) / len(within)
    np.testing.assert_allclose(at, middle, rtol=0, atol=2.0)


def test_radius_is_taken_off_and_inside_it_is_negative() -> None:
    drawn = only(passing(200.0, radius_m=500.0))

    np.testing.assert_allclose(drawn.vessel.least_m.min(), -300.0, rtol=0, atol=0.1)


@pytest.mark.parametrize(("reverse", "least_m"), [(False, -500.0), (True, 480.0)])
def test_sign_is_that_of_the_rule(reverse: bool, least_m: float) -> None:
    """A way of 40 m through the middle of a round area of 500 m: 500 m deep, 480 m from having left it."""
    track = fixes([moved(MIDDLE, 270.0, 20.0), moved(MIDDLE, 90.0, 20.0)], [0.0, 60.0])
    rules = Rules(allowed_only_inside=reverse)
    asked = zone(area(around(MIDDLE, 500.0, 360)), rules=rules, margin_m=463.0)
    drawn = only(check(track, asked))

    np.testing.assert_allclose(drawn.vessel.least_m.min(), least_m, rtol=0, atol=0.9)


def test_greatest_of_a_column_is_not_below_its_least_and_reaches_its_ends() -> None:
    drawn = only(passing(100.0, margin_m=463.0))
    columns = drawn.vessel
    within = columns.state == State.WITHIN
    both = within[1:] & within[:-1]

    assert (columns.most_m >= columns.least_m).all()
    # Neighbours share the position between them: each goes up to what it and the next have in common.
    assert (columns.most_m[1:] >= columns.least_m[:-1] - 0.9)[both].all()
    assert (columns.most_m[:-1] >= columns.least_m[1:] - 0.9)[both].all()


def test_gap_has_no_value_and_is_told() -> None:
    places = [moved(MIDDLE, 90.0, east_m) for east_m in (0.0, 1000.0, 3000.0, 4000.0)]
    track = fixes(places, [0.0, 600.0, 3600.0, 4200.0])
    drawn = only(check(track, zone(points(moved(MIDDLE, 0.0, 300.0)), ZoneKind.OBSTRUCTION, margin_m=5000.0)))

    start_s = START.astype(np.int64) / 1e6
    ((first, last),) = drawn.gaps
    np.testing.assert_allclose([first, last], [start_s + 600.0, start_s + 3600.0], rtol=0, atol=1e-3)
    middle_s = drawn.first + (np.arange(len(drawn.vessel.state)) + 0.5) * (drawn.last - drawn.first) / len(
        drawn.vessel.state
    )
    step_s = (drawn.last - drawn.first) / len(middle_s)
    inside = (middle_s > first + step_s) & (middle_s < last - step_s)
    assert (drawn.vessel.state[inside] == State.NOTHING).all()
    assert (drawn.vessel.state[(middle_s < first) | (middle_s > last)] != State.NOTHING).all()


def test_fix_alone_between_gaps_has_a_value() -> None:
    places = [moved(MIDDLE, 90.0, east_m) for east_m in (-4000.0, 0.0, 4000.0)]
    track = fixes(places, [0.0, 3600.0, 7200.0])
    result = check(track, zone(points(moved(MIDDLE, 0.0, 100.0)), ZoneKind.OBSTRUCTION, margin_m=463.0))
    columns = only(result).vessel

    within = columns.state == State.WITHIN
    assert within.sum() == 1
    np.testing.assert_allclose(columns.least_m[within], [100.0], rtol=0, atol=0.05)


def test_both_sides_of_a_gap_within_a_column_are_told_apart() -> None:
    """Inside before a jump, outside after it, never meeting the boundary: the column is as deep as before."""
    inner, outer = MIDDLE, moved(MIDDLE, 90.0, 3000.0)
    track = fixes([moved(inner, 0.0, 5.0), inner, outer, moved(outer, 0.0, 5.0)], [0.0, 10.0, 10.5, 20.5])
    track = dataclasses.replace(track, part=np.array([0, 0, 1, 1]))
    slow = fixes([moved(MIDDLE, 90.0, 5000.0), moved(MIDDLE, 90.0, 6000.0)], [40_000.0, 40_100.0])
    everything = dataclasses.replace(
        track,
        lon_deg=np.append(track.lon_deg, slow.lon_deg),
        lat_deg=np.append(track.lat_deg, slow.lat_deg),
        time_utc=np.append(track.time_utc, slow.time_utc),
        part=np.array([0, 0, 1, 1, 2, 2]),
        fixes_read=6,
    )
    drawn = only(check(everything, zone(area(around(MIDDLE, 1000.0, 360)), margin_m=5000.0)))

    first = np.flatnonzero(drawn.vessel.state == State.WITHIN)[0]
    np.testing.assert_allclose(drawn.vessel.least_m[first], -1000.0, rtol=0, atol=1.0)


def test_drawing_shows_what_is_near_the_zone_and_leaves_out_the_rest() -> None:
    track = steady([MIDDLE, moved(MIDDLE, 90.0, 60_000.0)], speed_kn=10.0)
    asked = zone(points(moved(MIDDLE, 90.0, 30_000.0)), ZoneKind.OBSTRUCTION, margin_m=463.0)
    drawn = only(check(track, asked))
    seconds = float((track.time_utc[-1] - track.time_utc[0]) / np.timedelta64(1, "s"))

    assert 2 * 1389.0 / 5.144 < drawn.last - drawn.first < 0.12 * seconds
    assert len(drawn.vessel.state) >= 100
    assert drawn.top_m == pytest.approx(1389.0)


def test_route_without_times_runs_along_its_way() -> None:
    corners = [moved(MIDDLE, 270.0, 5000.0), moved(MIDDLE, 90.0, 5000.0)]
    drawn = only(check(route(corners), zone(points(moved(MIDDLE, 0.0, 80.0)), ZoneKind.OBSTRUCTION)))

    assert not drawn.timed
    assert (drawn.first, drawn.last) < (5000.0, 5000.0) < (drawn.last, drawn.last)
    (mark,) = drawn.marks
    np.testing.assert_allclose(mark.at, 5000.0, rtol=0, atol=3.0)
    np.testing.assert_allclose(drawn.knots, [[0.0, 0.0], [1.0, 10_000.0]], rtol=0, atol=2.0)


def test_row_is_hit_exactly_where_and_when_it_was() -> None:
    result = passing(123.0, margin_m=463.0)
    drawn = only(result)
    (row,) = result.rows
    (mark,) = drawn.marks

    assert row.closest is not None
    assert mark.at == row.closest.utc.astype(np.int64) / 1e6
    column = int((mark.at - drawn.first) / (drawn.last - drawn.first) * len(drawn.vessel.state))
    np.testing.assert_allclose(drawn.vessel.least_m[column], row.clearance_m, rtol=0, atol=1e-9)


def test_clearance_found_lower_than_the_parts_of_the_gear_is_drawn_too(gear_result: CheckResult) -> None:
    """Gear can go over a zone between its parts."""
    number = next(n for n, row in enumerate(gear_result.rows) if row.part is Part.GEAR)
    row = dataclasses.replace(
        gear_result.rows[number], clearance_m=gear_result.rows[number].clearance_m - 50.0
    )
    rows = (*gear_result.rows[:number], row, *gear_result.rows[number + 1 :])
    drawn = next(
        c
        for c in clearance_curves(dataclasses.replace(gear_result, rows=rows)).curves
        if c.zone.zone_id == row.zone_id and c.gear is not None
    )

    assert drawn.gear is not None
    within = drawn.gear.state == State.WITHIN
    np.testing.assert_allclose(drawn.gear.least_m[within].min(), row.clearance_m, rtol=0, atol=1e-9)


def test_gear_is_the_least_of_its_parts_at_every_moment() -> None:
    """Two parts that pass a point on parallel ways, the second of them nearer from half way on."""
    track = fixes([moved(MIDDLE, 270.0, 1000.0), moved(MIDDLE, 90.0, 1000.0)], [0.0, 600.0])
    result = check(track, zone(points(moved(MIDDLE, 0.0, 3000.0)), ZoneKind.OBSTRUCTION, margin_m=4000.0))
    ends = np.array([0.0, len(track) - 1.0])
    time_s = track.time_utc[[0, -1]].astype(np.int64) / 1e6
    ways = {"port door": (0.0, 400.0), "net": (400.0, 0.0)}
    lines = []
    for part, norths in ways.items():
        places = [
            moved(track_end, 0.0, n)
            for track_end, n in zip(
                zip(track.lon_deg[[0, -1]], track.lat_deg[[0, -1]], strict=True), norths, strict=True
            )
        ]
        lon, lat = np.array(places).T
        lines.append(GearLine(part=part, lon_deg=lon, lat_deg=lat, place=ends, time_s=time_s))
    gear = GearAccount(tows=(GearTow(track_id=track.track_id, tow=1, lines=tuple(lines)),))
    drawn = only(dataclasses.replace(result, gear=gear))

    assert drawn.gear is not None
    share = (np.arange(len(drawn.gear.state)) + 0.5) / len(drawn.gear.state)
    # How far north of the straight way the nearer part is, whichever that is.
    north = np.maximum(400.0 * share, 400.0 * (1.0 - share))
    east = np.abs(2000.0 * share - 1000.0)
    expected = np.hypot(3000.0 - north, east)
    np.testing.assert_allclose(drawn.gear.least_m, expected, rtol=0, atol=3.0)


def test_points_of_one_part_with_paths_of_their_own_are_all_measured(gear_result: CheckResult) -> None:
    tow = gear_result.gear.tows[0]
    both = [dataclasses.replace(some, part="net") for some in tow.lines]
    one = dataclasses.replace(
        gear_result, gear=GearAccount(tows=(dataclasses.replace(tow, lines=tuple(both)),))
    )
    other = dataclasses.replace(gear_result, gear=GearAccount(tows=(tow,)))

    for a, b in zip(clearance_curves(one).curves, clearance_curves(other).curves, strict=True):
        assert (a.gear is None) == (b.gear is None)
        if a.gear is not None and b.gear is not None:
            np.testing.assert_allclose(a.gear.least_m, b.gear.least_m, rtol=0, atol=1e-6)


def test_gear_curve_is_that_of_its_nodes(gear_result: CheckResult) -> None:
    """By brute force over the nodes of all parts, in a plane: no node lies below the drawn least."""
    drawn = clearance_curves(gear_result).curves[0]
    assert drawn.gear is not None
    ring = np.array(drawn.zone.shape.polygons[0][0])
    scale = 111_195.0 * np.array([np.cos(np.radians(63.2)), 1.0])
    holes = [np.array(hole) * scale for hole in drawn.zone.shape.polygons[0][1:]]
    shape = shapely.Polygon(ring * scale, holes)
    seen = 0
    for gear_line in gear_result.gear.tows[1].lines:
        at = shapely.points(np.column_stack([gear_line.lon_deg, gear_line.lat_deg]) * scale)
        off = shapely.distance(at, shape.boundary)
        signed = np.where(shapely.contains(shape, at), -off, off)
        here = (gear_line.time_s - drawn.first) / (drawn.last - drawn.first) * len(drawn.gear.state)
        held = (here >= 0.0) & (here < len(drawn.gear.state)) & (signed < drawn.top_m * 0.98)
        least = drawn.gear.least_m[here[held].astype(int)]
        assert (drawn.gear.state[here[held].astype(int)] == State.WITHIN).all()
        # The plane errs by some parts in a thousand of several kilometres.
        assert (signed[held] >= least - 40.0).all()
        seen += int(held.sum())
    assert seen > 300


def test_season_that_ends_on_the_way_is_told() -> None:
    track = steady([moved(MIDDLE, 270.0, 40_000.0), moved(MIDDLE, 90.0, 40_000.0)], speed_kn=2.0)
    rules = Rules(season=(Window(from_month=1, from_day=1, to_month=3, to_day=1),))
    asked = zone(
        line(moved(MIDDLE, 270.0, 50_000.0), moved(MIDDLE, 90.0, 50_000.0)), ZoneKind.CABLE, rules=rules
    )
    drawn = only(check(track, asked))

    ((first, last),) = drawn.idle
    assert np.datetime64(int(first), "s") == np.datetime64("2026-03-02T00:00:00")
    assert last == drawn.last


def test_at_most_so_many_are_drawn_the_worst_first_and_the_rest_counted() -> None:
    result = build_result()
    drawn = clearance_curves(result, most=2)
    everything = clearance_curves(result)

    first = dict.fromkeys((row.track_id, row.zone_id) for row in result.rows)
    assert [(c.track.track_id, c.zone.zone_id) for c in everything.curves] == list(first)
    assert (len(drawn.curves), drawn.more) == (2, len(everything.curves) - 2)


def test_track_without_extent_has_no_axis() -> None:
    one = fixes([MIDDLE], [0.0])
    same = fixes([MIDDLE, MIDDLE], [None, None])

    assert axis_of(one, "geodesic") is None
    assert axis_of(same, "geodesic") is None


def test_single_position_is_told_and_not_drawn() -> None:
    result = check(fixes([MIDDLE], [0.0]), zone(points(moved(MIDDLE, 0.0, 100.0)), ZoneKind.OBSTRUCTION))

    assert clearance_curves(result).curves == ()
    assert "1 zone is not drawn, because the positions give no course near it" in words(part_of(result))


# Ticks.


def test_levels_are_round_and_never_minus_nothing() -> None:
    assert level_ticks(-235.0, 200.0) == [-200.0, -100.0, 0.0, 100.0, 200.0]
    assert str(level_ticks(-0.06, 0.2)[1]) == "0.0"


def test_times_have_both_clocks_and_each_date_once() -> None:
    start_s = np.datetime64("2026-02-28T22:00:00").astype(np.int64)
    ticks = time_ticks(float(start_s), float(start_s + 4 * 3600), CLOCK)

    assert [tick.words[:2] for tick in ticks[:5]] == [
        ("22:00", "21:00"),
        ("22:30", "21:30"),
        ("23:00", "22:00"),
        ("23:30", "22:30"),
        ("00:00", "02-28 23:00"),
    ]
    assert [tick.words[2] for tick in ticks if len(tick.words) > 2] == ["2026-02-28", "2026-03-01"]
    assert not any(tick.thin for tick in ticks if len(tick.words) > 2)
    assert len(ticks) <= 9


@pytest.mark.parametrize("days", [1.5, 2.0, 3.0, 5.0, 7.0, 20.0])
@pytest.mark.parametrize("hour", [0, 5, 12, 19])
def test_every_midnight_has_its_date(days: float, hour: int) -> None:
    start_s = np.datetime64(f"2026-02-28T{hour:02d}:00:00").astype(np.int64)
    ticks = time_ticks(float(start_s), float(start_s + days * 86_400), CLOCK)
    midnights = [tick for tick in ticks if tick.at % 86_400 == 0]

    assert midnights
    assert [tick.words[2] for tick in midnights] == [
        str(np.datetime64(int(tick.at), "s").astype("datetime64[D]")) for tick in midnights
    ]
    assert {tick.words[1][-5:] for tick in midnights} == {"23:00"}
    # On a phone every other one is left out: never that of a midnight between others.
    assert any(tick.thin for tick in ticks)
    if any(tick.at % 86_400 for tick in ticks):
        assert not any(tick.thin for tick in midnights)


def test_short_times_tell_seconds() -> None:
    ticks = time_ticks(0.0, 40.0, LocalClock(zone=UTC, name=""))

    assert ticks[1].words == ("00:00:05", "00:00:05")


def test_way_is_in_nautical_miles() -> None:
    assert [tick.words for tick in way_ticks(0.0, 3704.0)] == [("0",), ("0.5",), ("1",), ("1.5",), ("2",)]


# The drawing and its words.


def test_text_alternative_tells_least_when_margin_and_findings() -> None:
    section = part_of(passing(123.0, margin_m=463.0))
    (label,) = re.findall(r'<svg class="curve" role="img" aria-label="([^"]*)"', section)

    assert "Clearance of t from invented Z against time." in label
    assert "Vessel, least: 123 m, 2026-03-01 06:" in label
    assert "UTC-1)" in label
    assert "Required: 463.0 m (0.250 nmi)." in label
    assert "1 finding on this drawing." in label


def test_values_on_the_drawing_are_where_the_scale_has_them() -> None:
    drawn = only(passing(123.0, margin_m=463.0))
    svg = draw_curve(drawn, CLOCK, "")
    (cx, cy) = re.findall(r'<circle class="least vessel" cx="([\d.]+)%" cy="([\d.]+)"', svg)[0]
    zero, margin = (
        float(re.findall(rf'<line class="{name}" [^>]*y1="([\d.]+)"', svg)[0])
        for name in ("boundary", "required")
    )

    np.testing.assert_allclose(float(cx), 50.0, rtol=0, atol=1.0)
    np.testing.assert_allclose((zero - float(cy)) / (zero - margin), 123.0 / 463.0, rtol=0, atol=0.002)


def test_line_goes_through_the_least_of_every_column() -> None:
    drawn = only(passing(123.0, margin_m=463.0))
    svg = draw_curve(drawn, CLOCK, "")
    (d,) = re.findall(r'<path class="curve-line vessel" d="([^"]*)"', svg)
    lowest = max(
        int(np.cumsum([int(y) for _, y in re.findall(r"(-?\d+) (-?\d+)", run)]).max())
        for run in d.split("M")[1:]
    )

    range_m = drawn.top_m - drawn.bottom_m
    np.testing.assert_allclose(drawn.top_m - lowest * range_m / 2200.0, 123.0, rtol=0, atol=range_m / 2200.0)


def test_gap_breaks_the_line_and_is_named() -> None:
    places = [moved(MIDDLE, 90.0, east_m) for east_m in (0.0, 1000.0, 3000.0, 4000.0)]
    track = fixes(places, [0.0, 600.0, 3600.0, 4200.0])
    drawn = only(check(track, zone(points(moved(MIDDLE, 0.0, 300.0)), ZoneKind.OBSTRUCTION, margin_m=5000.0)))
    svg = draw_curve(drawn, CLOCK, "")

    (d,) = re.findall(r'<path class="curve-line vessel" d="([^"]*)"', svg)

    assert d.count("M") == 2
    assert 'class="not-covered"' in svg
    assert "not covered by positions" in words(svg)


def without_times(spacing_m: float, count: int = 41) -> CheckResult:
    """Past a point 300 m off, with no time at all: nothing is known between two positions."""
    places = [moved(MIDDLE, 90.0, spacing_m * (k - count // 2)) for k in range(count)]
    beside = zone(points(moved(MIDDLE, 0.0, 300.0)), ZoneKind.OBSTRUCTION, margin_m=200.0)
    return check(fixes(places, [None] * count), beside)


@pytest.mark.parametrize("spacing_m", [100.0, 3.0])
def test_positions_without_times_are_points_under_one_hatch(spacing_m: float) -> None:
    """However close they stand, also several to a column."""
    result = without_times(spacing_m, 41 if spacing_m > 50.0 else 2001)
    drawn = only(result)
    svg = draw_curve(drawn, CLOCK, "")

    assert not drawn.timed
    assert drawn.gaps == ((drawn.first, drawn.last),)
    assert svg.count('class="not-covered"') == 1
    assert 'class="curve-line vessel"' not in svg
    assert 'class="curve-band"' not in svg
    (d,) = re.findall(r'<path class="curve-line vessel points" d="([^"]*)"', svg)
    assert 10 < d.count("M") <= 120
    assert set(re.sub(r"M\d+ -?\d+", "", d)) == {"h", "0"}
    # The lowest is among them.
    range_m = drawn.top_m - drawn.bottom_m
    lowest = max(int(y) for y in re.findall(r"M\d+ (-?\d+)h0", d))
    np.testing.assert_allclose(drawn.top_m - lowest * range_m / 2200.0, 300.0, rtol=0, atol=range_m / 2200.0)


def test_no_line_joins_positions_on_either_side_of_a_gap_narrower_than_a_column() -> None:
    """Every minute a position, but in one of them a jump of the log: the line breaks there and only there."""
    track = steady([moved(MIDDLE, 270.0, 4000.0), moved(MIDDLE, 90.0, 4000.0)], step_s=20.0)
    half = len(track) // 2
    parted = dataclasses.replace(track, part=np.where(np.arange(len(track)) <= half, 0, 1))
    asked = zone(points(moved(MIDDLE, 0.0, 300.0)), ZoneKind.OBSTRUCTION, margin_m=5000.0)
    drawn = only(check(parted, asked))
    step = (drawn.last - drawn.first) / len(drawn.vessel.state)
    middle = drawn.first + (np.arange(len(drawn.vessel.state)) + 0.5) * step
    begin, end = (track.time_utc[[half, half + 1]].astype(np.int64) / 1e6).tolist()

    expected = (middle[1:] <= begin) | (middle[:-1] >= end)
    np.testing.assert_array_equal(drawn.joined, expected)
    assert 0 < (~drawn.joined).sum() <= np.ceil((end - begin) / step) + 1


def gap_that_leaves_open() -> CheckResult:
    """A mile off a point, silent for an hour in which it could have been reached."""
    places = [moved(MIDDLE, 90.0, east_m) for east_m in (0.0, 1000.0, 3000.0, 4000.0)]
    track = fixes(places, [0.0, 600.0, 4200.0, 4800.0])
    return check(track, zone(points(moved(MIDDLE, 0.0, 2500.0)), ZoneKind.OBSTRUCTION, margin_m=463.0))


def test_gap_that_leaves_a_zone_open_bears_the_number_of_its_row() -> None:
    result = gap_that_leaves_open()
    open_ = [n for n, row in enumerate(result.rows, start=1) if row.status is Status.UNDETERMINED]
    drawn = only(result)
    svg = draw_curve(drawn, CLOCK, "")

    assert open_
    assert [number for number, *_ in drawn.open_rows] == open_
    for _, first, last in drawn.open_rows:
        assert (first, last) == drawn.gaps[0]
    assert f">{', '.join(map(str, open_))}: not decided<" in svg
    assert re.findall(r'<rect class="shade gap s-undetermined"[^>]* data-row="(\d+)"', svg) == [
        str(number) for number in reversed(open_)
    ]
    section = part_of(result)
    assert "Vessel, least where positions are known: 1.35 nmi" in words(section)
    for number in open_:
        assert f'class="show-row s-undetermined" data-row="{number}"' in section


def test_least_is_that_of_all_where_no_gap_leaves_the_zone_open() -> None:
    assert "Vessel, least: 900 m" in words(part_of(passing(900.0, margin_m=463.0)))


def test_crossing_of_a_line_is_no_distance() -> None:
    track = steady([moved(MIDDLE, 270.0, 1000.0), moved(MIDDLE, 90.0, 1000.0)])
    cable = zone(line(moved(MIDDLE, 0.0, 900.0), moved(MIDDLE, 180.0, 900.0)), ZoneKind.CABLE)
    text = words(part_of(check(track, cable)))

    assert "Vessel, least: crossed or touched, 2026-03-01" in text
    assert "1: crossed or touched" in text
    assert "0.0 m" not in text


def test_clearances_beyond_a_nautical_mile_are_in_nautical_miles_alone() -> None:
    near, far = (
        draw_curve(only(passing(500.0, margin_m=margin_m)), CLOCK, "") for margin_m in (463.0, 2500.0)
    )

    assert re.findall(r'class="level-word (\w+)"[^>]*>([a-z]+)<', near) == [("left", "m"), ("right", "nmi")]
    assert re.findall(r'class="level-word (\w+)"[^>]*>([a-z]+)<', far) == [("left", "nmi")]
    ticks = re.findall(r'class="level-word left" x="0" y="([\d.]+)"[^>]*>([\d.]+)<', far)
    required = float(re.findall(r'<line class="required" [^>]*y1="([\d.]+)"', far)[0])
    zero, one = (next(float(y) - 4.0 for y, word in ticks if word == told) for told in ("0", "1"))
    np.testing.assert_allclose((zero - required) / (zero - one), 2500.0 / 1852.0, rtol=0, atol=0.01)
    assert "Required: 1.35 nmi." in words(part_of(passing(500.0, margin_m=2500.0)))


def test_rows_beyond_a_few_are_folded_and_name_their_tows() -> None:
    result = passing(123.0, margin_m=463.0)
    row = result.rows[0]
    many = tuple(dataclasses.replace(row, tow=tow) for tow in range(1, 21))
    section = part_of(dataclasses.replace(result, rows=many))
    at_once, folded = section[section.index('<p class="curve-rows">') :].split("<details", 1)

    assert at_once.count("show-row") == 8
    assert "1 Too close, tow 1" in words(at_once)
    assert "and 12 more" in words(folded)
    assert folded[: folded.index("</details>")].count("show-row") == 12
    few = part_of(dataclasses.replace(result, rows=many[:8]))
    assert "more-rows" not in few
    assert few.count("show-row") == 8


def test_places_of_a_track_without_all_times_are_those_of_the_drawn_fixes() -> None:
    track = steady([moved(MIDDLE, 270.0, 3000.0), moved(MIDDLE, 90.0, 3000.0)])
    times = track.time_utc.copy()
    times[5] = np.datetime64("NaT")
    untimed = dataclasses.replace(track, time_utc=times)
    result = check(untimed, zone(points(moved(MIDDLE, 0.0, 300.0)), ZoneKind.OBSTRUCTION, margin_m=463.0))
    kept = np.array([0, 3, 4, 11, len(track) - 1])
    (drawn,) = clearance_curves(result, kept=[kept]).curves

    assert drawn.timed
    known = track.time_utc[kept].astype(np.int64) / 1e6
    np.testing.assert_allclose(drawn.knots, np.column_stack([np.arange(5), known]), rtol=0, atol=1e-3)


def test_stretches_of_findings_carry_their_rows_and_clear_ones_none() -> None:
    result = check(
        steady([moved(MIDDLE, 270.0, 3000.0), moved(MIDDLE, 90.0, 3000.0)]),
        zone(area(around(MIDDLE, 1000.0)), margin_m=463.0),
    )
    svg = draw_curve(only(result), CLOCK, "")

    assert re.findall(r'<rect class="shade (\w+) s-inside"[^>]* data-row="1"', svg) == ["close", "inside"]
    clear = only(passing(900.0, margin_m=463.0))
    assert {mark.row.status for mark in clear.marks} == {Status.CLEAR}
    assert "shade close" not in draw_curve(clear, CLOCK, "")


def test_vessel_and_gear_differ_by_more_than_colour(gear_result: CheckResult) -> None:
    section = part_of(gear_result)

    assert 'class="curve-line vessel"' in section
    assert 'class="curve-line of-gear"' in section
    assert "its gear (dashed line" in words(section)
    assert "dashed" not in words(part_of(build_result()))


def test_zones_kept_clear_are_folded_away_and_no_other_is_called_so() -> None:
    result = build_result(planned=False)
    section = part_of(result)
    folded = section[section.index("<details") : section.index("</details>")]

    matter = {(row.track_id, row.zone_id) for row in result.rows if row.status not in (Status.CLEAR,)}
    pairs = {(row.track_id, row.zone_id) for row in result.rows}
    assert folded.count("<figure") == len(pairs - matter) > 0
    assert section[: section.index("<details")].count("<figure") == len(matter)
    assert "kept clear" in words(folded)
    idle = tuple(
        dataclasses.replace(row, status=Status.NOT_IN_FORCE) if row.status is Status.CLEAR else row
        for row in result.rows
    )
    assert "kept clear" not in words(part_of(dataclasses.replace(result, rows=idle)))
    turned = tuple(
        dataclasses.replace(zone, rules=dataclasses.replace(zone.rules, allowed_only_inside=True))
        for zone in result.zones
    )
    assert "kept clear" not in words(part_of(dataclasses.replace(result, zones=turned)))


def test_findings_are_reached_by_buttons_of_their_rows() -> None:
    result = passing(123.0, margin_m=463.0)
    section = part_of(result)

    assert re.findall(r'<button type="button" class="show-row s-too_close" data-row="(\d+)"', section) == [
        "1"
    ]


def test_hostile_names_are_shown_as_text() -> None:
    result = build_result(names=(HOSTILE,) * 5)
    section = part_of(result)

    assert "<script" not in section
    assert "&lt;/svg&gt;&lt;script&gt;x&lt;/script&gt;&quot;&amp;" in section
    assert "style=" not in section


def test_nothing_within_reach_is_said() -> None:
    far = zone(points(moved(MIDDLE, 0.0, 90_000.0)), ZoneKind.OBSTRUCTION)
    result = check(steady([MIDDLE, moved(MIDDLE, 90.0, 1000.0)]), far)

    assert "No zone lies within reach of any track" in words(part_of(result))


def test_times_not_known_make_no_date_of_their_own() -> None:
    result = build_result()
    planned = next(c for c in clearance_curves(result).curves if not c.timed)
    assert all(np.isnat(mark.row.closest.utc) for mark in planned.marks if mark.row.closest is not None)

    text = words(part_of(result))
    assert "time not known" in text
    assert str(NEVER) not in text


def test_same_result_gives_the_same_text(gear_result: CheckResult) -> None:
    assert part_of(gear_result) == part_of(build_gear_result())


def test_area_across_180_degrees_is_drawn_like_any_other() -> None:
    leasts = []
    for lon in (0.0, 180.0):
        ring = [((x + lon + 180.0) % 360.0 - 180.0, y) for x, y in box(-0.02, 9.99, 0.02, 10.01)]
        way = [((x + lon + 180.0) % 360.0 - 180.0, 10.001) for x in (-0.05, 0.05)]
        leasts.append(only(check(steady(way), zone(area(ring), margin_m=463.0))).vessel.least_m)

    np.testing.assert_allclose(leasts[0], leasts[1], rtol=0, atol=0.9)


def test_part_of_the_gear_that_is_near_counts_though_another_is_far() -> None:
    """Two parts abreast, the first of them 20 km off: the drawing is that of the second alone."""
    track = fixes([moved(MIDDLE, 270.0, 1000.0), moved(MIDDLE, 90.0, 1000.0)], [0.0, 600.0])
    result = check(track, zone(points(moved(MIDDLE, 0.0, 300.0)), ZoneKind.OBSTRUCTION, margin_m=463.0))
    time_s = track.time_utc.astype(np.int64) / 1e6
    away = [moved(at, 180.0, 20_000.0) for at in zip(track.lon_deg, track.lat_deg, strict=True)]
    parts = {"port door": np.array(away).T, "net": (track.lon_deg, track.lat_deg)}
    lines = tuple(
        GearLine(part=part, lon_deg=lon, lat_deg=lat, place=np.array([0.0, 1.0]), time_s=time_s)
        for part, (lon, lat) in parts.items()
    )
    gear = GearAccount(tows=(GearTow(track_id=track.track_id, tow=1, lines=lines),))
    drawn = only(dataclasses.replace(result, gear=gear))

    assert drawn.gear is not None
    assert (drawn.gear.state == drawn.vessel.state).all()
    np.testing.assert_allclose(drawn.gear.least_m, drawn.vessel.least_m, rtol=0, atol=0.1)


def test_radius_is_taken_off_in_every_column() -> None:
    """Along a straight way of 4 km, 200 m from the point: Pythagoras, less the radius."""
    result = passing(200.0, margin_m=463.0, radius_m=500.0)
    drawn = only(result)
    times = result.tracks[0].time_utc.astype(np.int64) / 1e6
    count = len(drawn.vessel.state)
    middle_s = drawn.first + (np.arange(count) + 0.5) * (drawn.last - drawn.first) / count
    along_m = 4000.0 * (middle_s - times[0]) / (times[-1] - times[0]) - 2000.0
    within = drawn.vessel.state == State.WITHIN

    assert within.sum() > 100
    expected_m = np.hypot(along_m, 200.0) - 500.0
    np.testing.assert_allclose(drawn.vessel.least_m[within], expected_m[within], rtol=0, atol=6.0)
