"""Fixes of several sources of one vessel in one sequence: the better source first, others in its gaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.model.track import Track
from towzone.tracks.possible import BoolArray, FloatArray, IntArray
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["Blend", "Fit", "Rows", "parts_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Fixes of a blend, each as the number of its track and its index there."""

    number: IntArray
    fix: IntArray

    def pick(self, which: BoolArray) -> Rows:
        """Return some of them."""
        return Rows(number=self.number[which], fix=self.fix[which])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Where the fixes of a further track fall in a blend, as columns of that track's length.

    Parameters
    ----------
    stretch : ndarray of int
        The last stretch that begins no later, -1 before all.
    free : ndarray of bool
        Whether the fix is used: the blend has a gap there.
    """

    stretch: IntArray
    free: BoolArray


class Blend:
    """A sequence of fixes of several tracks in time order, held as stretches of consecutive fixes.

    A stretch is never interrupted for longer than the gap; between stretches are gaps, or seams where two
    tracks meet. There are few of them, whatever the number of fixes.

    Parameters
    ----------
    gap_us : int
        Gaps longer than this are filled from further tracks, microseconds.

    Attributes
    ----------
    tracks : list of Track
        In order of precedence.
    number, first, stop : ndarray of int, shape (m,)
        Of each stretch: the number of its track, its first fix there, one past the last.
    """

    __slots__ = ("_begin_us", "_end_us", "_gap_us", "_times_us", "first", "number", "stop", "tracks")

    def __init__(self, gap_us: int) -> None:
        self.tracks: list[Track] = []
        self.number: IntArray = np.empty(0, dtype=np.int64)
        self.first: IntArray = np.empty(0, dtype=np.int64)
        self.stop: IntArray = np.empty(0, dtype=np.int64)
        self._gap_us = gap_us
        self._times_us: list[IntArray] = []
        self._begin_us: IntArray = np.empty(0, dtype=np.int64)
        self._end_us: IntArray = np.empty(0, dtype=np.int64)

    def fit(self, track: Track) -> Fit:
        """Return where the fixes of a further track, which begins with a known time, fall."""
        time_us = _filled_us(track)
        if not self.tracks:
            return Fit(stretch=np.full(len(time_us), -1), free=np.ones(len(time_us), dtype=bool))
        stretch = np.searchsorted(self._begin_us, time_us, side="right") - 1
        free = (time_us > self._end_us[stretch]) & self._opens()[stretch]
        free[stretch < 0] = True
        return Fit(stretch=stretch, free=free)

    def _opens(self) -> BoolArray:
        """Return whether a gap follows each stretch, not the seam to another track."""
        return np.append(self._begin_us[1:] - self._end_us[:-1] > self._gap_us, True)

    def add(self, track: Track, fit: Fit) -> None:
        """Take up a track, using its free fixes."""
        time_us = _filled_us(track)
        free = np.flatnonzero(fit.free)
        if len(free):
            ends = (
                (np.diff(free) > 1)
                | (np.diff(fit.stretch[free]) != 0)
                | (np.diff(time_us[free]) > self._gap_us)
            )
            first, last = free[np.append(True, ends)], free[np.append(ends, True)]
            place = fit.stretch[first] + 1
            self.number = np.insert(self.number, place, len(self.tracks))
            self.first = np.insert(self.first, place, first)
            self.stop = np.insert(self.stop, place, last + 1)
            self._begin_us = np.insert(self._begin_us, place, time_us[first])
            self._end_us = np.insert(self._end_us, place, time_us[last])
        self.tracks.append(track)
        self._times_us.append(time_us)

    def legs(self, track: Track, fit: Fit, which: IntArray) -> tuple[Rows, Rows, FloatArray]:
        """Return the fixes of the blend on both sides of fixes that are not free, and how far between.

        Parameters
        ----------
        which : ndarray of int
            Fixes of the track, none of them free.

        Returns
        -------
        before, after : Rows
            The same twice where a fix of the blend has the very same time.
        share : ndarray of float64
            0 at the time of the first, 1 at that of the second.
        """
        time_us = _filled_us(track)[which]
        stretch = fit.stretch[which]
        inside = time_us <= self._end_us[stretch]
        number, fix = self.number[stretch], self.stop[stretch] - 1
        next_number, next_fix = number.copy(), fix.copy()
        low_us, high_us = self._end_us[stretch].copy(), self._end_us[stretch].copy()
        seam = np.flatnonzero(~inside)
        next_number[seam] = self.number[stretch[seam] + 1]
        next_fix[seam] = self.first[stretch[seam] + 1]
        high_us[seam] = self._begin_us[stretch[seam] + 1]
        for one in np.unique(number[inside]).tolist():
            times_us = self._times_us[one]
            own = np.flatnonzero(inside & (number == one))
            fix[own] = np.searchsorted(times_us, time_us[own], side="right") - 1
            next_fix[own] = fix[own] + (times_us[fix[own]] != time_us[own])
            low_us[own], high_us[own] = times_us[fix[own]], times_us[next_fix[own]]
        share = (time_us - low_us) / np.maximum(high_us - low_us, 1)
        return Rows(number=number, fix=fix), Rows(number=next_number, fix=next_fix), share

    def broken(self, before: Rows, after: Rows) -> BoolArray:
        """Return whether a track breaks between neighbouring fixes; where tracks meet there is no break."""
        result = np.zeros(len(before.fix), dtype=bool)
        for one in np.unique(before.number).tolist():
            own = np.flatnonzero((before.number == one) & (after.number == one))
            part = self.tracks[one].part
            result[own] = part[before.fix[own]] != part[after.fix[own]]
        return result

    def positions(self, rows: Rows) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of fixes, degrees."""
        lon_deg, lat_deg = np.empty(len(rows.fix)), np.empty(len(rows.fix))
        for one in np.unique(rows.number).tolist():
            own = rows.number == one
            lon_deg[own] = self.tracks[one].lon_deg[rows.fix[own]]
            lat_deg[own] = self.tracks[one].lat_deg[rows.fix[own]]
        return lon_deg, lat_deg

    def at_a_cut(self, track: Track, fit: Fit) -> IntArray:
        """Return the first and last fix of a track where it only touches the blend at a gap's edge."""
        time_us = _filled_us(track)
        cut = []
        opens = self._opens()
        for fix, edges_us, open_there in (
            (0, self._end_us, opens),
            (len(track) - 1, self._begin_us, np.append(True, opens[:-1])),
        ):
            at = int(fit.stretch[fix])
            if not fit.free[fix] and edges_us[at] == time_us[fix] and open_there[at]:
                cut.append(fix)
        return np.unique(np.array(cut, dtype=np.int64))

    def pieces(self) -> list[tuple[int, slice]]:
        """Return the blend as (number of a track, its consecutive fixes), in time order."""
        going_on = (self.number[1:] == self.number[:-1]) & (self.first[1:] == self.stop[:-1])
        begins = np.flatnonzero(np.append(True, ~going_on))
        last = np.append(begins[1:], len(self.number)) - 1
        rows = zip(
            self.number[begins].tolist(), self.first[begins].tolist(), self.stop[last].tolist(), strict=True
        )
        return [(number, slice(first, stop)) for number, first, stop in rows]


def parts_of(pieces: Sequence[npt.NDArray[np.int32]]) -> npt.NDArray[np.int32]:
    """Return parts numbered from 0 through: breaks within pieces stay, between pieces there is none."""
    part = np.concatenate(pieces)
    broken = np.diff(part, prepend=part[:1]) != 0
    broken[np.cumsum([len(piece) for piece in pieces])[:-1]] = False
    return np.cumsum(broken, dtype=np.int32)


def _filled_us(track: Track) -> IntArray:
    """Return the times of a track that begins with one, microseconds; for fixes without, the one before."""
    time_us = track.time_utc.view(np.int64)
    known = time_us != NOT_A_TIME
    if known.all():
        return time_us
    return np.asarray(time_us[np.maximum.accumulate(np.where(known, np.arange(len(time_us)), 0))])
