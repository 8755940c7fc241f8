"""What the least clearance of the gear depends on: one figure at a time is changed, all others stay."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from towzone.checks.gear_least import least_clearance_m
from towzone.checks.gear_rows import GearRows
from towzone.checks.gear_shares import TowPassed
from towzone.checks.path_passages import PathScene
from towzone.errors import UsageError
from towzone.gear.figures import Rigging
from towzone.gear.likely import with_current
from towzone.gear.stretch import gear_stretch
from towzone.model.gear import Figure, FigureEffect, GearAccount
from towzone.model.result import Part, Row, Status

__all__ = ["with_effects"]

_SIGMAS = 2.0
"""How far each figure is changed, in standard deviations. Own choice: it is within 19 times in 20."""

_LAYBACKS_BEFORE, _LAYBACKS_NEAR = 12.0, 1.0
"""Part of the tow that is computed again, before the place of the least clearance: of what came earlier
exp(-12) is left, a few millimetres. And that on which it is measured, on either side. Own choice."""

_LEAST_SPEED_KN = 0.2
"""A tow slower than this never ends. Own choice."""

_HEADINGS_DEG = tuple(range(0, 360, 45))
"""From how many directions a current that is not known is tried. Own choice, as asked for."""


class _Case(NamedTuple):
    """One tow against one zone: where its gear is computed again, and where in that it is measured."""

    scene: PathScene
    passed: TowPassed
    zone: int
    span: tuple[float, float]
    near: tuple[float, float]
    known: dict[bytes, float | None]
    """Clearances of paths that were measured before: many figures do not move the gear at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trial:
    """A figure with the two changes that are tried on it."""

    figure: Figure
    low: float
    high: float


def with_effects(
    account: GearAccount, found: Sequence[tuple[PathScene, GearRows | None]], rows: Sequence[Row]
) -> GearAccount:
    """Return the account with the effect of every figure on the least clearance of the gear.

    That is the least above its margin of the rows with the worst status, near the place where it was least.
    """
    row = _least(rows)
    if row is None:
        return account
    case = _case(row, found)
    if case is None:
        return account
    effects = sorted(
        _effects(case), key=lambda effect: (-_size(effect, row.clearance_m or 0.0), effect.figure.name)
    )
    return replace(
        account,
        effects=tuple(effects),
        effects_track_id=row.track_id,
        effects_tow=row.tow,
        effects_zone_id=row.zone_id,
        effects_clearance_m=row.clearance_m,
    )


def _least(rows: Sequence[Row]) -> Row | None:
    """Return the gear row that matters most: the worst of status, then the least left above its margin."""
    known = [
        row
        for row in rows
        if row.part is Part.GEAR and row.clearance_m is not None and row.status is not Status.NOT_IN_FORCE
    ]
    return min(known, key=_worst_first, default=None)


def _worst_first(row: Row) -> tuple[int, float]:
    return list(Status).index(row.status), (row.clearance_m or 0.0) - row.margin_m


def _case(row: Row, found: Sequence[tuple[PathScene, GearRows | None]]) -> _Case | None:
    for scene, gear in found:
        if gear is None or row.tow is None or scene.path.track.track_id != row.track_id:
            continue
        passed = gear.passed.get(row.tow)
        if passed is not None:
            zone = next(z for z, zone in enumerate(scene.zones) if zone.zone_id == row.zone_id)
            return _Case(scene, passed, zone, *_spans(scene, passed, row), {})
    return None


def _spans(scene: PathScene, passed: TowPassed, row: Row) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the places between which the gear is computed again, and those between which it is measured."""
    gear, way = passed.gear, scene.path.travelled_m
    place = passed.place_of(row.closest) if row.closest is not None else gear.span[0]
    layback = max(float(stretch.layback_m.max()) for stretch in passed.stretches)
    line_m = layback + gear.rigging.sweeps.value + gear.rigging.net_length.value
    fixes = np.arange(len(way), dtype=np.float64)
    here = float(np.interp(place, fixes, way))
    far, low, high = (
        float(np.interp(here + laybacks * line_m, way, fixes))
        for laybacks in (-_LAYBACKS_BEFORE, -_LAYBACKS_NEAR, _LAYBACKS_NEAR)
    )
    first, last = gear.span
    return (max(far, first), min(high, last)), (max(low, first), min(high, last))


def _effects(case: _Case) -> Iterator[FigureEffect]:
    rigging = case.passed.gear.rigging
    for figure in rigging.all():
        trial = _trial(figure)
        if figure.name in _AS_THEY_ARE:
            base = _clearance(case, rigging)
            moved = _SIGMAS * figure.sigma
            shorter = None if base is None else base - moved
            longer = None if base is None else base + moved
            yield _effect(trial, longer, shorter)
        elif figure.name == "drift":
            clearances = [
                _clearance(case, with_current(rigging, set_deg, trial.high)) for set_deg in _HEADINGS_DEG
            ]
            known = [one for one in clearances if one is not None]
            yield _effect(trial, max(known, default=None), min(known, default=None))
        else:
            yield _effect(
                trial, *(_clearance(case, _with(rigging, figure, value)) for value in (trial.low, trial.high))
            )


_AS_THEY_ARE = frozenset({"position", "antenna"})
"""Errors of places move the gear by as much."""

_FIELDS: dict[str, str] = {"haul_speed": "heave_speed"}
"""Names of figures in the profile that are not those of the fields of a rigging."""


def _trial(figure: Figure) -> _Trial:
    low = figure.low if figure.low is not None else figure.value - _SIGMAS * figure.sigma
    high = figure.high if figure.high is not None else figure.value + _SIGMAS * figure.sigma
    if figure.name in _AS_THEY_ARE or figure.name == "drift":
        # An error of which only the size is known: one way it moves the gear off, the other way nearer.
        return _Trial(figure=figure, low=-_SIGMAS * figure.sigma, high=_SIGMAS * figure.sigma)
    least = {"block_aft": -np.inf, "block_starboard": -np.inf, "tow_speed": _LEAST_SPEED_KN}
    return _Trial(figure=figure, low=max(low, least.get(figure.name, 0.0)), high=high)


def _effect(trial: _Trial, low_m: float | None, high_m: float | None) -> FigureEffect:
    return FigureEffect(
        figure=trial.figure,
        low_value=trial.low,
        high_value=trial.high,
        low_clearance_m=low_m,
        high_clearance_m=high_m,
    )


def _with(rigging: Rigging, figure: Figure, value: float) -> Rigging:
    name = _FIELDS.get(figure.name, figure.name)
    changed: dict[str, Any] = {name: replace(figure, value=value)}
    if figure.name == "warp" and rigging.clump_warp is rigging.warp:
        changed["clump_warp"] = changed["warp"]
    return replace(rigging, **changed)


def _clearance(case: _Case, rigging: Rigging) -> float | None:
    """Return the least clearance with other figures; ``None`` where the gear then cannot be computed."""
    gear = case.passed.gear.with_rigging(rigging)
    try:
        stretches = [
            gear_stretch(lead, rigging) for lead in gear.leads(case.scene.path, np.empty(0), case.span)
        ]
    except UsageError:
        return None  # for example sweeps too short for the spread
    path = b"".join(
        tracer.lon_deg.tobytes() + tracer.lat_deg.tobytes() for s in stretches for tracer in s.tracers
    )
    if path not in case.known:
        case.known[path] = least_clearance_m(case.scene, stretches, case.zone, case.near)
    return case.known[path]


def _size(effect: FigureEffect, base_m: float) -> float:
    known = [m for m in (effect.low_clearance_m, effect.high_clearance_m) if m is not None]
    return max((abs(m - base_m) for m in known), default=0.0)
