"""The question how corners are joined, with what it leaves open in metres."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from towzone.files.asking import Asker
from towzone.geodesy.departure import rhumb_departure_m
from towzone.geodesy.edges import Edges, IntArray, edges_of
from towzone.geodesy.ellipsoid import wrap_longitude
from towzone.geodesy.lines import WGS84, LineKind, points_along
from towzone.geodesy.shape import Shape

__all__ = ["ask_edges", "edges_apart_m"]

_SHAPES_AT_ONCE = 1000
_EDGES_ASKED = 200
_PARTS = np.linspace(0.0, 1.0, 9)[1:-1]


def ask_edges(asker: Asker, shapes: Sequence[Shape]) -> str:
    """Ask how the corners of shapes are joined; points alone need no answer.

    Returns
    -------
    str
        A kind of line, or empty text while the question is open or where nothing is joined.
    """
    joined = [shape for shape in shapes if shape.polygons or shape.lines]
    if not joined:
        return ""
    apart_m = max(edges_apart_m(together) for together in _batches(joined))
    question = (
        "how are the corners joined? Nothing says so; between rhumb lines, geodesics and lon/lat lines lie up"
        f" to {apart_m:.2g} m here (--edges answers it as well)"
    )
    return asker.ask("", question, tuple(LineKind))


def _batches(shapes: Sequence[Shape]) -> Iterator[Shape]:
    """Yield many shapes as few, which is asked far quicker, but never all of a large file at once."""
    for start in range(0, len(shapes), _SHAPES_AT_ONCE):
        some = shapes[start : start + _SHAPES_AT_ONCE]
        yield Shape(
            polygons=tuple(polygon for shape in some for polygon in shape.polygons),
            lines=tuple(line for shape in some for line in shape.lines),
        )


def edges_apart_m(shape: Shape) -> float:
    """Return how far the three kinds of line through the same corners lie apart at most, metres.

    Notes
    -----
    Rhumb lines against geodesics at equal shares of their length, which overstates it a little, on the edges
    that bend most; and against lon/lat lines by `rhumb_departure_m`.
    """
    edges = edges_of(shape, LineKind.LONLAT)
    edges = edges.select(_widest(edges))
    ends = edges.lon0_deg, edges.lat0_deg, edges.lon1_deg, edges.lat1_deg
    widest_m = rhumb_departure_m(shape)
    for part in _PARTS:
        rhumb = points_along(LineKind.RHUMB, *ends, part)
        geodesic = points_along(LineKind.GEODESIC, *ends, part)
        _, _, apart_m = WGS84.inv(*rhumb, *geodesic)
        widest_m = max(widest_m, float(np.max(apart_m, initial=0.0)))
    return widest_m


def _widest(edges: Edges) -> IntArray:
    """Return the edges on which rhumb line and geodesic part most, in no order.

    A rhumb line leaves the geodesic by close to ``l w tan(lat) / 8 R``, with its length ``l`` and width ``w``
    from west to east: the curvature of a rhumb line is ``sin(course) tan(lat) / R``.
    """
    lat = np.radians(np.maximum(np.abs(edges.lat0_deg), np.abs(edges.lat1_deg)))
    width = np.abs(wrap_longitude(edges.lon1_deg - edges.lon0_deg)) * np.cos(lat)
    bend = np.hypot(width, edges.lat1_deg - edges.lat0_deg) * width * np.tan(lat)
    return np.argsort(bend)[-_EDGES_ASKED:]
