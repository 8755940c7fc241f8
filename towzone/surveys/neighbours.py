"""What zones give away beside each other: gaps too small to be meant, twins, overlaps under one name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import WGS84
from towzone.geodesy.shape import Shape
from towzone.model.candidate import Candidate
from towzone.model.zone import Zone
from towzone.surveys.defects import Defect, Severity, about
from towzone.surveys.matching import match_strings
from towzone.surveys.strings import BoolArray, IntArray, named_strings
from towzone.units import format_position

__all__ = ["neighbour_defects"]

_NEAR_M = 50.0
"""Own choice: a hundredth of a minute is 18.5 m and a second 31 m; corners nearer than this and not the same
look like one corner written twice."""
_METRES_PER_DEGREE = 110_567.0
"""The shortest degree of latitude on WGS 84, at the equator (follows from the ellipsoid)."""
_BOXES_AT_ONCE = 256
_MOST_PAIRS = 300_000
"""Own limit: some minutes of work; a set of zones side by side has a few pairs for each."""
_SMALL_TABLE = 10_000
"""Own choice: up to so many distances a table is faster than a tree."""
_SLIGHT = 1e-6
"""Own choice: zones that share less than this of the smaller one only touch."""


def neighbour_defects(candidates: Sequence[Candidate]) -> Iterator[Defect]:
    """Yield what is doubtful about zones that lie beside or upon each other.

    Refused features are left out. At most `_MOST_PAIRS` pairs are compared; it is told when there are more.
    """
    good = [candidate for candidate in candidates if candidate.zone is not None]
    if not good:
        return
    shapes = [candidate.shape for candidate in good]
    boxes = np.array([_box(shape) for shape in shapes])
    drawn = _Drawn()
    for count, pair in enumerate(_pairs(boxes)):
        first, second = sorted(pair)
        one, other = good[first], good[second]
        if count == _MOST_PAIRS:
            message = (
                f"more than {_MOST_PAIRS} pairs of zones lie beside or upon each other; from this zone on"
                " they were not compared for gaps, twins and overlaps"
            )
            yield about(one, Severity.DOUBT, "not compared", message)
            return
        twin = (
            _twin(one, other)
            if np.abs(boxes[first] - boxes[second]).max() < _box_margin(boxes[first])
            else None
        )
        if twin is not None:
            yield twin
            continue
        if one.shape.polygons and other.shape.polygons:
            yield from _gaps(one, other, boxes[first], boxes[second])
            yield from _overlap(one, other, drawn)


def _box(shape: Shape) -> FloatArray:
    """Return west, south, east, north of all corners; longitudes continue beyond 180 degrees."""
    corners = np.concatenate([corners for corners, _ in shape.strings()])
    lon = corners[0, 0] + wrap_longitude(corners[:, 0] - corners[0, 0])
    # Brought to one turn by its western side, so that boxes of the same place are the same.
    lon += wrap_longitude(lon.min()) - lon.min()
    return np.array([lon.min(), corners[:, 1].min(), lon.max(), corners[:, 1].max()])


def _box_margin(box: FloatArray) -> float:
    """Return the degrees of longitude that `_NEAR_M` may be in a box."""
    highest = min(max(abs(float(box[1])), abs(float(box[3]))) + 0.01, 89.0)
    return _NEAR_M / _METRES_PER_DEGREE / float(np.cos(np.radians(highest)))


def _pairs(boxes: FloatArray) -> Iterator[tuple[int, int]]:
    """Yield pairs of features whose boxes lie within `_NEAR_M`, each once, in file order."""
    grown = np.array([_box_margin(box) for box in boxes])
    areas = shapely.box(boxes[:, 0] - grown, boxes[:, 1] - grown, boxes[:, 2] + grown, boxes[:, 3] + grown)
    # A box that reaches over 180 degrees is asked a second time, a whole turn away.
    over = np.flatnonzero((boxes[:, 2] + grown > 180.0) | (boxes[:, 0] - grown < -180.0))
    turn = np.where(boxes[over, 2] + grown[over] > 180.0, -360.0, 360.0)
    moved = [
        shapely.transform(areas[i], lambda xy, by=by: xy + np.array([by, 0.0]))
        for i, by in zip(over, turn, strict=True)
    ]
    tree = shapely.STRtree(areas)
    # In batches: when all zones lie upon each other there are more pairs than a machine can hold.
    for start in range(0, len(areas), _BOXES_AT_ONCE):
        some = np.arange(start, min(start + _BOXES_AT_ONCE, len(areas)))
        found = [np.stack(tree.query(areas[some])) + np.array([[start], [0]])]
        again = np.flatnonzero(np.isin(over, some))
        if len(again):
            turned = np.stack(tree.query(np.array([moved[i] for i in again])))
            found.append(np.stack([over[again][turned[0]], turned[1]]))
        pairs = np.unique(np.concatenate(found, axis=1), axis=1)
        # A pair across 180 degrees may be found from its later member only.
        back = (pairs[0] > pairs[1]) & ~np.isin(pairs[1], over) & np.isin(pairs[0], over)
        yield from ((int(i), int(j)) for i, j in pairs[:, (pairs[0] < pairs[1]) | back].T)


def _named(one: Candidate, other: Candidate) -> str:
    """Return the first of two features in words for a message about the second."""
    return one.where if one.file == other.file else f"{one.where} of {one.file}"


def _twin(one: Candidate, other: Candidate) -> Defect | None:
    """Return the defect of two zones with the same corners, exactly or nearly."""
    first, second = list(named_strings(one.shape)), list(named_strings(other.shape))
    if len(first) != len(second) or len(one.shape.points) != len(other.shape.points):
        return None
    pairs = [(a[1], b[1], a[2]) for a, b in zip(first, second, strict=True)]
    if len(one.shape.points):
        pairs.append((one.shape.points, other.shape.points, False))
    widest = 0.0
    for old, new, closed in pairs:
        if len(old) != len(new):
            return None
        widest = max(widest, float(match_strings(old, new, closed=closed).apart_m.max()))
    if widest >= _NEAR_M:
        return None
    if widest > 0.0:
        message = (
            f"the same corners as {_named(one, other)}, but up to {widest:.2f} m away: one list at two"
            " precisions? Keep the one the notice prints"
        )
        return about(other, Severity.DOUBT, "duplicate at another precision", message)
    alike = _same_rule(one.zone, other.zone)
    message = f"the same corners as {_named(one, other)}" + (
        " and the same rule; remove one of them" if alike else ", under another rule"
    )
    return about(other, Severity.DOUBT if alike else Severity.NOTE, "duplicate", message)


def _same_rule(one: Zone | None, other: Zone | None) -> bool:
    if one is None or other is None:
        return False
    said = [
        (zone.kind, zone.edges, zone.prohibits, zone.margin_m, zone.radius_m, zone.rules)
        for zone in (one, other)
    ]
    return said[0] == said[1]


def _gaps(one: Candidate, other: Candidate, box: FloatArray, other_box: FloatArray) -> Iterator[Defect]:
    """Yield the smallest gap between corners that are near each other but not the same."""
    here, there = _near_box(one, other_box), _near_box(other, box)
    if not len(here) or not len(there):
        return
    mine, theirs = _close_pairs(here, there)
    if not len(mine):
        return
    a, b = here[mine], there[theirs]
    apart_m = np.asarray(WGS84.inv(a[:, 0], a[:, 1], b[:, 0], b[:, 1])[2])
    meant = _exactly_shared(here, there)
    tiny = (apart_m < _NEAR_M) & (apart_m > 0.0) & ~meant[0][mine] & ~meant[1][theirs]
    if not tiny.any():
        return
    least = int(np.flatnonzero(tiny)[np.argmin(apart_m[tiny])])
    position = (float(a[least, 0]), float(a[least, 1]))
    place = (float(b[least, 0]), float(b[least, 1]))
    count = int(tiny.sum())
    more = f", and {count - 1} more pairs of corners within {_NEAR_M:.0f} m" if count > 1 else ""
    message = (
        f"a corner of {_named(one, other)} at {format_position(*position)} lies {apart_m[least]:.2f} m from"
        f" one of this zone at {format_position(*place)}{more}; if they are meant to be one, write them"
        " alike, else a gap or an overlap remains"
    )
    yield about(other, Severity.DOUBT, "tiny gap", message, position=place)


def _near_box(candidate: Candidate, box: FloatArray) -> FloatArray:
    """Return the corners of the areas of a feature that lie in a box or within `_NEAR_M` of it."""
    corners = np.concatenate([ring for rings in candidate.shape.polygons for ring in rings])
    grown = _box_margin(box)
    middle = (box[0] + box[2]) / 2.0
    lon = middle + wrap_longitude(corners[:, 0] - middle)
    inside = (
        (lon >= box[0] - grown)
        & (lon <= box[2] + grown)
        & (corners[:, 1] >= box[1] - grown)
        & (corners[:, 1] <= box[3] + grown)
    )
    return np.asarray(corners[inside])


def _close_pairs(here: FloatArray, there: FloatArray) -> tuple[IntArray, IntArray]:
    """Return pairs of corners less than about `_NEAR_M` apart, found in a plane, each side by its index."""
    middle = here[0, 0]
    shrink = np.cos(np.radians(here[0, 1]))

    def flat(corners: FloatArray) -> FloatArray:
        lon = wrap_longitude(corners[:, 0] - middle)
        return np.stack([lon * shrink, corners[:, 1]], axis=1) * _METRES_PER_DEGREE

    mine_m, theirs_m = flat(here), flat(there)
    if len(here) * len(there) <= _SMALL_TABLE:
        apart_m = np.abs(mine_m[:, None, :] - theirs_m[None, :, :]).max(axis=2)
        mine, theirs = np.nonzero((apart_m > 0.0) & (apart_m < 2.0 * _NEAR_M))
        return mine, theirs
    tree = shapely.STRtree(shapely.points(theirs_m))
    mine, theirs = tree.query(shapely.points(mine_m), predicate="dwithin", distance=2.0 * _NEAR_M)
    return mine, theirs


def _exactly_shared(here: FloatArray, there: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Return for each corner of either side whether the other side has exactly the same."""
    together = np.concatenate([here, there])
    together[:, 0] = wrap_longitude(together[:, 0])
    _, key = np.unique(together, axis=0, return_inverse=True)
    key = key.reshape(-1)
    mine, theirs = key[: len(here)], key[len(here) :]
    return np.isin(mine, theirs), np.isin(theirs, mine)


def _overlap(one: Candidate, other: Candidate, drawn: _Drawn) -> Iterator[Defect]:
    """Yield two zones of one name that lie on each other, drawn straight in longitude and latitude."""
    if one.zone is None or other.zone is None or one.zone.name.casefold() != other.zone.name.casefold():
        return
    first, second = drawn.of(one), drawn.of(other)
    turns = np.round((first.bounds[0] - second.bounds[0]) / 360.0)
    if turns:
        second = shapely.transform(second, lambda xy: xy + np.array([360.0 * turns, 0.0]))
    share = shapely.intersection(first, second).area / min(first.area, second.area)
    if share <= _SLIGHT:
        return
    message = (
        f"overlaps {_named(one, other)}, a zone of the same name, by {100.0 * share:.1f} % of the"
        " smaller; are they two editions of one zone?"
    )
    yield about(other, Severity.DOUBT, "overlap of one name", message)


class _Drawn:
    """Areas of features as polygons in longitude and latitude, each drawn once."""

    def __init__(self) -> None:
        self._drawn: dict[int, shapely.Geometry] = {}

    def of(self, candidate: Candidate) -> shapely.Geometry:
        """Return the areas of a feature; longitudes continue beyond 180 degrees."""
        if id(candidate) not in self._drawn:
            self._drawn[id(candidate)] = _drawn(candidate.shape)
        return self._drawn[id(candidate)]


def _drawn(shape: Shape) -> shapely.Geometry:
    middle = float(shape.polygons[0][0][0, 0])

    def flat(ring: FloatArray) -> FloatArray:
        begin = middle + wrap_longitude(ring[:1, 0] - middle)
        lon = np.concatenate([begin, begin + np.cumsum(wrap_longitude(np.diff(ring[:, 0])))])
        return np.stack([lon, ring[:, 1]], axis=1)

    parts = [shapely.Polygon(flat(rings[0]), [flat(ring) for ring in rings[1:]]) for rings in shape.polygons]
    return shapely.union_all([shapely.make_valid(part) for part in parts])
