"""Which gears have a place behind the vessel that is computed, and how they are rigged."""

from __future__ import annotations

from towzone.model.gears import GEAR_NAMES
from towzone.model.vessel import Rig

__all__ = ["is_midwater", "rigs_of", "usual_rig", "why_not_modelled"]

_ANY = (Rig.SINGLE, Rig.TWIN, Rig.BEAM)
_OTTER = (Rig.SINGLE, Rig.TWIN)
_RIGS = {
    "OTB": _OTTER,
    "OTT": (Rig.TWIN,),
    "OTP": (Rig.TWIN,),
    "TBB": (Rig.BEAM,),
    "TBN": _OTTER,
    "TBS": _ANY,
    "TB": _ANY,
    "TX": _ANY,
    "OTM": _OTTER,
    "TM": _OTTER,
    "TSP": _OTTER,
}
"""By gear code, the usual rig first. What the codes mean follows their names; shrimp is trawled with beams
too (common practice, no source)."""

_MIDWATER = frozenset({"OTM", "TM", "TSP"})
_PAIRED = frozenset({"PTB", "PTM", "SPR"})
_DREDGES = frozenset({"DRB", "DRH", "DRM", "HMD", "DRX"})
_SEINES = frozenset({"SDN", "SSC", "SV", "SB", "SX", "PS"})


def rigs_of(gear: str | None) -> tuple[Rig, ...]:
    """Return how a gear may be rigged, the usual way first; nothing for a gear that is not modelled.

    Examples
    --------
    >>> [rig.value for rig in rigs_of("OTT")], [rig.value for rig in rigs_of("GNS")]
    (['twin'], [])
    """
    return _ANY if gear is None else _RIGS.get(gear, ())


def usual_rig(gear: str | None) -> Rig | None:
    """Return the rig that a gear code tells or, where it leaves a choice, the usual one.

    ``None`` for a gear that is not modelled.
    """
    return next(iter(rigs_of(gear)), None)


def is_midwater(gear: str | None) -> bool:
    """Return whether the doors are in midwater, so that the depth that counts is theirs."""
    return gear in _MIDWATER


def why_not_modelled(gear: str | None) -> str:
    """Return why the place of a gear cannot be computed, in a sentence; empty where it can.

    Examples
    --------
    >>> why_not_modelled("GNS")
    'set gillnets (GNS) are not towed behind the vessel on warps; where they lie is not computed.'
    >>> why_not_modelled("OTB")
    ''
    """
    if rigs_of(gear) or gear is None:
        return ""
    name = f"{GEAR_NAMES[gear]} ({gear})"
    if gear in _PAIRED:
        return f"{name} lie between two vessels; where needs the tracks of both, and is not computed."
    if gear in _DREDGES:
        return f"the place of {name} is not computed: how they follow a vessel is not modelled."
    if gear in _SEINES:
        return f"{name} lie in a ring that the vessel lays out, not astern of it; where is not computed."
    return f"{name} are not towed behind the vessel on warps; where they lie is not computed."
