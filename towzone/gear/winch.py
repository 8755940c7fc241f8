"""Shooting and hauling on a straight course: when doors and net can be on the bottom, and where.

Heights are from the sea bed to the towing block. Warps come in and run out evenly; own derivations all. In
hauling the doors run ahead over the ground, faster than the vessel, and fish on.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.gear.amounts import amount, refuse_where
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "advance_m",
    "earliest_contact_s",
    "earliest_door_contact_s",
    "gear_ground_speed_mps",
    "last_door_contact_reach_m",
    "last_door_contact_s",
    "layback_at_warp_m",
    "lift_off_scope",
    "net_off_time_s",
    "relative_m",
    "time_to_scope_s",
]

_PULL_GROWTH = 1.33
"""By how much the pull upwards must grow for doors to lift: they press on the bottom with 20 to 25 % of their
weight, of which the water bears 8 to 10 % (Seafish, gear page on doors), so 1.28 to 1.38 (own derivation)."""

_SLOWEST_MPS = 0.001
"""Own limit: slower than that a winch stands still."""


def layback_at_warp_m(warp_m: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
    """Return how far behind the block doors on the bottom are: ``sqrt(S^2 - H^2)``, 0 for shorter warps.

    For warps through a haul; 0 stands for doors below the block and off the bottom, where
    `towzone.gear.layback.layback_m` would refuse.

    Raises
    ------
    UsageError
    """
    warp, height = _warp(warp_m), _height(height_m)
    return np.asarray(np.sqrt(np.maximum((warp - height) * (warp + height), 0.0)))


def lift_off_scope(scope: npt.ArrayLike) -> FloatArray:
    """Return the scope (warp over height) at which doors leave the bottom by the figures: ``k0 / 1.33``.

    1 at the least. Nominal only: surely they are off only at 1 (`last_door_contact_s`), and net and clump
    stay longer.

    Parameters
    ----------
    scope : float or array
        While towing, 1 or more.

    Raises
    ------
    UsageError
    """
    return np.asarray(np.maximum(_scope(scope) / _PULL_GROWTH, 1.0))


def time_to_scope_s(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, heave_mps: npt.ArrayLike, scope: npt.ArrayLike
) -> FloatArray:
    """Return how long heaving takes until the warp is so many times the height: ``(S0 - k H) / w``.

    0 where it is no longer than that to begin with.

    Parameters
    ----------
    warp_m, height_m : float or array
        Warp out when heaving begins; block above the sea bed.
    heave_mps : float or array
        Speed of the warp, 1 mm/s or more. The slowest leaves the gear down longest.
    scope : float or array
        1 or more.

    Raises
    ------
    UsageError
    """
    warp, end = _warps(warp_m, height_m, scope)
    return np.asarray((warp - end) / _heave(heave_mps))


def advance_m(
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    speed_mps: npt.ArrayLike,
    heave_mps: npt.ArrayLike,
    scope: npt.ArrayLike,
) -> FloatArray:
    """Return how far the doors move on over the bottom until that scope: ``v t + h0 - hk``.

    Parameters
    ----------
    warp_m, height_m, heave_mps, scope : float or array
        As in `time_to_scope_s`.
    speed_mps : float or array
        Of the vessel over the ground, along the course; negative going astern.

    Raises
    ------
    UsageError
    """
    start = layback_at_warp_m(warp_m, height_m)
    return np.asarray(relative_m(warp_m, height_m, speed_mps, heave_mps, scope) + start)


def relative_m(
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    speed_mps: npt.ArrayLike,
    heave_mps: npt.ArrayLike,
    scope: npt.ArrayLike,
) -> FloatArray:
    """Return where the doors are at that scope, ahead of where the block was when heaving began.

    ``v t - hk``; negative astern of it.

    Parameters
    ----------
    warp_m, height_m, speed_mps, heave_mps, scope : float or array
        As in `advance_m`.

    Raises
    ------
    UsageError
    """
    warp, end = _warps(warp_m, height_m, scope)
    speed = amount("speed of the vessel", speed_mps, unit="m/s")
    seconds = (warp - end) / _heave(heave_mps)
    return np.asarray(speed * seconds - layback_at_warp_m(end, height_m))


def last_door_contact_s(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, heave_mps: npt.ArrayLike
) -> FloatArray:
    """Return after how long heaving the doors are surely off the bottom: ``(S0 - H) / w``, 0 at the least.

    Of the net it says nothing (`net_off_time_s`).

    Raises
    ------
    UsageError
    """
    return time_to_scope_s(warp_m, height_m, heave_mps, 1.0)


def last_door_contact_reach_m(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, speed_mps: npt.ArrayLike, heave_mps: npt.ArrayLike
) -> FloatArray:
    """Return how far ahead of where the block was when heaving began the doors can touch: ``v t`` at most.

    0 for a vessel going astern.

    Raises
    ------
    UsageError
    """
    speed = amount("speed of the vessel", speed_mps, unit="m/s")
    return np.asarray(np.maximum(speed, 0.0) * last_door_contact_s(warp_m, height_m, heave_mps))


def net_off_time_s(
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    sweeps_m: npt.ArrayLike,
    net_length_m: npt.ArrayLike,
    heave_mps: npt.ArrayLike,
) -> FloatArray:
    """Return after how long heaving no part can reach the bottom: when ``S + B + N <= H``.

    Infinite where sweeps and net alone reach it: then only the net seen at the surface ends the contact.

    Raises
    ------
    UsageError
    """
    warp, height = _warp(warp_m), _height(height_m)
    behind = _behind(sweeps_m, net_length_m)
    seconds = np.maximum(warp + behind - height, 0.0) / _heave(heave_mps)
    return np.asarray(np.where(behind > height, np.inf, seconds))


def gear_ground_speed_mps(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, speed_mps: npt.ArrayLike, heave_mps: npt.ArrayLike
) -> FloatArray:
    """Return how fast doors on the bottom move over the ground while heaving: ``v + w S / h``.

    Parameters
    ----------
    warp_m, height_m, speed_mps : float or array
        As in `advance_m`, the warp out at the moment.
    heave_mps : float or array
        Speed of the warp, 0 or more.

    Raises
    ------
    UsageError
        Where the warp is no longer than the height: there the doors lift.
    """
    warp, height = _warp(warp_m), _height(height_m)
    speed = amount("speed of the vessel", speed_mps, unit="m/s")
    heave = amount("speed of heaving", heave_mps, unit="m/s", least=0.0)
    refuse_where(
        warp <= height,
        "a warp with which the doors are off the bottom",
        [("warp", warp, "m"), ("block above the sea bed", height, "m")],
        "a warp longer than the height",
        "check warp and depth",
    )
    return np.asarray(speed + heave * warp / layback_at_warp_m(warp, height))


def earliest_door_contact_s(height_m: npt.ArrayLike, veer_mps: npt.ArrayLike) -> FloatArray:
    """Return how long after the warps begin to run out the doors can first touch: ``H / w``.

    Parameters
    ----------
    height_m : float or array
    veer_mps : float or array
        The fastest the warps may run out, 1 mm/s or more.

    Raises
    ------
    UsageError
    """
    return np.asarray(_height(height_m) / _veer(veer_mps))


def earliest_contact_s(
    height_m: npt.ArrayLike, sweeps_m: npt.ArrayLike, net_length_m: npt.ArrayLike, veer_mps: npt.ArrayLike
) -> FloatArray:
    """Return how long after the warps begin to run out any part can first touch: ``(H - B - N) / w``.

    0 where sweeps and net alone reach the bottom: then it can touch from when the net is in the water, before
    the warps run out.

    Parameters
    ----------
    height_m, sweeps_m, net_length_m : float or array
    veer_mps : float or array
        The fastest the warps may run out, 1 mm/s or more.

    Raises
    ------
    UsageError
    """
    left = _height(height_m) - _behind(sweeps_m, net_length_m)
    return np.asarray(np.maximum(left, 0.0) / _veer(veer_mps))


def _warps(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, scope: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return the warp at the start and, no longer, at a scope."""
    warp = _warp(warp_m)
    return warp, np.asarray(np.minimum(warp, _scope(scope) * _height(height_m)))


def _warp(value: npt.ArrayLike) -> FloatArray:
    return amount("warp", value, least=0.0)


def _height(value: npt.ArrayLike) -> FloatArray:
    return amount("height of the block above the sea bed", value, least=0.0)


def _scope(value: npt.ArrayLike) -> FloatArray:
    return amount("scope (warp over height)", value, unit="", least=1.0)


def _heave(value: npt.ArrayLike) -> FloatArray:
    return amount("speed of heaving", value, unit="m/s", least=_SLOWEST_MPS)


def _veer(value: npt.ArrayLike) -> FloatArray:
    return amount("speed of veering", value, unit="m/s", least=_SLOWEST_MPS)


def _behind(sweeps_m: npt.ArrayLike, net_length_m: npt.ArrayLike) -> FloatArray:
    sweeps = amount("length of sweeps and bridles", sweeps_m, least=0.0)
    return np.asarray(sweeps + amount("length of the net", net_length_m, least=0.0))
