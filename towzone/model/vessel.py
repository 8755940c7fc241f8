"""What is known of a vessel and its gear before it sails."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from towzone.model.zone import ZoneKind

__all__ = ["Current", "GearFigures", "PlanFigures", "Rig", "Vessel"]


class Rig(StrEnum):
    """How the gear is rigged."""

    SINGLE = "single"
    TWIN = "twin"
    BEAM = "beam"


@dataclass(frozen=True, slots=True, kw_only=True)
class Current:
    """A steady current at the gear: where it sets to, degrees true, and how fast, knots."""

    set_deg: float
    drift_kn: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GearFigures:
    """The figures of a profile that say where the gear is; ``None`` where it does not say.

    Parameters
    ----------
    rig : Rig or None
    warp_m : float or None
        Warp out from the towing block to the doors (beam trawl: to the beam, its chains counted in).
    clump_warp_m : float or None
        Middle warp of a twin rig, block to clump.
    depth_m : float or None
        Depth of the water at the doors; of a midwater trawl, depth of the doors.
    block_height_m, block_separation_m : float or None
        Height of the towing blocks above the water, distance between them.
    door_spread_m : float or None
        From door to door, of a twin rig from outer door to outer door.
    warps_apart_m, warps_apart_at_m : float or None
        How far the warps are apart, measured so far down them from the blocks: gives the door spread.
    sweeps_m, net_length_m, wing_spread_m : float or None
        Sweeps and bridles from door to wing-end; net from wing-ends to codend; between the wing-ends
        (of one net).
    beam_length_m, beams_apart_m : float or None
        Of a beam trawl: length of one beam, and distance between the middles of the two (0: a single one).
    block_aft_m, block_starboard_m : float or None
        Towing block as seen from the antenna; negative forward or to port.
    tow_speed_kn : float or None
    heave_speed_mps : float or None
        How fast the warp comes in while hauling.
    shoot_time_s : float or None
        From the net in the water to the brakes on.
    current : Current or None
    strongest_kn : float or None
        The strongest current that may be there beside, from any direction; ``None``: its spread is assumed.
    """

    rig: Rig | None = None
    warp_m: float | None = None
    clump_warp_m: float | None = None
    depth_m: float | None = None
    block_height_m: float | None = None
    block_separation_m: float | None = None
    door_spread_m: float | None = None
    warps_apart_m: float | None = None
    warps_apart_at_m: float | None = None
    sweeps_m: float | None = None
    net_length_m: float | None = None
    wing_spread_m: float | None = None
    beam_length_m: float | None = None
    beams_apart_m: float | None = None
    block_aft_m: float | None = None
    block_starboard_m: float | None = None
    tow_speed_kn: float | None = None
    heave_speed_mps: float | None = None
    shoot_time_s: float | None = None
    current: Current | None = None
    strongest_kn: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFigures:
    """The figures of a profile that only planning needs; ``None`` where it does not say.

    Parameters
    ----------
    hauling_way_kn : float or None
        Speed of the vessel over the ground while the gear is hauled; not how fast the warp comes in.
    tow_fuel_l_per_h : float or None
        Litres of fuel an hour while towing.
    strongest_kn : float or None
        The strongest current at the gear that is reckoned with, from any direction.
    """

    hauling_way_kn: float | None = None
    tow_fuel_l_per_h: float | None = None
    strongest_kn: float | None = None


_NO_PLAN_FIGURES = PlanFigures()


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """A vessel profile; ``None`` where it does not say.

    Parameters
    ----------
    name : str
        Untrusted text; empty when not stated.
    gear : str or None
        A code of `towzone.model.gears.GEAR_NAMES`.
    max_speed_kn : float or None
    position_error_m : float or None
    margins_m : mapping of ZoneKind to float
        Required clearance from zones that state none, metres.
    figures : GearFigures or None
        ``None`` where the profile has no table ``[gear]``: then where the gear is is not computed.
    plan : PlanFigures
        What only planning uses; a check is the same whatever they are.
    """

    name: str = ""
    gear: str | None = None
    max_speed_kn: float | None = None
    position_error_m: float | None = None
    margins_m: Mapping[ZoneKind, float] = field(default_factory=dict)
    figures: GearFigures | None = None
    plan: PlanFigures = _NO_PLAN_FIGURES
