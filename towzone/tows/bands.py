"""How fast vessels tow what gear: where each band of speeds comes from, and gears that speed cannot show."""

from __future__ import annotations

from dataclasses import dataclass

from towzone.errors import UsageError, quoted
from towzone.model.gears import GEAR_NAMES

__all__ = ["Band", "GearBand", "band_of_gear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The speeds over the ground that were looked for.

    Parameters
    ----------
    low_kn, high_kn : float
        Between them a vessel may be towing, and is taken to be when all else speaks for it too.
    stream_low_kn, stream_high_kn : float
        The same or wider: to these a stream may carry a tow of this trip that is like the others otherwise.
    doubt_low_kn, doubt_high_kn : float
        The same or wider: what lies between these but not between the others cannot be told.
    basis : str
        Where the figures come from, in a sentence.
    """

    low_kn: float
    high_kn: float
    stream_low_kn: float
    stream_high_kn: float
    doubt_low_kn: float
    doubt_high_kn: float
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GearBand:
    """What is known of a gear before a trip is looked at.

    Parameters
    ----------
    low_kn, high_kn, doubt_high_kn : float
        As in `Band`; nothing slower than ``low_kn`` is in doubt.
    straight : bool
        Whether it is towed on a steady course, so that a wandering heading speaks against towing.
    source : str
    """

    low_kn: float
    high_kn: float
    doubt_high_kn: float
    straight: bool
    source: str


def _band(
    low_kn: float, high_kn: float, source: str, *, doubt_kn: float = 0.0, straight: bool = True
) -> GearBand:
    return GearBand(
        low_kn=low_kn,
        high_kn=high_kn,
        doubt_high_kn=max(high_kn, doubt_kn),
        straight=straight,
        source=source,
    )


_OTTER = (
    "rules of 1.5 to 4.5 kn for Irish otter trawlers (Gerritsen and Lordan 2011, ICES J. Mar. Sci. 68:245) "
    "and 2 to 5 kn for Norwegian stern trawlers (Skaar et al. 2011, ICES J. Mar. Sci. 68:1615)"
)
_TWIN = (
    "otter trawlers working on crustaceans and fish, 2.5 (sd 0.3) to 3.4 (sd 0.45) kn "
    "(Eigaard et al. 2016, ICES J. Mar. Sci. 73:i27)"
)
_CRUSTACEAN = (
    "vessels towing for crustaceans, 2.5 (sd 0.3) kn (Eigaard et al. 2016, ICES J. Mar. Sci. 73:i27)"
)
_BEAM = "beam trawlers on flatfish, 5.2 (sd 1.3) kn (Eigaard et al. 2016, ICES J. Mar. Sci. 73:i27)"
_SHRIMP = "beam trawlers on shrimp, 3.0 (sd 0.5) kn (Eigaard et al. 2016, ICES J. Mar. Sci. 73:i27)"
_PRACTICE = "common practice, no source"
_ANY = f"{_OTTER}; up to 8 kn it may be a beam trawl: {_BEAM}"

_OTTER_BAND = _band(1.5, 5.0, _OTTER)
_UNKNOWN_GEAR = _band(1.5, 5.0, _ANY, doubt_kn=8.0)
_MIDWATER = _band(1.5, 6.0, _PRACTICE)

_BANDS = {
    "OTB": _OTTER_BAND,
    "PTB": _OTTER_BAND,
    "OTT": _band(1.5, 4.5, _TWIN),
    "OTP": _band(1.5, 4.5, _TWIN),
    "TBN": _band(1.5, 3.8, _CRUSTACEAN),
    "TBS": _band(1.5, 4.0, _SHRIMP),
    "TBB": _band(2.0, 8.0, _BEAM),
    "TB": _UNKNOWN_GEAR,
    "TX": _UNKNOWN_GEAR,
    "TSP": _MIDWATER,
    "OTM": _MIDWATER,
    "PTM": _MIDWATER,
    "TM": _MIDWATER,
    "DRB": _band(1.5, 5.0, _PRACTICE, straight=False),
}
"""Bands in knots. The figures are rounded outward from what their sources give: missing a tow is worse than
taking a slow passage for one."""

_STANDS_STILL = (
    "it works while the vessel lies still or creeps, and its ropes are laid at the speed of a passage"
)
_CREEPS = "it works so slowly that speed does not tell it from lying still"
_NOT_TOWED = "it is not towed"

_UNSEEN = {
    **dict.fromkeys(("SDN", "SSC", "SPR", "SV", "SX"), _STANDS_STILL),
    **dict.fromkeys(("DRM", "HMD", "DRX"), _CREEPS),
}
"""Gears that touch the sea bed and yet do not show in the speed of the vessel. Common practice, no source."""


def band_of_gear(gear: str | None) -> GearBand | str:
    """Return the band of a gear, or why speed cannot show when it works.

    Parameters
    ----------
    gear : str or None
        A code of `towzone.model.gears.GEAR_NAMES`; ``None`` when not known.

    Raises
    ------
    UsageError
        Not a code.

    Examples
    --------
    >>> band_of_gear("TBS").high_kn, band_of_gear(None).doubt_high_kn
    (4.0, 8.0)
    >>> band_of_gear("FPO")
    'it is not towed'
    """
    if gear is None:
        return _UNKNOWN_GEAR
    if gear not in GEAR_NAMES:
        message = f"gear {quoted(gear)} is not one of the codes {', '.join(sorted(GEAR_NAMES))}"
        raise UsageError(message)
    return _BANDS.get(gear) or _UNSEEN.get(gear, _NOT_TOWED)
