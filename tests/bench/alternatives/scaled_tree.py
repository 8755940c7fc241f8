"""shapely alone: an STRtree over zones in degrees scaled by the cosine of the middle latitude."""

from __future__ import annotations

import numpy as np
import shapely

from alternatives.common import REACH_M, Answer, Fixes, Table, answer_of, areas, geometries, outlines
from towzone.model.zone import Zone

METRES_PER_DEGREE = 111_195.0
"""From memory: a degree on a sphere of 6 371 km."""


class ScaledTree:
    """One scale for all: cheap, and wrong by more the farther north or south of the middle."""

    name = "shapely STRtree, scaled degrees"

    def __init__(self, zones: tuple[Zone, ...]) -> None:
        shapes = geometries(zones)
        bounds = shapely.total_bounds(shapes)
        north_m = METRES_PER_DEGREE
        self.scale = np.array([north_m * np.cos(np.radians((bounds[1] + bounds[3]) / 2.0)), north_m])
        self.shapes = shapely.transform(shapes, lambda degrees: degrees * self.scale)
        self.outline = outlines(self.shapes)
        self.areas = np.flatnonzero(areas(self.shapes))
        shapely.prepare(self.shapes)

    def table(self, fixes: Fixes) -> Table:
        parts = []
        for first, some in fixes.blocks():
            points = shapely.points(np.column_stack([some.lon_deg, some.lat_deg]) * self.scale)
            tree = shapely.STRtree(points)
            zone, fix = tree.query(self.shapes, predicate="dwithin", distance=REACH_M)
            area, held = tree.query(self.shapes[self.areas], predicate="contains")
            inside = np.isin(zone * len(some) + fix, self.areas[area] * len(some) + held)
            apart = shapely.distance(self.outline[zone], points[fix])
            parts.append((fix + first, zone, np.where(inside, -apart, apart)))
        return Table.of(parts)

    def answer(self, fixes: Fixes) -> Answer:
        return answer_of(self.table(fixes), fixes.second)
