"""Where on its track a towing block is looked at: nodes close enough for the gear's path, and no more."""

from __future__ import annotations

import math

import numpy as np

from towzone.checks.legs import BoolArray
from towzone.checks.paths import Path
from towzone.geodesy.ellipsoid import FloatArray, arc_from_chord, to_geocentric, wrap_longitude
from towzone.geodesy.lines import inverse

__all__ = ["STEP_M", "nodes_of_plan", "nodes_of_track"]

_STRIDE_S = 5.0
"""Fixes closer in time than this are passed over: a rope pulled by the noise of every fix would be drawn
forward by metres. Own choice by simulation: under 1 m from 5 s on."""

STEP_M = 10.0
"""Longest leg between nodes: the path of the gear and that of the net behind it are then true to millimetres
on any tow that does not turn sharper than its layback. Own choice, tested."""

_LONGEST_M = 200.0
"""Longest leg between nodes of a planned line, where the gear has long settled. Own choice."""

_SHARP_DEG, _SHARP_STEP_M = 70.0, 2.5
"""After a corner of a planned line sharper than that, nodes are so close until the gear is round: the vessel
comes back past it, and it swings about by tens of degrees in a few metres. Own choices, tested."""

_BEFORE_M = 60.0
"""So far before a corner of a planned line nodes are close again: courses are taken over 60 m of the way."""


def nodes_of_track(path: Path, keys: FloatArray) -> FloatArray:
    """Return the places of nodes from the first key to the last.

    They are the keys, fixes no closer in time than need be, and more so that no step is longer than need be.
    """
    fixes = np.arange(np.floor(keys.min()) + 1.0, np.ceil(keys.max()))
    ends_s = np.interp([keys.min(), keys.max()], np.arange(len(path.time_s)), path.time_s)
    kept = fixes[_spaced(path.time_s[fixes.astype(np.int64)], *ends_s.tolist())]
    places = np.unique(np.concatenate([keys, kept]))
    xyz = to_geocentric(*path.positions(places))
    apart_m = arc_from_chord(xyz[:-1], xyz[1:])
    counts = np.maximum(1, np.ceil(apart_m / STEP_M)).astype(np.int64)
    start = np.repeat(places[:-1], counts)
    step = np.arange(len(start)) - np.repeat(np.cumsum(counts) - counts, counts)
    inner = start + step / np.repeat(counts, counts) * np.repeat(np.diff(places), counts)
    return np.append(inner, places[-1])


def _spaced(time_s: FloatArray, first_s: float, last_s: float) -> BoolArray:
    """Return which fixes are the first of their stride after the first node; all where times are not known.

    None is kept within a stride of either end, which is a node: the first leg says how the gear lay.
    """
    if np.isnan(time_s).any() or np.isnan(first_s) or np.isnan(last_s):
        return np.ones(len(time_s), dtype=bool)
    stride = np.floor((np.concatenate([[first_s], time_s]) - first_s) / _STRIDE_S)
    return np.asarray((np.diff(stride) > 0.0) & (time_s <= last_s - _STRIDE_S))


def nodes_of_plan(path: Path, keys: FloatArray, line_m: float) -> FloatArray:
    """Return the places of nodes of a planned line from the first key to the last: keys, corners, and more.

    After a corner the gear swings in, ever more slowly: what a leg between nodes strays from the gear's path
    stays the same where their distance grows by ``exp(s / (2 L))``, for the bend of the path falls by
    ``exp(-s / L)``. While gear is shot and hauled they stay close, and after sharp corners they are closer.

    Parameters
    ----------
    keys : ndarray
        Places that have to be nodes.
    line_m : float
        No less than the length of warp, sweeps and net.
    """
    first, last = float(keys.min()), float(keys.max())
    legs = np.arange(math.floor(first), math.ceil(last))
    towed = path.track.towed or (0, len(path.track) - 1)
    graded = _graded(float(path.length_m[legs].max(initial=0.0)), line_m)
    inner = [keys, legs[1:].astype(np.float64)]
    for leg, length_m in zip(legs.tolist(), path.length_m[legs].tolist(), strict=True):
        steady = towed[0] <= leg < towed[1]
        inner.append(leg + _along_leg(length_m, graded if steady else np.empty(0)) / max(length_m, STEP_M))
    inner.append(_after_sharp_turns(path, line_m))
    places = np.unique(np.concatenate(inner))
    return places[(places >= first) & (places <= last)]


def _after_sharp_turns(path: Path, line_m: float) -> FloatArray:
    """Return places close together after turns that swing the gear about, of one corner or of several.

    What was turned within the length of the gear counts together; it is followed for as long again.
    """
    lon, lat, kind = path.track.lon_deg, path.track.lat_deg, path.kind
    _, course = inverse(kind, lon[:-1], lat[:-1], lon[1:], lat[1:])
    turned = np.concatenate([[0.0], np.cumsum(np.abs(wrap_longitude(np.diff(course))))])
    corner_m = path.travelled_m[1:-1]
    first = np.searchsorted(corner_m, corner_m - line_m)
    sharp_m = corner_m[turned[1:] - turned[first] >= _SHARP_DEG]
    if not len(sharp_m):
        return np.empty(0)
    ahead = np.arange(_SHARP_STEP_M, line_m, _SHARP_STEP_M)
    near_m = np.unique(np.round((sharp_m[:, None] + ahead) / _SHARP_STEP_M)) * _SHARP_STEP_M
    return np.interp(near_m, path.travelled_m, np.arange(len(path.travelled_m), dtype=np.float64))


def _graded(longest_m: float, line_m: float) -> FloatArray:
    """Return distances from a corner, ever farther apart, as far as the longest leg reaches."""
    scale_m = 2.0 * line_m
    most = scale_m * (1.0 / STEP_M - 1.0 / _LONGEST_M)
    near = -scale_m * np.log1p(-np.arange(1.0, max(most, 1.0)) * STEP_M / scale_m)
    return np.concatenate([near, np.arange(near[-1] + _LONGEST_M, longest_m, _LONGEST_M)])


def _along_leg(length_m: float, graded: FloatArray) -> FloatArray:
    """Return the distances of the nodes on a leg from its beginning, its ends left out."""
    if not len(graded):
        return np.arange(STEP_M, length_m, STEP_M)
    close = length_m - np.arange(STEP_M, min(_BEFORE_M, length_m), STEP_M)
    return np.concatenate([graded[graded < length_m], close])
