"""Zones with very many corners: drawn with fewer, and only where the chart reaches."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from towzone.record.drawn.frame import Box, LonLat, metres_per_degree, polygons_of
from towzone.record.drawn.thin import kept_nodes

__all__ = ["MANY", "clip_areas", "clip_lines", "fewer_corners", "simplified"]

MANY = 5_000
"""Corners of a zone up to which all are drawn. Own choice: some 60 kB of page."""

_MOST = 40_000  # corners drawn of one zone, own choice: half a megabyte of page
_FIRST_M = 0.25
_LONG = 20_000  # a simplifier that recurses stays shallow, and soon done, on strings up to this length

Areas = tuple[tuple[LonLat, ...], ...]


def fewer_corners(
    areas: Sequence[tuple[LonLat, ...]], lines: Sequence[LonLat]
) -> tuple[Areas, tuple[LonLat, ...], float]:
    """Return areas and lines with at most `_MOST` corners, and how far they may lie off for it, metres.

    Of fewer than `MANY` corners nothing is left out.
    """
    rings, paths = [list(area) for area in areas], list(lines)
    if _corners(rings, paths) <= MANY:
        return tuple(areas), tuple(lines), 0.0
    step_m, off_m = _FIRST_M, 0.0
    while off_m == 0.0 or _corners(rings, paths) > _MOST:
        # Each round starts from what the one before left, so what lies off adds up.
        rings = [[_simple_ring(ring, step_m) for ring in area] for area in rings]
        paths = [simplified(path, step_m) for path in paths]
        off_m += step_m
        step_m *= 4.0
    return tuple(sound for area in rings for sound in _sound(area)), tuple(paths), off_m


def _corners(rings: list[list[LonLat]], paths: list[LonLat]) -> int:
    return sum(len(ring) for area in rings for ring in area) + sum(len(path) for path in paths)


def _simple_ring(ring: LonLat, off_m: float) -> LonLat:
    return simplified(np.vstack([ring, ring[:1]]), off_m)[:-1] if len(ring) > 2 else ring


def simplified(string: LonLat, off_m: float) -> LonLat:
    """Return a string of positions with those left out that lie within a distance of the line."""
    if len(string) > _LONG:
        keep = kept_nodes(string, np.zeros(len(string), bool), off_m, time_s=None, in_time_m=np.inf)
        return string[keep]
    scale = np.array(metres_per_degree(float(np.abs(string[:, 1]).min())))
    line = shapely.simplify(shapely.linestrings(string * scale), off_m, preserve_topology=False)
    return np.asarray(shapely.get_coordinates(line) / scale)


def _sound(area: list[LonLat]) -> Areas:
    shell, *holes = area
    if len(shell) < 3:
        return ()
    polygon = shapely.Polygon(shell, [hole for hole in holes if len(hole) > 2])
    return _rings_of(polygon if shapely.is_valid(polygon) else shapely.make_valid(polygon))


def clip_areas(areas: Areas, box: Box) -> Areas:
    """Return areas cut where a box ends; those that lie in it are left as they are."""
    cut: list[tuple[LonLat, ...]] = []
    for area in areas:
        if Box.around(area[0]).intersection(box) == Box.around(area[0]):
            cut.append(area)
            continue
        polygon = shapely.make_valid(shapely.Polygon(area[0], area[1:]))
        cut += _rings_of(shapely.clip_by_rect(polygon, box.west, box.south, box.east, box.north))
    return tuple(cut)


def clip_lines(lines: tuple[LonLat, ...], box: Box) -> tuple[LonLat, ...]:
    """Return lines cut where a box ends."""
    cut = shapely.clip_by_rect(
        [shapely.linestrings(line) for line in lines], box.west, box.south, box.east, box.north
    )
    return tuple(shapely.get_coordinates(part) for part in shapely.get_parts(cut) if not part.is_empty)


def _rings_of(shape: shapely.Geometry) -> Areas:
    return tuple(
        tuple(shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part))
        for part in polygons_of(shape)
    )
