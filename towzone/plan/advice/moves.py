"""Lines as they would be: a leg moved parallel to itself, a turn begun elsewhere, a turn split in two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, direct, inverse
from towzone.model.plan import PlannedLine
from towzone.plan.lines import Legs, legs_of

__all__ = ["SQUARE_DEG", "Moved", "shifted", "split", "turn_moved"]

SQUARE_DEG = 25.0
"""Where the next leg runs nearer to the same line than this, a corner moves square across: along that leg it
would have to move more than 2.4 times as far as the leg is shifted. Own choice."""

_SHARPEST_DEG = 170.0
"""No turn is made sharper than this. Own choice."""

BoolArray = npt.NDArray[np.bool_]


class Moved(NamedTuple):
    """Corners of changed lines, shape (c, n), and which of them can be towed, shape (c,)."""

    lon_deg: FloatArray
    lat_deg: FloatArray
    sound: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """A line with its legs, and the least length that may be left of one."""

    line: PlannedLine
    kind: LineKind
    legs: Legs
    least_m: float

    @classmethod
    def of(cls, line: PlannedLine, kind: LineKind, least_m: float) -> _Line:
        return cls(line=line, kind=kind, legs=legs_of(line, kind), least_m=least_m)

    def with_corners(self, corners: dict[int, tuple[FloatArray, FloatArray]], count: int) -> Moved:
        """Return the line with some corners moved; sound where no leg is too short and no turn too sharp."""
        lon = np.tile(self.line.lon_deg, (count, 1))
        lat = np.tile(self.line.lat_deg, (count, 1))
        for number, (east, north) in corners.items():
            lon[:, number], lat[:, number] = east, north
        return Moved(lon, lat, self._sound(lon, lat, min(corners), max(corners)))

    def _sound(self, lon: FloatArray, lat: FloatArray, first: int, last: int) -> BoolArray:
        """Return which lines keep the legs around changed corners long enough, and on about their course."""
        low, high = max(first - 1, 0), min(last + 1, lon.shape[1] - 1)
        near = slice(low, high)
        length_m, course = inverse(
            self.kind,
            lon[:, low:high],
            lat[:, low:high],
            lon[:, low + 1 : high + 1],
            lat[:, low + 1 : high + 1],
        )
        least_m = np.minimum(self.least_m, self.legs.length_m[near] * 0.999)
        turned = np.abs(wrap_longitude(course - self.legs.course0_deg[near]))
        before = self.legs.course1_deg[low - 1] if low else None
        after = self.legs.course0_deg[high] if high < len(self.legs.length_m) else None
        turns = [np.abs(wrap_longitude(np.diff(course, axis=1)))]
        if before is not None:
            turns.append(np.abs(wrap_longitude(course[:, :1] - before)))
        if after is not None:
            turns.append(np.abs(wrap_longitude(after - course[:, -1:])))
        sharpest = np.concatenate(turns, axis=1).max(axis=1, initial=0.0)
        long_enough = (length_m >= least_m).all(axis=1)
        return np.asarray(long_enough & (turned < 90.0).all(axis=1) & (sharpest < _SHARPEST_DEG))


def shifted(
    line: PlannedLine, kind: LineKind, leg: int, to_starboard_m: FloatArray, least_m: float
) -> tuple[Moved, float]:
    """Return a line with one leg moved parallel to itself by each of some amounts.

    Its corners slide along the legs beside it, or move square across it where these are nearly in line with
    it, too short, or not there.

    Parameters
    ----------
    leg : int
        From 0.
    to_starboard_m : ndarray, shape (c,)
        Negative to port.
    least_m : float
        So long each leg beside it must remain, unless it was shorter.

    Returns
    -------
    moved : Moved
    ratio : float
        A corner moves no farther than this times the shift.
    """
    known = _Line.of(line, kind, least_m)
    legs, corners, ratio = known.legs, {}, 1.0
    last = len(legs.length_m) - 1
    for corner in (leg, leg + 1):
        at_start = corner == leg
        course = legs.course0_deg[leg] if at_start else legs.course1_deg[leg]
        at = line.lon_deg[corner], line.lat_deg[corner]
        square = direct(kind, *at, np.full(len(to_starboard_m), course + 90.0) % 360.0, to_starboard_m)
        beside = leg - 1 if at_start else leg + 1
        if not 0 <= beside <= last:
            corners[corner] = square
            continue
        other = legs.course1_deg[beside] if at_start else legs.course0_deg[beside]
        across = np.sin(np.radians(other - course))
        if abs(across) < np.sin(np.radians(SQUARE_DEG)):
            corners[corner] = square
            continue
        along_m = to_starboard_m / across
        left_m = legs.length_m[beside] + (along_m if at_start else -along_m)
        slides = left_m >= min(least_m, float(legs.length_m[beside]) * 0.999)
        slid = direct(kind, *at, np.full(len(along_m), other) % 360.0, along_m)
        corners[corner] = np.where(slides, slid[0], square[0]), np.where(slides, slid[1], square[1])
        ratio = max(ratio, float(1.0 / abs(across)))
    return known.with_corners(corners, len(to_starboard_m)), ratio


def turn_moved(line: PlannedLine, kind: LineKind, corner: int, later_m: FloatArray, least_m: float) -> Moved:
    """Return a line with one inner corner moved along the leg that ends there, by each of some amounts.

    Parameters
    ----------
    later_m : ndarray, shape (c,)
        Past the corner; negative: before it.
    """
    known = _Line.of(line, kind, least_m)
    course = np.full(len(later_m), known.legs.course1_deg[corner - 1])
    moved = direct(kind, line.lon_deg[corner], line.lat_deg[corner], course, later_m)
    return known.with_corners({corner: moved}, len(later_m))


def split(
    line: PlannedLine, kind: LineKind, corner: int, later_m: FloatArray, apart_m: float, least_m: float
) -> Moved:
    """Return a line with one inner corner made two, so far apart, each half of what is to be turned.

    The first lies on the leg that ends at the corner, each of some amounts past it; the next corner is kept.
    """
    known = _Line.of(line, kind, least_m)
    count, course = len(later_m), known.legs.course1_deg[corner - 1]
    first = direct(kind, line.lon_deg[corner], line.lat_deg[corner], np.full(count, course), later_m)
    onward = line.lon_deg[corner + 1], line.lat_deg[corner + 1]
    run_m, bearing = inverse(kind, *first, *onward)
    turn = np.asarray(wrap_longitude(bearing - course))
    # Half of the course from the second corner onward is what is turned at the first.
    half = turn / 2.0
    for _ in range(_STEPS):
        second = direct(kind, *first, course + half, np.full(count, apart_m))
        _, seen = inverse(kind, *second, *onward)
        half = np.asarray(wrap_longitude(seen - course)) / 2.0
    second = direct(kind, *first, course + half, np.full(count, apart_m))
    lon = np.insert(np.tile(line.lon_deg, (count, 1)), corner, first[0], axis=1)
    lat = np.insert(np.tile(line.lat_deg, (count, 1)), corner, first[1], axis=1)
    lon[:, corner + 1], lat[:, corner + 1] = second
    in_m, _ = inverse(kind, lon[:, corner - 1], lat[:, corner - 1], *first)
    before = known.legs.length_m[corner - 1] + later_m
    out_m, out = inverse(kind, *second, *onward)
    least_in = min(least_m, float(known.legs.length_m[corner - 1]) * 0.999)
    least_out = min(least_m, float(known.legs.length_m[corner]) * 0.999)
    even = np.abs(wrap_longitude(out - course - 2.0 * half)) < _EVEN_DEG
    sound = (before >= least_in) & (in_m >= least_in) & (out_m >= least_out) & (run_m > apart_m) & even
    if corner + 1 < len(known.legs.length_m):
        sound &= np.abs(wrap_longitude(known.legs.course0_deg[corner + 1] - out)) < _SHARPEST_DEG
    return Moved(lon, lat, np.asarray(sound))


_STEPS = 12
"""Until both halves of a turn are alike: `_EVEN_DEG` tells whether they are. Own choice."""

_EVEN_DEG = 0.5
"""Halves of a turn differ by no more. Own choice."""
