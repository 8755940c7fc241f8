"""The truth, slowly: clearances by the oracles of the tests, which share no code with the product.

Bits of boundaries are only *picked* with coarse distances between points, with room for all that those may
be wrong by; what is told is a distance to the line itself (`tests/oracles.py`, under 1 mm).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from alternatives.common import REACH_M, Fixes, Table, areas, densified
from scipy.spatial import cKDTree

from towzone.model.zone import Zone

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import oracles

STEP_M = 100.0
"""Points along boundaries: coarse distances are at most half of it too long."""
ROOM_M = 75.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Zone:
    kind: str
    corners: np.ndarray  # closed where it is an area
    shape: shapely.Geometry
    is_area: bool
    points: np.ndarray
    edge: np.ndarray  # of each point
    tree: cKDTree


class Exact:
    """Exact clearances from some zones; others are never looked at."""

    def __init__(self, zones: tuple[Zone, ...]) -> None:
        self.zones = zones
        self._known: dict[int, _Zone] = {}

    def table(self, fixes: Fixes) -> Table:
        """Return the pairs within 5 nmi, inside ones with minus."""
        parts = []
        for number in range(len(self.zones)):
            fix = self._maybe_near(fixes, number)
            if len(fix):
                clearance = self.signed(number, fixes.lon_deg[fix], fixes.lat_deg[fix])
                near = clearance <= REACH_M
                parts.append((fix[near], np.full(near.sum(), number), clearance[near]))
        return Table.of(parts)

    def signed(self, number: int, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        """Return the signed clearance of points from one zone."""
        zone = self._zone(number)
        place = oracles._ball(lon, lat)
        coarse, _ = zone.tree.query(place)
        picked = zone.tree.query_ball_point(place, coarse + ROOM_M)
        pairs = sorted({(row, edge) for row, some in enumerate(picked) for edge in zone.edge[some].tolist()})
        row, edge = np.array(pairs).T
        line = oracles.Lines.between(zone.kind, *zone.corners[edge].T, *zone.corners[edge + 1].T)
        apart = np.full(len(lon), np.inf)
        np.minimum.at(apart, row, oracles.distance_to_line(line, lon[row], lat[row]))
        inside = zone.is_area & shapely.contains_xy(zone.shape, lon, lat)
        return np.where(inside, -apart, apart)

    def least(self, number: int, fixes: Fixes) -> float:
        """Return the least clearance of all of a trip from one zone, also between two fixes."""
        zone = self._zone(number)
        place = oracles._ball(fixes.lon_deg, fixes.lat_deg)
        coarse, _ = zone.tree.query(place)
        inside = zone.is_area & shapely.contains_xy(zone.shape, fixes.lon_deg, fixes.lat_deg)
        signed = np.where(inside, -coarse, coarse)
        # Two fixes are less than 30 m apart; coarse distances from far are only a little too long.
        best = signed.min()
        slack = 30.0 + np.hypot(best, STEP_M / 2.0) - abs(best)
        near = np.flatnonzero(signed <= best + slack)
        near = near[np.argsort(signed[near], kind="stable")]
        fix = self.signed(number, fixes.lon_deg[near], fixes.lat_deg[near])
        return self._between(number, fixes, near[fix <= fix.min() + 6.0], best)

    def _between(self, number: int, fixes: Fixes, near: np.ndarray, best: float) -> float:
        """Return the least clearance on the legs beside some fixes: ever finer, where it may be least."""
        legs = np.unique(np.concatenate([near - 1, near]))
        legs = legs[(legs >= 0) & (legs < len(fixes) - 1)]
        low, high = legs.astype(float), legs + 1.0
        for _ in range(5):
            part = low + (high - low) * np.linspace(0.0, 1.0, 9)[:, None]
            leg = np.minimum(part.astype(int), len(fixes) - 2)
            lon, lat = (c[leg] + (part - leg) * (c[leg + 1] - c[leg]) for c in (fixes.lon_deg, fixes.lat_deg))
            found = self.signed(number, lon.ravel(), lat.ravel()).reshape(part.shape)
            best = found.min()
            step_m = 15.0 * (high - low).max() / 8.0
            kept = found.min(axis=0) <= best + step_m
            at = part[found.argmin(axis=0), np.arange(part.shape[1])][kept]
            width = (high - low)[kept] / 8.0
            low, high = np.maximum(at - width, 0.0), np.minimum(at + width, len(fixes) - 1.0)
        return float(best)

    def _maybe_near(self, fixes: Fixes, number: int) -> np.ndarray:
        zone = self._zone(number)
        coarse, _ = zone.tree.query(oracles._ball(fixes.lon_deg, fixes.lat_deg))
        inside = zone.is_area & shapely.contains_xy(zone.shape, fixes.lon_deg, fixes.lat_deg)
        return np.flatnonzero(inside | (coarse <= REACH_M + ROOM_M))

    def _zone(self, number: int) -> _Zone:
        if number not in self._known:
            zone = self.zones[number]
            shape = densified((zone,), STEP_M)[0]
            corners = zone.shape.polygons[0][0] if zone.shape.polygons else zone.shape.lines[0]
            corners = np.vstack([corners, corners[:1]]) if zone.shape.polygons else corners
            points = shapely.get_coordinates(shape)
            # Every corner begins an edge; the points between come behind it.
            begins = np.zeros(len(points), dtype=int)
            at = 0
            for corner in corners[1:]:
                at += 1 + int(np.argmax((points[at + 1 :] == corner).all(axis=1)))
                begins[at] = 1
            edge = np.minimum(np.cumsum(begins), len(corners) - 2)
            shapely.prepare(shape)
            self._known[number] = _Zone(
                kind=zone.edges.value,
                corners=corners,
                shape=shape,
                is_area=bool(areas(np.array([shape]))[0]),
                points=points,
                edge=edge,
                tree=cKDTree(oracles._ball(*points.T)),
            )
        return self._known[number]
