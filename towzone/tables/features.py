"""A result as map features: GeoJSON (RFC 7946) text, or a GeoDataFrame of the rows.

Lines are densified so that drawing them straight in longitude and latitude is true to a metre, and cut
at 180 degrees as RFC 7946 section 3.1.9 asks.
"""

from __future__ import annotations

import json
import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import outline
from towzone.geodesy.shape import Shape, freeze
from towzone.model.result import CheckResult, Row, Tow
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone
from towzone.tables.result_json import result_as_data

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

__all__ = ["to_geodataframe", "to_geojson"]

_TOLERANCE_M = 1.0


def to_geojson(result: CheckResult) -> str:
    """Return zones, tracks, tows and closest-approach lines as one FeatureCollection.

    The property ``feature`` says which of the four (``zone``, ``track``, ``tow``, ``closest_approach``) a
    feature is; the other properties are those of the JSON result.
    """
    data = result_as_data(result)
    features = [
        *(_feature("zone", data["zones"][n], _zone_geometry(z)) for n, z in enumerate(result.zones)),
        *(
            _feature("track", _short(data["tracks"][n]), _track_geometry(t, result))
            for n, t in enumerate(result.tracks)
        ),
        *(_feature("tow", data["tows"][n], _tow_geometry(t, result)) for n, t in enumerate(result.tows)),
        *(
            _feature("closest_approach", _short(data["rows"][n]), _approach_geometry(row))
            for n, row in enumerate(result.rows)
            if row.closest is not None
        ),
    ]
    collection = {"type": "FeatureCollection", "features": features}
    return json.dumps(collection, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def to_geodataframe(result: CheckResult) -> GeoDataFrame:
    """Return the rows that have a closest approach as a GeoDataFrame of lines, EPSG:4326.

    Distances and predicates on it are planar in degrees: use the columns, not the geometry, for judging.
    """
    from geopandas import GeoDataFrame

    rows = result_as_data(result)["rows"]
    chosen = [number for number, row in enumerate(result.rows) if row.closest is not None]
    geometry = [_approach_geometry(result.rows[number]) for number in chosen]
    return GeoDataFrame([_short(rows[number]) for number in chosen], geometry=geometry, crs="EPSG:4326")


def _feature(name: str, properties: dict[str, Any], geometry: BaseGeometry) -> dict[str, Any]:
    shape = json.loads(shapely.to_geojson(shapely.set_precision(geometry, 1e-7, mode="pointwise")))
    return {"type": "Feature", "properties": {"feature": name, **properties}, "geometry": shape}


def _short(properties: dict[str, Any]) -> dict[str, Any]:
    """Leave out lists; a feature's properties stay flat."""
    return {key: value for key, value in properties.items() if not isinstance(value, list | dict)}


def _zone_geometry(zone: Zone) -> BaseGeometry:
    parts: list[BaseGeometry] = []
    strings = iter(outline(zone.shape, zone.edges, tolerance_m=_TOLERANCE_M))
    for polygon in zone.shape.polygons:
        shell, _ = next(strings)
        holes = [_beside(next(strings)[0], shell) for _ in polygon[1:]]
        parts.append(shapely.Polygon(shell, holes))
    for corners, _ in strings:
        parts.append(shapely.Point(corners[0]) if len(corners) == 1 else shapely.LineString(corners))
    return _assembled(parts)


def _beside(hole: FloatArray, shell: FloatArray) -> FloatArray:
    """Return a hole in the turn of longitudes that its shell was unrolled into."""
    turns = np.round((shell[:, 0].mean() - hole[:, 0].mean()) / 360.0)
    return np.asarray(hole + np.array([360.0 * turns, 0.0]))


def _track_geometry(track: Track, result: CheckResult) -> BaseGeometry:
    breaks = {gap.fix + 1 for gap in result.gaps[track.track_id]}
    return _run_geometry(track, 0, len(track) - 1, breaks, _leg_kind(track, result))


def _tow_geometry(tow: Tow, result: CheckResult) -> BaseGeometry:
    track = next(track for track in result.tracks if track.track_id == tow.track_id)
    breaks = {gap.fix + 1 for gap in result.gaps[tow.track_id]}
    return _run_geometry(track, tow.first, tow.last, breaks, _leg_kind(track, result))


def _leg_kind(track: Track, result: CheckResult) -> LineKind:
    return LineKind(str(result.settings["legs"])) if track.kind is TrackKind.PLANNED else LineKind.GEODESIC


def _run_geometry(track: Track, first: int, last: int, breaks: set[int], kind: LineKind) -> BaseGeometry:
    """Return a line for each stretch of fixes without a gap, a point for a fix between two gaps."""
    cuts = [first, *sorted(b for b in breaks if first < b <= last), last + 1]
    lon_lat = np.stack([track.lon_deg, track.lat_deg], axis=1)
    parts: list[BaseGeometry] = []
    for begin, end in pairwise(cuts):
        if end - begin == 1:
            parts.append(shapely.Point(lon_lat[begin]))
        else:
            line = Shape(lines=(freeze(lon_lat[begin:end]),))
            parts.append(shapely.LineString(outline(line, kind, tolerance_m=_TOLERANCE_M)[0][0]))
    return _assembled(parts)


def _approach_geometry(row: Row) -> BaseGeometry:
    if row.closest is None:
        return shapely.GeometryCollection()
    here = row.closest
    ends = freeze([(here.lon_deg, here.lat_deg), (here.zone_lon_deg, here.zone_lat_deg)])
    if (ends[0] == ends[1]).all():
        return shapely.Point(ends[0])
    return _assembled([shapely.LineString(outline(Shape(lines=(ends,)), LineKind.GEODESIC)[0][0])])


def _assembled(parts: list[BaseGeometry]) -> BaseGeometry:
    """Return the parts, cut at 180 degrees, as the simplest geometry that holds them."""
    pieces = [piece for part in parts for piece in _cut(part)]
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


def _cut(part: BaseGeometry) -> list[BaseGeometry]:
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
