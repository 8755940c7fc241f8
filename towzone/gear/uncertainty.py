"""How surely the place of the gear is known: what each doubtful figure moves it, along its path and across.

First order but for one term (own derivation, checked term by term against simulated tows in tests/oracle):
every figure moves the doors by its standard deviation times how much they answer to it, and independent
figures add as squares. ``beta`` is the angle between the course of the vessel and the towline: 0 on a
settled straight tow, and in a turn that of the circle the gear settles on::

    sigma_layback^2 = (W/L sigma_W)^2 + (H/L sigma_H)^2 + sigma_sag^2
    sigma_along^2   = sigma_pos^2 + sigma_ant^2 + sigma_layback^2 + (V sigma_t)^2 + 3/4 (a^2 / L)^2
    sigma_cross^2   = sigma_pos^2 + (sigma_ant / cos beta)^2 + (sigma_S / 2)^2 + (tan beta sigma_layback)^2
                      + a^2
    a^2             = (L g sigma_c / V)^2 + (L sigma_theta0 exp(-s / L))^2,   g = 1 / (1 + f)

``W`` warp, ``H`` height of the block over the ground, ``L`` layback, ``V`` speed over ground, ``c`` current,
``f`` friction of the gear over its drag, ``S`` door spread, ``theta0`` angle of the towline when the stretch
began and ``s`` the way since. What swings the towline by ``a`` aside also brings the doors ahead by
``a^2 / 2L``, the mean square of which is in the last term along: little at 0.2 kn of current, as much as all
the rest at 0.5 kn.

A first-order term grows without limit where its divisor vanishes: a warp that hangs straight down, a vessel
that stands still, a towline at right angles. What the figure really does has a limit: of ``sqrt(p^2 - q^2)``,
which both the layback and the circle of the gear in a turn are, a change of ``d`` in ``p`` or ``q`` never
makes more than ``sqrt(2 p d + d^2)`` or ``sqrt(2 q d + d^2)``; and no current carries the doors farther aside
than the layback. No term is taken above its limit.

What comes and goes within a towline's length, such as the jitter of positions, hardly reaches the gear
(`jitter_sigma_m`); errors that stay reach it in full. The current is taken as steady: of one that turns
while the gear follows, less would reach it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.errors import UsageError
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "CLOCK_SIGMA_S",
    "START_ANGLE_SIGMA_RAD",
    "TERMS",
    "Sigmas",
    "Term",
    "directional_m",
    "jitter_sigma_m",
    "sag_sigma_m",
    "sigmas",
]

CLOCK_SIGMA_S = 1.0
"""From the fix to the time written beside it. Own choice."""

START_ANGLE_SIGMA_RAD = 0.5
"""Angle of the towline off the first course of a stretch, of which nothing is known: 29 degrees. Own choice:
two of it are 57 degrees, and gear is seldom shot or kept towing farther round than that."""

_LARGEST = 1e9
"""Own limit on every figure but angles, in its unit: far beyond any gear, and small enough to be squared."""

_STEEPEST = 1e12
"""Own limit on quotients, in place of infinity, which times 0 is no number; every use has a nearer limit."""

_DEEP_WARP_M = 700.0
_SAG, _DEEP_SAG = 0.005, 0.01
"""Of the layback, to 700 m of warp and beyond. Own derivation: catenaries of steel warp with its drag, 220 to
1320 m long and pulled by 10 to 60 kN, are 0.1 to 0.9 % nearer than straight ones."""


class Term(NamedTuple):
    """One contribution: its name, its formula in words, and where that comes from."""

    name: str
    formula: str
    source: str


TERMS = (
    Term(
        "warp",
        "sigma of the warp, times warp over layback",
        "own derivation: Pythagoras on a straight warp",
    ),
    Term(
        "height of the towing block above the ground",
        "sigma of the height, times height over layback",
        "own derivation: Pythagoras on a straight warp",
    ),
    Term(
        "sag of the warp",
        "0.5 % of the layback to 700 m of warp, 1 % beyond; it only shortens, but is counted both ways",
        "own derivation: catenaries of steel warp with its drag through the water",
    ),
    Term("position", "sigma of the position on each axis, along and across", "own derivation"),
    Term(
        "antenna",
        "sigma of the towing block as seen from the antenna, along and across; across divided by the cosine"
        " of the angle between course and towline",
        "own derivation: circle of the gear in a steady turn",
    ),
    Term("clock", "sigma of the time, times speed; along only", "own derivation"),
    Term(
        "current",
        "sigma of the current, times layback over speed, divided by 1 + friction over drag of the gear;"
        " across, at most the layback; along, 0.87 times its square over the layback",
        "own derivation: pursuit in water that moves",
    ),
    Term("door spread", "half of the sigma of the spread; across only", "own derivation"),
    Term(
        "layback in turns",
        "sigma of the layback, times the tangent of the angle between course and towline; across only",
        "own derivation: circle of the gear in a steady turn",
    ),
    Term(
        "towline at the start",
        "sigma of its angle then, times layback, less by exp(-way since / layback); across, at most the"
        " layback; along, 0.87 times its square over the layback",
        "own derivation: pursuit on a straight course, small angles",
    ),
)
"""What adds up, as squares; the first three make the sigma of the layback, which counts in full along."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sigmas:
    """Standard deviations of the place of the doors, metres, shape ``(n,)``, read-only.

    Parameters
    ----------
    layback_m : ndarray
        Of the distance from block to doors.
    along_m, cross_m : ndarray
        Of the doors along the towline, which is the way they move, and square to it.
    """

    layback_m: FloatArray
    along_m: FloatArray
    cross_m: FloatArray


def sigmas(
    *,
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    layback_m: npt.ArrayLike,
    speed_mps: npt.ArrayLike,
    beta_deg: npt.ArrayLike,
    settled_m: npt.ArrayLike,
    warp_sigma_m: npt.ArrayLike,
    height_sigma_m: npt.ArrayLike,
    sag_sigma_m: npt.ArrayLike,
    position_sigma_m: npt.ArrayLike,
    antenna_sigma_m: npt.ArrayLike,
    drift_sigma_mps: npt.ArrayLike,
    spread_sigma_m: npt.ArrayLike,
    clock_sigma_s: npt.ArrayLike = CLOCK_SIGMA_S,
    start_angle_sigma_rad: npt.ArrayLike = START_ANGLE_SIGMA_RAD,
    friction: npt.ArrayLike = 0.0,
) -> Sigmas:
    """Return how surely the doors are where they were computed, at each of some moments.

    Parameters
    ----------
    warp_m, height_m, layback_m : array_like, broadcast to shape (n,)
        Warp out, height of the block over the ground at the doors, horizontal distance block to doors.
    speed_mps : array_like
        Of the vessel over ground. It may be 0: then the sea could have set the gear anywhere aside.
    beta_deg : array_like
        From towline to course of the vessel, either way round. From 90 degrees on the gear answers to its
        layback as much as it ever can.
    settled_m : array_like
        Way since the stretch began. That of the doors is right in turns too; that of the vessel is as good
        on a straight course. Put ``start_angle_sigma_rad`` to 0 where the towline was known then.
    warp_sigma_m, height_sigma_m, sag_sigma_m : array_like
        The last as of `sag_sigma_m`.
    position_sigma_m, antenna_sigma_m : array_like
        On each axis. Of a position only what stays for longer than a layback; of the jitter see
        `jitter_sigma_m`.
    drift_sigma_mps : array_like
        Of the current at the gear, on each axis.
    spread_sigma_m : array_like
        Of the whole door spread; 0 where the middle between the doors is asked about.
    clock_sigma_s, start_angle_sigma_rad : array_like
    friction : array_like
        Friction of the gear on the ground over its drag through the water; 0 is the safe side.

    Raises
    ------
    UsageError
        A figure that is not a number, negative or beyond 1e9, an angle that is not finite, or lengths that
        do not fit each other.
    """
    known = _together(
        warp_m=warp_m,
        height_m=height_m,
        layback_m=layback_m,
        speed_mps=speed_mps,
        beta_deg=beta_deg,
        settled_m=settled_m,
        warp_sigma_m=warp_sigma_m,
        height_sigma_m=height_sigma_m,
        sag_sigma_m=sag_sigma_m,
        position_sigma_m=position_sigma_m,
        antenna_sigma_m=antenna_sigma_m,
        drift_sigma_mps=drift_sigma_mps,
        spread_sigma_m=spread_sigma_m,
        clock_sigma_s=clock_sigma_s,
        start_angle_sigma_rad=start_angle_sigma_rad,
        friction=friction,
    )
    layback_sigma_m, swung_m = _layback_sigma_m(known), _swung_m(known)
    along_m = _root(
        known["position_sigma_m"],
        known["antenna_sigma_m"],
        layback_sigma_m,
        known["speed_mps"] * known["clock_sigma_s"],
        np.sqrt(0.75) * swung_m * _ratio(swung_m, known["layback_m"]),
    )
    cross_m = _root(
        known["position_sigma_m"],
        known["spread_sigma_m"] / 2.0,
        *_turning_m(known, layback_sigma_m),
        swung_m,
    )
    return Sigmas(layback_m=_frozen(layback_sigma_m), along_m=along_m, cross_m=cross_m)


def sag_sigma_m(warp_m: npt.ArrayLike, layback_m: npt.ArrayLike) -> FloatArray:
    """Return by how much sag may shorten the layback of a straight warp, taken as a standard deviation.

    Parameters
    ----------
    warp_m, layback_m : array_like, broadcast to shape (n,)

    Raises
    ------
    UsageError
        As `sigmas`.
    """
    known = _together(warp_m=warp_m, layback_m=layback_m)
    share = np.where(known["warp_m"] < _DEEP_WARP_M, _SAG, _DEEP_SAG)
    return _frozen(share * known["layback_m"])


def jitter_sigma_m(jitter_m: npt.ArrayLike, spacing_m: npt.ArrayLike, layback_m: npt.ArrayLike) -> FloatArray:
    """Return what reaches the gear of errors that are new at each fix: ``jitter sqrt(spacing / 2 L)``.

    Parameters
    ----------
    jitter_m : array_like, broadcast to shape (n,)
        Their standard deviation on each axis.
    spacing_m, layback_m : array_like
        Between fixes, and block to doors. Of fixes two laybacks apart or more all of it is taken to reach
        the gear: a towline never amplifies.

    Notes
    -----
    Own derivation: a towline is a low-pass of first order with its length as the constant.

    Raises
    ------
    UsageError
        As `sigmas`.
    """
    known = _together(jitter_m=jitter_m, spacing_m=spacing_m, layback_m=layback_m)
    passed = np.minimum(_ratio(known["spacing_m"], 2.0 * known["layback_m"]), 1.0)
    return _frozen(known["jitter_m"] * np.sqrt(passed))


def directional_m(
    known: Sigmas, *, bearing_deg: npt.ArrayLike, towline_bearing_deg: npt.ArrayLike
) -> FloatArray:
    """Return the standard deviation of the place of the doors in one direction, that of a boundary say.

    Parameters
    ----------
    known : Sigmas
    bearing_deg, towline_bearing_deg : array_like, broadcast to shape (n,)
        True bearing of the direction, and of the towline (either end).

    Raises
    ------
    UsageError
        As `sigmas`.
    """
    held = _together(
        along_m=known.along_m,
        cross_m=known.cross_m,
        bearing_deg=bearing_deg,
        towline_bearing_deg=towline_bearing_deg,
    )
    angle = np.radians(held["bearing_deg"] - held["towline_bearing_deg"])
    return _root(held["cross_m"] * np.sin(angle), held["along_m"] * np.cos(angle))


def _layback_sigma_m(known: dict[str, FloatArray]) -> FloatArray:
    warp_m, height_m, layback_m = known["warp_m"], known["height_m"], known["layback_m"]
    return _root(
        _bounded(_ratio(warp_m, layback_m), known["warp_sigma_m"], warp_m),
        _bounded(_ratio(height_m, layback_m), known["height_sigma_m"], height_m),
        known["sag_sigma_m"],
    )


def _turning_m(known: dict[str, FloatArray], layback_sigma_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what antenna and layback add across the path, which they do by more the tighter the turn."""
    layback_m, beta = known["layback_m"], np.radians(known["beta_deg"])
    ahead = np.cos(beta)
    tangent = np.where(ahead > 0.0, _ratio(np.abs(np.sin(beta)), np.maximum(ahead, 0.0)), _STEEPEST)
    return (
        _bounded(np.hypot(1.0, tangent), known["antenna_sigma_m"], layback_m),
        _bounded(tangent, layback_sigma_m, layback_m),
    )


def _swung_m(known: dict[str, FloatArray]) -> FloatArray:
    """Return how far aside an unknown current and an unknown first angle swing the doors."""
    layback_m = known["layback_m"]
    set_m = layback_m * known["drift_sigma_mps"] / (1.0 + known["friction"])
    angle = known["start_angle_sigma_rad"] * np.exp(-_ratio(known["settled_m"], layback_m))
    return _root(np.minimum(_ratio(set_m, known["speed_mps"]), layback_m), layback_m * np.minimum(angle, 1.0))


def _bounded(slope: FloatArray, sigma: FloatArray, size_m: FloatArray) -> FloatArray:
    """Return slope times sigma, but never more than a change of sigma in ``size_m`` can make (see above)."""
    return np.minimum(slope * sigma, np.sqrt(2.0 * size_m * sigma + sigma**2))


def _ratio(part: FloatArray, whole: FloatArray) -> FloatArray:
    """Return a quotient of two that are not negative, at most `_STEEPEST`, and 0 where the first is 0."""
    return np.asarray(part / np.maximum(whole, part / _STEEPEST + np.finfo(np.float64).tiny))


def _root(*terms: FloatArray) -> FloatArray:
    return _frozen(np.sqrt(sum(term**2 for term in terms)))


def _frozen(array: FloatArray) -> FloatArray:
    array.flags.writeable = False
    return array


def _together(**figures: npt.ArrayLike) -> dict[str, FloatArray]:
    """Return figures as arrays of one shape, (n,), or refuse what is no figure."""
    arrays = {name: np.atleast_1d(np.asarray(value, dtype=np.float64)) for name, value in figures.items()}
    for name, array in arrays.items():
        sound = np.isfinite(array) if name.endswith("_deg") else (array >= 0.0) & (array <= _LARGEST)
        if not sound.all():
            allowed = "a finite angle" if name.endswith("_deg") else f"from 0 to {_LARGEST:g}"
            message = f"{name} of the gear is {array[~sound][0]}; it must be {allowed}"
            raise UsageError(message)
    lengths = {len(array) for array in arrays.values()} - {1}
    if len(lengths) > 1 or any(array.ndim > 1 for array in arrays.values()):
        shapes = ", ".join(f"{name} {array.shape}" for name, array in arrays.items())
        message = f"figures of the gear must be single numbers or lists of one length, but are: {shapes}"
        raise UsageError(message)
    return dict(zip(arrays, np.broadcast_arrays(*arrays.values()), strict=True))
