"""The corners of many features as columns, each string of them named as its author would."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.shape import Corners, Shape
from towzone.model.candidate import Candidate

__all__ = ["BoolArray", "IntArray", "Strings", "batches", "columns", "named_strings"]

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_FEATURES_AT_ONCE = 2000
"""Own choice: a few hundred thousand corners, so that a batch stays under a hundred megabytes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strings:
    """Rings and lines without repeated corners, end to end.

    Parameters
    ----------
    owner : ndarray of int, shape (s,)
        Index of the candidate a string belongs to.
    name : list of str, length s
    closed : ndarray of bool, shape (s,)
    first, size : ndarray of int, shape (s,)
        Where a string begins in the columns, and how many corners it has (at least one).
    lon_deg, lat_deg : ndarray, shape (n,)
        Longitude continuous along a string, so it may leave [-180, 180).
    number : ndarray of int, shape (n,)
        Number of a corner in the file, from 1.
    string : ndarray of int, shape (n,)
        Which string a corner belongs to.
    """

    owner: IntArray
    name: list[str]
    closed: BoolArray
    first: IntArray
    size: IntArray
    lon_deg: FloatArray
    lat_deg: FloatArray
    number: IntArray
    string: IntArray

    def position(self, corner: int) -> tuple[float, float]:
        """Return longitude (brought into range) and latitude of a corner."""
        return float(wrap_longitude(self.lon_deg[corner])), float(self.lat_deg[corner])

    def corner_name(self, corner: int) -> str:
        """Return how its author would call a corner."""
        return f"{self.name[int(self.string[corner])]}, corner {int(self.number[corner])}"

    def of(self, string: int) -> slice:
        """Return where a string lies in the columns."""
        return slice(int(self.first[string]), int(self.first[string] + self.size[string]))

    def neighbours(self) -> tuple[IntArray, IntArray]:
        """Return the corners before and after each; at the ends of a line the corner itself."""
        before, after = np.arange(len(self.string)) - 1, np.arange(len(self.string)) + 1
        last = self.first + self.size - 1
        before[self.first] = np.where(self.closed, last, self.first)
        after[last] = np.where(self.closed, self.first, last)
        return before, after


def named_strings(shape: Shape) -> Iterator[tuple[str, Corners, bool]]:
    """Yield rings and lines with their names and whether they close."""
    for number, polygon in enumerate(shape.polygons, start=1):
        part = f"part {number}, " if len(shape.polygons) > 1 else ""
        for index, ring in enumerate(polygon):
            hole = f"hole {index}" if len(polygon) > 2 else "hole"
            yield (
                part + (hole if index else ("outer ring" if len(polygon) > 1 or part else "ring")),
                ring,
                True,
            )
    for number, line in enumerate(shape.lines, start=1):
        yield f"line {number}" if len(shape.lines) > 1 else "line", line, False


def columns(candidates: Sequence[Candidate]) -> Strings:
    """Return the rings and lines of features as columns; what is not finite or has no corner is left out."""
    owner, names, closed, kept, numbers = [], [], [], [], []
    for index, candidate in enumerate(candidates):
        for name, corners, closes in named_strings(candidate.shape):
            new = (corners != np.roll(corners, 1, axis=0)).any(axis=1)
            new[:1] |= not closes or not new.any()
            if not new.any() or not np.isfinite(corners).all():
                continue
            owner.append(index)
            names.append(name)
            closed.append(closes)
            kept.append(corners if new.all() else corners[new])
            numbers.append(np.flatnonzero(new) + 1)
    size = np.array([len(corners) for corners in kept], dtype=np.int64)
    together = np.concatenate([np.empty((0, 2)), *kept])
    string = np.repeat(np.arange(len(kept)), size)
    first = np.cumsum(size) - size
    return Strings(
        owner=np.array(owner, dtype=np.int64),
        name=names,
        closed=np.array(closed, dtype=bool),
        first=first,
        size=size,
        lon_deg=_continuous(together[:, 0], string, first),
        lat_deg=together[:, 1],
        number=np.concatenate([np.empty(0, dtype=np.int64), *numbers]),
        string=string,
    )


def _continuous(lon_deg: FloatArray, string: IntArray, first: IntArray) -> FloatArray:
    """Return longitudes without jumps of a whole turn inside a string."""
    step = np.diff(lon_deg, prepend=lon_deg[:1])
    step[first] = 0.0
    turns = np.cumsum(np.round((wrap_longitude(step) - step) / 360.0))
    return lon_deg + 360.0 * (turns - turns[first][string]) if len(lon_deg) else lon_deg


def batches(candidates: Sequence[Candidate]) -> Iterator[list[Candidate]]:
    """Yield features some at a time."""
    rest = iter(candidates)
    while batch := list(islice(rest, _FEATURES_AT_ONCE)):
        yield batch
