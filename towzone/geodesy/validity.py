"""Whether a shape can be judged: every fault of its corners, edges and rings, named and placed.

Rings are looked at in the plane where their edges are straight: longitude against isometric latitude for
rhumb lines, against latitude for lon/lat lines. Geodesics have no such plane and are cut into chords of
2 km, which leave them by less than 0.1 m below 60 degrees and 1 m below 85 degrees of latitude.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from towzone.errors import GeometryError
from towzone.geodesy.ellipsoid import (
    LATITUDE_LIMIT_DEG,
    FloatArray,
    isometric_latitude,
    latitude_from_isometric,
    wrap_longitude,
)
from towzone.geodesy.lines import LONGEST_EDGE_M, LineKind, inverse, points_along
from towzone.geodesy.shape import Corners, Polygon, Shape
from towzone.units import format_position

__all__ = ["FLATNESS", "STEP_M", "check_shape", "densified", "shape_faults"]

IntArray = npt.NDArray[np.int64]

_FAULT_LIMIT = 25
STEP_M = 2000.0
_MOST_POINTS = 400_000
FLATNESS = 1e-12
"""Own limit on area over squared perimeter: about a ten-thousandth of a millimetre width on 100 km, which
is the rounding of degrees kept in double precision."""
_BATCH = 32
_PAIRS = 4096
_CROSSING, _ALONG = "0********", "1********"
"""Interiors meeting in points or in a line, as the DE-9IM matrix writes it (OGC 06-103r4, section 6.1.15)."""


class _Ring(NamedTuple):
    """One ring ready for the plane: ``number`` are the corner numbers of its author, from 1."""

    name: str
    corners: Corners
    number: IntArray
    xy: FloatArray
    edge: IntArray


def check_shape(shape: Shape, kind: LineKind) -> None:
    """Refuse a shape that cannot be judged, telling everything that is wrong with it.

    Parameters
    ----------
    shape : Shape
    kind : LineKind
        How its corners are joined.

    Raises
    ------
    GeometryError
        One fault in each line of the message; see `shape_faults`.
    """
    faults = shape_faults(shape, kind)
    if faults:
        raise GeometryError("\n".join(faults))


def shape_faults(shape: Shape, kind: LineKind) -> list[str]:
    """Return what is wrong with a shape, in plain sentences with corner numbers and positions.

    Parameters
    ----------
    shape : Shape
        Rings may touch themselves or each other in single points, and repeat a corner.
    kind : LineKind
        How its corners are joined.

    Returns
    -------
    list of str
        Empty when nothing is wrong. Looked for: coordinates not finite or out of range, latitudes beyond
        `LATITUDE_LIMIT_DEG`, fewer than 3 different corners, edges of 180 or 360 degrees of longitude or
        over `LONGEST_EDGE_M`, rings that run round a pole, cross or overlap themselves or each other or
        enclose nothing, holes outside their outer ring or inside another hole.
        Later questions are asked only of what passed the earlier ones. At most 25 are told, then a count.
    """
    faults = list(_faults(shape, kind))
    if len(faults) > _FAULT_LIMIT:
        return [*faults[:_FAULT_LIMIT], f"and {len(faults) - _FAULT_LIMIT} more faults"]
    return faults


def _faults(shape: Shape, kind: LineKind) -> Iterator[str]:
    for number, polygon in enumerate(shape.polygons, start=1):
        part = f"part {number}, " if len(shape.polygons) > 1 else ""
        yield from _polygon_faults(polygon, kind, part)
    for number, line in enumerate(shape.lines, start=1):
        name = f"line {number}" if len(shape.lines) > 1 else "line"
        bad = list(_corner_faults(line, name))
        yield from bad
        if len(np.unique(line, axis=0)) < 2:
            yield f"{name} has fewer than 2 different corners"
        elif not bad:
            index = np.arange(len(line))
            yield from _edge_faults(line, index[:-1], index[1:], kind, name)
    yield from _corner_faults(shape.points, "points", "point")


def _corner_faults(corners: Corners, name: str, word: str = "corner") -> Iterator[str]:
    lon, lat = corners[:, 0], corners[:, 1]
    finite = np.isfinite(lon) & np.isfinite(lat)
    in_range = (np.abs(lon) <= 180.0) & (np.abs(lat) <= LATITUDE_LIMIT_DEG)
    for index in np.flatnonzero(~(finite & in_range)):
        if not finite[index]:
            yield f"{name}, {word} {index + 1}: the position is not finite"
        elif abs(lon[index]) > 180.0:
            yield f"{name}, {word} {index + 1}: longitude {lon[index]:.6f} is outside -180 to 180"
        else:
            yield (
                f"{name}, {word} {index + 1}: latitude {lat[index]:.6f} is beyond {LATITUDE_LIMIT_DEG:.0f}"
                " degrees, the limit of this tool"
            )


def _edge_faults(
    corners: Corners, start: IntArray, end: IntArray, kind: LineKind, name: str
) -> Iterator[str]:
    """Yield ambiguous and over-long edges; ``start`` and ``end`` index the corners of each edge."""
    lon, lat = corners[:, 0], corners[:, 1]
    difference = np.abs(lon[end] - lon[start])
    half, whole = difference == 180.0, difference == 360.0
    for edge in np.flatnonzero(half | whole):
        degrees = 180 if half[edge] else 360
        yield (
            f"{name}, {_edge(start[edge], end[edge])}: the corners are exactly {degrees} degrees of longitude"
            f" apart ({_at(corners[start[edge]])} and {_at(corners[end[edge]])}), so the way round is not"
            " clear; add a corner between them"
        )
    clear = np.flatnonzero(~(half | whole))
    columns = (lon[start[clear]], lat[start[clear]], lon[end[clear]], lat[end[clear]])
    for edge in clear[_over_long(kind, columns)]:
        yield (
            f"{name}, {_edge(start[edge], end[edge])}: the edge from {_at(corners[start[edge]])} to"
            f" {_at(corners[end[edge]])} is longer than {LONGEST_EDGE_M / 1000:.0f} km; add corners between"
        )


def _over_long(kind: LineKind, columns: tuple[FloatArray, ...]) -> IntArray:
    try:
        inverse(kind, *columns)
    except GeometryError:
        return np.array(
            [edge for edge in range(len(columns[0])) if _refused(kind, columns, edge)], dtype=np.int64
        )
    return np.empty(0, dtype=np.int64)


def _refused(kind: LineKind, columns: tuple[FloatArray, ...], edge: int) -> bool:
    try:
        inverse(kind, *(column[edge] for column in columns))
    except GeometryError:
        return True
    return False


def _polygon_faults(polygon: Polygon, kind: LineKind, part: str) -> Iterator[str]:
    rings: list[_Ring] = []
    sound = True
    for number, corners in enumerate(polygon):
        hole = f"hole {number}" if len(polygon) > 2 else "hole"
        name = part + (hole if number else ("outer ring" if len(polygon) > 1 or part else "ring"))
        faults = list(_corner_faults(corners, name))
        if not faults:
            faults = list(_ring_faults(corners, kind, name))
        yield from faults
        sound = sound and not faults
        if sound:
            rings.append(_in_plane(corners, kind, name))
    if not sound or not rings:
        if not polygon:
            yield f"{part}polygon without a ring"
        return
    shell = rings[0]
    rings = [shell, *(_beside(hole, shell) for hole in rings[1:])]
    flat = [ring for ring in rings if _is_flat(ring)]
    for ring in flat:
        yield f"{ring.name} encloses nothing: its corners lie on one line, from {_at(ring.corners[0])}"
    if not flat and not shapely.is_valid(shapely.Polygon(rings[0].xy, [ring.xy for ring in rings[1:]])):
        yield from _crossing_faults(rings, kind)


def _ring_faults(corners: Corners, kind: LineKind, name: str) -> Iterator[str]:
    index = _without_repeats(corners)
    if len(np.unique(corners, axis=0)) < 3:
        yield f"{name} has fewer than 3 different corners"
        return
    faults = list(_edge_faults(corners, index, np.roll(index, -1), kind, name))
    yield from faults
    if faults:
        return
    lon = corners[index, 0]
    if abs(wrap_longitude(np.roll(lon, -1) - lon).sum()) > 180.0:
        yield f"{name} runs round a pole, so it has no outside; split it into parts of less than 180 degrees"


def _without_repeats(corners: Corners) -> IntArray:
    """Return the indices of corners that differ from the one before (the last one from the first)."""
    return np.flatnonzero((corners != np.roll(corners, 1, axis=0)).any(axis=1))


def _in_plane(corners: Corners, kind: LineKind, name: str) -> _Ring:
    index = _without_repeats(corners)
    ring = corners[index]
    step = wrap_longitude(np.diff(ring[:, 0], append=ring[:1, 0]))
    lon = ring[:, 0]
    # Only a ring across 180 degrees is unrolled: the sum would cost the others their last digits.
    if not np.array_equal(step, np.diff(lon, append=lon[:1])):
        lon = lon[0] + np.concatenate([[0.0], np.cumsum(step[:-1])])
    x, lat, edge = lon, ring[:, 1], np.arange(len(ring))
    if kind is LineKind.GEODESIC:
        x, lat, edge = densified(ring, lon)
    y = np.degrees(isometric_latitude(lat)) if kind is LineKind.RHUMB else lat
    return _Ring(name, ring, index + 1, np.column_stack([x, y]), edge)


def densified(ring: Corners, lon: FloatArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return points along the geodesic edges of a ring, and the edge each begins a chord of.

    Parameters
    ----------
    ring : Corners
    lon : ndarray, shape (n,)
        Its longitudes without jumps.

    Returns
    -------
    lon, lat : ndarray, shape (m,)
        Corners and the points between them, at most `STEP_M` apart unless there would be too many.
    edge : ndarray of int, shape (m,)
    """
    end = np.roll(ring, -1, axis=0)
    length_m, _ = inverse(LineKind.GEODESIC, ring[:, 0], ring[:, 1], end[:, 0], end[:, 1])
    step_m = max(STEP_M, float(length_m.sum()) / _MOST_POINTS)
    count = np.maximum(1, np.ceil(length_m / step_m)).astype(np.int64)
    edge = np.repeat(np.arange(len(ring)), count)
    place = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    x, lat = points_along(
        LineKind.GEODESIC, ring[edge, 0], ring[edge, 1], end[edge, 0], end[edge, 1], place / count[edge]
    )
    # Corners stay exactly where their author put them, so that rings touching there still touch.
    x = np.where(place == 0, lon[edge], x + (lon - ring[:, 0])[edge])
    return x, np.where(place == 0, ring[edge, 1], lat), edge


def _beside(hole: _Ring, shell: _Ring) -> _Ring:
    """Return a hole moved by whole turns so that it lies where its outer ring is drawn."""
    middle = [(ring.xy[:, 0].min() + ring.xy[:, 0].max()) / 2.0 for ring in (hole, shell)]
    turns = np.round((middle[1] - middle[0]) / 360.0)
    return hole._replace(xy=hole.xy + np.array([360.0 * turns, 0.0]))


def _is_flat(ring: _Ring) -> bool:
    xy = ring.xy - ring.xy.mean(axis=0)
    after = np.roll(xy, -1, axis=0)
    # Two lobes of a figure of eight cancel in the sum of areas, so the hull is asked, which they do not.
    hull = shapely.MultiPoint(xy).convex_hull
    return bool(hull.area <= FLATNESS * np.hypot(*(after - xy).T).sum() ** 2)


def _crossing_faults(rings: list[_Ring], kind: LineKind) -> Iterator[str]:
    """Yield what makes rings cross, overlap or lie outside each other; touching points are no fault."""
    found = _crossing_pairs(rings, kind)
    if not found:
        found = [
            f"{ring.name} crosses itself at a corner{place}"
            for ring in rings
            if (place := _through_corner([ring], kind)) is not None
        ]
    if not found and (place := _through_corner(rings, kind)) is not None:
        found = [f"{rings[0].name} and a hole, or two holes, cross at a corner{place}"]
    yield from found
    if not found:
        yield from _nesting_faults(rings)


def _crossing_pairs(rings: list[_Ring], kind: LineKind) -> list[str]:
    ring_of = np.repeat(np.arange(len(rings)), [len(ring.xy) for ring in rings])
    edge_of = np.concatenate([ring.edge for ring in rings])
    ends = np.concatenate([np.stack([ring.xy, np.roll(ring.xy, -1, axis=0)], axis=1) for ring in rings])
    chords = shapely.linestrings(ends)
    tree = shapely.STRtree(chords)
    faults: dict[tuple[int, ...], str] = {}
    # In batches: a ring may cross itself in a thousand million places, and one is enough.
    for first in range(0, len(chords), _BATCH):
        one, other = tree.query(chords[first : first + _BATCH], predicate="intersects")
        one += first
        one, other = one[one < other], other[one < other]
        for some in range(0, len(one), _PAIRS):
            a, b = one[some : some + _PAIRS], other[some : some + _PAIRS]
            along = shapely.relate_pattern(chords[a], chords[b], _ALONG)
            bad = np.flatnonzero(along | shapely.relate_pattern(chords[a], chords[b], _CROSSING))
            for pair in bad[: 4 * _FAULT_LIMIT]:
                i, j = int(a[pair]), int(b[pair])
                key = (int(ring_of[i]), int(edge_of[i]), int(ring_of[j]), int(edge_of[j]))
                if key not in faults:
                    at = shapely.get_coordinates(shapely.intersection(chords[i], chords[j]))[0]
                    edges = [(rings[key[0]], key[1]), (rings[key[2]], key[3])]
                    verb = "overlap" if along[pair] else "cross"
                    faults[key] = _pair_fault(edges, verb, _place(at, kind))
            if len(faults) > _FAULT_LIMIT:
                return list(faults.values())
    return list(faults.values())


def _pair_fault(edges: list[tuple[_Ring, int]], verb: str, place: str) -> str:
    said = [
        _edge(ring.number[edge] - 1, ring.number[(edge + 1) % len(ring.number)] - 1) for ring, edge in edges
    ]
    if edges[0][0] is edges[1][0]:
        return (
            f"{edges[0][0].name}: {said[0]} and {said[1]} {verb} near {place}; a boundary may not cross"
            " itself, check the order of the corners"
        )
    names = [f"{said[i]} of {edges[i][0].name}" for i in (0, 1)]
    return f"{names[0]} and {names[1]} {verb} near {place}; a hole must lie inside its outer ring"


def _through_corner(rings: list[_Ring], kind: LineKind) -> str | None:
    """Return the place where rings run across each other through a corner, where no two chords cross."""
    said = str(shapely.is_valid_reason(shapely.Polygon(rings[0].xy, [ring.xy for ring in rings[1:]])))
    if not said.startswith("Self-intersection"):
        return None
    numbers = re.findall(r"-?\d+\.?\d*(?:e[+-]?\d+)?", said.partition("[")[2])
    place = _place(np.array([float(number) for number in numbers[:2]]), kind)
    return f" near {place}; a boundary may not cross itself, check the order of the corners"


def _nesting_faults(rings: list[_Ring]) -> Iterator[str]:
    """Yield holes outside their outer ring or inside another hole; no two rings cross here."""
    lines = [shapely.LinearRing(ring.xy) for ring in rings]
    for number, hole in enumerate(rings[1:], start=1):
        for other_number, other in enumerate(rings):
            if other_number == number:
                continue
            # A corner may lie on the other ring; the one farthest from it decides.
            away = shapely.distance(shapely.points(hole.xy), lines[other_number])
            inside = _encloses(other.xy, hole.xy[int(np.argmax(away))])
            if inside != (other_number == 0):
                relation = "lies outside" if other_number == 0 else "lies inside"
                yield f"{hole.name} at {_at(hole.corners[0])} {relation} {other.name}"


def _encloses(ring: FloatArray, point: FloatArray) -> bool:
    """Return whether a point is inside a ring, by the parity of crossings to its east."""
    after = np.roll(ring, -1, axis=0)
    spans = (ring[:, 1] > point[1]) != (after[:, 1] > point[1])
    rise = np.where(spans, after[:, 1] - ring[:, 1], 1.0)
    x = ring[:, 0] + (point[1] - ring[:, 1]) / rise * (after[:, 0] - ring[:, 0])
    return bool((spans & (x > point[0])).sum() % 2)


def _edge(start: int, end: int) -> str:
    return f"edge {start + 1}-{end + 1}"


def _at(corner: Corners) -> str:
    return format_position(float(corner[0]), float(corner[1]))


def _place(xy: FloatArray, kind: LineKind) -> str:
    lat = float(latitude_from_isometric(np.radians(xy[1]))) if kind is LineKind.RHUMB else float(xy[1])
    return format_position(float(wrap_longitude(xy[0])), lat)
