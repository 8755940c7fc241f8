"""Zones as shapes in the plane, with what a vessel and its gear have to keep off them by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from towzone.checks.force import Force, span_standing
from towzone.checks.settings import CheckSettings
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, inverse, points_along
from towzone.geodesy.shape import Shape
from towzone.model.zone import Zone
from towzone.plan.judging import Judge
from towzone.plan.route.plane import Plane

__all__ = ["SPARE_M", "Obstacle", "obstacles_in", "waters_around"]

SPARE_M = 1.0
"""Kept beyond what is needed, for the plane is a little off the ellipsoid. Own choice."""

GEAR_SPARE_M = 2.0
"""Kept beyond that by the gear, whose footprint is taken in proportion between turns that were run. Own
choice."""

_DENSE_M = 0.5
"""An edge drawn straight in the plane is off its own kind of line by no more. Own choice."""

_STRAIGHT_BEND = 2.2 / 6_335_000.0
"""Times the tangent of the latitude: no edge bends more, in a plane in which another kind is straight, 1/m.
Twice the bound of `towzone.geodesy.pieces`."""

_EDGE_LAT_DEG = 88.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Obstacle:
    """One zone in the plane.

    Parameters
    ----------
    number : int
        Of the zone among those of the judge.
    zone_id : str
    shape : shapely geometry
        What must not be come near, before radius and margin; prepared.
    vessel_m, gear_m : float
        How far the vessel's line, and the outline of the gear, must be from the shape; metres of the plane.
    radius_m : float
        What of both is the zone itself, around its shape.
    force : Force
        Whether its rule holds at some time of the span, or it is not known whether it does.
    turned : bool
        Whether the shape is all that lies outside an allowed area.
    """

    number: int
    zone_id: str
    shape: Any
    vessel_m: float
    gear_m: float
    radius_m: float
    force: Force
    turned: bool


def waters_around(xy_m: FloatArray, wider_m: float) -> tuple[float, float, float, float]:
    """Return the box, low x, low y, high x, high y, that is so much wider than points on all sides."""
    low, high = xy_m.min(axis=0) - wider_m, xy_m.max(axis=0) + wider_m
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def obstacles_in(
    judge: Judge,
    plane: Plane,
    waters: tuple[float, float, float, float],
    *,
    span_s: tuple[float, float],
) -> tuple[Obstacle, ...]:
    """Return the zones in some waters whose rules hold, or may hold, at any time of a span.

    Parameters
    ----------
    waters : tuple of float
        Low x, low y, high x, high y, metres of the plane.
    span_s : tuple of float
        First and last moment, seconds since 1970.
    """
    check, found = judge.settings.check, []
    for number in _possible(judge.zones, plane, waters):
        zone = judge.zones[number]
        held = span_standing(zone, *span_s, check).force
        if held is Force.IDLE:
            continue
        obstacle = _obstacle(zone, number, plane, waters, check, held)
        if obstacle is not None:
            found.append(obstacle)
    return tuple(found)


def _possible(zones: Sequence[Zone], plane: Plane, waters: tuple[float, float, float, float]) -> list[int]:
    """Return the zones whose corners are so that they may lie in the waters."""
    lon, lat = plane.from_plane(
        np.array([(x, y) for x in (waters[0], waters[2], 0.0) for y in (waters[1], waters[3], 0.0)])
    )
    half_lon = float(np.abs(wrap_longitude(lon - plane.lon_deg)).max())
    chosen = []
    for number, zone in enumerate(zones):
        if zone.rules.allowed_only_inside:
            chosen.append(number)
            continue
        corners = np.concatenate([corners for corners, _ in zone.shape.strings()])
        more_deg = 0.05 + (zone.radius_m + 20_000.0) / 111_000.0  # edges bulge polewards
        span = _longitudes(corners[:, 0], plane.lon_deg)
        wide_deg = more_deg / max(np.cos(np.radians(min(np.abs(corners[:, 1]).max(), 88.0))), 0.01)
        away = max(span[0] - half_lon, -half_lon - span[1])
        if away > wide_deg or corners[:, 1].min() - more_deg > lat.max():
            continue
        if corners[:, 1].max() + more_deg < lat.min():
            continue
        chosen.append(number)
    return chosen


def _longitudes(lon_deg: FloatArray, middle_deg: float) -> tuple[float, float]:
    """Return the least and greatest longitude east of a middle, of corners taken as one run."""
    run = np.concatenate([[0.0], np.cumsum(wrap_longitude(np.diff(lon_deg)))])
    first = float(wrap_longitude(lon_deg[0] - middle_deg))
    return first + float(run.min()), first + float(run.max())


def _obstacle(
    zone: Zone,
    number: int,
    plane: Plane,
    waters: tuple[float, float, float, float],
    check: CheckSettings,
    force: Force,
) -> Obstacle | None:
    shape = shape_in_plane(zone.shape, zone.edges, plane)
    scale = _greatest_scale(shape, plane, waters)
    if zone.rules.allowed_only_inside:
        allowed = shape.buffer(zone.radius_m) if zone.radius_m > 0.0 else shape
        far = max(waters[2] - waters[0], waters[3] - waters[1])
        box = shapely.box(waters[0] - far, waters[1] - far, waters[2] + far, waters[3] + far)
        shape, radius_m = box.difference(allowed), 0.0
        scale = _greatest_scale(shape, plane, waters)
        if shape.is_empty:
            return None
    else:
        radius_m = zone.radius_m
    margins = (check.margin_m, zone.margin_m, check.kind_margins_m.get(zone.kind), 0.0)
    margin_m = next(margin for margin in margins if margin is not None)
    off_m = margin_m + radius_m + check.steering_m + zone.datum_accuracy_m + SPARE_M
    obstacle = Obstacle(
        number=number,
        zone_id=zone.zone_id,
        shape=shape,
        vessel_m=scale * (off_m + check.position_error_m),
        gear_m=scale * (off_m + GEAR_SPARE_M),
        radius_m=scale * radius_m,
        force=force,
        turned=zone.rules.allowed_only_inside,
    )
    shapely.prepare(obstacle.shape)
    low_x, low_y, high_x, high_y = shape.bounds
    far = max(obstacle.vessel_m, obstacle.gear_m)
    if low_x - far > waters[2] or high_x + far < waters[0]:
        return None
    if low_y - far > waters[3] or high_y + far < waters[1]:
        return None
    return obstacle


def _greatest_scale(shape: Any, plane: Plane, waters: tuple[float, float, float, float]) -> float:
    """Return the greatest scale of the plane where a shape lies in the waters."""
    low_y, high_y = max(shape.bounds[1], waters[1]), min(shape.bounds[3], waters[3])
    ends = np.array([[0.0, min(low_y, high_y)], [0.0, high_y]])
    return float(plane.scale_at(ends).max())


def shape_in_plane(shape: Shape, kind: LineKind, plane: Plane) -> Any:
    """Return a shape of a zone in the plane: polygons, lines and points together."""
    parts: list[Any] = []
    for polygon in shape.polygons:
        rings = [_run(ring, kind, plane, closed=True) for ring in polygon]
        shift = [rings[0], *(_beside(ring, rings[0], plane) for ring in rings[1:])]
        parts.append(shapely.make_valid(shapely.Polygon(shift[0], shift[1:])))
    parts += [shapely.LineString(_run(line, kind, plane, closed=False)) for line in shape.lines]
    if len(shape.points):
        parts += list(shapely.points(plane.to_plane(shape.points[:, 0], shape.points[:, 1])))
    if len(parts) == 1:
        return parts[0]
    whole = shapely.union_all(parts)
    return whole if not whole.is_empty else shapely.GeometryCollection(parts)


def _run(corners: FloatArray, kind: LineKind, plane: Plane, *, closed: bool) -> FloatArray:
    """Return a run of corners with points added, in the plane, in one piece across 180 degrees."""
    ends = np.roll(corners, -1, axis=0) if closed else corners[1:]
    starts = corners if closed else corners[:-1]
    counts = _counts(kind, starts, ends, plane)
    edge = np.repeat(np.arange(len(starts)), counts)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    lon, lat = starts[edge, 0].copy(), starts[edge, 1].copy()
    inner = step > 0
    if inner.any():
        some = edge[inner]
        lon[inner], lat[inner] = points_along(
            kind, starts[some, 0], starts[some, 1], ends[some, 0], ends[some, 1], (step / counts[edge])[inner]
        )
    if not closed:
        lon, lat = np.append(lon, ends[-1, 0]), np.append(lat, ends[-1, 1])
    xy = plane.to_plane(lon, lat)
    if plane.mercator:  # in one piece: seen from the first corner
        around_m = _around_m(plane)
        xy[:, 0] -= around_m * np.round((xy[:, 0] - xy[0, 0]) / around_m) if around_m else 0.0
        run = np.concatenate([[0.0], np.cumsum(wrap_longitude(np.diff(lon)))])
        xy[:, 0] = xy[0, 0] + around_m * run / 360.0
    return xy


def _around_m(plane: Plane) -> float:
    """Return how long all 360 degrees are in the plane."""
    quarter = plane.to_plane([plane.lon_deg + 90.0], [plane.lat_deg])
    return float(4.0 * quarter[0, 0])


def _beside(ring: FloatArray, shell: FloatArray, plane: Plane) -> FloatArray:
    """Return a hole on the same side of 180 degrees as its shell."""
    if not plane.mercator:
        return ring
    around_m, middle = _around_m(plane), (shell[:, 0].min() + shell[:, 0].max()) / 2.0
    moved = ring.copy()
    moved[:, 0] -= around_m * np.round(((ring[:, 0].min() + ring[:, 0].max()) / 2.0 - middle) / around_m)
    return moved


def _counts(kind: LineKind, starts: FloatArray, ends: FloatArray, plane: Plane) -> npt.NDArray[np.int64]:
    if plane.mercator and kind is LineKind.RHUMB:
        return np.ones(len(starts), dtype=np.int64)
    length_m, _ = inverse(kind, starts[:, 0], starts[:, 1], ends[:, 0], ends[:, 1])
    highest = np.minimum(
        np.maximum(np.abs(starts[:, 1]), np.abs(ends[:, 1])) + length_m / 222_000.0, _EDGE_LAT_DEG
    )
    bend = np.maximum(_STRAIGHT_BEND * np.tan(np.radians(highest)), 1e-12)
    if not plane.mercator:  # what geodesics bend by, far out
        bend = bend + length_m / (1.5 * 6_335_000.0**2) * 8.0
    counts = np.ceil(length_m / np.sqrt(8.0 * _DENSE_M / bend)).astype(np.int64)
    return np.asarray(np.maximum(counts, 1))
