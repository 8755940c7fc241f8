"""Fewer positions on the chart: of a very long track none near a zone, of the gear none that show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from towzone.record.drawn.frame import LonLat, mercator_y_deg, metres_per_degree, scales_at

__all__ = [
    "GEAR_IN_TIME_M",
    "GEAR_TOLERANCE_M",
    "LIKELY_LONG_M",
    "THIN_ABOVE",
    "THIN_IN_TIME_M",
    "THIN_TOLERANCE_M",
    "kept_nodes",
    "near_any",
    "thinned_area",
]

THIN_ABOVE = 200_000
"""Fixes in one record up to which every one is drawn. Own choice: about 2 MB of page."""

THIN_TOLERANCE_M = 2.0
"""How far a left-out fix may lie from the drawn line, metres. Own choice: well inside any position error."""

THIN_IN_TIME_M = 10.0
"""How far it may lie from where the line is at its time, metres. Own choice: within a position error."""

GEAR_TOLERANCE_M = 0.5
"""How far what is drawn of the gear may lie from its computed path or edge, metres, near a zone as anywhere.

Own choice: less than a point of the screen at the closest view of a row; the findings use the whole path.
"""

LIKELY_LONG_M = 4.0
"""The same of the rim of the likely corridor in a record of more fixes than `THIN_ABOVE`, metres.

Own choice: it is a limit of likelihood, nowhere known to a few metres.
"""

GEAR_IN_TIME_M = 5.0
"""The same at each moment: how far along its path a part may lie from where it was computed to be, metres.

Own choice: a second and a half at a towing speed of 3.3 kn is 2.5 m.
"""

_CHUNK = 1024  # own choice: every so many nodes one is kept, so that few rounds are needed whatever the path
_BLOCK = 16  # own choice: at a fix a second less than 50 m of track
_ROUNDS = 24  # own choice: after these each stretch is halved as well, so that a hostile path ends soon


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Nodes:
    """A path in the two planes its drawing is measured in."""

    lonlat_deg: LonLat
    y_deg: npt.NDArray[np.float64]
    time_s: npt.NDArray[np.float64] | None


def kept_nodes(
    lonlat_deg: LonLat,
    keep: npt.NDArray[np.bool_],
    tolerance_m: float,
    *,
    time_s: npt.NDArray[np.float64] | None,
    in_time_m: float,
) -> npt.NDArray[np.bool_]:
    """Return which positions of a path to draw.

    Parameters
    ----------
    lonlat_deg : ndarray, shape (n, 2)
        In the frame of the chart.
    keep : ndarray of bool, shape (n,)
        Positions that must stay; the first and the last stay anyway.
    tolerance_m : float
        How far a position left out may lie from the line drawn straight on the chart.
    time_s : ndarray, shape (n,), or None
        Never decreasing; ``None``, or any ``NaN``, leaves time out of account.
    in_time_m : float
        How far it may lie from where longitude and latitude come out linearly in time between those kept.

    Notes
    -----
    Douglas and Peucker (1973, Cartographica 10, doi:10.3138/FM57-6770-U75U-7727), all stretches at once, with
    a second distance to the place at the same time (Meratnia and de By 2004, EDBT,
    doi:10.1007/978-3-540-24741-8_44).
    """
    keep = keep.copy()
    if not len(keep):
        return keep
    keep[::_CHUNK] = True
    keep[-1] = True
    timed = time_s is not None and bool(np.isfinite(time_s).all())
    nodes = _Nodes(
        lonlat_deg=lonlat_deg, y_deg=mercator_y_deg(lonlat_deg[:, 1]), time_s=time_s if timed else None
    )
    open_nodes = np.flatnonzero(~keep)
    rounds = 0
    while len(open_nodes):
        kept = np.flatnonzero(keep)
        stretch = np.cumsum(keep)[open_nodes] - 1
        share = _error(nodes, open_nodes, kept[stretch], kept[stretch + 1], tolerance_m, in_time_m)
        starts = np.concatenate([[0], np.flatnonzero(np.diff(stretch)) + 1])
        counts = np.diff(np.append(starts, len(stretch)))
        worst = np.maximum.reduceat(share, starts)
        still = worst > 1.0
        at_worst = np.flatnonzero(share == np.repeat(np.where(still, worst, np.inf), counts))
        keep[open_nodes[at_worst]] = True
        if rounds >= _ROUNDS:
            keep[open_nodes[(starts + counts // 2)[still]]] = True
        open_nodes = open_nodes[np.repeat(still, counts)]
        open_nodes = open_nodes[~keep[open_nodes]]
        rounds += 1
    return keep


def _error(
    nodes: _Nodes,
    at: npt.NDArray[np.int64],
    start: npt.NDArray[np.int64],
    stop: npt.NDArray[np.int64],
    tolerance_m: float,
    in_time_m: float,
) -> npt.NDArray[np.float64]:
    """Return how far nodes lie off if left out between two others, 1 being all that is allowed."""
    lon, lat = nodes.lonlat_deg[:, 0], nodes.lonlat_deg[:, 1]
    # A degree is longest where the latitude is lowest: what is off is never made less than it is.
    lowest = np.minimum(np.abs(lat[at]), np.minimum(np.abs(lat[start]), np.abs(lat[stop])))
    per_lon_m, per_lat_m = scales_at(lowest)
    leg_x, leg_y = lon[stop] - lon[start], nodes.y_deg[stop] - nodes.y_deg[start]
    from_x, from_y = lon[at] - lon[start], nodes.y_deg[at] - nodes.y_deg[start]
    square = leg_x**2 + leg_y**2
    along = np.divide(from_x * leg_x + from_y * leg_y, square, out=np.zeros_like(square), where=square > 0.0)
    along = np.clip(along, 0.0, 1.0)
    off_m = np.hypot(from_x - along * leg_x, from_y - along * leg_y) * per_lon_m
    share = off_m / tolerance_m
    if nodes.time_s is None:
        return share
    span_s, since_s = nodes.time_s[stop] - nodes.time_s[start], nodes.time_s[at] - nodes.time_s[start]
    part = np.divide(since_s, span_s, out=np.zeros_like(span_s), where=span_s > 0.0)
    off_m = np.hypot(
        (from_x - part * leg_x) * per_lon_m,
        (lat[at] - lat[start] - part * (lat[stop] - lat[start])) * per_lat_m,
    )
    return np.asarray(np.maximum(share, off_m / in_time_m))


def thinned_area(rings: Sequence[LonLat], tolerance_m: float) -> Iterator[tuple[LonLat, ...]]:
    """Return an area, shell before holes, as areas of fewer corners; rings do not repeat their first."""
    scale = np.array(metres_per_degree(float(min(np.abs(ring[:, 1]).min() for ring in rings))))
    area = shapely.Polygon(rings[0] * scale, [ring * scale for ring in rings[1:]])
    # Where a ring begins, two stretches are made one after each was thinned: up to twice the tolerance off.
    thin = shapely.simplify(area, tolerance_m / 2.0, preserve_topology=True)
    for part in shapely.get_parts(thin):
        yield tuple(shapely.get_coordinates(ring)[:-1] / scale for ring in shapely.get_rings(part))


def near_any(lonlat_deg: LonLat, guarded: Sequence[shapely.Geometry]) -> npt.NDArray[np.bool_]:
    """Return positions, shape (n, 2), among them all inside or on any of some polygons in the same frame.

    A few neighbours are among them too: the box around every `_BLOCK` of them is looked up, not each.
    """
    near = np.zeros(len(lonlat_deg), dtype=np.bool_)
    if not len(lonlat_deg) or not guarded:
        return near
    starts = np.arange(0, len(lonlat_deg), _BLOCK)
    low = np.minimum.reduceat(lonlat_deg, starts, axis=0)
    high = np.maximum.reduceat(lonlat_deg, starts, axis=0)
    met = np.zeros(len(starts), dtype=np.bool_)
    for shape in guarded:
        west, south, east, north = shapely.bounds(shape)
        some = (low[:, 0] <= east) & (high[:, 0] >= west) & (low[:, 1] <= north) & (high[:, 1] >= south)
        open_blocks = np.flatnonzero(~met & some)
        if open_blocks.size:
            shapely.prepare(shape)
            boxes = shapely.box(*low[open_blocks].T, *high[open_blocks].T)
            met[open_blocks] = shapely.intersects(shape, boxes)
    return np.repeat(met, _BLOCK)[: len(lonlat_deg)]
