"""The three kinds of line that join two corners: rhumb lines, geodesics and lon/lat lines."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["LineKind"]


class LineKind(StrEnum):
    """How two corners are joined.

    ``rhumb``: the line of constant course, straight on a Mercator chart.
    ``geodesic``: the shortest line on the ellipsoid.
    ``lonlat``: straight in longitude and latitude, as RFC 7946 section 3.1.1 defines GeoJSON edges.
    """

    RHUMB = "rhumb"
    GEODESIC = "geodesic"
    LONLAT = "lonlat"
