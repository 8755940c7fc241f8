"""The zones of a check as a table: rule, edges, margin and who says so."""

from __future__ import annotations

from towzone.model.result import CheckResult
from towzone.model.rule_words import rule_words
from towzone.model.zone import Zone
from towzone.record.catalogue import markup, say
from towzone.record.sections.plain_table import plain_table, unbroken
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.words import EDGES, KIND, PROHIBITED
from towzone.units import format_length

__all__ = ["zone_table"]

_HEADS = ("zone", "id", "kind", "rule", "edges", "margin", "source")


def zone_table(result: CheckResult) -> str:
    """Return the table as HTML."""
    heads = [say(f"evidence.zones.{head}") for head in _HEADS]
    return plain_table(say("evidence.zones.caption"), heads, [_zone(zone, result) for zone in result.zones])


def _zone(zone: Zone, result: CheckResult) -> tuple[str, ...]:
    kind, edges = KIND[zone.kind], EDGES[zone.edges]
    if not result.in_force[zone.zone_id]:
        kind = say("evidence.zones.not_in_force", kind=kind)
    if not zone.edges_stated:
        edges = say("evidence.zones.not_stated", edges=edges)
    rule = ", ".join(say("evidence.zones.no", what=PROHIBITED[prohibited]) for prohibited in zone.prohibits)
    return (
        f"<strong>{shown(zone.name)}</strong>",
        shown(zone.zone_id, 80),
        escape(kind),
        escape(rule),
        escape(edges),
        _distances(zone, result.margins_m[zone.zone_id]),
        _source(zone),
    )


def _distances(zone: Zone, margin_m: float) -> str:
    margin = unbroken(format_length(margin_m))
    if not zone.radius_m:
        return margin
    radius = markup("evidence.zones.radius", length=unbroken(format_length(zone.radius_m)))
    return f'{margin} <span class="second">{radius}</span>'


def _source(zone: Zone) -> str:
    parts = [shown(zone.source) if zone.source else escape(say("evidence.zones.no_source"))]
    if zone.issued:
        parts.append(markup("evidence.zones.issued", date=shown(zone.issued, 80)))
    parts.append(markup("evidence.zones.feature", file=shown(zone.file), number=str(zone.feature)))
    if zone.datum_note:
        accuracy = unbroken(f"{zone.datum_accuracy_m:.1f} m")
        parts.append(markup("evidence.zones.accuracy", note=shown(zone.datum_note), length=accuracy))
    if zone.note:
        parts.append(shown(zone.note))
    conditions = rule_words(zone.rules)
    if conditions:
        word = escape(say("evidence.zones.conditions"))
        parts.append(f"<strong>{word}</strong> {shown('; '.join(conditions), SENTENCE)}")
    return parts[0] + "".join(f' <span class="second">{part}</span>' for part in parts[1:])
