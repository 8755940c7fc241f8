"""A result as map features: GeoJSON (RFC 7946) text, or a GeoDataFrame of the rows.

Lines are densified so that drawing them straight in longitude and latitude is true to a metre, and cut
at 180 degrees as RFC 7946 section 3.1.9 asks.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import outline
from towzone.geodesy.shape import Shape, freeze
from towzone.model.result import CheckResult, Row, Tow
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone
from towzone.tables.gear_features import corridors, paths
from towzone.tables.geometry import assembled, beside
from towzone.tables.plan_features import plan_features, role_of
from towzone.tables.result_json import result_as_data

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

__all__ = ["to_geodataframe", "to_geojson"]

_TOLERANCE_M = 1.0


def to_geojson(result: CheckResult) -> str:
    """Return zones, tracks, tows and closest-approach lines as one FeatureCollection.

    With the gear, its paths and corridors too. The property ``feature`` says what a feature is: ``zone``,
    ``track``, ``tow``, ``gear_path``, ``gear_corridor`` or ``closest_approach``; the other properties are
    those of the JSON result. Of a plan ``line`` tells ``wanted`` from ``corrected``, and there are
    ``plan_event``, ``advised_line``, ``advised_point`` and ``narrowest_place``.
    """
    data = result_as_data(result)
    features = [
        *(_feature("zone", data["zones"][n], _zone_geometry(z)) for n, z in enumerate(result.zones)),
        *(
            _feature(
                "track", _short(data["tracks"][n]) | role_of(t.track_id, result), _track_geometry(t, result)
            )
            for n, t in enumerate(result.tracks)
        ),
        *(
            _feature("tow", data["tows"][n] | role_of(t.track_id, result), _tow_geometry(t, result))
            for n, t in enumerate(result.tows)
        ),
        *(_feature("gear_path", own | role_of(own["track_id"], result), g) for own, g in paths(result.gear)),
        *(
            _feature("gear_corridor", own | role_of(own["track_id"], result), g)
            for own, g in corridors(result.gear)
        ),
        *(
            _feature("closest_approach", _flat(data["rows"][n]), _approach_geometry(row))
            for n, row in enumerate(result.rows)
            if row.closest is not None
        ),
        *(_feature(*feature) for feature in plan_features(result)),
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
    return GeoDataFrame([_flat(rows[number]) for number in chosen], geometry=geometry, crs="EPSG:4326")


def _feature(name: str, properties: dict[str, Any], geometry: BaseGeometry) -> dict[str, Any]:
    shape = json.loads(shapely.to_geojson(shapely.set_precision(geometry, 1e-7, mode="pointwise")))
    return {"type": "Feature", "properties": {"feature": name, **properties}, "geometry": shape}


def _short(properties: dict[str, Any]) -> dict[str, Any]:
    """Leave out lists; a feature's properties stay flat."""
    return {key: value for key, value in properties.items() if not isinstance(value, list | dict)}


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row without lists; what it knows of the gear, if anything, in properties of its own."""
    gear = {f"gear_{key}": value for key, value in (row["gear"] or {}).items()}
    return _short({key: value for key, value in row.items() if key != "gear"} | gear)


def _zone_geometry(zone: Zone) -> BaseGeometry:
    parts: list[BaseGeometry] = []
    strings = iter(outline(zone.shape, zone.edges, tolerance_m=_TOLERANCE_M))
    for polygon in zone.shape.polygons:
        shell, _ = next(strings)
        holes = [beside(next(strings)[0], shell) for _ in polygon[1:]]
        parts.append(shapely.Polygon(shell, holes))
    for corners, _ in strings:
        parts.append(shapely.Point(corners[0]) if len(corners) == 1 else shapely.LineString(corners))
    return assembled(parts)


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
    return assembled(parts)


def _approach_geometry(row: Row) -> BaseGeometry:
    if row.closest is None:
        return shapely.GeometryCollection()
    here = row.closest
    ends = freeze([(here.lon_deg, here.lat_deg), (here.zone_lon_deg, here.zone_lat_deg)])
    if (ends[0] == ends[1]).all():
        return shapely.Point(ends[0])
    return assembled([shapely.LineString(outline(Shape(lines=(ends,)), LineKind.GEODESIC)[0][0])])
