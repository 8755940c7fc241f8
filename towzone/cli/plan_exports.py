"""Files for plotters that a plan writes beside its result: lines to sail, and zones with their margins."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from towzone.errors import UsageError
from towzone.geodesy.lines import LineKind
from towzone.model.plan import CorrectedLine, PlannedLine, Timetable
from towzone.model.result import CheckResult, Outcome, Remark
from towzone.units import Instants, format_time

__all__ = ["check_suffixes", "exported"]

_GPX, _GEOJSON = (".gpx",), (".geojson", ".json")


def check_suffixes(line_files: Sequence[Path], margins_file: Path | None) -> None:
    """Refuse names that do not say in which form to write, before any work is done.

    Raises
    ------
    UsageError
    """
    for path in line_files:
        if path.suffix.lower() not in _GPX + _GEOJSON:
            message = f"--export-line {path}: name it .gpx for a plotter, or .geojson"
            raise UsageError(message)
    if margins_file is not None and margins_file.suffix.lower() not in _GEOJSON:
        message = f"--export-margins {margins_file}: it is GeoJSON; name it .geojson"
        raise UsageError(message)


def _lines_to_sail(result: CheckResult) -> list[tuple[PlannedLine, Timetable]]:
    """Return the lines that the check passes: those that are clear as they are, and corrected ones."""
    if result.plan is None:
        return []
    found = []
    for plan in result.plan.lines:
        if result.outcome_of(plan.track_id) is Outcome.CLEAR:
            found.append((plan.line, plan.timetable))
        elif isinstance(plan.corrected, CorrectedLine):
            found.append((plan.corrected.line, plan.corrected.timetable))
    return found


def exported(
    result: CheckResult, line_files: Sequence[Path], margins_file: Path | None
) -> tuple[dict[Path, str | bytes], list[Remark]]:
    """Return the contents of the files to write, and what to say of those that are not written."""
    files: dict[Path, str | bytes] = {}
    remarks = []
    found = _lines_to_sail(result) if line_files else []
    lines = [line for line, _ in found]
    legs = LineKind(str(result.settings["legs"]))
    for path in line_files:
        if lines:
            from towzone.tables.line_features import lines_geojson

            of_plotter = path.suffix.lower() in _GPX
            files[path] = _route(found, result) if of_plotter else lines_geojson(lines, legs)
        else:
            message = "not written: no line is clear, and none that is was found"
            remarks.append(Remark(file=str(path), where="", message=message))
    if margins_file is not None:
        from towzone.tables.margin_outlines import margin_outlines

        files[margins_file] = margin_outlines(result.zones, result.margins_m)
    return files, remarks


def _route(found: Sequence[tuple[PlannedLine, Timetable]], result: CheckResult) -> str:
    """Return lines as GPX with the times they were planned for: for others nothing was checked."""
    times = [_times(table) for _, table in found]
    begin, legs = format_time(found[0][1].legs[0].begin_utc), found[0][1].legs
    about = (
        f"Planned for {begin} at {legs[0].speed_kn:g} kn over the ground, with the gear and the zones of "
        f"that plan (towzone {result.version}); for no other time, speed or gear."
    )
    from towzone.files.gpx_routes import gpx_route

    return gpx_route([line for line, _ in found], times=times, description=about)


def _times(table: Timetable) -> Instants:
    """Return when the corners are passed, to the second, as plotters take them."""
    passed = np.array([*(leg.begin_utc for leg in table.legs), table.legs[-1].end_utc])
    return passed.astype("datetime64[s]").astype("datetime64[us]")
