"""Round values for the axes of drawings: clearances, times with both clocks, way along a track."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from towzone.record.clock import LocalClock
from towzone.units import NAUTICAL_MILE_M

__all__ = ["Tick", "level_ticks", "local_name", "time_ticks", "way_ticks"]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

_DAY_S = 86_400

_MOST_LEVELS, _MOST_TICKS = 6, 8
"""Values on an axis at the most; on narrow screens every other one of time keeps its words. Own choice."""

_STEPS_S = tuple(
    int(timedelta(**{unit: count}).total_seconds())
    for unit, counts in (
        ("seconds", (1, 2, 5, 10, 15, 30)),
        ("minutes", (1, 2, 5, 10, 15, 20, 30)),
        ("hours", (1, 2, 3, 4, 6, 12)),
        ("days", (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)),
    )
    for count in counts
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A value on the axis with its words, one below the other; ``thin`` ones go where there is no room."""

    at: float
    words: tuple[str, ...]
    thin: bool


def level_ticks(low: float, high: float) -> list[float]:
    """Return a few round values between two.

    Examples
    --------
    >>> level_ticks(-83.0, 1389.0)
    [0.0, 500.0, 1000.0]
    >>> level_ticks(-0.05, 0.75)
    [0.0, 0.2, 0.4, 0.6]
    """
    step = _round_step((high - low) / _MOST_LEVELS)
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return [round(number * step, 9) + 0.0 for number in range(first, last + 1)]


def _round_step(least: float) -> float:
    ten = 10.0 ** np.floor(np.log10(least))
    return float(next(ten * times for times in (1.0, 2.0, 5.0, 10.0) if ten * times >= least * (1.0 - 1e-9)))


def time_ticks(first_s: float, last_s: float, clock: LocalClock) -> list[Tick]:
    """Return round times between two, UTC: UTC and local time, and the date where it is new.

    Local time has its own day, month first, where that is another. Midnight always has its date.

    Parameters
    ----------
    first_s, last_s : float
        Seconds since 1970.
    """
    step = next((step for step in _STEPS_S if (last_s - first_s) / step <= _MOST_TICKS), _STEPS_S[-1])
    ticks: list[Tick] = []
    form = "%H:%M" if step >= 60 else "%H:%M:%S"
    date = ""
    for at in range(int(np.ceil(first_s / step)) * step, int(last_s) + 1, step):
        utc = _EPOCH + timedelta(seconds=at)
        local = clock.on_board(utc)
        thin = at // step % 2 == 1  # every step below a day goes into it an even number of times
        own = form if local.date() == utc.date() else f"%m-%d {form}"
        words = [utc.strftime(form), local.strftime(own)]
        if utc.date().isoformat() != date and (not thin or step >= _DAY_S):
            date = utc.date().isoformat()
            words.append(date)
        ticks.append(Tick(at=float(at), words=tuple(words), thin=thin))
    return ticks


def local_name(at_s: float, clock: LocalClock) -> str:
    """Return what local time is called at an instant, seconds since 1970: ``UTC-1``."""
    return clock.local(np.datetime64(round(at_s), "s").astype("datetime64[us]")).split()[-1]


def way_ticks(first_m: float, last_m: float) -> list[Tick]:
    """Return round distances between two, in nautical miles."""
    miles = level_ticks(first_m / NAUTICAL_MILE_M, last_m / NAUTICAL_MILE_M)
    return [
        Tick(at=value * NAUTICAL_MILE_M, words=(f"{value:g}",), thin=number % 2 == 1)
        for number, value in enumerate(miles)
    ]
