"""Geometries as RFC 7946 wants them: cut at 180 degrees, polygons wound outside left, holes right."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude

__all__ = ["assembled", "beside", "cut_at_180"]


def beside(hole: FloatArray, shell: FloatArray) -> FloatArray:
    """Return a hole in the turn of longitudes that its shell was unrolled into, both shape (n, 2)."""
    turns = np.round((shell[:, 0].mean() - hole[:, 0].mean()) / 360.0)
    return np.asarray(hole + np.array([360.0 * turns, 0.0]))


def assembled(parts: list[BaseGeometry]) -> BaseGeometry:
    """Return the parts, cut at 180 degrees, as the simplest geometry that holds them."""
    pieces = [piece for part in parts for piece in cut_at_180(part)]
    kinds = {piece.geom_type for piece in pieces}
    if len(pieces) == 1:
        return pieces[0]
    if kinds == {"Polygon"}:
        return shapely.MultiPolygon(pieces)
    if kinds == {"LineString"}:
        return shapely.MultiLineString(pieces)
    if kinds == {"Point"}:
        return shapely.MultiPoint(pieces)
    return shapely.GeometryCollection(pieces)


def cut_at_180(part: BaseGeometry) -> list[BaseGeometry]:
    """Return a geometry in pieces that each lie within [-180, 180], polygons wound as RFC 7946 asks."""
    if part.geom_type == "Point":
        return [shapely.Point(float(wrap_longitude(part.x)), part.y)]
    west, _, east, _ = part.bounds
    pieces = []
    first = math.floor((west + 180.0) / 360.0)
    for turn in range(first, max(first + 1, math.ceil((east + 180.0) / 360.0))):
        window = shapely.box(360.0 * turn - 180.0, -90.0, 360.0 * turn + 180.0, 90.0)
        inner = part if west >= window.bounds[0] and east <= window.bounds[2] else part.intersection(window)
        moved = shapely.transform(inner, lambda xy, turn=turn: xy - [360.0 * turn, 0.0])
        pieces += [p for p in shapely.get_parts(moved) if p.geom_type == part.geom_type]
    return [shapely.orient_polygons(piece) for piece in pieces]
