"""What is known of the gear on the sea bed: figures with their basis, its path, how surely it is there."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "Basis",
    "Figure",
    "FigureEffect",
    "GearAccount",
    "GearFlag",
    "GearLine",
    "GearReach",
    "GearTier",
    "GearTow",
    "Ring",
]


class Basis(StrEnum):
    """Where a figure comes from."""

    STATED = "stated"
    TRACK = "track"
    HAUL_LOG = "haul_log"
    DERIVED = "derived"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of the gear with how sure it is.

    Parameters
    ----------
    name : str
        As in the vessel profile, for example ``warp``.
    value : float
        In the unit named; of a figure that changes within a tow, its mean.
    sigma : float
        Standard deviation, same unit.
    unit : str
        ``m``, ``kn``, ``m/s``, ``s`` or ``deg``.
    basis : Basis
    source : str
        In words: where the value comes from, for people.
    low, high : float or None
        Where the spread is known to be lopsided: values between which it lies nineteen times in twenty.
    """

    name: str
    value: float
    sigma: float
    unit: str
    basis: Basis
    source: str
    low: float | None = None
    high: float | None = None


class GearTier(StrEnum):
    """How surely the gear kept its distance, worst first."""

    SHOWN = "shown"
    POSSIBLE = "possible"
    NOT_RULED_OUT = "cannot_be_ruled_out"
    PROVED_CLEAR = "proved_clear"


@dataclass(frozen=True, slots=True, kw_only=True)
class GearReach:
    """What a gear row knows beyond its clearance.

    Parameters
    ----------
    nearest_part : str
        ``port door``, ``starboard door``, ``clump``, ``net``, ``port beam`` or ``starboard beam``; empty
        where no path of the gear is known.
    tier : GearTier
    sigmas : float
        How many standard deviations wide the likely corridor is.
    likely_clearance_m : float or None
        Least clearance of that corridor; 0 where it reaches the zone, however deep, which is not computed;
        ``None`` when nothing of it is.
    likely_at : tuple of float or None
        Where on its rim that is, longitude and latitude.
    rope_clearance_m : float or None
        Clearance that the length of warp, sweeps and net alone leaves, whatever the gear did.
    flags : tuple of str
        Kinds of `GearFlag` that hold where the gear was nearest, or may have been.
    """

    nearest_part: str
    tier: GearTier
    sigmas: float
    likely_clearance_m: float | None
    rope_clearance_m: float | None
    flags: tuple[str, ...] = ()
    likely_at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearLine:
    """The path of one part of the gear on one stretch.

    ``lon_deg`` and ``lat_deg`` have shape ``(n,)``, longitudes within [-180, 180]; ``place`` are the places
    of the vessel on its track at the same moments, ``time_s`` those moments (seconds since 1970, ``NaN``
    where unknown).
    """

    part: str
    lon_deg: FloatArray
    lat_deg: FloatArray
    place: FloatArray
    time_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class GearFlag:
    """A stretch on which the model knows less than elsewhere.

    ``kind`` is a fixed word, ``words`` say it to a skipper; times are ``NaT`` where unknown or where the
    flag holds for all of the tow. ``at`` is where the vessel was at its beginning, longitude and latitude,
    ``None`` where it holds for all of the tow.
    """

    kind: str
    from_utc: np.datetime64
    to_utc: np.datetime64
    words: str
    at: tuple[float, float] | None = None


_UNKNOWN = np.datetime64("NaT", "us")

Ring = FloatArray
"""Corners of a closed ring, shape ``(n, 2)``, longitude and latitude, unrolled at 180 degrees."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearTow:
    """The gear of one tow.

    Parameters
    ----------
    track_id : str
    tow : int
    lines : tuple of GearLine
    corridor, likely : tuple of tuple of Ring
        Polygons (shell, then holes) of the sea bed swept between the doors (or under the beams) by the
        figures as they are, and of the sea bed the gear may have been over allowing for their spread.
    net_corridor : tuple of tuple of Ring
        Swept between wing-ends and codend.
    swept_m2 : float
        Area of ``corridor``, on the ellipsoid.
    layback_m : tuple of float
        Least and greatest distance from block to doors over the ground while towing.
    rope_bound_m : float
        No part of the gear was farther from the antenna, whatever it did.
    first_contact_utc, last_contact_utc : datetime64[us]
        When, by the figures, the doors came to the bottom and left it.
    earliest_utc, latest_utc : datetime64[us]
        Between which any part of the gear may have touched the bottom.
    figures : tuple of Figure
    flags : tuple of GearFlag
    on_bottom : bool
        Whether the gear works there; of midwater gear "bottom" is the depth it fishes at.
    why_not : str
        Why nothing was computed, in a sentence; then all the rest is empty or ``NaN``.
    """

    track_id: str
    tow: int
    on_bottom: bool = True
    lines: tuple[GearLine, ...] = ()
    corridor: tuple[tuple[Ring, ...], ...] = ()
    net_corridor: tuple[tuple[Ring, ...], ...] = ()
    likely: tuple[tuple[Ring, ...], ...] = ()
    swept_m2: float = np.nan
    layback_m: tuple[float, float] = (np.nan, np.nan)
    rope_bound_m: float = np.nan
    first_contact_utc: np.datetime64 = _UNKNOWN
    last_contact_utc: np.datetime64 = _UNKNOWN
    earliest_utc: np.datetime64 = _UNKNOWN
    latest_utc: np.datetime64 = _UNKNOWN
    figures: tuple[Figure, ...] = ()
    flags: tuple[GearFlag, ...] = ()
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureEffect:
    """What one figure does to the least clearance when it alone is changed.

    ``low_value`` and ``high_value`` are the figure two standard deviations lower and higher (or its known
    limits; of an error whose direction is not known, minus means away from the zone), ``low_clearance_m``
    and ``high_clearance_m`` the clearances with them (``None``: no contact with the bottom, or not
    computable).
    """

    figure: Figure
    low_value: float
    high_value: float
    low_clearance_m: float | None
    high_clearance_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GearAccount:
    """The gear of a check.

    Parameters
    ----------
    tows : tuple of GearTow
    effects : tuple of FigureEffect
        For the gear row with the least clearance, the figure that matters most first.
    effects_track_id, effects_tow, effects_zone_id, effects_clearance_m
        Which row that is, and its clearance; ``None`` where there is none.
    """

    tows: tuple[GearTow, ...] = ()
    effects: tuple[FigureEffect, ...] = ()
    effects_track_id: str | None = None
    effects_tow: int | None = None
    effects_zone_id: str | None = None
    effects_clearance_m: float | None = None
