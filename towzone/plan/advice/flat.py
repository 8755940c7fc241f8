"""Zones and legs in a plane around a line, for the search for advice; never for a verdict.

The plane keeps distances and directions from the middle of the line (azimuthal equidistant): at 100 km from
there distances across are off by 4e-5, which is centimetres of the distances that matter here. Positions are
complex numbers, east + north i, metres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from towzone.checks.force import Force, span_standing
from towzone.checks.legs import seconds_since_epoch
from towzone.checks.settings import CheckSettings
from towzone.checks.verdicts import TOUCH_M
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import WGS84, LineKind, inverse, points_along
from towzone.geodesy.shape import Corners
from towzone.model.plan import PlannedLine
from towzone.model.zone import Zone
from towzone.plan.advice.engine import PartJudge
from towzone.plan.judging import Judge

__all__ = ["Complexes", "Flat", "Obstacle", "Obstacles", "obstacles_of"]

Complexes = npt.NDArray[np.complex128]

_CHORD_M = 2_000.0
"""Edges are drawn through points so far apart: any kind of line strays 0.3 m at 70 degrees. Own choice."""

_BEYOND_M = 50_000.0
"""An area that must not be left is taken to be surrounded so far by what must not be entered. Own choice."""

_SEAM_M = 0.5
"""Parts of an area nearer together than this are one. Own choice."""

_LATER_S, _SPARE_S = 7_200.0, 60.0
"""Rules that begin so soon after the plan count, and each a little longer than it holds. Own choices."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flat:
    """The plane around a position, degrees."""

    lon_deg: float
    lat_deg: float

    @classmethod
    def around(cls, line: PlannedLine) -> Flat:
        """Return the plane around the middle of a line."""
        east = wrap_longitude(line.lon_deg - line.lon_deg[0])
        lon = wrap_longitude(line.lon_deg[0] + (east.min() + east.max()) / 2.0)
        return cls(lon_deg=float(lon), lat_deg=float(line.lat_deg.min() + line.lat_deg.max()) / 2.0)

    def place(self, lon_deg: FloatArray, lat_deg: FloatArray) -> Complexes:
        """Return positions in the plane, of any shape."""
        start = np.full_like(lon_deg, self.lon_deg), np.full_like(lat_deg, self.lat_deg)
        azimuth, _, distance_m = WGS84.inv(*start, lon_deg, lat_deg)
        return np.asarray(distance_m * np.exp(1j * np.radians(90.0 - np.asarray(azimuth))))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Obstacle:
    """What must be kept clear of, for one zone.

    Parameters
    ----------
    zone_id : str
    shape : shapely geometry
        What vessel and gear must not be in.
    box : tuple of float
        Least east and north, greatest east and north of the shape.
    vessel_m, likely_m, rope_m : float
        How far the vessel, the likely outline of the gear, and the vessel by the length of its rope alone,
        must be from the shape.
    held_s : tuple of (float, float)
        Seconds after departure between which the rule holds.
    """

    zone_id: str
    shape: Any
    box: tuple[float, float, float, float]
    vessel_m: float
    likely_m: float
    rope_m: float
    held_s: tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Obstacles:
    """Obstacles with what is asked of all of them at once, as columns."""

    each: tuple[Obstacle, ...]

    @cached_property
    def boxes(self) -> FloatArray:
        """Boxes, shape (z, 4)."""
        return np.array([one.box for one in self.each], dtype=np.float64).reshape(-1, 4)

    @cached_property
    def shapes(self) -> npt.NDArray[np.object_]:
        """Shapes, shape (z,)."""
        shapes = np.empty(len(self.each), dtype=np.object_)
        shapes[:] = [one.shape for one in self.each]
        return shapes

    @cached_property
    def needs_m(self) -> FloatArray:
        """What is needed by vessel, likely outline and rope, shape (3, z)."""
        needs = [(one.vessel_m, one.likely_m, one.rope_m) for one in self.each]
        return np.array(needs, dtype=np.float64).reshape(-1, 3).T

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The number of each obstacle by the id of its zone."""
        return {one.zone_id: number for number, one in enumerate(self.each)}


def obstacles_of(line: PlannedLine, judge: Judge, flat: Flat, farther_m: float) -> Obstacles:
    """Return what a line, and others up to so far aside of it, must keep clear of.

    Zones whose rule holds at no time of the plan, or for other gear, are left out.
    """
    track = judge.track(line)
    first_s, last_s = (float(s) for s in seconds_since_epoch(track.time_utc[[0, -1]]))
    depart_s = float(seconds_since_epoch(judge.settings.depart_utc.astype("datetime64[us]").reshape(1))[0])
    xy = flat.place(line.lon_deg, line.lat_deg)
    aside_m = farther_m + max(judge.run_in_m, judge.run_out_m)
    found = []
    check = replace(judge.settings.check, reach_m=aside_m)
    near = PartJudge(judge.with_settings(replace(judge.settings, check=check)))
    for zone in near.near(track)[0]:
        if span_standing(zone, first_s, last_s, judge.settings.check).force is Force.IDLE:
            continue
        shape = _shape_of(zone, flat, xy, aside_m)
        needs = _needs_m(zone, judge.settings.check, judge.rope_m)
        box = shapely.bounds(shape).tolist()
        if _apart_m(box, xy) > aside_m + needs[2]:
            continue
        shapely.prepare(shape)
        found.append(
            Obstacle(
                zone_id=zone.zone_id,
                shape=shape,
                box=(box[0], box[1], box[2], box[3]),
                vessel_m=needs[0],
                likely_m=needs[1],
                rope_m=needs[2],
                held_s=_held_s(zone, depart_s, first_s, last_s),
            )
        )
    return Obstacles(each=tuple(found))


def _apart_m(box: list[float], xy: Complexes) -> float:
    """Return how far a box is from that of a line, infinite for one of nothing."""
    if not np.isfinite(box).all():
        return np.inf
    east = max(box[0] - float(xy.real.max()), float(xy.real.min()) - box[2], 0.0)
    north = max(box[1] - float(xy.imag.max()), float(xy.imag.min()) - box[3], 0.0)
    return float(np.hypot(east, north))


def _needs_m(zone: Zone, check: CheckSettings, rope_m: float) -> tuple[float, float, float]:
    stated = (check.margin_m, zone.margin_m, check.kind_margins_m.get(zone.kind), 0.0)
    margin_m = next(margin for margin in stated if margin is not None)
    off_m = zone.datum_accuracy_m + check.steering_m + zone.radius_m
    keep_m = max(margin_m, TOUCH_M)
    return margin_m + check.position_error_m + off_m, keep_m + off_m, keep_m + off_m + rope_m


def _held_s(zone: Zone, depart_s: float, first_s: float, last_s: float) -> tuple[tuple[float, float], ...]:
    """Return when a rule holds, with a minute to spare, seconds after departure."""
    if not zone.rules.dated:
        return ((-np.inf, np.inf),)
    # A line that is advised may take longer than the one it is for.
    first, last = (_EPOCH + timedelta(seconds=at) for at in (first_s, last_s + _LATER_S))
    spans = zone.rules.spans(first, last)
    return tuple((a.timestamp() - depart_s - _SPARE_S, b.timestamp() - depart_s + _SPARE_S) for a, b in spans)


def _shape_of(zone: Zone, flat: Flat, xy: Complexes, aside_m: float) -> Any:
    shape, parts = zone.shape, []
    for polygon in shape.polygons:
        rings = [_drawn(ring, zone.edges, flat, closed=True) for ring in polygon]
        parts.append(shapely.polygons(rings[0], holes=rings[1:] or None))
    whole = shapely.union_all(shapely.buffer(parts, _SEAM_M)) if len(parts) > 1 else None
    if whole is not None:
        parts = [shapely.buffer(whole, -_SEAM_M)]
    if zone.rules.allowed_only_inside:
        low, high = complex(xy.real.min(), xy.imag.min()), complex(xy.real.max(), xy.imag.max())
        out_m = aside_m + _BEYOND_M
        around = shapely.box(low.real - out_m, low.imag - out_m, high.real + out_m, high.imag + out_m)
        return shapely.difference(around, shapely.union_all(parts))
    parts += [shapely.linestrings(_drawn(line, zone.edges, flat, closed=False)) for line in shape.lines]
    if len(shape.points):
        at = flat.place(shape.points[:, 0].copy(), shape.points[:, 1].copy())
        parts += list(shapely.points(at.real, at.imag))
    return parts[0] if len(parts) == 1 else shapely.geometrycollections(parts)


def _columns(corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    return corners[:, 0], corners[:, 1]


def _drawn(corners: Corners, kind: LineKind, flat: Flat, *, closed: bool) -> FloatArray:
    """Return a string of corners in the plane with points between them, shape (n, 2)."""
    ends = np.roll(corners, -1, axis=0) if closed else corners[1:]
    starts = corners if closed else corners[:-1]
    length_m, _ = inverse(kind, starts[:, 0], starts[:, 1], ends[:, 0], ends[:, 1])
    counts = np.maximum(np.ceil(length_m / _CHORD_M), 1.0).astype(np.int64)
    edge = np.repeat(np.arange(len(starts)), counts)
    part = (np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[edge]
    lon, lat = points_along(kind, *_columns(starts[edge]), *_columns(ends[edge]), part)
    if not closed:
        lon, lat = np.append(lon, corners[-1, 0]), np.append(lat, corners[-1, 1])
    xy = flat.place(wrap_longitude(lon), lat)
    return np.column_stack([xy.real, xy.imag])
