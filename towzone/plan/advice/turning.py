"""Where to begin a turn, how far to hold on before it, or how to split it, so that the gear keeps clear."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import Advice, AdviceKind, PlannedLine
from towzone.model.result import Row
from towzone.plan.advice.adviser import (
    SCAN_M,
    STEP_M,
    Adviser,
    BoolArray,
    Confirmed,
    Found,
    Move,
    Search,
    adviser_of,
    length_words,
)
from towzone.plan.advice.moves import Moved, split, turn_moved
from towzone.plan.advice.quick import AFTER, BEFORE, MIDDLE
from towzone.plan.judging import OPEN, Judge
from towzone.plan.lines import turns_deg

__all__ = ["MOST_M", "SPREADS_LAYBACKS", "turning_advice"]

MOST_M = 3_000.0
"""No turn is begun farther from its corner. Own choice."""

SPREADS_LAYBACKS = (3.0, 4.0, 6.0)
"""How far apart the halves of a split turn are tried: from three laybacks on the second begins with 5 % of
the first left (`exp(-3)`). Own choice."""

_LEAST_TURN_DEG = 10.0
"""A turn of less is not worth splitting. Own choice."""


class _Corner(NamedTuple):
    """A corner, from 0, the zones that are in the way there alone, and whether no others are there too."""

    number: int
    zones: BoolArray
    every: bool
    turn_deg: float


def turning_advice(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    """Return what can be done about corners where the gear, cutting in or lagging, is not clear.

    Parameters
    ----------
    line : PlannedLine
    judge : Judge
    rows : sequence of Row
        All rows of the line by this judge.

    Returns
    -------
    tuple of Advice
        By corners, what changes the length of the line least first. All of it was confirmed by the check.

    Notes
    -----
    The next corner is kept: who turns earlier or later steers for it from there.
    """
    if not any(row.status in OPEN for row in rows):
        return ()
    adviser = adviser_of(line, judge)
    if not adviser.quick.has_gear:
        return ()
    return tuple(advice for corner in _corners(adviser) for advice in _of_corner(adviser, corner))


def _corners(adviser: Adviser) -> Iterator[_Corner]:
    trouble = adviser.trouble
    turns = turns_deg(adviser.line, adviser.kind)
    for corner in range(1, adviser.count):
        before, after = trouble[corner - 1], trouble[corner]
        along = before[[AFTER, MIDDLE]].any(axis=0) | after[[MIDDLE, BEFORE]].any(axis=0)
        here = before[BEFORE] | after[AFTER]
        if (here & ~along).any():
            every = not (here & along).any()
            yield _Corner(corner, here & ~along, every, float(turns[corner - 1]))


def _of_corner(adviser: Adviser, corner: _Corner) -> list[Advice]:
    found = []
    for farther in (-1.0, 1.0):
        confirmed = _moved(adviser, corner, farther)
        if confirmed is not None:
            found.append(_begin(adviser, corner, confirmed))
    if abs(corner.turn_deg) >= _LEAST_TURN_DEG:
        halves = next(
            (one for n in SPREADS_LAYBACKS if (one := _split(adviser, corner, n)) is not None), None
        )
        if halves is not None:
            found.append(halves)
    return sorted(found, key=lambda advice: (not advice.whole, abs(float(advice.figures["longer_m"]))))


def _moved(adviser: Adviser, corner: _Corner, farther: float) -> Confirmed | None:
    least_m = adviser.quick.gear_m

    def move(amounts: FloatArray) -> Moved:
        return turn_moved(adviser.line, adviser.kind, corner.number, amounts, least_m)

    amounts_m = farther * np.arange(SCAN_M, MOST_M + SCAN_M / 2.0, SCAN_M)
    search = _search(adviser, corner, move, amounts_m, 0.0, more=0)
    found = adviser.find(search)
    return _confirmed(adviser, corner, search, found, more=0) if found is not None else None


def _search(
    adviser: Adviser, corner: _Corner, move: Move, amounts_m: FloatArray, base_m: float, *, more: int
) -> Search:
    """Return the search for what clears a corner, with so many corners more than the line had."""
    first, last = corner.number - 1, min(corner.number + 1, adviser.count - 1) + more
    needed = adviser.cells(first, last)
    before = adviser.before[first] | adviser.before[corner.number]
    for leg in range(first, last + 1):
        # What was not too close before must not become so.
        needed[leg - first] = ~(adviser.before[leg - more] if leg > corner.number + more else before)
    needed[: more + 2, :, corner.zones] = True
    frees = adviser.cells(0, adviser.count - 1)
    frees[first : corner.number + 1, :, corner.zones] = True
    after = corner.number + 1
    if after < adviser.count:
        own = adviser.trouble[after][[MIDDLE, BEFORE]].any(axis=0)
        needed[-1][AFTER, corner.zones & ~own] = True
        frees[after] = needed[-1]
    return Search(
        move=move,
        legs=(first, last),
        needed=needed,
        frees=frees,
        amounts_m=amounts_m,
        base_m=base_m,
        more=more,
    )


def _confirmed(
    adviser: Adviser, corner: _Corner, search: Search, found: Found, *, more: int
) -> Confirmed | None:
    between = (corner.number - 1.0, corner.number + 1.0 + more)
    return adviser.confirm(search, found, between, frozenset(adviser.ids(corner.zones)))


def _split(adviser: Adviser, corner: _Corner, laybacks: float) -> Advice | None:
    """Return how the turn may be split so far apart: the first half as near as can be to an even cut."""
    apart_m = STEP_M * math.ceil(laybacks * adviser.layback_m / STEP_M)
    even_m = -apart_m / (2.0 * math.cos(math.radians(corner.turn_deg) / 2.0))
    even_m = max(STEP_M * round(even_m / STEP_M), -MOST_M)

    def move(amounts: FloatArray) -> Moved:
        return split(adviser.line, adviser.kind, corner.number, amounts, apart_m, adviser.quick.gear_m)

    steps = np.arange(0.0, MOST_M, SCAN_M)
    found = []
    for farther in (1.0, -1.0):
        search = _search(adviser, corner, move, even_m + farther * steps, even_m, more=1)
        one = adviser.find(search)
        if one is not None:
            found.append((abs(one.amount_m - even_m), search, one))
    for _, search, one in sorted(found, key=lambda some: some[0]):
        confirmed = _confirmed(adviser, corner, search, one, more=1)
        if confirmed is not None:
            return _halves(adviser, corner, confirmed, apart_m)
    return None


def _begin(adviser: Adviser, corner: _Corner, confirmed: Confirmed) -> Advice:
    metres, at = abs(confirmed.amount_m), f"at the end of leg {corner.number}"
    then = f"and steer for the next corner from there: {_kept(corner)}"
    if confirmed.amount_m > 0.0:
        words = f"Hold on {length_words(metres)} past the corner {at} before you turn, {then}"
        return _advice(adviser, corner, confirmed, AdviceKind.HOLD_ON, words, {"hold_on_m": metres})
    words = f"Begin the turn {at} already {length_words(metres)} before its corner, {then}"
    return _advice(adviser, corner, confirmed, AdviceKind.BEGIN_TURN, words, {"earlier_m": metres})


def _halves(adviser: Adviser, corner: _Corner, confirmed: Confirmed, apart_m: float) -> Advice:
    half_deg = abs(float(turns_deg(confirmed.line, adviser.kind)[corner.number - 1]))
    metres = confirmed.amount_m
    where = f"{length_words(abs(metres))} {'before' if metres < 0.0 else 'past'}" if metres else "at"
    words = (
        f"Split the turn at the end of leg {corner.number} in two of {half_deg:.0f} degrees, the first "
        f"{where} its corner, the second {length_words(apart_m)} farther on: {_kept(corner)}"
    )
    figures = {"first_m": metres, "apart_m": apart_m, "half_deg": round(half_deg, 1)}
    return _advice(adviser, corner, confirmed, AdviceKind.SPLIT_TURN, words, figures)


def _kept(corner: _Corner) -> str:
    what = "every margin at that corner" if corner.every else "the margins there that the turn alone breaks"
    return f"then vessel and gear keep {what}."


def _advice(
    adviser: Adviser,
    corner: _Corner,
    confirmed: Confirmed,
    kind: AdviceKind,
    words: str,
    figures: dict[str, float],
) -> Advice:
    here = adviser.short_m[[corner.number - 1, corner.number], [BEFORE, AFTER]]
    return Advice(
        kind=kind,
        leg=corner.number,
        zone_ids=adviser.ids(corner.zones),
        words=words,
        figures={
            **figures,
            "turn_deg": round(corner.turn_deg, 1),
            **adviser.lacking_m(here, corner.zones),
            "longer_m": round(adviser.longer_m(confirmed.line), 1),
        },
        line=confirmed.line,
        clears=confirmed.clears,
        whole=confirmed.whole,
    )
