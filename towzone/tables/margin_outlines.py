"""Margins of zones as map features: the curves that a vessel and its gear must keep beyond, for plotters."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from towzone.errors import GeometryError
from towzone.geodesy.offset import Offset, offset_areas
from towzone.geodesy.pieces import outline
from towzone.model.zone import Zone
from towzone.tables.feature_text import collection_text, feature_as_data
from towzone.tables.geometry import assembled, beside

__all__ = ["margin_outlines"]

_TOLERANCE_M = 1.0
_ABOUT = (
    "Margin outlines of zones: the curves at radius and margin outside their boundaries (inside those of"
    " areas in which alone it is allowed), drawn not nearer, and up to true_to_m farther. They are for the"
    " vessel and for every part of its gear, which does not follow in its wake. Dates, gear and speeds for"
    " which rules hold are not in them, nor what is uncertain of positions and gear."
)


def margin_outlines(zones: Sequence[Zone], margins_m: Mapping[str, float]) -> str:
    """Return the margin outlines of zones as one FeatureCollection.

    Parameters
    ----------
    zones : sequence of Zone
    margins_m : mapping of str to float
        The margin that is asked for of each zone, by its id, metres.

    Returns
    -------
    str
        One feature for each zone, in their order: what must be kept out of as polygons with holes, or what
        must not be left (``keep`` says ``outside`` or ``inside``). Zones without radius and margin are their
        own outline, be it a line or a point. The geometry is null where there is none, and ``why`` says why.
    """
    return collection_text([_feature(zone, margins_m[zone.zone_id]) for zone in zones], _ABOUT)


def _feature(zone: Zone, margin_m: float) -> dict[str, Any]:
    inward = zone.rules.allowed_only_inside
    distance_m = zone.radius_m + margin_m
    geometry: BaseGeometry | None
    true_to_m: float | None = _TOLERANCE_M
    why = ""
    if distance_m == 0.0:
        geometry = _own(zone)
    else:
        try:
            found = offset_areas(zone.shape, zone.edges, distance_m, inward=inward)
        except GeometryError as error:
            geometry, true_to_m, why = None, None, str(error)
        else:
            geometry, true_to_m, why = _areas(found, distance_m)
    properties = {
        "feature": "margin_outline",
        "zone_id": zone.zone_id,
        "name": zone.name,
        "kind": zone.kind.value,
        "prohibits": [what.value for what in zone.prohibits],
        "keep": "inside" if inward else "outside",
        "radius_m": zone.radius_m,
        "margin_m": margin_m,
        "true_to_m": true_to_m,
    }
    return feature_as_data({**properties, "why": why} if why else properties, geometry)


def _areas(found: Offset, distance_m: float) -> tuple[BaseGeometry | None, float | None, str]:
    """Return the geometry of an outline, how true it is, and why there is none."""
    if not found.areas:
        return None, None, "no place in the area is as far from its boundary as the margin asks"
    polygons = [polygon for area in found.areas for polygon in _sound(area)]
    # What is rounded up is not said to be truer than it is.
    off_m = max(found.farthest_m - distance_m, distance_m - found.nearest_m, 0.0)
    return assembled(polygons), max(math.ceil(off_m * 10.0) / 10.0, _TOLERANCE_M), ""


def _sound(area: tuple[Any, ...]) -> Iterator[BaseGeometry]:
    polygon = shapely.Polygon(area[0], area[1:])
    # Where an outline comes back upon itself rounding may fold it.
    whole = polygon if polygon.is_valid else shapely.make_valid(polygon)
    for part in shapely.get_parts(whole):
        if part.geom_type == "Polygon":
            yield part
        elif part.geom_type == "MultiPolygon":
            yield from part.geoms


def _own(zone: Zone) -> BaseGeometry:
    """Return the boundary of a zone itself."""
    parts: list[BaseGeometry] = []
    strings = iter(outline(zone.shape, zone.edges, tolerance_m=_TOLERANCE_M))
    for polygon in zone.shape.polygons:
        shell, _ = next(strings)
        parts.append(shapely.Polygon(shell, [beside(next(strings)[0], shell) for _ in polygon[1:]]))
    for corners, _ in strings:
        parts.append(shapely.Point(corners[0]) if len(corners) == 1 else shapely.LineString(corners))
    return assembled(parts)
