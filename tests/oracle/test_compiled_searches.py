"""The compiled searches against brute force: every piece against every piece, in numpy, with no tree.

The second way finds nearest points with the column functions of `ellipsoid` and plain geometry of its own;
lengths beyond 100 km are pyproj's geodesics.
"""

from __future__ import annotations

import numpy as np
import pytest
from scenes import GEOD, edges
from strategies import wrapped

from towzone.errors import GeometryError
from towzone.geodesy import points
from towzone.geodesy.approach import Side, closest, detours, near_pairs, reaches
from towzone.geodesy.ellipsoid import arc_from_chord, arc_vectors, from_geocentric, to_geocentric
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pairs import nearest_of_piece, reach_of_piece
from towzone.geodesy.pieces import Pieces, cut
from towzone.geodesy.walks import closest_to_point, new_stack

SEED = 20260501
AXES = np.array([6378137.0, 6378137.0, 6356752.314245179])
PLACES = {"equator": (0.0, 0.0), "north": (5.0, 55.0), "180": (179.95, -60.0), "pole": (100.0, 88.5)}
SIZES = {"harbour": (0.0003, 0.004), "bay": (0.01, 0.1), "sea": (0.05, 0.5), "ocean": (0.2, 12.0)}


def lifted(xyz):
    return xyz / np.sqrt(((xyz / AXES) ** 2).sum(axis=-1))[..., None]


def length_m(a, b):
    """Arcs up to 100 km, geodesics beyond."""
    arc = arc_from_chord(a, b)
    far = arc > 100_000.0
    arc[far] = GEOD.inv(*from_geocentric(a[far]), *from_geocentric(b[far]))[2]
    return arc


def dot(a, b):
    return (a * b).sum(axis=-1)


def nearest_m(a0, a1, b0, b1):
    """Distance of every piece a to every piece b, shape (a, b)."""
    a0, a1, b0, b1 = (np.asarray(p) for p in (a0[:, None], a1[:, None], b0[None], b1[None]))
    middle = lifted((a0 + a1) / 2.0)
    p0, p1, q0, q1 = (arc_vectors(middle, p) for p in (a0, a1, b0, b1))
    u, v, w = p1 - p0, q1 - q0, q0 - p0

    def onto(point, start, along):
        square = dot(along, along)
        return np.clip(dot(point - start, along) / np.where(square > 0.0, square, 1.0), 0.0, 1.0)

    zero = np.zeros(np.broadcast_shapes(p0.shape, q0.shape)[:-1])
    tries = [
        (zero, onto(p0, q0, v)),
        (zero + 1.0, onto(p1, q0, v)),
        (onto(q0, p0, u), zero),
        (onto(q1, p0, u), zero + 1.0),
    ]
    apart = np.stack(
        [
            dot(s[..., None] * u - w - t[..., None] * v, s[..., None] * u - w - t[..., None] * v)
            for s, t in tries
        ]
    )
    best = apart.argmin(axis=0)[None]
    s, t = (np.take_along_axis(np.stack([k[i] + zero for k in tries]), best, axis=0)[0] for i in (0, 1))
    turn = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        x = (w[..., 0] * v[..., 1] - w[..., 1] * v[..., 0]) / turn
        y = (w[..., 0] * u[..., 1] - w[..., 1] * u[..., 0]) / turn
    crossing = (
        (np.abs(turn) > 1e-12 * np.sqrt(dot(u, u) * dot(v, v))) & (x >= 0) & (x <= 1) & (y >= 0) & (y <= 1)
    )
    s = np.where(crossing, x, s)
    on_a, on_b = lifted(a0 + s[..., None] * (a1 - a0)), lifted(b0 + t[..., None] * (b1 - b0))
    shape = s.shape
    apart_m = length_m(on_a.reshape(-1, 3), on_b.reshape(-1, 3)).reshape(shape)
    return np.where(crossing, 0.0, apart_m)


def wiggles(rng, place, owners, steps, size):
    """Lines of several owners; some have legs of no length, some hold one place twice, one owns nothing."""
    step_deg, spread_deg = SIZES[size]
    rows, owner = [], []
    for number in range(owners):
        if number == 1:
            continue
        corners = np.cumsum(rng.normal(0.0, step_deg, (int(rng.integers(2, steps)), 2)) * (1.0, 0.6), axis=0)
        corners += np.array(place) + rng.normal(0.0, spread_deg, 2) * (1.0, 0.5)
        corners[-1] = corners[-2] if number % 3 == 0 else corners[-1]
        corners[-1] = corners[0] if number % 3 == 2 else corners[-1]
        corners = np.column_stack([wrapped(corners[:, 0]), np.clip(corners[:, 1], -88.9, 88.9)])
        rows.append(np.hstack([corners[:-1], corners[1:]]))
        owner += [number] * (len(corners) - 1)
    return np.concatenate(rows), np.array(owner)


@pytest.fixture(scope="module", params=[(p, s) for p in PLACES for s in SIZES], ids="-".join)
def scene(request):
    """Two sides, the numbers of all pairs of owners, and the distances of all pieces."""
    place, size = request.param
    rng = np.random.default_rng([SEED, *map(ord, place + size)])
    steps = 7 if size == "ocean" else 20
    path = Side.of(cut(edges(*wiggles(rng, PLACES[place], 6, steps, size))), 6)
    kind = list(LineKind)[len(place) % 3]
    edge = Side.of(cut(edges(*wiggles(rng, PLACES[place], 5, 6 + steps // 4, size), kind)), 5)
    a, b = path.pieces, edge.pieces
    return path, edge, nearest_m(a.start_m, a.end_m, b.start_m, b.end_m), rng


def by_owner(scene):
    """Least distance of each pair of owners, shape (6, 5), infinite where one owns nothing."""
    path, edge, apart_m, _ = scene
    least = np.full((6, 5), np.inf)
    for i in range(6):
        for k in range(5):
            some = apart_m[path.pieces.owner == i][:, edge.pieces.owner == k]
            least[i, k] = some.min(initial=np.inf)
    return least


def every_pair():
    i, k = np.indices((6, 5))
    return i.ravel(), k.ravel()


def test_closest_is_the_least_of_all_pairs_of_pieces(scene):
    path, edge, apart_m, rng = scene
    i, k = every_pair()
    least_m = by_owner(scene).ravel()
    some = np.isfinite(least_m)
    for cutoff_m in (np.full(30, np.inf), np.where(some, least_m * rng.uniform(0.5, 1.5, 30), 0.0)):
        found = closest(path, i, edge, k, cutoff_m)
        near = some & (least_m <= cutoff_m)
        np.testing.assert_allclose(found.distance_m[near], least_m[near], rtol=0, atol=1e-6)
        assert np.isinf(found.distance_m[~near & (least_m > cutoff_m + 0.003)]).all()
        assert (found.path_piece[~some] == -1).all()
        a, b = found.path_piece[near], found.edge_piece[near]
        assert (path.pieces.owner[a] == i[near]).all()
        assert (edge.pieces.owner[b] == k[near]).all()
        np.testing.assert_allclose(apart_m[a, b], least_m[near], rtol=0, atol=1e-6)
        # The places told are as far apart as is told.
        ends = (found.path_lon_deg, found.path_lat_deg, found.edge_lon_deg, found.edge_lat_deg)
        told_m = GEOD.inv(*(column[near] for column in ends))[2]
        np.testing.assert_allclose(told_m, found.distance_m[near], rtol=0, atol=2e-3)
        # No piece before the one told is as near.
        for row, piece, least in zip(np.flatnonzero(near), a, least_m[near], strict=True):
            before = (path.pieces.owner == i[row]) & (np.arange(len(path.pieces)) < piece)
            assert apart_m[before][:, edge.pieces.owner == k[row]].min(initial=np.inf) > least - 1e-6
    assert np.isfinite(least_m).sum() == 20


def boxes_of(pieces):
    low, high = np.minimum(pieces.start_m, pieces.end_m), np.maximum(pieces.start_m, pieces.end_m)
    return low - pieces.swell_m[:, None], high + pieces.swell_m[:, None]


def test_near_pairs_are_those_with_any_two_boxes_near(scene):
    """Boxes of single pieces, all against all; cutoffs of their own for paths and boundaries."""
    path, edge, _, rng = scene
    (low, high), (edge_low, edge_high) = boxes_of(path.pieces), boxes_of(edge.pieces)
    gap = np.maximum(np.maximum(low[:, None] - edge_high, edge_low - high[:, None]), 0.0)
    chord = np.sqrt((gap**2).sum(axis=-1))
    arc_m = chord + 0.99 * chord**3 / (24.0 * 6_400_000.0**2)
    middling = np.median(by_owner(scene)[np.isfinite(by_owner(scene))])
    cutoff_m = rng.uniform(0.0, 2.0 * middling + 1.0, 5)
    kept = set(zip(*(c.tolist() for c in near_pairs(path, edge, cutoff_m)), strict=True))
    for i in range(6):
        for k in range(5):
            least = arc_m[path.pieces.owner == i][:, edge.pieces.owner == k].min(initial=np.inf)
            if abs(least - cutoff_m[k] - 0.002) > 1e-3 + 1e-6 * least:
                assert ((i, k) in kept) == (least <= cutoff_m[k] + 0.002)


def test_reaches_are_the_parts_of_each_piece_within_the_limit(scene):
    """Eleven points of every piece against every piece of the boundary."""
    path, edge, _, rng = scene
    i, k = every_pair()
    least_m = np.where(np.isfinite(by_owner(scene).ravel()), by_owner(scene).ravel(), 0.0)
    limit_m = least_m * rng.uniform(0.8, 1.3, 30) + rng.uniform(0.0, 300.0, 30)
    # In a plane of its own each piece is true to 1 cm up to some ten kilometres.
    asked = np.flatnonzero(limit_m < 20_000.0)
    found = reaches(path, i[asked], edge, k[asked], limit_m[asked]).each_piece()
    assert (
        np.lexsort((found.last, found.first, found.path_piece, found.pair)) == np.arange(len(found.pair))
    ).all()
    parts = np.linspace(0.0, 1.0, 11)
    a, b = path.pieces, edge.pieces
    for number, pair in enumerate(asked):
        own = np.flatnonzero(a.owner == i[pair])
        other = np.flatnonzero(b.owner == k[pair])
        if not (len(own) and len(other)):
            assert number not in found.pair
            continue
        start, end = a.start_m[own], a.end_m[own]
        at = lifted((start[:, None] + parts[:, None] * (end - start)[:, None]).reshape(-1, 3))
        off_m = nearest_m(at, at, b.start_m[other], b.end_m[other]).min(axis=1).reshape(len(own), 11)
        mine = found.pair == number
        for piece, distances in zip(own, off_m, strict=True):
            rows = mine & (found.path_piece == piece)
            first, last = found.first[rows][:, None], found.last[rows][:, None]
            within = ((parts >= first - 1e-9) & (parts <= last + 1e-9)).any(axis=0)
            assert within[distances < limit_m[pair] - 0.01].all()
            assert not within[distances > limit_m[pair] + 0.01].any()


def test_detours_are_the_shortest_way_over_any_piece(scene):
    """A hundred and one places on every piece, of 1 km and less, from foci near and far."""
    _, edge, _, rng = scene
    b = edge.pieces
    corner = from_geocentric(b.start_m[0])
    spread = np.array([0.01, 0.1, 0.5, 3.0])[:, None]
    lat = np.clip(corner[1] + rng.normal(0.0, 1.0, (4, 2)) * spread, -89.0, 89.0)
    xyz = to_geocentric(corner[0] + rng.normal(0.0, 1.0, (4, 2)) * spread, lat)
    foci = Side.of(Pieces.each_alone(xyz[:, 0], xyz[:, 1]), 4)
    gap, zone = (c.ravel() for c in np.indices((4, 5)))

    got = detours(foci, gap, edge, zone, np.full(20, 1e7))

    parts = np.linspace(0.0, 1.0, 101)[:, None, None]
    touch = lifted(b.start_m + parts * (b.end_m - b.start_m)).reshape(-1, 3)
    for number in range(20):
        mine = np.tile(b.owner == zone[number], 101)
        if not mine.any():
            assert np.isinf(got[number])
            continue
        some = touch[mine]
        p, q = (np.broadcast_to(point, some.shape).copy() for point in xyz[gap[number]])
        wanted = (length_m(p, some) + length_m(some, q)).min()
        # Between two of 101 places on a piece of 1 km the way is shorter by what 5 m aside cost, at most.
        assert wanted - 5.0 <= got[number] <= wanted + 1e-3
        assert np.isinf(
            detours(foci, gap[[number]], edge, zone[[number]], np.array([got[number] - 0.01]))
        ).all()
        assert np.isfinite(
            detours(foci, gap[[number]], edge, zone[[number]], np.array([got[number] + 0.01]))
        ).all()


def test_single_points_are_found_as_pairs_of_owners_are(scene):
    """The search for other compiled code tells the same as `closest`."""
    path, edge, _, _ = scene
    stack = new_stack()
    for i in range(0, len(path.pieces), max(1, len(path.pieces) // 12)):
        start = tuple(path.pieces.start_m[i].tolist())
        point = np.array([start])
        from_point = nearest_m(point, point, edge.pieces.start_m, edge.pieces.end_m)[0]
        for owner in (0, 1, 4):
            mine = edge.pieces.owner == owner
            root = int(edge.tree.root[owner])
            distance_m, piece, _ = closest_to_point(start, edge.tree, root, np.inf, stack)
            if not mine.any():
                assert (distance_m, piece) == (np.inf, -1)
                continue
            if from_point[mine].min() < 100_000.0:
                assert abs(distance_m - from_point[mine].min()) < 1e-6
                assert abs(from_point[piece] - distance_m) < 1e-6


def test_of_equally_near_places_the_earliest_is_told():
    """A path back and forth over a line: nine crossings, then nine touches of one end."""
    there, back = (0.0, 50.0, 0.02, 50.0), (0.02, 50.0, 0.0, 50.0)
    path = Side.of(cut(edges([there, back] * 4 + [there], [0] * 9)), 1)
    one, none = np.zeros(1, dtype=np.int64), np.array([np.inf])
    across = Side.of(cut(edges([(0.01, 49.9, 0.01, 50.1)], [0])), 1)
    found = closest(path, one, across, one, none)
    assert found.distance_m[0] == 0.0
    assert path.pieces.edge[found.path_piece[0]] == 0
    beside = Side.of(cut(edges([(0.03, 49.9, 0.03, 50.1)], [0])), 1)
    found = closest(path, one, beside, one, none)
    assert path.pieces.edge[found.path_piece[0]] == 0
    assert found.path_part[0] == 1.0


def test_many_owners_are_searched_without_losing_any():
    """300 x 200 points over a sea; some boundaries have a wide cutoff among narrow ones."""
    rng = np.random.default_rng(SEED)
    lon, lat = rng.uniform(-10.0, 10.0, 500), rng.uniform(48.0, 60.0, 500)
    xyz = to_geocentric(lon, lat)
    path = Side.of(Pieces.each_alone(xyz[:300], xyz[:300]), 300)
    edge = Side.of(Pieces.each_alone(xyz[300:], xyz[300:]), 200)
    cutoff_m = 10.0 ** rng.uniform(1.0, 5.5, 200)
    i, k = (c.ravel() for c in np.indices((300, 200)))
    apart_m = GEOD.inv(lon[i], lat[i], lon[300 + k], lat[300 + k])[2].reshape(300, 200)

    kept = np.zeros((300, 200), dtype=bool)
    order = near_pairs(path, edge, cutoff_m)
    kept[order] = True

    assert kept[apart_m <= cutoff_m].all()
    # Boxes of points are points; the bound of their arc falls short by a hundredth of its excess.
    assert not kept[apart_m > cutoff_m * 1.001 + 0.01].any()
    assert (np.lexsort(order[::-1]) == np.arange(len(order[0]))).all()


class TestRefusals:
    """What is no number stops the search; it never passes for far."""

    side = staticmethod(lambda: Side.of(cut(edges([(0.0, 50.0, 0.1, 50.0)], [0])), 1))
    zero = np.zeros(1, dtype=np.int64)

    @pytest.mark.parametrize("search", [closest, reaches, detours])
    def test_a_limit_that_is_no_number(self, search):
        path = Side.of(Pieces.each_alone(*[to_geocentric([0.0], [50.1])] * 2), 1)
        with pytest.raises(GeometryError):
            search(path, self.zero, self.side(), self.zero, np.array([np.nan]))

    def test_an_endless_limit_of_reaches(self):
        with pytest.raises(GeometryError):
            reaches(self.side(), self.zero, self.side(), self.zero, np.array([np.inf]))

    @pytest.mark.parametrize("cutoff_m", [np.nan, [np.nan]])
    def test_a_cutoff_that_is_no_number(self, cutoff_m):
        with pytest.raises(GeometryError):
            near_pairs(self.side(), self.side(), cutoff_m)

    @pytest.mark.parametrize("search", [closest, reaches, detours])
    @pytest.mark.parametrize("owner", [-1, 1])
    def test_an_owner_that_is_not_there(self, search, owner):
        """Compiled code would read what lies beside the column."""
        path = Side.of(Pieces.each_alone(*[to_geocentric([0.0], [50.1])] * 2), 1)
        for one, other in ((np.array([owner]), self.zero), (self.zero, np.array([owner]))):
            with pytest.raises(IndexError):
                search(path, one, self.side(), other, np.array([1e5]))

    def test_foci_of_more_than_one_piece(self):
        path = Side.of(cut(edges([(0.0, 50.0, 0.1, 50.0)], [0])), 1)
        with pytest.raises(IndexError):
            detours(path, self.zero, self.side(), self.zero, np.array([1e5]))

    @pytest.mark.parametrize("broken", [np.nan, np.inf])
    @pytest.mark.parametrize("place", range(4))
    def test_points_without_a_place(self, broken, place):
        """Where compiled code is called without the checks of trees, it hands back NaN, or infinity."""
        xyz = [tuple(p.tolist()) for p in to_geocentric([0.0, 0.1, 0.0, 0.2], [50.0, 50.1, 50.2, 50.3])]
        xyz[place] = (xyz[place][0], broken, xyz[place][2])
        assert np.isnan(nearest_of_piece(*xyz)[0])
        assert np.isnan(reach_of_piece(*xyz, 100.0)).all()
        if place < 2:
            assert not np.isfinite(points.arc(xyz[0], xyz[1]))


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_place_that_is_no_number_is_never_far_from_everything(scene, axis):
    """Dropped by a comparison it would be told as nowhere near, which is clear."""
    edge = scene[1]
    place = list(map(float, edge.pieces.start_m[0]))
    place[axis] = np.nan
    root, stack = edge.tree.root[edge.pieces.owner[0]], new_stack()
    for bound_m in (1_000.0, np.inf):
        assert np.isnan(closest_to_point(tuple(place), edge.tree, root, bound_m, stack)[0])
