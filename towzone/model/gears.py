"""Fishing gear codes, the groups they belong to, and which of them work on the sea bed.

Published: the three-letter codes are those of Implementing Regulation (EU) 404/2011, Annex XI, and of the
FAO/CWP International Standard Statistical Classification of Fishing Gear (ISSCFG, Revision 1, 2016). Which
codes are collective ("not specified") follows their names there; what touches the bottom is common
practice, no source.
"""

from __future__ import annotations

__all__ = ["GEAR_NAMES", "GROUPS", "covered", "works_on_bottom"]

GEAR_NAMES = {
    "OTB": "bottom otter trawls",
    "OTT": "otter twin trawls",
    "OTP": "multiple bottom otter trawls",
    "PTB": "bottom pair trawls",
    "TBB": "beam trawls",
    "TBN": "nephrops trawls",
    "TBS": "shrimp trawls",
    "TB": "bottom trawls, not specified",
    "OTM": "midwater otter trawls",
    "PTM": "midwater pair trawls",
    "TM": "midwater trawls, not specified",
    "TSP": "semipelagic trawls",
    "TX": "trawls, not specified",
    "DRB": "towed dredges",
    "DRH": "hand dredges",
    "DRM": "mechanised dredges",
    "HMD": "mechanised dredges (404/2011)",
    "DRX": "dredges, not specified",
    "SDN": "Danish anchor seines",
    "SSC": "Scottish seines",
    "SPR": "pair seines",
    "SV": "boat seines",
    "SB": "beach seines",
    "SX": "seine nets, not specified",
    "PS": "purse seines",
    "GNS": "set gillnets",
    "GND": "drift gillnets",
    "GTR": "trammel nets",
    "GN": "gillnets, not specified",
    "LLS": "set longlines",
    "LLD": "drifting longlines",
    "LL": "longlines, not specified",
    "LHP": "handlines and pole-lines",
    "FPO": "pots",
}

GROUPS = {
    "TB": ("OTB", "OTT", "OTP", "PTB", "TBB", "TBN", "TBS"),
    "TM": ("OTM", "PTM"),
    "TX": ("OTB", "OTT", "OTP", "PTB", "TBB", "TBN", "TBS", "TB", "OTM", "PTM", "TM", "TSP"),
    "DRX": ("DRB", "DRH", "DRM", "HMD"),
    "DRM": ("HMD",),
    "HMD": ("DRM",),
    "SV": ("SDN", "SSC", "SPR"),
    "SX": ("SDN", "SSC", "SPR", "SV", "SB"),
    "GN": ("GNS", "GND", "GTR"),
    "LL": ("LLS", "LLD"),
}
"""Collective codes and what they take in; two codes of one gear take in each other."""

_OFF_BOTTOM = frozenset({"OTM", "PTM", "TM", "PS", "GND", "LLD", "LHP"})
_UNSURE_BOTTOM = frozenset({"TX", "LL", "GN"})


def covered(gear: str | None, codes: tuple[str, ...]) -> bool | None:
    """Return whether a gear is among codes; ``None`` when that cannot be said.

    Parameters
    ----------
    gear : str or None
        A code of `GEAR_NAMES`, ``None`` when the gear is not known.
    codes : tuple of str
        Collective codes take in their members.

    Examples
    --------
    >>> covered("OTT", ("TB",)), covered("OTM", ("TB",)), covered("TX", ("OTB",)), covered(None, ("OTB",))
    (True, False, None, None)
    """
    meant = set(codes) | {member for code in codes for member in GROUPS.get(code, ())}
    if gear is None:
        return None if codes else False
    if gear in meant:
        return True
    members = GROUPS.get(gear, ())
    if not members or not meant & set(members):
        return False
    # The gear is only known by a collective name, of which the codes take in some (or all) members.
    return True if set(members) <= meant else None


def works_on_bottom(gear: str | None) -> bool | None:
    """Return whether a gear works on the sea bed; ``None`` when that cannot be said.

    Examples
    --------
    >>> works_on_bottom("OTB"), works_on_bottom("PTM"), works_on_bottom("TX"), works_on_bottom(None)
    (True, False, None, None)
    """
    if gear is None or gear in _UNSURE_BOTTOM:
        return None
    return gear not in _OFF_BOTTOM
