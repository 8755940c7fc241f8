"""What a tow's gear was towed by: the figures that hold for it, and the towing block as nodes to follow."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.intervals import Intervals, intersect
from towzone.checks.legs import BoolArray
from towzone.checks.paths import Path
from towzone.checks.places import value_at
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import covered_places
from towzone.gear.figures import Measured, NoRigging, Rigging, rigging_for
from towzone.gear.offsets import beside, courses_deg
from towzone.gear.phases import Contact, Winch, contact_times, warp_out_m
from towzone.gear.stretch import Lead, laybacks_m
from towzone.geodesy.ellipsoid import FloatArray, arc_from_chord, to_geocentric, wrap_longitude
from towzone.model.gear import Basis, Figure
from towzone.model.result import Tow
from towzone.model.track import TrackKind
from towzone.tows.logged import LoggedHaul
from towzone.units import KNOT_MPS

__all__ = ["STEP_M", "TowGear", "gear_of_tow", "gear_outside_tows"]

_WINCH_SIGMAS = 2.0
"""By so many standard deviations the winch may have been slower while the gear is taken to be out: nineteen
times in twenty it is not. Own choice."""

_JUST_DOWN_M = 0.02
"""So much more warp is out, than just reaches down, at the last node with the doors on the bottom: they are
then 2 m or so astern. Own choice."""

_STRIDE_S = 5.0
"""Fixes closer in time than this are passed over: a rope pulled by the noise of every fix would be drawn
forward by metres. Published as simulated for the plan of this project: under 1 m from 5 s on."""

STEP_M = 10.0
"""Longest leg between nodes: the path of the gear and that of the net behind it are then true to millimetres
on any tow that does not turn sharper than its layback. Own choice, tested."""


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
        return _farthest(self.rigging, self.warp_m, self.depth_m)

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
            lead = self._lead(path, _nodes(path, np.concatenate([[first], inner, [last]])))
            if lead is not None:
                yield lead

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


def gear_of_tow(path: Path, tow: Tow, settings: CheckSettings) -> TowGear | NoRigging | None:
    """Return what is known of a tow's gear; ``None`` where no figures of the gear are given."""
    if settings.figures is None:
        return None
    haul = _logged(tow, settings)
    # Warp that goes out and comes in, while shooting and hauling, follows from that while towing.
    warp = _readings(path, "warp_m", math.ceil(tow.shoot), math.floor(tow.haul))
    depth = _readings(path, "depth_m", tow.first, tow.last)
    gear = haul.gear if haul and haul.gear else settings.gear
    measured = _measured(warp, haul.warp_m if haul else None)
    if measured is not None:
        depth = _shallower(depth, measured.value_m)
    rigging = _rigging(settings, haul, warp, depth, gear)
    if isinstance(rigging, Rigging) and rigging.depth.basis is Basis.TRACK:
        # Again, by the depths alone that are some: echoes of nothing make the mean of all too deep.
        depth = _below_warp(depth, rigging)
        rigging = _rigging(settings, haul, warp, depth, gear)
    if isinstance(rigging, NoRigging):
        return rigging
    # The figures decide which source counts: depths of the water are not those of a midwater trawl's doors.
    warp = warp if rigging.warp.basis is Basis.TRACK else None
    depth = depth if rigging.depth.basis is Basis.TRACK else None
    # Before the first time and after the last the track is all gaps: what lies between has its clock.
    known = np.isfinite(path.time_s)
    timed = bool(known[tow.first : tow.last + 1].all()) and int(known.sum()) > 1
    winch = _winch(path, tow, rigging, timed=timed)
    contact = _contact(winch, rigging)
    at_the_most = _at_the_most(path, tow, rigging, winch, contact)
    return TowGear(
        rigging=rigging,
        winch=winch,
        contact=contact,
        span=_span(path, tow, at_the_most) if timed else (float(tow.first), float(tow.last)),
        warp_m=warp,
        depth_m=depth,
        timed=timed,
        crab_deg=_crab_deg(path, tow),
    )


def gear_outside_tows(path: Path, settings: CheckSettings) -> Rigging | NoRigging | None:
    """Return the figures for stretches of which it cannot be told whether they were a tow."""
    if settings.figures is None:
        return None
    warp, depth = (_readings(path, name, 0, len(path.track) - 1) for name in ("warp_m", "depth_m"))
    rigging = _rigging(settings, None, warp, depth, settings.gear)
    if isinstance(rigging, NoRigging):
        return rigging
    return _farthest(
        rigging,
        warp if rigging.warp.basis is Basis.TRACK else None,
        depth if rigging.depth.basis is Basis.TRACK else None,
    )


def _farthest(
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


def _rigging(
    settings: CheckSettings,
    haul: LoggedHaul | None,
    warp: tuple[FloatArray, FloatArray] | None,
    depth: tuple[FloatArray, FloatArray] | None,
    gear: str | None,
) -> Rigging | NoRigging:
    if settings.figures is None:
        message = "no figures of the gear are given"
        raise ValueError(message)
    return rigging_for(
        settings.figures,
        gear,
        warp=_measured(warp, haul.warp_m if haul else None),
        depth=_measured(depth, haul.depth_m if haul else None),
        door_spread=_measured(None, haul.door_spread_m if haul else None),
        position_error_m=settings.position_error_m,
    )


def _measured(series: tuple[FloatArray, FloatArray] | None, logged: float | None) -> Measured | None:
    if series is not None:
        return Measured(float(series[1].mean()), Basis.TRACK, "the track, fix by fix; the mean is given")
    return Measured(logged, Basis.HAUL_LOG, "the haul log") if logged is not None else None


def _logged(tow: Tow, settings: CheckSettings) -> LoggedHaul | None:
    if tow.basis != "log":
        return None
    return next((haul for haul in settings.hauls if haul.haul == tow.haul_id), None)


def _readings(path: Path, name: str, first: int, last: int) -> tuple[FloatArray, FloatArray] | None:
    """Return places and values of what the track tells, where it tells anything that can be."""
    column = path.track.readings.get(name)
    if column is None:
        return None
    own = column[first : last + 1].astype(np.float64)
    known = np.flatnonzero(np.nan_to_num(own, nan=0.0) > 0.0)
    return ((known + first).astype(np.float64), own[known]) if len(known) else None


def _below_warp(
    depth: tuple[FloatArray, FloatArray] | None, rigging: Rigging
) -> tuple[FloatArray, FloatArray] | None:
    """Leave out depths that the warp cannot have reached down to: echoes, not the bottom being towed on."""
    return _shallower(depth, rigging.warp.value - rigging.block_height.value)


def _shallower(
    depth: tuple[FloatArray, FloatArray] | None, most_m: float
) -> tuple[FloatArray, FloatArray] | None:
    if depth is None:
        return None
    reached = depth[1] < most_m
    return (depth[0][reached], depth[1][reached]) if reached.any() else None


def _following(series: tuple[FloatArray, FloatArray] | None, place: FloatArray, value: float) -> FloatArray:
    """Return a series at places, moved so that its mean is the figure's value (which may be under trial)."""
    if series is None:
        return np.full(len(place), value)
    return np.asarray(np.interp(place, *series) + (value - series[1].mean()))


def _winch(path: Path, tow: Tow, rigging: Rigging, *, timed: bool) -> Winch:
    shoot_s = haul_s = np.nan
    if timed and path.track.kind is not TrackKind.PLANNED:
        # A tow that the positions do not show beginning or ending has its warp out at that end.
        shoot_s = -np.inf if tow.shoot_open else value_at(path.time_s, tow.shoot)
        haul_s = np.inf if tow.haul_open else value_at(path.time_s, tow.haul)
    return Winch(
        shoot_s=shoot_s if np.isfinite(shoot_s) else -np.inf,
        haul_s=haul_s if np.isfinite(haul_s) else np.inf,
        veer_mps=rigging.veer_speed.value,
        heave_mps=rigging.heave_speed.value,
    )


def _contact(winch: Winch, rigging: Rigging) -> Contact:
    """Return when the gear was on the bottom, by the figures, and at the most: by a slower winch."""
    rope = {
        "warp_m": rigging.warp.value,
        "height_m": rigging.depth.value + rigging.block_height.value,
        "behind_m": rigging.sweeps.value + rigging.net_length.value,
    }
    slow = replace(winch, veer_mps=_slowest(rigging.veer_speed), heave_mps=_slowest(rigging.heave_speed))
    most = contact_times(slow, **rope)
    contact = contact_times(winch, **rope)
    return replace(contact, earliest_s=most.earliest_s, latest_s=most.latest_s)


def _slowest(speed: Figure) -> float:
    return max(speed.value - _WINCH_SIGMAS * speed.sigma, speed.value / 4.0)


def _span(path: Path, tow: Tow, contact: Contact) -> tuple[float, float]:
    """Return the places between which any part may have touched the bottom, at least the tow."""
    timed = np.flatnonzero(np.isfinite(path.time_s))
    fixes, time_s = timed.astype(np.float64), path.time_s[timed]
    first, last = (float(np.interp(at_s, time_s, fixes)) for at_s in (contact.earliest_s, contact.latest_s))
    before = [other.last for other in path.tows if other.number < tow.number]
    after = [other.first for other in path.tows if other.number > tow.number]
    low, high = max(min(first, tow.first), *before, fixes[0]), min(max(last, tow.last), *after, fixes[-1])
    return float(low), float(high)


def _at_the_most(path: Path, tow: Tow, rigging: Rigging, winch: Winch, contact: Contact) -> Contact:
    """Return a contact that ends, though the tow is not seen to: with the gap that hides it and a haul after.

    What was towed into a gap may have been hauled as late as at its end, and what was towed out of it shot as
    early as at its beginning. At the ends of the track there is nothing beyond.
    """
    end = len(path.time_s) - 1
    before_s, after_s = path.time_s[max(tow.first - 1, 0)], path.time_s[min(tow.last + 1, end)]
    if not np.isfinite(contact.earliest_s) and np.isfinite(before_s):
        shot = _contact(replace(winch, shoot_s=float(before_s)), rigging)
        contact = replace(contact, earliest_s=shot.earliest_s)
    if not np.isfinite(contact.latest_s) and np.isfinite(after_s):
        hauled = _contact(replace(winch, haul_s=float(after_s)), rigging)
        contact = replace(contact, latest_s=hauled.latest_s)
    return contact


def _nodes(path: Path, keys: FloatArray) -> FloatArray:
    """Return the places of nodes from the first key to the last.

    They are the keys, fixes no closer in time than need be, and more so that no step is longer than need be.
    """
    fixes = np.arange(np.floor(keys.min()) + 1.0, np.ceil(keys.max()))
    ends_s = np.interp([keys.min(), keys.max()], np.arange(len(path.time_s)), path.time_s)
    kept = fixes[_spaced(path.time_s[fixes.astype(np.int64)], *ends_s.tolist())]
    places = np.unique(np.concatenate([keys, kept]))
    xyz = to_geocentric(*path.positions(places))
    apart_m = arc_from_chord(xyz[:-1], xyz[1:])
    counts = np.maximum(1, np.ceil(apart_m / STEP_M)).astype(np.int64)
    start = np.repeat(places[:-1], counts)
    step = np.arange(len(start)) - np.repeat(np.cumsum(counts) - counts, counts)
    inner = start + step / np.repeat(counts, counts) * np.repeat(np.diff(places), counts)
    return np.append(inner, places[-1])


def _spaced(time_s: FloatArray, first_s: float, last_s: float) -> BoolArray:
    """Return which fixes are the first of their stride after the first node; all where times are not known.

    None is kept within a stride of either end, which is a node: the first leg says how the gear lay.
    """
    if np.isnan(time_s).any() or np.isnan(first_s) or np.isnan(last_s):
        return np.ones(len(time_s), dtype=bool)
    stride = np.floor((np.concatenate([[first_s], time_s]) - first_s) / _STRIDE_S)
    return np.asarray((np.diff(stride) > 0.0) & (time_s <= last_s - _STRIDE_S))


def _heading(path: Path, place: FloatArray, course_deg: FloatArray) -> FloatArray:
    """Return the vessel's heading where the track has one around the place, else its course."""
    column = path.track.readings.get("heading_deg")
    if column is None or np.isnan(column).all():
        return course_deg
    nearest = np.clip(np.round(place).astype(np.int64), 0, len(column) - 1)
    heading = column[nearest].astype(np.float64)
    return np.where(np.isnan(heading), course_deg, heading)


def _crab_deg(path: Path, tow: Tow) -> float | None:
    """Return the mean angle between heading and course at the fixes of a tow."""
    column = path.track.readings.get("heading_deg")
    if column is None:
        return None
    fixes = np.arange(math.ceil(tow.shoot), math.floor(tow.haul) + 1)
    if len(fixes) < 2:
        return None
    course = courses_deg(path.track.lon_deg[fixes], path.track.lat_deg[fixes])
    off = np.abs(wrap_longitude(column[fixes].astype(np.float64) - course))
    return float(np.nanmean(off)) if np.isfinite(off).any() else None


def _clock_by_speed(path: Path, place: FloatArray, rigging: Rigging) -> FloatArray:
    fixes = np.arange(len(path.travelled_m), dtype=np.float64)
    return np.interp(place, fixes, path.travelled_m) / (rigging.tow_speed.value * KNOT_MPS)
