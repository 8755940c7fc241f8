"""Stays inside zones, and stretches too close to them, as rows tell them: times, places, way and speed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import TypeVar

import numpy as np

from towzone.checks.batches import Carrier
from towzone.checks.intervals import Intervals
from towzone.checks.paths import Path
from towzone.checks.places import instants, values_at
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.result import CloseStretch, InsideStretch
from towzone.units import KNOT_MPS, Instants

__all__ = ["close_told", "stays_told"]

_Told = TypeVar("_Told")


def stays_told(
    path: Path, inside: Sequence[Intervals], carriers: Sequence[Carrier]
) -> list[tuple[InsideStretch, ...]]:
    """Return the stays of each of many passages; all are looked up together, for one alone has its cost.

    Parameters
    ----------
    path : Path
        Of the vessel.
    inside : sequence of Intervals
        The stays of each passage, as places on the path.
    carriers : sequence of Carrier
        What was inside in each of them: the vessel, or a part of its gear.
    """
    first, last = _ends(inside)
    if not len(first):
        return [()] * len(inside)
    enter_utc, leave_utc = _times(path, first), _times(path, last)
    seconds, length_m = _seconds(enter_utc, leave_utc), path.lengths_between(first, last)
    lasting = np.where(seconds > 0.0, seconds, np.nan)
    columns = zip(
        enter_utc,
        *_positions(first, inside, carriers),
        leave_utc,
        *_positions(last, inside, carriers),
        _known(seconds),
        length_m.tolist(),
        _known(path.least_speeds_kn(first, last)),
        _known(length_m / lasting / KNOT_MPS),
        strict=True,
    )
    told = [
        InsideStretch(
            enter_utc=enter,
            enter_lon_deg=enter_lon,
            enter_lat_deg=enter_lat,
            leave_utc=leave,
            leave_lon_deg=leave_lon,
            leave_lat_deg=leave_lat,
            seconds=lasted,
            length_m=way,
            min_speed_kn=least,
            mean_speed_kn=mean,
        )
        for enter, enter_lon, enter_lat, leave, leave_lon, leave_lat, lasted, way, least, mean in columns
    ]
    return _dealt_out(told, inside)


def close_told(path: Path, close: Sequence[Intervals]) -> list[tuple[CloseStretch, ...]]:
    """Return the stretches under the margin of each of many passages, looked up together."""
    first, last = _ends(close)
    if not len(first):
        return [()] * len(close)
    from_utc, to_utc = _times(path, first), _times(path, last)
    columns = zip(from_utc, to_utc, _known(_seconds(from_utc, to_utc)), strict=True)
    told = [CloseStretch(from_utc=start, to_utc=end, seconds=lasted) for start, end, lasted in columns]
    return _dealt_out(told, close)


def _ends(some: Sequence[Intervals]) -> tuple[FloatArray, FloatArray]:
    nothing = np.empty(0)
    return (
        np.concatenate([nothing, *(one.first for one in some)]),
        np.concatenate([nothing, *(one.last for one in some)]),
    )


def _times(path: Path, place: FloatArray) -> Instants:
    return instants(values_at(path.time_s, place))


def _seconds(start: Instants, end: Instants) -> FloatArray:
    """Return how long it is from one instant to another, ``NaN`` where either is unknown."""
    return np.asarray((end - start) / np.timedelta64(1, "us") / 1e6)


def _positions(
    place: FloatArray, inside: Sequence[Intervals], carriers: Sequence[Carrier]
) -> tuple[list[float], list[float]]:
    """Return where that was which was inside, asking each carrier once."""
    lon, lat = np.empty(len(place)), np.empty(len(place))
    owner = np.repeat([id(carrier) for carrier in carriers], [len(stays) for stays in inside])
    for number, carrier in {id(carrier): carrier for carrier in carriers}.items():
        mine = owner == number
        lon[mine], lat[mine] = carrier.positions(place[mine])
    return lon.tolist(), lat.tolist()


def _known(column: FloatArray) -> list[float | None]:
    """Return numbers, ``None`` for ``NaN``."""
    return [None if math.isnan(value) else value for value in column.tolist()]


def _dealt_out(told: Sequence[_Told], some: Sequence[Intervals]) -> list[tuple[_Told, ...]]:
    """Return what is told of intervals by the sets that they are of."""
    each = iter(told)
    return [tuple(itertools.islice(each, len(one))) for one in some]
