"""What a log leaves open beyond its first and last position, where it goes on without valid ones.

In time ``t`` the vessel got no farther from its nearest known position than its top speed ``v`` lets it: it
could have been wherever that is within ``v t`` (and the errors of positions), and where it was at a distance
``D`` it stayed for ``t - D / v`` at most.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.explain import explain_silence
from towzone.checks.force import Force, harmless, span_standing
from towzone.checks.gap_reach import distance_outside, widening_m
from towzone.checks.legs import seconds_since_epoch
from towzone.checks.pair_rows import open_row, unknown_reach
from towzone.checks.passages import Demand
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings, Towing
from towzone.model.result import Part, Row
from towzone.model.track import Track
from towzone.model.zone import Zone
from towzone.units import KNOT_MPS

__all__ = ["silent_rows"]

_LOST = frozenset(
    {
        "void",
        "estimated",
        "bad_position",
        "zero_position",
        "large_hdop",
        "frozen",
        "spike",
        "impossible_jump",
    }
)
"""Reasons for leaving a fix out that say that the log went on, though where the vessel was is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Silence:
    """Time beyond an end of a track: the fix there, how long, and from when to when, seconds since 1970."""

    fix: int
    before: bool
    first_s: float
    last_s: float

    @property
    def seconds(self) -> float:
        return self.last_s - self.first_s


def silent_rows(
    path: Path,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    settings: CheckSettings,
    gear_m: float = 0.0,
) -> list[Row]:
    """Return a row for each zone that could have been reached beyond an end of the track.

    Only silences longer than the longest time that counts as sailed straight are looked at.

    Parameters
    ----------
    gear_m : float
        How much nearer than the vessel her gear may have come; rows of the gear are made where only that
        could have reached a zone, unless no towing is stated.
    """
    rows = []
    towed_m = gear_m if settings.towing is not Towing.NONE else 0.0
    for silence in _silences(path.track, settings.gap_s):
        reach_m = settings.max_speed_kn * KNOT_MPS * silence.seconds
        fix = np.full(len(zones), silence.fix)
        wider = [widening_m(z, d) for z, d in zip(zones, demands, strict=True)]
        wider_m = np.array(wider) + settings.position_error_m
        away_m = distance_outside(path, zones, boundaries, fix, np.arange(len(zones)), wider_m)
        for z in np.flatnonzero(away_m <= reach_m + towed_m).tolist():
            if _matters(zones[z], silence, settings):
                part = Part.VESSEL if away_m[z] <= reach_m else Part.GEAR
                way_m = float(away_m[z]) if part is Part.VESSEL else max(float(away_m[z]) - towed_m, 0.0)
                longest_s = silence.seconds - way_m / (settings.max_speed_kn * KNOT_MPS)
                rows.append(_row(path, silence, zones[z], demands[z], longest_s, part, settings))
    return rows


def _silences(track: Track, gap_s: float) -> Iterator[_Silence]:
    time_s = seconds_since_epoch(track.time_utc)
    lost = [seconds_since_epoch(x.time_utc) for x in track.left_out if x.reason in _LOST]
    lost_s = np.concatenate(lost) if lost else np.empty(0)
    lost_s = lost_s[~np.isnan(lost_s)]
    timed = np.flatnonzero(~np.isnan(time_s))
    if not len(timed) or not len(lost_s):
        return
    first, last = int(timed[0]), int(timed[-1])
    if time_s[first] - lost_s.min() > gap_s:
        yield _Silence(fix=first, before=True, first_s=float(lost_s.min()), last_s=float(time_s[first]))
    if lost_s.max() - time_s[last] > gap_s:
        yield _Silence(fix=last, before=False, first_s=float(time_s[last]), last_s=float(lost_s.max()))


def _matters(zone: Zone, silence: _Silence, settings: CheckSettings) -> bool:
    """Return whether anything prohibited could have happened then."""
    if harmless(zone, settings):
        return False
    return span_standing(zone, silence.first_s, silence.last_s, settings).force is not Force.IDLE


def _row(
    path: Path,
    silence: _Silence,
    zone: Zone,
    demand: Demand,
    longest_s: float,
    part: Part,
    settings: CheckSettings,
) -> Row:
    row = open_row(path, None, zone, demand, "gap")
    if part is Part.GEAR:
        row = replace(row, part=part, gear=unknown_reach(settings.gear_proof))
    words = explain_silence(
        row,
        zone,
        path.track.kind,
        demand,
        seconds=silence.seconds,
        before=silence.before,
        longest_s=longest_s,
    )
    return replace(row, explain=words)
