"""Fixes taken out of a track, each with its place, and breaks left where they told of something."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from towzone.model.track import LeftOut, Track
from towzone.tracks.possible import IntArray

__all__ = ["Change", "by_reason", "changed", "left_out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What is to become of a track.

    Parameters
    ----------
    drop : mapping of str to ndarray of int
        Fixes to leave out, by reason; there the track breaks.
    broken : ndarray of int
        Steps that become breaks, by the fix they begin at.
    mixed : ndarray of int
        Fixes kept although they stand aside, because they agree with each other.
    """

    drop: Mapping[str, IntArray] = field(default_factory=dict)
    broken: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    mixed: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))


def changed(track: Track, change: Change) -> Track:
    """Return a track with a change made; the same object where there is none."""
    drop = {reason: index for reason, index in change.drop.items() if len(index)}
    if not drop and not len(change.broken):
        return track
    keep = np.ones(len(track), dtype=bool)
    for index in drop.values():
        keep[index] = False
    broken = np.zeros(len(track), dtype=bool)
    broken[1:] = keep[1:] & ~keep[:-1]
    broken[change.broken + 1] = True
    part, broken = track.part[keep], broken[keep]
    broken[0] = False
    # Where the source itself breaks, one break is enough.
    broken[1:] &= np.diff(part) == 0
    return replace(
        track,
        lon_deg=track.lon_deg[keep],
        lat_deg=track.lat_deg[keep],
        time_utc=track.time_utc[keep],
        part=part + np.cumsum(broken, dtype=np.int32),
        line=None if track.line is None else track.line[keep],
        readings={name: column[keep] for name, column in track.readings.items()},
        left_out=(*track.left_out, *(left_out(track, reason, index) for reason, index in drop.items())),
    )


def left_out(track: Track, reason: str, index: IntArray) -> LeftOut:
    """Return some fixes of a track as left out for a reason."""
    return LeftOut(
        reason=reason,
        file=track.source,
        line=np.zeros(len(index), dtype=np.uint32) if track.line is None else track.line[index],
        time_utc=track.time_utc[index],
        lon_deg=track.lon_deg[index],
        lat_deg=track.lat_deg[index],
    )


def by_reason(some: Sequence[LeftOut]) -> tuple[LeftOut, ...]:
    """Return what was left out of one file in several goes as one for each reason, in time order."""
    return tuple(
        _together([one for one in some if one.reason == reason])
        for reason in dict.fromkeys(one.reason for one in some)
    )


def _together(some: Sequence[LeftOut]) -> LeftOut:
    time_utc = np.concatenate([one.time_utc for one in some])
    order = np.argsort(time_utc, kind="stable")
    return replace(
        some[0],
        line=np.concatenate([one.line for one in some])[order],
        time_utc=time_utc[order],
        lon_deg=np.concatenate([one.lon_deg for one in some])[order],
        lat_deg=np.concatenate([one.lat_deg for one in some])[order],
    )
