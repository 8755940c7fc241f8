"""Seams between parts of one zone are no boundary; everything else is."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import areas, box, check, fixes, line, only_row, points, zone

from towzone.geodesy.edges import edges_of, join_edges
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze


def segments(shape, kind=LineKind.RHUMB):
    """The edges as a set of unordered pairs of corners."""
    edges = edges_of(shape, kind)
    rows = np.column_stack([edges.lon0_deg, edges.lat0_deg, edges.lon1_deg, edges.lat1_deg])
    return {frozenset([(r[0], r[1]), (r[2], r[3])]) for r in rows.tolist()}


def pairs(*rows):
    return {frozenset([tuple(map(float, a)), tuple(map(float, b))]) for a, b in rows}


def test_a_lone_box_keeps_all_four_sides():
    assert segments(areas([box(0, 50, 1, 51)])) == pairs(
        ((0, 50), (1, 50)), ((1, 50), (1, 51)), ((1, 51), (0, 51)), ((0, 51), (0, 50))
    )


@pytest.mark.parametrize("turned", [False, True])
def test_a_cut_at_180_degrees_is_no_boundary_however_the_parts_wind(turned):
    west = box(179, 50, 180, 51)
    east = box(-180, 50, -179, 51)
    found = segments(areas([west[::-1] if turned else west], [east]))
    assert not any({abs(a[0]) for a in edge} == {180.0} for edge in found)
    assert len(found) == 6


def test_the_side_two_neighbouring_boxes_share_is_no_boundary():
    found = segments(areas([box(0, 50, 1, 51)], [box(1, 50, 2, 51)]))
    assert found == pairs(
        ((0, 50), (1, 50)),
        ((1, 51), (0, 51)),
        ((0, 51), (0, 50)),
        ((1, 50), (2, 50)),
        ((2, 50), (2, 51)),
        ((2, 51), (1, 51)),
    )


def test_of_sides_that_meet_in_part_only_the_rest_stays():
    """A tall box beside a low one: the tall side above the low one is boundary still."""
    found = segments(areas([box(0, 50, 1, 52)], [box(1, 50, 2, 51)]))
    assert frozenset([(1.0, 51.0), (1.0, 52.0)]) in found
    assert frozenset([(1.0, 50.0), (1.0, 51.0)]) not in found
    assert not any(edge == frozenset([(1.0, 50.0), (1.0, 52.0)]) for edge in found)


def test_a_part_given_twice_keeps_its_boundary():
    once, twice = areas([box(0, 50, 1, 51)]), areas([box(0, 50, 1, 51)], [box(0, 50, 1, 51)[::-1]])
    assert segments(twice) == segments(once)


def test_the_rim_of_a_hole_that_another_part_fills_is_no_boundary():
    hole = box(0.4, 50.4, 0.6, 50.6)
    found = segments(areas([box(0, 50, 1, 51), hole], [hole]))
    assert found == segments(areas([box(0, 50, 1, 51)]))


def test_the_rim_of_an_empty_hole_is_boundary():
    assert len(segments(areas([box(0, 50, 1, 51), box(0.4, 50.4, 0.6, 50.6)]))) == 8


def test_parts_that_only_touch_at_a_corner_keep_all_their_sides():
    assert len(segments(areas([box(0, 50, 1, 51)], [box(1, 51, 2, 52)]))) == 8


def test_lines_and_points_of_a_mixed_shape_stay_whole():
    shape = Shape(
        polygons=areas([box(0, 50, 1, 51)]).polygons,
        lines=line((5, 50), (6, 50), (6, 51)).lines,
        points=freeze([(9.0, 50.0)]),
    )
    edges = edges_of(shape, LineKind.GEODESIC, owner=3)
    assert len(edges) == 4 + 2 + 1
    assert set(edges.owner.tolist()) == {3}
    assert (edges.lon0_deg[-1], edges.lon1_deg[-1]) == (9.0, 9.0)


def test_no_shape_at_all_has_no_edges():
    assert len(edges_of(Shape(), LineKind.RHUMB)) == 0
    assert len(join_edges([])) == 0


def test_joined_edges_keep_order_owner_and_kind():
    one, two = (
        edges_of(points((1.0, 2.0)), LineKind.RHUMB, 0),
        edges_of(line((0, 0), (1, 1)), LineKind.LONLAT, 1),
    )
    both = join_edges([one, two])
    assert both.owner.tolist() == [0, 1]
    assert both.kind.tolist() == [LineKind.RHUMB, LineKind.LONLAT]
    assert both.select(np.array([False, True])).lon1_deg.tolist() == [1.0]


# What it means for a verdict.


def depth_m(shape, position, edges=LineKind.RHUMB):
    row = only_row(fixes([position], [0.0]), zone(shape, edges=edges))
    return -row.clearance_m


@pytest.mark.parametrize("edges", list(LineKind))
def test_depth_in_a_zone_cut_at_180_degrees_is_that_of_the_whole(edges):
    """Rhumb and lon/lat sides lie on parallels and meridians, so a cut changes nothing on them."""
    whole = areas([box(179, 10, -179, 11)])
    split = areas([box(179, 10, 180, 11)], [box(-180, 10, -179, 11)])
    if edges is LineKind.GEODESIC:
        # A geodesic between the far corners is another line; cut it where it crosses 180 degrees: at its
        # northernmost point, half way, by symmetry.
        from scenes import GEOD

        (south,), (north,) = (GEOD.npts(179, lat, -179, lat, 1) for lat in (10, 11))
        split = areas(
            [[(179, 10), (180, south[1]), (180, north[1]), (179, 11)]],
            [[(-180, south[1]), (-179, 10), (-179, 11), (-180, north[1])]],
        )
    for position in ((179.9999, 10.5), (-179.99, 10.6), (180.0, 10.5)):
        np.testing.assert_allclose(
            depth_m(split, position, edges), depth_m(whole, position, edges), rtol=0, atol=0.01
        )


def test_depth_where_boxes_of_unlike_width_are_stacked_is_measured_to_the_outer_boundary():
    """Rectangles shifted against each other share part of a parallel; that part is inside the zone."""
    stacked = areas([box(0, 50, 1, 51)], [box(0.25, 51, 1.25, 52)])
    hull = areas(
        [[(0, 50), (1, 50), (1, 51), (1.25, 51), (1.25, 52), (0.25, 52), (0.25, 51), (0, 51)]],
    )
    position = (0.625, 50.999)
    np.testing.assert_allclose(depth_m(stacked, position), depth_m(hull, position), rtol=0, atol=0.01)


def test_a_track_through_a_seam_is_one_stay():
    split = areas([box(0, 50, 1, 51)], [box(1, 50, 2, 51)])
    row = only_row(fixes([(0.5, 50.5), (1.5, 50.5)], [0.0, 800.0]), zone(split, edges=LineKind.RHUMB))
    assert len(row.inside) == 1
    assert row.inside[0].seconds == 800.0


def test_a_track_along_a_seam_is_inside():
    """On the cut at 180 degrees itself a vessel is in the middle of the zone."""
    split = areas([box(179, 10, 180, 11)], [box(-180, 10, -179, 11)])
    for lon in (180.0, -180.0):
        result = check(fixes([(lon, 10.3), (lon, 10.4)], [0.0, 800.0]), zone(split, edges=LineKind.RHUMB))
        assert [row.status.value for row in result.rows] == ["inside"]
        assert result.rows[0].clearance_m < -30_000.0
