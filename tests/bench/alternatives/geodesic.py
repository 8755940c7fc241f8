"""pyproj.Geod, brute force: the geodesic from each fix to points every so often along each boundary."""

from __future__ import annotations

import numpy as np
import shapely

from alternatives.common import REACH_M, WGS84, Answer, Fixes, Table, answer_of, areas, densified, geometries
from towzone.model.zone import Zone

STEP_M = 250.0
"""Own choice: finer is slower in proportion; what lies between two points costs up to half of it."""
DEGREE_M = 110_500.0
"""From memory: less than a degree of latitude anywhere."""


class Geodesic:
    """No index but boxes: a zone is looked at where its box, grown by 5 nmi, holds the fix."""

    name = f"pyproj.Geod, brute force, points every {STEP_M:g} m"

    def __init__(self, zones: tuple[Zone, ...]) -> None:
        self.shapes = geometries(zones)
        shapely.prepare(self.shapes)
        self.points = [shapely.get_coordinates(one) for one in densified(zones, STEP_M)]
        west, south, east, north = shapely.bounds(self.shapes).T
        lat = REACH_M / DEGREE_M
        lon = lat / np.cos(np.radians(np.abs(north) + lat))
        self.box = west - lon, south - lat, east + lon, north + lat
        self.is_area = areas(self.shapes)

    def table(self, fixes: Fixes) -> Table:
        parts = []
        west, south, east, north = self.box
        for zone, points in enumerate(self.points):
            lon, lat = fixes.lon_deg, fixes.lat_deg
            boxed = (lon >= west[zone]) & (lon <= east[zone]) & (lat >= south[zone]) & (lat <= north[zone])
            fix = np.flatnonzero(boxed)
            inside = shapely.contains_xy(self.shapes[zone], lon[fix], lat[fix]) & self.is_area[zone]
            apart = np.array([self._least(lon[one], lat[one], points) for one in fix.tolist()])
            kept = inside | (apart <= REACH_M)
            parts.append((fix[kept], np.full(kept.sum(), zone), np.where(inside, -apart, apart)[kept]))
        return Table.of(parts)

    @staticmethod
    def _least(lon: float, lat: float, points: np.ndarray) -> float:
        there = np.full(len(points), lon), np.full(len(points), lat)
        return float(WGS84.inv(*there, points[:, 0], points[:, 1])[2].min())

    def answer(self, fixes: Fixes) -> Answer:
        return answer_of(self.table(fixes), fixes.second)
