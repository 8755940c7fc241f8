"""What must hold for inside and outside, whatever the ring."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, example, given
from hypothesis import strategies as st
from oracles import GEOD, Lines, distance_to_line, inside
from strategies import azimuths, numbers, rings, star, wrapped

from towzone.geodesy.lines import LineKind
from towzone.geodesy.region import Region
from towzone.geodesy.shape import Shape, freeze

BAND_M = 0.01
"""Points nearer to the boundary than 1 cm may fall on either side."""


def contains(kind, polygons, points):
    shape = Shape(polygons=tuple(tuple(freeze(ring) for ring in polygon) for polygon in polygons))
    return Region(shape, LineKind(kind)).contains(points[:, 0], points[:, 1])


def edges(kind, ring):
    """The ring's edges as lines."""
    ends = np.roll(ring, -1, axis=0)
    return Lines.between(kind, ring[:, 0], ring[:, 1], ends[:, 0], ends[:, 1])


def clear_of_edges(kind, ring, points, band_m=BAND_M):
    """Which points are farther than the band from every edge, by brute force."""
    lines = edges(kind, ring)
    every = np.tile(np.arange(len(lines)), len(points))
    lon, lat = (np.repeat(points[:, i], len(lines)) for i in (0, 1))
    return (distance_to_line(lines.take(every), lon, lat).reshape(len(points), -1) > band_m).all(axis=1)


@st.composite
def cases(draw):
    """(kind, ring, points): points near the ring's edges and all over its surroundings."""
    kind, ring, middle = draw(rings())
    lines = edges(kind, ring)
    u = np.array(draw(st.lists(numbers(0.0, 1.0), min_size=len(ring), max_size=len(ring))))
    lon, lat, azimuth, _ = lines.at(u)
    off = 10.0 ** np.array(draw(st.lists(numbers(-1.5, 4.0), min_size=len(ring), max_size=len(ring))))
    side = draw(st.sampled_from([-90.0, 90.0]))
    x, y, _ = GEOD.fwd(lon, lat, azimuth + side, off)
    reach = 2.0 * float(lines.inverse()[0].max())
    bearing, way = draw(azimuths()), draw(numbers(0.0, reach))
    a, b, _ = GEOD.fwd(*middle, bearing, way)
    points = np.column_stack([wrapped(np.append(x, [a, middle[0]])), np.append(y, [b, middle[1]])])
    assume(np.abs(points[:, 1]).max() < 88.0)
    sure = clear_of_edges(kind, ring, points)
    assume(sure.any())
    return kind, ring, points[sure]


BOX = np.array([[179.0, 60.0], [-178.0, 60.0], [-178.0, 61.0], [179.0, 61.0]])
BOX_POINTS = np.array([[180.0, 60.5], [-180.0, 60.5], [179.0, 61.5], [0.0, 60.5], [-178.0, 59.0]])


@given(cases())
@example(("rhumb", BOX, BOX_POINTS))
@example(("geodesic", BOX, BOX_POINTS))
def test_sides_agree_with_counting(case):
    """The brute force again, where hypothesis may look for trouble."""
    kind, ring, points = case

    assert contains(kind, [(ring,)], points).tolist() == inside(kind, [(ring,)], *points.T).tolist()


@given(cases(), st.integers(0, 20), st.booleans())
@example(("lonlat", BOX, BOX_POINTS), 2, True)
def test_start_corner_and_direction_change_nothing(case, start, backwards):
    """A ring is a ring."""
    kind, ring, points = case
    other = np.roll(ring, start, axis=0)
    other = other[::-1] if backwards else other

    assert contains(kind, [(other,)], points).tolist() == contains(kind, [(ring,)], points).tolist()


@given(cases(), numbers(-360.0, 360.0))
def test_turning_the_globe_changes_nothing(case, turn):
    """Ring and points together, over 180 degrees too."""
    kind, ring, points = case

    def turned(positions):
        return np.column_stack([wrapped(positions[:, 0] + turn), positions[:, 1]])

    assert (
        contains(kind, [(turned(ring),)], turned(points)).tolist()
        == contains(kind, [(ring,)], points).tolist()
    )


@given(cases(), st.sampled_from([-360.0, 360.0]), st.sampled_from([-360.0, 0.0, 360.0]))
def test_whole_turns_of_longitude_change_nothing(case, ring_turn, point_turn):
    """-181 is 179 for rings and for points."""
    kind, ring, points = case
    expected = contains(kind, [(ring,)], points).tolist()

    moved_ring, moved_points = ring + np.array([ring_turn, 0.0]), points + np.array([point_turn, 0.0])
    assert contains(kind, [(moved_ring,)], moved_points).tolist() == expected


@given(cases())
def test_mirrored_over_the_equator_nothing_changes(case):
    """South is as north."""
    kind, ring, points = case
    mirror = np.array([1.0, -1.0])

    assert (
        contains(kind, [(ring * mirror,)], points * mirror).tolist()
        == contains(kind, [(ring,)], points).tolist()
    )


@given(cases(), st.integers(0, 20), numbers(0.0, 1.0))
@example(("geodesic", BOX, BOX_POINTS), 0, 0.5)
def test_an_extra_corner_on_an_edge_changes_nothing(case, which, part):
    """As long as it lies on the edge by the edge's own rule."""
    kind, ring, points = case
    which %= len(ring)
    lon, lat, _, _ = edges(kind, ring).take([which]).at(np.array([part]))
    longer = np.insert(ring, which + 1, [wrapped(lon[0]), lat[0]], axis=0)

    assert contains(kind, [(longer,)], points).tolist() == contains(kind, [(ring,)], points).tolist()


@given(cases())
def test_repeated_corners_change_nothing(case):
    """Edges of no length are no edges."""
    kind, ring, points = case

    assert (
        contains(kind, [(np.repeat(ring, 2, axis=0),)], points).tolist()
        == contains(kind, [(ring,)], points).tolist()
    )


@given(rings(50_000.0), numbers(0.05, 0.2), numbers(0.0, 360.0), st.integers(3, 8))
def test_a_hole_turns_its_inside_out_and_nothing_else(ring_case, share, turn, n):
    """Inside the hole is outside; elsewhere the hole does not matter."""
    kind, ring, middle = ring_case
    lines = edges(kind, ring)
    radius = float(
        distance_to_line(lines, np.full(len(ring), middle[0]), np.full(len(ring), middle[1])).min()
    )
    assume(radius > 10.0)
    hole = star(*middle, turn + np.arange(n) * 360.0 / n, np.full(n, 2 * share * radius))
    bearings = np.linspace(0.0, 330.0, 12)
    near = star(*middle, bearings, np.full(12, 0.1 * share * radius))
    beyond = star(*middle, bearings, np.full(12, 0.7 * radius))
    far = star(*middle, bearings, np.full(12, 250_000.0))

    for points, plain, holed in ((near, True, False), (beyond, True, True), (far, False, False)):
        assert contains(kind, [(ring,)], points).tolist() == [plain] * 12
        assert contains(kind, [(ring, hole)], points).tolist() == [holed] * 12
        assert contains(kind, [(ring, hole[::-1])], points).tolist() == [holed] * 12


@given(rings(), azimuths(), numbers(1.0, 100_000.0))
def test_the_middle_is_inside_and_the_far_side_of_the_earth_is_not(ring_case, bearing, way):
    """Counting stops at the ring, not at the other side of the globe."""
    kind, ring, middle = ring_case
    opposite = np.array([[wrapped(middle[0] + 180.0), -middle[1]], [wrapped(middle[0] + 180.0), middle[1]]])
    x, y, _ = GEOD.fwd(*opposite[0], bearing, way)

    assert not contains(kind, [(ring,)], np.vstack([opposite, [wrapped(x), y]])).any()
    lines = edges(kind, ring)
    length = lines.inverse()[0].max()
    assume(length < 100_000.0)
    assert contains(kind, [(ring,)], np.array([middle])).all()
