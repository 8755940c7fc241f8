"""The page's data hold what was checked: positions and times together, findings as stretches of the track."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest
import shapely
from gear_results import build_gear_result
from result_builders import build_result

from towzone.model.result import CheckResult, Part, Status, ZoneReach
from towzone.model.track import Track, TrackKind
from towzone.record.drawn import paths as paths_module
from towzone.record.drawn.chart_notes import chart_notes
from towzone.record.drawn.data import BRIEF_LENGTH, _brief, chart_data
from towzone.record.drawn.fix_times import times_of
from towzone.record.drawn.frame import metres_per_degree
from towzone.record.drawn.scene import Scene, _gap, _label, build_scene
from towzone.record.drawn.thin import (
    GEAR_IN_TIME_M,
    GEAR_TOLERANCE_M,
    THIN_IN_TIME_M,
    THIN_TOLERANCE_M,
    kept_nodes,
)
from towzone.record.island import dump


def data_of(result: CheckResult) -> dict[str, Any]:
    return json.loads(dump(chart_data(build_scene(result), None, "a,b\n")))


def lonlat(path: list[int]) -> np.ndarray:
    return np.cumsum(np.array(path, dtype=np.int64).reshape(-1, 2), axis=0) / 1e6


def seconds(time: dict[str, Any], count: int) -> np.ndarray:
    """The times of positions, decoded as the page describes them."""
    steps = np.repeat(time["runs"][1::2], time["runs"][0::2]) if "runs" in time else np.array(time["steps"])
    ticks = time["start"] + np.concatenate([[0], np.cumsum(steps)])
    assert len(ticks) == count
    return ticks / time["unit"]


def metres(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    scale = np.array(metres_per_degree(float(one[:, 1].mean())))
    return np.hypot(*((one - other) * scale).T)


def off_line_m(path_m: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """How far each position of a flat path lies from the straight piece drawn in its place."""
    piece = np.clip(np.searchsorted(kept, np.arange(len(path_m)), "right") - 1, 0, len(kept) - 2)
    pieces = shapely.linestrings(np.stack([path_m[kept[piece]], path_m[kept[piece + 1]]], axis=1))
    return shapely.distance(shapely.points(path_m), pieces)


@pytest.fixture(scope="module")
def gear() -> tuple[CheckResult, Scene, dict[str, Any]]:
    result = build_gear_result()
    return result, build_scene(result), data_of(result)


@pytest.mark.parametrize(
    "steps",
    [
        pytest.param([10.0] * 50, id="steady"),
        pytest.param([1.0, 7.0, 2.0, 0.0, 3600.0], id="uneven"),
        pytest.param([0.2, 0.2, 1.001], id="parts of seconds"),
        pytest.param([], id="one fix"),
    ],
)
def test_times_come_back_as_they_went_in(steps: list[float]) -> None:
    offsets_us = np.rint(np.concatenate([[0.0], np.cumsum(steps)]) * 1e6).astype(np.int64)
    time = times_of(np.datetime64("2026-03-01T04:00:00", "us") + offsets_us)

    assert time is not None
    known_s = np.datetime64("2026-03-01T04:00:00", "us").astype(np.int64) / 1e6 + offsets_us / 1e6
    np.testing.assert_allclose(seconds(time, len(known_s)), known_s, rtol=0, atol=0.0005)


def test_times_before_1970_and_the_shorter_of_two_forms() -> None:
    begin = np.datetime64("1969-12-31T23:59:00", "us")
    steady = times_of(begin + np.arange(100) * np.timedelta64(30_000_000, "us"))
    uneven = times_of(begin + (np.arange(100) ** 2) * np.timedelta64(1_000_000, "us"))

    assert steady == {"unit": 1, "start": -60, "runs": [99, 30]}
    assert uneven is not None
    assert uneven["steps"][:3] == [1, 3, 5]


def test_where_any_time_is_missing_there_are_none() -> None:
    times = np.array(["2026-03-01T04:00:00", "NaT", "2026-03-01T04:02:00"], dtype="datetime64[us]")

    assert times_of(times) is None
    assert times_of(times[:0]) is None


def test_track_holds_every_fix_with_its_time() -> None:
    result = build_result()
    for track, drawn in zip(result.tracks, data_of(result)["tracks"], strict=True):
        path = lonlat(drawn["path"])
        np.testing.assert_allclose(path[:, 1], track.lat_deg, rtol=0, atol=0.6e-6)
        turn = np.round((path[:, 0] - track.lon_deg) / 360.0) * 360.0
        np.testing.assert_allclose(path[:, 0], track.lon_deg + turn, rtol=0, atol=0.6e-6)
        if drawn["kind"] == "planned":
            assert drawn["time"] is None
        else:
            known_s = track.time_utc.astype("datetime64[us]").astype(np.int64) / 1e6
            np.testing.assert_allclose(seconds(drawn["time"], len(path)), known_s, rtol=0, atol=0.0005)


def test_csv_and_clock_travel_along() -> None:
    data = data_of(build_result())

    assert data["csv"] == "a,b\n"
    ((start_s, offset_s), *_) = data["clock"]["offsets"]
    assert offset_s == -3600
    assert start_s <= data["tracks"][0]["time"]["start"]
    assert "UTC-1" in data["clock"]["name"]


def test_stretches_of_the_vessel_point_into_the_track_and_copy_nothing() -> None:
    result = build_result(planned=False)
    data = data_of(result)
    path = lonlat(data["tracks"][0]["path"])
    time_s = seconds(data["tracks"][0]["time"], len(path))
    found = 0
    for row, told in zip(result.rows, data["rows"], strict=True):
        for stretch, drawn in zip((*row.close, *row.inside), told["highlights"], strict=True):
            ends = [getattr(stretch, n) for n in ("from_utc", "to_utc") if hasattr(stretch, n)]
            ends = ends or [stretch.enter_utc, stretch.leave_utc]
            first_s, last_s = np.array(ends).astype("datetime64[us]").astype(np.int64) / 1e6
            between = np.flatnonzero((time_s > first_s) & (time_s < last_s))
            assert drawn["first"] == between[0]
            assert drawn["last"] == between[-1]
            assert "path" not in drawn
            found += 1
    assert found > 3


def test_rows_say_whose_they_are(gear: tuple[CheckResult, Scene, dict[str, Any]]) -> None:
    result, _, data = gear
    for row, told in zip(result.rows, data["rows"], strict=True):
        assert result.tracks[told["track"]].track_id == row.track_id
        assert (told["tow"], told["part"]) == (row.tow, str(row.part))
        if row.closest is not None and not np.isnat(row.closest.utc):
            assert told["time"] == pytest.approx(row.closest.utc.astype(np.int64) / 1e6, abs=1e-6)


def test_gear_is_where_it_was_at_every_time(gear: tuple[CheckResult, Scene, dict[str, Any]]) -> None:
    result, scene, data = gear
    assert result.gear is not None
    for tow, drawn in zip(result.gear.tows, data["gear"], strict=False):
        for line, path in zip(tow.lines, drawn["paths"], strict=True):
            nodes = lonlat(path["path"])
            time_s = seconds(path["time"], len(nodes))
            at = np.column_stack([np.interp(line.time_s, time_s, column) for column in nodes.T])
            whole = np.column_stack([line.lon_deg, line.lat_deg])
            assert metres(at, whole).max() <= GEAR_IN_TIME_M + 0.3
            assert path["part"] == line.part
    assert scene.tracks[data["gear"][0]["track"]].track.track_id == result.gear.tows[0].track_id


def test_a_part_that_stops_and_goes_is_kept_true_in_time() -> None:
    """A straight way at uneven speed needs no node for its shape, and many for its times."""
    time_s = np.arange(2000.0)
    run_m = np.where(
        time_s < 700, time_s * 1.7, np.where(time_s < 1200, 1190.0, 1190.0 + (time_s - 1200) * 0.9)
    )
    path = np.column_stack([np.full(2000, 5.0), 60.0 + run_m / 111_400.0])
    none = np.zeros(2000, dtype=np.bool_)

    keep = kept_nodes(path, none, GEAR_TOLERANCE_M, time_s=time_s, in_time_m=GEAR_IN_TIME_M)

    at = np.interp(time_s, time_s[keep], path[keep, 1])
    assert np.abs(at - path[:, 1]).max() * 111_500.0 <= GEAR_IN_TIME_M
    assert keep.sum() < 20
    untimed = kept_nodes(path, none, GEAR_TOLERANCE_M, time_s=None, in_time_m=GEAR_IN_TIME_M)
    assert untimed.sum() < 5


def long_track(fixes: int) -> Track:
    rng = np.random.default_rng(3)
    second = np.arange(fixes)
    heading = np.cumsum(rng.normal(0.0, 0.01, fixes))
    speed = np.where(second // 900 % 3 == 2, 4.8, 1.7)
    north_m, east_m = np.cumsum(speed * np.cos(heading)), np.cumsum(speed * np.sin(heading))
    lat = 63.1 + north_m / 111_400.0
    return Track(
        track_id="Invented trip",
        source="trip.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=-18.6 + east_m / 111_400.0 / np.cos(np.radians(lat)),
        lat_deg=lat,
        time_utc=np.datetime64("2026-03-01", "us") + second.astype("timedelta64[s]"),
        part=np.zeros(fixes, dtype=np.int32),
        fixes_read=fixes,
    )


def test_thinned_track_is_true_in_place_and_time_and_whole_near_zones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(paths_module, "THIN_ABOVE", 1000)
    track = long_track(40_000)
    result = dataclasses.replace(build_result(planned=False), tracks=(track,), tows=(), rows=(), gaps={})
    scene = build_scene(result)
    (drawing,) = scene.tracks

    assert drawing.fixes_drawn < 0.4 * len(track)
    kept = drawing.lonlat_deg[drawing.kept]
    scale = np.array(metres_per_degree(float(np.abs(kept[:, 1]).min())))
    assert off_line_m(drawing.lonlat_deg * scale, drawing.kept).max() <= THIN_TOLERANCE_M + 0.05
    second = np.arange(len(track))
    at = np.column_stack([np.interp(second, drawing.kept, column) for column in kept.T])
    assert metres(at, drawing.lonlat_deg).max() <= THIN_IN_TIME_M + 0.05
    near = np.zeros(len(track), dtype=np.bool_)
    for zone in scene.zones:
        reach_m = zone.zone.radius_m + max(zone.margin_m, 926.0)
        for shape in zone.outline.shapes():
            flat = shapely.transform(shape, lambda xy: xy * scale)
            near |= shapely.distance(flat, shapely.points(drawing.lonlat_deg * scale)) <= reach_m
    assert near.sum() > 500
    assert np.isin(np.flatnonzero(near), drawing.kept).all()
    assert any(f"{THIN_IN_TIME_M:g} m" in note for note in chart_notes(scene))


def test_long_legs_keep_their_bends_when_fixes_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Along a parallel fixes lie on one line of the chart; the geodesics between them bend polewards.

    Derived: sagitta s^2 tan(lat) / (8 R) with s = 10.1 km, R = 6 390 km gives 3.9 m.
    """
    lon = -18.6 + 0.2 * np.arange(12)
    track = dataclasses.replace(
        long_track(12),
        lon_deg=lon,
        lat_deg=np.full(12, 63.1),
        time_utc=np.full(12, np.datetime64("NaT", "us")),
    )
    result = dataclasses.replace(
        build_result(planned=False), tracks=(track,), zones=(), rows=(), tows=(), gaps={}
    )
    monkeypatch.setattr(paths_module, "THIN_ABOVE", 1)

    (drawing,) = build_scene(result).tracks

    assert drawing.fixes_drawn == 12
    assert [at for at, _ in drawing.bends] == list(range(11))
    assert drawing.line(0, 11)[:, 1].max() == pytest.approx(63.1 + 3.9 / 111_450.0, abs=3e-6)


def test_ends_of_stretches_are_never_thinned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paths_module, "THIN_ABOVE", 1)
    result = build_result(planned=False)
    (drawing,) = build_scene(dataclasses.replace(result, zones=(), rows=())).tracks

    assert drawing.fixes_drawn < len(result.tracks[0])
    for tow, drawn in zip(result.tows, drawing.tows, strict=True):
        assert drawing.kept[[drawn.first, drawn.last]].tolist() == [tow.first, tow.last]
    (gap,) = result.gaps["Invented trip"]
    assert drawing.kept[[drawing.gaps[0].fix, drawing.gaps[0].fix + 1]].tolist() == [gap.fix, gap.fix + 1]


@pytest.mark.parametrize("shape", ["spiral", "zigzag", "standing still"])
def test_hostile_paths_are_thinned_soon_and_truly(shape: str) -> None:
    n = np.arange(20_000)
    turn = n * 0.3
    radius = 0.2 * 0.9995**n
    x, y = {
        "spiral": (radius * np.cos(turn), radius * np.sin(turn)),
        "zigzag": (n * 1e-6, np.where(n % 2, 1e-3, 0.0)),
        "standing still": (n * 0.0, n * 0.0),
    }[shape]
    path = np.column_stack([x, y])

    keep = kept_nodes(path, np.zeros(len(n), dtype=np.bool_), 2.0, time_s=None, in_time_m=1.0)

    assert off_line_m(path * metres_per_degree(0.0), np.flatnonzero(keep)).max() <= 2.01
    assert shape != "standing still" or keep.sum() < 30


@pytest.mark.parametrize(
    ("part", "status", "label"),
    [
        (Part.GEAR, Status.TOO_CLOSE, "gear crossed or touched"),
        (Part.GEAR, Status.UNDETERMINED, "gear crossing not ruled out"),
        (Part.VESSEL, Status.TOO_CLOSE, "crossed or touched"),
    ],
)
def test_no_distance_at_all_is_told_in_words(part: Part, status: Status, label: str) -> None:
    base = build_result()
    row = dataclasses.replace(
        base.rows[0], part=Part.VESSEL, status=status, clearance_m=0.0, inside=(), close=()
    )
    result = dataclasses.replace(base, rows=(row,))
    assert data_of(result)["rows"][0]["label"] == label.removeprefix("gear ")
    if part is Part.GEAR:
        assert _label(dataclasses.replace(row, part=part), planned=False) == label
    assert "crosses or touches" in _label(dataclasses.replace(row, status=Status.INSIDE), planned=True)


def test_undecided_row_without_closest_approach_names_the_first_gap_that_leaves_its_zone_open() -> None:
    base = build_result()
    (gap,) = base.gaps[base.tracks[0].track_id]
    here, other = base.zones[1].zone_id, base.zones[2].zone_id
    open_here, open_other, unbounded = (
        dataclasses.replace(gap, reach_m=reach_m, could_reach=reaches)
        for reach_m, reaches in (
            (
                gap.reach_m,
                (ZoneReach(zone_id=here, least_speed_kn=4.0, longest_inside_s=9.0, tow_fits=False),),
            ),
            (
                gap.reach_m,
                (ZoneReach(zone_id=other, least_speed_kn=4.0, longest_inside_s=9.0, tow_fits=False),),
            ),
            (None, ()),
        )
    )
    row = dataclasses.replace(
        base.rows[0],
        zone_id=here,
        status=Status.UNDETERMINED,
        clearance_m=None,
        closest=None,
        inside=(),
        close=(),
    )

    assert _gap(row, (open_other, open_here, unbounded)) == 1
    assert _gap(row, (open_other, unbounded, open_here)) == 1
    assert _gap(row, (open_other,)) is None
    assert _gap(dataclasses.replace(row, closest=base.rows[0].closest), (open_here,)) is None
    assert _gap(dataclasses.replace(row, status=Status.CLEAR), (open_here,)) is None


def test_name_of_a_track_beside_a_tow_is_short() -> None:
    assert data_of(build_result())["tracks"][0]["brief"] == "Invented trip"
    assert _brief("x" * (BRIEF_LENGTH + 1)) == "x" * BRIEF_LENGTH + "…"
