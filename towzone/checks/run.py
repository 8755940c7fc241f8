"""All zones against all tracks: the one entry to a check. Touches no file, clock or environment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
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
from towzone.checks.verdicts import RANKS
from towzone.errors import UsageError
from towzone.model.gear import GearAccount
from towzone.model.result import CheckResult, Doubt, Gap, InputFile, Remark, Row
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone
from towzone.units import METRE_DIGITS

__all__ = ["TrackJudged", "judge_track", "run_check"]


def run_check(
    tracks: Sequence[Track],
    zones: Sequence[Zone],
    settings: CheckSettings,
    *,
    remarks: Sequence[Remark] = (),
    inputs: Sequence[InputFile] = (),
    version: str = "",
    boundaries: Boundaries | None = None,
    judged: Mapping[str, TrackJudged] = MappingProxyType({}),
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
    judged : mapping of str to TrackJudged
        What is known already of some of the tracks, by their ids, under the same settings.

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
    known = [
        judged.get(track.track_id) or judge_track(track, zones, settings, boundaries) for track in tracks
    ]
    scenes, found = [one.scene for one in known], [one.found for one in known]
    paths = [scene.path for scene in scenes]
    silent = [row for one in known for row in silent_rows(*one.scene, one.found.gear_reach_m)]
    edges = [r for one in known for r in edge_remarks(one.scene.path, one.scene.zones, one.found.near)]
    rows = sorted((*(row for some in found for row in some.rows), *silent), key=_worst_first)
    return CheckResult(
        tracks=tuple(tracks),
        zones=tuple(zones),
        margins_m={zone.zone_id: _margin_m(zone, settings) for zone in zones},
        in_force=_in_force(zones, boundaries, paths, settings),
        gaps={p.track.track_id: some.gaps for p, some in zip(paths, found, strict=True)},
        lengths_m={path.track.track_id: float(path.travelled_m[-1]) for path in paths},
        tows=tuple(tow for path in paths for tow in path.tows),
        rows=tuple(rows),
        beyond_reach=sum(one.beyond_reach(len(zones)) for one in known),
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrackJudged:
    """One track judged against the zones that matter to it."""

    scene: PathScene
    found: _Found

    @property
    def rows(self) -> tuple[Row, ...]:
        """Its rows, worst first, as `run_check` has them."""
        silent = silent_rows(*self.scene, self.found.gear_reach_m)
        return tuple(sorted((*self.found.rows, *silent), key=_worst_first))

    def beyond_reach(self, zones: int) -> int:
        """Return the pairs proved clear beyond reach, where there are so many zones in all."""
        return self.found.beyond_reach + (zones - len(self.scene.zones)) * self.found.units


def judge_track(
    track: Track,
    zones: Sequence[Zone],
    settings: CheckSettings,
    boundaries: Boundaries,
    changes_s: Sequence[float] | None = None,
) -> TrackJudged:
    """Return what is known of one track against zones.

    Parameters
    ----------
    zones : sequence of Zone
        Those that may matter (`towzone.checks.near_zones`), or all.
    boundaries : Boundaries
        Of these zones.
    changes_s : sequence of float or None
        Instants at which a rule of any zone of the check begins or ceases to hold; ``None``: of these zones.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    """
    own = _own_settings(track, settings)
    changes = change_instants(track, zones) if changes_s is None else changes_s
    path = build_path(track, own, changes)
    scene = PathScene(path, zones, boundaries, _demands(zones, own), own)
    return TrackJudged(scene=scene, found=_found(scene, changes))


class _Found(NamedTuple):
    """What was found out about one path; ``units`` get a row, or are counted, for each zone."""

    rows: tuple[Row, ...]
    beyond_reach: int
    near: frozenset[tuple[int, int]]
    gaps: tuple[Gap, ...]
    gear: GearRows | None
    gear_reach_m: float
    units: int


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
        units=len(shares) + (gear.units if gear is not None else 0),
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


def _margin_m(zone: Zone, settings: CheckSettings) -> float:
    if settings.margin_m is not None:
        return settings.margin_m
    if zone.margin_m is not None:
        return zone.margin_m
    return settings.kind_margins_m.get(zone.kind, 0.0)


def _demands(zones: Sequence[Zone], settings: CheckSettings) -> list[Demand]:
    """Return what is asked of passages by each zone; zones of which the same is asked share it."""
    made: dict[tuple[float, float], Demand] = {}
    off_m = settings.position_error_m + settings.steering_m
    demands = []
    for zone in zones:
        asked = _margin_m(zone, settings), off_m + zone.datum_accuracy_m
        if asked not in made:
            made[asked] = Demand(margin_m=asked[0], uncertainty_m=asked[1])
        demands.append(made[asked])
    return demands


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


def _in_force(
    zones: Sequence[Zone], boundaries: Boundaries, paths: Sequence[Path], settings: CheckSettings
) -> dict[str, bool]:
    held = [may_hold(zones, boundaries.rule, path, settings) for path in paths]
    return {zone.zone_id: any(some) for zone, *some in zip(zones, *held, strict=True)}


def _worst_first(row: Row) -> tuple[int, bool, float, str, int, str, str]:
    # Digits beyond those told may differ from machine to machine: they move no row.
    return (
        RANKS[row.status],
        row.clearance_m is None,
        round(row.clearance_m or 0.0, METRE_DIGITS),
        row.track_id,
        row.tow or 0,
        row.zone_id,
        row.part.value,
    )
