"""The deepest point of a path inside an area against a fine walk along the path."""

from __future__ import annotations

import numpy as np
import pytest
from depths import deepest
from oracles import GEOD, KINDS, Lines, distance_m, distance_to_line
from strategies import random_polygons, wrapped

from towzone.geodesy.approach import Side
from towzone.geodesy.depth import Stays
from towzone.geodesy.edges import Edges
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import cut

SEED = 20260306
TOLERANCE_M = 0.01


def pieces_of(line, owner):
    return cut(
        Edges(
            lon0_deg=line.lon0,
            lat0_deg=line.lat0,
            lon1_deg=line.lon1,
            lat1_deg=line.lat1,
            owner=owner,
            kind=np.full(len(line), LineKind(line.kind), dtype=object),
        )
    )


@pytest.mark.parametrize("kind", KINDS)
def test_the_deepest_point_is_as_deep_as_the_deepest_of_a_fine_walk(kind):
    """Straight paths through the middle of areas: depth to 1 cm of the deepest of 201 places."""
    rng = np.random.default_rng(SEED + KINDS.index(kind))
    for _ in range(5):
        ring = random_polygons(rng, kind)[0][0]
        ends = np.roll(ring, -1, axis=0)
        edge = Lines.between(kind, ring[:, 0], ring[:, 1], ends[:, 0], ends[:, 1])
        middle = edge.at(np.full(len(edge), 0.5))
        start, end = ((wrapped(middle[0][i]), middle[1][i]) for i in (0, len(edge) // 2))
        path = Lines.between("geodesic", *start, *end)
        pieces = pieces_of(path, np.zeros(1, dtype=np.int64))
        whole = Stays(np.zeros(1, np.int64), np.full(1, len(pieces) - 1), np.zeros(1), np.ones(1))
        boundary = Side.of(pieces_of(edge, np.zeros(len(edge), dtype=np.int64)), 1)

        found = deepest(Side.of(pieces, 1), 0, whole, boundary, 0)

        assert abs(found.depth_m - deepest_by_walking(path, edge)) < TOLERANCE_M
        apart = distance_m(found.lon_deg, found.lat_deg, found.edge_lon_deg, found.edge_lat_deg)
        assert abs(float(apart) - found.depth_m) < TOLERANCE_M
        assert distance_to_line(path, found.lon_deg, found.lat_deg)[0] < TOLERANCE_M


def deepest_by_walking(path, edge):
    """Greatest distance to the nearest edge: a walk of 201 steps, finer ones round its best three."""

    def depth(u):
        lon, lat, _, _ = path.take(np.zeros(len(u), dtype=int)).at(u)
        every = np.tile(np.arange(len(edge)), len(u))
        lon, lat = np.repeat(lon, len(edge)), np.repeat(lat, len(edge))
        return distance_to_line(edge.take(every), lon, lat).reshape(len(u), -1).min(axis=1)

    u = np.linspace(0.0, 1.0, 201)
    first = depth(u)
    best = first.max()
    for place in np.argsort(first)[-3:]:
        centre, width = u[place], 1.0 / 200.0
        for _ in range(8):
            near = np.clip(np.linspace(centre - width, centre + width, 21), 0.0, 1.0)
            found = depth(near)
            centre, width = near[found.argmax()], width / 8.0
            best = max(best, found.max())
    return best


def test_walking_knows_the_depth_of_a_strip():
    """Known without computing: half way between two points of a lon/lat box on the equator's meridians."""
    edge = Lines.between("lonlat", [0.0, 2.0], [-5.0, -5.0], [0.0, 2.0], [5.0, 5.0])
    path = Lines.between("geodesic", 0.0, 0.0, 2.0, 0.0)

    wanted = GEOD.inv(0.0, 0.0, 1.0, 0.0)[2]

    assert abs(deepest_by_walking(path, edge) - wanted) < 0.001
