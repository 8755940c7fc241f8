"""How much many lines fall short of what they must keep clear by, to a few metres: for the search for advice.

Only the legs around a change are looked at. What is found is confirmed by the check itself
(`towzone.plan.advice.engine`) before anything is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from towzone.checks.settings import GearProof
from towzone.gear.figures import Rigging
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import direct, inverse, points_along
from towzone.model.plan import PlannedLine
from towzone.plan.advice.flat import Complexes, Flat, Obstacles, obstacles_of
from towzone.plan.advice.trails import COURSE_M, Towed, outlines, towed_gear
from towzone.plan.judging import Judge
from towzone.units import KNOT_MPS

__all__ = ["AFTER", "BEFORE", "CORNER", "LEAST", "MIDDLE", "SECTIONS", "Quick", "Routes", "Short"]

LEAST = -60.0
"""What is clear by more than this, metres, is not worked out. Own choice."""

SECTIONS = 3
AFTER, MIDDLE, BEFORE = 0, 1, 2
"""Each leg has three sections: after the corner where it begins, the middle, before the one where it ends."""

CORNER = 3.0
"""The first and the last of them are so many lengths of the gear long: 5 % of a turn are left then.
Own choice."""

_AFTER_CORNER = np.concatenate(
    [
        np.arange(0.0, 0.4, 0.04),
        [0.42, 0.52, 0.63, 0.75, 0.88, 1.02, 1.2, 1.4, 1.65, 1.95, 2.3, 2.7, 3.0, 3.6, 4.4],
    ]
)
"""Lengths of the gear after a corner at which it is looked at; farther on it runs straight. Own choice."""

_STRAIGHT_M = 500.0
"""Longest step there. Own choice."""

_NO_GEAR_M = 500.0
"""Stands for the length of the gear where none is reckoned with. Own choice."""

_KINDS = 4
_VESSEL, _HANDLED, _LIKELY, _ROPE = range(_KINDS)
"""What is filled in: the vessel; gear that is shot or hauled; towed gear by its path, and by its rope."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Routes:
    """Some lines, or the same part of some lines, with as many corners each.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (c, k)
    begins, ends : bool
        Whether the first corner is where towing begins, the last one where the haul is called.
    since_s : float
        Seconds after departure at the first corner.
    """

    lon_deg: FloatArray
    lat_deg: FloatArray
    begins: bool
    ends: bool
    since_s: float = 0.0

    def __len__(self) -> int:
        return len(self.lon_deg)

    def chosen(self, which: npt.ArrayLike) -> Routes:
        """Return some of the lines."""
        lon, lat = self.lon_deg[np.asarray(which)], self.lat_deg[np.asarray(which)]
        return Routes(lon_deg=lon, lat_deg=lat, begins=self.begins, ends=self.ends, since_s=self.since_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Short:
    """By how much lines fall short, metres; negative where there is room to spare.

    ``vessel_m`` and ``gear_m`` have shape (c, legs, sections, zones); below `LEAST` they are not worked out.
    """

    vessel_m: FloatArray
    gear_m: FloatArray

    @property
    def most_m(self) -> FloatArray:
        """The greater of the two."""
        return np.maximum(self.vessel_m, self.gear_m)


class Quick:
    """The light evaluator for one line and lines up to some way aside of it."""

    def __init__(self, line: PlannedLine, judge: Judge, farther_m: float) -> None:
        self.judge = judge
        self.kind = judge.settings.check.legs
        self.flat = Flat.around(line)
        self.obstacles: Obstacles = obstacles_of(line, judge, self.flat, farther_m)
        self.speed_mps = judge.settings.speed_kn * KNOT_MPS
        model = judge.settings.check.gear_proof is GearProof.MODEL
        self.towed: Towed | None = None
        self.has_gear = isinstance(judge.rigging, Rigging)
        if model and isinstance(judge.rigging, Rigging):
            self.towed = towed_gear(
                judge.rigging, judge.settings.check.gear_proof.sigmas, judge.settings.speed_kn
            )

    @property
    def gear_m(self) -> float:
        """Length of the gear over the ground, or of its rope where no path of it is reckoned with."""
        if self.towed is not None:
            return self.towed.length_m
        return self.judge.rope_m if self.has_gear else _NO_GEAR_M

    def short(self, routes: Routes, *, gear: bool = True) -> Short:
        """Return by how much routes fall short of what each obstacle asks for.

        Parameters
        ----------
        gear : bool
            Whether the path of the gear is looked at; without it only what the vessel's own line tells is.
        """
        nodes = self._nodes(routes)
        shape = (len(routes), routes.lon_deg.shape[1] - 1, SECTIONS, len(self.obstacles.each))
        found = np.full((_KINDS, *shape), -np.inf)
        if shape[3]:
            self._vessel(routes, nodes, found, gear=gear)
        if shape[3] and gear and self.towed is not None:
            self._gear(routes, nodes, self.towed, found)
        # Towed gear is clear if its rope alone keeps it so all along, or its path.
        towed_m = found[_ROPE]
        if self.towed is not None:
            towed_m = np.minimum(found[_LIKELY], towed_m.max(axis=(1, 2), keepdims=True))
        return Short(vessel_m=found[_VESSEL], gear_m=np.maximum(found[_HANDLED], towed_m))

    def _nodes(self, routes: Routes) -> _Nodes:
        lon, lat = routes.lon_deg, routes.lat_deg
        middle = points_along(self.kind, lon[:, :-1], lat[:, :-1], lon[:, 1:], lat[:, 1:], 0.5)
        corner = self.flat.place(lon, lat)
        bow = self.flat.place(wrap_longitude(middle[0]), middle[1]) - (corner[:, :-1] + corner[:, 1:]) / 2.0
        length_m = np.abs(np.diff(corner, axis=1))
        near_m = np.sort(np.concatenate([_AFTER_CORNER * self.gear_m, [COURSE_M / 2.0, COURSE_M]]))
        more = int(max(np.ceil((length_m.max() - near_m[-1]) / _STRAIGHT_M), 1.0))
        # Of shape (c, legs, nodes of a leg): the same number on every leg, some of them in one place.
        metres = length_m[:, :, None]
        close = np.minimum(near_m[None, None, :], metres)
        rest = close[:, :, -1:] + (metres - close[:, :, -1:]) * (np.arange(1, more) / more)
        last = np.maximum(metres - COURSE_M * np.array([1.0, 0.5, 0.0]), 0.0)
        along_m = np.sort(np.concatenate([close, rest, last], axis=2), axis=2)
        share = along_m / np.maximum(metres, 1e-3)
        start, end = corner[:, :-1, None], corner[:, 1:, None]
        place = start + share * (end - start) + 4.0 * share * (1.0 - share) * bow[:, :, None]
        straight = (end - start) / np.maximum(metres, 1e-3)
        # Segments: those of a leg, and before it one of no length from the last node of the leg before.
        middle_m = np.concatenate([along_m[:, :, :1], (along_m[:, :, 1:] + along_m[:, :, :-1]) / 2.0], axis=2)
        corner_m = np.minimum(CORNER * self.gear_m, metres / 2.0)
        section = np.where(middle_m < corner_m, AFTER, np.where(middle_m > metres - corner_m, BEFORE, MIDDLE))
        leg = np.broadcast_to(np.arange(length_m.shape[1])[None, :, None], place.shape)
        before_m = np.cumsum(length_m, axis=1)[:, :, None] - metres
        count = len(routes)
        return _Nodes(
            place=place.reshape(count, -1),
            course=_courses(straight, along_m, metres).reshape(count, -1),
            leg=leg.reshape(count, -1)[:, 1:],
            section=section.reshape(count, -1)[:, 1:],
            clock_s=routes.since_s + ((before_m + along_m) / self.speed_mps).reshape(count, -1),
        )

    def _run(self, routes: Routes, *, out: bool) -> _Nodes:
        """Return the way before the first corner, or after the last, as nodes."""
        lon, lat = routes.lon_deg, routes.lat_deg
        corner, other = (-1, -2) if out else (0, 1)
        at = lon[:, corner], lat[:, corner]
        _, course = inverse(self.kind, *at, lon[:, other], lat[:, other])
        length_m = self.judge.run_out_m if out else self.judge.run_in_m
        metres = np.linspace(0.0, length_m, max(int(np.ceil(length_m / _STRAIGHT_M)), 1) + 1)
        ends = direct(
            self.kind, at[0][:, None], at[1][:, None], (course[:, None] + 180.0) % 360.0, metres[None, :]
        )
        place = self.flat.place(*ends)
        count, leg = len(metres) - 1, lon.shape[1] - 2 if out else 0
        contact = self.judge.contact
        seconds = np.linspace(0.0, contact.latest_s if out else contact.earliest_s, len(metres))
        if out:
            whole_m = np.abs(np.diff(self.flat.place(lon, lat), axis=1)).sum(axis=1)
            seconds = seconds[None, :] + whole_m[:, None] / self.speed_mps
        return _Nodes(
            place=place,
            course=np.zeros_like(place),
            leg=np.full((len(routes), count), leg),
            section=np.full((len(routes), count), BEFORE if out else AFTER),
            clock_s=routes.since_s + np.broadcast_to(seconds, place.shape),
        )

    def _vessel(self, routes: Routes, nodes: _Nodes, found: FloatArray, *, gear: bool) -> None:
        """Fill in what the line of the vessel tells: its own clearance, and that of gear by its rope."""
        by_rope = self.has_gear and (gear or self.towed is None)
        self._line(nodes, _ROPE if by_rope else None, found)
        # Shot and hauled, gear is where its rope lets it be.
        for out in (False, True):
            if routes.ends if out else routes.begins:
                self._line(self._run(routes, out=out), _HANDLED if self.has_gear else None, found)

    def _line(self, nodes: _Nodes, by_rope: int | None, found: FloatArray) -> None:
        vessel_m, _, rope_m = self.obstacles.needs_m
        start, end = nodes.place[:, :-1], nodes.place[:, 1:]
        most_m = vessel_m if by_rope is None else np.maximum(vessel_m, rope_m)
        pairs = self._near(
            nodes,
            np.minimum(start.real, end.real),
            np.minimum(start.imag, end.imag),
            np.maximum(start.real, end.real),
            np.maximum(start.imag, end.imag),
            most_m,
        )
        if not len(pairs.zone):
            return
        a, b = start[pairs.line, pairs.segment], end[pairs.line, pairs.segment]
        ends = np.stack([np.stack([a.real, a.imag], axis=1), np.stack([b.real, b.imag], axis=1)], axis=1)
        apart_m = shapely.distance(shapely.linestrings(ends), self.obstacles.shapes[pairs.zone])
        pairs.fill(found[_VESSEL], nodes, vessel_m[pairs.zone] - apart_m)
        if by_rope is not None:
            pairs.fill(found[by_rope], nodes, rope_m[pairs.zone] - apart_m)

    def _gear(self, routes: Routes, nodes: _Nodes, towed: Towed, found: FloatArray) -> None:
        """Fill in what the likely outline of the gear tells."""
        points = outlines(nodes.place, nodes.course, towed, begins=routes.begins)
        low_x, high_x = points.real.min(axis=2), points.real.max(axis=2)
        low_y, high_y = points.imag.min(axis=2), points.imag.max(axis=2)
        likely_m = self.obstacles.needs_m[1]
        pairs = self._near(
            nodes,
            np.minimum(low_x[:, :-1], low_x[:, 1:]),
            np.minimum(low_y[:, :-1], low_y[:, 1:]),
            np.maximum(high_x[:, :-1], high_x[:, 1:]),
            np.maximum(high_y[:, :-1], high_y[:, 1:]),
            likely_m,
        )
        if not len(pairs.zone):
            return
        segments = points.shape[1] - 1
        which, back = np.unique(pairs.line * segments + pairs.segment, return_inverse=True)
        line, segment = np.divmod(which, segments)
        both = np.concatenate([points[line, segment], points[line, segment + 1]], axis=1)
        # The hull of a line is that of its points, and lines are made faster.
        hulls = shapely.convex_hull(shapely.linestrings(np.stack([both.real, both.imag], axis=-1)))
        apart_m = shapely.distance(hulls[back.ravel()], self.obstacles.shapes[pairs.zone])
        pairs.fill(found[_LIKELY], nodes, likely_m[pairs.zone] - apart_m)

    def _near(
        self,
        nodes: _Nodes,
        low_x: FloatArray,
        low_y: FloatArray,
        high_x: FloatArray,
        high_y: FloatArray,
        need_m: FloatArray,
    ) -> _Pairs:
        """Return the segments and zones whose boxes are nearer than needed while the rule holds."""
        limit_m = need_m - LEAST
        all_boxes = self.obstacles.boxes
        # Most zones are far from all of the segments.
        close = (all_boxes[:, 0] - limit_m < high_x.max()) & (all_boxes[:, 2] + limit_m > low_x.min())
        close &= (all_boxes[:, 1] - limit_m < high_y.max()) & (all_boxes[:, 3] + limit_m > low_y.min())
        kept = np.flatnonzero(close)
        boxes, limit_m = all_boxes[kept], limit_m[kept]
        east = np.maximum(boxes[:, 0] - high_x[..., None], low_x[..., None] - boxes[:, 2])
        north = np.maximum(boxes[:, 1] - high_y[..., None], low_y[..., None] - boxes[:, 3])
        near = (east < limit_m) & (north < limit_m)
        line, segment, zone = np.nonzero(near)
        zone = kept[zone]
        held = np.ones(len(zone), dtype=bool)
        for number in np.unique(zone).tolist():
            spans = self.obstacles.each[number].held_s
            mine = np.flatnonzero(zone == number)
            first = np.minimum(nodes.clock_s[:, :-1], nodes.clock_s[:, 1:])[line[mine], segment[mine]]
            last = np.maximum(nodes.clock_s[:, :-1], nodes.clock_s[:, 1:])[line[mine], segment[mine]]
            held[mine] = np.any([(first <= until) & (last >= since) for since, until in spans], axis=0)
        return _Pairs(line=line[held], segment=segment[held], zone=zone[held])


def _courses(leg: Complexes, along_m: FloatArray, length_m: FloatArray) -> Complexes:
    """Return the courses of nodes, taken over some way before and after, as the model of the gear has them.

    Parameters
    ----------
    leg : ndarray of complex, shape (c, legs, 1)
        Courses of the legs, of length 1.
    along_m : ndarray, shape (c, legs, n)
        Of each node from the beginning of its leg.
    length_m : ndarray, shape (c, legs, 1)
    """
    before = np.concatenate([leg[:, :1], leg[:, :-1]], axis=1)
    after = np.concatenate([leg[:, 1:], leg[:, -1:]], axis=1)
    early_m = np.maximum(COURSE_M - along_m, 0.0)
    late_m = np.maximum(COURSE_M - (length_m - along_m), 0.0)
    mean = (2.0 * COURSE_M - early_m - late_m) * leg + early_m * before + late_m * after
    size = np.abs(mean)
    return np.asarray(np.where(size > 1.0, mean / np.maximum(size, 1.0), leg))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Nodes:
    """Nodes of lines, shape (c, n), and the segments between them, shape (c, n - 1).

    ``course`` has length 1; ``clock_s`` are seconds after departure; ``leg`` and ``section`` are those of a
    segment.
    """

    place: Complexes
    course: Complexes
    leg: npt.NDArray[np.int64]
    section: npt.NDArray[np.int64]
    clock_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pairs:
    """Segments of lines and zones, by their numbers, as columns."""

    line: npt.NDArray[np.int64]
    segment: npt.NDArray[np.int64]
    zone: npt.NDArray[np.int64]

    def fill(self, found: FloatArray, nodes: _Nodes, short_m: FloatArray) -> None:
        """Enter the most by which each leg and section falls short of each zone."""
        leg = nodes.leg[self.line, self.segment]
        section = nodes.section[self.line, self.segment]
        np.maximum.at(found, (self.line, leg, section, self.zone), short_m)
