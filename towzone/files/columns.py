"""Coordinates of GeoJSON packed into arrays while the text is still being parsed.

A position kept as Python objects takes ten times the room of two numbers; five million of them would fill a
machine. Only lists without any doubt are packed; all others stay as they are for the reader that can say
what is wrong with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any

import numpy as np

from towzone.geodesy.shape import Corners

__all__ = ["Positions", "pack", "packed"]

_DEPTH = {"MultiPoint": 0, "LineString": 0, "Polygon": 1, "MultiLineString": 1, "MultiPolygon": 2}
"""How many lists lie around each list of positions. Published: RFC 7946 (2016), section 3.1."""

_LISTS, _NUMBERS, _PAIR = frozenset({list}), frozenset({int, float}), frozenset({2})


class Positions(Sequence[Any]):
    """A list of positions that is kept as an array but reads like the list it was.

    Parameters
    ----------
    array : Corners
        Shape ``(n, 2)``, finite.
    """

    __slots__ = ("array",)

    def __init__(self, array: Corners) -> None:
        self.array = array

    def __len__(self) -> int:
        return len(self.array)

    def __getitem__(self, index: Any) -> Any:
        return self.array[index].tolist()

    def __repr__(self) -> str:
        return repr(self.array.tolist())


def pack(members: dict[str, object]) -> None:
    """Replace the lists of positions of a geometry by arrays, where that loses nothing.

    Parameters
    ----------
    members : dict
        Any JSON object; changed in place when it is a geometry with clean coordinates.
    """
    depth = _DEPTH.get(str(members.get("type")))
    coordinates = members.get("coordinates")
    if depth is not None and isinstance(coordinates, list):
        members["coordinates"] = _packed_at(coordinates, depth)


def _packed_at(value: list[object], depth: int) -> object:
    if depth:
        return [_packed_at(item, depth - 1) if isinstance(item, list) else item for item in value]
    array = packed(value)
    return value if array is None else Positions(array)


def packed(positions: object) -> Corners | None:
    """Return positions as an array ``(n, 2)``, or ``None`` when one is not a pair of finite numbers.

    Examples
    --------
    >>> packed([[1, 2.5], [3.0, 4.0]]).tolist()
    [[1.0, 2.5], [3.0, 4.0]]
    >>> packed([[1.0, True]]) is None, packed([[1.0, 2.0, 3.0]]) is None
    (True, True)
    """
    if not isinstance(positions, list) or not positions or set(map(type, positions)) != _LISTS:
        return None
    if set(map(len, positions)) != _PAIR or not set(map(type, chain.from_iterable(positions))) <= _NUMBERS:
        return None
    try:
        array = np.array(positions, dtype=np.float64)
    except OverflowError:  # a whole number of hundreds of digits
        return None
    return array if np.isfinite(array).all() else None
