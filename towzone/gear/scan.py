"""A towed line in a plane along a whole path: taut legs all at once, others step by step.

A taut leg maps the half-angle vector of the line linearly, so that a path is a product of 2 x 2 matrices.
Products of blocks are formed side by side, and the line is taken through all blocks side by side.
"""

from __future__ import annotations

import math

import numpy as np

from towzone.gear.slack import PUSH_M, VANISHED, Legs, Line, Nodes, step_by_step
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["followed"]

_FIRST_SCAN, _GROWTH = 16_384, 4
_LEAST_SCAN = 1_024
"""Legs scanned at once: many at first, few after a slack one, then more and more. Own choices, by speed."""


def followed(legs: Legs, line: Line) -> tuple[Nodes, Line]:
    """Return the line at the end of each leg: scanned while taut, step by step where it hangs slack."""
    m = len(legs.run_m)
    nodes = Nodes(
        np.empty(m), np.empty(m), legs.after_m.copy(), np.zeros(m, dtype=bool), np.zeros(m, dtype=bool)
    )
    leg, reach, doubtful = 0, _FIRST_SCAN, line.slack
    while leg < m:
        if doubtful:
            leg, line = step_by_step(legs, leg, line, nodes)
            doubtful = False
            continue
        ahead = Legs(*(column[leg : leg + reach] for column in legs))
        half_sin, half_cos = _scan(ahead, line)
        good = _first_slack(ahead, np.append(line.half_sin, half_sin), np.append(line.half_cos, half_cos))
        nodes.half_sin[leg : leg + good] = half_sin[:good]
        nodes.half_cos[leg : leg + good] = half_cos[:good]
        if good:
            line = Line(float(half_sin[good - 1]), float(half_cos[good - 1]))
        doubtful = good < len(half_sin)
        reach = max(_LEAST_SCAN, _GROWTH * good)
        leg += good
    return nodes, line


def _first_slack(legs: Legs, half_sin: FloatArray, half_cos: FloatArray) -> int:
    """Return the first leg at whose start a taut line goes slack, or the number of legs.

    Parameters
    ----------
    half_sin, half_cos : ndarray, shape (m + 1,)
        The line at the start of each leg, and at the end of the last.
    """
    across = legs.half_cos * half_sin[:-1] - legs.half_sin * half_cos[:-1]
    # A line of no length points nowhere; stepping would find the same, but slowly.
    cosine = np.where(legs.before_m > 0.0, 1.0 - 2.0 * across**2, 1.0)
    slack = legs.run_m * cosine < legs.after_m - legs.before_m - PUSH_M
    return int(np.argmax(slack)) if slack.any() else len(slack)


def _scan(legs: Legs, line: Line) -> tuple[FloatArray, FloatArray]:
    """Return the half-angle vectors of a taut line at the end of each leg.

    Notes
    -----
    The path is cut into about ``sqrt(m)`` blocks. First the product of the matrices of each block, all blocks
    side by side; then the line at the start of each block, one after the other; then the line along the
    blocks, side by side again.
    """
    m = len(legs.run_m)
    width = math.ceil(math.sqrt(m))
    rows = -(-m // width)
    columns = (_blocks(c, rows, width) for c in (legs.half_sin, legs.half_cos, legs.give))
    steps = list(zip(*columns, strict=True))
    x, y = np.zeros((2, rows)), np.zeros((2, rows))
    x[0], y[1] = 1.0, 1.0
    for half_sin, half_cos, give in steps:
        _shrink(x, y, half_sin, half_cos, give)
    start = _block_starts(x, y, line)
    x, y = start[:1].copy(), start[1:].copy()
    out = np.empty((2, width, rows))
    for place, (half_sin, half_cos, give) in enumerate(steps):
        _shrink(x, y, half_sin, half_cos, give)
        out[0, place], out[1, place] = x[0], y[0]
    half_sin, half_cos = out.transpose(0, 2, 1).reshape(2, -1)[:, :m]
    return half_sin, half_cos


def _blocks(column: FloatArray, rows: int, width: int) -> FloatArray:
    """Return a column as steps of blocks, shape (width, rows), filled up with legs that change nothing."""
    padded = np.zeros(rows * width)
    padded[: len(column)] = column
    return np.ascontiguousarray(padded.reshape(rows, width).T)


def _shrink(
    x: FloatArray, y: FloatArray, half_sin: FloatArray, half_cos: FloatArray, give: FloatArray
) -> None:
    """Take one leg, in place: vectors ``(x, y)``, one or two a block, scaled to length 1 together."""
    lost = (half_cos * x - half_sin * y) * give
    x -= lost * half_cos
    y += lost * half_sin
    square = (x * x + y * y).sum(axis=0)
    if square.min() < VANISHED:
        gone = square < VANISHED
        x[:, gone], y[:, gone] = half_sin[gone], half_cos[gone]
        square[gone] = 1.0
    scale = 1.0 / np.sqrt(square)
    x *= scale
    y *= scale


def _block_starts(x: FloatArray, y: FloatArray, line: Line) -> FloatArray:
    """Return the line at the start of each block, shape (2, rows), from the product of each block."""
    a, b = line.half_sin, line.half_cos
    starts = []
    for x0, x1, y0, y1 in zip(*x.tolist(), *y.tolist(), strict=True):
        starts.append((a, b))
        a, b = x0 * a + x1 * b, y0 * a + y1 * b
        if a * a + b * b < VANISHED:  # the block forgets what was before it: any of its columns will do
            a, b = (x0, y0) if x0 * x0 + y0 * y0 > x1 * x1 + y1 * y1 else (x1, y1)
        size = math.sqrt(a * a + b * b)
        a, b = a / size, b / size
    return np.array(starts).T
