"""What the search drops is far, what it keeps is near: pre-selection, reaches, detours by brute force."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import KINDS, Lines, clearances, distance_m, distance_to_line
from strategies import random_pairs

from towzone.geodesy import approach
from towzone.geodesy.edges import Edges
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import cut

SEED = 20260305
TOLERANCE_M = 0.01


def side(line):
    """Lines as one side of a search, each its own owner."""
    n = len(line)
    edges = Edges(
        lon0_deg=line.lon0,
        lat0_deg=line.lat0,
        lon1_deg=line.lon1,
        lat1_deg=line.lat1,
        owner=np.arange(n),
        kind=np.full(n, LineKind(line.kind), dtype=object),
    )
    pieces = cut(edges)
    return approach.Side.of(pieces, n)


def gathered(rng, kind, n=40):
    """Edges of a kind round one place and paths among them, so that most pairs are neither near nor far."""
    lon, lat = (rng.normal(c, s, (2, n)) for c, s in ((179.9, 0.6), (rng.uniform(-75.0, 75.0), 0.3)))
    wrap = (lon + 180.0) % 360.0 - 180.0
    path = Lines.between("geodesic", wrap[0], lat[0], wrap[0] + rng.normal(0.0, 0.05, n), lat[0] + 0.02)
    path = Lines("geodesic", path.lon0, path.lat0, (path.lon1 + 180.0) % 360.0 - 180.0, path.lat1)
    far_lon, far_lat = wrap[1] + rng.normal(0.0, 1.0, n), lat[1] + rng.normal(0.0, 0.5, n)
    return path, Lines.between(kind, wrap[1], lat[1], (far_lon + 180.0) % 360.0 - 180.0, far_lat)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("cutoff_m", [0.0, 500.0, 9260.0])
def test_preselection_keeps_every_near_pair_and_drops_most_far_ones(kind, cutoff_m):
    """No pair within the cutoff is lost; none beyond it by more than the pieces' size is kept."""
    path, edge = gathered(np.random.default_rng(SEED), kind)
    n = len(path)
    every_path, every_edge = (i.ravel() for i in np.indices((n, n)))
    truth = clearances(path.take(every_path), edge.take(every_edge)).distance_m

    a, b = approach.near_pairs(side(path), side(edge), np.full(n, cutoff_m))

    kept = np.zeros((n, n), dtype=bool)
    kept[a, b] = True
    kept = kept[every_path, every_edge]
    near = truth <= cutoff_m + 1e-6  # brute force finds crossings to a micrometre
    assert near.sum() >= 5
    assert (truth > cutoff_m + 5_000.0).sum() > 100
    assert kept[near].all()
    # Pieces are at most 1 km long, so boxes of two reach out by less than 1 km each way and axis.
    assert not kept[truth > cutoff_m + 5_000.0].any()


@pytest.mark.parametrize("kind", KINDS)
def test_a_cutoff_just_below_and_just_above_the_clearance(kind):
    """The closest approach is found at a cutoff of its own size, and is nothing a metre below it."""
    pairs = random_pairs(np.random.default_rng(SEED), "geodesic", kind, 240)
    truth = clearances(pairs.path, pairs.edge).distance_m
    path, edge, each = side(pairs.path), side(pairs.edge), np.arange(240)

    above = approach.closest(path, each, edge, each, truth + TOLERANCE_M)
    below = approach.closest(path, each, edge, each, np.maximum(truth - 1.0, 0.0))

    np.testing.assert_allclose(above.distance_m, truth, rtol=0, atol=TOLERANCE_M)
    assert np.isinf(below.distance_m[truth > 2.0]).all()
    assert np.isnan(below.path_lon_deg[truth > 2.0]).all()


@pytest.mark.parametrize("kind", KINDS)
def test_reaches_cover_what_is_within_the_limit_and_nothing_else(kind):
    """Of 101 points on each path those nearer than the limit are in a stretch, those farther are not."""
    rng = np.random.default_rng(SEED)
    pairs = random_pairs(rng, "geodesic", kind, 120)
    limit_m = clearances(pairs.path, pairs.edge).distance_m + 10.0 ** rng.uniform(-1.0, 4.0, 120)
    path, each = side(pairs.path), np.arange(120)

    found = approach.reaches(path, each, side(pairs.edge), each, limit_m).each_piece()

    u = np.linspace(0.0, 1.0, 101)
    judged = {True: 0, False: 0}
    for pair in each:
        many = np.full(len(u), pair)
        lon, lat, _, _ = pairs.path.take(many).at(u)
        distance = distance_to_line(pairs.edge.take(many), lon, lat)
        mine = found.pair == pair
        start, end = (
            path.pieces.from_part[found.path_piece[mine]],
            path.pieces.to_part[found.path_piece[mine]],
        )
        first, last = (start + part[mine] * (end - start) for part in (found.first, found.last))
        # A fraction is only good to the nanometres its degrees are good to.
        slack = 1e-9 + 1e-7 / max(float(pairs.path.take([pair]).inverse()[0][0]), 1e-3)
        within = ((u[:, None] >= first - slack) & (u[:, None] <= last + slack)).any(axis=1)
        assert within[distance < limit_m[pair] - TOLERANCE_M].all()
        assert not within[distance > limit_m[pair] + TOLERANCE_M].any()
        judged[True] += int(within.sum())
        judged[False] += int((~within).sum())
    assert min(judged.values()) > 1_000


@pytest.mark.parametrize("kind", KINDS)
def test_detours_are_the_shortest_way_over_the_edge(kind):
    """From one end of the path over the edge to the other end: a fine search along the edge agrees."""
    rng = np.random.default_rng(SEED)
    pairs = random_pairs(rng, "geodesic", kind, 240)
    short = pairs.path.inverse()[0] < 900.0
    path, edge = pairs.path.take(short), pairs.edge.take(short)
    n = len(path)
    each, low, high = np.arange(n), np.zeros(n), np.ones(n)

    def way(v):
        lon, lat, _, _ = edge.at(v)
        return distance_m(path.lon0, path.lat0, lon, lat) + distance_m(lon, lat, path.lon1, path.lat1)

    # Start at the least of 1 001 places, then close in; the way is convex beside its least.
    grid = np.array([way(np.full(n, v)) for v in np.linspace(0.0, 1.0, 1001)])
    best = grid.argmin(axis=0)
    low, high = np.maximum(best - 1, 0) / 1000.0, np.minimum(best + 1, 1000) / 1000.0
    for _ in range(60):
        third = (high - low) / 3.0
        left = way(low + third) < way(high - third)
        low, high = np.where(left, low, low + third), np.where(left, high - third, high)
    truth = np.minimum(way((low + high) / 2.0), grid.min(axis=0))

    got = approach.detours(side(path), each, side(edge), each, np.full(n, 100_000.0))
    none = approach.detours(side(path), each, side(edge), each, truth * 0.999 - 1.0)

    assert n > 60
    np.testing.assert_allclose(got, truth, rtol=0, atol=TOLERANCE_M)
    assert np.isinf(none).all()
