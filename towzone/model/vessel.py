"""What is known of a vessel before it sails."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from towzone.model.zone import ZoneKind

__all__ = ["Vessel"]


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
    """

    name: str = ""
    gear: str | None = None
    max_speed_kn: float | None = None
    position_error_m: float | None = None
    margins_m: Mapping[ZoneKind, float] = field(default_factory=dict)
