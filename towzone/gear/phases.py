"""Warp that is out through a tow: veered while shooting, steady while towing, coming in while hauling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.gear.winch import lift_off_scope
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["Contact", "Winch", "contact_times", "warp_out_m"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Winch:
    """When and how fast the warp goes out and comes in.

    Parameters
    ----------
    shoot_s, haul_s : float
        Brakes on, and start of hauling, seconds of any clock; ``-inf`` and ``inf`` where the tow is not
        seen to begin or end.
    veer_mps, heave_mps : float
    """

    shoot_s: float
    haul_s: float
    veer_mps: float
    heave_mps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """When the gear was on the bottom, seconds of the same clock; infinite where the tow is not seen to end.

    By the figures the doors came down at ``first_s`` and left at ``last_s``; no part of the gear touched
    the bottom before ``earliest_s`` or after ``latest_s``.
    """

    first_s: float
    last_s: float
    earliest_s: float
    latest_s: float


def warp_out_m(clock_s: FloatArray, towed_m: FloatArray, winch: Winch) -> FloatArray:
    """Return the warp that is out at each moment, metres, never less than 0.

    Parameters
    ----------
    clock_s : ndarray, shape (n,)
        ``NaN`` where unknown: then the warp is what it is while towing.
    towed_m : ndarray, shape (n,)
        Warp that is out while towing.
    """
    early_s = np.clip(np.nan_to_num(winch.shoot_s - clock_s, nan=0.0, neginf=0.0), 0.0, None)
    late_s = np.clip(np.nan_to_num(clock_s - winch.haul_s, nan=0.0, neginf=0.0), 0.0, None)
    return np.asarray(np.clip(towed_m - winch.veer_mps * early_s - winch.heave_mps * late_s, 0.0, None))


def contact_times(
    winch: Winch, *, warp_m: float, height_m: float, behind_m: float, hangs: bool | None = None
) -> Contact:
    """Return when the gear came to the bottom and left it.

    Parameters
    ----------
    warp_m, height_m : float
        Warp while towing; from the block down to the bottom.
    behind_m : float
        Length of sweeps, bridles and net.
    hangs : bool or None
        Whether sweeps and net hang clear of the bottom with all warp in; ``None``: by the lengths given.

    Notes
    -----
    Own derivation: doors touch nothing while less warp is out than the water is deep, and, hauling, are
    lifted off when the scope has fallen to three quarters (`towzone.gear.winch.lift_off_scope`). The net is
    surely off only when warp, sweeps and net together are shorter than the depth; where sweeps and net
    alone are longer, they have to come in, too, and are taken to come in as fast as the warp.
    """
    scope = lift_off_scope(warp_m / height_m)
    hanging_m = height_m if (height_m > behind_m if hangs is None else hangs) else 0.0
    whole_m = warp_m + behind_m - hanging_m
    return Contact(
        first_s=winch.shoot_s - (warp_m - height_m) / winch.veer_mps,
        last_s=winch.haul_s + (warp_m - float(scope) * height_m) / winch.heave_mps,
        earliest_s=winch.shoot_s - whole_m / winch.veer_mps,
        latest_s=winch.haul_s + whole_m / winch.heave_mps,
    )
