"""What shifting a leg and moving a turn have in common: where a line falls short, search, confirmation."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import PlannedLine
from towzone.model.result import FINDINGS, Part, Row
from towzone.plan.advice.engine import PartJudge, open_rows_between
from towzone.plan.advice.moves import Moved
from towzone.plan.advice.quick import SECTIONS, Quick, Routes
from towzone.plan.judging import Judge
from towzone.plan.lines import Legs, legs_of

__all__ = [
    "FARTHEST_M",
    "SCAN_M",
    "STEP_M",
    "Adviser",
    "BoolArray",
    "Confirmed",
    "Found",
    "Move",
    "Search",
    "adviser_of",
    "length_words",
]

FARTHEST_M = 5_000.0
"""No line is looked at that lies farther aside. Own choice."""

STEP_M = 5.0
"""What is advised is a multiple of this. Own choice: nobody steers by less."""

SCAN_M = 50.0
"""Amounts are tried at this distance first, for more is not always better; then between two. Own choice."""

_AT_ONCE, _FEW = 40, 6
"""Lines looked at together: for the vessel alone, and with the gear. Own choices, by speed."""

_AS_BEFORE_M = -10.0
"""Where a line had no more than this to spare (negative: to spare), it may have as little or less now: such
places count as trouble that was there before. Own choice."""

_ROUNDS = 4
"""So often an amount that the check does not confirm is made larger. Own choice."""

_MOST_MORE_M = 60.0
"""By no more than this at a time. Own choice."""

BoolArray = npt.NDArray[np.bool_]
Move = Callable[[FloatArray], Moved]


class Found(NamedTuple):
    """An amount that the search found, and the line with it."""

    amount_m: float
    line: PlannedLine


class Confirmed(NamedTuple):
    """An amount that the check confirmed, its line, the ids of zones it clears, whether it clears all."""

    amount_m: float
    line: PlannedLine
    clears: tuple[str, ...]
    whole: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """What is searched through.

    Parameters
    ----------
    move : callable
        From amounts, shape (c,), to lines.
    legs : tuple of int
        First and last leg of the changed lines that is looked at.
    needed : ndarray of bool, shape (legs, sections, zones)
        Of these legs: what has to be clear.
    frees : ndarray of bool, shape (legs, sections, zones)
        Of all legs of the line as it is: what is cleared with that.
    amounts_m : ndarray
        What is tried, in the order of trying: neighbours are no farther apart than the scan.
    base_m : float
        From where the amounts are counted: the first is tried in finer steps from there.
    ratio : float
        No corner moves farther than this for each metre of the amount.
    more : int
        So many corners more than the line has.
    """

    move: Move
    legs: tuple[int, int]
    needed: BoolArray
    frees: BoolArray
    amounts_m: FloatArray
    base_m: float = 0.0
    ratio: float = 1.0
    more: int = 0


@lru_cache(maxsize=1)
def adviser_of(line: PlannedLine, judge: Judge) -> Adviser:
    """Return the adviser of a line by a judge; the last one is kept, for all kinds of advice share it."""
    return Adviser(line, judge)


class Adviser:
    """A line with its open rows, ready to be asked what would clear parts of it.

    Parameters
    ----------
    line : PlannedLine
    judge : Judge
    """

    def __init__(self, line: PlannedLine, judge: Judge) -> None:
        self.line = line
        self.kind = judge.settings.check.legs
        self.legs: Legs = legs_of(line, self.kind)
        # Rows that are clear anyway need not be listed.
        close = replace(judge.settings, check=replace(judge.settings.check, reach_m=0.0))
        self.judge = PartJudge(judge.with_settings(close))
        self._among: dict[frozenset[str], PartJudge] = {}
        self.quick = Quick(line, judge, FARTHEST_M)

    @cached_property
    def layback_m(self) -> float:
        """From the block to the doors over the ground; the length of the rope where no path is known."""
        towed = self.quick.towed
        return float(towed.layback_m[0]) if towed is not None else self.quick.gear_m

    @property
    def count(self) -> int:
        """Number of legs."""
        return len(self.legs.length_m)

    @cached_property
    def short_m(self) -> FloatArray:
        """By how much the line falls short, shape (legs, sections, zones)."""
        routes = self.routes(self.line.lon_deg[None], self.line.lat_deg[None], 0, self.count - 1)
        return np.asarray(self.quick.short(routes).most_m[0])

    @cached_property
    def open_by_leg(self) -> tuple[frozenset[str], ...]:
        """The zones that the check finds open on each leg; the first is shot on, the last hauled on."""
        spans = [self.place_span(leg, leg) for leg in range(self.count)]
        rows = open_rows_between(self.judge, self.line, spans)
        return tuple(frozenset(row.zone_id for row in some) for some in rows)

    @property
    def open_ids(self) -> frozenset[str]:
        """The zones that the check finds open anywhere."""
        return frozenset().union(*self.open_by_leg)

    def place_span(self, first: int, last: int, more: int = 0) -> tuple[float, float]:
        """Return the places between which some legs lie, on a line with so many corners more."""
        end = self.count - 1 + more
        return (-1.0 if first == 0 else float(first)), last + (2.0 if last == end else 1.0)

    @cached_property
    def trouble(self) -> BoolArray:
        """Where the line is open, shape (legs, sections, zones): legs by the check, sections by the search.

        Where the search finds nothing, the section with the least to spare.
        """
        found = np.zeros(self.short_m.shape, dtype=bool)
        numbers = self.quick.obstacles.numbers
        for leg, zone_ids in enumerate(self.open_by_leg):
            for zone in sorted(numbers[zone_id] for zone_id in zone_ids if zone_id in numbers):
                short_m = self.short_m[leg, :, zone]
                found[leg, :, zone] = short_m >= min(0.0, float(short_m.max()))
        return found

    @cached_property
    def before(self) -> BoolArray:
        """Where the line has hardly more to spare than nothing, shape (legs, zones)."""
        return np.asarray((self.short_m > _AS_BEFORE_M).any(axis=1) | self.trouble.any(axis=1))

    def ids(self, zones: BoolArray) -> tuple[str, ...]:
        """Return the ids of some zones."""
        return tuple(self.quick.obstacles.each[z].zone_id for z in np.flatnonzero(zones).tolist())

    def routes(self, lon_deg: FloatArray, lat_deg: FloatArray, first: int, last: int) -> Routes:
        """Return the part of some lines from one leg to another."""
        legs = lon_deg.shape[1] - 1
        before_s = float(self.legs.length_m[:first].sum()) / self.quick.speed_mps
        part = slice(first, last + 2)
        return Routes(
            lon_deg=lon_deg[:, part],
            lat_deg=lat_deg[:, part],
            begins=first == 0,
            ends=last == legs - 1,
            since_s=before_s,
        )

    def worst_m(self, moved: Moved, search: Search, *, gear: bool) -> FloatArray:
        """Return by how much lines fall short where they must be clear; infinite if not to be towed."""
        worst = np.full(len(moved.sound), np.inf)
        sound = np.flatnonzero(moved.sound)
        if not len(sound):
            return worst
        first, last = search.legs
        lead_in = max(first - 1, 0)
        routes = self.routes(moved.lon_deg[sound], moved.lat_deg[sound], lead_in, last)
        short_m = self.quick.short(routes, gear=gear).most_m[:, first - lead_in :]
        worst[sound] = np.where(search.needed[None], short_m, -np.inf).max(axis=(1, 2, 3), initial=-np.inf)
        return worst

    def find(self, search: Search) -> Found | None:
        """Return the first amount with which all is clear that has to be; ``None`` if none is."""
        amounts = search.amounts_m
        vessel = np.concatenate(
            [
                self.worst_m(search.move(amounts[n : n + _AT_ONCE]), search, gear=False)
                for n in range(0, len(amounts), _AT_ONCE)
            ]
        )
        left = np.flatnonzero(vessel <= 0.0)
        while len(left):
            some, left = left[:_FEW], left[_FEW:]
            worst = self.worst_m(search.move(amounts[some]), search, gear=True)
            passed = np.flatnonzero(worst <= 0.0)
            if len(passed):
                return self._finer(search, int(some[passed[0]]))
            # No point moves farther than the ratio allows: what is short by more needs more.
            more_m = float(worst[-1]) / search.ratio if np.isfinite(worst[-1]) else 0.0
            left = left[np.abs(amounts[left] - amounts[some[-1]]) >= min(more_m, 10.0 * SCAN_M) - SCAN_M]
        return None

    def _finer(self, search: Search, at: int) -> Found:
        amount = float(search.amounts_m[at])
        before = float(search.amounts_m[at - 1]) if at else search.base_m
        steps = round(abs(amount - before) / STEP_M)
        finer = np.linspace(before, amount, max(steps, 1) + 1)[1:]
        worst = self.worst_m(search.move(finer), search, gear=True)
        best = float(finer[np.flatnonzero(worst <= 0.0)[0]]) if (worst <= 0.0).any() else amount
        return Found(best, self.line_with(search, best))

    def line_with(self, search: Search, amount_m: float) -> PlannedLine:
        """Return the line with some amount."""
        moved = search.move(np.array([amount_m]))
        names = self.line.point_names if moved.lon_deg.shape[1] == len(self.line) else ()
        return replace(self.line, lon_deg=moved.lon_deg[0], lat_deg=moved.lat_deg[0], point_names=names)

    def confirm(
        self, search: Search, found: Found, between: tuple[float, float], zones: frozenset[str] | None = None
    ) -> Confirmed | None:
        """Return an amount that the check confirms, the one found or one a little larger.

        Parameters
        ----------
        between : tuple of float
            Places of the changed line between which all has to be clear: corners, from 0, with parts of the
            next leg.
        zones : frozenset of str or None
            Of the zones that were in the way before, only these; ``None``: all of them.
        """
        left = self.trouble & ~search.frees
        stuck = self._ids_of(left)
        # Of what remains in the way elsewhere, what does so near by is asked about by itself.
        first, last = search.legs
        beside = self._ids_of(left[first : last + 1 - search.more])
        around = self._part(frozenset(zone.zone_id for zone in self.judge.zones) - beside)
        amount, farther = found.amount_m, math.copysign(1.0, search.amounts_m[-1] - search.base_m)
        for _ in range(_ROUNDS):
            if not bool(search.move(np.array([amount])).sound[0]):
                return None
            line = self.line_with(search, amount)
            wrong = list(open_rows_between(around, line, [self.place_span(first, last, search.more)])[0])
            if not wrong and beside:
                there = open_rows_between(self._part(beside), line, [between])[0]
                wrong = [row for row in there if zones is None or row.zone_id in zones]
            if not wrong and not stuck:
                wrong = list(self.judge.open_rows(line))
            if not wrong:
                return Confirmed(amount, line, tuple(sorted(self.open_ids - stuck)), not stuck)
            more_m = min(max(_missing_m(row) for row in wrong), _MOST_MORE_M)
            amount += farther * max(STEP_M, STEP_M * math.ceil(more_m / STEP_M))
        return None

    def _ids_of(self, cells: BoolArray) -> frozenset[str]:
        """Return the ids of zones with any cell, of shape (legs, sections, zones)."""
        return frozenset(self.ids(np.asarray(cells.any(axis=(0, 1)))))

    def _part(self, zone_ids: frozenset[str]) -> PartJudge:
        if zone_ids not in self._among:
            self._among[zone_ids] = PartJudge(self.judge, zone_ids)
        return self._among[zone_ids]

    def lacking_m(self, short_m: FloatArray, zones: BoolArray) -> dict[str, float]:
        """Return as a figure by how much the line falls short of some zones in places, shape (n, zones).

        Nothing where a shape is reached: by how much it falls short is not known then.
        """
        least = np.minimum(*self.quick.obstacles.needs_m[:2])[zones]
        worst = short_m[:, zones].max(axis=0)
        return {} if (worst >= least).any() else {"short_m": round(max(float(worst.max()), 0.0), 1)}

    def longer_m(self, line: PlannedLine) -> float:
        """Return by how much another line is longer."""
        return float(legs_of(line, self.kind).length_m.sum() - self.legs.length_m.sum())

    def cells(self, first: int, last: int) -> BoolArray:
        """Return an array for legs, sections and zones, all false."""
        return np.zeros((last - first + 1, SECTIONS, len(self.quick.obstacles.each)), dtype=bool)


def _missing_m(row: Row) -> float:
    """Return about how much a row falls short."""
    clearance_m = row.clearance_m if row.clearance_m is not None else row.margin_m
    if row.part is Part.VESSEL or row.gear is None:
        return row.margin_m + row.uncertainty_m - clearance_m
    likely_m, rope_m = row.gear.likely_clearance_m, row.gear.rope_clearance_m
    if row.status in FINDINGS or (likely_m is not None and likely_m < row.margin_m):
        return row.margin_m - min(likely_m if likely_m is not None else clearance_m, clearance_m)
    return row.margin_m - rope_m if rope_m is not None else _MOST_MORE_M


def length_words(length_m: float) -> str:
    """Return a length for people who steer by miles.

    Examples
    --------
    >>> length_words(185.0), length_words(1850.0)
    ('185 m (0.100 nmi)', '1850 m (0.999 nmi)')
    """
    return f"{length_m:.0f} m ({length_m / 1852.0:.3f} nmi)"
