"""Paths cut into columns of time (or of way made), ready to be measured against zones column by column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from towzone.checks.intervals import Intervals
from towzone.checks.legs import filled_times, lengths_along
from towzone.checks.paths import side_of
from towzone.checks.shares import covered_places
from towzone.geodesy.approach import Side
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import DEVIATION_M, Pieces
from towzone.model.gear import GearLine
from towzone.model.result import Gap
from towzone.model.track import Track

__all__ = ["COLUMNS", "Axis", "Strand", "axis_of", "gear_strand", "vessel_strand"]

COLUMNS = 480
"""Columns of a drawing at the most: about one for every two pixels of a full-width page. Own choice."""

_FINEST = ((10_000, 16), (0, 4))
"""From so many fixes on, a drawing may be spread so many times; more parts of a short track tell no more."""

_LEAST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84 (`towzone.geodesy.pieces`)."""

_SAME_M = 1e-6
"""Pieces whose ends are nearer than this follow on each other."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """What a track is drawn against.

    Parameters
    ----------
    timed : bool
        Against time, seconds since 1970 UTC; else against the way along the track, metres.
    value : ndarray, shape (fixes,)
        Of every fix, never decreasing.
    cuts : ndarray, shape (base columns + 1,)
        Places on the track that part the finest columns, which are equally wide on the axis.
    finest : int
        How many of these columns make one of a drawing of the whole track.
    """

    timed: bool
    value: FloatArray
    cuts: FloatArray
    finest: int

    @property
    def columns(self) -> int:
        """How many of the finest columns there are."""
        return len(self.cuts) - 1

    def at_place(self, place: float) -> float:
        """Return the value at a place on the track."""
        place = min(max(place, 0.0), len(self.value) - 1.0)
        fix = min(int(place), len(self.value) - 2)
        before, after = float(self.value[fix]), float(self.value[fix + 1])
        return before + (place - fix) * (after - before)

    def at_cut(self, cut: int) -> float:
        """Return the value at the beginning of one of the finest columns."""
        first, last = float(self.value[0]), float(self.value[-1])
        return first + (last - first) * cut / self.columns

    def column_of(self, value: float) -> int:
        """Return which of the finest columns holds a value."""
        share = (value - float(self.value[0])) / float(self.value[-1] - self.value[0])
        return min(max(int(share * self.columns), 0), self.columns - 1)


def axis_of(track: Track, kind: LineKind) -> Axis | None:
    """Return what a track is drawn against: time where all of it is known; ``None`` for no extent at all."""
    if len(track) < 2:
        return None
    value, _, _ = filled_times(track)
    timed = bool(np.isfinite(value).all())
    if not timed:
        value = np.concatenate([[0.0], np.cumsum(lengths_along(track, kind))])
    if not value[-1] > value[0]:
        return None
    finest = next(times for fixes, times in _FINEST if len(track) >= fixes)
    even = np.linspace(value[0], value[-1], COLUMNS * finest + 1)
    cuts = np.interp(even, value, np.arange(len(track)))
    cuts[0], cuts[-1] = 0.0, len(track) - 1.0
    return Axis(timed=timed, value=value, cuts=cuts, finest=finest)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strand:
    """The path of the vessel, or those of the points of its gear, in short pieces that end where columns do.

    Parameters
    ----------
    pieces : Pieces
        In the order of the path, one path after the other.
    number : ndarray of int, shape (p,)
        Which of the paths each belongs to, never decreasing.
    paths : int
        How many of these there are.
    begin, end : ndarray, shape (p,)
        Places on the track at the ends of each piece.
    base : ndarray of int, shape (p,)
        Which of the finest columns each lies in, never decreasing along a path.
    columns : int
        How many of these there are.
    follows : ndarray of bool, shape (p,)
        Whether a piece begins where the one before it ends.
    walked_m : ndarray, shape (p + 1,)
        Length of all pieces before each.
    """

    pieces: Pieces
    number: IntArray
    paths: int
    begin: FloatArray
    end: FloatArray
    base: IntArray
    columns: int
    follows: npt.NDArray[np.bool_]
    walked_m: FloatArray
    _sides: dict[int, Side] = field(default_factory=dict, repr=False)

    @classmethod
    def of(
        cls, pieces: Pieces, number: IntArray, begin: FloatArray, end: FloatArray, cuts: FloatArray
    ) -> Strand:
        """Return pieces as a strand."""
        base = np.clip(np.searchsorted(cuts, (begin + end) / 2.0, side="right") - 1, 0, len(cuts) - 2)
        jump_m = np.abs(pieces.start_m[1:] - pieces.end_m[:-1]).max(axis=1)
        chord_m = np.sqrt(((pieces.end_m - pieces.start_m) ** 2).sum(axis=1))
        return cls(
            pieces=pieces,
            number=number,
            paths=int(number[-1]) + 1,
            begin=begin,
            end=end,
            base=base,
            columns=len(cuts) - 1,
            follows=np.append(False, jump_m < _SAME_M),
            walked_m=np.append(0.0, np.cumsum(chord_m)),
        )

    def owners(self, width: int, first: int, last: int) -> IntArray:
        """Return the owners of some columns, each of so many of the finest, path by path."""
        wide = self.columns // width
        return np.asarray((np.arange(self.paths)[:, None] * wide + np.arange(first, last)).ravel())

    def side(self, width: int) -> Side:
        """Return the pieces owned by the columns of their path, each of so many of the finest."""
        if width not in self._sides:
            wide = self.columns // width
            owned = replace(self.pieces, owner=self.number * wide + self.base // width)
            self._sides[width] = Side.of(owned, self.paths * wide)
        return self._sides[width]

    def place(self, piece: IntArray, part: FloatArray) -> FloatArray:
        """Return places on the track from fractions of pieces."""
        return np.asarray(self.begin[piece] + part * (self.end[piece] - self.begin[piece]))


def vessel_strand(track: Track, kind: LineKind, gaps: Sequence[Gap], axis: Axis) -> Strand:
    """Return the path of the vessel, as far as its positions cover it."""
    covered = np.ones(len(track) - 1, dtype=bool)
    covered[[gap.fix for gap in gaps]] = False
    stretches = covered_places(covered)
    marks = np.unique(np.concatenate([axis.cuts, stretches.first, stretches.last]))
    first, last = marks[:-1], marks[1:]
    held = np.searchsorted(stretches.first, (first + last) / 2.0, side="right") - 1
    inside = (held >= 0) & ((first + last) / 2.0 < stretches.last[held])
    alone = stretches.first[stretches.first == stretches.last]
    first, last = np.append(first[inside], alone), np.append(last[inside], alone)
    order = np.argsort(first, kind="stable")
    side, begin, end = side_of(track, kind, [Intervals(first[order], last[order])])
    return Strand.of(side.pieces, np.zeros(len(begin), dtype=np.int64), begin, end, axis.cuts)


def gear_strand(lines: Sequence[GearLine], axis: Axis) -> Strand | None:
    """Return the paths of the points of the gear while they were down; ``None`` where none is known."""
    known = sorted((line for line in lines if len(line.place) > 1), key=_begin)
    if not known:
        return None
    # A part may have several points, the two wing-ends of a net for one, each with a path of its own.
    paths: list[list[GearLine]] = []
    for line in known:
        own = [some for some in paths if some[0].part == line.part and _begin(line) >= some[-1].place[-1]]
        if own:
            own[0].append(line)
        else:
            paths.append([line])
    cut = [(number, *_cut_line(line, axis.cuts)) for number, some in enumerate(paths) for line in some]
    start_m, end_m = (np.concatenate([nodes[ends] for _, _, nodes in cut]) for ends in _ENDS)
    begin, end = (np.concatenate([place[ends] for _, place, _ in cut]) for ends in _ENDS)
    numbers = np.concatenate([np.full(len(place) - 1, number) for number, place, _ in cut])
    chord_m = np.sqrt(((end_m - start_m) ** 2).sum(axis=1))
    pieces = Pieces(
        start_m=start_m,
        end_m=end_m,
        edge=np.arange(len(numbers)),
        from_part=np.zeros(len(numbers)),
        to_part=np.ones(len(numbers)),
        owner=np.zeros(len(numbers), dtype=np.int64),
        swell_m=chord_m**2 / (8.0 * _LEAST_RADIUS_M) * 1.01 + DEVIATION_M,
    )
    return Strand.of(pieces, numbers, begin, end, axis.cuts)


_ENDS = (slice(None, -1), slice(1, None))


def _begin(line: GearLine) -> float:
    return float(line.place[0])


def _cut_line(line: GearLine, cuts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the places of the nodes of a path and those where columns end, with geocentric positions."""
    inner = cuts[(cuts > line.place[0]) & (cuts < line.place[-1])]
    place = np.unique(np.concatenate([line.place, inner]))
    nodes_m = to_geocentric(line.lon_deg, line.lat_deg)
    return place, np.stack([np.interp(place, line.place, nodes_m[:, i]) for i in range(3)], axis=1)
