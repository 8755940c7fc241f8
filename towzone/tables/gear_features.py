"""The paths of the gear and the sea bed it swept, as geometries with their properties."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.gear import GearAccount, GearLine, GearTow, Ring
from towzone.tables.geometry import assembled, beside, cut_at_180
from towzone.tables.rounding import known

__all__ = ["corridors", "paths"]

_Feature = tuple[dict[str, Any], BaseGeometry]


def paths(account: GearAccount | None) -> Iterator[_Feature]:
    """Return one line, or several, for each part of the gear of each tow, with its properties."""
    for tow in account.tows if account else ():
        for part in dict.fromkeys(line.part for line in tow.lines):
            lines = [_line(line) for line in tow.lines if line.part == part and len(line.lon_deg) > 1]
            if lines:
                yield {**_whose(tow), "part": part}, assembled(lines)


def corridors(account: GearAccount | None) -> Iterator[_Feature]:
    """Return the areas swept between the doors and by the net, and the likely one, with their properties."""
    for tow in account.tows if account else ():
        swept = {"doors": tow.corridor, "net": tow.net_corridor, "likely": tow.likely}
        for part, areas in swept.items():
            if areas:
                size = {"swept_m2": known(tow.swept_m2)} if part == "doors" else {}
                yield {**_whose(tow), "part": part, **size}, _areas(areas)


def _whose(tow: GearTow) -> dict[str, Any]:
    return {"track_id": tow.track_id, "tow": tow.tow}


def _line(line: GearLine) -> BaseGeometry:
    return shapely.LineString(np.stack([_unrolled(line.lon_deg), line.lat_deg], axis=1))


def _unrolled(lon_deg: FloatArray) -> FloatArray:
    """Return longitudes without a jump at 180 degrees; they are not touched elsewhere."""
    turns = np.round(np.diff(lon_deg, prepend=lon_deg[:1]) / 360.0).cumsum()
    return np.asarray(lon_deg - 360.0 * turns)


def _areas(areas: tuple[tuple[Ring, ...], ...]) -> BaseGeometry:
    polygons = [shapely.Polygon(shell, [beside(hole, shell) for hole in holes]) for shell, *holes in areas]
    return shapely.MultiPolygon([piece for polygon in polygons for piece in cut_at_180(polygon)])
