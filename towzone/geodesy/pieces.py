"""Long lines cut into pieces so short that a straight chord tells the truth.

Every edge is cut by its own rule; between the cuts the true curve, the geodesic and the straight line
through the earth lie within `DEVIATION_M` sideways of each other, so that from here on one kind of
arithmetic serves all kinds of line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.geodesy import cuts, legs
from towzone.geodesy.compiling import solid
from towzone.geodesy.edges import Edges, IntArray
from towzone.geodesy.ellipsoid import LATITUDE_LIMIT_DEG, FloatArray, to_geocentric, wrap_longitude
from towzone.geodesy.lines import WGS84, LineKind, check_positions, inverse, points_along
from towzone.geodesy.shape import Corners, Shape

__all__ = [
    "DEVIATION_M",
    "LONGEST_PIECE_M",
    "Pieces",
    "cut",
    "cut_legs",
    "leg_lengths",
    "outline",
    "whole_edges",
]

DEVIATION_M = 0.001
"""Own choice: a tenth of the 1 cm promised, so that what is added up stays inside the promise."""

LONGEST_PIECE_M = 1000.0
"""Own choice: the chord of 1 km runs 2 cm below the surface, too little to move a nearest point."""

_SHORTEST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84: the smallest is a(1 - e**2) = 6 335 439 m."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """Short pieces of edges: straight chords between points on the ellipsoid.

    Parameters
    ----------
    start_m, end_m : ndarray, shape (p, 3)
        Geocentric metres.
    edge : ndarray of int, shape (p,)
        Which edge a piece belongs to.
    from_part, to_part : ndarray, shape (p,)
        Fractions of that edge at the ends of the piece.
    owner : ndarray of int, shape (p,)
        Owner of that edge, never decreasing.
    swell_m : ndarray, shape (p,)
        Proved: the curve is nowhere farther than this from the chord, metres.
    """

    start_m: FloatArray
    end_m: FloatArray
    edge: IntArray
    from_part: FloatArray
    to_part: FloatArray
    owner: IntArray
    swell_m: FloatArray

    @classmethod
    def each_alone(cls, start_m: FloatArray, end_m: FloatArray) -> Pieces:
        """Return straight pieces between points, each owned by its own number; only their ends matter."""
        n = len(start_m)
        return cls(
            start_m=start_m,
            end_m=end_m,
            edge=np.arange(n),
            from_part=np.zeros(n),
            to_part=np.ones(n),
            owner=np.arange(n),
            swell_m=np.zeros(n),
        )

    def __len__(self) -> int:
        return len(self.owner)


def cut(edges: Edges, *, deviation_m: float = DEVIATION_M, longest_m: float = LONGEST_PIECE_M) -> Pieces:
    """Cut edges into pieces, each by its own rule.

    Parameters
    ----------
    edges : Edges
    deviation_m : float
        Largest distance sideways between the true curve and the chord of a piece, metres.
    longest_m : float
        Longest piece, metres.

    Raises
    ------
    GeometryError
        As `towzone.geodesy.lines.inverse`, for every edge, also those of no length.

    Notes
    -----
    A curve of curvature ``c`` strays ``c l**2 / 8`` from a chord of length ``l``. For a geodesic ``c`` is 0
    on the surface; for the others it is bounded by `cuts.BEND` times the tangent of the highest latitude.
    """
    for lon_deg, lat_deg in ((edges.lon0_deg, edges.lat0_deg), (edges.lon1_deg, edges.lat1_deg)):
        check_positions(lon_deg, lat_deg)
    columns, code = _columns(edges)
    speed_m, chord_m = _speeds(edges)
    counts = cuts.piece_counts(columns[1], columns[3], code, speed_m, chord_m, deviation_m, longest_m)
    start_m, end_m, edge, from_part, to_part = cuts.cut_up(*columns, code, counts)
    geodesics = np.flatnonzero((code == cuts.GEODESIC) & (counts > 1))
    _cut_geodesics(columns, geodesics, edge, from_part, start_m, end_m)
    return Pieces(
        start_m=start_m,
        end_m=end_m,
        edge=edge,
        from_part=from_part,
        to_part=to_part,
        owner=edges.owner[edge],
        swell_m=_swell(cuts.chords(start_m, end_m), deviation_m),
    )


def whole_edges(edges: Edges) -> Pieces:
    """Return each edge as one piece, for searches of boxes alone.

    No point of an edge is farther from the nearer of its ends than half its length, on the surface and
    so also straight through; boxes padded by that much hold the whole edge, whatever its rule.

    Raises
    ------
    GeometryError
        As `cut`.
    """
    for lon_deg, lat_deg in ((edges.lon0_deg, edges.lat0_deg), (edges.lon1_deg, edges.lat1_deg)):
        check_positions(lon_deg, lat_deg)
    speed_m, _ = _speeds(edges)
    none = np.zeros(len(edges))
    return Pieces(
        start_m=to_geocentric(edges.lon0_deg, edges.lat0_deg),
        end_m=to_geocentric(edges.lon1_deg, edges.lat1_deg),
        edge=np.arange(len(edges)),
        from_part=none,
        to_part=none + 1.0,
        owner=edges.owner,
        swell_m=speed_m / 2.0 + 0.01,
    )


_CODES = {LineKind.RHUMB: cuts.RHUMB, LineKind.GEODESIC: cuts.GEODESIC, LineKind.LONLAT: cuts.LONLAT}


def _columns(edges: Edges) -> tuple[tuple[FloatArray, FloatArray, FloatArray, FloatArray], IntArray]:
    """Return the ends of edges and their kinds as compiled code takes them."""
    code = np.empty(len(edges), dtype=np.int64)
    for kind, number in _CODES.items():
        code[edges.kind == kind] = number
    ends = (solid(edges.lon0_deg), solid(edges.lat0_deg), solid(edges.lon1_deg), solid(edges.lat1_deg))
    return ends, code


def _speeds(edges: Edges) -> tuple[FloatArray, FloatArray]:
    """Return the greatest metres of edges per unit of their fraction (the length where that is constant).

    Returns
    -------
    speed_m, chord_m : ndarray, shape (n,)
    """
    ends, code = _columns(edges)
    speed_m, chord_m, unsure = cuts.greatest_speeds(*ends, code)
    for kind, number in _CODES.items():
        some = np.flatnonzero(unsure & (code == number))
        if len(some):
            # Refuses what is too long, or ambiguous.
            length_m, _ = inverse(kind, *(column[some] for column in ends))
            if kind is LineKind.GEODESIC:
                speed_m[some] = length_m
    return speed_m, chord_m


def _cut_geodesics(
    ends: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    which: IntArray,
    edge: IntArray,
    from_part: FloatArray,
    start_m: FloatArray,
    end_m: FloatArray,
) -> None:
    """Write where some of the edges, which are geodesics, are cut."""
    if not len(which):
        return
    lon0, lat0, lon1, lat1 = (column[which] for column in ends)
    azimuth, _, length_m = WGS84.inv(lon0, lat0, lon1, lat1)
    cut_up = np.zeros(len(ends[0]), dtype=bool)
    cut_up[which] = True
    inner = np.flatnonzero((from_part > 0.0) & cut_up[edge])
    own = np.searchsorted(which, edge[inner])
    lon, lat, _ = WGS84.fwd(
        lon0[own], lat0[own], np.asarray(azimuth)[own], np.asarray(length_m)[own] * from_part[inner]
    )
    start_m[inner] = to_geocentric(lon, lat)
    # The piece before ends where this one starts.
    end_m[inner - 1] = start_m[inner]


def cut_legs(lon_deg: FloatArray, lat_deg: FloatArray, counts: IntArray, owner: IntArray) -> Pieces:
    """Cut geodesic legs between positions that follow each other; each position is looked at once.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
        Positions of strings of legs, one string after the other.
    counts : ndarray of int, shape (k,)
        Positions of each string, at least one: a lone position is a leg of no length.
    owner : ndarray of int, shape (k,)
        Owner of each string, never decreasing.

    Returns
    -------
    Pieces
        Those of `cut`, but ``edge`` is the number of the position where a leg begins.

    Raises
    ------
    GeometryError
        As `cut`.
    """
    if len(counts) and (counts.min() < 1 or counts.sum() != len(lon_deg)):
        message = "every string has at least one position, and every position a string"
        raise ValueError(message)
    lon, lat, counts = solid(lon_deg), solid(lat_deg), solid(counts, np.int64)
    # One string needs no copy: its legs begin at all points but the last.
    alone = len(counts) == 1 and len(lon) > 1
    if alone:
        points_m, chord_m, sound = legs.one_string(lon, lat)
        first, last = np.arange(len(chord_m)), np.arange(1, len(lon))
    else:
        points_m, sound = legs.surface_points(lon, lat)
        first, last, string, chord_m = legs.joined(points_m, counts)
    if not sound:
        check_positions(lon, lat)
    pieces = Pieces(
        start_m=points_m[:-1] if alone else points_m.take(first, axis=0),
        end_m=points_m[1:] if alone else points_m.take(last, axis=0),
        edge=first,
        from_part=np.broadcast_to(0.0, len(first)),
        to_part=np.broadcast_to(1.0, len(first)),
        owner=np.broadcast_to(owner[0], len(first)) if alone else owner[string],
        swell_m=_swell(chord_m, DEVIATION_M),
    )
    long = np.flatnonzero(chord_m > LONGEST_PIECE_M / cuts.GEODESIC_STRETCH)
    if not len(long):
        return pieces
    edges = Edges(
        lon0_deg=lon[first[long]],
        lat0_deg=lat[first[long]],
        lon1_deg=lon[last[long]],
        lat1_deg=lat[last[long]],
        owner=pieces.owner[long],
        kind=np.full(len(long), LineKind.GEODESIC, dtype=object),
    )
    return _with_legs_cut(pieces, long, cut(edges))


def _with_legs_cut(pieces: Pieces, which: IntArray, parts: Pieces) -> Pieces:
    """Return pieces with some of them replaced by the parts that they were cut into."""
    kept = np.delete(np.arange(len(pieces)), which)
    order = np.argsort(np.concatenate([kept, which[parts.edge]]), kind="stable")
    own = {name: getattr(pieces, name)[kept] for name in Pieces.__slots__}
    cut_up = {name: getattr(parts, name) for name in Pieces.__slots__} | {
        "edge": pieces.edge[which[parts.edge]]
    }
    return Pieces(**{name: np.concatenate([own[name], cut_up[name]])[order] for name in own})


def _swell(chord_m: FloatArray, deviation_m: float) -> FloatArray:
    return chord_m**2 / (8.0 * _SHORTEST_RADIUS_M) * 1.01 + deviation_m


def outline(shape: Shape, kind: LineKind, *, tolerance_m: float = 1.0) -> list[tuple[FloatArray, bool]]:
    """Return every string of corners with points added, so that it may be drawn straight in lon/lat.

    Returns
    -------
    list of (corners, closed)
        ``corners`` has shape ``(n, 2)``, longitude first and continuous along the string (it may leave
        [-180, 180]); a closed string does not repeat its first corner.
    """
    drawn = []
    for corners, closed in shape.strings():
        if len(corners) == 1:
            drawn.append((np.array(corners), False))
            continue
        ends = np.roll(corners, -1, axis=0) if closed else corners[1:]
        starts = corners if closed else corners[:-1]
        lon = starts[0, 0] + np.concatenate([[0.0], np.cumsum(wrap_longitude(ends[:, 0] - starts[:, 0]))])
        counts = _drawing_counts(kind, starts, ends, tolerance_m)
        edge = np.repeat(np.arange(len(starts)), counts)
        step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
        dense_lon, dense_lat = points_along(
            kind, starts[edge, 0], starts[edge, 1], ends[edge, 0], ends[edge, 1], step / counts[edge]
        )
        dense = np.stack([dense_lon - starts[edge, 0] + lon[edge], dense_lat], axis=1)
        if not closed:
            dense = np.concatenate([dense, [[lon[-1], ends[-1, 1]]]])
        drawn.append((dense, closed))
    return drawn


def _drawing_counts(kind: LineKind, starts: Corners, ends: Corners, tolerance_m: float) -> IntArray:
    if kind is LineKind.LONLAT:
        return np.ones(len(starts), dtype=np.int64)
    length_m, _ = inverse(kind, starts[:, 0], starts[:, 1], ends[:, 0], ends[:, 1])
    highest = np.maximum(np.abs(starts[:, 1]), np.abs(ends[:, 1]))
    if kind is LineKind.GEODESIC:
        # Between its ends a geodesic climbs at most half its length polewards.
        highest = np.minimum(highest + length_m / 2.0 / 110_000.0, LATITUDE_LIMIT_DEG + 0.9)
    bend = np.maximum(2.0 * cuts.BEND * np.tan(np.radians(highest)), 1e-12)
    straight = (starts[:, 0] == ends[:, 0]) | ((kind is LineKind.RHUMB) & (starts[:, 1] == ends[:, 1]))
    counts = np.ceil(length_m / np.sqrt(8.0 * tolerance_m / bend)).astype(np.int64)
    return np.where(straight, 1, np.maximum(counts, 1))


def leg_lengths(lon_deg: FloatArray, lat_deg: FloatArray) -> FloatArray:
    """Return the geodesic lengths of the legs between consecutive positions, metres, shape (n - 1,)."""
    lon, lat = solid(lon_deg), solid(lat_deg)
    lengths, far = legs.lengths(lon, lat)
    if far:
        long = np.flatnonzero(lengths > legs.FAR_M)
        _, _, lengths[long] = WGS84.inv(lon[long], lat[long], lon[long + 1], lat[long + 1])
    return lengths
