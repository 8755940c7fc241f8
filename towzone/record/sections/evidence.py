"""The part a reader goes through to check the record: inputs, rules, assumptions, methods, versions."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Iterator

import numpy as np
import pyproj
import shapely

from towzone.model.result import CheckResult
from towzone.record.catalogue import say, say_count
from towzone.record.clock import LocalClock
from towzone.record.drawn.chart_notes import chart_notes
from towzone.record.drawn.coast import Coast
from towzone.record.drawn.scene import Scene
from towzone.record.drawn.thin import GEAR_TOLERANCE_M, THIN_TOLERANCE_M
from towzone.record.leaflet import Leaflet
from towzone.record.sections.gear_part import gear_part
from towzone.record.sections.lists import evidence_table, inputs_table, pairs_table, remarks_table, section
from towzone.record.sections.trip import gaps_table, left_out_table, moves_table, tows_part, tracks_table
from towzone.record.sections.what_if import what_if
from towzone.record.sections.zone_table import zone_table
from towzone.record.text import SENTENCE, escape, shown
from towzone.units import NAUTICAL_MILE_M

__all__ = ["coast_note", "evidence"]


def coast_note(coast: Coast | None) -> str:
    """Return what the reader must know of the coast on the chart; our own words only."""
    if coast is None:
        return say("evidence.drawn.no_coast")
    return say("evidence.drawn.coast", credit=coast.credit)


def evidence(
    result: CheckResult, scene: Scene, leaflet: Leaflet, coast: Coast | None, clock: LocalClock
) -> str:
    """Return everything below the table of rows, as HTML."""
    return "\n".join(_sections(result, scene, leaflet, coast, clock))


def _sections(
    result: CheckResult, scene: Scene, leaflet: Leaflet, coast: Coast | None, clock: LocalClock
) -> Iterator[str]:
    left_out = sum(len(one) for track in result.tracks for one in track.left_out)
    gaps = sum(len(some) for some in result.gaps.values())
    yield section("assumptions", _assumptions(result), len(result.assumptions), opened=True)
    yield section(
        "warnings",
        remarks_table("warnings", result.warnings),
        len(result.warnings),
        opened=bool(result.warnings),
    )
    yield section("tracks", tracks_table(result, clock), len(result.tracks))
    yield section("left_out", left_out_table(result, clock), left_out)
    yield section("tows", tows_part(result, clock), len(result.tows))
    if result.moves:
        yield section("moves", moves_table(result), len(result.moves))
    if result.gear is not None:
        yield section("gear", gear_part(result, result.gear, clock))
    yield section("gaps", gaps_table(result, clock), gaps)
    yield section("zones", zone_table(result), len(result.zones))
    yield section("inputs", inputs_table(result.inputs), len(result.inputs))
    yield section("settings", pairs_table(result.settings, "evidence.settings.caption"))
    yield section("methods", pairs_table(result.methods, "evidence.methods.caption"))
    yield section("drawn", _drawn(scene, coast))
    yield section("versions", _versions(result, leaflet, coast))


def _assumptions(result: CheckResult) -> str:
    if not result.assumptions:
        return what_if(result)
    items = "".join(f"<li>{shown(text, SENTENCE)}</li>" for text in result.assumptions)
    every = escape(say("evidence.assumptions.every"))
    listed = f'<details class="every"><summary>{every}</summary><ul class="columns">{items}</ul></details>'
    return f"{what_if(result)}\n{listed}"


def _drawn(scene: Scene, coast: Coast | None) -> str:
    lines = [say("evidence.drawn.zones"), say("evidence.drawn.mercator"), coast_note(coast), _fixes(scene)]
    if scene.gear:
        lines.append(say("evidence.drawn.gear", tolerance=f"{GEAR_TOLERANCE_M} m"))
    if scene.off_chart:
        lines.append(say_count("evidence.drawn.off_chart", scene.off_chart))
    lines += chart_notes(scene)
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _fixes(scene: Scene) -> str:
    if scene.fixes_drawn >= scene.fixes_used:
        return say("evidence.drawn.all_fixes", used=scene.fixes_used)
    return say(
        "evidence.drawn.some_fixes",
        drawn=scene.fixes_drawn,
        used=scene.fixes_used,
        near=f"{0.5 * NAUTICAL_MILE_M:.0f} m",
        tolerance=f"{THIN_TOLERANCE_M:.0f} m",
    )


def _versions(result: CheckResult, leaflet: Leaflet, coast: Coast | None) -> str:
    rows = [
        ("towzone", shown(result.version, 80)),
        ("Leaflet", f"{leaflet.version}, <code>{leaflet.sha256}</code>"),
        ("folium", escape(importlib.metadata.version("folium"))),
        ("numpy", escape(np.__version__)),
        ("shapely", _with(shapely.__version__, "GEOS", shapely.geos_version_string)),
        ("pyproj", _with(pyproj.__version__, "PROJ", pyproj.proj_version_str)),
    ]
    if coast is not None:
        name = escape(say("evidence.versions.coast"))
        rows.append((name, f"{escape(coast.credit)}, <code>{coast.sha256}</code>"))
    return evidence_table("versions", ("part", "version"), rows)


def _with(version: str, library: str, library_version: str) -> str:
    words = say("evidence.version_with", version=version, library=library, library_version=library_version)
    return escape(words)
