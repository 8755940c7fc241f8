"""Where the haul must be called for the gear to be up before a boundary: by the figures, and surely."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from towzone.model.plan import Advice, AdviceKind, PlannedLine
from towzone.model.result import Row
from towzone.model.zone import Prohibition
from towzone.plan.advice.ends import Ends, ends_of, last_place
from towzone.plan.advice.gear_ends import GearEnds, gear_ends
from towzone.plan.advice.told import cleared, figures_at, length_words, place_words, still_open
from towzone.plan.judging import Judge
from towzone.units import format_duration

__all__ = ["haul_call_advice"]

_SHORTEST_M = 10.0
"""A line is not cut shorter than that. Own choice."""


class _Boundary(NamedTuple):
    """Where on the line, or straight on from its end, it comes to what it must keep clear of.

    ``what`` is ``boundary``, ``margin`` (it comes under it) or ``nearest`` (it passes by).
    """

    along_m: float
    what: str

    @property
    def words(self) -> str:
        """What it comes to, for people."""
        return {
            "boundary": "the boundary",
            "margin": "where the vessel itself would come under the margin",
            "nearest": "where it passes nearest",
        }[self.what]


def haul_call_advice(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    """Return the last place to call the haul before each zone that a line, or the haul after it, comes to.

    Parameters
    ----------
    rows : sequence of Row
        Of the line, as `Judge.rows` has them.

    Returns
    -------
    tuple of Advice
        In the order in which the line comes to the zones, for the first few. ``line`` is the line cut short
        at the guaranteed place, of which the check says that it is clear of the zone; where there is no such
        place on the line, it is ``None`` and the words say so.

    Notes
    -----
    Guaranteed: while the gear is hauled on a straight course, the vessel stays farther from zone and margin
    than the length of warp, sweeps and net, until no part can touch the bottom. By the figures: the doors
    are lifted before they come under the margin, three (or two) standard deviations allowed for; of the net,
    which stays down longer, that says nothing.
    """
    gear = gear_ends(judge)
    if gear is None:
        return ()
    found = [_advice(ends, gear, rows) for ends in ends_of(line, judge, rows)]
    return tuple(advice for advice in found if advice is not None)


def _advice(ends: Ends, gear: GearEnds, rows: Sequence[Row]) -> Advice | None:
    if ends.wrong(np.array([0.0]))[0] or _first_under(ends) <= 0.0:
        return None  # it begins where it should not be: no haul mends that
    boundary = _boundary(ends)
    doors = _door_places(ends, gear)
    answers: dict[float, tuple[Row, ...]] = {}

    def passes(way_m: float) -> bool:
        if way_m < _SHORTEST_M:
            return False
        answers[way_m] = ends.checker.rows(ends.way.until(way_m))
        return ends.zone.zone_id not in still_open(answers[way_m])

    place_m = None
    if ends.clear_to_shoot[0] >= 0.0:  # else shooting leaves it open, wherever the haul is called
        inner = ends.places <= _first_under(ends)
        places = ends.places[inner]
        sure = places <= ends.first_near_m
        place_m = last_place(places, ends.clear_to_haul[inner], sure, ends.haul_spare_m, passes)
    if place_m is None:
        return _nowhere(ends, gear, boundary, doors)
    clears, whole = cleared(rows, answers[place_m])
    return Advice(
        kind=AdviceKind.HAUL_CALL,
        leg=int(ends.way.leg_at(place_m)[0]) + 1,
        zone_ids=(ends.zone.zone_id,),
        words=_words(ends, gear, place_m, boundary, doors),
        figures=_figures(ends, gear, place_m, boundary, doors),
        line=ends.way.until(place_m),
        clears=clears,
        whole=whole,
    )


def _first_under(ends: Ends) -> float:
    """Return where the vessel first comes under the margin, infinite where it does not."""
    return min((first for first, _ in ends.within(ends.margin_m)), default=np.inf)


def _boundary(ends: Ends) -> _Boundary:
    met = [first for first, _ in ends.within(0.0, farther_m=ends.rope_needs_m)]
    if met:
        return _Boundary(met[0], "boundary")
    first_m = _first_under(ends)
    if np.isfinite(first_m):
        return _Boundary(first_m, "margin")
    return _Boundary(ends.nearest_m, "nearest")


class _DoorPlaces(NamedTuple):
    """The last places to call the haul for the doors to be off in time; ``None`` where the line has none.

    By the figures; and surely, with the longest warp, the least depth and the slowest winch.
    """

    by_figures_m: float | None
    surely_m: float | None


def _door_places(ends: Ends, gear: GearEnds) -> _DoorPlaces:
    sigmas = ends.judge.settings.check.gear_proof.sigmas
    doubt_m = sigmas * gear.sigma_m, 3.0 * gear.place_sigma_m
    return _DoorPlaces(
        _doors_place(ends, gear.off_ahead_m, gear.vessel_off_m, gear.wide_m, doubt_m[0]),
        _doors_place(ends, gear.last_ahead_m, gear.vessel_last_m, gear.wide_surely_m, doubt_m[1]),
    )


def _doors_place(ends: Ends, ahead_m: float, vessel_m: float, wide_m: float, doubt_m: float) -> float | None:
    """Return the last place from which doors lift so far ahead before they come under the margin.

    The vessel must keep clear while it tows; where more than contact with the bottom is prohibited, until the
    doors are off.
    """
    needs_m = ends.margin_m + doubt_m + ends.off_m
    sides = [ends.within(needs_m, aside_m=aside) for aside in (-wide_m, wide_m)]
    door_m = min((first for side in sides for first, _ in side), default=np.inf)
    whole = ends.zone.prohibits != (Prohibition.BOTTOM_CONTACT,)
    vessel_under_m = _first_under(ends)

    def spares(way_m: np.ndarray) -> np.ndarray:
        spare = np.minimum(door_m - (way_m + min(ahead_m, 0.0)), vessel_under_m - way_m)
        if ahead_m > 0.0:
            spare = np.minimum(spare, ends.doors_spare_m(way_m, ahead_m, wide_m, needs_m))
        return np.minimum(spare, ends.vessel_spare_m(way_m, vessel_m)) if whole else spare

    all_sure = np.ones(len(ends.places), dtype=bool)
    return last_place(ends.places, spares(ends.places), all_sure, spares, lambda way_m: way_m >= 0.0)


def _figures(
    ends: Ends, gear: GearEnds, place_m: float | None, boundary: _Boundary, doors: _DoorPlaces
) -> dict[str, float | str]:
    judge, way = ends.judge, ends.way
    figures: dict[str, float | str] = {}
    places = {
        "guaranteed": place_m,
        f"{gear.parts}_by_figures": doors.by_figures_m,
        f"{gear.parts}_surely": doors.surely_m,
    }
    for name, along_m in places.items():
        if along_m is not None:
            figures |= figures_at(name, way, along_m, judge.settings)
            figures[f"{name}_before_{boundary.what}_m"] = boundary.along_m - along_m
    angle_deg = ends.angle_deg(boundary.along_m) if boundary.what == "boundary" else None
    if angle_deg is not None:
        figures["angle_of_approach_deg"] = angle_deg
    figures["margin_m"] = ends.margin_m
    figures["hauling_m"] = ends.hauling_m
    figures["hauling_s"] = ends.contact.latest_s
    figures["rope_m"] = judge.rope_m
    figures[f"{gear.parts}_off_ahead_m"] = gear.off_ahead_m
    figures[f"{gear.parts}_off_at_the_latest_ahead_m"] = gear.last_ahead_m
    return figures


def _words(ends: Ends, gear: GearEnds, place_m: float, boundary: _Boundary, doors: _DoorPlaces) -> str:
    settings = ends.judge.settings
    place, left = place_words(ends.way, place_m, settings), length_words(boundary.along_m - place_m)
    words = (
        f"Call the haul no later than {place}, {left} before {boundary.words}: guaranteed by the length of "
        "its rope, no part of the gear then comes under the margin."
    )
    if doors.by_figures_m is None or doors.by_figures_m <= place_m or boundary.what == "nearest":
        return words  # by what it passes, the doors may pass, too, as far as the figures go
    farther = length_words(doors.by_figures_m - place_m)
    return (
        f"{words} By the figures the {gear.parts}, but not the net, would still be off in time if it is "
        f"called {farther} farther on."
    )


def _nowhere(ends: Ends, gear: GearEnds, boundary: _Boundary, doors: _DoorPlaces) -> Advice | None:
    """Return that there is no place on the line, where it does run into the zone."""
    if boundary.what == "nearest" and ends.clear_to_haul.max() >= 0.0:
        return None
    if boundary.what == "nearest" and ends.clear_to_shoot[0] < 0.0:
        return None  # it runs by so near all along that where to shoot is the question
    judge = ends.judge
    words = (
        f"Nowhere on this line is it early enough to call the haul for the gear to be up, guaranteed by the "
        f"length of its rope: towing begins {length_words(boundary.along_m)} before {boundary.words}, and "
        f"hauling takes {length_words(ends.hauling_m)} of straight way "
        f"({format_duration(ends.contact.latest_s)}) with up to {length_words(judge.rope_m)} of rope out."
    )
    if doors.by_figures_m is not None:
        place = place_words(ends.way, doors.by_figures_m, judge.settings)
        words += (
            f" By the figures the {gear.parts}, but not the net, would be off in time if it is called by "
            f"{place}."
        )
    return Advice(
        kind=AdviceKind.HAUL_CALL,
        leg=None,
        zone_ids=(ends.zone.zone_id,),
        words=words,
        figures=_figures(ends, gear, None, boundary, doors),
    )
