"""How wide a way the gear takes: beside straight legs, behind corners of every turn, and where towing begins.

All of it comes from the product's own model of the gear: one long zigzag line with a corner for each turn on
each course is run through it, far enough between corners for the gear to settle. What is kept of a corner is,
at distances along the leg after it, how far the likely gear reaches to port and to starboard of that leg.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from towzone.checks.settings import GearProof
from towzone.gear.figures import Rigging
from towzone.gear.likely import likely_outline
from towzone.gear.offsets import beside
from towzone.gear.phases import Winch, warp_out_m
from towzone.gear.stretch import GearStretch, Lead, gear_stretch, laybacks_m, widths_of
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric, wrap_longitude
from towzone.geodesy.lines import WGS84
from towzone.plan.judging import Judge
from towzone.units import KNOT_MPS

__all__ = ["LEAST_LEG_LAYBACKS", "SHARPEST_DEG", "Footprint", "footprint_of"]

SHARPEST_DEG = 60.0
"""Sharpest turn at one corner: beyond it the gear's inner side may lose its spread (`towzone.gear.flags`)."""

LEAST_LEG_LAYBACKS = 3.0
"""A leg is this many laybacks long at the least: 5 % of the turn before it are left then (exp(-3))."""

_TURN_STEP_DEG = {False: 7.5, True: 15.0}
"""Between the turns that are run, without and with a stated current; what lies between follows a cubic. With
a current more courses are needed, and less is unsure. Own choice."""

_TAIL, _BEFORE = 4.5, 9.0
"""What is kept of a corner reaches so far along the leg after it, and so far it is sailed straight before it,
by the longer of layback and what is behind the doors: 1 % of a turn is left, and 0.01 %. Own choice."""

_NODES = (*np.arange(0.0, 1.6, 0.125).tolist(), 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0)
"""Nodes after a corner, in laybacks: the gear turns on no less than about a layback, so between two of them
it is off a straight way by L / 500. Own choice."""

_WAYS = 36
"""Directions in which the outermost points of the gear are looked for. Own choice."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Footprint:
    """The widths of the likely gear, metres over the ground.

    Parameters
    ----------
    layback_m : float
        By the figures as they are.
    settling_m : float
        The longer of it and what is behind the doors: on so much way a turn is forgotten to a third.
    along_m : ndarray, shape (x,)
        Distances along the leg after a corner, from behind it on, rising.
    course_step_deg, course_period_deg : float
        Courses of the columns below: 0, one step, two steps ... below the period.
    turn_deg : ndarray, shape (t,)
        Turns, positive to starboard, rising.
    port_m, starboard_m : ndarray, shape (courses, t, x)
        How far the gear reaches to either side of the leg after a corner, by the course after it.
    first_port_m, first_starboard_m : ndarray, shape (courses, x)
        The same where towing begins.
    front_m : float
        The likely gear is at least so far astern.
    disc_m : float
        Where the length of the rope alone counts: how far the gear may be from the vessel anywhere, else 0.
    """

    layback_m: float
    settling_m: float
    along_m: FloatArray
    course_step_deg: float
    course_period_deg: float
    turn_deg: FloatArray
    port_m: FloatArray
    starboard_m: FloatArray
    first_port_m: FloatArray
    first_starboard_m: FloatArray
    front_m: float
    disc_m: float = 0.0

    def after_turn(self, course_deg: float, turn_deg: float) -> tuple[FloatArray, FloatArray]:
        """Return how far the gear reaches to port and starboard along a leg of a course, after a turn."""
        low, high, share = self._courses(course_deg)
        at = float(np.clip(turn_deg, self.turn_deg[0], self.turn_deg[-1]))
        first, weights = self._turn_weights(at)
        some = slice(first, first + len(weights))
        port, starboard = (
            weights @ (side[low, some] * (1.0 - share) + side[high, some] * share)
            for side in (self.port_m, self.starboard_m)
        )
        return port, starboard

    def _turn_weights(self, turn_deg: float) -> tuple[int, FloatArray]:
        """Return the first of four turns around one, and their weights: a cubic through what is known."""
        count = min(4, len(self.turn_deg))
        at = (turn_deg - float(self.turn_deg[0])) / float(self.turn_deg[1] - self.turn_deg[0])
        first = min(max(math.floor(at) - 1, 0), len(self.turn_deg) - count)
        off, weights = at - first, []
        for k in range(count):
            weights.append(math.prod((off - n) / (k - n) for n in range(count) if n != k))
        return first, np.array(weights)

    def where_towing_begins(self, course_deg: float) -> tuple[FloatArray, FloatArray]:
        """Return how far the gear reaches to port and starboard along the first leg of a line."""
        low, high, share = self._courses(course_deg)
        return (
            self.first_port_m[low] * (1.0 - share) + self.first_port_m[high] * share,
            self.first_starboard_m[low] * (1.0 - share) + self.first_starboard_m[high] * share,
        )

    def settled(self, course_deg: float) -> tuple[float, float]:
        """Return how far settled gear reaches to port and starboard of a straight leg."""
        port, starboard = self.after_turn(course_deg, 0.0)
        return float(port[-1]), float(starboard[-1])

    @property
    def narrowest_m(self) -> float:
        """How far the settled gear reaches to either side at the least, on any course."""
        straight = int(np.argmin(np.abs(self.turn_deg)))
        return float(min(self.port_m[:, straight, -1].min(), self.starboard_m[:, straight, -1].min()))

    @cached_property
    def widest_m(self) -> float:
        """No part of the gear is farther from the leg after a corner, or behind the corner."""
        sides = (self.port_m, self.starboard_m, self.first_port_m, self.first_starboard_m)
        return float(max(np.abs(self.along_m[0]), *(np.abs(side).max() for side in sides)))

    @property
    def least_half_m(self) -> float:
        """Half the least width of the way that settled gear takes, on any course."""
        straight = int(np.argmin(np.abs(self.turn_deg)))
        whole = self.port_m[:, straight, -1] + self.starboard_m[:, straight, -1]
        return float(whole.min()) / 2.0

    def _courses(self, course_deg: float) -> tuple[int, int, float]:
        place = (course_deg % self.course_period_deg) / self.course_step_deg
        count = len(self.port_m)
        low = int(place) % count
        return low, (low + 1) % count, place - math.floor(place)


def footprint_of(judge: Judge, lon_deg: float, lat_deg: float) -> Footprint:
    """Return the footprint of the gear of a plan, near a position.

    Raises
    ------
    ValueError
        The judge has no rigging.
    """
    rigging = judge.rigging
    if not isinstance(rigging, Rigging):
        message = "no footprint of a gear without figures"
        raise ValueError(message)
    return _by_rope(judge, rigging) if _rope_counts(judge) else _by_model(judge, rigging, lon_deg, lat_deg)


def _rope_counts(judge: Judge) -> bool:
    return judge.settings.check.gear_proof is GearProof.ROPE


def _layback_m(rigging: Rigging) -> float:
    height = rigging.depth.value + rigging.block_height.value
    return float(laybacks_m(np.array([rigging.warp.value]), np.array([height]), rigging)[0])


def _by_rope(judge: Judge, rigging: Rigging) -> Footprint:
    """Return the footprint of a gear of which only the length is taken for proof: a disc all along."""
    along = np.array([0.0, 0.5, 1.0])
    wide = np.full((1, 2, 3), judge.rope_m)
    wide.flags.writeable = False
    return Footprint(
        layback_m=_layback_m(rigging),
        settling_m=max(_layback_m(rigging), 1.0),
        along_m=along,
        course_step_deg=360.0,
        course_period_deg=360.0,
        turn_deg=np.array([0.0, 1.0]),
        port_m=wide,
        starboard_m=wide,
        first_port_m=wide[:, 0],
        first_starboard_m=wide[:, 0],
        front_m=0.0,
        disc_m=judge.rope_m,
    )


def _by_model(judge: Judge, rigging: Rigging, lon_deg: float, lat_deg: float) -> Footprint:
    layback, widths = max(_layback_m(rigging), 1.0), widths_of(rigging)
    step, period = (30.0, 360.0) if rigging.current is not None else (15.0, 60.0)
    courses = np.arange(0.0, period, step)
    turn_step = _TURN_STEP_DEG[rigging.current is not None]
    turns = np.arange(-SHARPEST_DEG, SHARPEST_DEG + 1.0, turn_step)
    behind = layback + widths.behind_m
    settling = max(layback, widths.behind_m)
    near = np.arange(-behind, 2.0 * settling, layback / 8.0)
    along = np.concatenate([near, np.linspace(2.0 * settling + layback / 8.0, _TAIL * settling, 7)])
    wanted = _in_order([(course, turn) for course in courses.tolist() for turn in turns.tolist()])
    lead, corners = _zigzag(judge, rigging, wanted, (layback, widths.behind_m), (lon_deg, lat_deg))
    stretch = gear_stretch(lead, rigging)
    sigmas = judge.settings.check.gear_proof.sigmas
    outline = likely_outline(stretch, rigging, sigmas)
    port = np.empty((len(courses), len(turns), len(along)))
    starboard, front = np.empty_like(port), np.inf
    for (course, turn), (corner, nodes) in zip(wanted, corners, strict=True):
        seen = _seen_from(outline[nodes], corner, course)
        at = round(course / step), round((turn + SHARPEST_DEG) / turn_step)
        port[at], starboard[at] = _reaches(seen, along)
        if turn == 0.0:
            front = min(front, -float(seen[2, :, 1].max()))  # as it lies when the vessel is at the corner
    straight = len(turns) // 2
    more = _more_at_first(judge, rigging, along, layback, (lon_deg, lat_deg))
    return Footprint(
        layback_m=layback,
        settling_m=settling,
        along_m=along,
        course_step_deg=step,
        course_period_deg=period,
        turn_deg=turns,
        port_m=port,
        starboard_m=starboard,
        first_port_m=port[:, straight, -1:] + more,
        first_starboard_m=starboard[:, straight, -1:] + more,
        front_m=front,
    )


def _in_order(wanted: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the corners, course after and turn, in an order in which little is turned between them."""
    left, order, course = list(wanted), [], 0.0
    while left:
        off = [abs(float(wrap_longitude(after - turn - course))) for after, turn in left]
        order.append(left.pop(int(np.argmin(off))))
        course = order[-1][0]
    return order


def _zigzag(
    judge: Judge,
    rigging: Rigging,
    wanted: Sequence[tuple[float, float]],
    bodies_m: tuple[float, float],
    start: tuple[float, float],
) -> tuple[Lead, list[tuple[tuple[float, float], slice]]]:
    """Return a lead through all corners, and for each its position and the nodes around it."""
    settling, behind = max(bodies_m), sum(bodies_m)
    before_m, after_m = _BEFORE * settling, _TAIL * settling + 1.2 * behind
    before = np.concatenate([np.arange(-before_m, -3.0 * behind, settling), [-2.0 * behind, -behind]])
    nodes = np.array(_NODES) * bodies_m[0]
    far = np.arange(float(nodes[-1]), after_m, settling)[1:]
    after = np.append(np.concatenate([nodes, far]), after_m)
    after = after[after <= after_m]
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
        corners.append((corner, slice(count + len(before) - 2, count + len(before) + len(after))))
        count += len(before) + len(after)
        run += before_m + after_m
        here = float(lon[-1][-1]), float(lat[-1][-1])
    return _lead(judge, rigging, *(np.concatenate(c) for c in (lon, lat, course, way)), winch=None), corners


def _ahead(here: tuple[float, float], course: float, metres: object) -> tuple[FloatArray, FloatArray]:
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


def _more_at_first(
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
    stretch: GearStretch = gear_stretch(lead, rigging)
    outline = likely_outline(stretch, rigging, judge.settings.check.gear_proof.sigmas)
    towed = way >= 0.0
    return _reaches(_seen_from(outline[towed], start, course), along)


def _seen_from(outline: FloatArray, corner: tuple[float, float], course_deg: float) -> FloatArray:
    """Return points, shape (n, m, 2), as metres to starboard and ahead of a corner on a course."""
    origin = to_geocentric(np.array([corner[0]]), np.array([corner[1]]))[0]
    off = to_geocentric(outline[..., 0].ravel(), outline[..., 1].ravel()) - origin
    lon, lat, course = (math.radians(value) for value in (*corner, course_deg))
    east = off @ np.array([-math.sin(lon), math.cos(lon), 0.0])
    north = off @ np.array([-math.sin(lat) * math.cos(lon), -math.sin(lat) * math.sin(lon), math.cos(lat)])
    right = east * math.cos(course) - north * math.sin(course)
    ahead = east * math.sin(course) + north * math.cos(course)
    return np.stack([right, ahead], axis=-1).reshape(outline.shape)


def _reaches(seen: FloatArray, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far the hulls of points, moment by moment, reach to port and starboard, at distances along.

    A hull is that of its outermost points in each direction; what counts are its sides, and the ways of its
    corners from one moment to the next.
    """
    angle = 2.0 * np.pi * np.arange(_WAYS) / _WAYS
    outermost = np.argmax(seen @ np.stack([np.sin(angle), np.cos(angle)]), axis=1)
    hulls = np.take_along_axis(seen, outermost[:, :, None], axis=1)
    sides = np.stack([hulls, np.roll(hulls, -1, axis=1)], axis=2).reshape(-1, 2, 2)
    ways = np.stack([hulls[:-1], hulls[1:]], axis=2).reshape(-1, 2, 2)
    lines = np.concatenate([sides, ways])
    right, ahead = lines[:, :, 0], lines[:, :, 1]
    run = ahead[:, 1] - ahead[:, 0]
    lines_right, run = right[np.abs(run) > _LEVEL_M], run[np.abs(run) > _LEVEL_M]
    ahead = ahead[np.abs(ahead[:, 1] - ahead[:, 0]) > _LEVEL_M]
    part = (along[None, :] - ahead[:, :1]) / run[:, None]
    at = lines_right[:, :1] + part * (lines_right[:, 1:] - lines_right[:, :1])
    met = (part >= 0.0) & (part <= 1.0)
    port = np.where(met, -at, -np.inf).max(axis=0)
    starboard = np.where(met, at, -np.inf).max(axis=0)
    known = np.flatnonzero(np.isfinite(port))
    return np.interp(along, along[known], port[known]), np.interp(along, along[known], starboard[known])


_LEVEL_M = 1e-6
"""Sides that run along less than this are square to the leg: their ends are ends of others, too."""
