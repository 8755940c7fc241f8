"""From where on the gear may be shot when a boundary lies astern: by the figures, and surely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.model.plan import Advice, AdviceKind, PlannedLine
from towzone.model.result import Row
from towzone.plan.advice.ends import Ends, ends_of, last_place
from towzone.plan.advice.gear_ends import GearEnds, gear_ends
from towzone.plan.advice.told import cleared, figures_at, length_words, place_words, still_open, time_at
from towzone.plan.judging import Judge
from towzone.units import format_duration

__all__ = ["shoot_advice"]

_SHORTEST_M = 10.0
"""So much of a line is left at the least. Own choice."""


def shoot_advice(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    """Return the first place to have the brakes on after each zone that is too near where a line begins.

    Parameters
    ----------
    rows : sequence of Row
        Of the line, as `Judge.rows` has them.

    Returns
    -------
    tuple of Advice
        For the first few zones. ``line`` is what is left of the line from the safe place on, of which the
        check says that it is clear of the zone; where there is no such place on the line, it is ``None`` and
        the words say so.

    Notes
    -----
    Safe: while the gear is shot on the course of the leg, the vessel is farther from zone and margin than the
    length of warp, sweeps and net, from when any part can first touch the bottom. By the figures: the codend
    comes down clear of the margin, three (or two) standard deviations allowed for.
    """
    gear = gear_ends(judge)
    if gear is None:
        return ()
    found = [_advice(ends, gear, rows) for ends in ends_of(line, judge, rows)]
    return tuple(advice for advice in found if advice is not None)


def _advice(ends: Ends, gear: GearEnds, rows: Sequence[Row]) -> Advice | None:
    starts_wrong = bool(ends.wrong(np.array([0.0]))[0])
    if not starts_wrong and ends.clear_to_shoot[0] >= 0.0:
        return None  # shooting leaves nothing open
    answers: dict[float, tuple[Row, ...]] = {}

    def passes(way_m: float) -> bool:
        if way_m > ends.way.length_m - _SHORTEST_M:
            return False
        answers[way_m] = ends.checker.rows(ends.way.since(way_m))
        return ends.zone.zone_id not in still_open(answers[way_m]) and _passes_then(ends, way_m)

    left_m = _left(ends)
    inner = ends.places >= (left_m or 0.0)
    places = ends.places[inner][::-1]
    sure = places >= ends.last_near_m
    place_m = last_place(places, ends.clear_to_shoot[inner][::-1], sure, ends.shoot_spare_m, passes)
    by_figures_m = _by_figures(ends, gear)
    if place_m is None:
        return _nowhere(ends, starts_wrong=starts_wrong)
    clears, whole = cleared(rows, answers[place_m])
    return Advice(
        kind=AdviceKind.SHOOT,
        leg=int(ends.way.leg_at(place_m + _SHORTEST_M)[0]) + 1,
        zone_ids=(ends.zone.zone_id,),
        words=_words(ends, place_m, left_m, by_figures_m),
        figures=_figures(ends, gear, place_m, left_m, by_figures_m),
        line=ends.way.since(place_m),
        clears=clears,
        whole=whole,
    )


def _passes_then(ends: Ends, way_m: float) -> bool:
    """Return whether what is left of the line is clear of the zone at the time of the plan as well.

    Asked about by itself it begins when the plan does: a rule with dates may hold at one of the two only.
    """
    if not ends.zone.rules.dated:
        return True
    later = ends.checker.at(time_at(way_m, ends.judge.settings))
    return ends.zone.zone_id not in still_open(later.rows(ends.way.since(way_m)))


def _left(ends: Ends, limit_m: float = 0.0, aside_m: float = 0.0) -> float | None:
    """Return where on the line the zone, with so much around it, is first left behind for good or a while.

    ``None`` where the line does not begin in it, nor comes out of it before it first goes in.
    """
    near = ends.within(limit_m, aside_m=aside_m)
    for first, last in near:
        beyond = np.array([min(last + _SHORTEST_M, ends.way.length_m)])
        if ends.wrong(beyond)[0]:
            continue
        begins = np.array([max(first - _SHORTEST_M, 0.0)])
        if first <= 0.0 or ends.wrong(begins)[0]:
            return last
        return None
    return None


def _by_figures(ends: Ends, gear: GearEnds) -> float | None:
    """Return the first place to have the brakes on for net and doors to come down clear by the figures."""
    needs_m = ends.margin_m + ends.judge.settings.check.gear_proof.sigmas * gear.sigma_m + ends.off_m
    sides = [_left(ends, needs_m, aside) for aside in (-gear.wide_m, gear.wide_m)]
    left = [last for last in sides if last is not None]
    if not left:
        return None
    place_m = max(left) + gear.back_m
    return place_m if place_m <= ends.way.length_m else None


def _figures(
    ends: Ends, gear: GearEnds, place_m: float | None, left_m: float | None, by_figures_m: float | None
) -> dict[str, float | str]:
    judge = ends.judge
    figures: dict[str, float | str] = {}
    for name, along_m in (("safe", place_m), ("by_figures", by_figures_m)):
        if along_m is not None:
            figures |= figures_at(name, ends.way, along_m, judge.settings)
            if left_m is not None:
                figures[f"{name}_past_boundary_m"] = along_m - left_m
    figures["margin_m"] = ends.margin_m
    figures["shooting_m"] = ends.shooting_m
    figures["shooting_s"] = -ends.contact.earliest_s
    figures["rope_m"] = judge.rope_m
    figures["net_astern_at_the_most_by_figures_m"] = gear.back_m
    return figures


def _words(ends: Ends, place_m: float, left_m: float | None, by_figures_m: float | None) -> str:
    settings = ends.judge.settings
    place = place_words(ends.way, place_m, settings)
    past = "" if left_m is None else f", {length_words(place_m - left_m)} past the boundary"
    words = (
        f"Have the brakes on no earlier than {place}{past}, shooting on the course of that leg: guaranteed "
        "by the length of its rope, no part of the gear then comes under the margin."
    )
    if by_figures_m is None or by_figures_m >= place_m:
        return words
    sooner = length_words(place_m - by_figures_m)
    return f"{words} By the figures {sooner} sooner would do."


def _nowhere(ends: Ends, *, starts_wrong: bool) -> Advice | None:
    """Return that there is no place on the line, unless the zone lies ahead: that is for the haul to mend."""
    if not starts_wrong and _left(ends, ends.margin_m) is None and ends.clear_to_shoot.max() >= 0.0:
        return None
    judge = ends.judge
    words = (
        "Nowhere on this line is it late enough to have the brakes on for the gear to keep the margin, "
        f"guaranteed by the length of its rope: shooting takes {length_words(ends.shooting_m)} of straight "
        f"way ({format_duration(-ends.contact.earliest_s)}) with up to {length_words(judge.rope_m)} of rope "
        "out."
    )
    return Advice(
        kind=AdviceKind.SHOOT,
        leg=None,
        zone_ids=(ends.zone.zone_id,),
        words=words,
        figures={
            "margin_m": ends.margin_m,
            "shooting_m": ends.shooting_m,
            "shooting_s": -ends.contact.earliest_s,
            "rope_m": judge.rope_m,
        },
    )
