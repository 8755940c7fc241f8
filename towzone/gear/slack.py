"""A towed line in a plane, leg by leg: where it hangs slack, where it tightens, where it pulls.

A rope pulls and cannot push. While its lead comes nearer than the line is taken in, the line hangs slack and
the body rests; the leg on which it tightens again may be many legs later, so these legs are stepped one by
one, in plain numbers. The legs of a taut line are scanned all at once (`towzone.gear.scan`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["PUSH_M", "VANISHED", "Legs", "Line", "Nodes", "decay", "step_by_step"]

BoolArray = npt.NDArray[np.bool_]

PUSH_M = 1e-8
"""A leg that would push the body by less than this is still towed taut. Own choice: degrees carry a position
to some nanometres, so that a smaller push is rounding."""

VANISHED = 1e-30
"""Square of a half-angle vector below which nothing of it is left: the lead ran straight at the body until
the line was all in. Own choice; the direction of travel takes its place."""

_CALM = 256
"""Taut legs in a row after which a line is given back to the scan. Own choice, by speed."""


class Legs(NamedTuple):
    """Legs of the lead in a plane that moves with the water; each of shape ``(m,)``.

    ``half_sin`` and ``half_cos`` belong to half the direction of the leg (from north over east), ``run_m``
    is its length, ``before_m`` and ``after_m`` are the length of line at its ends, ``give`` is
    ``1 - exp(-k)``, the part of ``tan(theta/2)`` that a taut line loses on it (gear model, 2.2).
    """

    half_sin: FloatArray
    half_cos: FloatArray
    run_m: FloatArray
    before_m: FloatArray
    after_m: FloatArray
    give: FloatArray


class Line(NamedTuple):
    """A line at one node: half-angle vector of the direction from body to lead; if slack, the offset too.

    ``half_sin`` and ``half_cos`` are of unit length, their common sign has no meaning. ``east_m`` and
    ``north_m`` lead from the body to the lead and are used while ``slack`` only.
    """

    half_sin: float
    half_cos: float
    east_m: float = 0.0
    north_m: float = 0.0
    slack: bool = False


class Nodes(NamedTuple):
    """What is found at the end of each leg, written as it is found; each of shape ``(m,)``.

    ``slack`` are legs on (part of) which the line hung slack, ``rests`` those on all of which it did.
    """

    half_sin: FloatArray
    half_cos: FloatArray
    distance_m: FloatArray
    slack: BoolArray
    rests: BoolArray


def decay(run_m: FloatArray, before_m: FloatArray, after_m: FloatArray) -> FloatArray:
    """Return ``1 - exp(-k)`` with ``k`` the integral of run over length, where length changes linearly.

    Parameters
    ----------
    run_m, before_m, after_m : ndarray, shape (m,)
        Length of the legs and of the line at their ends; the line may be 0 long.

    Notes
    -----
    ``k = s ln(L0/L1) / (L0 - L1)``, which is ``s/L`` for a constant length. It is infinite where the line
    is 0 long at either end: there the line takes the direction of travel.
    """
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        k = run_m / after_m
        change = (before_m - after_m) / after_m
        steady = (change == 0.0) | ~np.isfinite(change)
        # Divisions by a line of no length come out infinite, as they should.
        k = np.where(steady, k, k * np.log1p(change) / np.where(steady, 1.0, change))
    return np.asarray(-np.expm1(-np.where(run_m > 0.0, k, 0.0)))


def step_by_step(legs: Legs, first: int, line: Line, nodes: Nodes) -> tuple[int, Line]:
    """Step from a leg on until the line has been taut for a while, or the legs end.

    Parameters
    ----------
    first : int
        Leg to begin with.
    line : Line
        At the start of it.
    nodes : Nodes
        Filled for the legs stepped.

    Returns
    -------
    next, line
        The leg to go on with, and the line at its start.

    Notes
    -----
    On a leg ``d`` with a line ``L0 + tau dL`` and offset ``r`` a taut line stays taut when the lead leaves
    the body at least as fast as line is paid out, ``r.d >= L0 dL``; once so, it stays so along the leg.
    """
    calm, leg, last = 0, first, len(legs.run_m)
    while leg < last and calm < _CALM:
        # Plain lists are several times faster than arrays, number by number; windows bound their size.
        window = range(leg, min(leg + 4 * _CALM, last))
        columns = (column[window.start : window.stop].tolist() for column in legs)
        for leg, half_sin, half_cos, run, before, after, give in zip(window, *columns, strict=True):
            taut = not line.slack and _pulls(line, half_sin, half_cos, run, after - before)
            if taut:
                line, distance, waited = _towed(line, half_sin, half_cos, give), after, 0.0
                calm += 1
            else:
                line, distance, waited = _hung(line, half_sin, half_cos, run, before, after)
                calm = 0
            nodes.half_sin[leg], nodes.half_cos[leg] = line.half_sin, line.half_cos
            nodes.distance_m[leg] = distance
            nodes.slack[leg], nodes.rests[leg] = waited > 0.0, waited > 1.0
            if calm == _CALM:
                break
        leg += 1
    return leg, line


def _pulls(line: Line, half_sin: float, half_cos: float, run: float, paid: float) -> bool:
    """Return whether a taut line stays taut on a leg."""
    across = half_cos * line.half_sin - half_sin * line.half_cos
    return run * (1.0 - 2.0 * across * across) >= paid - PUSH_M


def _towed(line: Line, half_sin: float, half_cos: float, give: float) -> Line:
    """Return a taut line after a leg: the part of its half-angle vector across the leg shrinks."""
    lost = give * (half_cos * line.half_sin - half_sin * line.half_cos)
    x, y = line.half_sin - lost * half_cos, line.half_cos + lost * half_sin
    square = x * x + y * y
    if square < VANISHED:
        return Line(half_sin, half_cos)
    size = math.sqrt(square)
    return Line(x / size, y / size)


def _hung(
    line: Line, half_sin: float, half_cos: float, run: float, before: float, after: float
) -> tuple[Line, float, float]:
    """Return a slack line after a leg, the distance from its lead, and the part of the leg it hung slack.

    The part is more than 1 where it hung slack to the end, and 0 where it tightened at once.
    """
    if line.slack:
        x, y = line.east_m, line.north_m
    else:
        x = before * 2.0 * line.half_sin * line.half_cos
        y = before * (line.half_cos**2 - line.half_sin**2)
    dx, dy = run * 2.0 * half_sin * half_cos, run * (half_cos**2 - half_sin**2)
    part = _tightens(x, y, dx, dy, before, after - before)
    if part > 1.0:
        x, y = x + dx, y + dy
        return _pointing(line, x, y)._replace(slack=True), min(math.hypot(x, y), after), part
    taut = _pointing(line, x + part * dx, y + part * dy)._replace(slack=False)
    give = _decay(run * (1.0 - part), before + part * (after - before), after)
    return _towed(taut, half_sin, half_cos, give), after, part


def _tightens(x: float, y: float, dx: float, dy: float, before: float, change: float) -> float:
    """Return the part of a leg after which a slack line is taut again, more than 1 if not on this leg.

    The first root of ``|r + tau d|^2 = (L0 + tau dL)^2`` where the distance outgrows the line.
    """
    a = dx * dx + dy * dy - change * change
    b = x * dx + y * dy - before * change
    c = x * x + y * y - before * before  # never above 0 but by rounding
    square = b * b - a * c
    if b > 0.0 and square > 0.0:
        return -c / (b + math.sqrt(square))  # subtracts nothing, whatever the sign of a
    if a > 0.0:
        return (math.sqrt(max(square, 0.0)) - b) / a
    return math.inf


def _pointing(line: Line, x: float, y: float) -> Line:
    """Return a line along an offset; over its lead it keeps the direction it had."""
    size = math.hypot(x, y)
    if size == 0.0:
        return line._replace(east_m=0.0, north_m=0.0)
    if y >= 0.0:
        half_cos = math.sqrt((1.0 + y / size) / 2.0)
        half_sin = x / size / (2.0 * half_cos)
    else:
        half_sin = math.sqrt((1.0 - y / size) / 2.0)
        half_cos = x / size / (2.0 * half_sin)
    return Line(half_sin, half_cos, x, y)


def _decay(run: float, before: float, after: float) -> float:
    """Return `decay` for one leg."""
    if run <= 0.0:
        return 0.0
    if before <= 0.0 or after <= 0.0:
        return 1.0
    change = (before - after) / after
    steady = change == 0.0 or math.isinf(change)
    k = run / after * (1.0 if steady else math.log1p(change) / change)
    return -math.expm1(-k)
