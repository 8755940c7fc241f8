"""What a line costs: its length, and a little for straying from the wanted one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.room import Room

__all__ = ["STRAY_SHARE", "Wanted"]

STRAY_SHARE = 0.01
"""A metre far from the wanted line costs by so much more than one on it: of two lines that differ less in
length the nearer one is taken, and no line found is longer by more for that. Own choice."""

_STRAY_SHARE_BACK = 0.1
"""The same for a line whose corners are kept, as nearly as they can be. Own choice."""

_HALF_STRAY_M = 1_000.0
"""So far off, half of that is counted. Own choice."""

_CORNER_SHARE, _CORNER_M = 0.001, 10.0
"""What a corner costs: a share of the way straight from start to end, but no more than so many metres: a line
with fewer corners is easier to steer, and its gear is more often settled. Own choice."""

_CORNER_KEPT_M = 40.0
"""The same where the corners of the wanted line are kept. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """The wanted line in the plane.

    Parameters
    ----------
    xy_m : ndarray, shape (n, 2)
        Its corners.
    corner_m : float
        What a leg costs beside its length.
    stray_share : float
    via_m : ndarray, shape (v, 2)
        Places to be passed in this order, each within the distance ``near_m``: its inner corners, unless they
        cannot be kept.
    near_m : ndarray, shape (v,)
    """

    xy_m: FloatArray
    corner_m: float
    stray_share: float
    via_m: FloatArray
    near_m: FloatArray

    @classmethod
    def of(cls, xy_m: FloatArray) -> Wanted:
        """Return a wanted line with the places that it keeps to be passed exactly."""
        straight = float(np.hypot(*(xy_m[-1] - xy_m[0])))
        kept = len(xy_m) > 2
        via = xy_m[1:-1] if kept else np.empty((0, 2))
        return cls(
            xy_m=xy_m,
            corner_m=_CORNER_KEPT_M if kept else min(_CORNER_SHARE * straight, _CORNER_M),
            stray_share=_STRAY_SHARE_BACK if kept else STRAY_SHARE,
            via_m=via,
            near_m=np.zeros(len(via)),
        )

    def freely(self) -> Wanted:
        """Return the same line with no places to be passed."""
        return replace(self, via_m=np.empty((0, 2)), near_m=np.empty(0))

    @property
    def least_m(self) -> float:
        """About the least that a way can be long in the plane: straight, or by the corners that are kept."""
        if not len(self.via_m):
            return float(np.hypot(*(self.xy_m[-1] - self.xy_m[0])))
        return float(np.hypot(*np.diff(self.xy_m, axis=0).T).sum())

    def missed_m(self, points: Sequence[Sequence[float]]) -> float:
        """Return by how much a way passes too far from the places that are to be passed, all together."""
        if not len(self.via_m):
            return 0.0
        way = shapely.LineString(points)
        return float(np.maximum(shapely.distance(way, shapely.points(self.via_m)) - self.near_m, 0.0).sum())

    def away_m(self, points: FloatArray) -> FloatArray:
        """Return the distances of points, shape ``(p, 2)``, from the wanted line."""
        best = np.full(len(points), np.inf)
        for a, b in zip(self.xy_m[:-1], self.xy_m[1:], strict=True):
            way = b - a
            share = np.clip(((points - a) @ way) / max(float(way @ way), 1e-9), 0.0, 1.0)
            off = points - (a + share[:, None] * way)
            best = np.minimum(best, np.hypot(off[:, 0], off[:, 1]))
        return best

    def factor(self, points: FloatArray) -> FloatArray:
        """Return what a metre costs at points, from 1 on the wanted line on."""
        away = self.away_m(points)
        return np.asarray(1.0 + self.stray_share * away / (away + _HALF_STRAY_M))

    def cost(self, room: Room, start: Sequence[float], end: Sequence[float]) -> float:
        """Return what a leg costs, metres."""
        ends = (start, ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0), end)
        mean = sum(w * self._factor_at(p) for w, p in zip((0.25, 0.5, 0.25), ends, strict=True))
        return room.true_m(start, end) * mean + self.corner_m

    def _factor_at(self, point: Sequence[float]) -> float:
        best, (x, y) = math.inf, point
        corners = self.xy_m.tolist()
        for (ax, ay), (bx, by) in itertools.pairwise(corners):
            wx, wy = bx - ax, by - ay
            share = ((x - ax) * wx + (y - ay) * wy) / max(wx * wx + wy * wy, 1e-9)
            share = 0.0 if share < 0.0 else 1.0 if share > 1.0 else share
            best = min(best, math.hypot(x - ax - share * wx, y - ay - share * wy))
        return 1.0 + self.stray_share * best / (best + _HALF_STRAY_M)
