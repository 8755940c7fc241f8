"""What a search throws away is proved to be far: boxes, their distances, and the pairs that survive."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from scenes import GEOD, edges, moved
from strategies import wrapped

from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, near_pairs
from towzone.geodesy.ellipsoid import from_geocentric, to_geocentric
from towzone.geodesy.lines import LineKind, points_along
from towzone.geodesy.pieces import Pieces, cut
from towzone.geodesy.tree import FAN, apart, corners, curve_gap, greatest_chord, grow, least_arc, pieces_below

SEED = 20260311
PLACES = {
    "mid latitude": (-20.0, 57.0),
    "across 180": (179.98, -16.0),
    "at 85 north": (30.0, 85.0),
    "at 85 south across 180": (-179.99, -85.0),
    "on the equator": (0.0, 0.0),
}


def walk(rng, start, steps, step_m):
    """A wiggly line of positions from a start."""
    course, here, found = rng.uniform(0.0, 360.0), start, [start]
    for _ in range(steps):
        course += rng.normal(0.0, 40.0)
        here = moved(here, course, step_m)
        found.append(here)
    return np.array(found)


def walks(rng, middle, owners, reach_m):
    """Rows and owners of several wiggly lines around a place."""
    rows, owner = [], []
    for number in range(owners):
        start = moved(middle, rng.uniform(0.0, 360.0), rng.uniform(0.0, reach_m))
        corners = walk(rng, start, int(rng.integers(1, 16)), 10.0 ** rng.uniform(1.0, 3.5))
        rows.append(np.hstack([corners[:-1], corners[1:]]))
        owner += [number] * (len(corners) - 1)
    return np.concatenate(rows), np.array(owner)


def sampled(rows, owner, owners, parts=6):
    """Points on every leg by owner, laid out with pyproj."""
    points = [[] for _ in range(owners)]
    for (lon0, lat0, lon1, lat1), number in zip(rows, owner, strict=True):
        azimuth, _, length = GEOD.inv(lon0, lat0, lon1, lat1)
        points[number] += [moved((lon0, lat0), azimuth, length * f) for f in np.linspace(0.0, 1.0, parts)]
    return [np.array(p) for p in points]


def least_m(one, two):
    """Least distance between two sets of points: vectorised, then the winner again by geographiclib."""
    a, b = np.repeat(one, len(two), axis=0), np.tile(two, (len(one), 1))
    apart = np.asarray(GEOD.inv(a[:, 0], a[:, 1], b[:, 0], b[:, 1])[2])
    best = int(np.argmin(apart))
    return Geodesic.WGS84.Inverse(a[best, 1], a[best, 0], b[best, 1], b[best, 0])["s12"]


def box_distance(tree, a, b):
    """The product's lower bound of the distance of two boxes, pair by pair."""
    return np.array(
        [
            least_arc(apart(*corners(tree, int(i)), *corners(tree, int(k))) ** 0.5)
            for i, k in zip(a, b, strict=True)
        ]
    )


@pytest.mark.parametrize("place", PLACES)
def test_no_pair_that_is_near_is_ever_dropped_and_far_ones_are(place):
    """Of 12 x 12 random wiggly lines every pair truly within the cutoff survives; most others do not."""
    rng = np.random.default_rng(SEED)
    path_rows, path_owner = walks(rng, PLACES[place], 12, 30_000.0)
    edge_rows, edge_owner = walks(rng, PLACES[place], 12, 30_000.0)
    cutoff_m = rng.uniform(100.0, 12_000.0, 12)

    kept = set(
        zip(
            *near_pairs(
                Side.of(cut(edges(path_rows, path_owner)), 12),
                Side.of(cut(edges(edge_rows, edge_owner)), 12),
                cutoff_m,
            ),
            strict=True,
        )
    )

    paths, boundary = sampled(path_rows, path_owner, 12), sampled(edge_rows, edge_owner, 12)
    true_m = np.array([[least_m(p, e) for e in boundary] for p in paths])
    truly_near = {(int(i), int(k)) for i, k in np.argwhere(true_m <= cutoff_m)}
    assert truly_near <= kept, "a dropped pair could have been a finding"
    far = {(i, k) for i in range(12) for k in range(12)} - kept
    assert len(far) > 40, "a filter that keeps everything filters nothing"
    assert all(true_m[i, k] > cutoff_m[k] for i, k in far)


@pytest.mark.parametrize("place", PLACES)
def test_box_distance_never_exceeds_the_true_distance(place):
    """For boxes of every size: the bound stays under the distance of any two points below them."""
    rng = np.random.default_rng(SEED + 1)
    rows, owner = walks(rng, PLACES[place], 6, 60_000.0)
    pieces = cut(edges(rows, owner))
    tree = grow(pieces, 6)
    roots = tree.root
    a, b = np.repeat(roots, 6), np.tile(roots, 6)
    bound_m = box_distance(tree, a, b).reshape(6, 6)
    points = sampled(rows, owner, 6)
    true_m = np.array([[least_m(p, e) for e in points] for p in points])
    assert (bound_m <= true_m).all()
    assert (bound_m > 0.0).sum() >= 10, "some boxes must lie apart, or nothing was compared"
    leaf = rng.integers(0, len(pieces), (400, 2))
    bound_m = box_distance(tree, leaf[:, 0], leaf[:, 1])
    for (i, k), bound in zip(leaf, bound_m, strict=True):
        start, end = from_geocentric(pieces.start_m[i]), from_geocentric(pieces.end_m[k])
        assert bound <= GEOD.inv(*start, *end)[2] + 1e-6


@pytest.mark.parametrize("place", PLACES)
def test_a_pair_just_within_the_cutoff_survives_and_one_beyond_it_does_not(place):
    """Two points 1 cm nearer than the cutoff; and 1 % farther, where boxes of points are exact."""
    here = PLACES[place]
    for bearing in (0.0, 45.0, 90.0, 135.0, 180.0, 270.0):
        there = moved(here, bearing, 9260.0)
        one = Side.of(cut(edges([(*here, *here)], [0])), 1)
        two = Side.of(cut(edges([(*there, *there)], [0])), 1)
        assert len(near_pairs(one, two, 9260.01)[0]) == 1
        assert len(near_pairs(one, two, 9260.0 / 1.01)[0]) == 0


@pytest.mark.parametrize("kind", list(LineKind))
@pytest.mark.parametrize("place", ["mid latitude", "across 180", "at 85 north"])
def test_the_middle_of_a_long_edge_survives_although_both_its_ends_are_far(kind, place):
    """An edge of 260 nmi passes 1 km from a point; its corners are 240 km away."""
    here = PLACES[place]
    if place == "at 85 north":
        start, end = (here[0], 80.6), (here[0], 88.5)
    else:
        start, end = moved(here, 0.0, 240_000.0), moved(here, 180.0, 240_000.0)
        start, end = (here[0], start[1]), (here[0], end[1])
    point = moved(here, 90.0, 1000.0)
    one = Side.of(cut(edges([(*point, *point)], [0])), 1)
    two = Side.of(cut(edges([(*start, *end)], [0], kind)), 1)
    assert len(near_pairs(one, two, 1001.0)[0]) == 1
    assert len(near_pairs(one, two, 500.0)[0]) == 0


@pytest.mark.parametrize("azimuth", [0.0, 90.0, 45.0])
def test_a_piece_that_bulges_out_of_the_box_of_its_ends_survives(azimuth):
    """A chord of 990 m runs 2 cm under the surface; a point is 5 cm from the middle of the true line."""
    start = moved((0.0, 0.0), azimuth + 180.0, 495.0)
    end = moved((0.0, 0.0), azimuth, 495.0)
    point = moved((0.0, 0.0), azimuth + 90.0, 0.05)
    one = Side.of(cut(edges([(*point, *point)], [0])), 1)
    two = Side.of(cut(edges([(*start, *end)], [0])), 1)
    assert len(two.pieces) == 1
    assert len(near_pairs(one, two, 0.0501)[0]) == 1


def test_owners_without_pieces_are_near_to_nothing():
    one = Side.of(cut(edges([(0.0, 0.0, 0.1, 0.0)], [1])), 3)
    two = Side.of(cut(edges([(0.0, 0.0, 0.1, 0.0)], [0])), 2)
    pairs = near_pairs(one, two, np.inf)
    assert [c.tolist() for c in pairs] == [[1], [0]]


@pytest.mark.parametrize("count", [1, 2, FAN, FAN + 1, FAN**2 + 1, 1000])
def test_every_piece_lies_in_the_box_of_its_root(count):
    rng = np.random.default_rng(SEED + count)
    way = walk(rng, (10.0, 60.0), count, 200.0)
    pieces = cut(edges(np.hstack([way[:-1], way[1:]]), np.zeros(count)))
    tree = grow(pieces, 1)
    low, high = (np.array(corner) for corner in corners(tree, int(tree.root[0])))
    for points in (pieces.start_m, pieces.end_m, to_geocentric(way[:, 0], way[:, 1])):
        assert (points >= low).all()
        assert (points <= high).all()


@pytest.mark.parametrize("counts", [[1], [2, 0, 1, 9], [FAN**2 + 1, 3, 1, 70], [0, 700, 0]])
def test_every_box_holds_all_below_it_and_every_owner_has_its_pieces(counts):
    """Walked from the root down: boxes against those of their pieces, worked out here."""
    rng = np.random.default_rng(SEED + sum(counts))
    corners_deg = walk(rng, (-179.99, 60.0), sum(counts), 300.0)
    owner = np.repeat(np.arange(len(counts)), counts)
    pieces = cut(edges(np.hstack([corners_deg[:-1], corners_deg[1:]]), owner))
    tree, first = grow(pieces, len(counts)), 0
    lowest = np.minimum(pieces.start_m, pieces.end_m) - pieces.swell_m[:, None]
    highest = np.maximum(pieces.start_m, pieces.end_m) + pieces.swell_m[:, None]
    seen = 0
    for number, count in enumerate(counts):
        assert (tree.root[number] >= 0) == (count > 0)
        ahead = [int(tree.root[number])] if count else []
        if ahead:
            assert pieces_below(tree, ahead[0]) == (first, first + count - 1)
        while ahead:
            node = ahead.pop()
            seen += 1
            one, last = pieces_below(tree, node)
            low, high = corners(tree, node)
            np.testing.assert_array_equal(low, lowest[one : last + 1].min(axis=0))
            np.testing.assert_array_equal(high, highest[one : last + 1].max(axis=0))
            if node >= len(pieces):
                child = int(tree.first_child[node - len(pieces)])
                ahead += range(child, child + int(tree.child_count[node - len(pieces)]))
        first += count
    assert seen == len(pieces) + len(tree.low_m), "a box that hangs nowhere"


@pytest.mark.parametrize("kind", list(LineKind))
def test_no_curve_is_nearer_to_a_point_than_its_gap(kind):
    """Points beside pieces of every kind of line, against 41 places of each piece's edge."""
    rng = np.random.default_rng(SEED + len(kind))
    lon, lat = rng.uniform(-179.0, 179.0, 60), rng.uniform(-70.0, 70.0, 60)
    ends = GEOD.fwd(lon, lat, rng.uniform(0.0, 360.0, 60), 10.0 ** rng.uniform(0.0, 3.3, 60))
    pieces = cut(edges(np.stack([lon, lat, *ends[:2]], axis=1), np.zeros(60), kind))
    shares = np.linspace(0.0, 1.0, 41)
    for piece, edge in enumerate(pieces.edge):
        far_m = 10.0 ** rng.uniform(-2.0, 5.0)
        beside = GEOD.fwd(lon[edge], lat[edge], rng.uniform(0.0, 360.0), far_m)[:2]
        point = to_geocentric(*beside)
        part = pieces.from_part[piece] + shares * (pieces.to_part[piece] - pieces.from_part[piece])
        one = [np.full(41, column[edge]) for column in (lon, lat, ends[0], ends[1])]
        curve = to_geocentric(*points_along(kind, *one, part))
        least_m = np.sqrt(((curve - point) ** 2).sum(axis=1)).min()
        ends_m = tuple(pieces.start_m[piece]), tuple(pieces.end_m[piece])
        gap_m = curve_gap(tuple(point), *ends_m, pieces.swell_m[piece]) ** 0.5
        assert gap_m <= least_m + 1e-6
        # The places looked at are up to 50 m apart.
        assert gap_m >= least_m - 2.0 * pieces.swell_m[piece] - 40.0


def test_longitudes_written_a_turn_apart_are_the_same_place():
    """180 and -180 are one meridian."""
    one = Side.of(cut(edges([(180.0, 10.0, 180.0, 10.1)], [0])), 1)
    two = Side.of(cut(edges([(-180.0, 10.0, wrapped(180.0), 10.1)], [0])), 1)
    assert len(near_pairs(one, two, 0.001)[0]) == 1


@pytest.mark.parametrize(("shortest_m", "longest_m"), [(1.0, 1e5), (1e5, 1e6), (1e6, 4.9e6), (4.9e6, 1.9e7)])
def test_arcs_lie_between_their_bounds_at_every_distance(shortest_m, longest_m):
    """20 000 random geodesics of pyproj (GeographicLib): no bound may ever be on the wrong side."""
    geod, random = GEOD, np.random.default_rng(20261125)
    n = 20_000
    lat = np.degrees(np.arcsin(random.uniform(-0.999, 0.999, n)))
    lon, azimuth = random.uniform(-180.0, 180.0, n), random.uniform(0.0, 360.0, n)
    lon1, lat1, _ = geod.fwd(lon, lat, azimuth, random.uniform(shortest_m, longest_m, n))
    _, _, arc_m = geod.inv(lon, lat, lon1, lat1)
    chord_m = np.linalg.norm(to_geocentric(lon1, lat1) - to_geocentric(lon, lat), axis=1)
    least_m = np.array([least_arc(c) for c in chord_m.tolist()])
    assert (least_m <= arc_m + 1e-6).all()
    longest_m = np.array([greatest_chord(a) for a in arc_m.tolist()])
    assert (longest_m >= chord_m - 1e-6).all(), "a box within reach would be dropped"
    assert (longest_m <= chord_m + 1.1 * (arc_m - chord_m) + 1e-6).all(), "a bound that keeps everything"


@pytest.mark.parametrize("broken", [np.nan, np.inf])
def test_a_piece_without_a_place_is_refused_and_never_far_away(broken):
    """A box that is no number compares as far from everything: that would be a false clear."""
    ends = to_geocentric([0.0, 1.0], [50.0, 51.0])
    ends[1, 2] = broken
    with pytest.raises(GeometryError):
        grow(Pieces.each_alone(ends, ends), 2)
