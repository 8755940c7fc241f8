"""Times for a planned route that has none: from a departure and a speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from towzone.errors import UsageError
from towzone.geodesy.lines import LineKind, inverse
from towzone.model.track import Track
from towzone.units import KNOT_MPS

__all__ = ["scheduled"]

_LONGEST_S = 366 * 86_400.0


def scheduled(track: Track, depart_utc: np.datetime64, speed_kn: float, legs: LineKind) -> Track:
    """Return a planned route with the times at which its corners are passed at one steady speed.

    Parameters
    ----------
    depart_utc : datetime64
        When the first corner is left.
    speed_kn : float
        Over the ground, more than 0.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    UsageError
        The route would take more than a year.
    """
    lon, lat = track.lon_deg, track.lat_deg
    length_m, _ = inverse(legs, lon[:-1], lat[:-1], lon[1:], lat[1:])
    elapsed_s = np.concatenate([[0.0], np.cumsum(length_m)]) / (speed_kn * KNOT_MPS)
    if elapsed_s[-1] > _LONGEST_S:
        message = f"at {speed_kn:g} kn the route '{track.track_id}' would take more than a year"
        raise UsageError(message)
    times = depart_utc.astype("datetime64[us]") + np.round(elapsed_s * 1e6).astype("timedelta64[us]")
    return replace(track, time_utc=times)
