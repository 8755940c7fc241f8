"""What a check may assume; every value ends up in the result."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from towzone.geodesy.lines import LineKind
from towzone.model.track import Track
from towzone.model.vessel import GearFigures
from towzone.model.zone import ZoneKind
from towzone.tows.logged import LoggedHaul
from towzone.units import NAUTICAL_MILE_M

__all__ = ["CheckSettings", "GearProof", "MoveOnRule", "Towing", "coarseness"]

_COARSE_M = 1.0
"""Own choice: digits finer than this are part of the position error itself."""


class Towing(StrEnum):
    """Which part of a completed track counts as towing."""

    DETECT = "detect"
    ALL = "all"
    NONE = "none"
    LOG = "log"


class GearProof(StrEnum):
    """What proves that the gear kept clear.

    ``rope``: that no part of it can have been near enough, by the length of warp, sweeps and net alone;
    ``model``: that it kept clear by the model of its path, allowing for three standard deviations.
    """

    ROPE = "rope"
    MODEL = "model"

    @property
    def sigmas(self) -> float:
        """How many standard deviations wide the likely corridor is."""
        return 3.0 if self is GearProof.MODEL else 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveOnRule:
    """A rule to shoot at least ``distance_m`` from every position of tow ``from_tow`` (from 1)."""

    distance_m: float
    from_tow: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckSettings:
    """Settings of a check, in SI units and knots.

    Parameters
    ----------
    margin_m : float or None
        Required clearance that overrides every zone's own; ``None`` leaves theirs.
    position_error_m : float
        How far a position may be from the truth. Default 15 m: common practice, no source.
    steering_m : float
        How far off a planned line the vessel may be steered.
    gap_s : float
        Longest time between two fixes over which the vessel is taken on the geodesic between them.
    max_speed_kn : float
        Fastest the vessel can go, for gaps. Default 12 kn: common practice, no source.
    towing : Towing
    hauls : tuple of LoggedHaul
        The haul log, for `Towing.LOG`.
    legs : LineKind
        How the corners of a planned route are joined: rhumb or geodesic.
    kind_margins_m : mapping of ZoneKind to float
        Required clearance from zones of a kind that state none.
    gear : str or None
        Code of the gear that is towed (`towzone.model.gears`), ``None`` when not known.
    figures : GearFigures or None
        Figures of the gear; ``None``: where the gear is is not computed.
    gear_proof : GearProof
    on : date or None
        The day on which everything without times happened or will happen.
    move_on : MoveOnRule or None
    reach_m : float
        Pairs proved clear beyond this are counted, not listed.
    """

    margin_m: float | None = None
    position_error_m: float = 15.0
    steering_m: float = 0.0
    gap_s: float = 900.0
    max_speed_kn: float = 12.0
    towing: Towing = Towing.DETECT
    hauls: tuple[LoggedHaul, ...] = ()
    legs: LineKind = LineKind.RHUMB
    kind_margins_m: Mapping[ZoneKind, float] = field(default_factory=dict)
    gear: str | None = None
    figures: GearFigures | None = None
    gear_proof: GearProof = GearProof.ROPE
    on: date | None = None
    move_on: MoveOnRule | None = None
    reach_m: float = 5.0 * NAUTICAL_MILE_M


def coarseness(track: Track) -> float:
    """Return by how much more positions may be off because their source gives them coarsely, metres."""
    return track.resolution_m if track.resolution_m >= _COARSE_M else 0.0
