"""What goes into alternatives and comes out of them, and what several of them need."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import shapely
from pyproj import Geod, Transformer

from towzone.geodesy.lines import LineKind
from towzone.model.zone import Zone

REACH_M = 5.0 * 1852.0
WGS84 = Geod(ellps="WGS84")
MERCATOR = Transformer.from_crs(4326, 3395, always_xy=True)
"""Mercator on the ellipsoid, in which rhumb lines are straight."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fixes:
    """Fixes of one trip in order of time, as columns in memory."""

    second: np.ndarray
    lon_deg: np.ndarray
    lat_deg: np.ndarray

    def __len__(self) -> int:
        return len(self.second)

    def take(self, which) -> Fixes:
        return Fixes(second=self.second[which], lon_deg=self.lon_deg[which], lat_deg=self.lat_deg[which])

    def blocks(self, size: int = 100_000):
        """Yield the fixes in runs that fit into memory, and the number of the first of each."""
        for first in range(0, len(self), size):
            yield first, self.take(slice(first, first + size))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """Signed clearances, negative inside, one for each pair."""

    fix: np.ndarray
    zone: np.ndarray
    clearance_m: np.ndarray

    @classmethod
    def of(cls, parts) -> Table:
        """Return parts, as (fix, zone, clearance), as one."""
        fix, zone, clearance = (np.concatenate(column) for column in zip(*parts, strict=True))
        return cls(fix=fix, zone=zone, clearance_m=clearance)

    def looked_up(self, fix: np.ndarray, zone: np.ndarray) -> np.ndarray:
        """Return the clearances of some pairs, NaN for those that are not in the table."""
        width = int(max(self.zone.max(initial=0), zone.max(initial=0))) + 1
        keys = self.fix.astype(np.int64) * width + self.zone
        order = np.argsort(keys)
        wanted = fix.astype(np.int64) * width + zone
        at = np.minimum(np.searchsorted(keys[order], wanted), len(keys) - 1)
        found = keys[order][at] == wanted
        return np.where(found, self.clearance_m[order][at], np.nan)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """What a trip came to, by zone number: least clearance, negative inside; seconds of entries and exits."""

    least_m: dict[int, float]
    entries_s: dict[int, np.ndarray] = field(default_factory=dict)
    exits_s: dict[int, np.ndarray] = field(default_factory=dict)


class Alternative(Protocol):
    """See the package."""

    name: str

    def table(self, fixes: Fixes) -> Table: ...

    def answer(self, fixes: Fixes) -> Answer: ...


def geometries(zones: tuple[Zone, ...]) -> np.ndarray:
    """Return zones as geometries in degrees, edges straight there, as any reader of files would."""
    return np.array(
        [
            shapely.Polygon(zone.shape.polygons[0][0])
            if zone.shape.polygons
            else shapely.LineString(zone.shape.lines[0])
            for zone in zones
        ]
    )


def outlines(shapes: np.ndarray) -> np.ndarray:
    """Return the lines that clearances are measured to: boundaries of areas, lines themselves."""
    return np.where(areas(shapes), shapely.boundary(shapes), shapes)


def areas(shapes: np.ndarray) -> np.ndarray:
    return shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON


def densified(zones: tuple[Zone, ...], step_m: float) -> np.ndarray:
    """Return zones as geometries in degrees with a corner every so many metres, edges by their own rule."""
    made = []
    for zone in zones:
        area = bool(zone.shape.polygons)
        corners = zone.shape.polygons[0][0] if area else zone.shape.lines[0]
        corners = np.vstack([corners, corners[:1]]) if area else corners
        points = _points_along(corners, zone.edges, step_m)
        made.append(shapely.Polygon(points) if area else shapely.LineString(points))
    return np.array(made)


def _points_along(corners: np.ndarray, kind: LineKind, step_m: float) -> np.ndarray:
    parts = []
    for start, end in itertools.pairwise(corners):
        _, _, length_m = WGS84.inv(*start, *end)
        count = int(length_m // step_m)
        share = np.arange(1, count + 1)[:, None] / (count + 1)
        if kind is LineKind.GEODESIC and count:
            between = np.array(WGS84.npts(*start, *end, count))
        elif kind is LineKind.RHUMB and count:
            one, two = (np.array(MERCATOR.transform(*corner)) for corner in (start, end))
            between = np.column_stack(MERCATOR.transform(*(one + share * (two - one)).T, direction="INVERSE"))
        else:
            between = start + share * (end - start)
        parts += [start[None, :], between.reshape(-1, 2)]
    return np.vstack([*parts, corners[-1:]])


def answer_of(table: Table, second: np.ndarray) -> Answer:
    """Return what a table of clearances by fix comes to; entries and exits midway between two fixes."""
    order = np.lexsort((table.fix, table.zone))
    fix, zone, clearance = table.fix[order], table.zone[order], table.clearance_m[order]
    names, starts = np.unique(zone, return_index=True)
    least = np.minimum.reduceat(clearance, starts) if len(starts) else np.empty(0)
    inside = clearance < 0.0
    return Answer(
        least_m=dict(zip(names.tolist(), least.tolist(), strict=True)),
        **changes(fix[inside], zone[inside], second),
    )


def changes(fix: np.ndarray, zone: np.ndarray, second: np.ndarray) -> dict[str, dict[int, np.ndarray]]:
    """Return entries and exits by zone from the pairs (fix, zone) inside, sorted by zone, then fix."""
    follows = (np.diff(fix) == 1) & (np.diff(zone) == 0)
    begins = np.flatnonzero(np.append(True, ~follows)) if len(fix) else np.empty(0, dtype=int)
    ends = np.flatnonzero(np.append(~follows, True)) if len(fix) else np.empty(0, dtype=int)
    begins, ends = begins[fix[begins] > 0], ends[fix[ends] < len(second) - 1]
    entered_s = (second[fix[begins]] + second[fix[begins] - 1]) / 2.0
    left_s = (second[fix[ends]] + second[fix[ends] + 1]) / 2.0
    return {
        "entries_s": {one: entered_s[zone[begins] == one] for one in np.unique(zone[begins]).tolist()},
        "exits_s": {one: left_s[zone[ends] == one] for one in np.unique(zone[ends]).tolist()},
    }
