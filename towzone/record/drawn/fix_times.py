"""Times of drawn positions as plain whole numbers, in whichever of two forms is shorter."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["times_of", "times_of_seconds"]

_TICK_US = {1: 1_000_000, 1000: 1000}


def times_of(time_utc: npt.NDArray[np.datetime64]) -> dict[str, Any] | None:
    """Return times for the page's data, ``None`` where any is not known or there is none.

    Parameters
    ----------
    time_utc : ndarray of datetime64, shape (n,)
        Never decreasing.

    Returns
    -------
    dict or None
        ``unit`` ticks in a second (1, or 1000 where a time is no whole second), ``start`` in ticks since
        1970, and either ``steps``, the ticks from each position to the next, or the same run by run as
        ``runs``: how many steps, how long, how many, how long.

    Examples
    --------
    >>> times_of(np.array(["2026-01-01T00:00:00", "2026-01-01T00:00:10", "2026-01-01T00:00:20"], "M8[us]"))
    {'unit': 1, 'start': 1767225600, 'runs': [2, 10]}
    """
    if len(time_utc) == 0 or bool(np.isnat(time_utc).any()):
        return None
    times_us = time_utc.astype("datetime64[us]").astype(np.int64)
    unit = 1 if bool((times_us % _TICK_US[1] == 0).all()) else 1000
    # Rounding keeps the order: a later time is never rounded to an earlier tick.
    ticks = (times_us + _TICK_US[unit] // 2) // _TICK_US[unit]
    steps = np.diff(ticks)
    runs = _run_by_run(steps)
    form: dict[str, Any] = {"unit": unit, "start": int(ticks[0])}
    if _length(runs) <= _length(steps):
        return form | {"runs": runs.tolist()}
    return form | {"steps": steps.tolist()}


def times_of_seconds(time_s: npt.NDArray[np.float64]) -> dict[str, Any] | None:
    """Return the same of seconds since 1970, ``NaN`` where not known."""
    if not bool(np.isfinite(time_s).all()):
        return None
    return times_of(np.rint(time_s * 1e6).astype(np.int64).astype("datetime64[us]"))


def _run_by_run(steps: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    if not len(steps):
        return np.empty(0, dtype=np.int64)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(steps)) + 1])
    counts = np.diff(np.append(starts, len(steps)))
    return np.column_stack([counts, steps[starts]]).ravel()


def _length(numbers: npt.NDArray[np.int64]) -> int:
    """Return how many characters the numbers take up as JSON: their digits and a comma each."""
    digits = np.floor(np.log10(np.maximum(numbers, 1))) + 2.0
    return int(digits.sum())
