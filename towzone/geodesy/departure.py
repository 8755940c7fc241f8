"""How far two readings of the same corners lie apart."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.edges import edges_of
from towzone.geodesy.ellipsoid import (
    SEMI_MAJOR_M,
    isometric_latitude,
    latitude_from_isometric,
    wrap_longitude,
)
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape

__all__ = ["rhumb_departure_m"]

_SAMPLES = np.linspace(0.0, 1.0, 17)[1:-1]


def rhumb_departure_m(shape: Shape) -> float:
    """Return the largest distance between the lon/lat lines and the rhumb lines of a shape's edges, metres.

    Notes
    -----
    Compared at equal longitude, on 15 places along each edge; the difference in latitude is turned square
    to the edge. Good to a few percent, which is what a notice needs.
    """
    edges = edges_of(shape, LineKind.LONLAT)
    dlon = np.radians(wrap_longitude(edges.lon1_deg - edges.lon0_deg))
    low, high = isometric_latitude(edges.lat0_deg), isometric_latitude(edges.lat1_deg)
    slanting = (dlon != 0.0) & (low != high)
    if not slanting.any():
        return 0.0
    part = _SAMPLES[:, None]
    straight = edges.lat0_deg + part * (edges.lat1_deg - edges.lat0_deg)
    rhumb = latitude_from_isometric(low + part * (high - low))
    course = np.arctan2(dlon, high - low)
    apart_m = np.radians(np.abs(straight - rhumb)) * SEMI_MAJOR_M * np.abs(np.sin(course))
    return float(apart_m[:, slanting].max())
