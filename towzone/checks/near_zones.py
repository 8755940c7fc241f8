"""Which of many zones a track may have rows with; the others are proved too far off, and not looked at."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from towzone.checks.legs import BoolArray
from towzone.checks.settings import CheckSettings
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric
from towzone.geodesy.lines import LineKind, inverse, points_along
from towzone.model.track import Track
from towzone.model.zone import Zone

__all__ = ["NearZones"]

_APART_M = 1_000.0
"""Distance of the points of a track by which far zones are told from near ones. Own choice."""

_HUGE_M = 2_000_000.0
"""Zones this large are never left out. Own choice."""

_LEAST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84."""


class NearZones:
    """Boxes around zones, by which those far from a track are told.

    A box holds the edges of its zone and, grown by the bulge of the earth over it, what lies between them:
    over a chord c that is c^2 / (8 R), and eight times as much is taken, for a box is not a ball.
    """

    def __init__(self, zones: Sequence[Zone]) -> None:
        self._zones = tuple(zones)

    def of(self, track: Track, kind: LineKind, settings: CheckSettings, farther_m: float) -> IntArray:
        """Return the numbers of the zones that a track may have rows with.

        Parameters
        ----------
        kind : LineKind
            How its positions are joined.
        farther_m : float
            How far from the vessel its gear may be.

        Raises
        ------
        GeometryError
            An edge of a zone, or a leg of the track, is too long or ambiguous.
        """
        low, high = self._boxes
        matters_m = self._matters_m(settings) + farther_m + _APART_M / 2.0
        points = _points(track, kind)
        # In two steps: by the box of the track, then by its points.
        apart = np.maximum(np.maximum(low - points.max(axis=0), points.min(axis=0) - high), 0.0)
        # Asked the way round that keeps a zone of which nothing can be said.
        near = np.flatnonzero(~(np.sqrt((apart**2).sum(axis=1)) > matters_m))
        apart_m = np.full(len(near), np.inf)
        for point in points:
            beyond = np.maximum(np.maximum(low[near] - point, point - high[near]), 0.0)
            apart_m = np.minimum(apart_m, np.sqrt((beyond**2).sum(axis=1)))
        chosen = self._always.copy()
        chosen[near[~(apart_m > matters_m[near])]] = True
        return np.flatnonzero(chosen)

    @cached_property
    def _boxes(self) -> tuple[FloatArray, FloatArray]:
        """The lower and upper corners of the boxes, shape (zones, 3); NaN of a zone without a corner."""
        start_m, end_m, length_m, first, owner = _edges(self._zones)
        # No point of an edge is farther from the nearer of its ends than half its length.
        swell_m = (length_m / 2.0 + 0.01)[:, None]
        low, high = np.full((2, len(self._zones), 3), np.nan)
        if len(owner):
            low[owner] = np.minimum.reduceat(np.minimum(start_m, end_m) - swell_m, first)
            high[owner] = np.maximum.reduceat(np.maximum(start_m, end_m) + swell_m, first)
        bulge_m = ((high - low) ** 2).sum(axis=1) / _LEAST_RADIUS_M
        return low - bulge_m[:, None], high + bulge_m[:, None]

    @cached_property
    def _always(self) -> BoolArray:
        """Whether a zone counts wherever the track is: too large for boxes, or the other way round."""
        low, high = self._boxes
        turned = np.array([zone.rules.allowed_only_inside for zone in self._zones], dtype=bool)
        return np.asarray(turned | (np.sqrt(((high - low) ** 2).sum(axis=1)) > _HUGE_M), dtype=bool)

    def _matters_m(self, settings: CheckSettings) -> FloatArray:
        """Return how far from a vessel each zone may be and still have a row, but for its gear."""
        known = [settings.margin_m, *settings.kind_margins_m.values(), *(z.margin_m for z in self._zones)]
        margin_m = max((margin for margin in known if margin is not None), default=0.0)
        off_m = settings.position_error_m + settings.steering_m
        own_m = np.array([zone.radius_m + zone.datum_accuracy_m for zone in self._zones])
        return np.asarray(own_m + max(settings.reach_m, margin_m) + off_m)


def _edges(
    zones: Sequence[Zone],
) -> tuple[FloatArray, FloatArray, FloatArray, IntArray, IntArray]:
    """Return the ends and lengths of all edges, seams among them, where those of each zone begin, and whose.

    Zones without a corner are left out.
    """
    strings = [(z, *string) for z, zone in enumerate(zones) for string in zone.shape.strings()]
    strings = [string for string in strings if len(string[1])]
    if not strings:
        nothing, none = np.empty((0, 3)), np.empty(0, dtype=np.int64)
        return nothing, nothing, np.empty(0), none, none
    corners = np.concatenate([corners for _, corners, _ in strings])
    size = np.array([len(corners) for _, corners, _ in strings])
    begin = np.cumsum(size) - size
    following = np.arange(1, len(corners) + 1)
    # The last corner of a ring is joined to its first, that of a line to nothing: an edge of no length.
    closed = np.array([closed for _, _, closed in strings])
    following[begin + size - 1] = np.where(closed, begin, begin + size - 1)
    of_string = np.array([z for z, _, _ in strings])
    kind = np.array([list(LineKind).index(zone.edges) for zone in zones])[np.repeat(of_string, size)]
    lon, lat = corners.T
    length_m = np.zeros(len(corners))
    for number, line in enumerate(LineKind):
        mine = np.flatnonzero(kind == number)
        if len(mine):
            there = following[mine]
            length_m[mine], _ = inverse(line, lon[mine], lat[mine], lon[there], lat[there])
    xyz_m = to_geocentric(lon, lat)
    owner, first = np.unique(of_string, return_index=True)
    return xyz_m, xyz_m[following], length_m, begin[first], owner


def _points(track: Track, kind: LineKind) -> FloatArray:
    """Return points of a track, no more than `_APART_M` from one to the next, shape (n, 3)."""
    lon, lat = track.lon_deg, track.lat_deg
    length_m, _ = inverse(kind, lon[:-1], lat[:-1], lon[1:], lat[1:])
    counts = np.maximum(np.ceil(length_m / _APART_M), 1.0).astype(np.int64)
    leg = np.repeat(np.arange(len(counts)), counts)
    share = (np.arange(len(leg)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[leg]
    inner = points_along(kind, lon[leg], lat[leg], lon[leg + 1], lat[leg + 1], share)
    return to_geocentric(np.append(inner[0], lon[-1]), np.append(inner[1], lat[-1]))
