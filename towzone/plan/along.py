"""Places along a planned line, by metres from where towing begins: positions, courses, lines cut short."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from towzone.geodesy.approach import Side
from towzone.geodesy.edges import Edges
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, direct, inverse, points_along
from towzone.geodesy.pieces import cut
from towzone.model.plan import PlannedLine
from towzone.plan.lines import Legs, legs_of

__all__ = ["Way", "legs_side"]

_SAME_M = 0.01
"""A place nearer than this to a corner is the corner. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A planned line with the metres at which its corners lie.

    Parameters
    ----------
    line : PlannedLine
    kind : LineKind
        How its corners are joined.
    legs : Legs
    corner_m : ndarray, shape (n,)
        Metres along the line of each corner, from 0.
    """

    line: PlannedLine
    kind: LineKind
    legs: Legs
    corner_m: FloatArray

    @classmethod
    def of(cls, line: PlannedLine, kind: LineKind) -> Way:
        """Return the way of a line.

        Raises
        ------
        GeometryError
            A leg is too long or ambiguous.
        """
        legs = legs_of(line, kind)
        return cls(
            line=line, kind=kind, legs=legs, corner_m=np.concatenate([[0.0], np.cumsum(legs.length_m)])
        )

    @property
    def length_m(self) -> float:
        """Length of the whole line."""
        return float(self.corner_m[-1])

    def leg_at(self, way_m: npt.ArrayLike) -> npt.NDArray[np.int64]:
        """Return the leg, from 0, that each place lies on; a corner belongs to the leg that ends there."""
        leg = np.searchsorted(self.corner_m, np.atleast_1d(way_m), side="left") - 1
        return np.asarray(np.clip(leg, 0, len(self.legs.length_m) - 1), dtype=np.int64)

    def positions(self, way_m: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of places on the line, shape (n,)."""
        way = np.atleast_1d(np.asarray(way_m, dtype=np.float64))
        leg = self.leg_at(way)
        lon, lat = self.line.lon_deg, self.line.lat_deg
        share = np.clip((way - self.corner_m[leg]) / self.legs.length_m[leg], 0.0, 1.0)
        east, north = points_along(self.kind, lon[leg], lat[leg], lon[leg + 1], lat[leg + 1], share)
        return wrap_longitude(east), north

    def courses_deg(self, way_m: npt.ArrayLike, *, begins: bool = False) -> FloatArray:
        """Return the true courses at places on the line, shape (n,).

        Parameters
        ----------
        begins : bool
            At a corner the course of the leg that begins there, not of the one that ends.
        """
        way = np.atleast_1d(np.asarray(way_m, dtype=np.float64))
        leg = self.leg_at(way + _SAME_M if begins else way)
        if self.kind is not LineKind.GEODESIC:
            return self.legs.course0_deg[leg]
        lon, lat = self.positions(way)
        end_lon, end_lat = self.line.lon_deg[leg + 1], self.line.lat_deg[leg + 1]
        left_m, course = inverse(self.kind, lon, lat, end_lon, end_lat)
        return np.where(left_m > _SAME_M, course, self.legs.course1_deg[leg])

    def until(self, way_m: float) -> PlannedLine:
        """Return the line cut short at a place, which is more than 0."""
        kept = int(np.count_nonzero(self.corner_m < way_m - _SAME_M))
        lon, lat = self.positions(way_m)
        return replace(
            self.line,
            lon_deg=np.append(self.line.lon_deg[:kept], lon),
            lat_deg=np.append(self.line.lat_deg[:kept], lat),
            point_names=(*self.line.point_names[:kept], self._name_at(way_m)),
        )

    def since(self, way_m: float) -> PlannedLine:
        """Return the line as it is from a place on, which is before its end."""
        first = int(np.searchsorted(self.corner_m, way_m + _SAME_M, side="right"))
        lon, lat = self.positions(way_m)
        return replace(
            self.line,
            lon_deg=np.append(lon, self.line.lon_deg[first:]),
            lat_deg=np.append(lat, self.line.lat_deg[first:]),
            point_names=(self._name_at(way_m), *self.line.point_names[first:]),
        )

    def runs(self, way_m: FloatArray, length_m: float, *, aside_m: float = 0.0, astern: bool = False) -> Side:
        """Return straight ways from places on the line, on the course there, or back against it.

        That of each place is the owner of the same number; they begin so far to starboard.
        """
        course = self.courses_deg(way_m, begins=astern)
        lon, lat = self._beside(*self.positions(way_m), course, aside_m)
        ends = direct(self.kind, lon, lat, (course + 180.0) % 360.0 if astern else course, length_m)
        return legs_side(self.kind, lon, lat, *ends)

    def whole(self, beyond_m: float, *, aside_m: float = 0.0) -> Side:
        """Return the legs, and after them the way straight on from the end, so far to starboard."""
        lon, lat, legs = self.line.lon_deg, self.line.lat_deg, self.legs
        on = direct(self.kind, lon[-1], lat[-1], legs.course1_deg[-1], beyond_m)
        lon, lat = np.append(lon, on[0]), np.append(lat, on[1])
        first = np.append(legs.course0_deg, legs.course1_deg[-1])
        last = np.append(legs.course1_deg, legs.course1_deg[-1])
        begin = self._beside(lon[:-1], lat[:-1], first, aside_m)
        return legs_side(self.kind, *begin, *self._beside(lon[1:], lat[1:], last, aside_m))

    def _beside(
        self, lon_deg: FloatArray, lat_deg: FloatArray, course_deg: FloatArray, aside_m: float
    ) -> tuple[FloatArray, FloatArray]:
        if aside_m == 0.0:
            return lon_deg, lat_deg
        return direct(LineKind.GEODESIC, lon_deg, lat_deg, (course_deg + 90.0) % 360.0, aside_m)

    def _name_at(self, way_m: float) -> str:
        corner = int(np.argmin(np.abs(self.corner_m - way_m)))
        return self.line.point_names[corner] if abs(self.corner_m[corner] - way_m) < _SAME_M else ""


def legs_side(
    kind: LineKind, lon0_deg: FloatArray, lat0_deg: FloatArray, lon1_deg: FloatArray, lat1_deg: FloatArray
) -> Side:
    """Return straight ways as one side of a search, each the owner of the same number."""
    count = len(lon0_deg)
    edges = Edges(
        lon0_deg=np.asarray(lon0_deg, dtype=np.float64),
        lat0_deg=np.asarray(lat0_deg, dtype=np.float64),
        lon1_deg=np.asarray(lon1_deg, dtype=np.float64),
        lat1_deg=np.asarray(lat1_deg, dtype=np.float64),
        owner=np.arange(count),
        kind=np.full(count, kind, dtype=object),
    )
    return Side.of(cut(edges), count)
