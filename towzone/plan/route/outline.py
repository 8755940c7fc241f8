"""How far the outline of gear that moves along a leg reaches to either side of it."""

from __future__ import annotations

import math

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import FloatArray, to_geocentric

__all__ = ["reaches", "seen_from"]

_WAYS = 36
"""Directions in which the outermost points of the gear are looked for. Own choice."""


def seen_from(outline: FloatArray, corner: tuple[float, float], course_deg: float) -> FloatArray:
    """Return points, shape (n, m, 2), as metres to starboard and ahead of a corner on a course."""
    origin = to_geocentric(np.array([corner[0]]), np.array([corner[1]]))[0]
    off = to_geocentric(outline[..., 0].ravel(), outline[..., 1].ravel()) - origin
    lon, lat, course = (math.radians(value) for value in (*corner, course_deg))
    east = off @ np.array([-math.sin(lon), math.cos(lon), 0.0])
    north = off @ np.array([-math.sin(lat) * math.cos(lon), -math.sin(lat) * math.sin(lon), math.cos(lat)])
    right = east * math.cos(course) - north * math.sin(course)
    ahead = east * math.sin(course) + north * math.cos(course)
    return np.stack([right, ahead], axis=-1).reshape(outline.shape)


def reaches(seen: FloatArray, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far the hulls of points, moment by moment, reach to port and starboard, at distances along.

    What counts are the sides of each hull, and the ways of its outermost points from one moment to the next.
    """
    angle = 2.0 * np.pi * np.arange(_WAYS) / _WAYS
    outermost = np.argmax(seen @ np.stack([np.sin(angle), np.cos(angle)]), axis=1)
    hulls = np.take_along_axis(seen, outermost[:, :, None], axis=1)
    corners, of = shapely.get_coordinates(
        shapely.convex_hull(shapely.multipoints(list(seen))), return_index=True
    )
    sides = np.stack([corners[:-1], corners[1:]], axis=1)[of[:-1] == of[1:]]
    ways = np.stack([hulls[:-1], hulls[1:]], axis=2).reshape(-1, 2, 2)
    lines = np.concatenate([sides, ways])
    right, ahead = lines[:, :, 0], lines[:, :, 1]
    run = ahead[:, 1] - ahead[:, 0]
    lines_right, run = right[np.abs(run) > _LEVEL_M], run[np.abs(run) > _LEVEL_M]
    ahead = ahead[np.abs(ahead[:, 1] - ahead[:, 0]) > _LEVEL_M]
    fine = np.unique(np.concatenate([_between(along), along]))
    part = (fine[None, :] - ahead[:, :1]) / run[:, None]
    at = lines_right[:, :1] + part * (lines_right[:, 1:] - lines_right[:, :1])
    met = (part >= 0.0) & (part <= 1.0)
    port = np.where(met, -at, -np.inf).max(axis=0)
    starboard = np.where(met, at, -np.inf).max(axis=0)
    return _around(fine, port, along), _around(fine, starboard, along)


def _between(along: FloatArray) -> FloatArray:
    """Return places between those at which a side is kept."""
    return np.concatenate([along[:-1] + share * np.diff(along) for share in (0.5,)])


def _around(fine: FloatArray, side: FloatArray, along: FloatArray) -> FloatArray:
    """Return a side at fewer places, so that it lies nowhere within the one at many when joined straight."""
    known = np.isfinite(side)
    side = np.interp(fine, fine[known], side[known])
    kept = np.interp(along, fine, side)
    cell = np.clip(np.searchsorted(along, fine, side="right") - 1, 0, len(along) - 2)
    beyond = np.clip(side - np.interp(fine, along, kept), 0.0, None)
    more = np.zeros(len(along))
    np.maximum.at(more, cell, beyond)
    np.maximum.at(more, cell + 1, beyond)
    return np.asarray(kept + more)


_LEVEL_M = 1e-6
"""Sides that run along less than this are square to the leg: their ends are ends of others, too."""
