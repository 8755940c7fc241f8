"""A zone whose coordinates look swapped, seen from where the tracks are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.errors import InputError, Problem, quoted
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import WGS84
from towzone.model.track import Track
from towzone.model.zone import Zone
from towzone.units import NAUTICAL_MILE_M, format_position

__all__ = ["first_corners", "refuse_swapped", "swapped_looking"]

_FAR_M = 1000.0 * NAUTICAL_MILE_M
_NEAR_M = 200.0 * NAUTICAL_MILE_M
"""Own choice: a zone of a fishing trip is not an ocean away, and a swapped one is rarely near by chance."""

_LONGEST_DEGREE_M = 112_000.0
"""No degree of latitude or longitude is longer on WGS 84, whose radii of curvature are 6 400 km at most."""
_SHORTEST_DEGREE_M = 110_000.0
"""No degree of latitude is shorter on WGS 84, whose meridians are curved by 6 335 km at the least."""

_BLOCK = 1_000_000
"""Zones times fixes looked at together, which bounds the memory. Own choice."""


def first_corners(zones: Sequence[Zone]) -> FloatArray:
    """Return the first corner of each zone, longitude and latitude, shape (zones, 2)."""
    return np.array([next(zone.shape.strings())[0][0] for zone in zones], dtype=np.float64).reshape(-1, 2)


def refuse_swapped(zones: Sequence[Zone], tracks: Sequence[Track], corners: FloatArray | None = None) -> None:
    """Refuse zones whose longitude and latitude seem to have changed places, as seen from the tracks.

    Parameters
    ----------
    corners : ndarray, shape (zones, 2), or None
        The first corner of each zone, where they are known already.

    Raises
    ------
    InputError
    """
    suspects = swapped_looking(zones, tracks, corners)
    if suspects:
        zone, sentence = suspects[0]
        where = f"feature {zone.feature} (zone {quoted(zone.name)})"
        message = f"coordinates look swapped: {sentence}; GeoJSON writes longitude first"
        if len(suspects) == len(zones):
            message += ". If the zones are right, latitude and longitude changed places in the tracks"
        raise InputError(zone.file, [Problem(where, message)])


def swapped_looking(
    zones: Sequence[Zone], tracks: Sequence[Track], corners: FloatArray | None = None
) -> list[tuple[Zone, str]]:
    """Return the zones an ocean away from all tracks that would be near them with swapped coordinates.

    Returns
    -------
    list of (Zone, str)
        With a sentence naming the first corner as read and as it may be meant.
    """
    fixes = _some_fixes(tracks)
    corners = first_corners(zones) if corners is None else corners
    if not (len(corners) and len(fixes)):
        return []
    suspects = []
    for number in _perhaps_swapped(corners, fixes).tolist():
        lon, lat = corners[number].tolist()
        if _distance(lon, lat, fixes) < _FAR_M or not _distance(lat, lon, fixes) < _NEAR_M:
            continue
        read, meant = format_position(lon, lat), format_position(lat, lon)
        sentence = f"corner 1 is read as {read}, an ocean away from every track; {meant} would be near one"
        suspects.append((zones[number], sentence))
    return suspects


def _perhaps_swapped(corners: FloatArray, fixes: FloatArray) -> IntArray:
    """Return the zones that may be far from all fixes and near them when turned round; most are told cheaply.

    A longitude that is meant as a latitude is one, and near that of a fix; and whatever is few degrees away
    is not far.
    """
    near_deg = _NEAR_M / _SHORTEST_DEGREE_M
    low, high = fixes[:, 1].min() - near_deg, fixes[:, 1].max() + near_deg
    meant = corners[:, 0]
    some: IntArray = np.flatnonzero((meant >= max(low, -90.0)) & (meant <= min(high, 90.0)))
    step = max(_BLOCK // len(fixes), 1)
    blocks = (some[low : low + step] for low in range(0, len(some), step))
    far = [block[_least_deg(corners[block], fixes) * _LONGEST_DEGREE_M >= _FAR_M] for block in blocks]
    return np.concatenate([some[:0], *far])


def _least_deg(corners: FloatArray, fixes: FloatArray) -> FloatArray:
    """Return how many degrees, of longitude and latitude together, each corner is from the nearest fix."""
    return np.asarray(np.abs(corners[:, None, :] - fixes).sum(axis=2).min(axis=1))


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
