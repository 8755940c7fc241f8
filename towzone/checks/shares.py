"""A path in the parts that get rows of their own: tows, what is in doubt, the rest; and their shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from towzone.checks.activity import CANNOT_TELL, NOT_TOWING, Doing, TowSpan
from towzone.checks.interval_sets import IntervalSets
from towzone.checks.intervals import Intervals, merged
from towzone.checks.legs import BoolArray, alone_fixes, leg_of
from towzone.checks.places import values_at
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.result import Activity, Tow
from towzone.tows.stretches import runs

__all__ = ["Group", "Unit", "covered_places", "gap_units", "shares_of", "units_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Part of a path that is measured together: a tow, all that was not towing, or a share of these.

    Shares are made where a rule begins or ceases to hold, so that each is under the same rules throughout,
    and where a tow passes from shooting to towing and to hauling.

    Parameters
    ----------
    unit : int
        Number of the tow (from 0), of all of which towing cannot be told, or of what was not towing, that
        the group is a share of.
    tow : Tow or None
    activity : Activity
    covered : Intervals
        The stretches that the positions cover, as places on the path.
    first_s, last_s : float
        Times of its ends, seconds since 1970, ``NaN`` where unknown.
    """

    unit: int
    tow: Tow | None
    activity: Activity
    covered: Intervals
    first_s: float
    last_s: float


_Part = tuple[Activity, Intervals]
"""What was done on some covered stretches."""


class Unit(NamedTuple):
    """A tow, or all of which towing cannot be told, or all that was not towing: what gets rows of its own."""

    tow: Tow | None
    parts: tuple[_Part, ...]


def units_of(covered: BoolArray, done: Doing, tows: Sequence[Tow]) -> list[Unit]:
    """Return the tows, then what is in doubt, then what was not towing, each as far as it is covered."""
    places, alone = covered_places(covered), alone_fixes(covered)
    parts = _parts_of_tows(done.tows, places)
    units = [Unit(tow, own) for tow, own in zip(tows, parts, strict=True)]
    outside = done.tow < 0
    after = leg_of(alone, len(covered))
    for code, activity in ((CANNOT_TELL, Activity.UNKNOWN), (NOT_TOWING, Activity.NOT_TOWING)):
        mine = outside & (done.leg == code)
        stretches = _stretches_of(covered & mine, alone[mine[after]] if len(mine) else alone[:0])
        if len(stretches):
            units.append(Unit(None, ((activity, stretches),)))
    if not len(covered) and not tows:
        single = Activity.NOT_TOWING if done.single == NOT_TOWING else Activity.UNKNOWN
        units.append(Unit(None, ((single, places),)))
    return units


def _parts_of_tows(spans: Sequence[TowSpan], places: Intervals) -> list[tuple[_Part, ...]]:
    """Return what is covered of each tow: shooting (in doubt), towing, hauling (in doubt)."""
    parts = [
        (number, activity, first, last)
        for number, span in enumerate(spans)
        for activity, first, last in (
            (Activity.UNKNOWN, float(span.first), span.shoot),
            (Activity.TOWING, span.shoot, span.haul),
            (Activity.UNKNOWN, span.haul, float(span.last)),
        )
        if first < last or activity is Activity.TOWING
    ]
    low, high = np.array([part[2:] for part in parts], dtype=np.float64).reshape(-1, 2).T
    some, row = IntervalSets.of([places]).within(np.zeros(len(parts), dtype=np.int64), low, high)
    # Where a stop only touches the tow, its last fix is the stop's, not a lone fix of the tow.
    own = some.where((some.first < some.last) | (places.first[row] == places.last[row]))
    found: list[list[_Part]] = [[] for _ in spans]
    for (number, activity, _, _), stretches in zip(parts, own.each(), strict=True):
        found[number].append((activity, stretches))
    return [tuple(each) for each in found]


def gap_units(covered: BoolArray, done: Doing, units: Sequence[Unit]) -> tuple[int | None, ...]:
    """Return the number of the unit each gap lies in, ``None`` for gaps outside tows and doubts."""
    unknown = [n for n, unit in enumerate(units) if unit.tow is None and unit.parts[0][0] is Activity.UNKNOWN]
    doubts = unknown[0] if unknown else None
    return tuple(
        tow if tow >= 0 else doubts if leg == CANNOT_TELL else None
        for tow, leg in zip(done.tow[~covered].tolist(), done.leg[~covered].tolist(), strict=True)
    )


def _places_of(time_s: FloatArray, changes_s: Sequence[float]) -> list[float]:
    """Return the places at which instants fall, those within the timed part of the path only."""
    timed = np.flatnonzero(~np.isnan(time_s))
    places = []
    for instant in sorted(set(changes_s)):
        after = int(np.searchsorted(time_s[timed], instant))
        if 0 < after < len(timed):
            low, high = timed[after - 1], timed[after]
            part = (instant - time_s[low]) / (time_s[high] - time_s[low])
            places.append(float(low + part * (high - low)))
    return places


class _Cuts(NamedTuple):
    """Places at which a path is cut into shares; ``tail`` is where its times end, infinite at its end."""

    places: list[float]
    tail: float

    def share_of(self, place: FloatArray) -> IntArray:
        """Return the number of the share that single places belong to.

        A rule that begins at an instant holds at it, so a place on a cut belongs to what follows; but
        the last fix with a time belongs to what has times.
        """
        inner = self.places[:-1] if np.isfinite(self.tail) else self.places
        return np.asarray(np.searchsorted(inner, place, side="right") + (place > self.tail))


def _cuts(time_s: FloatArray, changes_s: Sequence[float]) -> _Cuts:
    """Return where rules change, and where the times begin and end if that is not with the path."""
    timed = np.flatnonzero(~np.isnan(time_s))
    places = _places_of(time_s, changes_s)
    if not len(timed):
        return _Cuts(places, np.inf)
    head = [float(timed[0])] if timed[0] > 0 else []
    if timed[-1] == len(time_s) - 1:
        return _Cuts([*head, *places], np.inf)
    return _Cuts([*head, *places, float(timed[-1])], float(timed[-1]))


def shares_of(units: Sequence[Unit], time_s: FloatArray, changes_s: Sequence[float]) -> tuple[Group, ...]:
    """Return the shares of units, cut where rules change.

    Parameters
    ----------
    changes_s : sequence of float
        Instants, seconds since 1970, at which some rule begins or ceases to hold.
    """
    parts = [(number, unit.tow, *part) for number, unit in enumerate(units) for part in unit.parts]
    share, part = _shared_out(IntervalSets.of([part[3] for part in parts]), _cuts(time_s, changes_s))
    known = np.flatnonzero(share.counts)
    begin, end = share.first[share.cuts[known]], share.last[share.cuts[known + 1] - 1]
    times_s = values_at(time_s, begin).tolist(), values_at(time_s, end).tolist()
    each = share.each()
    return tuple(
        Group(
            unit=parts[number][0],
            tow=parts[number][1],
            activity=parts[number][2],
            covered=each[one],
            first_s=first_s,
            last_s=last_s,
        )
        for one, number, first_s, last_s in zip(known.tolist(), part[known].tolist(), *times_s, strict=True)
    )


def _shared_out(parts: IntervalSets, cuts: _Cuts) -> tuple[IntervalSets, IntArray]:
    """Return parts cut into shares, those of a part in their order, and the part each is of."""
    if not cuts.places:
        return parts, np.arange(len(parts))
    some = np.flatnonzero(parts.counts)
    lowest = np.searchsorted(cuts.places, parts.first[parts.cuts[some]])
    highest = np.searchsorted(cuts.places, parts.last[parts.cuts[some + 1] - 1], side="right")
    counts = highest - lowest + 1
    part = np.repeat(some, counts)
    number = np.arange(len(part)) + np.repeat(lowest - (np.cumsum(counts) - counts), counts)
    bounds = np.array([-np.inf, *cuts.places, np.inf])
    found, row = parts.within(part, bounds[number], bounds[number + 1])
    # A stretch that only touches the cut lies beyond it; a lone fix on it belongs to one side.
    lone = (parts.first[row] == parts.last[row]) & (cuts.share_of(found.first) == number[found.number])
    return found.where((found.first < found.last) | lone), part


def covered_places(covered: BoolArray) -> Intervals:
    """Return the stretches of consecutive covered legs; a lone fix is a stretch of one place."""
    return _stretches_of(covered, alone_fixes(covered))


def _stretches_of(legs: BoolArray, lone: IntArray) -> Intervals:
    """Return the stretches of consecutive legs, and lone fixes as stretches of one place."""
    first, last = runs(legs)
    return merged(np.concatenate([first, lone]), np.concatenate([last, lone]))
