"""Outlines at a distance from a zone, and areas made one: for the eye only, no finding uses them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from towzone.geodesy.lines import LineKind, direct
from towzone.record.drawn.crowded import simplified
from towzone.record.drawn.frame import LonLat, metres_per_degree, polygons_of

__all__ = ["dissolved", "grown"]

_BAND_DEG = 0.2
"""Own choice: over 0.2 degrees of latitude a degree of longitude changes by 0.6 % at 60 degrees,
so an outline 0.5 nmi off is drawn within about 3 m."""

_PIECE = 16  # own choice: around a longer piece of a jagged line the outlines of its corners are too many
_OFF = 0.004  # own choice: a line may be this share of the distance off: 4 m of 0.5 nmi
_DEGREE_M = 111_700.0  # a degree of latitude is nowhere longer
_SAG_M = 0.5  # own choice: with the rounding of the data true to 1 m
_CIRCLE_LATITUDE_DEG = 85.0  # the chart ends there


def grown(shapes: Sequence[shapely.Geometry], distance_m: float) -> shapely.Geometry:
    """Return all that lies within a distance of shapes drawn in degrees, approximately.

    Parameters
    ----------
    shapes : sequence of shapely geometries
        Polygons, lines and points in degrees, one frame of longitude, straight in longitude and latitude.
    distance_m : float
        Metres, more than 0.

    Returns
    -------
    shapely geometry
        Polygon or multipolygon in degrees; around points alone true to 1 m.
    """
    if _are_points(shapes, distance_m):
        places = [shapely.get_coordinates(shape) for shape in shapes]
        return shapely.union_all([_circle(place, distance_m) for place in np.vstack(places)])
    # What lies inside is covered up to the outline and beyond, so it may be as rough as that is wide.
    rough_deg = 0.2 * distance_m / _DEGREE_M
    areas = [shape for shape in shapes if shapely.get_dimensions(shape) == 2]
    parts = [shapely.make_valid(shapely.simplify(area, rough_deg, preserve_topology=False)) for area in areas]
    for shape in shapes:
        for string in _strings(shape):
            few = simplified(string, _OFF * distance_m) if len(string) > 2 else string
            parts.extend(_around(piece, distance_m) for piece in _pieces(few))
    around = shapely.union_all(parts)
    return shapely.simplify(around, _OFF * distance_m / 2.0 / _DEGREE_M, preserve_topology=True)


def _are_points(shapes: Sequence[shapely.Geometry], distance_m: float) -> bool:
    """Return whether circles do: a circle around a pole, or half the earth, has no inside on a flat chart."""
    farthest_deg = max(float(np.abs(shapely.bounds(shape)[[1, 3]]).max()) for shape in shapes)
    flat = farthest_deg + distance_m / _DEGREE_M < _CIRCLE_LATITUDE_DEG
    return flat and all(shapely.get_dimensions(shape) == 0 for shape in shapes)


def _circle(place: LonLat, distance_m: float) -> shapely.Geometry:
    # The middle of a side lies r (1 - cos(pi / n)) within the circle, about r pi^2 / 2 n^2.
    sides = max(int(np.ceil(np.sqrt(distance_m * np.pi**2 / 2.0 / _SAG_M))), 24)
    course = np.arange(sides) * (360.0 / sides)
    around = (np.full(sides, place[0]), np.full(sides, place[1]))
    lon, lat = direct(LineKind.GEODESIC, *around, course, np.full(sides, distance_m))
    lon = place[0] + (lon - place[0] + 180.0) % 360.0 - 180.0
    return shapely.Polygon(np.column_stack([lon, lat]))


def _strings(shape: shapely.Geometry) -> Iterator[LonLat]:
    if shapely.get_dimensions(shape) == 2:
        for polygon in shapely.get_parts(shape):
            for ring in shapely.get_rings(polygon):
                yield shapely.get_coordinates(ring)
    else:
        for part in shapely.get_parts(shape):
            yield shapely.get_coordinates(part)


def _pieces(string: LonLat) -> Iterator[LonLat]:
    # One flat scale serves a piece, so no piece may reach over much latitude.
    if len(string) == 1:
        yield string
        return
    points = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(string), _BAND_DEG))
    start = 0
    low = high = points[0, 1]
    for i in range(1, len(points)):
        low, high = min(low, points[i, 1]), max(high, points[i, 1])
        if high - low > _BAND_DEG or i - start >= _PIECE or i == len(points) - 1:
            yield points[start : i + 1]
            start, low, high = i, points[i, 1], points[i, 1]


def _around(piece: LonLat, distance_m: float) -> shapely.Geometry:
    lat_deg = (piece[:, 1].min() + piece[:, 1].max()) / 2.0
    scale = np.array(metres_per_degree(float(lat_deg)))
    flat = piece * scale
    shape = shapely.points(flat[0]) if len(flat) == 1 else shapely.linestrings(flat)
    around = shapely.buffer(shape, distance_m, quad_segs=12)
    return shapely.transform(around, lambda xy: xy / scale)


def dissolved(areas: Sequence[tuple[LonLat, ...]]) -> list[tuple[LonLat, ...]]:
    """Return areas (shell before holes) with those that touch or overlap made one.

    A single area that is sound is returned as it is.
    """
    shapes = [shapely.Polygon(area[0], area[1:]) for area in areas]
    if len(shapes) == 1 and shapely.is_valid(shapes[0]):
        return list(areas)
    union = shapely.union_all([shapely.make_valid(shape) for shape in shapes])
    return [
        tuple(shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part))
        for part in polygons_of(union)
    ]
