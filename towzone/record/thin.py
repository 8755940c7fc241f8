"""Fewer positions on the chart: of a very long track none near a zone, of the gear none that show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt
import shapely

from towzone.record.frame import LonLat, metres_per_degree

__all__ = [
    "GEAR_TOLERANCE_M",
    "THIN_ABOVE",
    "THIN_TOLERANCE_M",
    "kept_fixes",
    "thinned_area",
    "thinned_path",
]

THIN_ABOVE = 200_000
"""Fixes in one record up to which every one is drawn. Own choice: about 2 MB of page."""

THIN_TOLERANCE_M = 2.0
"""How far a left-out fix may lie from the drawn line, metres. Own choice: well inside any position error."""

GEAR_TOLERANCE_M = 0.5
"""How far what is drawn of the gear may lie from its computed path or edge, metres, near a zone as anywhere.

Own choice: less than a point of the screen at the closest view of a row; the findings use the whole path.
"""

_RUN = 20_000  # a simplifier that recurses stays shallow on runs of this length


def kept_fixes(lonlat_deg: LonLat, guarded: Sequence[shapely.Geometry]) -> npt.NDArray[np.bool_]:
    """Return which fixes to draw: all inside the guarded shapes, and enough of the others.

    Parameters
    ----------
    lonlat_deg : ndarray, shape (n, 2)
        Fixes in the frame of the chart.
    guarded : sequence of shapely polygons
        In degrees, in the same frame; every fix inside or on one is kept.

    Returns
    -------
    ndarray of bool, shape (n,)
        First and last fix of every stretch outside the guarded shapes are kept as well.
    """
    keep = _inside_any(lonlat_deg, guarded)
    free = ~keep
    edges = np.flatnonzero(np.diff(free.astype(np.int8), prepend=0, append=0))
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        # Overlap by one fix on both sides, so that the drawn line joins the guarded stretches truly.
        low, high = max(int(start) - 1, 0), min(int(stop) + 1, len(free))
        for first in range(low, high, _RUN):
            last = min(first + _RUN, high - 1)
            keep[first + _simplified(lonlat_deg[first : last + 1], THIN_TOLERANCE_M)] = True
    return keep


def thinned_path(lonlat_deg: LonLat) -> LonLat:
    """Return a path of the gear, shape (n, 2), with the positions left out that do not show."""
    keep = np.zeros(len(lonlat_deg), dtype=np.bool_)
    for first in range(0, max(len(lonlat_deg) - 1, 1), _RUN):
        run = lonlat_deg[first : first + _RUN + 1]
        keep[first + _simplified(run, GEAR_TOLERANCE_M)] = True
    return lonlat_deg[keep]


def thinned_area(rings: Sequence[LonLat]) -> Iterator[tuple[LonLat, ...]]:
    """Return an area, shell before holes, as areas of fewer corners; rings do not repeat their first."""
    scale = np.array(metres_per_degree(float(min(np.abs(ring[:, 1]).min() for ring in rings))))
    area = shapely.Polygon(rings[0] * scale, [ring * scale for ring in rings[1:]])
    # Where a ring begins, two stretches are made one after each was thinned: up to twice the tolerance off.
    thin = shapely.simplify(area, GEAR_TOLERANCE_M / 2.0, preserve_topology=True)
    for part in shapely.get_parts(thin):
        yield tuple(shapely.get_coordinates(ring)[:-1] / scale for ring in shapely.get_rings(part))


def _inside_any(lonlat_deg: LonLat, guarded: Sequence[shapely.Geometry]) -> npt.NDArray[np.bool_]:
    inside = np.zeros(len(lonlat_deg), dtype=np.bool_)
    lon, lat = lonlat_deg[:, 0], lonlat_deg[:, 1]
    for shape in guarded:
        west, south, east, north = shapely.bounds(shape)
        near = np.flatnonzero(~inside & (lon >= west) & (lon <= east) & (lat >= south) & (lat <= north))
        if near.size:
            shapely.prepare(shape)
            inside[near] = shapely.intersects_xy(shape, lon[near], lat[near])
    return inside


def _simplified(lonlat_deg: LonLat, tolerance_m: float) -> npt.NDArray[np.int64]:
    n = len(lonlat_deg)
    if n < 3:
        return np.arange(n)
    scale = np.array(metres_per_degree(float(np.abs(lonlat_deg[:, 1]).min())))
    # The index travels as the height, so the positions kept can be told apart even where they repeat.
    line = shapely.linestrings(np.column_stack([lonlat_deg * scale, np.arange(n)]))
    thin = shapely.simplify(line, tolerance_m, preserve_topology=False)
    heights: npt.NDArray[np.float64] = shapely.get_coordinates(thin, include_z=True)[:, 2]
    return heights.astype(np.int64)
