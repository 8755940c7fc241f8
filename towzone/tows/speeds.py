"""How fast and how straight a vessel went, from positions alone, over windows that drown their noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.speed_loops import resultants, speed_windows, ways
from towzone.tows.thinning import BoolArray, IntArray, thinned
from towzone.units import KNOT_MPS

__all__ = ["HEADING_WINDOW_S", "SPEED_WINDOW_S", "Profile", "profile_of"]

SPEED_WINDOW_S = 60.0
"""Speeds are the straight way over at least this long: two positions 3 m out of place each then make 0.14 kn,
while the sum of noisy legs makes any figure (Ranacher et al. 2016, Int. J. Geogr. Inf. Sci. 30:316). The
length is an own choice."""

HEADING_WINDOW_S = 600.0
_HEADING_LEGS = 3
"""Headings are compared over this long, or over three legs where these are longer. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """A track as stretches between marks, each with its speed.

    Parameters
    ----------
    fixes : int
        How many the track has.
    fix : ndarray of int64, shape (m,)
        Marks: the fixes looked at (`towzone.tows.thinning`).
    time_s : ndarray, shape (m,)
    gap : ndarray of bool, shape (m - 1,)
        Stretches of which the positions say nothing.
    lasts_s : ndarray, shape (m - 1,)
    way_m : ndarray, shape (m - 1,)
        Straight distance from mark to mark, through the earth: never more than the way sailed.
    speed_kn : ndarray, shape (m - 1,)
        Over `SPEED_WINDOW_S` or more; ``NaN`` in gaps and where the positions between two gaps last less.
    steadiness : ndarray, shape (m - 1,)
        Mean resultant length of the headings around: 1 on a straight course, towards 0 when wandering;
        ``NaN`` where there are fewer than two headings or no speed.
    """

    fixes: int
    fix: IntArray
    time_s: FloatArray
    gap: BoolArray
    lasts_s: FloatArray
    way_m: FloatArray
    speed_kn: FloatArray
    steadiness: FloatArray

    def __len__(self) -> int:
        return len(self.gap)

    def mean_kn(self) -> FloatArray:
        """Return the mean speed of each stretch by itself, gaps included; of no time at all, infinite."""
        still = self.lasts_s <= 0.0
        mean = self.way_m / np.where(still, 1.0, self.lasts_s) / KNOT_MPS
        return np.where(still, np.inf, mean)


def profile_of(
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    time_s: FloatArray,
    part: npt.NDArray[np.integer],
    gap_s: float,
) -> Profile:
    """Return speeds and headings of a track.

    Parameters
    ----------
    lon_deg, lat_deg, time_s, part : ndarray, shape (n,)
    gap_s : float
        Longest time between two fixes that is not a gap.

    Raises
    ------
    GeometryError
        Known times decrease.

    References
    ----------
    Mardia and Jupp (2000), Directional Statistics, section 2.3, for the mean resultant length.
    """
    fix, gap = thinned(time_s, part, gap_s)
    at_s = solid(time_s[fix])
    low, high = speed_windows(at_s, gap, SPEED_WINDOW_S)
    way_m, across_m, heading = ways(solid(lon_deg[fix]), solid(lat_deg[fix]), low, high)
    across_s = at_s[high] - at_s[low]
    known = ~gap & (across_s >= SPEED_WINDOW_S)
    speed_kn = np.where(known, across_m / np.where(known, across_s, 1.0) / KNOT_MPS, np.nan)
    half_s, half_legs = HEADING_WINDOW_S / 2.0, _HEADING_LEGS // 2
    return Profile(
        fixes=len(time_s),
        fix=fix,
        time_s=at_s,
        gap=gap,
        lasts_s=np.diff(at_s),
        way_m=way_m,
        speed_kn=speed_kn,
        steadiness=resultants(at_s, ~known, np.sin(heading), np.cos(heading), half_s, half_legs),
    )
