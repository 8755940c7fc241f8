"""The fixes of one receiver as a raw track, those of the others as left out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from towzone.logs.fixes import Reason
from towzone.logs.receivers import Receiver
from towzone.model.track import READINGS, LeftOut
from towzone.tracks.raw import NOT_A_TIME, RawTrack
from towzone.units import NAUTICAL_MILE_M

__all__ = ["raw_track"]

Ints = npt.NDArray[np.int64]

_COARSE_SHARE = 0.05
"""Own choice: positions count as written with so few decimals as more than this share of them have; programs
that leave out zeros at the end write one in ten positions shorter."""


def raw_track(one: Receiver, others: Sequence[Receiver], places: Ints, file: str, name: str) -> RawTrack:
    """Return the track of a receiver of a log.

    Parameters
    ----------
    one : Receiver
        With at least one fix that can be used; its columns go into the track.
    others : sequence of Receiver
        Left out.
    places : ndarray of int64
        How many fixes have minutes with 0, 1, 2, ... places.
    file, name : str
    """
    usable = one.usable()
    kept = np.flatnonzero(usable)
    reason = one.fixes.reason
    reason[~usable & (reason == Reason.GOOD)] = Reason.BAD_TIME
    words = [word for word in Reason if word not in (Reason.GOOD, Reason.CONFLICTING_TIME)]
    left_out = [*(_of_reason(one, reason, word, file) for word in words), _of_conflicts(one, file)]
    if others:
        left_out.append(_of_others(others, file))
    bounds = _bounds(one, kept)
    time_us = one.times.time_us if usable.all() else one.times.time_us[kept]
    one.fixes.drop("day", "origin", "sender", "bits", "reason", "seq", "time_us")
    columns = {word: one.fixes.take(word, kept) for word in ("lon_deg", "lat_deg", "line")}
    readings = {word: one.fixes.take(word, kept) for word in READINGS if word != "warp_m"}
    return RawTrack(
        file=file,
        name=name,
        lon_deg=columns["lon_deg"].astype(np.float64, copy=False),
        lat_deg=columns["lat_deg"].astype(np.float64, copy=False),
        time_us=time_us,
        line=columns["line"].astype(np.uint32, copy=False),
        bounds=bounds,
        readings={
            word: column.astype(np.float32, copy=False)
            for word, column in readings.items()
            if not np.isnan(column).all()
        },
        left_out=tuple(some for some in left_out if len(some)),
        resolution_m=_resolution_m(places),
    )


def _resolution_m(places: Ints) -> float:
    """Return what the last decimal of the minutes is worth, of the coarsest that are more than a few."""
    share = np.cumsum(places) / places.sum()
    return float(NAUTICAL_MILE_M / 10 ** int(np.argmax(share > _COARSE_SHARE)))


def _bounds(one: Receiver, kept: Ints) -> tuple[tuple[int, int], ...]:
    """Return the segments.

    A new one begins where dates begin or end to be known, go back or were wrong, and behind a moment at which
    the receiver stood at two places.
    """
    undated = (one.times.time_us == NOT_A_TIME)[kept]
    breaks = np.diff(undated, prepend=undated[:1])
    wrong = one.times.wrong | (one.fixes.reason == Reason.CONFLICTING_TIME)
    if wrong.any():
        before = np.cumsum(wrong, dtype=np.int32)[kept]
        breaks |= np.diff(before, prepend=before[:1]) != 0
    back = np.searchsorted(kept, np.array(one.times.backward, dtype=np.int64))
    breaks[back[back < len(kept)]] = True
    breaks[0] = True
    begins = np.flatnonzero(breaks).tolist()
    return tuple(pairwise([*begins, len(kept)]))


def _of_reason(one: Receiver, reason: npt.NDArray[np.uint8], word: Reason, file: str) -> LeftOut:
    index = np.flatnonzero(reason == word)
    return LeftOut(
        reason=word.name.lower(),
        file=file,
        line=one.fixes.line[index],
        time_utc=one.times.time_us[index].view("datetime64[us]"),
        lon_deg=one.fixes.lon_deg[index],
        lat_deg=one.fixes.lat_deg[index],
    )


def _of_conflicts(one: Receiver, file: str) -> LeftOut:
    """Return every position of the moments at which the receiver stood at two places."""
    some = one.conflicts
    return LeftOut(
        reason=Reason.CONFLICTING_TIME.name.lower(),
        file=file,
        line=some.line.astype(np.uint32),
        time_utc=one.times.time_us[some.row].view("datetime64[us]"),
        lon_deg=some.lon_deg,
        lat_deg=some.lat_deg,
    )


def _of_others(others: Sequence[Receiver], file: str) -> LeftOut:
    """Return the fixes of other receivers in the order of the file."""
    lines = np.concatenate([other.fixes.line for other in others])
    order = np.lexsort((np.concatenate([other.fixes.seq for other in others]), lines))
    return LeftOut(
        reason="other_receiver",
        file=file,
        line=lines[order],
        time_utc=np.concatenate([other.times.time_us for other in others])[order].view("datetime64[us]"),
        lon_deg=np.concatenate([other.fixes.lon_deg for other in others])[order],
        lat_deg=np.concatenate([other.fixes.lat_deg for other in others])[order],
    )
