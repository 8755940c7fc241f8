"""Features of zone files between reading and judging: geometry walked number by number into shapes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeGuard

import numpy as np

from towzone.errors import Problem, quoted
from towzone.files.columns import Positions, packed
from towzone.geodesy.shape import Corners, Polygon, Shape, freeze
from towzone.words import counted

__all__ = ["GEOMETRY_TYPES", "GeometryReader", "Layer", "RawFeature", "bounds"]

GEOMETRY_TYPES = (
    "Point",
    "MultiPoint",
    "LineString",
    "MultiLineString",
    "Polygon",
    "MultiPolygon",
    "GeometryCollection",
)
"""Published: RFC 7946 (2016), section 1.4."""

_NESTING_LIMIT = 16
"""Own limit on collections within collections."""
_PROBLEMS_PER_FEATURE = 20
_RANGE_DEG = np.array([180.0, 90.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFeature:
    """One feature as the file has it: corners still in the datum of the file.

    ``number`` counts from 1 through the whole file; ``where`` names the feature in messages.
    """

    number: int
    where: str
    properties: Mapping[str, object]
    shape: Shape


@dataclass(slots=True, kw_only=True)
class Layer:
    """The features that share one coordinate reference system.

    ``crs`` is an authority code or WKT, empty for WGS 84 longitude and latitude. ``problems`` and
    ``remarks`` pair a place with a message.
    """

    crs: str = ""
    features: list[RawFeature] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    remarks: list[tuple[str, str]] = field(default_factory=list)


@dataclass(slots=True)
class _Gathered:
    polygons: list[Polygon] = field(default_factory=list)
    lines: list[Corners] = field(default_factory=list)
    points: list[tuple[float, float]] = field(default_factory=list)


class GeometryReader:
    """Turns GeoJSON-like geometries of one file into shapes and remembers what was mended.

    Parameters
    ----------
    degrees : bool
        Whether coordinates are longitudes and latitudes, so that their range can be checked.

    Attributes
    ----------
    with_height, closed : int
        Positions whose height was left out, rings that were closed.
    """

    def __init__(self, *, degrees: bool) -> None:
        self.degrees = degrees
        self.with_height = 0
        self.closed = 0
        self._problems: list[Problem] = []
        self._where = ""
        self._hidden = 0

    def read(self, geometry: object, where: str) -> tuple[Shape | None, list[Problem]]:
        """Return the shape of a geometry, or ``None`` and everything that is wrong with it."""
        self._problems, self._where, self._hidden = [], where, 0
        gathered = _Gathered()
        self._geometry(geometry, gathered, "", 0)
        if self._hidden:
            self._problems.append(
                Problem(where, f"and {counted(self._hidden, 'more problem')} in this feature")
            )
        if self._problems:
            return None, self._problems
        if not (gathered.polygons or gathered.lines or gathered.points):
            return None, [
                Problem(where, "the geometry is empty; a zone needs a place. Remove the feature or mend it")
            ]
        shape = Shape(
            polygons=tuple(gathered.polygons), lines=tuple(gathered.lines), points=freeze(gathered.points)
        )
        return shape, []

    def remarks(self) -> list[str]:
        """Return one sentence for each kind of mending."""
        sentences = []
        if self.with_height:
            sentences.append(f"heights of {counted(self.with_height, 'position')} are not used")
        if self.closed:
            sentences.append(f"{counted(self.closed, 'ring')} not closed in the file, closed here")
        return sentences

    def _problem(self, place: str, message: str) -> None:
        if len(self._problems) >= _PROBLEMS_PER_FEATURE:
            self._hidden += 1
            return
        self._problems.append(Problem(f"{self._where}, {place}" if place else self._where, message))

    def _geometry(self, geometry: object, into: _Gathered, place: str, depth: int) -> None:
        if geometry is None:
            self._problem(place, "the geometry is null; a zone needs a place. Remove the feature or mend it")
            return
        if not isinstance(geometry, Mapping):
            self._problem(
                place, f"the geometry is {quoted(geometry)}, not an object with type and coordinates"
            )
            return
        kind = geometry.get("type")
        if kind == "GeometryCollection":
            self._collection(geometry, into, place, depth)
            return
        coordinates = geometry.get("coordinates")
        if kind not in GEOMETRY_TYPES:
            allowed = ", ".join(GEOMETRY_TYPES)
            self._problem(place, f"geometry type {quoted(kind)} is not known; allowed are {allowed}")
        elif not _is_list(coordinates):
            self._problem(place, f"the {kind} has no list of coordinates but {quoted(coordinates)}")
        elif not coordinates:
            self._problem(place, f"the {kind} is empty; a zone needs a place. Remove the feature or mend it")
        else:
            self._by_type(str(kind), coordinates, into, place)

    def _collection(self, geometry: Mapping[str, object], into: _Gathered, place: str, depth: int) -> None:
        members = geometry.get("geometries")
        if not _is_list(members) or not members:
            self._problem(place, "the GeometryCollection has no geometries")
        elif depth >= _NESTING_LIMIT:
            self._problem(place, f"collections are nested more than {_NESTING_LIMIT} deep")
        else:
            for number, member in enumerate(members, start=1):
                self._geometry(member, into, _join(place, f"member {number}"), depth + 1)

    def _by_type(self, kind: str, coordinates: Sequence[object], into: _Gathered, place: str) -> None:
        if kind == "Point":
            self._points([coordinates], into, place)
        elif kind == "MultiPoint":
            self._points(coordinates, into, place)
        elif kind == "LineString":
            self._line(coordinates, into, place)
        elif kind == "Polygon":
            self._polygon(coordinates, into, place)
        else:
            word, add = ("line", self._line) if kind == "MultiLineString" else ("part", self._polygon)
            for number, member in enumerate(coordinates, start=1):
                add(member, into, _join(place, f"{word} {number}"))

    def _points(self, coordinates: Iterable[object], into: _Gathered, place: str) -> None:
        for number, position in enumerate(coordinates, start=1):
            point = self._position(position, _join(place, f"point {number}"))
            if point is not None:
                into.points.append(point)

    def _line(self, coordinates: object, into: _Gathered, place: str) -> None:
        corners = self._positions(coordinates, place)
        if corners is None:
            return
        if _different(corners) < 2:
            self._problem(place, "a line needs at least 2 different corners, this has 1")
            return
        into.lines.append(freeze(corners))

    def _polygon(self, coordinates: object, into: _Gathered, place: str) -> None:
        if not _is_list(coordinates) or not coordinates:
            self._problem(place, f"a polygon is a list of rings, this is {quoted(coordinates)}")
            return
        rings = []
        for number, member in enumerate(coordinates, start=1):
            ring_place = _join(place, f"ring {number}")
            corners = self._positions(member, ring_place)
            if corners is None:
                continue
            if len(corners) > 1 and (corners[0] == corners[-1]).all():
                corners = corners[:-1]
            else:
                self.closed += 1
            if (count := _different(corners)) < 3:
                message = f"a ring needs at least 3 different corners, this has {count}"
                self._problem(ring_place, message)
                continue
            rings.append(freeze(corners))
        into.polygons.append(tuple(rings))

    def _positions(self, coordinates: object, place: str) -> Corners | None:
        """Return positions ``(n, 2)`` as they stand in the file, or ``None`` with their problems told."""
        clean = coordinates.array if isinstance(coordinates, Positions) else packed(coordinates)
        if clean is not None and not (self.degrees and _any_out_of_range(clean)):
            return clean
        if not _is_list(coordinates) or not coordinates:
            self._problem(place, f"a list of positions is needed, this is {quoted(coordinates)}")
            return None
        found = [
            self._position(position, _join(place, f"corner {number}"))
            for number, position in enumerate(coordinates, start=1)
        ]
        good = [position for position in found if position is not None]
        return np.array(good) if len(good) == len(found) else None

    def _position(self, position: object, place: str) -> tuple[float, float] | None:
        if not _is_list(position) or len(position) < 2:
            self._problem(place, f"{quoted(position)} is not a position; write [longitude, latitude]")
            return None
        first, second = position[0], position[1]
        if not _is_number(first) or not _is_number(second):
            what, value = ("latitude", second) if _is_number(first) else ("longitude", first)
            self._problem(place, f"{what} {quoted(value)} is not a number; write decimal degrees unquoted")
            return None
        try:
            lon, lat = float(first), float(second)
        except OverflowError:  # a whole number of hundreds of digits
            lon = lat = math.inf
        if not (math.isfinite(lon) and math.isfinite(lat)):
            self._problem(place, f"{quoted(list(position[:2]))} is not a finite position")
            return None
        if self.degrees and not (-180.0 <= lon <= 180.0 and -90.0 <= lat <= 90.0):
            self._problem(place, _out_of_range(lon, lat))
            return None
        self.with_height += len(position) > 2
        return lon, lat


def _different(corners: Corners) -> int:
    """Return how many different corners there are: 1, 2, or 3 for three or more."""
    others = corners[(corners != corners[0]).any(axis=1)]
    if not len(others):
        return 1
    return 3 if bool((others != others[0]).any()) else 2


def _any_out_of_range(corners: Corners) -> bool:
    return bool((np.abs(corners) > _RANGE_DEG).any())


def _is_list(value: object) -> TypeGuard[Sequence[object]]:
    return isinstance(value, (list, tuple, Positions))


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _join(place: str, more: str) -> str:
    return f"{place}, {more}" if place else more


def _out_of_range(lon: float, lat: float) -> str:
    if abs(lat) > 90.0 and abs(lon) <= 90.0 and abs(lat) <= 180.0:
        return (
            f"latitude {lat!r} is outside -90 to 90; it looks as if latitude comes first,"
            " write [longitude, latitude]"
        )
    if abs(lat) > 90.0:
        hint = (
            " (are these metres of a projection? then the file must state its crs)"
            if abs(lat) > 360.0
            else ""
        )
        return f"latitude {lat!r} is outside -90 to 90{hint}"
    if abs(lon) > 360.0:
        return (
            f"longitude {lon!r} is outside -180 to 180 (are these metres of a projection? then state the crs)"
        )
    other = lon - math.copysign(360.0, lon)
    return f"longitude {lon!r} is outside -180 to 180; write {lon:.10g} as {other:.10g}"


def bounds(features: Iterable[RawFeature]) -> tuple[float, float, float, float]:
    """Return the smallest and largest first and second coordinate of features (at least one)."""
    corners = np.concatenate([string for feature in features for string, _ in feature.shape.strings()])
    low, high = corners.min(axis=0), corners.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
