"""The part a reader goes through to check the record: inputs, rules, assumptions, methods, versions."""

from __future__ import annotations

import importlib.metadata
import json
from collections.abc import Mapping, Sequence

import numpy as np
import pyproj
import shapely

from towzone.model.result import CheckResult, InputFile
from towzone.model.rule_words import rule_words
from towzone.model.zone import Zone
from towzone.record.coast import Coast
from towzone.record.gear_part import gear_part
from towzone.record.leaflet import Leaflet
from towzone.record.plain_table import none, plain_table, unbroken
from towzone.record.scene import Scene
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.thin import GEAR_TOLERANCE_M, THIN_TOLERANCE_M
from towzone.record.trip import gaps_table, left_out_table, moves_table, tows_part, tracks_table
from towzone.record.words import EDGES, KIND, PROHIBITED
from towzone.units import NAUTICAL_MILE_M, format_length

__all__ = ["coast_note", "evidence"]


def coast_note(coast: Coast | None) -> str:
    """Return what the reader must know of the coast on the chart; our own words only."""
    if coast is None:
        return "No coast is drawn: no coast data were installed."
    return f"Coast for orientation only, not for navigation and not used in any check: {coast.credit}."


def evidence(result: CheckResult, scene: Scene, leaflet: Leaflet, coast: Coast | None) -> str:
    """Return everything below the table of rows, as HTML."""
    sections = (
        _section("Tracks", tracks_table(result)),
        _section("Fixes left out", left_out_table(result)),
        _section("Tows", tows_part(result)),
        *([_section("Move-on rule", moves_table(result))] if result.moves else []),
        *([_section("Gear", gear_part(result, result.gear))] if result.gear is not None else []),
        _section("Gaps", gaps_table(result)),
        _section("Zones", _zones(result)),
        _section("Assumptions", _list(result.assumptions)),
        _section("Warnings", _warnings(result)),
        _section("Inputs", _inputs(result)),
        _section("Settings and methods", _pairs({**result.settings, **result.methods})),
        _section("What the chart shows", _drawn(scene, coast)),
        _section("Versions", _versions(result, leaflet, coast)),
        _section("How to print or keep this record", _printing()),
    )
    return "\n".join(sections)


def _section(title: str, content: str) -> str:
    return f"<section><h2>{title}</h2>\n{content}\n</section>"


def _list(texts: Sequence[str]) -> str:
    if not texts:
        return none("None.")
    return "<ul>" + "".join(f"<li>{shown(text, SENTENCE)}</li>" for text in texts) + "</ul>"


def _zones(result: CheckResult) -> str:
    rows = [
        (
            f"<strong>{shown(zone.name)}</strong>",
            shown(zone.zone_id, 80),
            KIND[zone.kind] + ("" if result.in_force[zone.zone_id] else ", not in force"),
            "no " + ", no ".join(PROHIBITED[prohibited] for prohibited in zone.prohibits),
            EDGES[zone.edges] + ("" if zone.edges_stated else " (not stated in the file)"),
            _distances(zone, result.margins_m[zone.zone_id]),
            _source(zone),
        )
        for zone in result.zones
    ]
    headings = ("Zone", "Id", "Kind", "Rule", "Edges", "Margin", "Source")
    return plain_table("Every zone checked.", headings, rows)


def _distances(zone: Zone, margin_m: float) -> str:
    radius = (
        f'<span class="second">all within {unbroken(format_length(zone.radius_m))}</span>'
        if zone.radius_m
        else ""
    )
    return f"{unbroken(format_length(margin_m))} {radius}"


def _source(zone: Zone) -> str:
    parts = [shown(zone.source) if zone.source else "no source stated"]
    if zone.issued:
        parts.append(f"issued {shown(zone.issued, 80)}")
    parts.append(f"{shown(zone.file)}, feature {zone.feature}")
    if zone.datum_note:
        parts.append(f"{shown(zone.datum_note)} (accuracy {zone.datum_accuracy_m:.1f} m)")
    if zone.note:
        parts.append(shown(zone.note))
    conditions = rule_words(zone.rules)
    if conditions:
        parts.append(f"<strong>Rule:</strong> {shown('; '.join(conditions), SENTENCE)}")
    return parts[0] + "".join(f' <span class="second">{part}</span>' for part in parts[1:])


def _warnings(result: CheckResult) -> str:
    if not result.warnings:
        return none("None.")
    rows = [
        (shown(remark.file) if remark.file else "–", shown(remark.where), shown(remark.message, SENTENCE))
        for remark in result.warnings
    ]
    return plain_table("What a person should look at.", ("File", "Where", "What"), rows)


def _inputs(result: CheckResult) -> str:
    if not result.inputs:
        return none("None stated.")
    rows = [
        (shown(entry.file), f"<code>{shown(entry.sha256, 80)}</code>", f"{entry.bytes}", _contents(entry))
        for entry in result.inputs
    ]
    return plain_table("Files as they were read.", ("File", "SHA-256", "Bytes", "Contents"), rows)


def _contents(entry: InputFile) -> str:
    counted = ", ".join(
        f"{count} {shown(word, 80).replace('_', ' ')}" for word, count in entry.tally.items() if count
    )
    return ": ".join(part for part in (shown(entry.form, 80), counted) if part) or "–"


def _pairs(values: Mapping[str, object]) -> str:
    if not values:
        return none("None stated.")
    rows = [
        (f"<code>{shown(name, 80)}</code>", shown(_plain(values[name]), SENTENCE)) for name in sorted(values)
    ]
    return plain_table("As used in this check.", ("Name", "Value"), rows)


def _plain(value: object) -> str:
    if isinstance(value, str):
        return value
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False)


def _drawn(scene: Scene, coast: Coast | None) -> str:
    lines = [
        "Zones are drawn by their own edge rule, true to 1 m. The dashed outlines at a distance "
        "(margin, radius) are drawn approximately; the findings use exact distances.",
        "The chart is a Mercator chart on WGS 84: north is up and the scale changes with latitude.",
        escape(coast_note(coast)),
    ]
    if scene.fixes_drawn < scene.fixes_used:
        lines.append(
            f"{scene.fixes_drawn} of {scene.fixes_used} fixes are drawn. Fixes farther from every zone than "
            f"its margin and than {0.5 * NAUTICAL_MILE_M:.0f} m were left out where the drawn line stays "
            f"within {THIN_TOLERANCE_M:.0f} m of them; the check used them all."
        )
    else:
        lines.append(f"All {scene.fixes_used} fixes are drawn.")
    if scene.gear:
        lines.append(
            "The gear is drawn where it was computed to be: shaded what it swept between the doors or under "
            "the beams, dashed the way of the net. The outline around it allows for the spread of its "
            f"figures. All of it is drawn within {GEAR_TOLERANCE_M} m of what was computed."
        )
    if scene.off_chart:
        lines.append(
            f"{scene.off_chart} of the zones lie outside the chart and are in the table of zones only."
        )
    return "<ul>" + "".join(f"<li>{line}</li>" for line in lines) + "</ul>"


def _versions(result: CheckResult, leaflet: Leaflet, coast: Coast | None) -> str:
    rows = [
        ("towzone", shown(result.version, 80)),
        ("Leaflet", f"{leaflet.version}, <code>{leaflet.sha256}</code>"),
        ("folium", escape(importlib.metadata.version("folium"))),
        ("numpy", escape(np.__version__)),
        ("shapely", escape(f"{shapely.__version__} with GEOS {shapely.geos_version_string}")),
        ("pyproj", escape(f"{pyproj.__version__} with PROJ {pyproj.proj_version_str}")),
    ]
    if coast is not None:
        rows.append(("Coast", f"{escape(coast.credit)}, <code>{coast.sha256}</code>"))
    return plain_table("Same input, options and versions give the same bytes.", ("Part", "Version"), rows)


def _printing() -> str:
    return (
        "<p>Use the browser's own print command, on paper or to a PDF file. The still chart is printed in "
        "place of the interactive one, always in day colours. This file needs no network and no other file: "
        "keep it as it is. The whole result stands in it as JSON, in the element with the id "
        "<code>result</code>.</p>"
    )
