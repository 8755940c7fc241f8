"""Planned lines against all zones, with what to do about them: the one entry to a plan.

Touches no file, clock or environment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from towzone.errors import UsageError, quoted
from towzone.model.plan import (
    POSITION_DECIMALS,
    Advice,
    CorrectedLine,
    Fuel,
    LinePlan,
    NoLine,
    NoLineWhy,
    PlanAccount,
    PlannedLine,
    Timetable,
)
from towzone.model.result import CheckResult, InputFile, Outcome, Remark, Row
from towzone.model.zone import Zone
from towzone.plan.judging import OPEN, Judge, PlanSettings
from towzone.plan.lines import refuse_untowable
from towzone.plan.margins import margins_of
from towzone.plan.timetable import timetable_of

if TYPE_CHECKING:
    from towzone.plan.route.corrected import FoundLine

__all__ = ["NOT_KNOWN", "PlanWishes", "run_plan"]

NOT_KNOWN = (
    "Depth and shape of the bottom along the line are not known to this plan: warp and depth are those of "
    "the profile from end to end.",
    "Land, shoals and everything on the bottom that is not in the zone files are not known to it; no line, "
    "wanted or corrected, is checked against them.",
    "Other vessels, set gear, weather and sea are not known to it.",
)
"""What no plan knows; said with every one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWishes:
    """What is wanted of a plan beside the check: advice, and a corrected line."""

    advise: bool = True
    correct: bool = True


_ALL = PlanWishes()


def run_plan(
    lines: Sequence[PlannedLine],
    zones: Sequence[Zone],
    settings: PlanSettings,
    wishes: PlanWishes = _ALL,
    *,
    remarks: Sequence[Remark] = (),
    inputs: Sequence[InputFile] = (),
    version: str = "",
) -> CheckResult:
    """Return the check of planned lines, with timetable, margins, advice and a corrected line for each.

    Parameters
    ----------
    lines : sequence of PlannedLine
        Of unique names, which become the ids of their tracks.
    zones : sequence of Zone
        Ids unique.
    settings : PlanSettings
    wishes : PlanWishes
    remarks, inputs, version
        Passed through to the result.

    Returns
    -------
    CheckResult
        Corrected lines are among its tracks; all their rows are clear, so that they change no outcome.

    Raises
    ------
    GeometryError
        A leg or edge is too long or ambiguous.
    UsageError
        There is no line, two have one name, or one cannot be towed.
    """
    _refuse(lines)
    judge = Judge(zones, settings)
    taken = {line.name for line in lines}
    plans = [_plan_of(line, judge, wishes, taken) for line in lines]
    corrected = [p.corrected.line for p in plans if isinstance(p.corrected, CorrectedLine)]
    result = judge.check([*lines, *corrected], remarks=remarks, inputs=inputs, version=version)
    account = PlanAccount(lines=tuple(plans), not_known=NOT_KNOWN)
    for plan in plans:
        # What is told as clear was found clear by the same engine; never tell it otherwise.
        if isinstance(plan.corrected, CorrectedLine):
            _insist_clear(result, plan.corrected)
    return replace(result, plan=account, assumptions=(*result.assumptions, *_assumed(settings)))


def _refuse(lines: Sequence[PlannedLine]) -> None:
    if not lines:
        message = "there is no line to plan"
        raise UsageError(message)
    seen: set[str] = set()
    for line in lines:
        if line.name in seen:
            message = f"two lines are called {quoted(line.name)}; names must be unique"
            raise UsageError(message)
        seen.add(line.name)
        refuse_untowable(line)


def _plan_of(line: PlannedLine, judge: Judge, wishes: PlanWishes, taken: set[str]) -> LinePlan:
    rows = judge.rows(line, keep=True)
    timetable = timetable_of(line, judge)
    is_open = any(row.status in OPEN for row in rows)
    return LinePlan(
        track_id=line.name,
        line=line,
        timetable=timetable,
        margins=tuple(margins_of(line, judge, rows)),
        advice=_advice(line, judge, rows) if wishes.advise else (),
        corrected=_corrected(line, judge, timetable, taken) if is_open and wishes.correct else None,
    )


def _advice(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    # Advisers and the search for a line are loaded where they are wanted: a plan without them starts at once.
    from towzone.plan.advice.advisers import advice_for

    return advice_for(line, judge, rows)


def _corrected(line: PlannedLine, judge: Judge, wanted: Timetable, taken: set[str]) -> CorrectedLine | NoLine:
    from towzone.plan.route.corrected import find_line

    found = find_line(line, judge)
    if isinstance(found, NoLine):
        return found
    named = _named(found, line, taken)
    rows = judge.rows(named, keep=True)
    if any(row.status in OPEN for row in rows):
        return NoLine(
            why=NoLineWhy.NOT_FOUND, words="The line that was looked for did not pass the check itself."
        )
    timetable = timetable_of(named, judge)
    return CorrectedLine(
        track_id=named.name,
        line=named,
        timetable=timetable,
        margins=tuple(margins_of(named, judge, rows)),
        longer_m=timetable.length_m - wanted.length_m,
        longer_s=timetable.whole_seconds - wanted.whole_seconds,
        more_litres=_more(timetable.fuel, wanted.fuel),
        aside_m=found.aside_m,
        missed_m=found.missed_m,
    )


def _named(found: FoundLine, line: PlannedLine, taken: set[str]) -> PlannedLine:
    name, number = f"{line.name} corrected", 1
    while name in taken:
        number += 1
        name = f"{line.name} corrected {number}"
    taken.add(name)
    lon, lat = np.array(found.line.lon_deg), np.array(found.line.lat_deg)
    # As a plotter will get it: what is checked is what is written. Start and end stay what they are.
    for column in (lon, lat):
        column[1:-1] = np.round(column[1:-1], POSITION_DECIMALS)
    return replace(found.line, name=name, source=line.source, lon_deg=lon, lat_deg=lat)


def _more(fuel: Fuel | None, wanted: Fuel | None) -> float | None:
    return fuel.litres - wanted.litres if fuel is not None and wanted is not None else None


def _insist_clear(result: CheckResult, corrected: CorrectedLine) -> None:
    if result.outcome_of(corrected.track_id) is not Outcome.CLEAR:
        message = f"the corrected line {quoted(corrected.track_id)} passed one check and failed the other"
        raise AssertionError(message)


def _assumed(settings: PlanSettings) -> list[str]:
    hauling = (
        f"While hauling the vessel makes {settings.hauling_way_kn:g} kn over the ground, straight on."
        if settings.hauling_way_stated
        else f"ASSUMED: while hauling the vessel makes {settings.hauling_way_kn:g} kn over the ground, "
        "straight on, as while towing: no slower way is stated (hauling_way in the vessel profile, or "
        "--hauling-way)."
    )
    return [
        f"The vessel makes {settings.speed_kn:g} kn over the ground while shooting and towing, all along.",
        hauling,
        "A corrected line has no turn sharper than 60 degrees, and no leg shorter than three laybacks or "
        "than the shortest of the wanted line.",
    ]
