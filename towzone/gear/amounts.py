"""Refuses amounts that make no sense, before a formula turns them into something that looks like a result.

All functions of the closed-form part of `towzone.gear` take floats or arrays that broadcast against each
other, and return arrays of the broadcast shape; of floats alone, arrays without axes, which ``float`` takes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import UsageError, quoted
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["BoolArray", "amount", "refuse_where"]

_MOST = 1e9
"""Own limit: nothing here is that long, fast or slow, and squares of it still are numbers."""

BoolArray = npt.NDArray[np.bool_]


def amount(
    name: str,
    value: npt.ArrayLike,
    *,
    unit: str = "m",
    least: float = -_MOST,
    above: float = -np.inf,
    most: float = _MOST,
    endless: bool = False,
) -> FloatArray:
    """Return a value as an array of floats.

    Parameters
    ----------
    name : str
        What it is, to people: ``warp``.
    value : float or array
    unit : str
    least, above, most : float
        Every number must be ``least`` or more, more than ``above``, ``most`` or less.
    endless : bool
        Whether it may be infinite instead, either way.

    Raises
    ------
    UsageError
        When one is outside these, or no number.
    """
    try:
        found = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError) as error:
        message = f"{name}: found {quoted(value)}; allowed are numbers ({unit}); write it as one"
        raise UsageError(message) from error
    within = (found >= least) & (found > above) & (found <= most)
    good = within | (endless & np.isinf(found))
    if not good.all():
        lower = f"above {above:g}" if np.isfinite(above) else f"from {least:g}"
        allowed = f"numbers {lower} to {most:g} {unit}".rstrip()
        refuse_where(~good, name, [("", found, unit)], allowed, "correct it")
    return found


def refuse_where(
    bad: npt.ArrayLike,
    what: str,
    found: Sequence[tuple[str, npt.ArrayLike, str]],
    allowed: str,
    remedy: str,
) -> None:
    """Raise when a condition holds anywhere, with the amounts of the first place where it does.

    Parameters
    ----------
    bad : bool or array of bool
    what : str
        What cannot be.
    found : sequence of (name, value, unit)
        Amounts to show; they broadcast against ``bad``.
    allowed, remedy : str

    Raises
    ------
    UsageError
    """
    values = np.broadcast_arrays(np.asarray(bad, dtype=np.bool_), *(value for _, value, _ in found))
    places = np.flatnonzero(values[0])
    if not len(places):
        return
    shown = ", ".join(
        f"{name} {float(column.flat[places[0]]):.6g} {unit}".strip()
        for (name, _, unit), column in zip(found, values[1:], strict=True)
    )
    number = "" if values[0].size == 1 else f" (and so on: {len(places)} of {values[0].size} values)"
    message = f"{what}: found {shown}{number}; allowed: {allowed}; {remedy}"
    raise UsageError(message)
