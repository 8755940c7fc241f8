"""What must hold for every clearance, whatever the path and the edge."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, example, given, target
from hypothesis import strategies as st
from oracles import GEOD, Lines, clearances, distance_m, distance_to_line
from strategies import WIDEST_CLEARANCE_M, azimuths, kinds, legs, lengths_m, numbers, wrapped

from towzone.geodesy import approach
from towzone.geodesy.lines import LineKind

TOLERANCE_M = 0.01
"""The promise: 1 cm."""
PATH_KINDS = st.sampled_from(["geodesic", "rhumb"])


def measured(path_kind, path, edge_kind, edge):
    """The product's approach of one path to one edge, as a dict of numbers."""
    found = approach.clearances(
        LineKind(path_kind), *([c] for c in path), LineKind(edge_kind), *([c] for c in edge)
    )
    names = ("distance_m", "path_lon_deg", "path_lat_deg", "edge_lon_deg", "edge_lat_deg")
    return {name: float(getattr(found, name)[0]) for name in names}


def clearance(path_kind, path, edge_kind, edge):
    return measured(path_kind, path, edge_kind, edge)["distance_m"]


@st.composite
def pairs(draw):
    """(path kind, path, edge kind, edge): an edge anywhere, a path within 20 nmi of a point on it."""
    edge_kind, edge = draw(kinds()), draw(legs())
    line = Lines.between(edge_kind, *edge)
    lon, lat, _, _ = line.at(np.array([draw(numbers(0.0, 1.0))]))
    x, y, _ = GEOD.fwd(
        lon, lat, [draw(azimuths())], [draw(st.one_of(st.just(0.0), lengths_m(WIDEST_CLEARANCE_M)))]
    )
    heading, length = draw(azimuths()), draw(st.one_of(st.just(0.0), lengths_m(100_000.0)))
    u, v, _ = GEOD.fwd(x, y, [heading], [length])
    path = (wrapped(x[0]), float(y[0]), wrapped(u[0]), float(v[0]))
    assume(abs(path[1]) < 84.0 and abs(path[3]) < 84.0)
    return draw(PATH_KINDS), path, edge_kind, edge


FAMILIAR = ("geodesic", (-30.5, 57.0, -30.5, 60.0), "rhumb", (-33.5, 59.75, -27.5, 57.5))
"""The Northern MAR edge (Reg (EU) 2019/1241 Annex XII Part D) cut by a meridian."""


@given(pairs())
@example(FAMILIAR)
@example(("geodesic", (179.9999, 10.0, 179.9999, 10.0), "lonlat", (-179.9999, 9.0, -179.9999, 11.0)))
def test_clearance_is_never_more_than_to_any_point_sampled(pair):
    """Neither line has a point nearer to the other than the clearance, ends included."""
    path_kind, path, edge_kind, edge = pair
    got = clearance(*pair)
    u = np.linspace(0.0, 1.0, 41)
    p = Lines.between(path_kind, *(np.full(41, c) for c in path)).at(u)[:2]
    e = Lines.between(edge_kind, *(np.full(41, c) for c in edge)).at(u)[:2]
    least = distance_m(p[0][:, None], p[1][:, None], e[0][None, :], e[1][None, :]).min()

    target(-abs(least - got), label="near misses")
    assert got <= least + TOLERANCE_M


@given(pairs())
@example(FAMILIAR)
def test_the_reported_points_are_on_their_lines_and_that_far_apart(pair):
    """What is shown on the chart is where the distance was measured."""
    path_kind, path, edge_kind, edge = pair
    got = measured(*pair)
    at_path = (got["path_lon_deg"], got["path_lat_deg"])
    at_edge = (got["edge_lon_deg"], got["edge_lat_deg"])

    assert abs(float(distance_m(*at_path, *at_edge)) - got["distance_m"]) < TOLERANCE_M
    for kind, line, point in ((path_kind, path, at_path), (edge_kind, edge, at_edge)):
        assert distance_to_line(Lines.between(kind, *line), *point)[0] < TOLERANCE_M


@given(pairs())
@example(FAMILIAR)
def test_clearance_is_the_same_from_both_sides(pair):
    """Path and edge may change places."""
    path_kind, path, edge_kind, edge = pair

    assert abs(clearance(*pair) - clearance(edge_kind, edge, path_kind, path)) < TOLERANCE_M


@given(pairs())
@example(FAMILIAR)
def test_clearance_does_not_depend_on_direction(pair):
    """Either line may be drawn backwards."""
    path_kind, path, edge_kind, edge = pair
    plain = clearance(*pair)

    assert abs(clearance(path_kind, (*path[2:], *path[:2]), edge_kind, edge) - plain) < TOLERANCE_M
    assert abs(clearance(path_kind, path, edge_kind, (*edge[2:], *edge[:2])) - plain) < TOLERANCE_M


@given(pairs(), numbers(-360.0, 360.0))
def test_clearance_does_not_depend_on_the_meridian(pair, turn):
    """The globe may be turned, over 180 degrees too."""
    path_kind, path, edge_kind, edge = pair

    def turned(line):
        return (wrapped(line[0] + turn), line[1], wrapped(line[2] + turn), line[3])

    assert abs(clearance(path_kind, turned(path), edge_kind, turned(edge)) - clearance(*pair)) < TOLERANCE_M


@given(pairs())
def test_clearance_is_the_same_mirrored_over_the_equator(pair):
    """South is as north."""
    path_kind, path, edge_kind, edge = pair

    def mirrored(line):
        return (line[0], -line[1], line[2], -line[3])

    assert (
        abs(clearance(path_kind, mirrored(path), edge_kind, mirrored(edge)) - clearance(*pair)) < TOLERANCE_M
    )


@given(pairs(), numbers(0.0, 1.0))
def test_cutting_the_path_or_the_edge_changes_nothing(pair, part):
    """The least of the two parts is the clearance of the whole, whichever line is cut."""
    path_kind, path, edge_kind, edge = pair
    plain = clearance(*pair)
    for cut_path in (True, False):
        kind, line = (path_kind, path) if cut_path else (edge_kind, edge)
        whole = Lines.between(kind, *line)
        lon, lat, _, _ = whole.at(np.array([part]))
        middle = (wrapped(lon[0]), float(lat[0]))
        parts = (*line[:2], *middle), (*middle, *line[2:])
        least = min(
            clearance(path_kind, p, edge_kind, edge) if cut_path else clearance(path_kind, path, edge_kind, p)
            for p in parts
        )
        assert abs(least - plain) < TOLERANCE_M


@given(pairs(), azimuths(), lengths_m(10_000.0))
def test_moving_a_point_changes_its_clearance_by_no_more_than_the_way(pair, azimuth, way_m):
    """Distance is a metric: a vessel a metre nearer is at most a metre nearer."""
    _, path, edge_kind, edge = pair
    here = (path[0], path[1])
    x, y, _ = GEOD.fwd(*here, azimuth, way_m)
    there = (wrapped(x), float(y))
    before = clearance("geodesic", (*here, *here), edge_kind, edge)
    after = clearance("geodesic", (*there, *there), edge_kind, edge)

    assert abs(after - before) <= way_m + TOLERANCE_M


@given(kinds(), PATH_KINDS, legs(), numbers(0.001, 0.999), numbers(5.0, 175.0), numbers(1.0, 50_000.0))
@example("rhumb", "geodesic", (179.0, 60.0, -178.0, 61.0), 0.5, 90.0, 10_000.0)
def test_crossing_lines_have_no_clearance(edge_kind, path_kind, edge, part, angle, reach_m):
    """Built from the answer: a path laid straight over a point of the edge has a clearance of exactly 0."""
    line = Lines.between(edge_kind, *edge)
    assume(line.inverse()[0][0] > 1.0)
    lon, lat, azimuth, _ = line.at(np.array([part]))
    x, y, _ = GEOD.fwd(lon, lat, azimuth + angle, [reach_m])
    u, v, _ = GEOD.fwd(lon, lat, azimuth + angle + 180.0, [reach_m])
    path = (wrapped(x[0]), float(y[0]), wrapped(u[0]), float(v[0]))
    crossing = clearances(Lines.between(path_kind, *path), line).distance_m[0] < 1e-6
    # A rhumb line over the same ends bends away and may pass an end of a short edge.
    assume(path_kind == "geodesic" or crossing)

    assert clearance(path_kind, path, edge_kind, edge) == 0.0


@given(pairs())
def test_no_clearance_only_where_the_lines_meet(pair):
    """Brute force agrees to 1 cm, and where it finds more than 1 cm the clearance is not 0."""
    path_kind, path, edge_kind, edge = pair
    wanted = clearances(Lines.between(path_kind, *path), Lines.between(edge_kind, *edge)).distance_m[0]

    got = clearance(*pair)

    assert abs(got - wanted) < TOLERANCE_M
    assert got > 0.0 or wanted < TOLERANCE_M


@given(kinds(), legs())
@example("rhumb", (-180.0, 0.0, 179.5, 10.0))
def test_shared_corners_have_no_clearance(kind, edge):
    """Touching is not clear, wherever the other end goes."""
    corner = edge[:2]
    off = (corner[0], corner[1] + (0.3 if corner[1] < 0 else -0.3))

    assert clearance("geodesic", (*corner, *off), kind, edge) == 0.0
    assert clearance("geodesic", (*corner, *corner), kind, edge) == 0.0


@given(st.lists(pairs(), min_size=2, max_size=6))
def test_a_batch_gives_what_single_pairs_give(many):
    """Rows of a column do not see each other (pairs of the first one's kinds)."""
    path_kind, edge_kind = many[0][0], many[0][2]
    paths, edges = np.array([p[1] for p in many]), np.array([p[3] for p in many])

    batch = approach.clearances(LineKind(path_kind), *paths.T, LineKind(edge_kind), *edges.T).distance_m

    single = [clearance(path_kind, p, edge_kind, e) for p, e in zip(paths, edges, strict=True)]
    np.testing.assert_allclose(batch, single, rtol=0, atol=1e-6)
