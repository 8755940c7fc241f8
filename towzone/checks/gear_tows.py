"""The gear of each tow as it is told and drawn: paths, ground swept, contact with the bottom, flags."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from towzone.checks.gear_ground import SweptShare, stretch_nodes, swept_ground
from towzone.checks.gear_leads import TowGear
from towzone.checks.gear_shares import TowPassed
from towzone.checks.intervals import Intervals
from towzone.checks.paths import Path
from towzone.checks.places import instant
from towzone.gear.bounds import rope_reach_m
from towzone.gear.figures import NoRigging
from towzone.gear.flags import FLAG_WORDS, flag_masks, warp_is_guessed
from towzone.gear.stretch import GearStretch
from towzone.model.gear import GearFlag, GearLine, GearTow
from towzone.model.gears import works_on_bottom
from towzone.model.result import Tow

__all__ = ["tow_told", "tow_untold"]

_NEVER = np.datetime64("NaT", "us")


def tow_untold(path: Path, tow: Tow, why: NoRigging) -> GearTow:
    """Return a tow whose gear cannot be computed."""
    return GearTow(track_id=path.track.track_id, tow=tow.number, why_not=why.why)


def tow_told(path: Path, tow: Tow, passed: TowPassed) -> GearTow:
    """Return the gear of a tow, while it surely was towing and while it was shot and hauled."""
    gear, stretches = passed.gear, passed.stretches
    ends = Intervals(np.array([gear.span[0]]), np.array([gear.span[1]]))
    swept = SweptShare(stretches=stretches, rigging=gear.rigging, covered=ends)
    doors = swept_ground(swept, nets=False)
    towing = [s.layback_m[(s.lead.place >= tow.shoot) & (s.lead.place <= tow.haul)] for s in stretches]
    layback = np.concatenate([np.empty(0), *towing])
    layback = layback[layback > 0.0]
    contact = gear.contact
    return GearTow(
        track_id=path.track.track_id,
        tow=tow.number,
        on_bottom=works_on_bottom(gear.rigging.gear) is not False,
        lines=tuple(line for stretch in stretches for line in _lines(path, stretch, ends)),
        corridor=doors.polygons,
        net_corridor=swept_ground(swept, doors=False).polygons,
        likely=tuple(polygon for ground in passed.likely for polygon in ground.polygons),
        swept_m2=doors.area_m2,
        layback_m=(float(layback.min()), float(layback.max())) if len(layback) else (np.nan, np.nan),
        rope_bound_m=rope_reach_m(gear.farthest),
        first_contact_utc=_at(gear, contact.first_s),
        last_contact_utc=_at(gear, contact.last_s),
        earliest_utc=_at(gear, contact.earliest_s),
        latest_utc=_at(gear, contact.latest_s),
        figures=gear.rigging.all(),
        flags=tuple(_flags(path, tow, gear, stretches)),
    )


def _at(gear: TowGear, seconds: float) -> np.datetime64:
    """Return an instant, unknown where the tow is not seen to begin or end, or has no times."""
    if not gear.timed or not np.isfinite(seconds):
        return _NEVER
    return instant(seconds)


def _lines(path: Path, stretch: GearStretch, span: Intervals) -> Iterator[GearLine]:
    for run in stretch_nodes(stretch, span):
        place = stretch.lead.place[run]
        time_s = np.interp(place, np.arange(len(path.time_s)), path.time_s)
        for tracer in stretch.tracers:
            yield GearLine(
                part=tracer.part,
                lon_deg=tracer.lon_deg[run],
                lat_deg=tracer.lat_deg[run],
                place=place,
                time_s=time_s,
            )


def _flags(path: Path, tow: Tow, gear: TowGear, stretches: Sequence[GearStretch]) -> Iterator[GearFlag]:
    if warp_is_guessed(gear.rigging.warp):
        yield GearFlag(kind="no_warp", from_utc=_NEVER, to_utc=_NEVER, words=FLAG_WORDS["no_warp"])
    for stretch in stretches:
        for kind, mask in flag_masks(stretch).items():
            held = np.flatnonzero(mask)
            for run in np.split(held, np.flatnonzero(np.diff(held) > 1) + 1) if len(held) else []:
                ends = stretch.lead.place[[run[0], run[-1]]].tolist()
                yield GearFlag(
                    kind=kind,
                    from_utc=path.time_at(ends[0]),
                    to_utc=path.time_at(ends[1]),
                    words=FLAG_WORDS[kind],
                    at=_position(path, ends[0]),
                )
    for gap in path.gaps:
        if tow.first <= gap.fix < tow.last:
            yield GearFlag(
                kind="gap",
                from_utc=gap.from_utc,
                to_utc=gap.to_utc,
                words=FLAG_WORDS["gap"],
                at=_position(path, gap.fix),
            )


def _position(path: Path, place: float) -> tuple[float, float]:
    lon, lat = path.positions(np.array([place]))
    return float(lon[0]), float(lat[0])
