"""Where the gear may have been, allowing for the spread of its figures: an outline that moves along its path.

The current that is not known is most of it, and in a turn it does more than carry the gear aside: so the gear
is computed again for a current from each of several directions. Everything else sets it out sideways.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.gear.figures import Rigging
from towzone.gear.offsets import beside
from towzone.gear.stretch import (
    GearStretch,
    ahead_of_doors,
    bodies_of,
    laybacks_m,
    sigmas_of,
    stacked,
    widths_of,
)
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.vessel import Current, Rig

__all__ = ["Spot", "layback_limits", "likely_outline", "outline_spots", "streams_around", "with_current"]

_DIRECTIONS = 6
"""From how many directions a current is tried. Own choice: what it moves the gear by follows its direction
nearly like a circle."""

_AROUND = 1.0 / math.cos(math.pi / _DIRECTIONS)
"""By so much the corners of a polygon around a circle are farther out than the circle."""


def likely_outline(stretch: GearStretch, rigging: Rigging, count: float) -> FloatArray:
    """Return the points whose hull holds the whole gear, allowing for so many standard deviations.

    Returns
    -------
    ndarray, shape (n, m, 2)
        For the layback as it is, shorter and longer, and for currents from around: the outer doors,
        wing-ends, codend and clump, each set out sideways by the other deviations. The gear by the figures
        as they are lies within.
    """
    aside = count * _without_current(stretch, rigging)
    points = [
        _of_one(stretch, rigging, layback, aside, count)
        for layback in (stretch.layback_m, *layback_limits(stretch, rigging, count))
    ]
    points += [
        _of_one(stretch, stream, stretch.layback_m, aside, count) for stream in streams_around(rigging, count)
    ]
    return np.concatenate(points, axis=1)


def streams_around(rigging: Rigging, count: float) -> list[Rigging]:
    """Return a rigging in a current so many deviations strong, from each of several directions."""
    drift_kn = count * rigging.drift_sigma.sigma * _AROUND
    if drift_kn <= 0.0:
        return []
    return [with_current(rigging, 360.0 * n / _DIRECTIONS, drift_kn) for n in range(_DIRECTIONS)]


def with_current(rigging: Rigging, set_deg: float, drift_kn: float) -> Rigging:
    """Return a rigging with a current added to the stated one, if there is one."""
    stated = rigging.current or Current(set_deg=0.0, drift_kn=0.0)
    sets = np.radians([stated.set_deg, set_deg])
    drifts = np.array([stated.drift_kn, drift_kn])
    east, north = float((drifts * np.sin(sets)).sum()), float((drifts * np.cos(sets)).sum())
    together = Current(
        set_deg=math.degrees(math.atan2(east, north)) % 360.0, drift_kn=math.hypot(east, north)
    )
    return replace(rigging, current=together)


def _without_current(stretch: GearStretch, rigging: Rigging) -> FloatArray:
    """Return the deviation sideways of all but the current."""
    still = replace(rigging, drift_sigma=replace(rigging.drift_sigma, sigma=0.0))
    known = sigmas_of(stretch.lead, stretch.layback_m, stretch.beta_deg, stretch.settled_m, still)
    return known.cross_m


def _of_one(
    stretch: GearStretch, rigging: Rigging, layback: FloatArray, aside: FloatArray, count: float
) -> FloatArray:
    """Return the points of the gear with one layback in one current, shape (n, m, 2)."""
    bodies = bodies_of(stretch.lead, layback, rigging)
    clump_m = ahead_of_doors(stretch.lead, stretch.layback_m, rigging)
    door = bodies.door_lon, bodies.door_lat, bodies.door_bearing
    net = bodies.net_lon, bodies.net_lat, bodies.net_bearing
    spots = outline_spots(rigging, count, aside, layback, clump_m)
    points = [stacked(beside(*(net if s.at_net else door), s.ahead_m, s.right_m)) for s in spots]
    return np.stack(points, axis=1)


class Spot(NamedTuple):
    """A point of an outline: so far ahead and to the right of the codend, or of the middle of the doors."""

    at_net: bool
    ahead_m: npt.ArrayLike
    right_m: npt.ArrayLike


def outline_spots(
    rigging: Rigging, count: float, aside_m: FloatArray, layback_m: FloatArray, clump_m: FloatArray
) -> list[Spot]:
    """Return the points whose hull holds the gear with one layback in one current.

    Parameters
    ----------
    aside_m, layback_m, clump_m : ndarray
        At each node: all deviations sideways but the current's; from block to doors; of a twin rig, how far
        the clump is ahead of the doors.
    """
    widths = widths_of(rigging)
    # What turns the warps turns the net behind them as well, by a right angle at the most.
    turned = np.minimum(aside_m / np.maximum(layback_m, 1.0), 1.0)
    farther = aside_m + widths.behind_m * turned
    along = count * float(np.hypot(rigging.position.sigma, rigging.antenna.sigma))
    spots: list[Spot] = []
    for side in (-1.0, 1.0):
        door = side * (widths.door_m / 2.0 + aside_m)
        spots += [
            # Behind as well: in a sharp turn the net lies abeam, and its outline does not close the rear.
            Spot(False, along, door),
            Spot(False, -along, door),
            Spot(True, widths.net_m, side * (widths.wings_m / 2.0 + farther)),
            Spot(True, -along, side * (widths.codends_m / 2.0 + farther)),
        ]
    if rigging.rig is Rig.TWIN:
        spots += [
            Spot(False, clump_m + far, side * aside_m) for far in (-along, along) for side in (-1.0, 1.0)
        ]
    return spots


def layback_limits(stretch: GearStretch, rigging: Rigging, count: float) -> tuple[FloatArray, FloatArray]:
    """Return the shortest and the longest layback that the figures allow for."""
    lead, spread = stretch.lead, count * stretch.sigmas.layback_m
    low, high = stretch.layback_m - spread, stretch.layback_m + spread
    for figure, values in ((rigging.warp, lead.warp_m), (rigging.depth, lead.height_m)):
        if figure.low is None or figure.high is None:
            continue
        for limit in (figure.low, figure.high):
            share = limit / figure.value
            warp = values * share if figure is rigging.warp else lead.warp_m
            height = values + figure.value * (share - 1.0) if figure is rigging.depth else lead.height_m
            at_limit = laybacks_m(warp, height, rigging)
            low, high = np.minimum(low, at_limit), np.maximum(high, at_limit)
    down = stretch.down
    return np.where(down, np.clip(low, 0.0, None), 0.0), np.where(down, high, 0.0)
