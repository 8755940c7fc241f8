"""The rows of one track: every tow, and what was not towing, against every zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from towzone.checks.allowed import near_boundary, turned_round
from towzone.checks.boundaries import Boundaries
from towzone.checks.explain import explain
from towzone.checks.force import Force, Standing, applies, gap_standing, standing
from towzone.checks.gaps import reached
from towzone.checks.intervals import Intervals, between
from towzone.checks.passages import Demand, Passage, measure, together
from towzone.checks.paths import Group, Path
from towzone.checks.settings import CheckSettings, Towing
from towzone.checks.transit import CrossingSpeed, crossing_speed
from towzone.checks.verdicts import Verdict, in_doubt, is_near, judge
from towzone.model.result import FINDINGS, Activity, CloseStretch, Gap, InsideStretch, Part, Row, Status
from towzone.model.zone import Prohibition, Zone
from towzone.units import KNOT_MPS

__all__ = ["TrackRows", "track_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRows:
    """The rows of a track, the pairs proved clear beyond reach, and the (unit, zone) pairs within it."""

    rows: tuple[Row, ...]
    beyond_reach: int
    near: frozenset[tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pair:
    """One unit of a path (a tow, or all that was not towing) against one zone."""

    path: Path
    group: Group
    zone: Zone
    demand: Demand
    gaps: tuple[Gap, ...]


def track_rows(
    path: Path,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    settings: CheckSettings,
) -> TrackRows:
    """Return the rows of one path against all zones; pairs farther than the reach are only counted."""
    passages = {(p.group, p.zone): p for p in measure(path, zones, boundaries, demands, settings.reach_m)}
    gaps = _open_gaps(path, zones, reached(path, zones, boundaries, demands), settings)
    rows: list[Row] = []
    pairs, near = 0, set()
    shares = [list(some) for _, some in groupby(enumerate(path.groups), key=lambda item: item[1].unit)]
    for unit in shares:
        number = unit[0][1].unit
        for z, zone in enumerate(zones):
            pair = _Pair(
                path=path, group=unit[0][1], zone=zone, demand=demands[z], gaps=gaps.get((number, z), ())
            )
            measured = [_share_passage(path, g, z, zone, boundaries, passages, demands[z]) for g, _ in unit]
            standings = [standing(zone, group, settings) for _, group in unit]
            made = _rows_of_pair(pair, measured, standings)
            rows.extend(made)
            pairs += not made
            if made:
                near.add((number, z))
    rows += [
        _gap_row(path, zones[z], demands[z], some) for (number, z), some in gaps.items() if number is None
    ]
    return TrackRows(rows=tuple(rows), beyond_reach=pairs, near=frozenset(near))


def _share_passage(
    path: Path,
    group: int,
    number: int,
    zone: Zone,
    boundaries: Boundaries,
    passages: dict[tuple[int, int], Passage],
    demand: Demand,
) -> Passage | None:
    passage = passages.get((group, number))
    if zone.rules.allowed_only_inside:
        passage = turned_round(path, group, number, boundaries, passage, demand)
    strict = zone.rules.transit_min_speed_kn is not None and not applies(zone, path.groups[group].activity)
    if passage is None or not strict:
        return passage
    edge, within_m = boundaries.measured(np.array([number])), zone.radius_m + demand.uncertainty_m
    rim = near_boundary(path, group, edge, number, within_m)
    if zone.radius_m > demand.uncertainty_m:
        well_inside = near_boundary(path, group, edge, number, zone.radius_m - demand.uncertainty_m)
        rim = between(rim, well_inside)
    return replace(passage, rim=rim)


def _open_gaps(
    path: Path,
    zones: Sequence[Zone],
    found: dict[tuple[int | None, int], tuple[int, ...]],
    settings: CheckSettings,
) -> dict[tuple[int | None, int], tuple[Gap, ...]]:
    """Leave out the gaps in which nothing prohibited could have happened: rule idle, or stated no towing."""
    kept: dict[tuple[int | None, int], tuple[Gap, ...]] = {}
    for (unit, z), numbers in found.items():
        zone = zones[z]
        harmless = Prohibition.ENTRY not in zone.prohibits and zone.rules.transit_min_speed_kn is None
        if settings.towing is Towing.NONE and harmless:
            continue
        gaps = [path.gaps[number] for number in numbers]
        some = tuple(gap for gap in gaps if gap_standing(zone, path, gap, settings).force is not Force.IDLE)
        if some:
            kept[unit, z] = some
    return kept


def _rows_of_pair(
    pair: _Pair, measured: Sequence[Passage | None], standings: Sequence[Standing]
) -> list[Row]:
    """Return the row where the rule holds (or may hold), and one where it did not while it was near."""
    shares = list(zip(measured, standings, strict=True))
    holds = [passage for passage, s in shares if s.force is Force.HOLDS]
    doubts = [(passage, s) for passage, s in shares if s.force is Force.UNKNOWN]
    idle = [(passage, s) for passage, s in shares if s.force is Force.IDLE]
    rows = []
    if holds or doubts or pair.gaps:
        rows.extend(_rows_in_force(pair, holds, doubts))
    passage = together([p for p, _ in idle])
    if passage is not None and _idle_matters(pair, passage):
        rows.append(_row(pair, passage, Verdict(status=Status.NOT_IN_FORCE, reason=idle[0][1].why)))
    elif passage is not None and not rows:
        rows.append(_row(pair, passage, Verdict(status=Status.CLEAR)))
    return rows


def _rows_in_force(
    pair: _Pair, holds: Sequence[Passage | None], doubts: Sequence[tuple[Passage | None, Standing]]
) -> list[Row]:
    """Return one row; or two, where a finding is sure and more would be one if the rule held there too."""
    sure = _judged(pair, together(holds))
    unsure = [in_doubt(_judged(pair, together([p for p, _ in doubts])), s) for _, s in doubts[:1]]
    if sure.status in FINDINGS:
        rows = [_row(pair, together(holds), sure)]
        open_ = [verdict for verdict in unsure if verdict.reason == doubts[0][1].why]
        return rows + [_row(pair, together([p for p, _ in doubts]), verdict) for verdict in open_]
    passage = together([*holds, *(p for p, _ in doubts)])
    verdict = min([sure, *unsure], key=lambda verdict: list(Status).index(verdict.status))
    return [_row(pair, passage, verdict)] if verdict.status is not Status.CLEAR or passage is not None else []


def _idle_matters(pair: _Pair, passage: Passage) -> bool:
    """Return whether a passage would have been worth a word had the rule held."""
    if applies(pair.zone, pair.group.activity):
        return is_near(passage, pair.demand)
    return len(passage.inside) > 0


def _judged(pair: _Pair, passage: Passage | None) -> Verdict:
    limit = pair.zone.rules.transit_min_speed_kn
    passing = limit is not None and not applies(pair.zone, pair.group.activity) and passage is not None
    return judge(
        pair.zone,
        pair.group.activity,
        passage,
        pair.demand,
        open_gap=_gap_reason(pair.gaps),
        speed=crossing_speed(pair.path, passage, limit)
        if passing and passage and limit
        else CrossingSpeed.OPEN,
    )


def _gap_reason(gaps: Sequence[Gap]) -> str:
    if any(gap.reach_m is None for gap in gaps):
        return "missing_times"
    return "gap" if gaps else ""


def _row(pair: _Pair, passage: Passage | None, verdict: Verdict) -> Row:
    path, group = pair.path, pair.group
    stretches = passage is not None and applies(pair.zone, group.activity)
    row = Row(
        track_id=path.track.track_id,
        tow=group.tow.number if group.tow is not None else None,
        activity=group.activity,
        zone_id=pair.zone.zone_id,
        part=Part.VESSEL,
        status=verdict.status,
        reason=verdict.reason,
        clearance_m=passage.clearance_m if passage is not None else None,
        margin_m=pair.demand.margin_m,
        uncertainty_m=pair.demand.uncertainty_m,
        closest=passage.closest if passage is not None else None,
        inside=_stays(path, passage.inside) if passage is not None else (),
        close=_close(path, passage.close) if passage is not None and stretches else (),
    )
    return replace(row, explain=explain(row, pair.zone, path.track.kind, pair.demand, pair.gaps))


def _gap_row(path: Path, zone: Zone, demand: Demand, gaps: tuple[Gap, ...]) -> Row:
    """Return the row for gaps that belong to no tow."""
    row = Row(
        track_id=path.track.track_id,
        tow=None,
        activity=Activity.UNKNOWN,
        zone_id=zone.zone_id,
        part=Part.VESSEL,
        status=Status.UNDETERMINED,
        reason=_gap_reason(gaps),
        clearance_m=None,
        margin_m=demand.margin_m,
        uncertainty_m=demand.uncertainty_m,
        closest=None,
    )
    return replace(row, explain=explain(row, zone, path.track.kind, demand, gaps))


def _stays(path: Path, inside: Intervals) -> tuple[InsideStretch, ...]:
    stays = []
    for first, last in zip(inside.first.tolist(), inside.last.tolist(), strict=True):
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


def _close(path: Path, close: Intervals) -> tuple[CloseStretch, ...]:
    return tuple(
        CloseStretch(
            from_utc=path.time_at(first), to_utc=path.time_at(last), seconds=_seconds(path, first, last)
        )
        for first, last in zip(close.first.tolist(), close.last.tolist(), strict=True)
    )


def _seconds(path: Path, first: float, last: float) -> float | None:
    start, end = path.time_at(first), path.time_at(last)
    if np.isnat(start) or np.isnat(end):
        return None
    return float((end - start) / np.timedelta64(1, "us")) / 1e6
