"""What a plan says of a line, in words: how it came out, what would mend it, a line that does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from towzone.model.clock import board_zone
from towzone.model.plan import Advice, CorrectedLine, EventKind, LinePlan, NoLine, ZoneMargin
from towzone.model.result import CheckResult, Outcome, Part, Row, Status
from towzone.plan.advice.told import length_words
from towzone.plan.route.footprint import SHARPEST_DEG
from towzone.plan.telling import (
    Measure,
    Spare,
    also_open,
    clear_by_model,
    corrected_of,
    least_of,
    least_spare,
    missed_corners,
    on_board,
    rows_of,
    season_in_it,
    sharp_turns,
    worst_of,
)
from towzone.tables.cells import plain
from towzone.tables.plan_times import corner_lines, moment, turn_words
from towzone.tables.row_lines import wrapped, zone_said
from towzone.units import NAUTICAL_MILE_M, format_duration, format_length, format_position
from towzone.words import counted

__all__ = [
    "MEASURE_WORDS",
    "OUTCOME_WORDS",
    "advice_lines",
    "answer_lines",
    "corrected_lines",
    "longer_words",
]

OUTCOME_WORDS = {
    Status.INSIDE: "INSIDE",
    Status.TOO_CLOSE: "TOO CLOSE",
    Status.UNDETERMINED: "UNDETERMINED",
    Status.TRANSIT: "CLEAR",
    Status.NOT_IN_FORCE: "CLEAR",
    Status.CLEAR: "CLEAR",
}
"""By the worst row of a line; what no rule forbids is no finding."""

MEASURE_WORDS = {
    Measure.VESSEL: "the vessel",
    Measure.GEAR: "the gear by its figures",
    Measure.LIKELY: "the gear, allowing for the spread of its figures",
    Measure.CURRENT: "the gear in the worst current",
}


def answer_lines(plan: LinePlan, letter: str, result: CheckResult) -> Iterator[str]:
    """Return how a line came out and, below it, what became of a corrected line.

    ``letter`` tells it from the others where there are several; it is empty for one.
    """
    row = worst_of(result, plan.track_id)
    word = OUTCOME_WORDS[row.status] if row is not None else "CLEAR"
    yield wrapped(f"{word}: {_named(plan, letter)} {_verdict(plan, row, result)}", "  ")
    yield from _turns(plan)
    if plan.corrected is None:
        return
    corrected = corrected_of(plan)
    if corrected is not None:
        aside = length_words(corrected.aside_m)
        least = _least_words(corrected.track_id, corrected.margins, result)
        yield wrapped(
            f"A corrected line is clear{_how(corrected, result)}: {longer_words(corrected)}, "
            f"up to {aside} aside of this one{_missed_words(corrected)}{least}.",
            "  ",
            first="  ",
        )
    elif isinstance(plan.corrected, NoLine):
        yield from _none(plan.corrected, result)


def _missed_words(corrected: CorrectedLine) -> str:
    """Return which corners of the wanted line a corrected one passes by, and at what distance."""
    missed = missed_corners(corrected)
    told = ", ".join(f"corner {n} at {length_words(metres)}" for n, metres in missed)
    return f", passing {told}" if told else ""


def _named(plan: LinePlan, letter: str) -> str:
    """Return what a line is called in a sentence; the only one written out has no name."""
    name = plain(plan.line.name)
    if letter:
        return f"line {letter} ({name})"
    return "the line" if name == "line" else f"line '{name}'"


def _turns(plan: LinePlan) -> Iterator[str]:
    sharp = sharp_turns(plan.timetable)
    if sharp:
        turns = ", ".join(f"leg {leg.number} ({turn_words(leg.turn_deg)})" for leg in sharp)
        yield wrapped(
            f"It turns by more than {SHARPEST_DEG:.0f}° at the end of {turns}: the inner door may fall over "
            "there, and what the gear then does is not known.",
            "  ",
            first="  ",
        )


def _how(corrected: CorrectedLine, result: CheckResult) -> str:
    if result.gear_unchecked:
        return " for the vessel (its gear was not checked)"
    return " by the model of the gear" if clear_by_model(result, corrected.track_id) else ""


def _verdict(plan: LinePlan, row: Row | None, result: CheckResult) -> str:
    outcome = result.outcome_of(plan.track_id)
    if row is None:
        reach = f"{float(str(result.settings['reach_m'])) / NAUTICAL_MILE_M:g} nmi"
        zones = counted(len(result.zones), "zone")
        return f"comes within {reach} of none of the {zones} given: make sure they are of these waters."
    if outcome is Outcome.CLEAR:
        return f"{_clear(plan, result)}."
    return f"{_open(row, outcome, result)}{_season(plan, row, result)}{_more(plan, row, result)}"


def _season(plan: LinePlan, row: Row, result: CheckResult) -> str:
    """Say that the rule begins or ends while the gear is out: then another time would do."""
    change = season_in_it(plan, row.zone_id)
    if change is None:
        return ""
    return (
        f" Its rule {'begins' if change.begins else 'ends'} at {moment(change.at_utc, board_zone(result))}."
    )


def _more(plan: LinePlan, row: Row, result: CheckResult) -> str:
    """Say which other zones it is not clear of."""
    others = also_open(result, plan.track_id, row.zone_id)
    return f" Not clear either: {_zones(others, result)}." if others else ""


def _open(row: Row, outcome: Outcome, result: CheckResult) -> str:
    who = _who(row)
    zone = zone_said(row.zone_id, result)
    if outcome is Outcome.UNDETERMINED:
        return f"is not proved clear: it is open whether {who} keeps clear of {zone}."
    if row.clearance_m is None:
        return f"is not clear: {who} and {zone}, at a distance that is not known."
    if row.status is Status.INSIDE:
        allowed = next(z.rules.allowed_only_inside for z in result.zones if z.zone_id == row.zone_id)
        where = f"outside {zone}, the only area allowed" if allowed else f"inside {zone}"
        depth = format_length(abs(row.clearance_m))
        return f"is not clear: {who} goes {depth} {where}."
    less = format_length(row.margin_m - row.clearance_m)
    near = format_length(row.clearance_m)
    return f"is not clear: {who} comes {near} from {zone}, {less} less than its margin."


def _who(row: Row) -> str:
    if row.part is Part.VESSEL:
        return "the vessel"
    named = row.gear is not None and row.gear.nearest_part
    return f"the gear ({plain(row.gear.nearest_part)})" if row.gear is not None and named else "the gear"


def _clear(plan: LinePlan, result: CheckResult) -> str:
    free = [r for r in rows_of(result, plan.track_id) if r.status in (Status.TRANSIT, Status.NOT_IN_FORCE)]
    # Who goes inside where no rule forbids it is not proved clear of that.
    clear, proved = ("has no finding",) * 2 if free else ("is clear", "is proved clear")
    if result.gear_unchecked:
        said = [f"{proved} for the vessel under the assumptions below", "its gear was not checked"]
    elif clear_by_model(result, plan.track_id):
        said = [f"{clear} by the model of the gear and the assumptions below"]
    else:
        said = [f"{proved} under the assumptions below"]
    if free:
        zone = zone_said(free[0].zone_id, result)
        said.append(f"it may go inside or close to {zone}, where no rule forbids it then")
    return f"{'; '.join(said)}{_least_words(plan.track_id, plan.margins, result)}"


def _least_words(track_id: str, margins: Sequence[ZoneMargin], result: CheckResult) -> str:
    """Say what a line has to spare at the least; nothing where no rule binds it."""
    known = (least_spare(result, track_id, margins, part) for part in Part)
    least = least_of(spare for spare in known if spare is not None)
    return "" if least is None else f"; least to spare: {_spare_words(least, result)}"


def _spare_words(spare: Spare, result: CheckResult) -> str:
    """Return the least to spare: how much, of which zone, of what."""
    zone = zone_said(spare.zone_id, result)
    length = format_length(spare.spare_m) + (" or less" if spare.or_less else "")
    return f"{MEASURE_WORDS[spare.measure]}, {length} beyond the margin of {zone}"


def longer_words(corrected: CorrectedLine) -> str:
    """Return how much longer a corrected line is; a shorter one says so."""
    less = corrected.longer_m < 0.0
    nmi = f"{abs(corrected.longer_m) / NAUTICAL_MILE_M:.2f} nmi"
    more = [nmi, format_duration(abs(corrected.longer_s))]
    if corrected.more_litres is not None:
        more.append(f"{abs(corrected.more_litres):.0f} l of fuel")
    return f"{'shorter' if less else 'longer'} by {', '.join(more)}"


def advice_lines(plan: LinePlan, result: CheckResult, *, verbose: bool) -> list[str]:
    """Return the advice on a line, numbered, each with what it clears."""
    if not plan.advice:
        return []
    clock = board_zone(result)
    lines = ["Advice, each checked again by the same check:"]
    for number, advice in enumerate(plan.advice, start=1):
        lines.append(wrapped(f"{number:>3}  {on_board(advice.words, clock)}", "     "))
        lines.append(wrapped(_effect(advice, result), "     ", first="     "))
        if verbose and advice.line is not None:
            corners = zip(advice.line.lon_deg.tolist(), advice.line.lat_deg.tolist(), strict=True)
            places = "; ".join(format_position(lon_deg, lat_deg) for lon_deg, lat_deg in corners)
            lines.append(wrapped(f"The line would be: {places}", "     ", first="     "))
    return [*lines, ""]


def _effect(advice: Advice, result: CheckResult) -> str:
    if advice.whole:
        cleared = f" of {_zones(advice.clears, result)}" if advice.clears else ""
        return f"Enough alone: clears the line{cleared}, and nothing stays open."
    if advice.clears:
        return f"Not enough alone: clears the line of {_zones(advice.clears, result)}, not of the rest."
    about = f"For {_zones(advice.zone_ids, result)}" if advice.zone_ids else "For the whole line"
    return f"{about}; not enough alone." if advice.line is not None else f"{about}."


def _zones(zone_ids: tuple[str, ...], result: CheckResult) -> str:
    return ", ".join(zone_said(zone_id, result) for zone_id in zone_ids)


def corrected_lines(plan: LinePlan, result: CheckResult) -> list[str]:
    """Return the corrected line with its corners; nothing where there is none."""
    corrected = corrected_of(plan)
    if corrected is None:
        return []
    said = f"Corrected line '{plain(corrected.track_id)}', clear{_how(corrected, result)}:"
    times = corrected.timetable
    call = [event for event in times.events if event.kind is EventKind.HAUL_CALL]
    end = f", haul call {moment(call[0].utc, board_zone(result))}" if call else ""
    length = f"{times.length_m / NAUTICAL_MILE_M:.2f} nmi, {format_duration(times.seconds)} of towing"
    return [
        wrapped(said, "  "),
        *corner_lines(times),
        wrapped(f"{length}{end}.", "  ", first="  "),
        "  --export-line OUT.gpx writes it for the plotter.",
        "",
    ]


def _none(none: NoLine, result: CheckResult) -> Iterator[str]:
    """Yield why there is no corrected line; how wide the narrowest place is, its words tell."""
    said = [f"No corrected line: {none.words}"]
    if none.zone_ids:
        said.append(f"Zones: {_zones(none.zone_ids, result)}.")
    if none.lon_deg is not None and none.lat_deg is not None:
        what = "Narrowest at" if none.width_m is not None else "Place:"
        said.append(f"{what} {format_position(none.lon_deg, none.lat_deg)}.")
    yield wrapped(" ".join(said), "  ", first="  ")
