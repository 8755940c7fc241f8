"""Whether there is room for a leg: how much vessel and gear would lack of what they have to keep off by."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.footprint import Footprint
from towzone.plan.route.obstacles import Obstacle
from towzone.plan.route.plane import Plane

__all__ = ["Ends", "Leg", "Room", "course_of", "turn_between"]


class Ends(NamedTuple):
    """What a planned tow needs before its first corner and beyond its last, metres over the ground."""

    rope_m: float
    run_in_m: float
    run_out_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A leg in the plane, with the turn that the gear has still before it as it begins.

    Parameters
    ----------
    start, end : tuple of float
    turn_deg : float
        How far off the leg the gear lies as it begins, positive after a turn to starboard.
    first, last : bool
        Whether towing begins, or the haul is called, at its ends.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    turn_deg: float = 0.0
    first: bool = False
    last: bool = False


def course_of(start: Sequence[float], end: Sequence[float]) -> float:
    """Return the course of a leg in the plane, degrees in [0, 360)."""
    return math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360.0


def turn_between(before_deg: float, after_deg: float) -> float:
    """Return the turn from one course to another, degrees in [-180, 180), positive to starboard."""
    return (after_deg - before_deg + 180.0) % 360.0 - 180.0


class Room:
    """Obstacles, and the way that a vessel and its gear take between them.

    Parameters
    ----------
    obstacles : sequence of Obstacle
    waters : tuple of float
        The box, low x, low y, high x, high y, in which ways are looked for.
    more_m : mapping of int to (float, float)
        By zone: how much more than it should need the check has found vessel and gear to need.
    """

    def __init__(
        self,
        plane: Plane,
        footprint: Footprint,
        ends: Ends,
        obstacles: Sequence[Obstacle],
        waters: tuple[float, float, float, float],
        more_m: Mapping[int, tuple[float, float]],
    ) -> None:
        self.plane = plane
        self.footprint = footprint
        self.ends = ends
        self.waters = waters
        self.obstacles = tuple(obstacles)
        self.shapes = np.array([o.shape for o in self.obstacles], dtype=object)
        more = [more_m.get(o.number, (0.0, 0.0)) for o in self.obstacles]
        self.vessel_m = np.array([o.vessel_m + m[0] for o, m in zip(self.obstacles, more, strict=True)])
        self.gear_m = np.array([o.gear_m + m[1] for o, m in zip(self.obstacles, more, strict=True)])
        self.scale_table = self._scale_table()
        self._blocked: dict[Leg, tuple[list[int], bool]] = {}
        if footprint.disc_m > 0.0:
            disc_m = footprint.disc_m * self.greatest_scale
            self.vessel_m = np.maximum(self.vessel_m, self.gear_m + disc_m)

    @cached_property
    def _tree(self) -> Any:
        return shapely.STRtree(self.shapes)

    @cached_property
    def _farthest_m(self) -> float:
        return float(max(self.vessel_m.max(), self.gear_m.max())) if len(self.obstacles) else 0.0

    def _scale_table(self) -> tuple[FloatArray, FloatArray]:
        y = np.linspace(-1_000_000.0, 1_000_000.0, 401)
        return y, self.plane.scale_at(np.column_stack([np.zeros_like(y), y]))

    def scale(self, y: float) -> float:
        """Return how many metres of the plane one metre over the ground is, at an ordinate."""
        return float(np.interp(y, *self.scale_table)) if self.plane.mercator else 1.0

    @cached_property
    def straight_m(self) -> FloatArray:
        """Return the least that any line has to keep off each shape, metres of the plane."""
        narrow = self.footprint.narrowest_m
        return np.asarray(np.maximum(self.vessel_m, self.gear_m + narrow * self.least_scale))

    @cached_property
    def least_scale(self) -> float:
        """The least scale of the plane in the waters."""
        low, high = self.waters[1], self.waters[3]
        return min(self.scale(y) for y in (low, high, min(max(0.0, low), high)))

    def blocked(self, leg: Leg) -> tuple[list[int], bool]:
        """Return the obstacles that a leg does not keep clear of, and whether no turn before it matters.

        They need not be all.
        """
        if leg not in self._blocked:
            self._blocked[leg] = self._blocked_by(leg)
        return self._blocked[leg]

    def _blocked_by(self, leg: Leg) -> tuple[list[int], bool]:
        near = self._near(leg)
        if not len(near):
            return [], True
        found: dict[int, float] = {}
        self._add(found, near, shapely.LineString([leg.start, leg.end]), self.vessel_m)
        if not found:
            for capsule, rope_m in self._capsules(leg):
                self._add(found, near, capsule, np.maximum(self.gear_m + rope_m, self.vessel_m))
        if found or self.footprint.disc_m:
            return sorted(found), True
        self._add(found, near, self.gear_outline(leg), self.gear_m)
        if not found or leg.first:
            return sorted(found), True
        straight: dict[int, float] = {}
        self._add(straight, near, self.gear_outline(replace(leg, turn_deg=0.0)), self.gear_m)
        return sorted(found), bool(straight)

    def shortfall(self, leg: Leg, most: float) -> tuple[float, bool]:
        """Return the metres that a leg lacks from all obstacles together, and whether that is all.

        More than ``most`` is enough to know, so then it may be less than all.
        """
        near = self._near(leg)
        if not len(near):
            return 0.0, True
        found: dict[int, float] = {}
        self._add(found, near, shapely.LineString([leg.start, leg.end]), self.vessel_m)
        for capsule, rope_m in self._capsules(leg):
            self._add(found, near, capsule, np.maximum(self.gear_m + rope_m, self.vessel_m))
        if sum(found.values()) > most:
            return sum(found.values()), False
        if not self.footprint.disc_m:
            self._add(found, near, self.gear_outline(leg), self.gear_m)
        return sum(found.values()), True

    def _near(self, leg: Leg) -> npt.NDArray[np.int64]:
        """Return the obstacles that may matter to a leg."""
        if not len(self.obstacles):
            return np.empty(0, dtype=np.int64)
        far = self._farthest_m + 1.1 * self.footprint.widest_m * self.greatest_scale
        if leg.first or leg.last:
            far += self.greatest_scale * (self.ends.rope_m + max(self.ends.run_in_m, self.ends.run_out_m))
        low_x, high_x = sorted((leg.start[0], leg.end[0]))
        low_y, high_y = sorted((leg.start[1], leg.end[1]))
        return np.sort(self._tree.query(shapely.box(low_x - far, low_y - far, high_x + far, high_y + far)))

    @cached_property
    def greatest_scale(self) -> float:
        """The greatest scale of the plane in the waters."""
        return max(self.scale(y) for y in (self.waters[1], self.waters[3]))

    def _add(
        self, found: dict[int, float], near: npt.NDArray[np.int64], way: Any, need_m: FloatArray
    ) -> None:
        apart = shapely.distance(self.shapes[near], way)
        lack = need_m[near] - apart
        for at in np.flatnonzero(lack > 0.0).tolist():
            index, short = int(near[at]), float(lack[at])
            if apart[at] == 0.0:
                short += _depth_m(way, self.shapes[index])
            found[index] = max(found.get(index, 0.0), short)

    def _capsules(self, leg: Leg) -> list[tuple[Any, float]]:
        """Return the ways before and beyond a towed line, with the length of the rope around them."""
        found: list[tuple[Any, float]] = []
        length = math.dist(leg.start, leg.end)
        if not (leg.first or leg.last) or length == 0.0:
            return found
        ahead = (leg.end[0] - leg.start[0]) / length, (leg.end[1] - leg.start[1]) / length
        for at, here, run_m in (
            (leg.first, leg.start, -self.ends.run_in_m),
            (leg.last, leg.end, self.ends.run_out_m),
        ):
            if at:
                scale = self.scale(here[1]) * 1.0005
                there = here[0] + run_m * scale * ahead[0], here[1] + run_m * scale * ahead[1]
                found.append((shapely.LineString([here, there]), self.ends.rope_m * scale))
        return found

    def gear_outline(self, leg: Leg) -> Any:
        """Return the ground that the likely gear takes along a leg and behind the corner before it."""
        length = math.dist(leg.start, leg.end)
        scale = max(self.scale(leg.start[1]), self.scale(leg.end[1]))
        course = course_of(leg.start, leg.end)
        print_ = self.footprint
        sides = print_.where_towing_begins(course) if leg.first else print_.after_turn(course, leg.turn_deg)
        along = print_.along_m * scale
        port, starboard = sides[0] * scale, sides[1] * scale
        stop = max(length - print_.front_m, along[0] + 1.0)
        kept = along < stop
        if leg.first:
            kept &= along >= -max(print_.front_m, 0.0)
        ends = [float(np.interp(stop, along, side)) for side in (port, starboard)]
        x = np.append(along[kept], stop)
        left, right = np.append(port[kept], ends[0]), np.append(starboard[kept], ends[1])
        ahead = np.concatenate([x, x[::-1]])
        aside = np.concatenate([-left, right[::-1]])
        sin, cos = math.sin(math.radians(course)), math.cos(math.radians(course))
        corners = np.column_stack(
            [leg.start[0] + ahead * sin + aside * cos, leg.start[1] + ahead * cos - aside * sin]
        )
        return shapely.Polygon(corners)

    def residual_deg(self, turn_deg: float, length_m: float) -> float:
        """Return how far off its leg the gear still is at its end."""
        half = math.tan(math.radians(turn_deg) / 2.0) * math.exp(-length_m / self.footprint.settling_m)
        return 2.0 * math.degrees(math.atan(half))

    def true_m(self, start: Sequence[float], end: Sequence[float]) -> float:
        """Return the length over the ground of a leg of the plane."""
        return math.dist(start, end) / self.scale((start[1] + end[1]) / 2.0)


def _depth_m(way: Any, shape: Any) -> float:
    """Return roughly how deep a way lies in a shape that it meets."""
    met = shapely.intersection(way, shape) if shapely.is_valid(way) else way
    if met.area > 0.0:
        return 0.5 * math.sqrt(met.area)
    if met.length > 0.0:
        return 0.5 * float(met.length)
    return float(shapely.distance(way.boundary, shape)) if way.area > 0.0 else 0.0
