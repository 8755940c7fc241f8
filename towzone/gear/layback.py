"""How far the gear is behind the towing blocks on a steady tow, by straight lines.

Sag makes warps reach less far than straight ones: by under 0.25 % to 620 m of warp, by 0.6 to 0.9 % at
1320 m (own derivation, steel warps of 16 to 28 mm integrated numerically). Straight warps therefore err to
the long side, by little. Heights are from the sea bed to the towing block: depth plus height of the block.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.gear.amounts import BoolArray, amount, refuse_where
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "LaybackSlopes",
    "bottom_reach_m",
    "bridle_angle_deg",
    "layback_m",
    "layback_slopes",
    "reaches_bottom",
    "rope_bound_m",
    "spread_from_warps_m",
    "wing_end_distance_m",
]


class LaybackSlopes(NamedTuple):
    """Metres of layback for a metre of each figure."""

    per_warp: FloatArray
    per_height: FloatArray
    per_spread: FloatArray


def layback_m(
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    *,
    spread_m: npt.ArrayLike = 0.0,
    separation_m: npt.ArrayLike = 0.0,
) -> FloatArray:
    """Return the distance over the ground from the middle of the blocks to the middle of the doors.

    Parameters
    ----------
    warp_m, height_m : float or array
        Warp from block to door; block above the sea bed.
    spread_m, separation_m : float or array
        Between the doors, between the blocks.

    Returns
    -------
    ndarray
        ``sqrt(W^2 - H^2 - ((S - b) / 2)^2)``: straight warps in three dimensions (own derivation).

    Raises
    ------
    UsageError
        Where the warp is too short to reach the bottom that far apart; `reaches_bottom` tells beforehand.

    Examples
    --------
    >>> round(float(layback_m(350.0, 105.0, spread_m=80.0, separation_m=8.0)), 1)
    331.9
    """
    square = _square_m2(warp_m, height_m, spread_m, separation_m)
    _refuse_short(square < 0.0, warp_m, height_m, spread_m, separation_m)
    return np.asarray(np.sqrt(square))


def reaches_bottom(
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    *,
    spread_m: npt.ArrayLike = 0.0,
    separation_m: npt.ArrayLike = 0.0,
) -> BoolArray:
    """Return whether doors that far apart can be on the bottom, in other words whether `layback_m` answers.

    With no spread and no separation, ``False`` proves the doors off the bottom. With a spread it does not:
    they may be there closer together. Of sweeps and net it says nothing (`bottom_reach_m`).
    """
    return np.asarray(_square_m2(warp_m, height_m, spread_m, separation_m) >= 0.0)


def layback_slopes(
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    *,
    spread_m: npt.ArrayLike = 0.0,
    separation_m: npt.ArrayLike = 0.0,
) -> LaybackSlopes:
    """Return how the layback changes with warp, height and spread: ``W/L``, ``-H/L``, ``-(S - b)/(4L)``.

    Raises
    ------
    UsageError
        Where there is no layback, or one of 0: there it changes without bound.
    """
    square = _square_m2(warp_m, height_m, spread_m, separation_m)
    _refuse_short(square <= 0.0, warp_m, height_m, spread_m, separation_m)
    layback = np.sqrt(square)
    apart = np.asarray(spread_m, dtype=np.float64) - np.asarray(separation_m, dtype=np.float64)
    slopes = (
        np.asarray(warp_m, dtype=np.float64) / layback,
        -np.asarray(height_m, dtype=np.float64) / layback,
        -apart / (4.0 * layback),
    )
    return LaybackSlopes(*(np.asarray(slope) for slope in slopes))


def wing_end_distance_m(
    sweeps_m: npt.ArrayLike, door_spread_m: npt.ArrayLike, wing_spread_m: npt.ArrayLike
) -> FloatArray:
    """Return how far the wing-ends are behind the doors: ``sqrt(B^2 - ((S - w) / 2)^2)``.

    Raises
    ------
    UsageError
        Where sweeps and bridles are shorter than half of what the spreads differ.
    """
    sweeps, half = _bridle_triangle(sweeps_m, door_spread_m, wing_spread_m)
    return np.asarray(np.sqrt((sweeps - half) * (sweeps + half)))


def bridle_angle_deg(
    sweeps_m: npt.ArrayLike, door_spread_m: npt.ArrayLike, wing_spread_m: npt.ArrayLike
) -> FloatArray:
    """Return the angle between the bridles and the course: ``asin((S - w) / (2B))``.

    Negative where the wing-ends are farther apart than the doors.

    Raises
    ------
    UsageError
        Where sweeps and bridles are too short, or none: then there is no angle.
    """
    amount("length of sweeps and bridles", sweeps_m, above=0.0)
    sweeps, half = _bridle_triangle(sweeps_m, door_spread_m, wing_spread_m)
    return np.asarray(np.degrees(np.arcsin(half / sweeps)))


def spread_from_warps_m(
    warp_m: npt.ArrayLike,
    warps_apart_m: npt.ArrayLike,
    warps_apart_at_m: npt.ArrayLike,
    separation_m: npt.ArrayLike,
) -> FloatArray:
    """Return the door spread from how far the warps are apart a measured way down: ``b + (W / x)(d - b)``.

    Straight warps, similar triangles (own derivation; common practice at sea). An error of the distance
    measured comes out ``W / x`` times as large.

    Parameters
    ----------
    warp_m : float or array
    warps_apart_m, warps_apart_at_m : float or array
        Distance between the warps, measured so far down them from the blocks.
    separation_m : float or array
        Between the blocks.

    Raises
    ------
    UsageError
        Where warps cannot run like that: measured beyond their ends, crossing, or farther apart than they
        are long.
    """
    warp = amount("warp", warp_m, above=0.0)
    apart = amount("distance between the warps", warps_apart_m, above=0.0)
    at = amount("place where the warps were measured", warps_apart_at_m, least=0.1)
    separation = amount("distance between the blocks", separation_m, least=0.0)
    spread = separation + warp / at * (apart - separation)
    measured = [
        ("warp", warp, "m"),
        ("warps apart", apart, "m"),
        ("at", at, "m"),
        ("blocks", separation, "m"),
    ]
    remedy = "measure again, or state the door spread itself"
    refuse_where(at > warp, "warps measured beyond their ends", measured, "at most the warp", remedy)
    refuse_where(spread < 0.0, "warps that cross", measured, "warps that meet at the doors or later", remedy)
    wide = np.abs(apart - separation) > 2.0 * at
    refuse_where(wide, "warps farther apart than they are long", measured, "at most blocks + 2 x at", remedy)
    return np.asarray(spread)


def rope_bound_m(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, sweeps_m: npt.ArrayLike, net_length_m: npt.ArrayLike
) -> FloatArray:
    """Return how far any part of the gear can be from its block over the ground, doors on the bottom.

    ``sqrt(W^2 - H^2) + B + N``, whatever stream and turns do (own derivation). Where the warp does not reach
    the bottom the doors are not on it, and this is `bottom_reach_m`, which is more than ``B + N``.

    Notes
    -----
    While the doors are off the bottom, above all in hauling, the net can touch it farther away than this, up
    to `bottom_reach_m` (5 m more for 350 m of warp in 100 m, 12 m more for 1320 m in 500 m). A proof that no
    part touched a place must use that. Both are from the block the warp runs over: from the middle of two
    blocks half their distance comes on top, and both want the longest warp and the least depth.
    """
    warp, height, behind = _rope(warp_m, height_m, sweeps_m, net_length_m)
    down = np.sqrt(np.maximum((warp - height) * (warp + height), 0.0)) + behind
    return np.asarray(np.where(warp > height, down, bottom_reach_m(warp, height, behind, 0.0)))


def bottom_reach_m(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, sweeps_m: npt.ArrayLike, net_length_m: npt.ArrayLike
) -> FloatArray:
    """Return how far from its block the gear can touch the bottom, wherever its doors are.

    Warp, sweeps and net pulled out in one straight line from the block to the bottom: ``sqrt((W + B + N)^2 -
    H^2)`` (own derivation). 0 where they all hung straight down just touch it, and also where they do not
    reach it: then nothing touches.
    """
    warp, height, behind = _rope(warp_m, height_m, sweeps_m, net_length_m)
    length = warp + behind
    return np.asarray(np.sqrt(np.maximum((length - height) * (length + height), 0.0)))


def _rope(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, sweeps_m: npt.ArrayLike, net_length_m: npt.ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return warp, height, and what is behind the doors."""
    behind = amount("length of sweeps and bridles", sweeps_m, least=0.0) + amount(
        "length of the net", net_length_m, least=0.0
    )
    return (
        amount("warp", warp_m, least=0.0),
        amount("height of the block above the sea bed", height_m, least=0.0),
        np.asarray(behind),
    )


def _square_m2(
    warp_m: npt.ArrayLike, height_m: npt.ArrayLike, spread_m: npt.ArrayLike, separation_m: npt.ArrayLike
) -> FloatArray:
    """Return the square of the layback, negative where the warp is too short."""
    warp = amount("warp", warp_m, least=0.0)
    height = amount("height of the block above the sea bed", height_m, least=0.0)
    spread = amount("door spread", spread_m, least=0.0)
    separation = amount("distance between the blocks", separation_m, least=0.0)
    # Factored, because the difference of two large squares loses digits where the warp hangs steep.
    return np.asarray((warp - height) * (warp + height) - ((spread - separation) / 2.0) ** 2)


def _refuse_short(
    bad: npt.ArrayLike,
    warp_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    spread_m: npt.ArrayLike,
    separation_m: npt.ArrayLike,
) -> None:
    refuse_where(
        bad,
        "a warp too short for the doors to be on the bottom",
        [
            ("warp", warp_m, "m"),
            ("block above the sea bed", height_m, "m"),
            ("doors apart", spread_m, "m"),
            ("blocks apart", separation_m, "m"),
        ],
        "a warp longer than sqrt(height^2 + ((doors - blocks)/2)^2)",
        "check warp, depth and spread",
    )


def _bridle_triangle(
    sweeps_m: npt.ArrayLike, door_spread_m: npt.ArrayLike, wing_spread_m: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return the sweeps and half of what the spreads differ."""
    sweeps = amount("length of sweeps and bridles", sweeps_m, least=0.0)
    doors = amount("door spread", door_spread_m, least=0.0)
    wings = amount("wing spread", wing_spread_m, least=0.0)
    half = (doors - wings) / 2.0
    refuse_where(
        np.abs(half) > sweeps,
        "sweeps and bridles too short to reach from the doors to the wing-ends",
        [("sweeps", sweeps, "m"), ("door spread", doors, "m"), ("wing spread", wings, "m")],
        "sweeps of at least half the difference of the spreads",
        "check the three figures",
    )
    return sweeps, np.asarray(half)
