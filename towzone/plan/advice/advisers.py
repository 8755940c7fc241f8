"""All advisers of a plan, asked one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from towzone.model.plan import Advice, PlannedLine
from towzone.model.result import Row
from towzone.plan.advice.departure import departure_advice
from towzone.plan.advice.haul_call import haul_call_advice
from towzone.plan.advice.shift import shift_advice
from towzone.plan.advice.shoot import shoot_advice
from towzone.plan.advice.turning import turning_advice
from towzone.plan.judging import Judge

__all__ = ["advice_for"]

_ADVISERS: tuple[Callable[[PlannedLine, Judge, Sequence[Row]], Sequence[Advice]], ...] = (
    shift_advice,
    turning_advice,
    haul_call_advice,
    shoot_advice,
    departure_advice,
)


def advice_for(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    """Return all advice for a line with its rows: what is enough comes first, that nothing helps last."""
    advice = [one for adviser in _ADVISERS for one in adviser(line, judge, rows)]
    return tuple(sorted(advice, key=lambda one: (not one.whole, one.line is None)))
