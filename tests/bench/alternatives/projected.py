"""geopandas in one projection: joined either way round, and by zone where only the answer is asked for."""

from __future__ import annotations

import geopandas
import numpy as np
import pandas
import pyproj

from alternatives.common import (
    REACH_M,
    Answer,
    Fixes,
    Table,
    answer_of,
    areas,
    changes,
    densified,
    geometries,
    outlines,
)
from towzone.model.zone import Zone


class Projected:
    """Everything in a Lambert equal-area projection around the data, and joined by its spatial index."""

    name = "geopandas, zones joined to fixes"

    def __init__(self, zones: tuple[Zone, ...], step_m: float | None = None) -> None:
        shapes = geometries(zones) if step_m is None else densified(zones, step_m)
        if step_m is not None:
            self.name = f"the same, edges cut every {step_m:g} m"
        there = geopandas.GeoSeries(shapes, crs=4326)
        west, south, east, north = there.total_bounds
        self.crs = pyproj.CRS(f"+proj=laea +lat_0={(south + north) / 2} +lon_0={(west + east) / 2} +units=m")
        self.zones = geopandas.GeoDataFrame(geometry=there).to_crs(self.crs)
        self.outline = geopandas.GeoSeries(outlines(self.zones.geometry.values), crs=self.crs)
        self.areas = self.zones[areas(self.zones.geometry.values)]

    def points(self, fixes: Fixes) -> geopandas.GeoDataFrame:
        places = geopandas.points_from_xy(fixes.lon_deg, fixes.lat_deg, crs=4326)
        return geopandas.GeoDataFrame(geometry=places).to_crs(self.crs)

    def table(self, fixes: Fixes) -> Table:
        parts = []
        for first, some in fixes.blocks():
            points = self.points(some)
            zone, fix = self.near(points)
            inside = self.areas.sjoin(points, predicate="contains")
            apart = self.outline.iloc[zone].distance(points.geometry.iloc[fix], align=False).to_numpy()
            held = pandas.MultiIndex.from_arrays([zone, fix]).isin(
                pandas.MultiIndex.from_arrays([inside.index, inside["index_right"]])
            )
            parts.append((fix + first, zone, np.where(held, -apart, apart)))
        return Table.of(parts)

    def near(self, points: geopandas.GeoDataFrame) -> tuple[np.ndarray, np.ndarray]:
        """Return pairs of zone and fix; zones on the left are prepared, which is the faster way round."""
        found = self.zones.sjoin(points, predicate="dwithin", distance=REACH_M)
        return found.index.to_numpy(), found["index_right"].to_numpy()

    def answer(self, fixes: Fixes) -> Answer:
        return answer_of(self.table(fixes), fixes.second)


class ByFix(Projected):
    """The same with the fixes on the left of the join, the way that reads most plainly."""

    name = "geopandas, fixes joined to zones"

    def near(self, points: geopandas.GeoDataFrame) -> tuple[np.ndarray, np.ndarray]:
        found = points.sjoin(self.zones, predicate="dwithin", distance=REACH_M)
        return found["index_right"].to_numpy(), found.index.to_numpy()


class ByZone(Projected):
    """For the answer alone: the fix nearest to each zone, then only the fixes inside one by one."""

    name = "geopandas, sjoin_nearest by zone"

    def answer(self, fixes: Fixes) -> Answer:
        points = self.points(fixes)
        inside = self.areas.sjoin(points, predicate="contains")
        entered = self.zones.index.isin(inside.index)
        outside = self.zones[~entered].sjoin_nearest(points, max_distance=REACH_M, distance_col="apart_m")
        least = outside.groupby(level=0)["apart_m"].min().to_dict()
        zone, fix = inside.index.to_numpy(), inside["index_right"].to_numpy()
        depth = self.outline.iloc[zone].distance(points.geometry.iloc[fix], align=False).to_numpy()
        least |= (-pandas.Series(depth).groupby(zone).max()).to_dict()
        order = np.lexsort((fix, zone))
        return Answer(least_m=least, **changes(fix[order], zone[order], fixes.second))
