"""What is told first of a planned line: how it came out, its worst row, what it has to spare."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from enum import StrEnum

import numpy as np

from towzone.model.clock import local_text
from towzone.model.gear import GearTier
from towzone.model.plan import CorrectedLine, LinePlan, PlanLeg, SeasonChange, Timetable, ZoneMargin
from towzone.model.result import CheckResult, Part, Row, Status
from towzone.plan.judging import OPEN
from towzone.plan.route.footprint import SHARPEST_DEG

__all__ = [
    "Measure",
    "Spare",
    "also_open",
    "binds",
    "clear_by_model",
    "corrected_ids",
    "corrected_of",
    "least_of",
    "least_spare",
    "letter_of",
    "missed_corners",
    "on_board",
    "rows_of",
    "season_in_it",
    "sharp_turns",
    "spare_of",
    "spares_of_zone",
    "steered_exactly",
    "wanted_ids",
    "worst_of",
]

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

_FREE = frozenset({Status.TRANSIT, Status.NOT_IN_FORCE})

_TIME = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC")
"""A time as `towzone.units.format_time` writes it to the second."""


class Measure(StrEnum):
    """By what a clearance is."""

    VESSEL = "vessel"
    GEAR = "gear"
    LIKELY = "likely"
    CURRENT = "current"

    @property
    def part(self) -> Part:
        """Whose clearance it is."""
        return Part.VESSEL if self is Measure.VESSEL else Part.GEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """What is left of one clearance beyond the margin of its zone, metres; negative where it falls short.

    The error of positions and steering is not taken off. ``or_less``: it may be less than that, because the
    likely corridor of the gear reaches the zone, and how far is not computed.
    """

    zone_id: str
    measure: Measure
    clearance_m: float
    margin_m: float
    leg: int | None
    or_less: bool = False

    @property
    def spare_m(self) -> float:
        """The clearance less the margin."""
        return self.clearance_m - self.margin_m


def letter_of(number: int, count: int) -> str:
    """Return what tells a line, from 0, from the others of a plan in brief; nothing for a single line.

    Examples
    --------
    >>> letter_of(0, 1), letter_of(1, 3), letter_of(27, 40)
    ('', 'B', '28.')
    """
    if count < 2:
        return ""
    return _LETTERS[number] if number < len(_LETTERS) else f"{number + 1}."


def corrected_of(plan: LinePlan) -> CorrectedLine | None:
    """Return the corrected line of a plan, if there is one."""
    return plan.corrected if isinstance(plan.corrected, CorrectedLine) else None


def wanted_ids(result: CheckResult) -> tuple[str, ...]:
    """Return the tracks of the lines that were asked about, in their order."""
    return tuple(plan.track_id for plan in result.plan.lines) if result.plan is not None else ()


def corrected_ids(result: CheckResult) -> tuple[str, ...]:
    """Return the tracks of corrected lines, in the order of the lines that they correct."""
    plans = result.plan.lines if result.plan is not None else ()
    return tuple(line.track_id for line in map(corrected_of, plans) if line is not None)


def rows_of(result: CheckResult, track_id: str) -> tuple[Row, ...]:
    """Return the rows of one track, worst first as in the result."""
    return tuple(row for row in result.rows if row.track_id == track_id)


def worst_of(result: CheckResult, track_id: str) -> Row | None:
    """Return the worst row of a track, of equal ones that with the least clearance beyond its margin."""
    order = list(Status)

    def key(row: Row) -> tuple[int, bool, float]:
        beyond = (row.clearance_m or 0.0) - row.margin_m
        return order.index(row.status), row.clearance_m is None, beyond

    return min(rows_of(result, track_id), key=key, default=None)


def clear_by_model(result: CheckResult, track_id: str) -> bool:
    """Return whether any gear row of a track is clear by the model of its path, not by its rope alone."""
    return any(
        row.status is Status.CLEAR and row.gear is not None and row.gear.tier is GearTier.NOT_RULED_OUT
        for row in rows_of(result, track_id)
    )


def spares_of_zone(margin: ZoneMargin) -> Iterator[Spare]:
    """Return what is spare of one zone by every measure that is known."""
    known = {
        Measure.VESSEL: margin.vessel_m,
        Measure.GEAR: margin.gear_m,
        Measure.LIKELY: margin.likely_m,
        Measure.CURRENT: margin.set_m,
    }
    for measure, clearance_m in known.items():
        if clearance_m is not None:
            yield Spare(
                zone_id=margin.zone_id,
                measure=measure,
                clearance_m=clearance_m,
                margin_m=margin.margin_m,
                leg=margin.leg,
                or_less=measure is Measure.LIKELY and clearance_m <= 0.0,
            )


def least_of(spares: Iterable[Spare]) -> Spare | None:
    """Return the least of some, which may be less where any of them may be."""
    known = list(spares)
    least = min(known, key=lambda spare: spare.spare_m, default=None)
    return None if least is None else replace(least, or_less=any(spare.or_less for spare in known))


def spare_of(result: CheckResult, track_id: str, margin: ZoneMargin) -> Spare | None:
    """Return the least that vessel and gear have to spare of one zone, where its rule binds them."""
    return least_of(
        spare
        for spare in spares_of_zone(margin)
        if binds(result, track_id, margin.zone_id, spare.measure.part)
    )


def least_spare(
    result: CheckResult, track_id: str, margins: Sequence[ZoneMargin], part: Part
) -> Spare | None:
    """Return the least that vessel or gear has to spare of any zone whose rule binds it then.

    Zones of which every row says that the rule is kept in transit, or not in force, bind nobody.
    """
    return least_of(
        spare
        for margin in margins
        if binds(result, track_id, margin.zone_id, part)
        for spare in spares_of_zone(margin)
        if spare.measure.part is part
    )


def binds(result: CheckResult, track_id: str, zone_id: str, part: Part) -> bool:
    """Return whether the rule of a zone binds vessel or gear on a line, as far as the rows tell."""
    found = [r.status for r in rows_of(result, track_id) if r.zone_id == zone_id and r.part is part]
    return not found or not set(found) <= _FREE


def also_open(result: CheckResult, track_id: str, zone_id: str) -> tuple[str, ...]:
    """Return the other zones that a track is not clear of, the worst first."""
    found = [row.zone_id for row in rows_of(result, track_id) if row.status in OPEN]
    return tuple(dict.fromkeys(other for other in found if other != zone_id))


def season_in_it(plan: LinePlan, zone_id: str) -> SeasonChange | None:
    """Return the first change of a zone's rule while the gear is out, ``None`` for none."""
    legs, events = plan.timetable.legs, plan.timetable.events
    begin = events[0].utc if events else legs[0].begin_utc
    end = events[-1].utc if events else legs[-1].end_utc
    changes = (change for change in plan.timetable.seasons if change.zone_id == zone_id)
    return next((change for change in changes if begin <= change.at_utc <= end), None)


def sharp_turns(timetable: Timetable) -> tuple[PlanLeg, ...]:
    """Return the legs at whose end is a turn sharper than corrected lines may have."""
    return tuple(
        leg for leg in timetable.legs if leg.turn_deg is not None and abs(leg.turn_deg) > SHARPEST_DEG
    )


def steered_exactly(result: CheckResult) -> bool:
    """Return whether nothing is allowed for how far off the line the vessel may be."""
    return float(str(result.settings.get("steering_m", 0.0))) <= 0.0


def on_board(words: str, zone: tzinfo) -> str:
    """Return our own words with local time beside each time to the second in UTC.

    Examples
    --------
    >>> from datetime import timedelta, timezone
    >>> on_board("no later than 2026-03-01 06:10:00 UTC.", timezone(timedelta(hours=1)))
    'no later than 2026-03-01 06:10:00 UTC = 07:10:00 UTC+1.'
    """

    def beside(found: re.Match[str]) -> str:
        instant = np.datetime64(found[0].removesuffix(" UTC").replace(" ", "T"), "us")
        return f"{found[0]} = {local_text(instant, zone)}"

    return _TIME.sub(beside, words)


_MISSED_M = 185.2
"""A corner passed nearer than this, a tenth of a mile, is passed. Own choice."""


def missed_corners(corrected: CorrectedLine) -> list[tuple[int, float]]:
    """Return the corners of the wanted line, from 1, that a corrected one passes far off, and how far."""
    numbered = enumerate(corrected.missed_m, start=2)
    return [(number, metres) for number, metres in numbered if metres >= _MISSED_M]
