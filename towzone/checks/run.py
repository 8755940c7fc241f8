"""All zones against all tracks: the one entry to a check. Touches no file, clock or environment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from towzone.checks.assumptions import assumptions, gap_remarks, methods, settings_as_data
from towzone.checks.boundaries import Boundaries
from towzone.checks.explain import explain
from towzone.checks.gaps import reached
from towzone.checks.passages import Demand, Passage, measure
from towzone.checks.paths import Path, build_path
from towzone.checks.settings import CheckSettings, Towing
from towzone.checks.verdicts import applies, judge
from towzone.model.result import (
    Activity,
    CheckResult,
    CloseStretch,
    Gap,
    InputFile,
    InsideStretch,
    Part,
    Remark,
    Row,
    Status,
)
from towzone.model.track import Track
from towzone.model.zone import Prohibition, Zone
from towzone.units import KNOT_MPS

__all__ = ["run_check"]

_Reached = dict[tuple[int | None, int], tuple[int, ...]]


def run_check(
    tracks: Sequence[Track],
    zones: Sequence[Zone],
    settings: CheckSettings,
    *,
    remarks: Sequence[Remark] = (),
    inputs: Sequence[InputFile] = (),
    version: str = "",
) -> CheckResult:
    """Return what is known of every track against every zone.

    Parameters
    ----------
    tracks, zones : sequences
        In the order of the inputs; ids unique.
    settings : CheckSettings
    remarks, inputs, version
        Passed through to the result.

    Raises
    ------
    GeometryError
        A leg or edge is too long or ambiguous.
    """
    demands = [_demand(zone, settings) for zone in zones]
    boundaries = Boundaries.of(tuple(zones))
    paths = [build_path(track, settings) for track in tracks]
    rows: list[Row] = []
    beyond = 0
    for path in paths:
        track_rows, track_beyond = _rows(path, zones, boundaries, demands, settings)
        rows.extend(track_rows)
        beyond += track_beyond
    return CheckResult(
        tracks=tuple(tracks),
        zones=tuple(zones),
        margins_m={z.zone_id: d.margin_m for z, d in zip(zones, demands, strict=True)},
        in_force={zone.zone_id: True for zone in zones},
        gaps={path.track.track_id: path.gaps for path in paths},
        lengths_m={p.track.track_id: float(p.length_m[p.covered].sum()) for p in paths},
        tows=tuple(group.tow for path in paths for group in path.groups if group.tow is not None),
        rows=tuple(sorted(rows, key=_worst_first)),
        beyond_reach=beyond,
        assumptions=assumptions(paths, zones, settings),
        warnings=(*remarks, *gap_remarks(paths, settings)),
        inputs=tuple(inputs),
        settings=settings_as_data(settings),
        methods=methods(),
        version=version,
    )


def _demand(zone: Zone, settings: CheckSettings) -> Demand:
    stated = zone.margin_m if zone.margin_m is not None else 0.0
    return Demand(
        margin_m=settings.margin_m if settings.margin_m is not None else stated,
        uncertainty_m=settings.position_error_m + zone.datum_accuracy_m,
    )


def _worst_first(row: Row) -> tuple[int, bool, float, str, int, str]:
    return (
        list(Status).index(row.status),
        row.clearance_m is None,
        row.clearance_m or 0.0,
        row.track_id,
        row.tow or 0,
        row.zone_id,
    )


def _rows(
    path: Path,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    settings: CheckSettings,
) -> tuple[list[Row], int]:
    """Return the rows of one path and how many pairs were proved clear beyond the reach."""
    passages = {(p.group, p.zone): p for p in measure(path, zones, boundaries, demands, settings.reach_m)}
    open_gaps = _relevant(reached(path, zones, boundaries, demands), zones, settings)
    rows = []
    for group in range(len(path.groups)):
        for zone in range(len(zones)):
            passage, gaps = passages.get((group, zone)), open_gaps.get((group, zone), ())
            row = _row(path, group, zones[zone], demands[zone], passage, gaps)
            if row.status is not Status.CLEAR or passage is not None:
                rows.append(row)
    listed = len(rows)
    rows += [
        _gap_row(path, zones[zone], demands[zone], gaps)
        for (group, zone), gaps in open_gaps.items()
        if group is None
    ]
    return rows, len(path.groups) * len(zones) - listed


def _relevant(open_gaps: _Reached, zones: Sequence[Zone], settings: CheckSettings) -> _Reached:
    """Leave out gaps in which nothing prohibited could have happened by the user's own statement."""
    if settings.towing is not Towing.NONE:
        return open_gaps
    return {
        (group, zone): gaps
        for (group, zone), gaps in open_gaps.items()
        if Prohibition.ENTRY in zones[zone].prohibits or zones[zone].pending_rules
    }


def _row(
    path: Path, number: int, zone: Zone, demand: Demand, passage: Passage | None, gaps: tuple[int, ...]
) -> Row:
    group = path.groups[number]
    open_ = [path.gaps[gap] for gap in gaps]
    verdict = judge(zone, group.activity, passage, demand, open_gap=_gap_reason(open_))
    judged = applies(zone, group.activity)
    row = Row(
        track_id=path.track.track_id,
        tow=group.tow.number if group.tow is not None else None,
        activity=group.activity,
        zone_id=zone.zone_id,
        part=Part.VESSEL,
        status=verdict.status,
        reason=verdict.reason,
        clearance_m=passage.clearance_m if passage is not None else None,
        margin_m=demand.margin_m,
        uncertainty_m=demand.uncertainty_m,
        closest=passage.closest if passage is not None else None,
        inside=_inside(path, passage) if passage is not None else (),
        close=_close(path, passage) if passage is not None and judged else (),
    )
    return replace(row, explain=explain(row, zone, path.track.kind, demand, open_))


def _gap_row(path: Path, zone: Zone, demand: Demand, gaps: tuple[int, ...]) -> Row:
    """Return the row for gaps that belong to no tow."""
    open_ = [path.gaps[gap] for gap in gaps]
    row = Row(
        track_id=path.track.track_id,
        tow=None,
        activity=Activity.UNKNOWN,
        zone_id=zone.zone_id,
        part=Part.VESSEL,
        status=Status.UNDETERMINED,
        reason="rule_not_applied" if zone.pending_rules else _gap_reason(open_),
        clearance_m=None,
        margin_m=demand.margin_m,
        uncertainty_m=demand.uncertainty_m,
        closest=None,
    )
    return replace(row, explain=explain(row, zone, path.track.kind, demand, open_))


def _gap_reason(gaps: Sequence[Gap]) -> str:
    if any(gap.reach_m is None for gap in gaps):
        return "missing_times"
    return "gap" if gaps else ""


def _inside(path: Path, passage: Passage) -> tuple[InsideStretch, ...]:
    stays = []
    for first, last in zip(passage.inside.first.tolist(), passage.inside.last.tolist(), strict=True):
        lon, lat = path.positions(np.array([first, last]))
        seconds = _seconds(path, first, last)
        length_m = path.length_between(first, last)
        stays.append(
            InsideStretch(
                enter_utc=path.time_at(first),
                enter_lon_deg=float(lon[0]),
                enter_lat_deg=float(lat[0]),
                leave_utc=path.time_at(last),
                leave_lon_deg=float(lon[1]),
                leave_lat_deg=float(lat[1]),
                seconds=seconds,
                length_m=length_m,
                min_speed_kn=path.least_speed_kn(first, last),
                mean_speed_kn=length_m / seconds / KNOT_MPS if seconds else None,
            )
        )
    return tuple(stays)


def _close(path: Path, passage: Passage) -> tuple[CloseStretch, ...]:
    return tuple(
        CloseStretch(
            from_utc=path.time_at(first), to_utc=path.time_at(last), seconds=_seconds(path, first, last)
        )
        for first, last in zip(passage.close.first.tolist(), passage.close.last.tolist(), strict=True)
    )


def _seconds(path: Path, first: float, last: float) -> float | None:
    start, end = path.time_at(first), path.time_at(last)
    if np.isnat(start) or np.isnat(end):
        return None
    return float((end - start) / np.timedelta64(1, "us")) / 1e6
