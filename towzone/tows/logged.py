"""One haul as the log of the vessel tells it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.model.gears import GEAR_NAMES

__all__ = ["LoggedHaul"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedHaul:
    """From shooting to hauling, with what was out.

    Parameters
    ----------
    haul : str
        What the log calls it, unique there; untrusted text.
    shoot_utc, haul_utc : datetime64[us]
        When the gear was shot, and when it was hauled, which is later.
    warp_m, depth_m, door_spread_m : float or None
        Length of the warp, depth of the water, distance of the doors; ``None`` where the log does not say.
    gear : str or None
        A code of `towzone.model.gears.GEAR_NAMES`.
    line : int
        Line of the log, from 1; 0 where it has none.
    """

    haul: str
    shoot_utc: np.datetime64
    haul_utc: np.datetime64
    warp_m: float | None = None
    depth_m: float | None = None
    door_spread_m: float | None = None
    gear: str | None = None
    line: int = 0

    def __post_init__(self) -> None:
        if not self.shoot_utc < self.haul_utc:  # refuses NaT, too
            message = f"haul {self.haul!r} does not end after it begins"
            raise ValueError(message)
        if self.gear is not None and self.gear not in GEAR_NAMES:
            message = f"{self.gear!r} is not a gear code"
            raise ValueError(message)
