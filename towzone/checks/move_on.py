"""The move-on rule: whether every later shot was far enough from every position of a tow.

Published: "at least five nautical miles from any position of the previous haul", Council Regulation (EC)
1224/2009, Article 52(1), before its amendment; two miles for vessels under 12 metres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.intervals import Intervals, intersect, merged
from towzone.checks.paths import Path, side_of
from towzone.checks.settings import CheckSettings, MoveOnRule, Towing, coarseness
from towzone.errors import UsageError, quoted
from towzone.geodesy.approach import Approaches, Side, closest, detours
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.pieces import Pieces
from towzone.model.result import Activity, Gap, MoveOn, Status, Tow
from towzone.model.track import TrackKind
from towzone.tows.cores import LEAST_TOW_S
from towzone.tows.logged import LoggedHaul
from towzone.units import format_duration, format_length, format_time

__all__ = ["moved_on"]

_NEVER = np.datetime64("NaT", "us")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """One path and the tow to keep away from, with its positions as they surely and as they may be.

    ``begun_before``: it was, or may have been, shot before the first position; ``shot_after`` are the hauls
    that were shot after the last, says the log.
    """

    path: Path
    tow: Tow
    rule: MoveOnRule
    uncertainty_m: float
    sure: Intervals
    wide: Intervals
    begun_before: bool
    shot_after: tuple[LoggedHaul, ...]


def moved_on(paths: Sequence[Path], settings: CheckSettings) -> tuple[MoveOn, ...]:
    """Return a row for every shot after the tow named by the rule, and for what may hide one.

    Raises
    ------
    UsageError
        There is not exactly one completed track, or it has no such tow.

    Notes
    -----
    Nearer than the distance is a finding. Nearer than the distance and twice the position error, or as near
    while shooting or hauling, is undetermined; so is what the positions do not tell: a shot or a part of the
    tow in a gap, stretches of which towing cannot be told, and later gaps in which the vessel could have
    come so near and shot.
    """
    if settings.move_on is None:
        return ()
    case = _case([path for path in paths if path.track.kind is TrackKind.COMPLETED], settings)
    later = [tow for tow in case.path.tows if tow.number > case.tow.number]
    return (*(_shot(case, tow) for tow in later), *_hidden_shots(case))


def _case(paths: Sequence[Path], settings: CheckSettings) -> _Case:
    rule = settings.move_on
    if rule is None or len(paths) != 1:
        message = f"--move-on needs the track of one vessel; {len(paths)} completed tracks were read"
        raise UsageError(message)
    path = paths[0]
    tow = next((tow for tow in path.tows if tow.number == rule.from_tow), None)
    if tow is None:
        message = f"--from-tow {rule.from_tow}: track '{path.track.track_id}' has {len(path.tows)} tows"
        raise UsageError(message)
    known = path.track.time_utc[~np.isnat(path.track.time_utc)]
    hauls = settings.hauls if settings.towing is Towing.LOG and len(known) else ()
    return _Case(
        path=path,
        tow=tow,
        rule=rule,
        uncertainty_m=2.0 * (settings.position_error_m + coarseness(path.track)),
        sure=_covered(path, tow.shoot, tow.haul),
        wide=_covered(path, float(tow.first), float(tow.last)),
        begun_before=(tow.shoot_open and tow.first == 0)
        or any(h.haul == tow.haul_id and h.shoot_utc < known[0] for h in hauls),
        shot_after=tuple(h for h in hauls if h.shoot_utc >= known[-1]),
    )


def _covered(path: Path, first: float, last: float) -> Intervals:
    """Return the covered stretches between two places, and single fixes there that stand alone."""
    legs = np.flatnonzero(path.covered)
    fixes = np.arange(np.ceil(first), np.floor(last) + 1.0)
    span = Intervals(np.array([first]), np.array([last]))
    whole = intersect(merged(legs.astype(np.float64), legs + 1.0), span)
    return merged(np.concatenate([whole.first, fixes]), np.concatenate([whole.last, fixes]))


def _nearest(case: _Case, mine: Intervals, theirs: Intervals) -> tuple[Approaches, Path, np.ndarray] | None:
    """Return the closest approach of two sets of stretches of the path, ``None`` if one is empty."""
    if not len(mine) or not len(theirs):
        return None
    one, begin, end = side_of(case.path.track, case.path.kind, [mine])
    other, _, _ = side_of(case.path.track, case.path.kind, [theirs])
    zero = np.zeros(1, dtype=np.int64)
    found = closest(one, zero, other, zero, np.array([np.inf]))
    piece = found.path_piece
    place = begin[piece] + found.path_part * (end[piece] - begin[piece])
    return found, case.path, place


def _shot(case: _Case, tow: Tow) -> MoveOn:
    """Return the row of one later shot."""
    shooting = _covered(case.path, float(tow.first), tow.shoot)
    place = Intervals(np.array([tow.shoot]), np.array([tow.shoot]))
    known = _is_covered(case.path, tow.shoot) and not tow.shoot_open
    near = _nearest(case, case.sure, place) if known else None
    maybe = _nearest(case, case.wide, shooting if len(shooting) else place)
    distance_m = float(near[0].distance_m[0]) if near is not None else None
    least_m = float(maybe[0].distance_m[0]) if maybe is not None else np.inf
    status, reason = _status(case, distance_m, least_m, known)
    whole = merged(np.append(shooting.first, place.first), np.append(shooting.last, place.last))
    if status is Status.CLEAR and (case.begun_before or _near_gaps(case, _inner_gaps(case), whole)):
        status, reason = Status.UNDETERMINED, "gap"
    return _row(case, tow, status, reason, near)


def _is_covered(path: Path, place: float) -> bool:
    leg = int(place)
    return place == leg or bool(path.covered[leg])


def _status(case: _Case, distance_m: float | None, least_m: float, known: bool) -> tuple[Status, str]:
    required_m = case.rule.distance_m
    if not known:
        return Status.UNDETERMINED, "gap"
    if distance_m is None:  # the tow to keep away from has no position of its own
        return Status.UNDETERMINED, "gap"
    if distance_m < required_m:
        return Status.TOO_CLOSE, "under_margin"
    if distance_m < required_m + case.uncertainty_m:
        return Status.UNDETERMINED, "position_error"
    if least_m < required_m + case.uncertainty_m:
        return Status.UNDETERMINED, "activity_unknown"
    return Status.CLEAR, ""


def _inner_gaps(case: _Case) -> list[Gap]:
    """Return the gaps in which the tow to keep away from could have been at places not known.

    Those beside it count, too: it may have begun in the one before it and ended in the one after it.
    """
    return [gap for gap in case.path.gaps if case.tow.first - 1 <= gap.fix <= case.tow.last]


def _near_gaps(case: _Case, gaps: Sequence[Gap], places: Intervals) -> list[Gap]:
    """Return the gaps in which the vessel could have come within the distance of places."""
    untimed = [gap for gap in gaps if gap.reach_m is None]
    timed = [gap for gap in gaps if gap.reach_m is not None]
    if not timed or not len(places):
        return untimed
    track = case.path.track
    fix = np.array([gap.fix for gap in timed])
    xyz = to_geocentric(track.lon_deg, track.lat_deg)
    foci = Side.of(Pieces.each_alone(xyz[fix], xyz[fix + 1]), len(fix))
    target, _, _ = side_of(track, case.path.kind, [places])
    reach_m = np.array([gap.reach_m for gap in timed], dtype=np.float64)
    budget_m = reach_m + 2.0 * (case.rule.distance_m + case.uncertainty_m)
    way_m = detours(foci, np.arange(len(fix)), target, np.zeros(len(fix), dtype=np.int64), budget_m)
    return untimed + [gap for gap, way in zip(timed, way_m.tolist(), strict=True) if np.isfinite(way)]


def _too_short(gap: Gap) -> bool:
    """Return whether no shot is hidden in a gap: no tow fits in, and one shot in it is a tow after it."""
    return gap.seconds is not None and gap.seconds < LEAST_TOW_S


def _gaps_meet(case: _Case, gap: Gap, others: Sequence[Gap]) -> bool:
    """Return whether the vessel could have come as near in one gap as it could have been in another.

    Wherever it was in a gap, from one of its two fixes that was half the longest way at most.
    """
    if gap.reach_m is None or any(other.reach_m is None for other in others):
        return bool(others)
    xyz = to_geocentric(case.path.track.lon_deg, case.path.track.lat_deg)
    mine = xyz[[gap.fix, gap.fix + 1]]
    for other in others:
        theirs = xyz[[other.fix, other.fix + 1]]
        apart_m = float(np.sqrt(((mine[:, None] - theirs[None, :]) ** 2).sum(axis=2)).min())
        ways_m = (gap.reach_m + (other.reach_m or 0.0)) / 2.0
        if apart_m <= ways_m + case.rule.distance_m + case.uncertainty_m:
            return True
    return False


def _hidden_shots(case: _Case) -> list[MoveOn]:
    """Return rows for what may hide a shot after the tow: stretches in doubt, and gaps."""
    rows = []
    doubt = [g.covered for g in case.path.groups if g.tow is None and g.activity is Activity.UNKNOWN]
    later = Intervals(np.array([float(case.tow.last)]), np.array([float(len(case.path.track) - 1)]))
    inner = _inner_gaps(case)
    for some in doubt:
        there = intersect(some, later)
        near = _nearest(case, case.wide, there)
        if near is None:
            continue
        if near[0].distance_m[0] < case.rule.distance_m + case.uncertainty_m or _near_gaps(
            case, inner, there
        ):
            rows.append(_row(case, None, Status.UNDETERMINED, "activity_unknown", near))
    gaps = [gap for gap in case.path.gaps if gap.fix >= case.tow.last and not _too_short(gap)]
    open_ = _near_gaps(case, gaps, case.wide)
    open_ += [gap for gap in gaps if gap not in open_ and _gaps_meet(case, gap, inner)]
    if open_:
        row = _row(case, None, Status.UNDETERMINED, "gap", None)
        rows.append(replace(row, explain=_gap_words(case, open_)))
    for haul in case.shot_after:
        row = _row(case, None, Status.UNDETERMINED, "gap", None)
        rows.append(replace(row, explain=_after_words(haul)))
    return rows


def _row(
    case: _Case,
    tow: Tow | None,
    status: Status,
    reason: str,
    near: tuple[Approaches, Path, np.ndarray] | None,
) -> MoveOn:
    found = near[0] if near is not None else None
    row = MoveOn(
        track_id=case.path.track.track_id,
        from_tow=case.tow.number,
        tow=tow.number if tow is not None else None,
        status=status,
        reason=reason,
        distance_m=float(found.distance_m[0]) if found is not None else None,
        required_m=case.rule.distance_m,
        uncertainty_m=case.uncertainty_m,
        shoot_utc=tow.shoot_utc if tow is not None else _NEVER,
        lon_deg=float(found.edge_lon_deg[0]) if found is not None else np.nan,
        lat_deg=float(found.edge_lat_deg[0]) if found is not None else np.nan,
        nearest_utc=case.path.time_at(float(near[2][0])) if near is not None else _NEVER,
        nearest_lon_deg=float(found.path_lon_deg[0]) if found is not None else np.nan,
        nearest_lat_deg=float(found.path_lat_deg[0]) if found is not None else np.nan,
        explain="",
    )
    return replace(row, explain=_words(row))


def _words(row: MoveOn) -> str:
    required = format_length(row.required_m)
    reference = f"tow {row.from_tow}"
    if row.tow is None:
        return (
            f"After {reference} the vessel was {format_length(row.distance_m or 0.0)} from one of its"
            " positions, and whether it was shooting or towing there cannot be told."
        )
    if row.distance_m is None:
        return (
            f"How far tow {row.tow} was shot from {reference} is not told: it was shot before the first"
            " position, or in a gap."
        )
    nearest = (
        f"Tow {row.tow} was shot {format_length(row.distance_m)} from the nearest position of {reference}"
        f" ({format_time(row.nearest_utc)})"
    )
    if row.status is Status.TOO_CLOSE:
        short = format_length(row.required_m - row.distance_m)
        return f"{nearest}: {short} less than the {required} asked for."
    if row.reason == "position_error":
        return f"{nearest}; that is within {row.uncertainty_m:.1f} m of the {required} asked for."
    if row.reason == "activity_unknown":
        return (
            f"{nearest}, but while shooting or hauling the two were, or may have been, nearer than"
            f" the {required} asked for."
        )
    if row.reason == "gap":
        return f"{nearest}, but before its first position, or in a gap, {reference} could have been nearer."
    return f"{nearest}: {format_length(row.distance_m - row.required_m)} more than asked for."


def _after_words(haul: LoggedHaul) -> str:
    return (
        f"Haul {quoted(haul.haul)} of the log was shot at {format_time(haul.shoot_utc)}, after the last"
        " position; how far away is not told by the positions."
    )


def _gap_words(case: _Case, gaps: Sequence[Gap]) -> str:
    longest = max(gaps, key=lambda gap: (gap.seconds is None, gap.seconds or 0.0))
    how_long = f" ({format_duration(longest.seconds)})" if longest.seconds is not None else ""
    more = f" and {len(gaps) - 1} more such gaps" if len(gaps) > 1 else ""
    return (
        f"After tow {case.tow.number} there are no positions from {format_time(longest.from_utc)} to"
        f" {format_time(longest.to_utc)}{how_long}{more}; in that time the vessel could have shot within"
        f" {format_length(case.rule.distance_m)} of it."
    )
