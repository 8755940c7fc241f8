"""Zones in the making to the text of a zone file: GeoJSON, the same bytes for the same zones.

References
----------
RFC 7946 (2016), The GeoJSON Format: sections 3.1.6 for winding and closed rings, 4 for WGS 84 longitude
and latitude. Shapes across 180 degrees are left uncut, with each longitude as it was given (section 3.1.9
says SHOULD).
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from towzone.errors import InputError, Problem
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.ellipsoid import wrap_longitude
from towzone.geodesy.shape import Corners, Shape
from towzone.model.draft import Draft

__all__ = ["to_zone_file", "zone_file_text"]


def to_zone_file(drafts: Sequence[Draft], name: str) -> tuple[str, ZoneFile]:
    """Return the text of a zone file and what the reader of zone files makes of it.

    Parameters
    ----------
    drafts : sequence of Draft
        At least one.
    name : str
        What to call the file in messages.

    Raises
    ------
    InputError
        The reader refuses what would be written, so nothing should be.
    """
    text = zone_file_text(drafts)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "zones.geojson"
        path.write_text(text, encoding="utf-8", newline="\n")
        try:
            read = read_zones(str(path))
        except InputError as error:
            raise InputError(name, error.problems) from error
    for draft, zone in zip(drafts, read.zones, strict=True):
        if _places(draft.shape) != _places(zone.shape):
            message = "the corners that would be written do not read back the same"
            raise InputError(name, [Problem(f"zone '{zone.zone_id}'", message)])
    return text, read


def zone_file_text(drafts: Sequence[Draft]) -> str:
    """Return a FeatureCollection with one feature a line, properties in the order given.

    Coordinates are written with the fewest digits that read back as the same number, at least as exact as
    they were printed; outer rings run anticlockwise, holes clockwise.
    """
    features = [
        _dumps({"type": "Feature", "properties": dict(draft.properties), "geometry": _geometry(draft.shape)})
        for draft in drafts
    ]
    body = ",\n".join(features)
    return f'{{"type": "FeatureCollection", "features": [\n{body}\n]}}\n'


def _dumps(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _geometry(shape: Shape) -> dict[str, object]:
    polygons = [
        [_ring(ring, hole=number > 0) for number, ring in enumerate(rings)] for rings in shape.polygons
    ]
    lines = [_positions(line) for line in shape.lines]
    points = _positions(shape.points)
    members = [
        _one_or_many(kind, coordinates)
        for kind, coordinates in (("Polygon", polygons), ("LineString", lines), ("Point", points))
        if coordinates
    ]
    return members[0] if len(members) == 1 else {"type": "GeometryCollection", "geometries": members}


def _one_or_many(kind: str, coordinates: Sequence[object]) -> dict[str, object]:
    if len(coordinates) == 1:
        return {"type": kind, "coordinates": coordinates[0]}
    return {"type": f"Multi{kind}", "coordinates": coordinates}


def _positions(corners: Corners) -> list[list[float]]:
    # Adding zero turns minus zero into zero.
    return [[float(lon) + 0.0, float(lat) + 0.0] for lon, lat in corners]


def _ring(ring: Corners, *, hole: bool) -> list[list[float]]:
    """Return a closed ring wound as RFC 7946 asks, beginning at its own first corner."""
    positions = _positions(ring)
    if (_twice_area(ring) < 0.0) != hole:
        positions = [positions[0], *positions[:0:-1]]
    return [*positions, positions[0]]


def _twice_area(ring: Corners) -> float:
    """Return twice the signed area in degrees, positive anticlockwise, without a jump at 180 degrees."""
    lon = np.concatenate([[0.0], np.cumsum(wrap_longitude(np.diff(ring[:, 0])))])
    lat = ring[:, 1] - ring[0, 1]
    return float(np.sum(lon * np.roll(lat, -1) - np.roll(lon, -1) * lat))


def _places(shape: Shape) -> list[list[tuple[float, float]]]:
    """Return every run of corners, rings as sets, to compare two shapes whatever their winding."""
    return [
        sorted({(float(lon), float(lat)) for lon, lat in corners})
        if closed
        else [(float(lon), float(lat)) for lon, lat in corners]
        for corners, closed in shape.strings()
    ]
