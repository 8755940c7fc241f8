"""The sheets of the still chart: where a position lies on them, and paths on them as SVG."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from towzone.record.drawn.frame import Box, LonLat, mercator_y_deg, metres_per_degree, polygons_of

__all__ = [
    "BOTTOM",
    "LEFT",
    "RIGHT",
    "TOP",
    "WIDTH",
    "Sheet",
    "inset_sheet",
    "number",
    "sheet_for",
    "svg_path",
]

WIDTH = 1000.0
LEFT, RIGHT, TOP, BOTTOM = 74.0, 8.0, 8.0, 30.0
_FLATTEST, _TALLEST = 0.5, 1.15
_SIMPLE = 0.25  # picture units a path may be simplified by: too little to see
_BLEED = 24.0  # picture units beyond the edge after which a path is cut, more than any line is thick


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A rectangle of the picture that shows ``box``; picture units from the upper left corner."""

    box: Box
    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.top + self.height

    @property
    def scale(self) -> float:
        """Picture units of a degree of longitude."""
        return self.width / (self.box.east - self.box.west)

    @property
    def metre(self) -> float:
        """Picture units of a metre at the middle latitude."""
        return self.scale / metres_per_degree((self.box.south + self.box.north) / 2.0)[0]

    @property
    def bled(self) -> Box:
        """What the sheet shows and a little beyond, as much as a line may be cut at."""
        more = _BLEED / self.scale
        return self.box.grown(more, more)

    def xy(self, lonlat_deg: LonLat) -> LonLat:
        """Return positions, shape (n, 2), in picture units."""
        top = mercator_y_deg(self.box.north)
        return np.column_stack(
            [
                self.left + (lonlat_deg[:, 0] - self.box.west) * self.scale,
                self.top + (top - mercator_y_deg(lonlat_deg[:, 1])) * self.scale,
            ]
        )

    def holds(self, xy: LonLat) -> bool:
        """Return whether all of some places, picture units, lie on the sheet."""
        x, y = xy[:, 0], xy[:, 1]
        inside = (x >= self.left) & (x <= self.right) & (y >= self.top) & (y <= self.bottom)
        return bool(inside.all())


def sheet_for(view: Box) -> Sheet:
    """Return the sheet for a view, widened or heightened where it would be too flat or too tall."""
    width = WIDTH - LEFT - RIGHT
    ratio = _tall(view) / (view.east - view.west)
    stretch = float(1.0 / np.cos(np.radians((view.south + view.north) / 2.0)))
    if ratio < _FLATTEST:
        more = ((view.east - view.west) * _FLATTEST - _tall(view)) / 2.0 / stretch
        view = view.grown(0.0, more)
    elif ratio > _TALLEST:
        view = view.grown((_tall(view) / _TALLEST - (view.east - view.west)) / 2.0, 0.0)
    return Sheet(
        box=view, left=LEFT, top=TOP, width=width, height=_tall(view) * width / (view.east - view.west)
    )


def inset_sheet(place: tuple[float, float], across_m: float, at: tuple[float, float, float, float]) -> Sheet:
    """Return a sheet around a place, longitude and latitude, that shows a width.

    Parameters
    ----------
    at : tuple of float
        Left, top, width, height on the picture.
    """
    left, top, width, height = at
    per_lon_m, per_lat_m = metres_per_degree(place[1])
    half_lon, half_lat = across_m / 2.0 / per_lon_m, across_m / 2.0 * height / width / per_lat_m
    box = Box(west=place[0], south=place[1], east=place[0], north=place[1]).grown(half_lon, half_lat)
    return Sheet(box=box, left=left, top=top, width=width, height=height)


def _tall(view: Box) -> float:
    return float(mercator_y_deg(view.north) - mercator_y_deg(view.south))


def svg_path(sheet: Sheet, name: str, paths: Iterable[LonLat], *, closed: bool = False) -> str:
    """Return paths as one ``path`` element of a class, empty text where none of them is on the sheet.

    Closed ones are one area, shell before holes, filled by the even-odd rule.
    """
    drawn = [sheet.xy(path) for path in paths]
    shape = "".join(_d(piece, closed=closed) for piece in _on_sheet(sheet, drawn, closed=closed))
    return f'<path class="{name}" fill-rule="evenodd" d="{shape}"/>' if shape else ""


def _on_sheet(sheet: Sheet, drawn: list[LonLat], *, closed: bool) -> Iterator[LonLat]:
    """Yield paths, in picture units, as far as they lie on the sheet or a little beyond."""
    edges = (sheet.left - _BLEED, sheet.top - _BLEED, sheet.right + _BLEED, sheet.bottom + _BLEED)
    if not drawn:
        return
    west, north = np.min([xy.min(axis=0) for xy in drawn], axis=0)
    east, south = np.max([xy.max(axis=0) for xy in drawn], axis=0)
    if east < edges[0] or west > edges[2] or south < edges[1] or north > edges[3]:
        return
    if west >= edges[0] and east <= edges[2] and north >= edges[1] and south <= edges[3]:
        yield from drawn
        return
    if closed:
        area = shapely.Polygon(drawn[0], drawn[1:])
        area = area if shapely.is_valid(area) else shapely.make_valid(area)
        for part in polygons_of(shapely.clip_by_rect(area, *edges)):
            yield from (shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part))
        return
    lines = [shapely.clip_by_rect(shapely.linestrings(xy), *edges) for xy in drawn if len(xy) > 1]
    yield from (shapely.get_coordinates(part) for part in shapely.get_parts(lines) if not part.is_empty)


def _d(xy: LonLat, *, closed: bool) -> str:
    if len(xy) > 2:
        xy = shapely.get_coordinates(
            shapely.simplify(shapely.linestrings(xy), _SIMPLE, preserve_topology=False)
        )
    text = "L".join(f"{number(x)} {number(y)}" for x, y in xy.tolist())
    return f"M{text}Z" if closed else f"M{text}"


def number(value: float) -> str:
    """Return a length in picture units as SVG reads it.

    Examples
    --------
    >>> number(3.14159), number(-0.01), number(12.0)
    ('3.1', '0', '12')
    """
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text
