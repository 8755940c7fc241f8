"""All zones against all tracks: the one entry to a check. Touches no file, clock or environment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from towzone.checks.activity import CANNOT_TELL
from towzone.checks.assumptions import assumptions, gap_remarks, methods, settings_as_data
from towzone.checks.boundaries import Boundaries
from towzone.checks.force import change_instants, edge_remarks, may_hold
from towzone.checks.gear_effects import with_effects
from towzone.checks.gear_rows import GearRows, gear_known, gear_rows
from towzone.checks.move_on import moved_on
from towzone.checks.open_gaps import open_gaps
from towzone.checks.passages import Demand
from towzone.checks.path_passages import PathScene, full_passages
from towzone.checks.paths import Path, build_path
from towzone.checks.places import instant
from towzone.checks.rows import track_rows
from towzone.checks.settings import CheckSettings, coarseness
from towzone.checks.silence import silent_rows
from towzone.errors import UsageError
from towzone.model.gear import GearAccount
from towzone.model.result import CheckResult, Doubt, Gap, InputFile, Remark, Row, Status
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone

__all__ = ["rows_of_track", "run_check"]


def run_check(
    tracks: Sequence[Track],
    zones: Sequence[Zone],
    settings: CheckSettings,
    *,
    remarks: Sequence[Remark] = (),
    inputs: Sequence[InputFile] = (),
    version: str = "",
    boundaries: Boundaries | None = None,
) -> CheckResult:
    """Return what is known of every track against every zone.

    Parameters
    ----------
    tracks, zones : sequences
        In the order of the inputs; ids unique.
    settings : CheckSettings
    remarks, inputs, version
        Passed through to the result.
    boundaries : Boundaries or None
        Those of the zones, where they are known already.

    Raises
    ------
    GeometryError
        A leg or edge is too long or ambiguous.
    UsageError
        There is no track, or the move-on rule names a tow that is not there.
    """
    if not tracks:
        message = "there is no track to check; without one nothing would be found, and seem clear"
        raise UsageError(message)
    boundaries = Boundaries.of(tuple(zones)) if boundaries is None else boundaries
    # A source that writes its positions coarsely widens the error of its own track.
    own = [_own_settings(track, settings) for track in tracks]
    changes = [change_instants(track, zones) for track in tracks]
    paths = [build_path(t, s, c) for t, s, c in zip(tracks, own, changes, strict=True)]
    scenes = [
        PathScene(path, zones, boundaries, [_demand(zone, s) for zone in zones], s)
        for path, s in zip(paths, own, strict=True)
    ]
    found = [_found(scene, c) for scene, c in zip(scenes, changes, strict=True)]
    silent = [
        row
        for scene, some in zip(scenes, found, strict=True)
        for row in silent_rows(*scene, some.gear_reach_m)
    ]
    edges = [r for path, some in zip(paths, found, strict=True) for r in edge_remarks(path, zones, some.near)]
    rows = sorted((*(row for some in found for row in some.rows), *silent), key=_worst_first)
    return CheckResult(
        tracks=tuple(tracks),
        zones=tuple(zones),
        margins_m={zone.zone_id: _demand(zone, settings).margin_m for zone in zones},
        in_force={zone.zone_id: _in_force(zone, paths, settings) for zone in zones},
        gaps={p.track.track_id: some.gaps for p, some in zip(paths, found, strict=True)},
        lengths_m={path.track.track_id: float(path.travelled_m[-1]) for path in paths},
        tows=tuple(tow for path in paths for tow in path.tows),
        rows=tuple(rows),
        beyond_reach=sum(some.beyond_reach for some in found),
        assumptions=assumptions(paths, zones, settings, [some.gear for some in found]),
        warnings=(*remarks, *gap_remarks(paths, settings), *edges),
        inputs=tuple(inputs),
        doubts=tuple(doubt for path in paths for doubt in _doubts(path)),
        moves=moved_on(paths, settings),
        log_disagreements={p.track.track_id: p.doing.disagreements for p in paths if p.doing.disagreements},
        gear=_account(scenes, found, rows),
        settings=settings_as_data(settings),
        methods=methods(),
        version=version,
    )


def rows_of_track(
    track: Track, zones: Sequence[Zone], settings: CheckSettings, boundaries: Boundaries
) -> tuple[Row, ...]:
    """Return the rows of one track alone, as `run_check` has them, worst first.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    """
    own = _own_settings(track, settings)
    changes = change_instants(track, zones)
    scene = PathScene(
        build_path(track, own, changes), zones, boundaries, [_demand(zone, own) for zone in zones], own
    )
    found = _found(scene, changes)
    return tuple(sorted((*found.rows, *silent_rows(*scene, found.gear_reach_m)), key=_worst_first))


class _Found(NamedTuple):
    """What was found out about one path."""

    rows: tuple[Row, ...]
    beyond_reach: int
    near: frozenset[tuple[int, int]]
    gaps: tuple[Gap, ...]
    gear: GearRows | None
    gear_reach_m: float


def _found(scene: PathScene, changes_s: Sequence[float]) -> _Found:
    known = gear_known(scene.path, scene.settings)
    farther_m = known.reach_m if known is not None else 0.0
    shares = full_passages(scene, scene.out_to_m(farther_m))
    gaps = open_gaps(scene)
    vessel = track_rows(scene, shares, gaps)
    gear = gear_rows(scene, shares, known, gaps, changes_s) if known is not None else None
    return _Found(
        rows=(*vessel.rows, *(gear.rows if gear is not None else ())),
        beyond_reach=vessel.beyond_reach + (gear.beyond_reach if gear is not None else 0),
        near=vessel.near,
        gaps=gaps.told,
        gear=gear,
        gear_reach_m=farther_m,
    )


def _account(scenes: Sequence[PathScene], found: Sequence[_Found], rows: Sequence[Row]) -> GearAccount | None:
    """Return the gear of all tracks, and what its least clearance depends on."""
    known = [some.gear for some in found if some.gear is not None]
    if not known:
        return None
    account = GearAccount(tows=tuple(tow for gear in known for tow in gear.tows))
    return with_effects(account, [(s, f.gear) for s, f in zip(scenes, found, strict=True)], rows)


def _own_settings(track: Track, settings: CheckSettings) -> CheckSettings:
    """Return the settings for one track: how far it may be off is its own."""
    return replace(
        settings,
        position_error_m=settings.position_error_m + coarseness(track),
        steering_m=settings.steering_m if track.kind is TrackKind.PLANNED else 0.0,
    )


def _demand(zone: Zone, settings: CheckSettings) -> Demand:
    stated = (settings.margin_m, zone.margin_m, settings.kind_margins_m.get(zone.kind), 0.0)
    return Demand(
        margin_m=next(margin for margin in stated if margin is not None),
        uncertainty_m=settings.position_error_m + settings.steering_m + zone.datum_accuracy_m,
    )


def _doubts(path: Path) -> Iterator[Doubt]:
    unknown = (path.doing.leg == CANNOT_TELL) & (path.doing.tow < 0)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], unknown.astype(np.int8), [0]])))
    for first, last in zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True):
        seconds = float(path.time_s[last] - path.time_s[first])
        yield Doubt(
            track_id=path.track.track_id,
            first=first,
            last=last,
            from_utc=instant(path.time_s[first]),
            to_utc=instant(path.time_s[last]),
            seconds=None if np.isnan(seconds) else seconds,
        )


def _in_force(zone: Zone, paths: Sequence[Path], settings: CheckSettings) -> bool:
    return any(may_hold(zone, path, settings) for path in paths)


def _worst_first(row: Row) -> tuple[int, bool, float, str, int, str, str]:
    return (
        list(Status).index(row.status),
        row.clearance_m is None,
        row.clearance_m or 0.0,
        row.track_id,
        row.tow or 0,
        row.zone_id,
        row.part.value,
    )
