"""The rows of one track: every tow, and what was not towing, against every zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from towzone.checks.allowed import near_boundary, turned_round
from towzone.checks.batches import Batch, batches
from towzone.checks.boundaries import Boundaries
from towzone.checks.explain import NOT_IN_TRACK, explain
from towzone.checks.force import ACTIVITY_UNKNOWN, Force, Standing, applies, gap_standing, harmless, standing
from towzone.checks.gap_reach import gaps_with_reaches
from towzone.checks.gaps import Ways, by_unit, reached
from towzone.checks.intervals import Intervals, between
from towzone.checks.passages import Demand, Passage, measure, together
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import Group
from towzone.checks.transit import CrossingSpeed, crossing_speed
from towzone.checks.verdicts import Verdict, in_doubt, is_near, judge
from towzone.model.result import (
    FINDINGS,
    Activity,
    CloseStretch,
    Gap,
    InsideStretch,
    Part,
    Row,
    Status,
    Tow,
)
from towzone.model.zone import Zone
from towzone.units import KNOT_MPS

__all__ = ["TrackRows", "open_row", "track_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRows:
    """The rows of a track, the pairs proved clear beyond reach, and the (unit, zone) pairs within it.

    ``gaps`` are those of the path, with what each leaves open.
    """

    rows: tuple[Row, ...]
    beyond_reach: int
    near: frozenset[tuple[int, int]]
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pair:
    """One unit of a path (a tow, what is in doubt, what was not towing) against one zone.

    ``activity`` is what the unit is for: a tow is for towing, though shooting and hauling are in doubt.
    """

    path: Path
    tow: Tow | None
    activity: Activity
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
    ways = _open_ways(path, zones, reached(path, zones, boundaries, demands), settings)
    told = gaps_with_reaches(
        path, zones, boundaries, demands, ways, settings.max_speed_kn, settings.position_error_m
    )
    gaps = {key: tuple(told[n] for n in numbers) for key, numbers in by_unit(path, ways).items()}
    rows: list[Row] = []
    pairs, near = 0, set()
    shares = _shares(path, zones, boundaries, demands, settings.reach_m)
    for number, unit in shares.items():
        for z, zone in enumerate(zones):
            pair = _Pair(
                path=path,
                tow=unit[0].group.tow,
                activity=_main_activity(unit[0].group),
                zone=zone,
                demand=demands[z],
                gaps=gaps.get((number, z), ()),
            )
            measured = [
                _Measured(share.passages.get(z), standing(zone, share.group, settings), share.group.activity)
                for share in unit
            ]
            made = _rows_of_pair(pair, measured)
            rows.extend(made)
            pairs += not made
            if made:
                near.add((number, z))
    # A gap outside all units, or in a unit without a single position of its own, has a row by itself.
    rows += [
        _gap_row(path, number, zones[z], demands[z], some)
        for (number, z), some in gaps.items()
        if number not in shares
    ]
    return TrackRows(rows=tuple(rows), beyond_reach=pairs, near=frozenset(near), gaps=told)


class _Measured(NamedTuple):
    """How a share passed one zone, whether the zone's rule holds for it, and what was done."""

    passage: Passage | None
    standing: Standing
    activity: Activity


class _Share(NamedTuple):
    """A group of a path, or part of one, with its passages by the numbers of the zones."""

    group: Group
    passages: dict[int, Passage]


def _shares(
    path: Path, zones: Sequence[Zone], boundaries: Boundaries, demands: Sequence[Demand], reach_m: float
) -> dict[int, list[_Share]]:
    """Return what was measured of each unit of a path."""
    shares: dict[int, list[_Share]] = {}
    for batch in batches(path):
        passages = {(p.group, p.zone): p for p in measure(batch, zones, boundaries, demands, reach_m)}
        for number, group in enumerate(batch.groups):
            own = {}
            for z, zone in enumerate(zones):
                passage = passages.get((number, z))
                if passage is not None or zone.rules.allowed_only_inside:
                    own[z] = _full_passage(batch, number, z, zone, boundaries, passage, demands[z])
            shares.setdefault(group.unit, []).append(_Share(group, own))
    return shares


def _main_activity(group: Group) -> Activity:
    return Activity.TOWING if group.tow is not None else group.activity


def _full_passage(
    batch: Batch,
    group: int,
    number: int,
    zone: Zone,
    boundaries: Boundaries,
    passage: Passage | None,
    demand: Demand,
) -> Passage:
    """Return a passage with what only some rules ask for: the other way round, or the rim for transits."""
    if passage is None or zone.rules.allowed_only_inside:
        passage = turned_round(batch, group, number, boundaries, passage, demand)
    may_pass = batch.groups[group].activity is not Activity.TOWING
    if zone.rules.transit_min_speed_kn is None or not may_pass:
        return passage
    edge, within_m = boundaries.measured(np.array([number])), zone.radius_m + demand.uncertainty_m
    rim = near_boundary(batch, group, edge, number, within_m)
    if zone.radius_m > demand.uncertainty_m:
        well_inside = near_boundary(batch, group, edge, number, zone.radius_m - demand.uncertainty_m)
        rim = between(rim, well_inside)
    return replace(passage, rim=rim)


def _open_ways(path: Path, zones: Sequence[Zone], ways: Ways, settings: CheckSettings) -> Ways:
    """Leave out the gaps in which nothing prohibited could have happened: rule idle, or stated no towing."""
    kept: Ways = {}
    for (number, z), way_m in ways.items():
        zone = zones[z]
        if harmless(zone, settings):
            continue
        if gap_standing(zone, path, path.gaps[number], settings).force is not Force.IDLE:
            kept[number, z] = way_m
    return kept


def _rows_of_pair(pair: _Pair, measured: Sequence[_Measured]) -> list[Row]:
    """Return the row where the rule holds (or may hold), and one where it did not while it was near."""
    holds = [share for share in measured if share.standing.force is Force.HOLDS]
    doubts = [share for share in measured if share.standing.force is Force.UNKNOWN]
    idle = [share for share in measured if share.standing.force is Force.IDLE]
    rows = []
    if holds or doubts or pair.gaps:
        rows.extend(_rows_in_force(pair, holds, doubts))
    passage = _together(idle)
    if passage is not None and _idle_matters(pair, passage):
        verdict = Verdict(status=Status.NOT_IN_FORCE, reason=idle[0].standing.why)
        rows.append(_row(pair, passage, verdict, pair.activity))
    elif passage is not None and not rows:
        rows.append(_row(pair, passage, Verdict(status=Status.CLEAR), pair.activity))
    return rows


def _together(shares: Sequence[_Measured]) -> Passage | None:
    return together([share.passage for share in shares])


def _rows_in_force(pair: _Pair, holds: Sequence[_Measured], doubts: Sequence[_Measured]) -> list[Row]:
    """Return one row; or two, where a finding is sure and more would be one if the rule held there too."""
    activity = _shown_activity(pair, holds)
    sure = _judged(pair, _together(holds), activity)
    open_passage = _together(doubts)
    unsure = [_judged_in_doubt(pair, open_passage, doubts[0].standing)] if doubts else []
    if sure.status in FINDINGS:
        rows = [_row(pair, _together(holds), sure, activity)]
        said = [v for v in unsure if v.status in FINDINGS or v.reason == doubts[0].standing.why]
        return rows + [_row(pair, open_passage, verdict, _doubted(pair, verdict)) for verdict in said]
    passage = _together([*holds, *doubts])
    verdict = min([sure, *unsure], key=lambda verdict: list(Status).index(verdict.status))
    if verdict.status is Status.CLEAR and passage is None:
        return []
    if verdict.status is not Status.CLEAR and verdict in unsure and verdict != sure:
        return [_row(pair, open_passage, verdict, _doubted(pair, verdict))]
    return [_row(pair, passage, verdict, activity)]


def _shown_activity(pair: _Pair, holds: Sequence[_Measured]) -> Activity:
    """Return what a finding may be said of: of a tow only if there is one while it surely was towing."""
    if pair.tow is None:
        return pair.activity
    towing = _judged(pair, _together([s for s in holds if s.activity is Activity.TOWING]), Activity.TOWING)
    whole = _judged(pair, _together(holds), Activity.TOWING)
    shown = whole.status not in FINDINGS or towing.status is whole.status
    return Activity.TOWING if shown else Activity.UNKNOWN


def _judged_in_doubt(pair: _Pair, passage: Passage | None, doubt: Standing) -> Verdict:
    """Return what is left of a verdict in doubt.

    Who was in a zone with a transit rule, too slow for it, broke the rule whether towing or not.
    """
    if doubt.why != ACTIVITY_UNKNOWN:
        return in_doubt(_judged(pair, passage, pair.activity), doubt)
    if pair.zone.rules.transit_min_speed_kn is not None and passage is not None:
        passing = _judged(pair, passage, Activity.NOT_TOWING)
        if passing.status in FINDINGS:
            return passing
    return in_doubt(_judged(pair, passage, Activity.UNKNOWN), doubt)


def _doubted(pair: _Pair, verdict: Verdict) -> Activity:
    return Activity.UNKNOWN if verdict.reason in (ACTIVITY_UNKNOWN, "slow_transit") else pair.activity


def _idle_matters(pair: _Pair, passage: Passage) -> bool:
    """Return whether a passage would have been worth a word had the rule held."""
    if applies(pair.zone, pair.activity):
        return is_near(passage, pair.demand)
    return len(passage.inside) > 0


def _judged(pair: _Pair, passage: Passage | None, activity: Activity) -> Verdict:
    limit = pair.zone.rules.transit_min_speed_kn
    passing = limit is not None and not applies(pair.zone, activity) and passage is not None
    return judge(
        pair.zone,
        activity,
        passage,
        pair.demand,
        open_gap=_gap_reason(pair.gaps),
        speed=crossing_speed(pair.path, passage, limit, pair.demand.uncertainty_m)
        if passing and passage and limit
        else CrossingSpeed.OPEN,
    )


def _gap_reason(gaps: Sequence[Gap]) -> str:
    if any(gap.reach_m is None for gap in gaps):
        return "missing_times"
    return "gap" if gaps else ""


def _row(pair: _Pair, passage: Passage | None, verdict: Verdict, activity: Activity) -> Row:
    path = pair.path
    stretches = passage is not None and applies(pair.zone, activity)
    row = Row(
        track_id=path.track.track_id,
        tow=pair.tow.number if pair.tow is not None else None,
        activity=activity,
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
    words = explain(row, pair.zone, path.track.kind, pair.demand, pair.gaps)
    if pair.tow is not None and not pair.tow.in_track and row.status is not Status.CLEAR:
        words += " " + NOT_IN_TRACK
    return replace(row, explain=words)


def _gap_row(path: Path, unit: int | None, zone: Zone, demand: Demand, gaps: tuple[Gap, ...]) -> Row:
    """Return the row for gaps that nothing measured belongs to."""
    tow = unit + 1 if unit is not None and unit < len(path.tows) else None
    row = open_row(path, tow, zone, demand, _gap_reason(gaps))
    return replace(row, explain=explain(row, zone, path.track.kind, demand, gaps))


def open_row(path: Path, tow: int | None, zone: Zone, demand: Demand, reason: str) -> Row:
    """Return an undetermined row for time of which no position tells, still without its sentence."""
    return Row(
        track_id=path.track.track_id,
        tow=tow,
        activity=Activity.UNKNOWN,
        zone_id=zone.zone_id,
        part=Part.VESSEL,
        status=Status.UNDETERMINED,
        reason=reason,
        clearance_m=None,
        margin_m=demand.margin_m,
        uncertainty_m=demand.uncertainty_m,
        closest=None,
    )


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
