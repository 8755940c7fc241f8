"""What a line costs: its length, and a little for straying from the wanted one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.room import Room

__all__ = ["STRAY_SHARE", "Wanted"]

STRAY_SHARE = 0.01
"""A metre far from the wanted line costs by so much more than one on it: of two lines that differ less in
length the nearer one is taken, and no line found is longer by more for that. Own choice."""

_HALF_STRAY_M = 1_000.0
"""So far off, half of that is counted. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """The wanted line in the plane, corners of shape ``(n, 2)``."""

    xy_m: FloatArray

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
        return np.asarray(1.0 + STRAY_SHARE * away / (away + _HALF_STRAY_M))

    def cost(self, room: Room, start: Sequence[float], end: Sequence[float]) -> float:
        """Return what a leg costs, metres."""
        ends = (start, ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0), end)
        mean = sum(w * self._factor_at(p) for w, p in zip((0.25, 0.5, 0.25), ends, strict=True))
        return room.true_m(start, end) * mean

    def _factor_at(self, point: Sequence[float]) -> float:
        best, (x, y) = math.inf, point
        corners = self.xy_m.tolist()
        for (ax, ay), (bx, by) in itertools.pairwise(corners):
            wx, wy = bx - ax, by - ay
            share = ((x - ax) * wx + (y - ay) * wy) / max(wx * wx + wy * wy, 1e-9)
            share = 0.0 if share < 0.0 else 1.0 if share > 1.0 else share
            best = min(best, math.hypot(x - ax - share * wx, y - ay - share * wy))
        return 1.0 + STRAY_SHARE * best / (best + _HALF_STRAY_M)
