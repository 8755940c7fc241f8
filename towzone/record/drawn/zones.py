"""Zones as drawn: outlines by their own edge rule, distances around them, a place for the name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from towzone.geodesy.pieces import outline
from towzone.model.zone import Zone
from towzone.record.drawn.crowded import MANY, clip_areas, clip_lines, fewer_corners
from towzone.record.drawn.frame import Box, LonLat, chart_true, metres_per_degree, near, polygons_of, shifted
from towzone.record.drawn.rings import grown
from towzone.units import NAUTICAL_MILE_M

__all__ = ["ZoneDrawing", "ZoneOutline", "draw_zone", "guarded_shapes", "outline_zone", "reaches_into"]

_OUTLINE_TOLERANCE_M = 0.5  # with 0.5 m more for the chart's own projection, drawn within 1 m
_GUARDED_M = 0.5 * NAUTICAL_MILE_M
_BEYOND = 0.5  # own choice: half a window more, so that the cut is no edge near anything
_WIDER = (
    2.0  # own choice: a degree of longitude is less than half as long only within 30 degrees of the poles
)
_GUARDED_SHARE = 1.02  # rings are drawn approximately; two per cent more keeps "at least" true


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneOutline:
    """The boundary of a zone as straight pieces in the frame of the chart.

    Parameters
    ----------
    zone : Zone
    areas : tuple of tuple of ndarray (n, 2)
        Outer ring first, then holes; rings do not repeat their first corner.
    lines : tuple of ndarray (n, 2)
    points : tuple of ndarray (1, 2)
    off_m : float
        How far it may lie off, beyond that, because corners were left out, metres.
    """

    zone: Zone
    areas: tuple[tuple[LonLat, ...], ...]
    lines: tuple[LonLat, ...]
    points: tuple[LonLat, ...]
    off_m: float

    @property
    def box(self) -> Box:
        """The box around all strings, before any radius."""
        return Box.around(
            np.vstack([*(ring for area in self.areas for ring in area), *self.lines, *self.points])
        )

    def shapes(self) -> list[shapely.Geometry]:
        """Return the strings as shapely geometries in degrees."""
        polygons = [shapely.Polygon(area[0], area[1:]) for area in self.areas]
        lines = [shapely.LineString(line) for line in self.lines]
        return [*polygons, *lines, *(shapely.Point(point[0]) for point in self.points)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneDrawing:
    """A zone with what is drawn around it.

    Parameters
    ----------
    zone : Zone
    outline : ZoneOutline
    radius, margin : tuple of tuple of ndarray (n, 2)
        Areas within the radius, and within radius plus margin; empty when not asked for. Approximate.
    label : tuple of float
        Longitude, latitude of the name.
    in_force : bool
    margin_m : float
        Required clearance.
    true_m : float or None
        Where the zone was cut outside the window: the least way from any place in the view to the cut.
        Distances beyond that cannot be read off the drawing.
    """

    zone: Zone
    outline: ZoneOutline
    radius: tuple[tuple[LonLat, ...], ...]
    margin: tuple[tuple[LonLat, ...], ...]
    label: tuple[float, float]
    in_force: bool
    margin_m: float
    true_m: float | None = None


def outline_zone(zone: Zone, centre_deg: float) -> ZoneOutline:
    """Return the boundary of a zone near a longitude, true to 1 m when drawn straight on the chart."""
    strings = iter(outline(zone.shape, zone.edges, tolerance_m=_OUTLINE_TOLERANCE_M))
    areas = []
    for polygon in zone.shape.polygons:
        outer = _moved(_closed(next(strings)[0]), centre_deg)
        middle = _middle(outer)
        areas.append((outer, *(_moved(_closed(next(strings)[0]), middle) for _ in polygon[1:])))
    lines = tuple(_moved(chart_true(next(strings)[0]), centre_deg) for _ in zone.shape.lines)
    points = tuple(_moved(string, centre_deg) for string, _ in strings)
    drawn, lines, off_m = fewer_corners(_without_seam(zone, areas), lines)
    return ZoneOutline(zone=zone, areas=drawn, lines=lines, points=points, off_m=off_m)


def _closed(ring: LonLat) -> LonLat:
    # The closing edge needs its chart points too; the repeated corner itself is left out again.
    return chart_true(np.vstack([ring, ring[:1]]))[:-1]


def _middle(string: LonLat) -> float:
    return float((string[:, 0].min() + string[:, 0].max()) / 2.0)


def _moved(string: LonLat, centre_deg: float) -> LonLat:
    return shifted(string, near(_middle(string), centre_deg))


def _without_seam(zone: Zone, areas: list[tuple[LonLat, ...]]) -> tuple[tuple[LonLat, ...], ...]:
    # RFC 7946 section 3.1.9 asks writers to cut at 180 degrees; the cut is not a boundary.
    at_seam = any(bool((np.abs(polygon[0][:, 0]) == 180.0).any()) for polygon in zone.shape.polygons)
    if len(areas) < 2 or not at_seam:
        return tuple(areas)
    union = shapely.union_all([shapely.make_valid(shapely.Polygon(a[0], a[1:])) for a in areas])
    return tuple(_areas(union))


def _areas(shape: shapely.Geometry) -> Iterator[tuple[LonLat, ...]]:
    for part in polygons_of(shape):
        yield tuple(shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part))


def guarded_shapes(
    outlines: Sequence[ZoneOutline], margins_m: Mapping[str, float], box: Box
) -> list[shapely.Geometry]:
    """Return where no fix may be thinned: within radius and the larger of margin and half a mile of zones.

    Only of zones that can reach into a box.
    """
    shapes = []
    for drawn in outlines:
        distance_m = (drawn.zone.radius_m + max(margins_m[drawn.zone.zone_id], _GUARDED_M)) * _GUARDED_SHARE
        if drawn.box.padded(0.0, _WIDER * distance_m).intersection(box) is not None:
            shapes.append(grown(drawn.shapes(), distance_m))
    return shapes


def reaches_into(drawn: ZoneOutline, margins_m: Mapping[str, float], box: Box) -> bool:
    """Return whether a zone, or what is within its radius and margin, may lie in a box.

    The boundary of a wide safety zone may be all around a chart that its middle is not on.
    """
    reach_m = drawn.zone.radius_m + margins_m[drawn.zone.zone_id]
    return drawn.box.padded(0.0, _WIDER * reach_m).intersection(box) is not None


def _within(drawn: ZoneOutline, window: Box, reach_m: float) -> ZoneOutline:
    """Return a zone of very many corners cut well outside what lies within its reach of the window."""
    corners = sum(len(ring) for area in drawn.areas for ring in area) + sum(len(one) for one in drawn.lines)
    if corners <= MANY:
        return drawn
    box = window.padded(_BEYOND, _WIDER * reach_m)
    return replace(drawn, areas=clip_areas(drawn.areas, box), lines=clip_lines(drawn.lines, box))


def draw_zone(
    drawn: ZoneOutline, *, margin_m: float, in_force: bool, view: Box, window: Box
) -> ZoneDrawing | None:
    """Return a zone ready to be drawn, its name placed inside the first view where that is possible.

    ``None`` where nothing of it lies near the window.
    """
    whole, drawn = drawn, _within(drawn, window, drawn.zone.radius_m + margin_m)
    if not (drawn.areas or drawn.lines or drawn.points):
        return None
    shapes = drawn.shapes()
    radius_m = drawn.zone.radius_m
    radius = tuple(_areas(grown(shapes, radius_m))) if radius_m > 0.0 else ()
    margin = tuple(_areas(grown(shapes, radius_m + margin_m))) if margin_m > 0.0 else ()
    return ZoneDrawing(
        zone=drawn.zone,
        outline=drawn,
        radius=radius,
        margin=margin,
        label=_label_place(shapes, view),
        in_force=in_force,
        margin_m=margin_m,
        true_m=None if drawn is whole else _border_m(view, window.padded(_BEYOND, 0.0)),
    )


def _border_m(inner: Box, outer: Box) -> float:
    """Return how far the edge of a box is from a box within it, at the least; for drawing."""
    steepest = max(abs(outer.south), abs(outer.north))
    per_lon_m, per_lat_m = metres_per_degree(steepest)
    east = min(inner.west - outer.west, outer.east - inner.east)
    north = min(inner.south - outer.south, outer.north - inner.north)
    return max(min(east * per_lon_m, north * per_lat_m), 0.0)


def _label_place(shapes: list[shapely.Geometry], view: Box) -> tuple[float, float]:
    whole = shapely.GeometryCollection([shapely.make_valid(shape) for shape in shapes])
    seen = shapely.clip_by_rect(whole, view.west, view.south, view.east, view.north)
    target = whole if shapely.is_empty(seen) else seen
    parts = list(shapely.get_parts(target))
    best = max(
        parts, key=lambda part: (shapely.get_dimensions(part), shapely.area(part), shapely.length(part))
    )
    if shapely.get_dimensions(best) == 1:
        place = shapely.line_interpolate_point(best, 0.5, normalized=True)
    else:
        place = shapely.point_on_surface(best)
    return float(shapely.get_x(place)), float(shapely.get_y(place))
