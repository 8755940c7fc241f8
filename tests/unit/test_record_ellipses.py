"""Where a vessel can have been in a gap is drawn true, wherever on earth, and not where it is not known."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from result_builders import build_result

from towzone.model.result import CheckResult, Gap
from towzone.record.drawn.ellipses import LARGEST_M, clipped, reach_outline
from towzone.record.drawn.frame import Box
from towzone.record.drawn.gaps import ALL_OUTLINES, MOST_OUTLINES, draw_gaps
from towzone.record.drawn.scene import build_scene

WGS84 = Geodesic.WGS84
NEVER = np.datetime64("NaT", "us")
PLACES = [
    pytest.param(5.0, 55.0, 61.0, 900.0, 12_000.0, id="plain"),
    pytest.param(179.98, -17.0, 80.0, 9_000.0, 15_000.0, id="across 180"),
    pytest.param(20.0, 75.0, 10.0, 20_000.0, 60_000.0, id="75 N"),
    pytest.param(-30.0, 0.0, 90.0, 1_000.0, 400_000.0, id="hundreds of miles"),
    pytest.param(-30.0, 50.0, 40.0, 300_000.0, 600_000.0, id="far apart"),
    pytest.param(3.0, 60.0, 45.0, 10_000.0, 10_030.0, id="hardly any time to spare"),
    pytest.param(3.0, 60.0, 0.0, 0.0, 5_000.0, id="back at the same place"),
]


def pair(lon: float, lat: float, course: float, apart_m: float) -> np.ndarray:
    end = WGS84.Direct(lat, lon, course, apart_m)
    return np.array([[lon, lat], [lon + (end["lon2"] - lon + 180.0) % 360.0 - 180.0, end["lat2"]]])


def sum_m(fixes: np.ndarray, lon: float, lat: float) -> float:
    return sum(WGS84.Inverse(lat, lon, b, a)["s12"] for a, b in fixes.tolist())


@pytest.mark.parametrize(("lon", "lat", "course", "apart_m", "reach_m"), PLACES)
def test_outline_holds_the_places_whose_distances_add_up(
    lon: float, lat: float, course: float, apart_m: float, reach_m: float
) -> None:
    """Against geodesic distances at its corners and, as it is drawn straight, between them."""
    fixes = pair(lon, lat, course, apart_m)
    ring = reach_outline(fixes, reach_m)
    assert ring is not None
    closed = np.vstack([ring, ring[:1]])

    for at_lon, at_lat in ring.tolist():
        assert sum_m(fixes, at_lon, at_lat) == pytest.approx(reach_m, abs=0.5)
    for at_lon, at_lat in ((closed[1:] + closed[:-1]) / 2.0).tolist():
        assert -10.0 < sum_m(fixes, at_lon, at_lat) - reach_m < 1.0
    assert np.abs(np.diff(closed[:, 0])).max() < 30.0
    assert shapely.Polygon(ring).is_valid
    assert shapely.intersects_xy(shapely.Polygon(ring).buffer(1e-9), *fixes.T).all()


def test_outline_round_a_pole_reaches_the_edge_of_the_chart() -> None:
    ring = reach_outline(np.array([[0.0, 86.0], [20.0, 86.0]]), 3_000_000.0)
    assert ring is not None
    area = shapely.Polygon(ring)

    assert area.is_valid
    for lon in (-170.0, -60.0, 60.0, 170.0):
        assert shapely.intersects_xy(area, [lon - 360.0, lon], 84.9).any()
        assert not shapely.intersects_xy(area, [lon - 360.0, lon], 65.0).any()


def test_what_would_be_an_ocean_is_not_drawn() -> None:
    fixes = np.array([[0.0, 50.0], [1.0, 50.0]])

    assert reach_outline(fixes, LARGEST_M * 1.01) is None
    assert reach_outline(fixes, LARGEST_M * 0.99) is not None


def test_outline_is_cut_where_the_chart_ends() -> None:
    window = Box(west=-1.0, south=49.0, east=2.0, north=51.0)
    ring = reach_outline(np.array([[0.0, 50.0], [1.0, 50.0]]), 2_000_000.0)
    assert ring is not None

    cut = clipped(ring, window)

    assert cut is not None
    assert Box.around(cut) == window
    assert clipped(ring, Box(west=100.0, south=0.0, east=101.0, north=1.0)) is None


def gap_of(fix: int, reach_m: float | None, *, leaves_open: bool = False) -> Gap:
    gap = Gap(fix=fix, from_utc=NEVER, to_utc=NEVER, seconds=3600.0, reach_m=reach_m)
    return dataclasses.replace(gap, could_reach=("zone",) if leaves_open else ())  # any reach will do


def drawn(gaps: list[Gap]) -> tuple:
    lonlat = np.column_stack([np.arange(len(gaps) + 1) * 0.01, np.full(len(gaps) + 1, 60.0)])
    return draw_gaps(gaps, lonlat, np.arange(len(lonlat)), zones=True)


def test_gap_without_bound_is_said_to_leave_all_open_and_has_no_outline() -> None:
    known, unknown = drawn([gap_of(0, 2_000.0), gap_of(1, None)])

    assert known.outline is not None
    assert not known.leaves_open
    assert unknown.outline is None
    assert unknown.leaves_open
    assert "anywhere" in unknown.text


def test_of_very_many_gaps_those_that_leave_a_zone_open_keep_their_outline() -> None:
    gaps = [gap_of(n, 2_000.0, leaves_open=n % 2 == 0) for n in range(ALL_OUTLINES + 2)]

    for gap in drawn(gaps):
        assert (gap.outline is not None) == gap.leaves_open
    assert all(gap.outline is not None for gap in drawn(gaps[:ALL_OUTLINES]))


def test_of_more_than_can_be_drawn_the_longest_keep_their_outline() -> None:
    gaps = [gap_of(n, 2_000.0 + n, leaves_open=True) for n in range(MOST_OUTLINES + 5)]

    assert [gap.fix for gap in drawn(gaps) if gap.outline is None] == [0, 1, 2, 3, 4]


def with_reach(result: CheckResult, reach_m: float) -> CheckResult:
    ((track_id, (gap,)),) = result.gaps.items()
    return dataclasses.replace(result, gaps={track_id: (dataclasses.replace(gap, reach_m=reach_m),)})


def test_large_outline_does_not_open_the_first_view() -> None:
    result = build_result()
    near, far = (build_scene(with_reach(result, reach_m)) for reach_m in (30_000.0, 900_000.0))

    assert near.view == far.view
    (gap,) = far.tracks[0].gaps
    assert gap.outline is not None
    assert Box.around(gap.outline) == far.window
