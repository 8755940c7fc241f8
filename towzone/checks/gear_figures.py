"""What is known of the gear of a tow: its figures, who tells them, and when it was on the bottom."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from towzone.checks.gear_leads import TowGear, farthest
from towzone.checks.paths import Path
from towzone.checks.places import value_at
from towzone.checks.settings import CheckSettings
from towzone.gear.figures import Measured, NoRigging, Rigging, rigging_for
from towzone.gear.offsets import courses_deg
from towzone.gear.phases import Contact, Winch, contact_times
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.model.gear import Basis, Figure
from towzone.model.result import Tow
from towzone.model.track import TrackKind
from towzone.tows.logged import LoggedHaul

__all__ = ["contact_of", "gear_of_tow", "gear_outside_tows", "slowest_mps"]

_LENGTH_SIGMAS = 3.0
"""So many standard deviations every length may be off, as in the bound by the rope
(`towzone.gear.bounds`)."""

_WINCH_SIGMAS = 2.0
"""By so many standard deviations the winch may have been slower while the gear is taken to be out: nineteen
times in twenty it is not. Own choice."""


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
    contact = contact_of(winch, rigging)
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
    return farthest(
        rigging,
        warp if rigging.warp.basis is Basis.TRACK else None,
        depth if rigging.depth.basis is Basis.TRACK else None,
    )


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


def _winch(path: Path, tow: Tow, rigging: Rigging, *, timed: bool) -> Winch:
    shoot_s = haul_s = np.nan
    if timed and (path.track.kind is not TrackKind.PLANNED or path.track.towed is not None):
        # A tow that the positions do not show beginning or ending has its warp out at that end.
        shoot_s = -np.inf if tow.shoot_open else value_at(path.time_s, tow.shoot)
        haul_s = np.inf if tow.haul_open else value_at(path.time_s, tow.haul)
    return Winch(
        shoot_s=shoot_s if np.isfinite(shoot_s) else -np.inf,
        haul_s=haul_s if np.isfinite(haul_s) else np.inf,
        veer_mps=rigging.veer_speed.value,
        heave_mps=rigging.heave_speed.value,
    )


def contact_of(winch: Winch, rigging: Rigging) -> Contact:
    """Return when the gear was on the bottom, by the figures, and at the most.

    That is by a slower winch, and with sweeps and net hanging clear of the bottom only where they surely do:
    a little longer, or in a little less water, they drag until they are in themselves.
    """
    warp_m, height_m = rigging.warp.value, rigging.depth.value + rigging.block_height.value
    behind_m = rigging.sweeps.value + rigging.net_length.value
    slow = replace(
        winch, veer_mps=slowest_mps(rigging.veer_speed), heave_mps=slowest_mps(rigging.heave_speed)
    )
    surely = _surely_hangs(rigging)
    most = contact_times(slow, warp_m=warp_m, height_m=height_m, behind_m=behind_m, hangs=surely)
    contact = contact_times(winch, warp_m=warp_m, height_m=height_m, behind_m=behind_m)
    return replace(contact, earliest_s=most.earliest_s, latest_s=most.latest_s)


def _surely_hangs(rigging: Rigging) -> bool:
    """Return whether sweeps and net hang clear of the bottom, allowing for the spread of all lengths."""
    depth_sigma_m = math.hypot(rigging.depth.sigma, rigging.block_height.sigma)
    shallow_m = rigging.depth.value + rigging.block_height.value - _LENGTH_SIGMAS * depth_sigma_m
    if rigging.depth.low is not None:
        shallow_m = min(shallow_m, rigging.depth.low + rigging.block_height.value)
    long_m = sum(f.value + _LENGTH_SIGMAS * f.sigma for f in (rigging.sweeps, rigging.net_length))
    return shallow_m > long_m


def slowest_mps(speed: Figure) -> float:
    """Return the speed of a winch by which gear is taken to be out the longest."""
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
        shot = contact_of(replace(winch, shoot_s=float(before_s)), rigging)
        contact = replace(contact, earliest_s=shot.earliest_s)
    if not np.isfinite(contact.latest_s) and np.isfinite(after_s):
        hauled = contact_of(replace(winch, haul_s=float(after_s)), rigging)
        contact = replace(contact, latest_s=hauled.latest_s)
    return contact


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
