"""Gear behind a vessel that sails straight legs and sharp corners, by the product's own model of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.gear.figures import Rigging
from towzone.gear.likely import likely_outline
from towzone.gear.offsets import beside
from towzone.gear.phases import Winch, warp_out_m
from towzone.gear.stretch import Lead, gear_stretch
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import WGS84
from towzone.plan.judging import Judge
from towzone.plan.route.outline import reaches, seen_from
from towzone.units import KNOT_MPS

__all__ = ["TAIL", "in_order", "more_at_first", "zigzag"]

TAIL, _BEFORE = 4.5, 9.0
"""What is kept of a corner reaches so far along the leg after it, and so far it is sailed straight before it,
by the longer of layback and what is behind the doors: 1 % of a turn is left, and 0.01 %. Own choice."""

_NODES = (*np.arange(0.0, 1.6, 0.125).tolist(), 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0)
"""Nodes after a corner, in laybacks: the gear turns on no less than about a layback, so between two of them
it is off a straight way by L / 500. Own choice."""

_TURNED_M = 30.0
"""So far beyond a corner the course counts as that of the new leg (`towzone.gear.offsets.courses_deg`): there
the angle to the gear is greatest, and with it what is unsure."""


def in_order(wanted: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the corners, course after and turn, in an order in which little is turned between them."""
    left, order, course = list(wanted), [], 0.0
    while left:
        off = [abs(float(wrap_longitude(after - turn - course))) for after, turn in left]
        order.append(left.pop(int(np.argmin(off))))
        course = order[-1][0]
    return order


def zigzag(
    judge: Judge,
    rigging: Rigging,
    wanted: Sequence[tuple[float, float]],
    bodies_m: tuple[float, float],
    start: tuple[float, float],
) -> tuple[Lead, list[tuple[tuple[float, float], slice]]]:
    """Return a lead through all corners, and for each its position and the nodes around it."""
    settling, behind = max(bodies_m), sum(bodies_m)
    before_m, after_m = _BEFORE * settling, TAIL * settling + 1.2 * behind
    before = np.concatenate(
        [np.arange(-before_m, -3.0 * behind, settling), [-2.0 * behind, -behind, -_TURNED_M]]
    )
    nodes = np.array(_NODES) * bodies_m[0]
    far = np.arange(float(nodes[-1]), after_m, settling)[1:]
    after = np.append(np.concatenate([nodes, far]), after_m)
    after = np.unique(np.append(after[after <= after_m], _TURNED_M))
    lon, lat, course, way, corners, count, run = [], [], [], [], [], 0, 0.0
    here = start
    for course_after, turn in wanted:
        incoming = (course_after - turn) % 360.0
        at_corner = _ahead(here, incoming, [before_m])
        corner = float(at_corner[0][0]), float(at_corner[1][0])
        pieces = [
            (_ahead(corner, (incoming + 180.0) % 360.0, -before), incoming, before),
            (_ahead(corner, course_after, after), course_after, after),
        ]
        for (some_lon, some_lat), own, at in pieces:
            lon.append(some_lon)
            lat.append(some_lat)
            course.append(np.full(len(at), own))
            way.append(run + before_m + at)
        corners.append((corner, slice(count + len(before) - 3, count + len(before) + len(after))))
        count += len(before) + len(after)
        run += before_m + after_m
        here = float(lon[-1][-1]), float(lat[-1][-1])
    return _lead(judge, rigging, *(np.concatenate(c) for c in (lon, lat, course, way)), winch=None), corners


def _ahead(here: tuple[float, float], course: float, metres: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    far = np.asarray(metres, dtype=np.float64)
    lon, lat, _ = WGS84.fwd(
        np.full_like(far, here[0]), np.full_like(far, here[1]), np.full_like(far, course), far
    )
    return np.asarray(wrap_longitude(lon)), np.asarray(lat)


def _lead(
    judge: Judge,
    rigging: Rigging,
    lon: FloatArray,
    lat: FloatArray,
    course: FloatArray,
    way_m: FloatArray,
    *,
    winch: Winch | None,
) -> Lead:
    """Return the towing block behind an antenna that sails so."""
    speed = judge.settings.speed_kn * KNOT_MPS
    lon, lat = beside(lon, lat, course, -rigging.block_aft.value, rigging.block_starboard.value)
    clock = way_m / speed
    warp = np.full(len(lon), rigging.warp.value)
    height = rigging.depth.value + rigging.block_height.value
    return Lead(
        place=np.arange(len(lon), dtype=np.float64),
        clock_s=clock,
        lon_deg=lon,
        lat_deg=lat,
        speed_mps=np.full(len(lon), speed),
        warp_m=warp if winch is None else warp_out_m(clock, warp, winch),
        height_m=np.full(len(lon), height),
    )


def more_at_first(
    judge: Judge, rigging: Rigging, along: FloatArray, layback: float, start: tuple[float, float]
) -> FloatArray:
    """Return how much farther than settled gear it reaches along a first leg, on any of four courses."""
    courses = (0.0, 90.0, 180.0, 270.0) if rigging.current is not None else (0.0, 30.0)
    sides = [side for c in courses for side in _first(judge, rigging, c, along, layback, start)]
    return np.asarray(np.maximum.reduce([side - side[-1] for side in sides]).clip(0.0))


def _first(
    judge: Judge,
    rigging: Rigging,
    course: float,
    along: FloatArray,
    layback: float,
    start: tuple[float, float],
) -> tuple[FloatArray, FloatArray]:
    """Return the reach to port and starboard along a first leg, as the gear comes from being shot."""
    way = np.arange(-judge.run_in_m, 1.3 * along[-1] - 1.2 * along[0], layback / 4.0)
    way = np.unique(np.concatenate([way, [0.0]]))
    lon, lat = _ahead(start, course, way)
    winch = Winch(
        shoot_s=0.0, haul_s=np.inf, veer_mps=rigging.veer_speed.value, heave_mps=rigging.heave_speed.value
    )
    lead = _lead(judge, rigging, lon, lat, np.full(len(way), course), way, winch=winch)
    stretch = gear_stretch(lead, rigging)
    outline = likely_outline(stretch, rigging, judge.settings.check.gear_proof.sigmas)
    towed = way >= 0.0
    return reaches(seen_from(outline[towed], start, course), along)
