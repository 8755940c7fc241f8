"""Which of many shapes are certainly sound, asked of all of them at once.

`towzone.geodesy.validity` finds every fault of one shape and words it; asked fifty thousand times that costs
a minute. Here the same questions are put to the corners of many shapes as columns. The answer is one-sided:
what is called sound has no fault; of the rest nothing is said, and each is to be asked for its faults.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt
import shapely

from towzone.geodesy.ellipsoid import LATITUDE_LIMIT_DEG, FloatArray, isometric_latitude
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Corners, Polygon, Shape
from towzone.geodesy.validity import FLATNESS, STEP_M, densified

__all__ = ["surely_sound"]

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_CORNERS_AT_ONCE = 500_000
"""Own choice: keeps the columns of one batch under a hundred megabytes."""
_LONGEST_DEGREE_M = 111_700.0
"""No degree of latitude or longitude is longer on WGS 84: follows from its radii of curvature, of at most
6 399 594 m."""
_SHORT_DEG = 80.0
"""An edge that spans less than this in longitude and latitude together is under 8 940 km by each kind of
line, short of the 10 000 km allowed."""


def surely_sound(shapes: Sequence[Shape], kinds: Sequence[LineKind]) -> BoolArray:
    """Return for each shape whether it is certain that `shape_faults` would find nothing.

    Parameters
    ----------
    shapes : sequence of Shape
    kinds : sequence of LineKind
        How the corners of each are joined.

    Returns
    -------
    ndarray of bool, shape (n,)
        False says nothing: shapes across 180 degrees and very long edges are left to
        `towzone.geodesy.validity.shape_faults`, as is all that looks wrong.
    """
    sound = np.zeros(len(shapes), dtype=bool)
    for batch in _batches(shapes):
        some = [shapes[i] for i in batch]
        rhumb = np.array([kinds[i] is LineKind.RHUMB for i in batch])
        geodesic = np.array([kinds[i] is LineKind.GEODESIC for i in batch])
        sound[batch] = _strings_pass(some)
        _drop_bad_polygons(some, rhumb, geodesic, batch, sound)
    return sound


def _batches(shapes: Sequence[Shape]) -> Iterator[list[int]]:
    batch: list[int] = []
    size = 0
    for index, shape in enumerate(shapes):
        batch.append(index)
        size += sum(len(ring) for rings in shape.polygons for ring in rings) + len(shape.points)
        size += sum(len(line) for line in shape.lines)
        if size > _CORNERS_AT_ONCE:
            yield batch
            batch, size = [], 0
    if batch:
        yield batch


def _strings_pass(shapes: Sequence[Shape]) -> BoolArray:
    """Return whether all corners are in range, and all edges short and not across 180 degrees."""
    good = np.array([all(shape.polygons) for shape in shapes])
    rings = [(i, ring) for i, shape in enumerate(shapes) for rings in shape.polygons for ring in rings]
    lines = [(i, line) for i, shape in enumerate(shapes) for line in shape.lines]
    points = [(i, shape.points) for i, shape in enumerate(shapes) if len(shape.points)]
    for strings, closed in ((rings, True), (lines, False)):
        if strings:
            owner = np.array([i for i, _ in strings])
            np.logical_and.at(good, owner, _edges_pass([s for _, s in strings], closed=closed))
    for index, some in points:
        good[index] &= bool(_in_range(some).all())
    return good


def _in_range(corners: Corners) -> BoolArray:
    # A comparison with NaN is false, so what is not finite is not in range.
    return np.asarray((np.abs(corners[:, 0]) <= 180.0) & (np.abs(corners[:, 1]) <= LATITUDE_LIMIT_DEG))


def _edges_pass(strings: Sequence[Corners], *, closed: bool) -> BoolArray:
    size = np.array([len(string) for string in strings])
    good = size > 0
    if good.any():
        filled = [string for string in strings if len(string)]
        good[good] = _filled_pass(filled, size[good], closed=closed)
    return np.asarray(good)


def _filled_pass(strings: Sequence[Corners], size: IntArray, *, closed: bool) -> BoolArray:
    first = np.cumsum(size) - size
    corners = np.concatenate(strings)
    following = np.roll(corners, -1, axis=0)
    following[first + size - 1] = corners[first if closed else first + size - 1]
    with np.errstate(invalid="ignore"):
        span = np.abs(following - corners).sum(axis=1)
        clear = _in_range(corners) & (span < _SHORT_DEG)
    some_length = np.maximum.reduceat(span, first) > 0.0
    return np.logical_and.reduceat(clear, first) & some_length


def _drop_bad_polygons(
    shapes: Sequence[Shape], rhumb: BoolArray, geodesic: BoolArray, batch: list[int], sound: BoolArray
) -> None:
    """Clear the mark of shapes with a polygon that is not valid, or a ring that encloses nothing."""
    owned = [(i, p) for i, shape in enumerate(shapes) if sound[batch[i]] for p in shape.polygons]
    if not owned:
        return
    owner = np.array([i for i, _ in owned])
    curved = geodesic[owner]
    good = np.zeros(len(owned), dtype=bool)
    for some, passes in ((~curved, _polygons_pass), (curved, _geodesic_polygons_pass)):
        if some.any():
            chosen = [owned[i][1] for i in np.flatnonzero(some)]
            good[some] = passes(chosen, rhumb[owner[some]])
    bad = np.unique(owner[~good])
    sound[np.array(batch)[bad]] = False


def _geodesic_polygons_pass(polygons: Sequence[Polygon], rhumb: BoolArray) -> BoolArray:
    """Return whether polygons of geodesic edges pass, cut into the chords that `shape_faults` takes."""
    good = np.zeros(len(polygons), dtype=bool)
    first = 0
    while first < len(polygons):
        cut: list[Polygon] = []
        points = 0
        while first + len(cut) < len(polygons) and points < _CORNERS_AT_ONCE:
            cut.append(tuple(_chords(ring) for ring in polygons[first + len(cut)]))
            points += sum(len(ring) for ring in cut[-1])
        last = first + len(cut)
        # There and back by two corners is no line when it is curved, so corners are counted before the cut.
        cornered = [all(_has_three(ring) for ring in polygon) for polygon in polygons[first:last]]
        good[first:last] = _polygons_pass(cut, rhumb[first:last]) & np.array(cornered)
        first = last
    return good


def _has_three(ring: Corners) -> bool:
    """Return whether a ring has at least three different corners."""
    others = ring[(ring != ring[0]).any(axis=1)]
    return len(others) > 0 and bool((others != others[0]).any())


def _chords(ring: Corners) -> Corners:
    span = np.abs(np.roll(ring, -1, axis=0) - ring).sum(axis=1)
    if float(span.max()) * _LONGEST_DEGREE_M <= STEP_M:
        return ring  # each edge is one chord
    lon, lat, _ = densified(ring, ring[:, 0])
    return np.column_stack([lon, lat])


def _polygons_pass(polygons: Sequence[Polygon], rhumb: BoolArray) -> BoolArray:
    rings = [ring for polygon in polygons for ring in polygon]
    polygon_of = np.repeat(np.arange(len(polygons)), [len(polygon) for polygon in polygons])
    size = np.array([len(ring) for ring in rings])
    good = np.ones(len(polygons), dtype=bool)
    np.logical_and.at(good, polygon_of, size >= 3)
    if not good.all():
        kept = np.flatnonzero(good)
        if len(kept):
            good[kept] = _polygons_pass([polygons[int(i)] for i in kept], rhumb[kept])
        return good
    xy = np.array(np.concatenate(rings))
    ring_of = np.repeat(np.arange(len(rings)), size)
    mercator = rhumb[polygon_of][ring_of]
    xy[mercator, 1] = np.degrees(isometric_latitude(xy[mercator, 1]))
    np.logical_and.at(good, polygon_of, ~_flat(xy, ring_of, size))
    drawn = shapely.linearrings(xy, indices=ring_of)
    if len(rings) == len(polygons):
        areas = shapely.polygons(drawn)
    else:
        cut = np.split(drawn, np.flatnonzero(np.diff(polygon_of)) + 1)
        areas = np.array([shapely.Polygon(own[0], list(own[1:])) for own in cut])
    return np.asarray(good & shapely.is_valid(areas), dtype=bool)


def _flat(xy: FloatArray, ring_of: IntArray, size: IntArray) -> BoolArray:
    first = np.cumsum(size) - size
    following = np.roll(xy, -1, axis=0)
    following[first + size - 1] = xy[first]
    around = np.add.reduceat(np.hypot(*(following - xy).T), first)
    centre = np.add.reduceat(xy, first) / size[:, None]
    hull = shapely.convex_hull(shapely.linearrings(xy - centre[ring_of], indices=ring_of))
    return np.asarray(shapely.area(hull) <= FLATNESS * around**2)
