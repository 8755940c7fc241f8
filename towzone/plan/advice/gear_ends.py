"""How far gear reaches while it is shot and hauled on a straight course: by its figures, and at the most."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from towzone.checks.gear_figures import slowest_mps
from towzone.gear.bounds import longest_warp_m
from towzone.gear.figures import Rigging
from towzone.gear.stretch import laybacks_m
from towzone.gear.uncertainty import Sigmas, sag_sigma_m, sigmas
from towzone.gear.winch import (
    last_door_contact_reach_m,
    layback_at_warp_m,
    lift_off_scope,
    relative_m,
)
from towzone.model.vessel import Rig
from towzone.plan.judging import Judge
from towzone.units import KNOT_MPS

__all__ = ["GearEnds", "gear_ends"]

_SETTLED_M = 1e6
"""Way of doors whose bearing at the beginning is long forgotten."""

_SAMPLES = 200
"""Moments of shooting that are looked at. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GearEnds:
    """How far gear reaches while it is hauled and shot on a straight course, metres from the antenna.

    Parameters
    ----------
    off_ahead_m : float
        Where the doors are by the figures when they leave the bottom, ahead of where the haul was called;
        negative astern of it.
    last_ahead_m : float
        Where they can touch at the farthest, whatever they weigh.
    vessel_off_m, vessel_last_m : float
        The way of the vessel until then.
    back_m : float
        How far astern of where the brakes go on the net may lie by the figures, since the doors came down.
    wide_m : float
        How far aside of the vessel's way the outer door is: half the spread, and the set of a stated current.
    wide_surely_m : float
        The same, three standard deviations allowed for, the strongest current among them.
    sigma_m, place_sigma_m : float
        Standard deviation of the place of the doors along the tow; and of the place of the block alone.
    parts : str
        ``doors`` or ``beams``.
    """

    off_ahead_m: float
    last_ahead_m: float
    vessel_off_m: float
    vessel_last_m: float
    back_m: float
    wide_m: float
    wide_surely_m: float
    sigma_m: float
    place_sigma_m: float
    parts: str


def gear_ends(judge: Judge) -> GearEnds | None:
    """Return how far gear reaches while it is hauled and shot; ``None`` where nothing is known of it.

    Notes
    -----
    By the figures doors lift at three quarters of the scope, and surely when no more warp is out than the
    water is deep (`towzone.gear.winch`): there with the longest warp, the least depth and the slowest winch
    that the figures allow for. Shooting, the net lies as far astern as warp, sweeps and net reach while the
    vessel goes on; the winch pays out faster than it goes, so that this is farthest either when the doors
    come down or when the brakes go on, or in between.
    """
    rigging = judge.rigging
    if not isinstance(rigging, Rigging):
        return None
    way_mps = judge.settings.hauling_way_kn * KNOT_MPS
    warp_m, height_m = rigging.warp.value, rigging.depth.value + rigging.block_height.value
    heave_mps, aft_m = rigging.heave_speed.value, rigging.block_aft.value
    scope = float(lift_off_scope(max(warp_m / height_m, 1.0)))
    shallow_m = _shallow_m(rigging)
    longest_m, slow_mps = longest_warp_m(rigging), slowest_mps(rigging.heave_speed)
    last_m = float(last_door_contact_reach_m(longest_m, shallow_m, way_mps, slow_mps))
    tow_mps = judge.settings.speed_kn * KNOT_MPS
    known, layback_m = _sigmas(rigging, min(tow_mps, way_mps), height_m)
    stated_kn = rigging.current.drift_kn if rigging.current is not None else 0.0
    set_m = layback_m * min(stated_kn * KNOT_MPS / min(tow_mps, way_mps), 1.0)
    wide_m = rigging.door_spread.value / 2.0 + set_m
    return GearEnds(
        off_ahead_m=float(relative_m(warp_m, height_m, way_mps, heave_mps, scope)) - aft_m,
        last_ahead_m=last_m - aft_m,
        vessel_off_m=max(warp_m - scope * height_m, 0.0) / heave_mps * way_mps,
        vessel_last_m=last_m,
        back_m=_back_m(rigging, tow_mps, height_m) + aft_m,
        wide_m=wide_m,
        wide_surely_m=wide_m + 3.0 * float(known.cross_m[0]),
        sigma_m=float(known.along_m[0]),
        place_sigma_m=math.hypot(rigging.position.sigma, rigging.antenna.sigma),
        parts="beams" if rigging.rig is Rig.BEAM else "doors",
    )


def _shallow_m(rigging: Rigging) -> float:
    """Return a height of the block over the bottom that it hardly ever falls short of."""
    height_m = rigging.depth.value + rigging.block_height.value
    return max(height_m - 3.0 * math.hypot(rigging.depth.sigma, rigging.block_height.sigma), 0.0)


def _back_m(rigging: Rigging, speed_mps: float, height_m: float) -> float:
    """Return how far astern of the blocks' place at brakes on the net may lie since the doors came down."""
    warp_m, veer_mps = rigging.warp.value, rigging.veer_speed.value
    before_s = np.linspace(0.0, max(warp_m - height_m, 0.0) / veer_mps, _SAMPLES)
    out_m = layback_at_warp_m(warp_m - veer_mps * before_s, height_m)
    behind_m = rigging.sweeps.value + rigging.net_length.value
    return float((speed_mps * before_s + out_m).max()) + behind_m


def _sigmas(rigging: Rigging, speed_mps: float, height_m: float) -> tuple[Sigmas, float]:
    """Return how surely the doors are where the figures put them on a long straight tow; and the layback."""
    warp = np.array([rigging.warp.value])
    layback = laybacks_m(warp, np.array([height_m]), rigging)
    known = sigmas(
        warp_m=warp,
        height_m=height_m,
        layback_m=layback,
        speed_mps=speed_mps,
        beta_deg=0.0,
        settled_m=_SETTLED_M,
        warp_sigma_m=rigging.warp.sigma,
        height_sigma_m=math.hypot(rigging.depth.sigma, rigging.block_height.sigma),
        sag_sigma_m=sag_sigma_m(warp, layback),
        position_sigma_m=rigging.position.sigma,
        antenna_sigma_m=rigging.antenna.sigma,
        drift_sigma_mps=rigging.drift_sigma.sigma * KNOT_MPS,
        spread_sigma_m=rigging.door_spread.sigma,
    )
    return known, float(layback[0])
