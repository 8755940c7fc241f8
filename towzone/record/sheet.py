"""The sheet of the still chart: where a position lies on it, and paths on it as SVG."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from towzone.record.frame import Box, LonLat, mercator_y_deg

__all__ = ["BOTTOM", "LEFT", "RIGHT", "TOP", "WIDTH", "Sheet", "sheet_for", "svg_path"]

WIDTH = 1000.0
LEFT, RIGHT, TOP, BOTTOM = 74.0, 8.0, 8.0, 30.0
_FLATTEST, _TALLEST = 0.5, 1.15
_SIMPLE = 0.25  # picture units a path may be simplified by: too little to see


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Where on the picture a position lies; the picture shows ``box`` and is ``height`` units high."""

    box: Box
    height: float

    @property
    def scale(self) -> float:
        """Picture units of a degree of longitude."""
        return (WIDTH - LEFT - RIGHT) / (self.box.east - self.box.west)

    def xy(self, lonlat_deg: LonLat) -> LonLat:
        """Return positions, shape (n, 2), in picture units from the upper left corner."""
        top = mercator_y_deg(self.box.north)
        return np.column_stack(
            [
                LEFT + (lonlat_deg[:, 0] - self.box.west) * self.scale,
                TOP + (top - mercator_y_deg(lonlat_deg[:, 1])) * self.scale,
            ]
        )


def sheet_for(view: Box) -> Sheet:
    """Return the sheet for a view, widened or heightened where it would be too flat or too tall."""
    width = WIDTH - LEFT - RIGHT
    tall = float(mercator_y_deg(view.north) - mercator_y_deg(view.south))
    ratio = tall / (view.east - view.west)
    stretch = float(1.0 / np.cos(np.radians((view.south + view.north) / 2.0)))
    if ratio < _FLATTEST:
        more = ((view.east - view.west) * _FLATTEST - tall) / 2.0 / stretch
        view = view.grown(0.0, more)
    elif ratio > _TALLEST:
        view = view.grown((tall / _TALLEST - (view.east - view.west)) / 2.0, 0.0)
    tall = float(mercator_y_deg(view.north) - mercator_y_deg(view.south))
    return Sheet(box=view, height=TOP + tall * width / (view.east - view.west) + BOTTOM)


def _d(sheet: Sheet, path: LonLat, *, closed: bool) -> str:
    xy = sheet.xy(path)
    if len(xy) > 2:
        xy = shapely.get_coordinates(
            shapely.simplify(shapely.linestrings(xy), _SIMPLE, preserve_topology=False)
        )
    text = "L".join(f"{x:.1f} {y:.1f}" for x, y in xy)
    return f"M{text}Z" if closed else f"M{text}"


def svg_path(sheet: Sheet, name: str, paths: Iterable[LonLat], *, closed: bool = False) -> str:
    """Return paths as one ``path`` element of a class; closed ones are filled by the even-odd rule."""
    shape = "".join(_d(sheet, path, closed=closed) for path in paths)
    return f'<path class="{name}" fill-rule="evenodd" d="{shape}"/>'
