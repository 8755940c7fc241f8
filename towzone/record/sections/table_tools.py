"""The choices above the table of rows, and the buttons that copy and save it; all of it needs the script."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from towzone.model.result import FINDINGS, CheckResult, Status
from towzone.record.catalogue import say
from towzone.record.text import escape, short
from towzone.record.words import STATUS

__all__ = ["MATTERS", "file_tools", "row_tools"]

MATTERS = FINDINGS | {Status.UNDETERMINED}
"""What the choice of findings and of what is not decided shows."""

_NAME_LENGTH = 60
"""Characters of a name in a list to choose from. Own choice."""

_ORDERS = ("number", "zone", "tow", "clearance", "time")


def row_tools(result: CheckResult, tows: Sequence[tuple[str, int | None]]) -> str:
    """Return the choices of rows as HTML; none for a single row.

    Parameters
    ----------
    result : CheckResult
        With at least one row.
    tows : sequence of (track, tow)
        Those that have rows, in order.
    """
    if len(result.rows) < 2:
        return ""
    choices = [
        _choice("result", say("table.choice.every_result"), _results(result)),
        _choice("zone", say("table.choice.every_zone"), _zones(result)),
    ]
    if len(tows) > 1:
        choices.append(_choice("tow", say("table.choice.every_tow"), _tows(tows)))
    choices.append(_choice("order", None, [(order, say(f"table.order.{order}")) for order in _ORDERS]))
    return (
        f'<div class="row-tools needs-script" role="group" aria-label="{escape(say("table.tools"))}">\n'
        + "\n".join(choices)
        + f'\n<button type="button" id="rows-reset" hidden>{escape(say("table.choice.reset"))}</button>\n'
        '<p id="rows-count" role="status"></p></div>'
    )


def file_tools() -> str:
    """Return the buttons that copy and save the rows and the whole result, as HTML."""
    buttons = "\n".join(
        f'<button type="button" id="{name.replace("_", "-")}">{escape(say(f"table.file.{name}"))}</button>'
        for name in ("copy_csv", "save_csv", "save_json")
    )
    return (
        f'<div class="file-tools needs-script" role="group" aria-label="{escape(say("table.files"))}">\n'
        f'{buttons}\n<p id="file-said" role="status"></p>\n'
        f'<p id="by-hand" hidden><label for="by-hand-text">{escape(say("table.file.by_hand"))}</label>\n'
        '<textarea id="by-hand-text" rows="6" readonly spellcheck="false"></textarea></p>\n'
        f'<details id="show-json"><summary>{escape(say("table.file.show_json"))}</summary>\n'
        f'<pre id="json-text" tabindex="0" role="region" aria-label="{escape(say("table.file.json"))}"></pre>'
        "</details></div>"
    )


def _choice(name: str, every: str | None, options: Iterable[tuple[str, str]]) -> str:
    """Return a labelled list to choose from; the browser is not to restore an old choice unasked."""
    first = "" if every is None else f'<option value="">{escape(every)}</option>'
    rest = "".join(f'<option value="{value}">{escape(words)}</option>' for value, words in options)
    return (
        f'<span class="choice choice-{name}"><label for="rows-{name}">{escape(say(f"table.choice.{name}"))}'
        f'</label> <select id="rows-{name}" autocomplete="off">{first}{rest}</select></span>'
    )


def _results(result: CheckResult) -> Iterable[tuple[str, str]]:
    counts = Counter(row.status for row in result.rows)
    matter = sum(counts[status] for status in MATTERS)
    if 0 < matter < len(result.rows):
        yield " ".join(sorted(MATTERS)), say("table.choice.matters", count=matter)
    for status in Status:
        if counts[status]:
            yield status, say("table.choice.result_count", word=STATUS[status], count=counts[status])


def _zones(result: CheckResult) -> Iterable[tuple[str, str]]:
    there = {row.zone_id for row in result.rows}
    names = {zone.zone_id: short(zone.name, _NAME_LENGTH) for zone in result.zones}
    often = Counter(names.values())
    for index, zone in enumerate(result.zones):
        if zone.zone_id in there:
            name, zone_id = names[zone.zone_id], short(zone.zone_id, _NAME_LENGTH)
            same = often[name] > 1
            yield str(index), say("table.choice.zone_of_name", name=name, zone_id=zone_id) if same else name


def _tows(tows: Sequence[tuple[str, int | None]]) -> Iterable[tuple[str, str]]:
    several = len({track_id for track_id, _ in tows}) > 1
    for index, (track_id, tow) in enumerate(tows):
        words = say("table.choice.outside_tows") if tow is None else say("table.choice.tow_number", tow=tow)
        track = short(track_id, _NAME_LENGTH)
        yield str(index), say("table.choice.of_track", track=track, tow=words) if several else words
