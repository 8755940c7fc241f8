"""A shape as its author wrote it: corners in degrees, not yet joined by any kind of line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["Corners", "Polygon", "Shape", "freeze"]

Corners: TypeAlias = npt.NDArray[np.float64]
"""Array ``(n, 2)`` of longitude, latitude in degrees WGS 84, read-only."""

Polygon: TypeAlias = tuple[Corners, ...]
"""Outer ring first, then holes; a ring does not repeat its first corner."""


def freeze(corners: npt.ArrayLike) -> Corners:
    """Return a read-only float copy of corners, shape ``(n, 2)``."""
    array = np.array(corners, dtype=np.float64).reshape(-1, 2)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """Polygons, lines and points that together make one zone.

    Parameters
    ----------
    polygons : tuple of Polygon
        Parts with their holes, wound either way; may cross 180 degrees or be cut there.
    lines : tuple of Corners
        Each at least two corners.
    points : Corners
        Possibly empty.
    """

    polygons: tuple[Polygon, ...] = ()
    lines: tuple[Corners, ...] = ()
    points: Corners = field(default_factory=lambda: freeze([]))

    def strings(self) -> Iterator[tuple[Corners, bool]]:
        """Yield every run of corners with whether it closes on itself; points as runs of one."""
        for polygon in self.polygons:
            for ring in polygon:
                yield ring, True
        for line in self.lines:
            yield line, False
        for point in self.points:
            yield freeze(point), False

    @property
    def is_area(self) -> bool:
        """Whether the shape has an inside of its own (before any radius)."""
        return bool(self.polygons)
