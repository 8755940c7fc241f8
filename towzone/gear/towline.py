"""Compiled: a towed line in a plane, leg by leg: where it pulls, where it hangs slack, where it tightens.

A taut leg maps the half-angle vector of the line linearly (`towzone.gear.pursuit`). A rope pulls and cannot
push: while its lead comes nearer than the line is taken in, the line hangs slack and the body rests; the leg
on which it tightens again may be many legs later.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["Legs", "Line", "Nodes", "followed"]

BoolArray = npt.NDArray[np.bool_]

PUSH_M = 1e-8
"""A leg that would push the body by less than this is still towed taut. Own choice: degrees carry a position
to some nanometres, so that a smaller push is rounding."""

VANISHED = 1e-30
"""Square of a half-angle vector below which nothing of it is left: the lead ran straight at the body until
the line was all in. Own choice; the direction of travel takes its place."""


STILL_M = 1e-6
"""A shorter leg tells no direction, to start with or to a line of no length: degrees carry a position to
nanometres (own choice)."""


class Legs(NamedTuple):
    """Legs of the lead in a plane that moves with the water; each of shape ``(m,)``.

    ``half_sin`` and ``half_cos`` belong to half the direction of the leg (from north over east), ``run_m``
    is its length, ``before_m`` and ``after_m`` are the length of line at its ends.
    """

    half_sin: FloatArray
    half_cos: FloatArray
    run_m: FloatArray
    before_m: FloatArray
    after_m: FloatArray


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
    """What is found at the end of each leg, each of shape ``(m,)``.

    ``slack`` are legs on (part of) which the line hung slack, ``rests`` those on all of which it did.
    """

    half_sin: FloatArray
    half_cos: FloatArray
    distance_m: FloatArray
    slack: BoolArray
    rests: BoolArray


def followed(legs: Legs, line: Line) -> Nodes:
    """Return the line at the end of each leg.

    Parameters
    ----------
    line : Line
        At the start of the first.

    Notes
    -----
    On a leg ``d`` with a line ``L0 + tau dL`` and offset ``r`` a taut line stays taut when the lead leaves
    the body at least as fast as line is paid out, ``r.d >= L0 dL``; once so, it stays so along the leg.
    """
    m = len(legs.run_m)
    nodes = Nodes(np.empty(m), np.empty(m), np.empty(m), np.zeros(m, dtype=bool), np.zeros(m, dtype=bool))
    _follow(
        Legs(*(solid(column) for column in legs)),
        float(line.half_sin),
        float(line.half_cos),
        float(line.east_m),
        float(line.north_m),
        bool(line.slack),
        nodes,
    )
    return nodes


@compiled
def _follow(  # type: ignore[no-untyped-def]
    legs: Legs,
    half_sin: float,
    half_cos: float,
    east_m: float,
    north_m: float,
    slack: bool,
    nodes: Nodes,
):
    for leg in range(len(legs.run_m)):
        leg_sin, leg_cos, run = legs.half_sin[leg], legs.half_cos[leg], legs.run_m[leg]
        before, after = legs.before_m[leg], legs.after_m[leg]
        across = leg_cos * half_sin - leg_sin * half_cos
        # A line of no length points nowhere, so it is as if the lead ran away from its body.
        ahead = run if before <= 0.0 and not slack else run * (1.0 - 2.0 * across * across)
        if not slack and ahead >= after - before - PUSH_M:
            half_sin, half_cos = _towed(half_sin, half_cos, leg_sin, leg_cos, decay(run, before, after))
            distance, waited = after, 0.0
        else:
            if not slack:
                east_m = before * 2.0 * half_sin * half_cos
                north_m = before * (half_cos * half_cos - half_sin * half_sin)
            dx = run * 2.0 * leg_sin * leg_cos
            dy = run * (leg_cos * leg_cos - leg_sin * leg_sin)
            waited = _tightens(east_m, north_m, dx, dy, before, after - before)
            slack = waited > 1.0
            part = 1.0 if slack else waited
            east_m, north_m = east_m + part * dx, north_m + part * dy
            half_sin, half_cos = _pointing(half_sin, half_cos, east_m, north_m)
            distance = min(math.hypot(east_m, north_m), after)
            if not slack:
                give = decay(run * (1.0 - part), before + part * (after - before), after)
                half_sin, half_cos = _towed(half_sin, half_cos, leg_sin, leg_cos, give)
                distance = after
        nodes.half_sin[leg], nodes.half_cos[leg] = half_sin, half_cos
        nodes.distance_m[leg] = distance
        nodes.slack[leg], nodes.rests[leg] = waited > 0.0, waited > 1.0


@compiled
def decay(run: float, before: float, after: float):  # type: ignore[no-untyped-def]
    """Return ``1 - exp(-k)``, the part of ``tan(theta/2)`` that a taut line loses on a leg.

    ``k = s ln(L0/L1) / (L0 - L1)``, which is ``s/L`` for a constant length, is the integral of run over
    length. It is infinite where the line is 0 long at either end: there it takes the direction of travel.
    """
    if run <= 0.0:
        return 0.0
    if before <= 0.0 or after <= 0.0:
        return 1.0 if run > STILL_M else 0.0
    change = (before - after) / after
    if change == 0.0 or math.isinf(change):
        return -math.expm1(-run / after)
    return -math.expm1(-run / after * math.log1p(change) / change)


@compiled
def _towed(  # type: ignore[no-untyped-def]
    half_sin: float, half_cos: float, leg_sin: float, leg_cos: float, give: float
):
    """Return a taut line after a leg: the part of its half-angle vector across the leg shrinks."""
    lost = give * (leg_cos * half_sin - leg_sin * half_cos)
    x, y = half_sin - lost * leg_cos, half_cos + lost * leg_sin
    square = x * x + y * y
    if square < VANISHED:
        return leg_sin, leg_cos
    size = math.sqrt(square)
    return x / size, y / size


@compiled
def _tightens(  # type: ignore[no-untyped-def]
    x: float, y: float, dx: float, dy: float, before: float, change: float
):
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


@compiled
def _pointing(half_sin: float, half_cos: float, x: float, y: float):  # type: ignore[no-untyped-def]
    """Return the half-angle vector along an offset; over its lead a line keeps the direction it had."""
    size = math.hypot(x, y)
    if size == 0.0:
        return half_sin, half_cos
    if y >= 0.0:
        half_cos = math.sqrt((1.0 + y / size) / 2.0)
        return x / size / (2.0 * half_cos), half_cos
    half_sin = math.sqrt((1.0 - y / size) / 2.0)
    return half_sin, x / size / (2.0 * half_sin)
