"""How much warp was out in what depth: as measured for the tow, by the profile, or one from the other."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy.typing as npt

from towzone.gear.figure_makers import PROFILE, Contradiction, derived, measured, stated
from towzone.gear.rigging import Measured, plain_amount
from towzone.gear.scope import (
    SIGMA_LN,
    depth_from_warp_m,
    depth_range_m,
    warp_from_depth_m,
    warp_range_m,
)
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.gear import Figure
from towzone.model.vessel import GearFigures

__all__ = ["Reach", "warp_and_depth"]

_MEASURED_SHARE, _USUAL_SHARE = 0.02, 0.05
"""Standard deviations by value: of a warp logged or measured for the tow (marks and counters are true to 1 or
2 %, from memory), and of what the profile says, which is usual and not this tow's (own choice)."""

_DEPTH_SIGMA_M, _DEPTH_SHARE = 3.0, 0.01
"""Standard deviation of a depth measured for the tow: 3 m and 1 %. Own choice; tide and slope are in it."""

_SAME_GROUND = 0.25
"""A depth (or warp) within this share of the usual one is that of the usual ground, where what the profile
says beside it holds. Own choice."""

_NEARLY_ALL = 1.96 / 1.6449
"""Limits that hold 90 % are moved from the fit by this, as logarithms, to hold 95 % (normal distribution)."""

_LEAST_SCOPE = 1.05
"""Warp by depth: with less nothing is towed. Own choice."""

_POWER = math.log2(float(warp_from_depth_m(200.0)) / float(warp_from_depth_m(100.0)))
"""The warp grows like the depth to this power, by the fit to ICES survey hauls."""

_HAULS = "ICES survey hauls 2004-2021, own evaluation"
_ASK = (
    "state gear.warp and gear.depth in the vessel profile, or warp_m and depth_m for each tow in a haul log"
)


class Reach(NamedTuple):
    """Warp and depth of a tow."""

    warp: Figure
    depth: Figure


class _Scope(NamedTuple):
    """How one of the two follows from the other."""

    name: str
    beside: str
    fit: Callable[[npt.ArrayLike], FloatArray]
    limits: Callable[[npt.ArrayLike], tuple[FloatArray, FloatArray]]
    power: float
    share: float


_WARP = _Scope("warp", "depth", warp_from_depth_m, warp_range_m, _POWER, SIGMA_LN)
_DEPTH = _Scope("depth", "warp", depth_from_warp_m, depth_range_m, 1.0 / _POWER, SIGMA_LN / _POWER)


def warp_and_depth(
    figures: GearFigures,
    block_height_m: float,
    *,
    midwater: bool,
    warp: Measured | None,
    depth: Measured | None,
) -> Reach:
    """Return warp and depth of a tow.

    Parameters
    ----------
    midwater : bool
        Whether the depth that counts is that of the doors, which neither the depth of the water nor the warp
        tells.

    Raises
    ------
    Contradiction
        Too little is known, or the warp does not reach down.
    """
    reach = _midwater(figures, warp) if midwater else _on_the_bottom(figures, warp, depth)
    down_m = reach.depth.value + block_height_m
    if reach.warp.value <= down_m:
        message = (
            f"the warp ({_told(reach.warp)}) does not reach down {plain_amount(down_m)} m: depth "
            f"({_told(reach.depth)}) and {plain_amount(block_height_m)} m from the water up to the block; "
            f"correct them, or {_ASK}."
        )
        raise Contradiction(message)
    return reach


def _told(figure: Figure) -> str:
    return f"{plain_amount(figure.value)} m, {figure.source}"


def _midwater(figures: GearFigures, warp: Measured | None) -> Reach:
    out = _measured_warp(warp) or _usual_warp(figures)
    if out is None or figures.depth_m is None:
        message = (
            "of a midwater trawl both warp and depth of the doors must be known, for neither follows from "
            "the other or from the depth of the water; state gear.warp and gear.depth in the vessel profile."
        )
        raise Contradiction(message)
    source = f"{PROFILE}, as depth of the doors"
    sigma = _depth_sigma_m(figures.depth_m, _USUAL_SHARE)
    down = stated("depth", figures.depth_m, sigma, source=source)
    assert down is not None
    return Reach(out, down)


def _on_the_bottom(figures: GearFigures, warp: Measured | None, depth: Measured | None) -> Reach:
    out = _measured_warp(warp) or _usual_warp(figures)
    down = _measured_depth(depth) or _usual_depth(figures)
    if out is None:
        if down is None:
            message = f"neither warp nor depth is known; {_ASK}."
            raise Contradiction(message)
        return Reach(_from(down, _WARP), down)
    if down is None:
        return Reach(out, _from(out, _DEPTH))
    # Both of the profile belong together, and so do both of the tow; else what is usual may not hold here.
    if warp is None and depth is not None:
        return Reach(_elsewhere(out, down, figures.depth_m, _WARP), down)
    if depth is None and warp is not None:
        return Reach(out, _elsewhere(down, out, figures.warp_m, _DEPTH))
    return Reach(out, down)


def _measured_warp(warp: Measured | None) -> Figure | None:
    return None if warp is None else measured("warp", warp, _MEASURED_SHARE * warp.value_m)


def _measured_depth(depth: Measured | None) -> Figure | None:
    return None if depth is None else measured("depth", depth, _depth_sigma_m(depth.value_m, _DEPTH_SHARE))


def _usual_warp(figures: GearFigures) -> Figure | None:
    return stated("warp", figures.warp_m, _USUAL_SHARE * (figures.warp_m or 0.0))


def _usual_depth(figures: GearFigures) -> Figure | None:
    return stated("depth", figures.depth_m, _depth_sigma_m(figures.depth_m or 0.0, _USUAL_SHARE))


def _depth_sigma_m(depth_m: float, share: float) -> float:
    return _DEPTH_SIGMA_M + share * depth_m


def _from(beside: Figure, scope: _Scope) -> Figure:
    """Return warp or depth as it usually is beside the other."""
    value, low, high = _usual(beside, scope)
    source = f"usual with a {scope.beside} of {plain_amount(beside.value)} m; {_HAULS}"
    return derived(scope.name, value, scope.share * value, source, limits=(low, high))


def _usual(beside: Figure, scope: _Scope) -> tuple[float, float, float]:
    """Return what is usual, and between what it lies nineteen times in twenty."""
    value = float(scope.fit(beside.value))
    low, high = (value * (float(limit) / value) ** _NEARLY_ALL for limit in scope.limits(beside.value))
    if scope is _DEPTH:
        high = min(high, beside.value / _LEAST_SCOPE)
    return value, low, high


def _elsewhere(usual: Figure, beside: Figure, usual_beside_m: float | None, scope: _Scope) -> Figure:
    """Return a figure of the profile for a tow of which the other one of the two was measured.

    Near the usual ground it holds, the less surely the farther from it. Elsewhere it holds as surely as what
    is usual there, if it is usual there at all; if not, all between the two is possible.
    """
    if usual_beside_m is not None and abs(beside.value / usual_beside_m - 1.0) <= _SAME_GROUND:
        off = scope.power * math.log(beside.value / usual_beside_m)
        return replace(usual, sigma=math.hypot(usual.sigma, off * usual.value))
    value, low, high = _usual(beside, scope)
    place = f"a {scope.beside} of {plain_amount(beside.value)} m"
    if low <= usual.value <= high:
        source = f"{PROFILE}, where it is not stated for {place}"
        return replace(usual, sigma=max(usual.sigma, scope.share * usual.value), source=source)
    source = (
        f"usual with {place}, {_HAULS}, with which the {plain_amount(usual.value)} m of the profile do not go"
    )
    limits = min(low, usual.value), max(high, usual.value)
    if scope is _DEPTH:
        limits = limits[0], min(limits[1], beside.value / _LEAST_SCOPE)
    return derived(scope.name, value, scope.share * value, source, limits=limits)
