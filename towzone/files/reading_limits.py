"""Which readings are possible: others are left out and counted, whatever the format."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["LIMITS", "is_possible"]

LIMITS = {
    "sog_kn": (0.0, 102.3),
    "cog_deg": (0.0, 360.0),
    "heading_deg": (0.0, 360.0),
    "depth_m": (0.0, 12_000.0),
    "warp_m": (0.0, 10_000.0),
    "hdop": (0.01, 100.0),
}
"""The least possible value of each reading, and the first that is not.

Published: speed, course and heading, where 102.3, 360 and 511 mean that there is none (ITU-R M.1371-5, Annex
8, table 48). Own choice: the others; no sea is 12 km deep, no warp 10 km long, and a dilution of 0 or 100
is written by receivers without a position.
"""


def is_possible(reading: str, values: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """Return which values a reading can have; ``NaN`` is none.

    Parameters
    ----------
    reading : str
        A name of `towzone.model.track.READINGS`, which states the unit.
    values : ndarray of float64, shape (n,)
    """
    low, high = LIMITS[reading]
    return (values >= low) & (values < high)
