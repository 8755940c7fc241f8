"""What the check does not prove: open rows, gaps, gear that was not checked, logs that disagree."""

from __future__ import annotations

from towzone.model.result import Activity, CheckResult, Part, Row, Status
from towzone.record.catalogue import markup, markup_count, say, say_count
from towzone.record.sections.told import Teller
from towzone.record.text import SENTENCE, escape, shown

__all__ = ["unproved"]

_MOST = 3

_WHOSE = {Activity.TOWING: "towing", Activity.NOT_TOWING: "not_towing", Activity.UNKNOWN: "unknown"}


def unproved(result: CheckResult, tell: Teller) -> str:
    """Return the section as HTML."""
    some = [(i, row) for i, row in enumerate(result.rows, start=1) if row.status is Status.UNDETERMINED]
    said = " ".join([_decided(result, len(some)), *_open(result)])
    return (
        f'<section class="unproved" id="unproved"><h2>{escape(say("page.unproved.title"))}</h2>'
        f"<p>{escape(said)}</p>{_why(some, tell)}</section>"
    )


def _decided(result: CheckResult, undecided: int) -> str:
    if undecided:
        return say_count("page.unproved.open", undecided)
    return say(f"page.unproved.{'all_decided' if sum(result.counts.values()) else 'no_pair'}")


def _open(result: CheckResult) -> list[str]:
    """Return what is open of the positions, the tows, the shots and the gear."""
    tows = result.gear.tows if result.gear is not None else ()
    counts = {
        "gaps": sum(len(gaps) for gaps in result.gaps.values()),
        "gear_not_computed": sum(bool(tow.why_not) for tow in tows),
        "doubts": len(result.doubts),
        "shots": sum(move.status is Status.UNDETERMINED for move in result.moves),
        "log": sum(len(some) for some in result.log_disagreements.values()),
        "by_model": result.clear_by_model,
    }
    said = [say_count(f"page.unproved.{key}", count) for key, count in counts.items() if count]
    return [*said, say("page.unproved.gear_unchecked")] if result.gear_unchecked else said


def _why(some: list[tuple[int, Row]], tell: Teller) -> str:
    if not some:
        return ""
    items = "".join(
        f"<li>{tell.button(number, row)} <strong>{tell.zone(row)}</strong>, {_whose(row)}: "
        f"{shown(row.explain, SENTENCE)}</li>"
        for number, row in some[:_MOST]
    )
    left = len(some) - _MOST
    more = f"<p>{markup_count('page.unproved.more', left)}</p>" if left > 0 else ""
    title = escape(say("page.unproved.why"))
    utc = f'<p class="note">{escape(say("page.unproved.utc"))}</p>'
    return f"<details><summary>{title}</summary><ul>{items}</ul>{more}{utc}</details>"


def _whose(row: Row) -> str:
    tow = row.tow
    who = say(f"page.unproved.{_WHOSE[row.activity]}") if tow is None else say("page.unproved.tow", tow=tow)
    return markup("page.unproved.gear", who=escape(who)) if row.part is Part.GEAR else escape(who)
