"""Planned lines as GeoJSON (RFC 7946): the lines, true to a metre as drawn, and their corners."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from towzone.geodesy.lines import LineKind, inverse
from towzone.geodesy.pieces import outline
from towzone.geodesy.shape import Shape, freeze
from towzone.model.plan import PlannedLine
from towzone.tables.feature_text import collection_text, feature_as_data
from towzone.tables.geometry import assembled

__all__ = ["lines_geojson"]

_TOLERANCE_M = 1.0
_ABOUT = (
    "Planned lines and their corners. Lines have points between corners, so that they may be drawn straight"
    " in longitude and latitude; steer by the corners."
)


def lines_geojson(lines: Sequence[PlannedLine], legs: LineKind) -> str:
    """Return planned lines as one FeatureCollection.

    The property ``feature`` says what a feature is: ``planned_line``, a LineString with points between its
    corners (or several, where it is cut at 180 degrees), or ``corner``, a Point.

    Parameters
    ----------
    lines : sequence of PlannedLine
    legs : LineKind
        How their corners are joined.
    """
    features = [feature for line in lines for feature in _features(line, legs)]
    return collection_text(features, _ABOUT)


def _features(line: PlannedLine, legs: LineKind) -> Iterator[dict[str, Any]]:
    lon, lat = line.lon_deg, line.lat_deg
    length_m, _ = inverse(legs, lon[:-1], lat[:-1], lon[1:], lat[1:])
    yield feature_as_data(
        {
            "feature": "planned_line",
            "line": line.name,
            "source": line.source,
            "edges": legs.value,
            "corners": len(line),
            "length_m": round(float(length_m.sum()), 2),
        },
        _geometry(line, legs),
    )
    for number, name in enumerate(line.point_names, start=1):
        corner = {"feature": "corner", "line": line.name, "number": number, "name": name}
        yield feature_as_data(corner, assembled([shapely.Point(lon[number - 1], lat[number - 1])]))


def _geometry(line: PlannedLine, legs: LineKind) -> BaseGeometry:
    corners = freeze(np.stack([line.lon_deg, line.lat_deg], axis=1))
    drawn, _ = outline(Shape(lines=(corners,)), legs, tolerance_m=_TOLERANCE_M)[0]
    return assembled([shapely.LineString(drawn)])
