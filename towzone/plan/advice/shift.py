"""How far a leg has to be towed to port or starboard, parallel to itself, to be clear."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import Advice, AdviceKind, PlannedLine
from towzone.model.result import Row
from towzone.plan.advice.adviser import (
    FARTHEST_M,
    SCAN_M,
    Adviser,
    BoolArray,
    Confirmed,
    Search,
    adviser_of,
    length_words,
)
from towzone.plan.advice.moves import Moved, shifted
from towzone.plan.advice.quick import AFTER, BEFORE, MIDDLE
from towzone.plan.judging import OPEN, Judge

__all__ = ["MOST_M", "shift_advice"]

MOST_M = FARTHEST_M
"""No leg is shifted farther. Own choice: beyond that it is another tow."""

_SIDES = (("port", -1.0), ("starboard", 1.0))


def shift_advice(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    """Return, for each leg that is not clear, the least parallel shift to either side that clears it.

    Parameters
    ----------
    line : PlannedLine
    judge : Judge
    rows : sequence of Row
        All rows of the line by this judge.

    Returns
    -------
    tuple of Advice
        By legs, the smaller shift first; where none up to `MOST_M` helps, one that says so and has no line.
        What a shift clears was confirmed by the check of the line with the shift.

    Notes
    -----
    The leg must be clear of all zones then, and the legs beside it of those that were in its way, so far as
    they were near its corners only; nothing else may come too close that did not before.
    """
    if not any(row.status in OPEN for row in rows):
        return ()
    adviser = adviser_of(line, judge)
    legs = np.flatnonzero(adviser.trouble.any(axis=(1, 2))).tolist()
    return tuple(advice for leg in legs for advice in _of_leg(adviser, leg))


def _of_leg(adviser: Adviser, leg: int) -> Iterator[Advice]:
    zones = adviser.trouble[leg].any(axis=0)
    found = []
    for side, sign in _SIDES:
        confirmed = _to_side(adviser, leg, zones, sign)
        if confirmed is not None:
            found.append((confirmed, side))
    for confirmed, side in sorted(found, key=lambda one: (abs(one[0].amount_m), one[1])):
        yield _advice(adviser, leg, zones, confirmed, side)
    if not found:
        words = (
            f"No parallel shift of leg {leg + 1} by up to {MOST_M / 1000.0:g} km, to port or to starboard, "
            "clears it."
        )
        figures = {"looked_m": MOST_M, **adviser.lacking_m(adviser.short_m[leg], zones)}
        yield Advice(
            kind=AdviceKind.SHIFT, leg=leg + 1, zone_ids=adviser.ids(zones), words=words, figures=figures
        )


def _to_side(adviser: Adviser, leg: int, zones: BoolArray, sign: float) -> Confirmed | None:
    least_m = adviser.quick.gear_m

    def move(amounts: FloatArray) -> Moved:
        return shifted(adviser.line, adviser.kind, leg, amounts, least_m)[0]

    first, last = max(leg - 1, 0), min(leg + 2, adviser.count - 1)
    _, ratio = shifted(adviser.line, adviser.kind, leg, np.array([sign]), least_m)
    needed = _needed(adviser, leg, zones, first, last)
    frees = adviser.cells(0, adviser.count - 1)
    frees[first : last + 1] = needed
    search = Search(
        move=move,
        legs=(first, last),
        needed=needed,
        frees=frees,
        amounts_m=sign * np.arange(SCAN_M, MOST_M + SCAN_M / 2.0, SCAN_M),
        ratio=ratio,
    )
    found = adviser.find(search)
    if found is None:
        return None
    return adviser.confirm(search, found, adviser.place_span(leg, leg))


def _needed(adviser: Adviser, leg: int, zones: BoolArray, first: int, last: int) -> BoolArray:
    needed = adviser.cells(first, last)
    for other in range(first, last + 1):
        # What was not too close before must not become so.
        needed[other - first] = ~adviser.before[other]
    needed[leg - first] = True
    for other, near in ((leg - 1, BEFORE), (leg + 1, AFTER)):
        if first <= other <= last:
            away = [section for section in (AFTER, MIDDLE, BEFORE) if section != near]
            own = adviser.trouble[other][away].any(axis=0)
            needed[other - first][:, zones & ~own] = True
    return needed


def _advice(adviser: Adviser, leg: int, zones: BoolArray, confirmed: Confirmed, side: str) -> Advice:
    shift_m = abs(confirmed.amount_m)
    who = "vessel and gear keep" if adviser.quick.has_gear else "the vessel keeps"
    what = f"Tow leg {leg + 1} at least {length_words(shift_m)} farther to {side}"
    words = f"{what}: then {who} every margin there."
    if leg == 0:
        words += " Where towing begins moves with it."
    if leg == adviser.count - 1:
        words += " Where the haul is called moves with it."
    return Advice(
        kind=AdviceKind.SHIFT,
        leg=leg + 1,
        zone_ids=adviser.ids(zones),
        words=words,
        figures={
            "shift_m": shift_m,
            "side": side,
            **adviser.lacking_m(adviser.short_m[leg], zones),
            "longer_m": round(adviser.longer_m(confirmed.line), 1),
        },
        line=confirmed.line,
        clears=confirmed.clears,
        whole=confirmed.whole,
    )
