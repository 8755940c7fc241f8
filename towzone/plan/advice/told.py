"""Words and figures of places on a line, as advice tells them; and what a changed line clears."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.model.result import Row
from towzone.plan.along import Way
from towzone.plan.judging import OPEN, PlanSettings
from towzone.units import KNOT_MPS, NAUTICAL_MILE_M, format_instant, format_position, format_time

__all__ = ["cleared", "figures_at", "length_words", "place_words", "still_open", "time_at"]


def time_at(way_m: float, settings: PlanSettings) -> np.datetime64:
    """Return when the vessel passes a place on the line."""
    seconds = way_m / (settings.speed_kn * KNOT_MPS)
    depart: np.datetime64 = settings.depart_utc.astype("datetime64[us]")
    return depart + np.timedelta64(round(seconds * 1e6), "us")


def figures_at(name: str, way: Way, way_m: float, settings: PlanSettings) -> dict[str, float | str]:
    """Return the figures of a place on the line: metres along it, position, time."""
    lon, lat = way.positions(way_m)
    return {
        f"{name}_along_m": way_m,
        f"{name}_lat_deg": float(lat[0]),
        f"{name}_lon_deg": float(lon[0]),
        f"{name}_utc": format_instant(time_at(way_m, settings)) or "",
    }


def place_words(way: Way, way_m: float, settings: PlanSettings) -> str:
    """Return where a place on the line is, and when it is passed, for people."""
    lon, lat = way.positions(way_m)
    return f"{format_position(float(lon[0]), float(lat[0]))} ({format_time(time_at(way_m, settings))})"


def length_words(length_m: float) -> str:
    """Return a length for people, no finer than a place can be kept to.

    Examples
    --------
    >>> length_words(1513.6)
    '1514 m (0.82 nmi)'
    """
    return f"{length_m:.0f} m ({length_m / NAUTICAL_MILE_M:.2f} nmi)"


def still_open(rows: Sequence[Row]) -> frozenset[str]:
    """Return the ids of the zones with a row that is a finding or undetermined."""
    return frozenset(row.zone_id for row in rows if row.status in OPEN)


def cleared(before: Sequence[Row], after: Sequence[Row]) -> tuple[tuple[str, ...], bool]:
    """Return the ids of the zones that were open and are no more, in order, and whether none is."""
    left = still_open(after)
    return tuple(sorted(still_open(before) - left)), not left
