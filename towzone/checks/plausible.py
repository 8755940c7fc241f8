"""A zone whose coordinates look swapped, seen from where the tracks are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.errors import InputError, Problem, quoted
from towzone.geodesy.lines import WGS84
from towzone.model.track import Track
from towzone.model.zone import Zone
from towzone.units import NAUTICAL_MILE_M, format_position

__all__ = ["refuse_swapped", "swapped_looking"]

_FAR_M = 1000.0 * NAUTICAL_MILE_M
_NEAR_M = 200.0 * NAUTICAL_MILE_M
"""Own choice: a zone of a fishing trip is not an ocean away, and a swapped one is rarely near by chance."""


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
    suspects = []
    for zone in zones:
        corner = next(corners for corners, _ in zone.shape.strings())[0]
        lon, lat = float(corner[0]), float(corner[1])
        if abs(lon) > 90.0 or _distance(lon, lat, tracks) < _FAR_M:
            continue
        if _distance(lat, lon, tracks) < _NEAR_M:
            read, meant = format_position(lon, lat), format_position(lat, lon)
            suspects.append(
                (
                    zone,
                    f"corner 1 is read as {read}, an ocean away from every track; {meant} would be near one",
                )
            )
    return suspects


def _distance(lon_deg: float, lat_deg: float, tracks: Sequence[Track]) -> float:
    """Return the distance from a position to the nearest of a few fixes of each track, metres."""
    nearest = np.inf
    for track in tracks:
        some = np.linspace(0, len(track) - 1, 20).astype(np.int64)
        ends = np.ones(len(some))
        _, _, apart_m = WGS84.inv(lon_deg * ends, lat_deg * ends, track.lon_deg[some], track.lat_deg[some])
        nearest = min(nearest, float(np.min(apart_m)))
    return nearest
