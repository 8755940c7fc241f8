"""Where two sources have one vessel at one time in two places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.errors import quoted
from towzone.geodesy.lines import WGS84
from towzone.model.result import Remark
from towzone.model.track import Track
from towzone.tracks.blending import Blend, Fit
from towzone.tracks.possible import BoolArray, FloatArray, IntArray
from towzone.units import format_length, format_position, format_time
from towzone.words import counted

__all__ = ["Comparison", "compared"]

_BLOCK = 500_000
"""Fixes compared together, which bounds the memory. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Fixes of a track compared with where a blend of others has the vessel at the same time.

    Parameters
    ----------
    fix : ndarray of int, shape (k,)
        Which fixes of the track.
    other : ndarray of int, shape (k,)
        Number of the track of the blend each was compared with.
    apart_m : ndarray of float64, shape (k,)
    at_once : ndarray of bool, shape (k,)
        Whether the blend has a fix of its own at that time.
    lon_deg, lat_deg : ndarray of float64, shape (k,)
        Where the blend has the vessel.
    """

    fix: IntArray
    other: IntArray
    apart_m: FloatArray
    at_once: BoolArray
    lon_deg: FloatArray
    lat_deg: FloatArray

    def remarks(self, track: Track, blend: Blend, *, position_error_m: float) -> list[Remark]:
        """Return one remark for each track of the blend that disagrees beyond the errors of both."""
        remarks = []
        for number in np.unique(self.other).tolist():
            with_it = self.other == number
            other = blend.tracks[number]
            allowed_m = 2.0 * position_error_m + track.resolution_m + other.resolution_m
            if (self.apart_m[with_it] > allowed_m).any():
                remarks.append(self._remark(track, other, with_it, allowed_m))
        return remarks

    def _remark(self, track: Track, other: Track, with_it: BoolArray, allowed_m: float) -> Remark:
        far = int(np.count_nonzero(self.apart_m[with_it] > allowed_m))
        worst = int(np.flatnonzero(with_it)[np.argmax(self.apart_m[with_it])])
        fix = int(self.fix[worst])
        here = format_position(float(track.lon_deg[fix]), float(track.lat_deg[fix]))
        there = format_position(float(self.lon_deg[worst]), float(self.lat_deg[worst]))
        message = (
            f"of {counted(int(with_it.sum()), 'fix', 'fixes')} compared, {far} more than"
            f" {format_length(allowed_m)} from where {quoted(other.track_id)} has the vessel at that time, up"
            f" to {format_length(float(self.apart_m[worst]))} at {format_time(track.time_utc[fix])}: {here}"
            f" against {there}; a clock may be off, a position wrong, one of them another vessel's, or the"
            " vessel did not go straight between two fixes"
        )
        return Remark(file=track.source, where=f"track {quoted(track.track_id)}", message=message)


def compared(blend: Blend, track: Track, fit: Fit) -> Comparison:
    """Return a comparison of all fixes of a track for which the blend tells the place at that time.

    Those are fixes at the very time of one of the blend, and fixes on its covered legs: between two fixes
    with neither a gap nor a break. Places on legs are on the geodesic, by time.
    """
    which = np.flatnonzero(~fit.free & ~np.isnat(track.time_utc))
    pieces = [_compared(blend, track, fit, which[low : low + _BLOCK]) for low in range(0, len(which), _BLOCK)]
    pieces = pieces or [_compared(blend, track, fit, which)]
    return Comparison(
        fix=np.concatenate([piece.fix for piece in pieces]),
        other=np.concatenate([piece.other for piece in pieces]),
        apart_m=np.concatenate([piece.apart_m for piece in pieces]),
        at_once=np.concatenate([piece.at_once for piece in pieces]),
        lon_deg=np.concatenate([piece.lon_deg for piece in pieces]),
        lat_deg=np.concatenate([piece.lat_deg for piece in pieces]),
    )


def _compared(blend: Blend, track: Track, fit: Fit, which: IntArray) -> Comparison:
    before, after, share = blend.legs(track, fit, which)
    told = ~blend.broken(before, after)
    which, before, after, share = which[told], before.pick(told), after.pick(told), share[told]
    lon_deg, lat_deg = _along(blend.positions(before), blend.positions(after), share)
    _, _, apart_m = WGS84.inv(track.lon_deg[which], track.lat_deg[which], lon_deg, lat_deg)
    return Comparison(
        fix=which,
        other=before.number,
        apart_m=np.asarray(apart_m),
        at_once=(before.number == after.number) & (before.fix == after.fix),
        lon_deg=lon_deg,
        lat_deg=lat_deg,
    )


def _along(
    start: tuple[FloatArray, FloatArray], end: tuple[FloatArray, FloatArray], share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    lon_deg, lat_deg = start
    on_leg = np.flatnonzero(share > 0.0)
    if len(on_leg):
        azimuth_deg, _, length_m = WGS84.inv(lon_deg[on_leg], lat_deg[on_leg], end[0][on_leg], end[1][on_leg])
        lon_deg[on_leg], lat_deg[on_leg], _ = WGS84.fwd(
            lon_deg[on_leg], lat_deg[on_leg], azimuth_deg, np.asarray(length_m) * share[on_leg]
        )
    return lon_deg, lat_deg
