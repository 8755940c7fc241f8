"""Which corners of two strings belong together, whatever their start and direction."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import SequenceMatcher

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import WGS84
from towzone.geodesy.shape import Corners
from towzone.surveys.strings import IntArray

__all__ = ["Match", "distances_m", "match_strings"]

_RESAMPLED = 512
"""Own choice: enough places along a ring to find where another of its form begins."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Match:
    """Corners of two strings that belong together.

    Parameters
    ----------
    old, new : ndarray of int, shape (m,)
        Indices of corners, pair by pair.
    apart_m : ndarray, shape (m,)
        Geodesic distance of each pair, metres; exactly 0 for the same corner.
    gone, come : ndarray of int
        Indices of corners of the old and of the new string without a partner.
    """

    old: IntArray
    new: IntArray
    apart_m: FloatArray
    gone: IntArray
    come: IntArray


def match_strings(old: Corners, new: Corners, *, closed: bool) -> Match:
    """Pair the corners of two strings in order.

    Parameters
    ----------
    old, new : Corners
        Each at least one corner.
    closed : bool
        Whether they are rings, which may begin anywhere.

    Notes
    -----
    The start and direction of the new string are those that bring it nearest to the old one (least sum of
    squares, by correlation). Corners that are exactly the same are paired first; between them, corners are
    paired in order so that the sum of distances is least, as many as there are on the shorter side.
    """
    scale = np.cos(np.radians(old[:, 1].mean()))
    flat_old, flat_new = _flat(old, old[0, 0], scale), _flat(new, old[0, 0], scale)
    old_order, order = np.arange(len(old)), _order(flat_old, flat_new, closed=closed)
    if len(old) != len(new) and closed:
        old_order, order = _from_shared_corner(old, new, order)
    keys = [_keys(old[old_order]), _keys(new[order])]
    pairs: list[tuple[int, int]] = []
    for _, i0, i1, j0, j1 in SequenceMatcher(a=keys[0], b=keys[1], autojunk=False).get_opcodes():
        some = _monotone(flat_old[old_order[i0:i1]], flat_new[order[j0:j1]])
        pairs += [(i0 + i, j0 + j) for i, j in some]
    mine = old_order[np.array([i for i, _ in pairs], dtype=np.int64)]
    theirs = order[np.array([j for _, j in pairs], dtype=np.int64)]
    mine, theirs = mine[np.argsort(mine)], theirs[np.argsort(mine)]
    same = (_plain(old[mine]) == _plain(new[theirs])).all(axis=1)
    return Match(
        old=mine,
        new=theirs,
        apart_m=np.where(same, 0.0, distances_m(old[mine], new[theirs])),
        gone=np.setdiff1d(np.arange(len(old)), mine),
        come=np.setdiff1d(np.arange(len(new)), theirs),
    )


def distances_m(old: Corners, new: Corners) -> FloatArray:
    """Return the geodesic distance of each pair of corners, metres."""
    if not len(old):
        return np.empty(0)
    return np.asarray(WGS84.inv(old[:, 0], old[:, 1], new[:, 0], new[:, 1])[2])


def _plain(corners: Corners) -> FloatArray:
    """Return corners with one way to write 180 degrees and zero."""
    return np.stack([wrap_longitude(corners[:, 0]), corners[:, 1]], axis=1) + 0.0


def _keys(corners: Corners) -> list[tuple[float, ...]]:
    return [tuple(corner) for corner in _plain(corners).tolist()]


def _flat(corners: Corners, middle_deg: float, scale: float) -> npt.NDArray[np.complex128]:
    """Return corners as complex numbers in degrees of equal length, near one meridian."""
    lon = middle_deg + wrap_longitude(corners[:, 0] - middle_deg)
    return np.asarray(lon * scale + 1j * corners[:, 1], dtype=np.complex128)


def _order(old: npt.NDArray[np.complex128], new: npt.NDArray[np.complex128], *, closed: bool) -> IntArray:
    """Return the indices of ``new`` in the direction of ``old`` and from its start."""
    ways = [np.arange(len(new)), np.arange(len(new))[::-1]]
    if not closed:
        ends = [abs(new[way[0]] - old[0]) + abs(new[way[-1]] - old[-1]) for way in ways]
        return ways[int(np.argmin(ends))]
    even = len(old) == len(new)
    a = old if even else _resampled(old)[0]
    best, found = np.inf, ways[0]
    for way in ways:
        b, corner = (new[way], np.arange(len(new))) if even else _resampled(new[way])
        shift, cost = _shift(a, b)
        if cost < best:
            best, found = cost, np.roll(way, -int(corner[shift]))
    return found


def _shift(a: npt.NDArray[np.complex128], b: npt.NDArray[np.complex128]) -> tuple[int, float]:
    """Return the shift of ``b`` nearest to ``a`` and the sum of squared distances there."""
    centre = a.mean()
    product = np.fft.ifft(np.conj(np.fft.fft(a - centre)) * np.fft.fft(b - centre)).real
    shift = int(np.argmax(product))
    # Summed again, because the correlation has the rounding of its largest term.
    return shift, float((np.abs(a - np.roll(b, -shift)) ** 2).sum())


def _resampled(ring: npt.NDArray[np.complex128]) -> tuple[npt.NDArray[np.complex128], IntArray]:
    """Return places evenly along a ring, and the corner next before each."""
    around = np.append(ring, ring[:1])
    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(around)))])
    places = np.linspace(0.0, along[-1], _RESAMPLED, endpoint=False)
    corner = np.clip(np.searchsorted(along, places, side="right") - 1, 0, len(ring) - 1)
    values = np.interp(places, along, around.real) + 1j * np.interp(places, along, around.imag)
    return values, corner.astype(np.int64)


def _from_shared_corner(old: Corners, new: Corners, order: IntArray) -> tuple[IntArray, IntArray]:
    """Return orders of both rings from a corner they share, if any, that run the same way."""
    place: dict[tuple[float, ...], int] = {}
    for index, key in enumerate(_keys(new)):
        place.setdefault(key, index)
    shared = [(i, place[key]) for i, key in enumerate(_keys(old)) if key in place]
    if not shared:
        return np.arange(len(old)), order
    begin, there = shared[0]
    ahead = (np.array([j for _, j in shared]) - there) % len(new)
    # Run the same way, shared corners come in the same order; run the other way, in the reverse.
    forward = bool((np.diff(ahead[1:]) > 0).sum() >= (np.diff(ahead[1:]) < 0).sum())
    if len(shared) < 3:
        forward = bool(order[1 % len(order)] == (order[0] + 1) % len(new))
    way = np.arange(len(new)) if forward else -np.arange(len(new))
    return (np.arange(len(old)) + begin) % len(old), (there + way) % len(new)


def _monotone(old: npt.NDArray[np.complex128], new: npt.NDArray[np.complex128]) -> list[tuple[int, int]]:
    """Return pairs in order, as many as the shorter side has, with the least sum of distances."""
    if len(old) == len(new):
        return [(i, i) for i in range(len(old))]
    if not len(old) or not len(new):
        return []
    if len(old) > len(new):
        return [(i, j) for j, i in _monotone(new, old)]
    spare = len(new) - len(old)
    # best[k] is the least sum so far with the last corner paired to its index + k or one before.
    best = np.zeros(spare + 1)
    chosen = np.empty((len(old), spare + 1), dtype=np.int64)
    for i, corner in enumerate(old):
        cost = best + np.abs(new[i : i + spare + 1] - corner)
        best = np.minimum.accumulate(cost)
        chosen[i] = np.maximum.accumulate(np.where(cost == best, np.arange(spare + 1), 0))
    pairs, k = [], spare
    for i in range(len(old) - 1, -1, -1):
        k = int(chosen[i, k])
        pairs.append((i, i + k))
    return pairs[::-1]
