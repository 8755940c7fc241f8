"""Parts of the gear as paths that can be measured like the vessel's: by places of the vessel on its track."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towzone.checks.batches import Batch, Carrier
from towzone.checks.shares import Group
from towzone.gear.corridor import Swept
from towzone.geodesy.approach import Side
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric
from towzone.geodesy.pieces import DEVIATION_M, Pieces

__all__ = ["GearCurve", "curve_batch", "rims_of", "side_together"]

_LEAST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84 (`towzone.geodesy.pieces`)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearCurve:
    """The path of one point of the gear.

    Parameters
    ----------
    part : str
    place : ndarray, shape (n,)
        Places of the vessel, rising.
    xyz_m : ndarray, shape (n, 3)
        Where the point was then, geocentric; between nodes it went straight.
    vessel : Carrier
        The track it belongs to, for times.
    """

    part: str
    place: FloatArray
    xyz_m: FloatArray
    vessel: Carrier

    @classmethod
    def of(
        cls, part: str, place: FloatArray, lon_deg: FloatArray, lat_deg: FloatArray, vessel: Carrier
    ) -> GearCurve:
        """Return the path through positions."""
        return cls(part=part, place=place, xyz_m=to_geocentric(lon_deg, lat_deg), vessel=vessel)

    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes at places of the vessel, degrees."""
        return from_geocentric(self.at(place))

    def at(self, place: FloatArray) -> FloatArray:
        """Return geocentric positions at places of the vessel, shape (m, 3)."""
        return np.stack([np.interp(place, self.place, self.xyz_m[:, axis]) for axis in range(3)], axis=1)

    def time_at(self, place: float) -> np.datetime64:
        """Return the time of a place, ``NaT`` when unknown."""
        return self.vessel.time_at(place)


def curve_batch(curve: GearCurve, groups: Sequence[Group]) -> Batch:
    """Return groups of a path as a batch; what they cover must lie between nodes of the curve."""
    begins, ends, owners = [], [], []
    for owner, group in enumerate(groups):
        for first, last in zip(group.covered.first.tolist(), group.covered.last.tolist(), strict=True):
            inner = curve.place[(curve.place > first) & (curve.place < last)]
            places = np.concatenate([[first], inner, [last]])
            begins.append(places[:-1])
            ends.append(places[1:])
            owners.append(np.full(len(places) - 1, owner))
    begin, end = np.concatenate(begins), np.concatenate(ends)
    pieces = _pieces(curve.at(begin), curve.at(end), np.concatenate(owners))
    return Batch(
        path=curve,
        groups=tuple(groups),
        side=Side.of(pieces, len(groups)),
        piece_begin=begin,
        piece_end=end,
    )


def rims_of(areas: Sequence[Swept]) -> Side:
    """Return the rims of swept areas, each the owner of its own; every area has one."""
    starts, ends, owners = [], [], []
    for owner, area in enumerate(areas):
        for ring in (ring for polygon in area.polygons for ring in polygon):
            xyz = to_geocentric(ring[:, 0], ring[:, 1])
            starts.append(xyz[:-1])
            ends.append(xyz[1:])
            owners.append(np.full(len(ring) - 1, owner))
    pieces = _pieces(np.concatenate(starts), np.concatenate(ends), np.concatenate(owners))
    return Side.of(pieces, len(areas))


def side_together(sides: Sequence[Side]) -> Side:
    """Return the pieces of several sides as one, all under one owner."""
    starts = np.concatenate([side.pieces.start_m for side in sides])
    ends = np.concatenate([side.pieces.end_m for side in sides])
    return Side.of(_pieces(starts, ends, np.zeros(len(starts), dtype=np.int64)), 1)


def _pieces(start_m: FloatArray, end_m: FloatArray, owner: IntArray) -> Pieces:
    count = len(owner)
    chord_m = np.sqrt(((end_m - start_m) ** 2).sum(axis=1))
    return Pieces(
        start_m=start_m,
        end_m=end_m,
        edge=np.arange(count),
        from_part=np.zeros(count),
        to_part=np.ones(count),
        owner=owner,
        swell_m=chord_m**2 / (8.0 * _LEAST_RADIUS_M) * 1.01 + DEVIATION_M,
    )
