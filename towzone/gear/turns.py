"""How far the gear cuts inside turns and corners, and how soon it follows a new line.

By the model of `towzone.gear.angles`, whose functions are at hand here too: no current, the gear moves along
the towline only. Own derivations all. Here the towline is a rope: beyond 90 degrees it is slack for a while.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.gear.amounts import amount, refuse_where
from towzone.gear.angles import (
    angle_after_arc,
    angle_after_leg,
    angle_after_winch_leg,
    angle_of,
    gear_run_m,
    layback_of,
    run_to_abeam_m,
)
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "CornerCut",
    "SteadyTurn",
    "angle_after_arc",
    "angle_after_leg",
    "angle_after_winch_leg",
    "corner_cut",
    "gate_distance_m",
    "gear_run_m",
    "run_to_abeam_m",
    "settle_run_m",
    "sidestep_offset_m",
    "steady_net_radius",
    "steady_turn",
]

_HALVINGS = 55
"""Of an interval of 1.5: to the last digit."""


class SteadyTurn(NamedTuple):
    """The gear in a turn that went on for long: arrays of one shape.

    ``beta_rad`` is from the direction of the towline to the heading, with the sign of the radius;
    ``inside_m`` how much nearer to the centre than the vessel the gear runs; ``speed_ratio`` its speed over
    the vessel's.
    """

    gear_radius_m: FloatArray
    beta_rad: FloatArray
    inside_m: FloatArray
    speed_ratio: FloatArray


class CornerCut(NamedTuple):
    """Where the gear passes a sharp corner nearest, in laybacks: arrays of one shape.

    ``distance`` from the corner, ``angle_rad`` between course and towline then, ``run`` of the vessel past
    the corner by then.
    """

    distance: FloatArray
    angle_rad: FloatArray
    run: FloatArray


def steady_turn(radius_m: npt.ArrayLike, layback_m: npt.ArrayLike) -> SteadyTurn:
    """Return what a turn of constant radius settles to: the gear on ``sqrt(R^2 - L^2)``.

    Raises
    ------
    UsageError
        For turns tighter than the layback: they settle to nothing.
    """
    radius = amount("radius of the turn", radius_m)
    layback = layback_of(layback_m)
    across = np.abs(radius)
    refuse_where(
        across < layback,
        "a turn tighter than the layback never becomes steady",
        [("radius", radius, "m"), ("layback", layback, "m")],
        "a radius of at least the layback",
        "widen the turn, or follow the gear leg by leg",
    )
    gear = np.sqrt((across - layback) * (across + layback))
    ratio = layback / radius
    inside = layback**2 / (across + gear)
    parts = (gear, np.arcsin(ratio), inside, gear / across)
    return SteadyTurn(*(np.asarray(part) for part in parts))


def steady_net_radius(
    radius_m: npt.ArrayLike, layback_m: npt.ArrayLike, net_behind_m: npt.ArrayLike
) -> FloatArray:
    """Return the radius on which the codend settles, itself towed by the doors: ``sqrt(R^2 - L^2 - L2^2)``.

    Raises
    ------
    UsageError
        Where the turn is too tight for that.
    """
    radius = amount("radius of the turn", radius_m)
    behind = amount("distance from doors to codend", net_behind_m, least=0.0)
    layback = layback_of(layback_m)
    both = np.hypot(layback, behind)
    refuse_where(
        np.abs(radius) < both,
        "a turn too tight for the net to become steady",
        [("radius", radius, "m"), ("layback", layback, "m"), ("net behind the doors", behind, "m")],
        "a radius of at least sqrt(layback^2 + net behind the doors^2)",
        "widen the turn, or follow the gear leg by leg",
    )
    return np.asarray(np.sqrt((np.abs(radius) - both) * (np.abs(radius) + both)))


def corner_cut(turn_rad: npt.ArrayLike) -> CornerCut:
    """Return how near gear that was dead astern passes the corner of a sharp turn.

    Nearest it is at the angle ``a`` where ``sec a = s + ln(tan(b / 2) / tan(a / 2))``, at a distance of
    ``tan a`` after a run of ``sec a``. To 90 degrees ``b`` is the turn and ``s`` is 0; beyond, the rope is
    slack for a run of ``s = -2 cos(turn)``, and ``b`` the rest to 180 degrees. From 135 degrees on the gear
    only ever goes away from the corner: it is nearest, one layback, until the rope is taut.

    Parameters
    ----------
    turn_rad : float or array
        Within [-pi, pi]; of a turn of 0 the limit.

    Raises
    ------
    UsageError
    """
    turn = np.abs(angle_of("turn", turn_rad))
    slack, rest = _after_slack(turn)
    away = turn >= 0.75 * np.pi
    some = (rest > 0.0) & ~away
    t0 = np.tan(np.where(some, rest, 1.0) / 2.0)
    # The root lies in t0 exp(-1.5) to t0, for the secant of what is nearest is sqrt(2) at the most.
    low, high = np.full(turn.shape, -1.5), np.zeros(turn.shape)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        late = 1.0 / np.cos(2.0 * np.arctan(t0 * np.exp(middle))) - slack + middle > 0.0
        low, high = np.where(late, low, middle), np.where(late, middle, high)
    angle = np.where(some, 2.0 * np.arctan(t0 * np.exp(0.5 * (low + high))), np.where(away, rest, 0.0))
    distance = np.where(away, 1.0, np.tan(angle))
    run = np.where(away, slack, 1.0 / np.cos(np.where(away, 0.0, angle)))
    return CornerCut(np.asarray(distance), np.asarray(angle), np.asarray(run))


def settle_run_m(turn: npt.ArrayLike, layback: npt.ArrayLike, off: npt.ArrayLike) -> FloatArray:
    """Return how far a vessel runs straight after a sharp turn until the gear is near its new line for good.

    ``L ln(tan(turn / 2) / tan(asin(off / L) / 2))``; beyond 90 degrees the run with the rope slack and then
    the same from what angle is left. 0, or the run with the rope slack, where it is that near already.

    Parameters
    ----------
    turn : float or array
        Radians, within [-pi, pi].
    layback, off : float or array
        Metres, above 0; how near.

    Raises
    ------
    UsageError
    """
    run, _ = _settled(turn, layback, off)
    return run


def gate_distance_m(turn: npt.ArrayLike, layback: npt.ArrayLike, off: npt.ArrayLike) -> FloatArray:
    """Return how far before a gate a sharp turn must be ended for the gear to pass it near the new line.

    The `settle_run_m` less what the gear is behind the vessel by then. Negative where the gear is that near
    early: by so much the turn may come after the gate.

    Parameters
    ----------
    turn, layback, off : float or array
        As in `settle_run_m`.

    Raises
    ------
    UsageError
    """
    run, behind = _settled(turn, layback, off)
    return np.asarray(run - behind)


def sidestep_offset_m(jog_m: npt.ArrayLike, past_m: npt.ArrayLike, layback_m: npt.ArrayLike) -> FloatArray:
    """Return how far the gear has followed a small side-step: ``J (1 - exp(-(X + L) / L))``.

    From abeam of it on good to 0.2 % of ``J`` for 80 m at 30 degrees with 400 m of layback, to 6 % for 200 m
    at 15 degrees (own evaluation by stepping).

    Parameters
    ----------
    jog_m : float or array
        The side-step ``J``; with a sign.
    past_m : float or array
        How far the gear is past the middle of it, along the course. Before the vessel reaches it, farther
        back than the layback, the answer is 0.
    layback_m : float or array

    Raises
    ------
    UsageError
    """
    jog = amount("side-step", jog_m)
    past = amount("distance past the side-step", past_m)
    layback = layback_of(layback_m)
    return np.asarray(-jog * np.expm1(-np.maximum(past + layback, 0.0) / layback))


def _settled(
    turn: npt.ArrayLike, layback: npt.ArrayLike, off: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return the run until the gear is near its line, and what it is behind the vessel then."""
    slack, rest = _after_slack(np.abs(angle_of("turn", turn)))
    reach = layback_of(layback)
    near = np.arcsin(np.minimum(amount("distance from the new line", off, above=0.0) / reach, 1.0))
    far = rest > near
    logarithm = np.log(np.tan(np.where(far, rest, 1.0) / 2.0) / np.tan(np.where(far, near, 1.0) / 2.0))
    run = reach * (slack + np.where(far, logarithm, 0.0))
    return np.asarray(run), np.asarray(reach * np.cos(np.minimum(rest, near)))


def _after_slack(turn: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the run with the rope slack, in laybacks, and the angle with which it is taut."""
    sharp = turn > np.pi / 2.0
    return np.where(sharp, -2.0 * np.cos(turn), 0.0), np.where(sharp, np.pi - turn, turn)
