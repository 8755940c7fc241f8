"""How much warp gears have out in what depth, for tows that state only one of the two.

From ICES survey hauls 2004-2021, 22 536 hauls of twelve surveys, own evaluation. These are standardised gears
of research vessels; commercial ones differ more, so everything from here is an assumption to be shown.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.gear.amounts import amount
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "DEEPEST_M",
    "SIGMA_LN",
    "depth_from_warp_m",
    "depth_range_m",
    "greatest_warp_m",
    "warp_from_depth_m",
    "warp_range_m",
]

SIGMA_LN = 0.156
"""Standard deviation of the logarithm of warps about the fit. ICES survey hauls 2004-2021, own evaluation."""

_FACTOR, _POWER = 14.968, 0.7029
"""``W = 14.968 D^0.7029``, metres, all gears. ICES survey hauls 2004-2021, own evaluation."""

_BINS = np.array(
    [
        (10.0, 30.0, 4.35, 6.25, 10.0),
        (30.0, 50.0, 3.75, 5.13, 7.14),
        (50.0, 75.0, 3.28, 4.10, 5.74),
        (75.0, 100.0, 3.19, 3.65, 4.90),
        (100.0, 150.0, 3.00, 3.34, 4.16),
        (150.0, 200.0, 2.90, 3.17, 3.76),
        (200.0, 300.0, 2.64, 2.98, 3.34),
        (300.0, 500.0, 2.39, 2.80, 3.15),
        (500.0, 800.0, 2.21, 2.66, 2.95),
    ]
)
"""Depth from, to; warp by depth: 5 %, median, 95 %. ICES survey hauls 2004-2021, own evaluation."""

_SIGMAS_95 = 1.6449
"""Standard deviations of a normal distribution above which lie 5 %."""

_MOST_SIGMAS = 3.0
"""Own choice: one in 700 lies higher."""

_WIDER = float(np.log2(1.1))
"""Own choice: beyond the middle of the first and last bin the range grows by a tenth for each halving or
doubling of the depth, because nothing was measured there."""

_SHALLOWEST_M, DEEPEST_M = 1.0, 3000.0
"""Own limits: no trawl is towed on shallower or deeper bottom; beyond them lies a slip of the pen."""

_SHORTEST_M, _LONGEST_M = 1.0, 4000.0
"""Own limits for warps, as those for depths."""

_LEAST_SCOPE = 1.05
"""A warp hardly longer than the depth tows nothing; the hauls evaluated had more. Own choice."""

_ENDS_M = np.array([1e-3, 1e5])
"""Where curves beyond the bins are held by; far beyond all limits."""


def _fit(depth_m: FloatArray) -> FloatArray:
    return np.asarray(_FACTOR * depth_m**_POWER)


def _curve(ratio: FloatArray, *, upper: bool) -> tuple[FloatArray, FloatArray]:
    """Return knots (ln depth, ln warp) of a limit, straight lines between which never cross the fit.

    A limit goes through its ratios in the (geometric) middles of the bins. Beyond, the ratio of warp to depth
    is held or changes like the fit, whichever makes the range wider, and the range grows by `_WIDER`. The fit
    itself is the limit where it lies beyond it: so it does, by 0.3 %, below the lowest 5 % in 500 to 800 m.
    """
    middle = np.sqrt(_BINS[:, 0] * _BINS[:, 1])
    wider = np.maximum if upper else np.minimum
    inner = wider(middle * ratio, _fit(middle))
    edge, at_edge = middle[[0, -1]], inner[[0, -1]]
    held, like_fit = at_edge / edge * _ENDS_M, at_edge * _fit(_ENDS_M) / _fit(edge)
    farther = np.maximum(_ENDS_M / edge, edge / _ENDS_M) ** (_WIDER if upper else -_WIDER)
    outer = wider(held, like_fit) * farther
    depths = np.concatenate([_ENDS_M[:1], middle, _ENDS_M[1:]])
    warps = np.concatenate([outer[:1], inner, outer[1:]])
    return np.log(depths), np.log(warps)


_LOW = _curve(_BINS[:, 2], upper=False)
_HIGH = _curve(_BINS[:, 4], upper=True)
_MOST = _curve(_BINS[:, 3] * (_BINS[:, 4] / _BINS[:, 3]) ** (_MOST_SIGMAS / _SIGMAS_95), upper=True)
"""The upper half of the hauls of a bin taken as log-normal, for hauls in shallow water vary more than the fit
lets expect."""


def warp_from_depth_m(depth_m: npt.ArrayLike) -> FloatArray:
    """Return the warp to be expected in a depth: ``14.968 D^0.7029``.

    Its logarithm has a standard deviation of `SIGMA_LN` over all depths; `warp_range_m` is lopsided and says
    more.

    Raises
    ------
    UsageError
        For depths of under 1 m or over 3000 m.

    Examples
    --------
    >>> round(float(warp_from_depth_m(100.0)), 1)
    381.0
    """
    return _fit(_depth(depth_m))


def depth_from_warp_m(warp_m: npt.ArrayLike) -> FloatArray:
    """Return the depth in which a warp is to be expected: the inverse of `warp_from_depth_m`.

    Raises
    ------
    UsageError
        For warps of under 1 m or over 4000 m.
    """
    return np.asarray((_warp(warp_m) / _FACTOR) ** (1.0 / _POWER))


def warp_range_m(depth_m: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return between which warps nine hauls in ten lay: their 5 % and 95 % values.

    Between the middles of the bins of depth (17 to 632 m) the logarithms are interpolated; the range always
    holds `warp_from_depth_m`. Shallower and deeper nothing was measured: there the ratio to the depth is held
    or follows the fit, whichever is wider, and the range grows by a tenth for each halving or doubling.

    Raises
    ------
    UsageError
        For depths of under 1 m or over 3000 m.
    """
    ln_depth = np.log(_depth(depth_m))
    return _along(ln_depth, *_LOW), _along(ln_depth, *_HIGH)


def depth_range_m(warp_m: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the depths between which a warp lies in the `warp_range_m`, at most the warp itself over 1.05.

    Raises
    ------
    UsageError
        For warps of under 1 m or over 4000 m.
    """
    warp = _warp(warp_m)
    (low_depths, low_warps), (high_depths, high_warps) = _LOW, _HIGH
    ln_warp = np.log(warp)
    low, high = _along(ln_warp, high_warps, high_depths), _along(ln_warp, low_warps, low_depths)
    return low, np.asarray(np.minimum(high, warp / _LEAST_SCOPE))


def greatest_warp_m(depth_m: npt.ArrayLike) -> FloatArray:
    """Return a warp that hardly any gear exceeds in a depth: three standard deviations up.

    The greatest of the 95 % value, of the fit times ``exp(3 SIGMA_LN)`` and, because hauls in shallow water
    vary more, of the median of the depth and three times what its 95 % value shows (own choice).

    Raises
    ------
    UsageError
        For depths of under 1 m or over 3000 m.
    """
    depth = _depth(depth_m)
    # The curve is never below the 95 % value: in every bin it lies 1.8 times as far above the median.
    return np.asarray(
        np.maximum(_along(np.log(depth), *_MOST), _fit(depth) * np.exp(_MOST_SIGMAS * SIGMA_LN))
    )


def _along(x: FloatArray, knots: FloatArray, values: FloatArray) -> FloatArray:
    return np.asarray(np.exp(np.interp(x, knots, values)))


def _depth(depth_m: npt.ArrayLike) -> FloatArray:
    return amount("depth", depth_m, least=_SHALLOWEST_M, most=DEEPEST_M)


def _warp(warp_m: npt.ArrayLike) -> FloatArray:
    return amount("warp", warp_m, least=_SHORTEST_M, most=_LONGEST_M)
