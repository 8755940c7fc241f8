"""A zone whose coordinates look swapped, seen from where the tracks are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.errors import InputError, Problem, quoted
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import WGS84
from towzone.model.track import Track
from towzone.model.zone import Zone
from towzone.units import NAUTICAL_MILE_M, format_position

__all__ = ["refuse_swapped", "swapped_looking"]

_FAR_M = 1000.0 * NAUTICAL_MILE_M
_NEAR_M = 200.0 * NAUTICAL_MILE_M
"""Own choice: a zone of a fishing trip is not an ocean away, and a swapped one is rarely near by chance."""

_LONGEST_DEGREE_M = 112_000.0
"""No degree of latitude or longitude is longer on WGS 84, whose radii of curvature are 6 400 km at most."""


def refuse_swapped(zones: Sequence[Zone], tracks: Sequence[Track]) -> None:
    """Refuse zones whose longitude and latitude seem to have changed places, as seen from the tracks.

    Raises
    ------
    InputError
    """
    suspects = swapped_looking(zones, tracks)
    if suspects:
        zone, sentence = suspects[0]
        where = f"feature {zone.feature} (zone {quoted(zone.name)})"
        message = f"coordinates look swapped: {sentence}; GeoJSON writes longitude first"
        if len(suspects) == len(zones):
            message += ". If the zones are right, latitude and longitude changed places in the tracks"
        raise InputError(zone.file, [Problem(where, message)])


def swapped_looking(zones: Sequence[Zone], tracks: Sequence[Track]) -> list[tuple[Zone, str]]:
    """Return the zones an ocean away from all tracks that would be near them with swapped coordinates.

    Returns
    -------
    list of (Zone, str)
        With a sentence naming the first corner as read and as it may be meant.
    """
    fixes = _some_fixes(tracks)
    corners = np.array([next(corners for corners, _ in zone.shape.strings())[0] for zone in zones])
    if not (len(corners) and len(fixes)):
        return []
    # Most zones are near, and cheaply seen to be: a degree is nowhere longer than that.
    apart_deg = np.abs(corners[:, None, :] - fixes).sum(axis=2).min(axis=1)
    suspects = []
    for number in np.flatnonzero(apart_deg * _LONGEST_DEGREE_M >= _FAR_M).tolist():
        lon, lat = corners[number].tolist()
        if abs(lon) > 90.0 or _distance(lon, lat, fixes) < _FAR_M:
            continue
        if _distance(lat, lon, fixes) < _NEAR_M:
            read, meant = format_position(lon, lat), format_position(lat, lon)
            sentence = (
                f"corner 1 is read as {read}, an ocean away from every track; {meant} would be near one"
            )
            suspects.append((zones[number], sentence))
    return suspects


def _some_fixes(tracks: Sequence[Track]) -> FloatArray:
    """Return a few fixes of each track, shape (n, 2)."""
    found = [np.empty((0, 2))]
    for track in tracks:
        some = np.linspace(0, len(track) - 1, 20).astype(np.int64)
        found.append(np.column_stack([track.lon_deg[some], track.lat_deg[some]]))
    return np.concatenate(found)


def _distance(lon_deg: float, lat_deg: float, fixes: FloatArray) -> float:
    """Return the distance from a position to the nearest of some fixes, metres."""
    ends = np.ones(len(fixes))
    _, _, apart_m = WGS84.inv(lon_deg * ends, lat_deg * ends, fixes[:, 0], fixes[:, 1])
    return float(np.min(apart_m, initial=np.inf))
