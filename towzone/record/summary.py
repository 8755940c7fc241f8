"""The first screen: the answer, the worst of it, what is not known, and the caution."""

from __future__ import annotations

from towzone.caution import CAUTION
from towzone.model.result import FINDINGS, Activity, CheckResult, Outcome, Part, Row, Status
from towzone.model.zone import Zone
from towzone.record.plain_table import unbroken
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.words import KIND, PROHIBITED, STATUS, TRACK, count_of, pairs_of
from towzone.units import format_length, format_position, format_time

__all__ = ["outcome_sentence", "summary"]

_MOST_UNDECIDED = 3

_WHOSE = {
    Activity.TOWING: "towing",
    Activity.NOT_TOWING: "outside tows",
    Activity.UNKNOWN: "maybe towing",
}


def outcome_sentence(result: CheckResult) -> str:
    """Return the whole answer in one plain sentence, with counts; our own words only."""
    counts = result.counts
    total = sum(counts.values())
    pairs = pairs_of(total, result.rows)
    if total == 0 and not result.moves:
        return "Nothing was checked: no track met any zone."
    if result.outcome is Outcome.CLEAR or not result.moves:
        return _pairs_sentence(result, pairs, _rest(result), total) + _moves_sentence(result)
    # Whatever the zones say, what is wrong with a shot stands first.
    worst = min((move.status for move in result.moves), key=list(Status).index)
    counts = result.counts
    if worst is Status.CLEAR or any(counts[s] for s in list(Status)[: list(Status).index(worst) + 1]):
        return _pairs_sentence(result, pairs, _rest(result), total) + _moves_sentence(result)
    zones = f" Zones: {_pairs_sentence(result, pairs, _rest(result), total)}" if total else ""
    return f"{_moves_sentence(result).strip()}{zones}"


def _rest(result: CheckResult) -> list[str]:
    counts = result.counts
    return [
        f"{counts[status]} {STATUS[status].lower()}"
        for status in (Status.UNDETERMINED, Status.TRANSIT, Status.NOT_IN_FORCE, Status.CLEAR)
        if counts[status]
    ]


def _moves_sentence(result: CheckResult) -> str:
    """Return what the move-on rule says, with a blank before it; empty where none was asked for."""
    if not result.moves:
        return ""
    statuses = [move.status for move in result.moves]
    counts = ", ".join(f"{statuses.count(s)} {STATUS[s].lower()}" for s in Status if s in statuses)
    return f" Shots after tow {result.moves[0].from_tow}, by the move-on rule: {counts}."


def _pairs_sentence(result: CheckResult, pairs: str, rest: list[str], total: int) -> str:
    counts = result.counts
    found = sum(counts[status] for status in FINDINGS)
    if found:
        which = [f"{counts[s]} {STATUS[s].lower()}" for s in (Status.INSIDE, Status.TOO_CLOSE) if counts[s]]
        others = f" The others: {', '.join(rest)}." if rest else ""
        return f"{count_of(found, 'finding', 'findings')} in {pairs}: {' and '.join(which)}.{others}"
    if counts[Status.UNDETERMINED]:
        return f"No finding, but not all was proved clear: of {pairs} {', '.join(rest)}."
    if counts[Status.CLEAR] == total:
        are = "is" if total == 1 else "are all"
        if result.gear_unchecked:
            return "Nothing found for the vessel, under the assumptions below; its gear was not checked."
        if result.clear_by_model:
            by_model = "the gear by the model of its path"
            return f"Nothing found: {pairs} {are} clear, under the assumptions below; {by_model}."
        return f"Nothing found: {pairs} {are} proved clear, under the assumptions below."
    return f"Nothing found: of {pairs} {', '.join(rest)}, under the assumptions below."


def summary(result: CheckResult) -> str:
    """Return the head of the page, from the title to the caution, as HTML."""
    zones = {zone.zone_id: zone for zone in result.zones}
    tracks = "; ".join(f"{TRACK[track.kind]} {shown(track.track_id, 80)}" for track in result.tracks[:4])
    if len(result.tracks) > 4:
        tracks += f"; and {count_of(len(result.tracks) - 4, 'more track', 'more tracks')}"
    return (
        '<header class="top"><div><h1>Clearance record</h1>'
        f'<p class="of">{tracks}</p></div>\n'
        '<p class="mode needs-script"><label for="mode">Display</label> <select id="mode">'
        '<option value="auto">As the device</option><option value="day">Day</option>'
        '<option value="night">Night</option></select></p></header>\n'
        f'<main>\n<section class="answer o-{result.outcome}" aria-label="Outcome">\n'
        f'<p class="outcome" id="outcome">{escape(outcome_sentence(result))}</p>\n'
        f"{_worst(result, zones)}</section>\n"
        f"{_unproved(result, zones)}"
        f'<p class="caution"><strong>Caution.</strong> {escape(CAUTION)}</p>\n'
    )


def _worst(result: CheckResult, zones: dict[str, Zone]) -> str:
    if not result.rows or result.rows[0].status not in FINDINGS:
        found = [move for move in result.moves if move.status in FINDINGS]
        words = shown(found[0].explain, SENTENCE) if found else ""
        return f'<p class="worst" id="worst"><strong>Worst:</strong> {words}</p>\n' if found else ""
    row = result.rows[0]
    return f'<p class="worst" id="worst"><strong>Worst:</strong> {_finding(row, zones[row.zone_id])}</p>\n'


def _finding(row: Row, zone: Zone) -> str:
    who = "the track" if row.tow is None else f"tow {row.tow}"
    if row.part is Part.GEAR:
        who = f"the gear of {who}{_part(row)}"
    what = f"{KIND[zone.kind].lower()} {shown(zone.name)}"
    if row.clearance_m is None:
        said = f"{who} and {what}: {STATUS[row.status].lower()}, distance not known"
    elif row.clearance_m < 0.0:
        said = f"{who} of {shown(row.track_id, 80)}, <b>{format_length(-row.clearance_m)} inside</b> {what}"
    else:
        said = (
            f"{who} of {shown(row.track_id, 80)}, <b>{format_length(row.clearance_m)} from</b> {what}, "
            f"where {format_length(row.margin_m)} are required"
        )
    if row.closest is not None:
        place = unbroken(format_position(row.closest.lon_deg, row.closest.lat_deg))
        said += f", at {place}, {unbroken(format_time(row.closest.utc))}"
    rule = ", ".join(PROHIBITED[prohibited] for prohibited in zone.prohibits)
    source = shown(zone.source) if zone.source else "no source stated"
    return f'{said}. <span class="rule">Rule: no {rule}; {source}.</span>'


def _part(row: Row) -> str:
    return f" ({shown(row.gear.nearest_part, 80)})" if row.gear and row.gear.nearest_part else ""


def _open_of_trip(result: CheckResult) -> str:
    """Return what is open of tows and shots, with a blank before it."""
    shots = sum(move.status is Status.UNDETERMINED for move in result.moves)
    differ = sum(len(some) for some in result.log_disagreements.values())
    tows = result.gear.tows if result.gear is not None else ()
    unknown = sum(bool(tow.why_not) for tow in tows)
    parts = [
        f"The gear of {count_of(unknown, 'tow was', 'tows were')} not computed; see Gear." if unknown else "",
        f"{count_of(len(result.doubts), 'stretch', 'stretches')} of which towing cannot be told; see Tows."
        if result.doubts
        else "",
        f"{count_of(shots, 'later shot', 'later shots')} not decided; see Move-on rule." if shots else "",
        f"The haul log and the track disagree {count_of(differ, 'time', 'times')}; see Tows."
        if differ
        else "",
    ]
    return "".join(f" {part}" for part in parts if part)


def _unproved(result: CheckResult, zones: dict[str, Zone]) -> str:
    undecided = [row for row in result.rows if row.status is Status.UNDETERMINED]
    gaps = sum(len(gaps) for gaps in result.gaps.values())
    covered = f" The positions leave {count_of(gaps, 'gap', 'gaps')}; see Gaps." if gaps else ""
    covered += _open_of_trip(result)
    if result.gear_unchecked:
        covered += " Only the vessel was checked, not the gear far astern of it."
    if result.clear_by_model:
        rows = count_of(result.clear_by_model, "row is", "rows are")
        covered += f" Of the gear {rows} clear by the model of its path alone, not by the length of its rope."
    if not undecided:
        proved = (
            "Every pair of track and zone was decided."
            if sum(result.counts.values())
            else "No pair was there."
        )
        return f'<section class="unproved"><h2>Not proved</h2><p>{proved}{covered}</p></section>\n'
    items = "".join(
        f"<li><strong>{shown(zones[row.zone_id].name, 80)}</strong>, "
        f"{_WHOSE[row.activity] if row.tow is None else f'tow {row.tow}'}"
        f"{', gear' if row.part is Part.GEAR else ''}: "
        f"{shown(row.explain, SENTENCE)}</li>"
        for row in undecided[:_MOST_UNDECIDED]
    )
    left = len(undecided) - _MOST_UNDECIDED
    more = f"<p>And {left} more, in the table.</p>" if left > 0 else ""
    pairs = count_of(len(undecided), "pair could", "pairs could")
    return (
        f'<section class="unproved"><h2>Not proved</h2><p>{pairs} neither be proved clear nor be shown '
        f"to be a finding.{covered}</p><ul>{items}</ul>{more}</section>\n"
    )
