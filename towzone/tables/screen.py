"""A result as text for one screen: the outcome first, then the rows, worst first."""

from __future__ import annotations

import math

import numpy as np

from towzone.caution import CAUTION
from towzone.model.result import FINDINGS, CheckResult, Doubt, Gap, Outcome, Status
from towzone.model.track import LeftOut, TrackKind
from towzone.tables.cells import plain
from towzone.tables.gear_words import gear_lines
from towzone.tables.row_lines import STATUS_WORDS, row_block, row_line, wrapped
from towzone.units import NAUTICAL_MILE_M, format_duration, format_length, format_position, format_time
from towzone.words import counted

__all__ = ["to_text", "track_lines", "trip_lines"]

_GEAR_UNCHECKED = "Only the vessel was checked, not the gear far astern of it."

_CLEAR_SHOWN = 5


def to_text(result: CheckResult, *, verbose: bool = False) -> str:
    """Return the result for people; names from files are shown without control characters."""
    if result.plan is not None:
        from towzone.tables.plan_screen import plan_text

        return plan_text(result, result.plan, verbose=verbose)
    lines = [_headline(result), _counts(result), *_about_gear(result), ""]
    open_rows = [row for row in result.rows if row.status is not Status.CLEAR]
    clear_rows = [row for row in result.rows if row.status is Status.CLEAR]
    for number, row in enumerate(open_rows, start=1):
        lines += [*row_block(number, row, result), ""]
    shown = clear_rows if verbose else clear_rows[:_CLEAR_SHOWN]
    lines += [row_line(row, result) for row in shown]
    hidden = len(clear_rows) - len(shown)
    if hidden:
        lines.append(f"... and {hidden} more clear rows (-v lists them)")
    if result.beyond_reach:
        reach = float(str(result.settings["reach_m"])) / NAUTICAL_MILE_M
        lines.append(f"clear  {counted(result.beyond_reach, 'pair')} farther apart than {reach:.3f} nmi")
    lines += ["", *_tows(result), *gear_lines(result, verbose=verbose), *trip_lines(result)]
    lines += [*track_lines(result, verbose=verbose), "", "Assumed:"]
    lines += [wrapped(f"- {assumption}", "  ") for assumption in result.assumptions]
    lines += ["", wrapped(CAUTION, "")]
    return "\n".join(lines) + "\n"


def _headline(result: CheckResult) -> str:
    statuses = [row.status for row in result.rows] + [move.status for move in result.moves]
    findings = [status for status in statuses if status in FINDINGS]
    if result.outcome is Outcome.FINDING:
        return f"FINDING: {counted(len(findings), 'finding')} in {_checked(result)}."
    if result.outcome is Outcome.UNDETERMINED:
        return f"UNDETERMINED: nothing found, but not all of it is proved clear, in {_checked(result)}."
    permitted = result.counts[Status.TRANSIT] + result.counts[Status.NOT_IN_FORCE]
    if permitted:
        allowed = f"{counted(permitted, 'pair')} inside or close where no rule forbade it"
        return f"CLEAR: no finding, {allowed}, in {_checked(result)}."
    if result.gear_unchecked:
        return (
            "CLEAR: the vessel is proved clear under the assumptions below, its gear was not checked, in "
            f"{_checked(result)}."
        )
    if result.clear_by_model:
        return f"CLEAR: by the model of the gear and the assumptions below, in {_checked(result)}."
    return f"CLEAR: proved clear under the assumptions below, in {_checked(result)}."


def _about_gear(result: CheckResult) -> list[str]:
    """Say what the answer does not rest on, so that nobody takes it for more."""
    if result.gear_unchecked:
        return [wrapped(f"{_GEAR_UNCHECKED} Write its figures into a vessel profile (towzone vessel).", "")]
    if result.clear_by_model:
        rows = counted(result.clear_by_model, "row is", "rows are")
        return [f"Of the gear {rows} clear by the model of its path alone, not by the length of its rope."]
    return []


def _checked(result: CheckResult) -> str:
    return f"{counted(len(result.tracks), 'track')} against {counted(len(result.zones), 'zone')}"


def _counts(result: CheckResult) -> str:
    line = ", ".join(f"{count} {STATUS_WORDS[status]}" for status, count in result.counts.items())
    if not result.moves:
        return line
    statuses = [move.status for move in result.moves]
    shots = ", ".join(f"{statuses.count(s)} {STATUS_WORDS[s]}" for s in Status if s in statuses)
    return f"{line}\nLater shots, by the move-on rule: {shots}"


def _tows(result: CheckResult) -> list[str]:
    lines = []
    # A planned route is one tow, and its track says all there is to say of it.
    completed = {track.track_id for track in result.tracks if track.kind is TrackKind.COMPLETED}
    for tow in (tow for tow in result.tows if tow.track_id in completed):
        speed = f", {tow.mean_speed_kn:.1f} kn" if tow.mean_speed_kn is not None else ""
        whose = f" of {plain(tow.track_id)}" if len(result.tracks) > 1 else ""
        lines.append(
            f"Tow {tow.number}{whose} ({tow.basis}): {format_time(tow.shoot_utc)} to"
            f" {format_time(tow.haul_utc)}, {tow.length_m / NAUTICAL_MILE_M:.1f} nmi{speed}."
        )
    return [*lines, ""] if lines else []


def trip_lines(result: CheckResult) -> list[str]:
    """Return what is open of a trip's tows, and what the haul log and the move-on rule say of them."""
    doubts = [_doubt(doubt, result) for doubt in result.doubts]
    log = [
        wrapped(f"- {_whose(track_id, result)}{item.explain}", "  ")
        for track_id, some in result.log_disagreements.items()
        for item in some
    ]
    moves = [wrapped(f"- {_MOVE_WORDS[move.status]}: {move.explain}", "  ") for move in result.moves]
    lines = ["Whether it was towing cannot be told:", *doubts, ""] if doubts else []
    lines += ["The haul log and the track disagree:", *log, ""] if log else []
    if result.moves:
        required, number = format_length(result.moves[0].required_m), result.moves[0].from_tow
        lines += [f"At least {required} from every position of tow {number}:", *moves, ""]
    return lines


def _whose(track_id: str, result: CheckResult) -> str:
    return f"{plain(track_id)}: " if len(result.tracks) > 1 else ""


def _doubt(doubt: Doubt, result: CheckResult) -> str:
    whose = f"- {_whose(doubt.track_id, result)}"
    if doubt.seconds is None:
        return f"{whose}{doubt.last - doubt.first + 1} fixes without times"
    span = f"{format_time(doubt.from_utc)} to {format_time(doubt.to_utc)}"
    return f"{whose}{span} ({format_duration(doubt.seconds)})"


_MOVE_WORDS = {
    Status.TOO_CLOSE: "TOO CLOSE",
    Status.UNDETERMINED: "UNDETERMINED",
    Status.CLEAR: "clear",
}


def track_lines(result: CheckResult, *, verbose: bool) -> list[str]:
    """Return a line for each track; with ``verbose`` also every fix left out and every gap."""
    lines = []
    for track in result.tracks:
        gaps = result.gaps[track.track_id]
        length = result.lengths_m[track.track_id] / NAUTICAL_MILE_M
        line = (
            f"Track {plain(track.track_id)} ({track.kind.value}): {counted(len(track), 'fix', 'fixes')} used,"
            f" {length:.1f} nmi"
        )
        counts = ", ".join(f"{d.count} {d.reason.replace('_', ' ')}" for d in track.dropped)
        line += f", {counted(len(gaps), 'gap')}." + (f" Left out: {counts}." if counts else "")
        lines.append(wrapped(line, "  "))
        if verbose:
            lines += [_left_out(some, *run) for some in track.left_out for run in some.runs()]
            lines += [_gap(gap) for gap in gaps]
    return lines


def _left_out(some: LeftOut, first: int, last: int) -> str:
    line = f" line {some.line[first]}" if some.line[first] else ""
    time = format_time(some.time_utc[first])
    if last > first:
        line += f" to {some.line[last]} ({counted(last - first + 1, 'fix', 'fixes')})"
        time += f" to {format_time(some.time_utc[last])}" if not np.isnat(some.time_utc[last]) else ""
    lon, lat = float(some.lon_deg[first]), float(some.lat_deg[first])
    where = format_position(lon, lat) if math.isfinite(lon) and math.isfinite(lat) else "no position"
    return f"  left out: {plain(some.file)}{line}, {time}, {where}: {some.reason.replace('_', ' ')}"


def _gap(gap: Gap) -> str:
    line = f"  gap from {format_time(gap.from_utc)} to {format_time(gap.to_utc)}"
    for reach in gap.could_reach:
        tow = "tow possible" if reach.tow_fits else "no tow possible"
        line += (
            f"\n    could have reached {plain(reach.zone_id)} at {reach.least_speed_kn:.1f} kn or more,"
            f" for {format_duration(reach.longest_inside_s)} at most, {tow}"
        )
    return line
