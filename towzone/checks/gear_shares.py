"""How the gear of a tow passed each zone, share by share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from towzone.checks.allowed import turned_round
from towzone.checks.gear_curves import GearCurve, curve_batch
from towzone.checks.gear_ground import (
    SweptShare,
    likely_ground,
    met_at,
    nearness,
    swept_ground,
)
from towzone.checks.gear_leads import TowGear
from towzone.checks.intervals import Intervals, between, intersect, merged, union
from towzone.checks.legs import BoolArray
from towzone.checks.passages import NOWHERE, Demand, GearMeasure, Passage, measure
from towzone.checks.path_passages import PathScene, Share
from towzone.checks.paths import Path
from towzone.checks.shares import Group
from towzone.checks.verdicts import TOUCH_M
from towzone.gear.bounds import FARTHEST_M, rope_reach_m
from towzone.gear.corridor import Swept
from towzone.gear.figures import NoRigging, Rigging
from towzone.gear.flags import flag_masks, warp_is_guessed
from towzone.gear.likely import likely_outline
from towzone.gear.stretch import GearStretch, gear_stretch
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.lines import WGS84
from towzone.model.result import Activity, Closest
from towzone.model.zone import Zone

__all__ = ["TowPassed", "contact", "curves_of", "gear_passages", "passages_without_path"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TowPassed:
    """The gear of one tow: its stretches, how each share of them passed the zones, and the likely ground."""

    gear: TowGear
    stretches: tuple[GearStretch, ...]
    shares: tuple[Share, ...]
    likely: tuple[Swept, ...]

    def place_of(self, closest: Closest) -> float:
        """Return the place of the vessel when its gear was nearest to where it was closest to something."""
        here = to_geocentric(np.array([closest.lon_deg]), np.array([closest.lat_deg]))
        best, place = np.inf, 0.0
        for stretch in self.stretches:
            for tracer in stretch.tracers:
                apart = ((to_geocentric(tracer.lon_deg, tracer.lat_deg) - here) ** 2).sum(axis=1)
                node = int(np.argmin(apart))
                if apart[node] < best:
                    best, place = float(apart[node]), float(stretch.lead.place[node])
        return place


def passages_without_path(
    scene: PathScene, shares: Sequence[Share], known: Rigging | NoRigging
) -> list[Share]:
    """Return shares of a vessel as shares of a gear of which no path is known, only how far away it may be.

    Left out is what that proves clear; without any figures nothing is, within reach of the vessel or of the
    longest gear.
    """
    bound_m = rope_reach_m(known) if isinstance(known, Rigging) else None
    why = known.why if isinstance(known, NoRigging) else ""
    found = []
    for share in shares:
        own = {}
        for z, passage in share.passages.items():
            nearest_m = passage.clearance_m if passage.clearance_m is not None else np.inf
            rope_m = None if bound_m is None else nearest_m - bound_m - scene.off_m(z)
            left_m = nearest_m - FARTHEST_M if rope_m is None else rope_m
            listed = rope_m is None and nearest_m < scene.settings.reach_m
            if listed or left_m < max(scene.demands[z].margin_m, TOUCH_M):
                unseen_m = np.inf if rope_m is None else rope_m
                own[z] = _unseen(passage, GearMeasure(rope_m=rope_m, unseen_m=unseen_m, why_not=why))
        found.append(Share(share.group, own))
    return found


def _less(clearance_m: float | None, bound_m: float) -> float | None:
    return None if clearance_m is None else clearance_m - bound_m


def _unseen(passage: Passage, gear: GearMeasure) -> Passage:
    return Passage(
        group=passage.group,
        zone=passage.zone,
        clearance_m=None,
        closest=None,
        inside=NOWHERE,
        close=NOWHERE,
        gear=gear,
    )


def gear_passages(scene: PathScene, shares: Sequence[Share], gear: TowGear) -> TowPassed:
    """Return how the gear of a tow passed the zones.

    Parameters
    ----------
    shares : sequence of Share
        Of the vessel, on the tow and on the stretches before and after it that the gear's contact with the
        bottom may reach into; passages far enough out for the rope bound to matter must be among them.
    """
    groups = [share.group for share in shares]
    stretches = tuple(gear_stretch(lead, gear.rigging) for lead in gear.leads(scene.path, _ends(groups)))
    near = sorted({z for share in shares for z in share.passages})
    bound_m = rope_reach_m(gear.farthest)
    # What the rope does not prove clear the gear is within twice the rope and the margin of.
    out_to_m = max(
        scene.settings.reach_m, 2.0 * bound_m + max((d.margin_m for d in scene.demands), default=0.0)
    )
    measured = _measured(scene, groups, stretches, near, out_to_m) if near else {}
    guessed = ("no_warp",) if warp_is_guessed(gear.rigging.warp) else ()
    found, grounds, count = [], [], scene.settings.gear_proof.sigmas
    outlines = [likely_outline(stretch, gear.rigging, count) for stretch in stretches]
    for number, share in enumerate(shares):
        swept = SweptShare(stretches=stretches, rigging=gear.rigging, covered=share.group.covered)
        grounds.append(likely_ground(swept, count, outlines))
        own, followed = {}, _followed(share.group, stretches)
        for z, vessel in share.passages.items():
            rope_m = _less(vessel.clearance_m, bound_m + scene.off_m(z))
            unseen_m = np.inf if followed or rope_m is None else rope_m
            limits = GearMeasure(rope_m=rope_m, unseen_m=unseen_m, flags=guessed)
            curves = measured.get((number, z), [])
            own[z] = _joined(scene, curves, swept, limits) if curves else _unseen(vessel, limits)
        own = _with_ground(scene, swept, grounds[-1], own)
        found.append(Share(share.group, _within(own, scene.demands, scene.settings.reach_m)))
    return TowPassed(gear=gear, stretches=stretches, shares=tuple(found), likely=tuple(grounds))


def _followed(group: Group, stretches: Sequence[GearStretch]) -> bool:
    """Return whether the model can be relied on for all of a group: gear on the bottom, its warp not moving.

    How far the warp has come in, and where the net drags that the doors have left behind, is guessed; and
    where the vessel did not move there is no path.
    """
    return group.activity is Activity.TOWING and not len(between(group.covered, contact(stretches)))


def _ends(groups: Sequence[Group]) -> np.ndarray:
    """Return the places at which shares end, which have to be nodes."""
    return np.unique(np.concatenate([np.empty(0), *(part for g in groups for part in g.covered)]))


def _within(own: Mapping[int, Passage], demands: Sequence[Demand], reach_m: float) -> dict[int, Passage]:
    """Leave out what is proved clear beyond the reach."""
    kept = {}
    for z, passage in own.items():
        gear = passage.gear
        nearest = [m for m in (passage.clearance_m, gear.likely_m if gear else None) if m is not None]
        open_ = gear is None or gear.rope_m is None or gear.rope_m < demands[z].margin_m
        if open_ or min(nearest, default=np.inf) < reach_m:
            kept[z] = passage
    return kept


_Found = tuple[GearCurve, Passage]


def _measured(
    scene: PathScene,
    groups: Sequence[Group],
    stretches: Sequence[GearStretch],
    near: Sequence[int],
    out_to_m: float,
) -> dict[tuple[int, int], list[_Found]]:
    """Return by group and zone how each tracer of the gear passed, out to a distance at the least."""
    down = contact(stretches)
    own = [(n, replace(g, covered=intersect(g.covered, down))) for n, g in enumerate(groups)]
    own = [(n, group) for n, group in own if len(group.covered)]
    return _passages(scene, curves_of(stretches, scene.path), own, near, out_to_m) if own else {}


def _passages(
    scene: PathScene,
    curves: Sequence[GearCurve],
    own: Sequence[tuple[int, Group]],
    near: Sequence[int],
    out_to_m: float,
) -> dict[tuple[int, int], list[_Found]]:
    """Return how curves passed some zones, by the number of the group and the zone."""
    found: dict[tuple[int, int], list[_Found]] = {}
    for curve in curves:
        batch = curve_batch(curve, [group for _, group in own])
        measured = measure(batch, scene.boundaries, scene.demands, out_to_m)
        some = {(p.group, p.zone): p for p in measured}
        for at, (number, _) in enumerate(own):
            for z in near:
                passage = some.get((at, z))
                if scene.zones[z].rules.allowed_only_inside:
                    passage = turned_round(batch, at, z, scene.boundaries, passage, scene.demands[z])
                if passage is not None:
                    found.setdefault((number, z), []).append((curve, passage))
    return found


def curves_of(stretches: Sequence[GearStretch], path: Path) -> list[GearCurve]:
    """Return each tracer through all stretches of a tow."""
    place = np.concatenate([stretch.lead.place for stretch in stretches])
    return [
        GearCurve.of(
            same[0].part,
            place,
            np.concatenate([tracer.lon_deg for tracer in same]),
            np.concatenate([tracer.lat_deg for tracer in same]),
            path,
        )
        for same in zip(*(stretch.tracers for stretch in stretches), strict=True)
    ]


def contact(stretches: Sequence[GearStretch]) -> Intervals:
    """Return the places while doors and net may be on the bottom."""
    first, last = [], []
    for stretch in stretches:
        down = np.flatnonzero(stretch.down)
        cuts = np.flatnonzero(np.diff(down) > 1) + 1
        for run in np.split(down, cuts) if len(down) else []:
            first.append(float(stretch.lead.place[run[0]]))
            last.append(float(stretch.lead.place[run[-1]]))
    return merged(first, last, touch=0.0)


def _joined(scene: PathScene, found: Sequence[_Found], swept: SweptShare, limits: GearMeasure) -> Passage:
    """Return how the gear as a whole passed: the worst of its tracers, all their stays and stretches."""
    curve, worst = min(found, key=lambda one: np.inf if one[1].clearance_m is None else one[1].clearance_m)
    place = _place_of(curve, worst.closest)
    stretch, node = _node(swept.stretches, place)
    sigmas = scene.settings.gear_proof.sigmas
    aside_m = sigmas * float(stretch.sigmas.cross_m[node])
    if curve.part == "net":
        aside_m = _net_aside_m(aside_m, float(stretch.layback_m[node]), swept.rigging)
    off_m = max(sigmas * float(stretch.sigmas.along_m[node]), aside_m)
    return replace(
        worst,
        inside=union(*[passage.inside for _, passage in found]),
        close=union(*[passage.close for _, passage in found]),
        gear=replace(
            limits,
            part=curve.part,
            carrier=curve,
            uncertainty_m=off_m + scene.off_m(worst.zone),
            flags=(*limits.flags, *_flags(stretch, node)),
        ),
    )


def _net_aside_m(aside_m: float, layback_m: float, rigging: Rigging) -> float:
    """Return how far aside the net may be where the doors may be so far: what turns the warps turns it."""
    behind_m = rigging.sweeps.value + rigging.net_length.value
    return float(np.hypot(aside_m, behind_m * min(aside_m / max(layback_m, 1.0), 1.0)))


def _place_of(curve: GearCurve, closest: Closest | None) -> float:
    """Return the place of the node of a curve that is nearest to where it was closest."""
    if closest is None:
        return float(curve.place[0])
    here = to_geocentric(np.array([closest.lon_deg]), np.array([closest.lat_deg]))
    return float(curve.place[np.argmin(((curve.xyz_m - here) ** 2).sum(axis=1))])


def _node(stretches: Sequence[GearStretch], place: float) -> tuple[GearStretch, int]:
    """Return the stretch and node nearest to a place."""
    apart = [np.abs(stretch.lead.place - place) for stretch in stretches]
    best = int(np.argmin([some.min() for some in apart]))
    return stretches[best], int(np.argmin(apart[best]))


def _flags(stretch: GearStretch, node: int) -> tuple[str, ...]:
    return tuple(kind for kind, mask in _masks(stretch).items() if mask[node])


@lru_cache(maxsize=8)
def _masks(stretch: GearStretch) -> Mapping[str, BoolArray]:
    """Return the masks of a stretch, which every zone asks for again."""
    return flag_masks(stretch)


def _with_ground(
    scene: PathScene, swept: SweptShare, likely: Swept, own: dict[int, Passage]
) -> dict[int, Passage]:
    """Return passages with what the swept ground tells: zones between the doors, and the likely clearance."""
    zones = scene.zones
    touchable = [z for z, p in own.items() if _beside_m(p, zones[z]) < _widest_m(swept.rigging)]
    if touchable:
        ground = swept_ground(swept)
        for z in touchable:
            met = met_at(ground, zones[z], z, scene.boundaries)
            if met is not None:
                own[z] = _run_over(scene, own[z], met)
    doubtful = [z for z, p in own.items() if _needs_likely(p, scene.demands[z])]
    if doubtful:
        near = nearness(likely, zones, doubtful, scene.boundaries)
        for z, nearest_m, *at in zip(doubtful, *(column.tolist() for column in near), strict=True):
            place = (at[0], at[1]) if np.isfinite(nearest_m) else None
            own[z] = _with_likely(own[z], swept.stretches, nearest_m - scene.off_m(z), place)
    return own


def _beside_m(passage: Passage, zone: Zone) -> float:
    """Return how far the nearest tracer passed beside the shape of a zone, infinite where one touched it."""
    if passage.clearance_m is None or passage.clearance_m + zone.radius_m <= 0.0:
        return np.inf
    return passage.clearance_m + zone.radius_m


def _needs_likely(passage: Passage, demand: Demand) -> bool:
    """Return whether the length of the rope alone does not prove a passage clear."""
    if passage.gear is None or passage.clearance_m is None:
        return False
    return passage.gear.rope_m is None or passage.gear.rope_m < max(demand.margin_m, TOUCH_M)


def _widest_m(rigging: Rigging) -> float:
    return float(rigging.door_spread.value + rigging.net_length.value)


def _with_likely(
    passage: Passage, stretches: Sequence[GearStretch], likely_m: float, at: tuple[float, float] | None
) -> Passage:
    """Return a passage with how near the gear may have come, where, and the flags that hold there."""
    gear, nominal_m = passage.gear, passage.clearance_m if passage.clearance_m is not None else np.inf
    if gear is None:
        return passage
    there = _flags(*_node_at(stretches, at)) if at is not None else ()
    flags = tuple(dict.fromkeys([*gear.flags, *there]))
    return replace(passage, gear=replace(gear, likely_m=min(likely_m, nominal_m), likely_at=at, flags=flags))


def _node_at(stretches: Sequence[GearStretch], at: tuple[float, float]) -> tuple[GearStretch, int]:
    """Return the stretch and the node at which the gear was nearest to a position."""
    here = to_geocentric(np.array([at[0]]), np.array([at[1]]))
    apart = []
    for stretch in stretches:
        own = [to_geocentric(tracer.lon_deg, tracer.lat_deg) - here for tracer in stretch.tracers]
        apart.append(np.min([(some**2).sum(axis=1) for some in own], axis=0))
    best = int(np.argmin([some.min() for some in apart]))
    return stretches[best], int(np.argmin(apart[best]))


def _run_over(scene: PathScene, passage: Passage, met: tuple[float, float]) -> Passage:
    """Return a passage in which the gear went over some of the zone, though no tracer touched it."""
    zone, carrier = scene.zones[passage.zone], passage.gear.carrier if passage.gear else None
    clearance_m = 0.0 - zone.radius_m  # and not minus nothing
    if passage.closest is None or carrier is None:
        return replace(passage, clearance_m=clearance_m)
    nearest = passage.closest
    bearing = nearest.bearing_deg
    edge = met
    if zone.radius_m > 0.0:
        lon, lat, _ = WGS84.fwd(*met, bearing or 0.0, zone.radius_m)
        edge = (float(lon), float(lat))
    there = replace(
        nearest,
        lon_deg=met[0],
        lat_deg=met[1],
        zone_lon_deg=edge[0],
        zone_lat_deg=edge[1],
        bearing_deg=bearing if zone.radius_m > 0.0 else None,
    )
    return replace(passage, clearance_m=clearance_m, closest=there)
