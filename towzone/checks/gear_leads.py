"""What a tow's gear was towed by: the towing block as nodes to follow, with the warp that was out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.gear_nodes import nodes_of_plan, nodes_of_track
from towzone.checks.intervals import Intervals, intersect
from towzone.checks.paths import Path
from towzone.checks.shares import covered_places
from towzone.gear.figures import Rigging
from towzone.gear.offsets import beside, courses_deg
from towzone.gear.phases import Contact, Winch, warp_out_m
from towzone.gear.stretch import Lead, laybacks_m
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.track import TrackKind
from towzone.units import KNOT_MPS

__all__ = ["TowGear", "farthest"]

_JUST_DOWN_M = 0.02
"""So much more warp is out, than just reaches down, at the last node with the doors on the bottom: they are
then 2 m or so astern. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TowGear:
    """What is known of one tow's gear before its path is computed.

    Parameters
    ----------
    rigging : Rigging
    winch : Winch
        Its clock is that of ``path.time_s``, or seconds along the route at towing speed.
    contact : Contact
    span : tuple of float
        Places between which any part may have touched the bottom.
    warp_m, depth_m : tuple of ndarray (place, value), or None
        What the track itself tells of warp and depth.
    timed : bool
        Whether the clock is that of the track, which has times all along the tow.
    crab_deg : float or None
        How far the vessel's heading lay off its course on average while towing; ``None`` without headings.
    """

    rigging: Rigging
    winch: Winch
    contact: Contact
    span: tuple[float, float]
    warp_m: tuple[FloatArray, FloatArray] | None
    depth_m: tuple[FloatArray, FloatArray] | None
    timed: bool
    crab_deg: float | None = None

    @property
    def farthest(self) -> Rigging:
        """The figures by which the gear was farthest from the vessel at any time of the tow.

        What was measured all along changed on the way: the longest warp counts, and the least depth.
        """
        return farthest(self.rigging, self.warp_m, self.depth_m)

    def with_rigging(self, rigging: Rigging) -> TowGear:
        """Return the same tow with other figures, which tell how fast the warp goes out and comes in, too."""
        winch = replace(self.winch, veer_mps=rigging.veer_speed.value, heave_mps=rigging.heave_speed.value)
        return replace(self, rigging=rigging, winch=winch)

    def leads(self, path: Path, keys: FloatArray, span: tuple[float, float] | None = None) -> Iterator[Lead]:
        """Yield the towing block along each covered stretch that has a direction.

        Parameters
        ----------
        keys : ndarray
            Places that have to be nodes, where they lie on a stretch.
        span : tuple of float
            Only between these places.
        """
        low, high = self.span if span is None else span
        keys = np.concatenate([keys, self._brinks(path)])
        whole = Intervals(np.array([low]), np.array([high]))
        stretches = intersect(covered_places(path.covered), whole)
        for first, last in zip(stretches.first.tolist(), stretches.last.tolist(), strict=True):
            inner = keys[(keys > first) & (keys < last)]
            lead = self._lead(path, self._nodes(path, np.concatenate([[first], inner, [last]])))
            if lead is not None:
                yield lead

    def _nodes(self, path: Path, keys: FloatArray) -> FloatArray:
        if path.track.kind is not TrackKind.PLANNED:
            return nodes_of_track(path, keys)
        rigging = self.farthest
        return nodes_of_plan(path, keys, rigging.warp.value + rigging.sweeps.value + rigging.net_length.value)

    def _brinks(self, path: Path) -> FloatArray:
        """Return the places at which the doors come down and leave the bottom.

        In the last seconds before that the warp draws them forward by tens of metres: only a node just
        there sees all of it.
        """
        if not self.timed:
            return np.empty(0)
        rigging, known = self.rigging, np.flatnonzero(np.isfinite(path.time_s))
        aside_m = (rigging.door_spread.value - rigging.block_separation.value) / 2.0
        down_m = math.hypot(rigging.depth.value + rigging.block_height.value, aside_m) + _JUST_DOWN_M
        in_m = max(rigging.warp.value - down_m, 0.0)
        brinks = [
            self.winch.shoot_s - in_m / self.winch.veer_mps,
            self.winch.haul_s + in_m / self.winch.heave_mps,
        ]
        inside = [at for at in brinks if path.time_s[known[0]] < at < path.time_s[known[-1]]]
        return np.interp(inside, path.time_s[known], known.astype(np.float64))

    def _lead(self, path: Path, place: FloatArray) -> Lead | None:
        lon, lat = path.positions(place)
        course = courses_deg(lon, lat) if len(place) > 1 else np.array([np.nan])
        if np.isnan(course).any():
            return None  # it never moved: where its gear lay is not known
        rigging = self.rigging
        lon, lat = beside(
            lon, lat, _heading(path, place, course), -rigging.block_aft.value, rigging.block_starboard.value
        )
        clock = self._clock(path, place)
        legs = np.minimum(place.astype(np.int64), max(len(path.speed_kn) - 1, 0))
        speed = np.nan_to_num(path.speed_kn[legs], nan=rigging.tow_speed.value) * KNOT_MPS
        return Lead(
            place=place,
            clock_s=clock,
            lon_deg=lon,
            lat_deg=lat,
            speed_mps=speed,
            warp_m=warp_out_m(clock, self._warp_towed_m(place), self.winch),
            height_m=self._depth_at_doors_m(path, place) + rigging.block_height.value,
        )

    def _clock(self, path: Path, place: FloatArray) -> FloatArray:
        if self.timed:
            fixes = np.flatnonzero(np.isfinite(path.time_s))
            return np.interp(place, fixes, path.time_s[fixes])
        return _clock_by_speed(path, place, self.rigging)

    def _warp_towed_m(self, place: FloatArray) -> FloatArray:
        return _following(self.warp_m, place, self.rigging.warp.value)

    def _depth_at_doors_m(self, path: Path, place: FloatArray) -> FloatArray:
        """Return the depth where the doors are: what the vessel sounded one layback earlier."""
        depth = self.rigging.depth.value
        if self.depth_m is None:
            return np.full(len(place), depth)
        warp = np.array([self.rigging.warp.value])
        layback = laybacks_m(warp, np.array([depth + self.rigging.block_height.value]), self.rigging)
        fixes = np.arange(len(path.travelled_m), dtype=np.float64)
        way = np.interp(place, fixes, path.travelled_m) - layback[0]
        return _following(self.depth_m, np.interp(way, path.travelled_m, fixes), depth)


def farthest(
    rigging: Rigging,
    warp_m: tuple[FloatArray, FloatArray] | None,
    depth_m: tuple[FloatArray, FloatArray] | None,
) -> Rigging:
    """Return a rigging with the longest warp that was measured, and the depths between which it was."""
    warp, depth = rigging.warp, rigging.depth
    if warp_m is not None:
        longest_m = float(warp_m[1].max())
        warp = replace(warp, value=longest_m, sigma=warp.sigma * longest_m / warp.value)
    if depth_m is not None:
        off_m = 3.0 * depth.sigma  # as of every figure of the rope (`towzone.gear.bounds`)
        depth = replace(depth, low=float(depth_m[1].min()) - off_m, high=float(depth_m[1].max()) + off_m)
    longer_m = max(warp.value - rigging.warp.value, 0.0)  # the clump's warp goes out with the others
    clump = replace(rigging.clump_warp, value=rigging.clump_warp.value + longer_m)
    return replace(rigging, warp=warp, clump_warp=clump, depth=depth)


def _following(series: tuple[FloatArray, FloatArray] | None, place: FloatArray, value: float) -> FloatArray:
    """Return a series at places, moved so that its mean is the figure's value (which may be under trial)."""
    if series is None:
        return np.full(len(place), value)
    return np.asarray(np.interp(place, *series) + (value - series[1].mean()))


def _heading(path: Path, place: FloatArray, course_deg: FloatArray) -> FloatArray:
    """Return the vessel's heading where the track has one around the place, else its course."""
    column = path.track.readings.get("heading_deg")
    if column is None or np.isnan(column).all():
        return course_deg
    nearest = np.clip(np.round(place).astype(np.int64), 0, len(column) - 1)
    heading = column[nearest].astype(np.float64)
    return np.where(np.isnan(heading), course_deg, heading)


def _clock_by_speed(path: Path, place: FloatArray, rigging: Rigging) -> FloatArray:
    fixes = np.arange(len(path.travelled_m), dtype=np.float64)
    return np.interp(place, fixes, path.travelled_m) / (rigging.tow_speed.value * KNOT_MPS)
