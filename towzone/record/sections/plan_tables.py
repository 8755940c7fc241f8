"""Tables of a planned line: its corners, its timetable, what it keeps clear of each zone by."""

from __future__ import annotations

from collections.abc import Iterator

from towzone.model.plan import CorrectedLine, LinePlan, PlanLeg, SeasonChange, Timetable, ZoneMargin
from towzone.model.result import CheckResult, Part
from towzone.plan.telling import rows_of, spare_of, spares_of_zone
from towzone.record.catalogue import markup, say
from towzone.record.clock import LocalClock
from towzone.record.sections.plain_table import plain_table, unbroken
from towzone.record.sections.plan_words import degrees, metres, spare_length, turn, zone_names
from towzone.record.text import escape, shown
from towzone.record.words import brief_length
from towzone.units import NAUTICAL_MILE_M, format_duration, format_length, format_position, format_time

__all__ = ["corners_part", "margins_part", "season_sentence", "timetable_part"]

_NONE = "–"
_MINUTE = 16
"""Characters of a time to the minute: 2026-03-01 06:10."""


def corners_part(corrected: CorrectedLine, letter: str) -> str:
    """Return the corners of a corrected line as a table, and as text that can be copied, as HTML."""
    heads = [say(f"plan.corrected.{head}") for head in ("corner", "position", "course", "length", "turn")]
    rows = list(_corners(corrected.timetable, letter))
    table = plain_table(say("plan.corrected.caption"), heads, rows)
    text = "\n".join(_as_text(corrected))
    label = escape(say("plan.corrected.copy"))
    return (
        f'{table}\n<label class="copy-corners"><span>{label}</span>'
        f'<textarea readonly rows="{len(rows)}" spellcheck="false">{escape(text)}</textarea></label>'
    )


def _corners(timetable: Timetable, letter: str) -> Iterator[tuple[str, ...]]:
    for leg in timetable.legs:
        yield (
            _number(leg.number, letter),
            unbroken(format_position(leg.lon0_deg, leg.lat0_deg)),
            degrees(leg.course_deg),
            unbroken(_miles(leg.length_m)),
            turn(leg.turn_deg),
        )
    if timetable.legs:
        last = timetable.legs[-1]
        place = unbroken(format_position(last.lon1_deg, last.lat1_deg))
        yield _number(last.number + 1, letter), place, _NONE, _NONE, _NONE


def _number(number: int, letter: str) -> str:
    return escape(say("chart.plan.corrected_corner", letter=letter, number=number))


def _as_text(corrected: CorrectedLine) -> Iterator[str]:
    """Yield one corner a line: its number and its position."""
    corners = zip(corrected.line.lon_deg.tolist(), corrected.line.lat_deg.tolist(), strict=True)
    for number, (lon_deg, lat_deg) in enumerate(corners, start=1):
        yield f"{number}  {format_position(lon_deg, lat_deg)}"


def timetable_part(times: Timetable, result: CheckResult, clock: LocalClock) -> tuple[str, str]:
    """Return a timetable in brief (our own words), and all of it as HTML."""
    parts = [_lengths(times)]
    if times.events:
        heads = [say(f"plan.times.{head}") for head in ("event", "when", "where")]
        rows = [
            (
                escape(say(f"plan.event.{event.kind}")),
                clock.html(event.utc),
                unbroken(format_position(event.lon_deg, event.lat_deg)),
            )
            for event in times.events
        ]
        parts.append(plain_table(say("plan.times.events"), heads, rows))
    names = ("leg", "begins", "course", "length", "speed", "turn", "rectangles", "zones")
    heads = [say(f"plan.times.{name}") for name in names]
    parts.append(plain_table(say("plan.times.legs"), heads, [_leg(leg, result, clock) for leg in times.legs]))
    parts += [f"<p>{season_sentence(change, result, clock)}</p>" for change in times.seasons]
    return _brief(times), "\n".join(parts)


def _brief(times: Timetable) -> str:
    """Return from when to when the gear is out, and how far it is towed."""
    ends = [times.legs[0].begin_utc, times.legs[-1].end_utc]
    if times.events:
        ends = [times.events[0].utc, times.events[-1].utc]
    begin, end = (format_time(instant)[:_MINUTE] for instant in ends)
    return say("plan.times.brief", begin=begin, end=f"{end} UTC", length=_miles(times.length_m))


def _lengths(times: Timetable) -> str:
    said = say(
        "plan.times.towing",
        length=_miles(times.length_m),
        time=format_duration(times.seconds),
        whole=format_duration(times.whole_seconds),
    )
    fuel = times.fuel
    if fuel is not None:
        rate = f"{fuel.litres_per_hour:g}"
        said += f" {say('plan.times.fuel', litres=f'{fuel.litres:.0f}', rate=rate)}"
    return f"<p>{escape(said)}</p>"


def _leg(leg: PlanLeg, result: CheckResult, clock: LocalClock) -> tuple[str, ...]:
    rectangles = " ".join(leg.rectangles)
    return (
        str(leg.number),
        clock.html(leg.begin_utc),
        degrees(leg.course_deg),
        unbroken(_miles(leg.length_m)),
        unbroken(f"{leg.speed_kn:.1f} kn"),
        turn(leg.turn_deg),
        shown(rectangles) if rectangles else escape(say("plan.times.no_rectangles")),
        zone_names(leg.zones, result) if leg.zones else escape(say("plan.times.no_zones")),
    )


def season_sentence(change: SeasonChange, result: CheckResult, clock: LocalClock) -> str:
    """Return when the rule of a zone begins or ends, as HTML."""
    zone, when = zone_names([change.zone_id], result), clock.html(change.at_utc)
    return markup(f"plan.times.season_{'begins' if change.begins else 'ends'}", zone=zone, when=when)


def _miles(length_m: float) -> str:
    return f"{length_m / NAUTICAL_MILE_M:.2f} nmi"


def margins_part(plan: LinePlan, result: CheckResult) -> str:
    """Return what a line keeps clear of each zone by, as HTML."""
    names = ("zone", "margin", "vessel", "gear", "likely", "current", "spare", "leg")
    heads = [say(f"plan.margins.{name}") for name in names]
    rows = [_margin(margin, plan.track_id, result) for margin in plan.margins]
    table = plain_table(say("plan.margins.caption"), heads, rows)
    errors = [row.uncertainty_m for row in rows_of(result, plan.track_id) if row.part is Part.VESSEL]
    if not errors:
        return table
    note = say("plan.margins.errors", length=format_length(max(errors)))
    return f'{table}\n<p class="note">{escape(note)}</p>'


def _margin(margin: ZoneMargin, track_id: str, result: CheckResult) -> tuple[str, ...]:
    return (
        zone_names([margin.zone_id], result),
        metres(margin.margin_m),
        _clearance(margin.vessel_m),
        _clearance(margin.gear_m),
        _likely(margin.likely_m),
        _current(margin),
        _spare(margin, track_id, result),
        _NONE if margin.leg is None else str(margin.leg),
    )


def _clearance(length_m: float | None) -> str:
    return _NONE if length_m is None else metres(length_m)


def _likely(length_m: float | None) -> str:
    """Return the clearance of the likely corridor; how deep it enters is not computed."""
    reached = length_m is not None and length_m <= 0.0
    return escape(say("plan.spare.reached")) if reached else _clearance(length_m)


def _current(margin: ZoneMargin) -> str:
    if margin.set_m is None or margin.set_deg is None:
        return _clearance(margin.set_m)
    sign = "-" if margin.set_m < 0.0 else ""
    length = f"{sign}{brief_length(abs(margin.set_m))}"
    return escape(say("plan.margins.current_to", length=length, degrees=f"{margin.set_deg:03.0f}"))


def _spare(margin: ZoneMargin, track_id: str, result: CheckResult) -> str:
    spare = spare_of(result, track_id, margin)
    if spare is not None:
        return f"<strong>{spare_length(spare)}</strong>"
    return escape(say("plan.margins.no_rule")) if any(spares_of_zone(margin)) else _NONE
