"""The towline on straight legs and arcs: exact angles after each.

The gear is pulled by a towline of the length of the layback and moves along it only: no current, the bottom
resists alike in all directions. All formulas are own derivations, checked against numerical integration; that
of the straight leg is the tractrix of textbooks. They treat the towline as a bar; a rope cannot push, so from
90 degrees off the course the gear stands still until the rope is taut again, at the supplement of the angle.

Angles are radians from the course of the vessel to the direction from gear to vessel, in the tradition of
mathematics; a mirrored manoeuvre has mirrored angles.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.gear.amounts import amount, refuse_where
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "angle_after_arc",
    "angle_after_leg",
    "angle_after_winch_leg",
    "angle_of",
    "gear_run_m",
    "layback_of",
    "run_to_abeam_m",
]

_TIGHTEST_M = 0.001
"""Own limit: a vessel that turns tighter turns on the spot."""

_ROUNDING = 1e-12
"""By so much, relatively, an angle may have grown where it should not have: the last digits."""


def angle_after_leg(theta0_rad: npt.ArrayLike, run_m: npt.ArrayLike, layback_m: npt.ArrayLike) -> FloatArray:
    """Return the angle after a straight leg: ``tan(a / 2) = tan(a0 / 2) exp(-s / L)``.

    Parameters
    ----------
    theta0_rad : float or array
        Within [-pi, pi]; at either end it stays what it is.
    run_m, layback_m : float or array
        Of the vessel, 0 or more; above 0.

    Raises
    ------
    UsageError

    Examples
    --------
    >>> round(float(np.degrees(angle_after_leg(np.radians(60.0), 400.0, 400.0))), 3)
    23.982
    """
    theta0 = angle_of("angle of the towline", theta0_rad)
    decay = _run(run_m) / layback_of(layback_m)
    return _decayed(theta0, -decay)


def angle_after_winch_leg(
    theta0: npt.ArrayLike,
    speed: npt.ArrayLike,
    heave: npt.ArrayLike,
    seconds: npt.ArrayLike,
    layback0: npt.ArrayLike,
) -> FloatArray:
    """Return the angle after a straight leg on which the layback changes evenly.

    ``tan(a / 2) = tan(a0 / 2) (L / L0)^(V / q)`` with ``L = L0 - q t``; without heaving, `angle_after_leg`.

    Parameters
    ----------
    theta0 : float or array
        Radians, within [-pi, pi].
    speed : float or array
        Of the vessel, 0 or more.
    heave : float or array
        How fast the layback shortens, below 0 in veering; unit of ``speed``. Of doors on the bottom it is
        ``W / L`` times the speed of the warp. Veered faster than ``speed * cos(theta)`` a rope goes slack,
        and this does not hold.
    seconds, layback0 : float or array
        0 or more; above 0.

    Raises
    ------
    UsageError
        Where the layback is used up before the end.
    """
    start = angle_of("angle of the towline", theta0)
    v = amount("speed of the vessel", speed, unit="m/s", least=0.0)
    q = amount("speed of heaving", heave, unit="m/s")
    t = amount("time", seconds, unit="s", least=0.0)
    layback = layback_of(layback0)
    used = q * t / layback
    refuse_where(
        used >= 1.0,
        "heaving for longer than there is layback",
        [("layback", layback, "m"), ("speed of heaving", q, "m/s"), ("time", t, "s")],
        "a time below layback / speed of heaving",
        "stop earlier",
    )
    none = used == 0.0
    # ln(1 - z) / z is -1 at 0, and exact beside it.
    rate = np.where(none, -1.0, np.log1p(-used) / np.where(none, 1.0, used))
    return _decayed(start, rate * v * t / layback)


def angle_after_arc(
    beta0: npt.ArrayLike, run: npt.ArrayLike, layback: npt.ArrayLike, radius: npt.ArrayLike
) -> FloatArray:
    """Return the angle from towline to heading after an arc: the solution of ``b' = 1 / R - sin(b) / L``.

    Parameters
    ----------
    beta0 : float or array
        At its start, radians within [-pi, pi], positive where the vessel has turned the way of a positive
        radius.
    run, layback : float or array
        Metres along the arc, 0 or more; above 0.
    radius : float or array
        Metres, a millimetre or more; negative to turn the other way, infinite for a straight leg.

    Returns
    -------
    ndarray
        Within [-pi, pi]. In a turn tighter than the layback the angle grows past 90 degrees, where a rope is
        slack (`run_to_abeam_m`), and on round and round.

    Raises
    ------
    UsageError

    Notes
    -----
    With ``x = tan(b / 2) = p / q`` the equation is linear in ``(p, q)`` with a matrix whose square is a
    multiple of one, so that its exponential is a sum of a (hyperbolic) cosine and sine: one formula for wide,
    equal and tight turns, with no angle at which it fails.
    """
    start = angle_of("angle of the towline", beta0)
    turn = _radius(radius)
    reach = layback_of(layback)
    side = np.sign(turn)
    ratio, half_run = reach / np.abs(turn), _run(run) / reach / 2.0
    square = (1.0 - ratio) * (1.0 + ratio)
    root = np.sqrt(np.abs(square))
    angle = root * half_run
    # Both parts are over cosh in wide turns, which would grow beyond all numbers.
    wide = square > 0.0
    even = np.where(wide, 1.0, np.cos(angle))
    still = root == 0.0
    odd = np.where(wide, np.tanh(angle), np.sin(angle)) / np.where(still, 1.0, root)
    odd = np.where(still, half_run, odd)
    p0, q0 = np.sin(side * start / 2.0), np.cos(side * start / 2.0)
    p = (even - odd) * p0 + ratio * odd * q0
    q = (even + odd) * q0 - ratio * odd * p0
    return _wrapped(side * 2.0 * np.arctan2(p, q))


def run_to_abeam_m(beta0: npt.ArrayLike, layback: npt.ArrayLike, radius: npt.ArrayLike) -> FloatArray:
    """Return after what run on an arc the gear is abeam: from there on a rope is slack.

    Infinite where it never is: in turns as wide as the layback or wider.

    Parameters
    ----------
    beta0 : float or array
        As in `angle_after_arc`, within 90 degrees.
    layback, radius : float or array
        Metres, above 0; as there.

    Raises
    ------
    UsageError
    """
    quarter = np.pi / 2.0
    start = amount("angle of the towline", beta0, unit="rad", least=-quarter, most=quarter)
    turn = _radius(radius)
    reach = layback_of(layback)
    ratio = reach / np.abs(turn)
    tight = ratio > 1.0
    root = np.sqrt(np.where(tight, (ratio - 1.0) * (ratio + 1.0), 1.0))
    x0 = np.tan(np.sign(turn) * start / 2.0)
    run = 2.0 * reach / root * (np.arctan((ratio - 1.0) / root) - np.arctan((ratio * x0 - 1.0) / root))
    return np.asarray(np.where(tight, np.maximum(run, 0.0), np.inf))


def gear_run_m(theta0: npt.ArrayLike, theta1: npt.ArrayLike, layback: npt.ArrayLike) -> FloatArray:
    """Return how far the gear moved on a straight leg: ``L ln(sin a0 / sin a1)``.

    Parameters
    ----------
    theta0, theta1 : float or array
        Angles at start and end, radians, within 90 degrees, on one side, the second not the greater.
    layback : float or array
        Metres, above 0.

    Raises
    ------
    UsageError
        For other angles; of gear dead astern (0) they do not tell: it moved as far as the vessel.
    """
    quarter = np.pi / 2.0
    start = amount("angle at the start", theta0, unit="rad", least=-quarter, most=quarter)
    end = amount("angle at the end", theta1, unit="rad", least=-quarter, most=quarter)
    reach = layback_of(layback)
    shrunk = np.abs(end) <= np.abs(start) * (1.0 + _ROUNDING)
    good = (np.sign(start) == np.sign(end)) & (start != 0.0) & shrunk
    refuse_where(
        ~good,
        "angles from which the run of the gear does not follow",
        [("at the start", start, "rad"), ("at the end", end, "rad")],
        "angles on one side, not 0, the second not the greater",
        "of gear dead astern take the run of the vessel",
    )
    ratio = np.sin(np.abs(start)) / np.sin(np.abs(end))
    return np.asarray(reach * np.log(np.maximum(ratio, 1.0)))


def angle_of(name: str, value: npt.ArrayLike) -> FloatArray:
    """Return an angle within [-pi, pi], or refuse it."""
    return amount(name, value, unit="rad", least=-np.pi, most=np.pi)


def layback_of(value: npt.ArrayLike) -> FloatArray:
    """Return a layback above 0, or refuse it."""
    return amount("layback", value, above=0.0)


def _run(value: npt.ArrayLike) -> FloatArray:
    return amount("run of the vessel", value, least=0.0)


def _radius(value: npt.ArrayLike) -> FloatArray:
    radius = amount("radius of the turn", value, endless=True)
    refuse_where(
        np.abs(radius) < _TIGHTEST_M,
        "a turn on the spot",
        [("radius", radius, "m")],
        "a radius of a millimetre or more, either way",
        "follow the gear from course to course",
    )
    return radius


def _decayed(theta0: FloatArray, exponent: FloatArray) -> FloatArray:
    """Return the angle the tangent of whose half is ``exp(exponent)`` times what it was, exponents to 0."""
    theta = 2.0 * np.arctan2(np.sin(theta0 / 2.0) * np.exp(exponent), np.cos(theta0 / 2.0))
    # The cosine of half of pi is not quite 0 in floating point, but the bar stands on end. Nor may rounding
    # let the angle grow.
    stands = np.abs(theta0) >= np.pi
    return np.asarray(np.where(stands, theta0, np.clip(theta, -np.abs(theta0), np.abs(theta0))))


def _wrapped(angle_rad: FloatArray) -> FloatArray:
    return np.asarray(angle_rad - 2.0 * np.pi * np.round(angle_rad / (2.0 * np.pi)))
