"""Where a vessel can have been in a gap: the places from which both fixes lie within its longest way."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from towzone.geodesy.lines import WGS84
from towzone.record.drawn.frame import Box, LonLat, near, polygons_of, shifted, unwrap

__all__ = ["LARGEST_M", "clipped", "reach_outline"]

LARGEST_M = 4_000_000.0
"""Longest way of which the outline is drawn, metres. Own choice: beyond, it would be most of an ocean."""

_TOLERANCE_M = 2.0  # how far the drawn outline may lie inside the true one, own choice
_FEWEST, _MOST = 24, 720
_CHART_LATITUDE_DEG = 85.0
_ROUNDS = 12
_ENOUGH_M = 0.01


def reach_outline(lonlat_deg: LonLat, reach_m: float) -> LonLat | None:
    """Return the outline of where the vessel can have been, ``None`` where that is too large to draw.

    Parameters
    ----------
    lonlat_deg : ndarray, shape (2, 2)
        The fixes before and after the gap, in the frame of the chart.
    reach_m : float
        Sum of the distances from both, metres; at least the distance between them.

    Returns
    -------
    ndarray, shape (n, 2), or None
        A ring in the same frame that does not repeat its first corner. Around a pole it runs along the edge
        of the chart there.

    Notes
    -----
    Every corner is moved along the geodesic from the middle between the fixes until the two geodesic
    distances add up, beginning with the ellipse of a plane.
    """
    if reach_m > LARGEST_M:
        return None
    (lon0, lat0), (lon1, lat1) = lonlat_deg.tolist()
    azimuth_deg, _, apart_m = WGS84.inv(lon0, lat0, lon1, lat1)
    lon_mid, lat_mid, back_deg = WGS84.fwd(lon0, lat0, azimuth_deg, apart_m / 2.0)
    major_m = reach_m / 2.0
    minor_m = float(np.sqrt(max(reach_m**2 - apart_m**2, 0.0))) / 2.0
    corners = int(np.clip(np.ceil(np.pi / np.sqrt(2.0 * _TOLERANCE_M / major_m)), _FEWEST, _MOST))
    turn = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    ahead_m, aside_m = major_m * np.cos(turn), minor_m * np.sin(turn)
    course_deg = back_deg + 180.0 + np.degrees(np.arctan2(aside_m, ahead_m))
    lon, lat = _pushed_out(
        np.array([lon_mid, lat_mid]), course_deg, np.hypot(ahead_m, aside_m), lonlat_deg, reach_m
    )
    return _in_frame(lon, lat, float(lonlat_deg[:, 0].mean()))


def _pushed_out(
    middle: LonLat,
    course_deg: npt.NDArray[np.float64],
    out_m: npt.NDArray[np.float64],
    foci: LonLat,
    reach_m: float,
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the places on courses from the middle whose distances from both foci add up to the reach."""
    count = len(course_deg)
    lon_mid, lat_mid = np.full(count, middle[0]), np.full(count, middle[1])
    ends = [(np.full(count, lon), np.full(count, lat)) for lon, lat in foci.tolist()]
    lon, lat = lon_mid, lat_mid
    for _ in range(_ROUNDS):
        lon, lat, back_deg = WGS84.fwd(lon_mid, lat_mid, course_deg, out_m)
        sum_m, slope = np.zeros(count), np.zeros(count)
        for end_lon, end_lat in ends:
            to_deg, _, length_m = WGS84.inv(lon, lat, end_lon, end_lat)
            sum_m += length_m
            # Going on along the course takes it away from the end by the cosine of the angle between.
            slope += np.cos(np.radians(to_deg - back_deg))
        step_m = np.where(slope > 1e-3, (reach_m - sum_m) / np.maximum(slope, 1e-3), 0.0)
        if float(np.abs(step_m).max()) < _ENOUGH_M:
            break
        out_m = np.maximum(out_m + step_m, 0.0)
    return lon, lat


def _in_frame(
    lon_deg: npt.NDArray[np.float64], lat_deg: npt.NDArray[np.float64], centre_deg: float
) -> LonLat:
    closed = unwrap(np.append(lon_deg, lon_deg[0]))
    round_deg = float(closed[-1] - closed[0])
    ring = np.column_stack([closed[:-1], np.clip(lat_deg, -_CHART_LATITUDE_DEG, _CHART_LATITUDE_DEG)])
    if abs(round_deg) > 180.0:
        # It runs once round the earth: what it encloses on the chart reaches to the edge at the pole.
        edge_deg = float(np.copysign(_CHART_LATITUDE_DEG, lat_deg.mean()))
        ends = [[closed[-1], ring[0, 1]], [closed[-1], edge_deg], [closed[0], edge_deg]]
        ring = _sound(np.vstack([ring, np.array(ends)]))
    middle = float((ring[:, 0].min() + ring[:, 0].max()) / 2.0)
    return shifted(ring, near(middle, centre_deg))


def _sound(ring: LonLat) -> LonLat:
    """Return a ring, where it runs along the edge of the chart twice, without that."""
    largest = max(polygons_of(shapely.make_valid(shapely.Polygon(ring))), key=shapely.area)
    return np.asarray(shapely.get_coordinates(shapely.get_exterior_ring(largest))[:-1])


def clipped(ring: LonLat, window: Box) -> LonLat | None:
    """Return what a ring encloses inside a window as a ring, ``None`` where that is nothing.

    What does not fit into one ring is returned whole.
    """
    box = Box.around(ring)
    if box == box.intersection(window):
        return ring
    inside = shapely.clip_by_rect(
        shapely.make_valid(shapely.Polygon(ring)), window.west, window.south, window.east, window.north
    )
    parts = polygons_of(inside)
    if not parts:
        return None
    if len(parts) > 1:
        return ring
    return np.asarray(shapely.get_coordinates(shapely.get_exterior_ring(parts[0]))[:-1])
