"""What the vessel was doing along a track, as stretches between fixes, as the check took it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from towzone.model.result import Doubt, Tow

__all__ = ["Doing", "Stretch", "stretches_of"]


class Doing(StrEnum):
    """What the vessel was doing, in the words of the page's data."""

    TOWING = "towing"
    SHOOTING = "shooting"
    HAULING = "hauling"
    NOT_TOWING = "not_towing"
    UNKNOWN = "unknown"
    PLANNED = "planned"


_ORDER = tuple(Doing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """From fix ``first`` to fix ``last`` without a gap, one activity, one tow or none.

    ``first`` is ``last`` where a fix lies between two gaps.
    """

    first: int
    last: int
    activity: Doing
    tow: int | None


def stretches_of(
    fixes: int,
    gaps: Sequence[int],
    tows: Sequence[Tow],
    doubts: Sequence[Doubt],
    *,
    elsewhere: Doing,
) -> Iterator[Stretch]:
    """Yield the stretches of one track in order; neighbours without a gap between them share a fix.

    Parameters
    ----------
    fixes : int
    gaps : sequence of int
        Fixes after which nothing is covered until the next fix.
    tows, doubts
        Of this track.
    elsewhere : Doing
        What the vessel did outside tows and doubts.

    Notes
    -----
    A tow begins and ends at places between fixes. A leg on which the vessel towed for a part only counts
    as towed: what is drawn as towing is never shorter than what was checked as towing.
    """
    if fixes == 0:
        return
    # One more leg than there are, so that a track of one fix has an activity too.
    doing, number = _of_legs(fixes, tows, doubts, elsewhere)
    covered = np.ones(fixes, dtype=np.bool_)
    covered[list(gaps)] = False
    covered[-1] = False
    before = np.concatenate([[False], covered[:-1]])
    change = (np.diff(doing) != 0) | (np.diff(number) != 0) | (np.diff(covered) != 0)
    bounds = [0, *(np.flatnonzero(change) + 1).tolist(), fixes]
    found = []
    for first, stop in pairwise(bounds):
        if covered[first]:
            found.append(_stretch(first, stop, int(doing[first]), int(number[first])))
    for alone in np.flatnonzero(~covered & ~before).tolist():
        found.append(_alone(alone, tows, int(doing[min(alone, max(fixes - 2, 0))])))
    yield from sorted(found, key=lambda stretch: stretch.first)


def _stretch(first: int, last: int, doing: int, number: int) -> Stretch:
    return Stretch(first=first, last=last, activity=_ORDER[doing], tow=None if number < 0 else number)


def _of_legs(
    fixes: int, tows: Sequence[Tow], doubts: Sequence[Doubt], elsewhere: Doing
) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int64]]:
    """Return for the leg after each fix what was done (as in ``_ORDER``) and the tow, -1 for none."""
    doing = np.full(fixes, _ORDER.index(elsewhere), dtype=np.int8)
    number = np.full(fixes, -1, dtype=np.int64)
    for doubt in doubts:
        doing[doubt.first : doubt.last] = _ORDER.index(Doing.UNKNOWN)
    for tow in tows:
        number[tow.first : tow.last] = tow.number
        shoot, haul = int(np.floor(tow.shoot)), int(np.ceil(tow.haul))
        towing = Doing.PLANNED if elsewhere is Doing.PLANNED else Doing.TOWING
        doing[tow.first : tow.last] = _ORDER.index(towing)
        doing[tow.first : shoot] = _ORDER.index(Doing.SHOOTING)
        doing[haul : tow.last] = _ORDER.index(Doing.HAULING)
    return doing, number


def _alone(fix: int, tows: Sequence[Tow], of_leg: int) -> Stretch:
    """Return a fix between two gaps: of the tow it stands in, even at its end, else as the leg after it."""
    for tow in tows:
        if tow.first <= fix <= tow.last and _ORDER[of_leg] is not Doing.PLANNED:
            doing = Doing.SHOOTING if fix < tow.shoot else Doing.HAULING if fix > tow.haul else Doing.TOWING
            return Stretch(first=fix, last=fix, activity=doing, tow=tow.number)
        if tow.first <= fix <= tow.last:
            return Stretch(first=fix, last=fix, activity=Doing.PLANNED, tow=tow.number)
    return Stretch(first=fix, last=fix, activity=_ORDER[of_leg], tow=None)
