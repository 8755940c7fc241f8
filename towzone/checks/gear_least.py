"""The least clearance of gear from one zone and nothing else, fast enough to be asked again and again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.checks.batches import Batch
from towzone.checks.gear_curves import curve_batch, side_together
from towzone.checks.gear_shares import contact, curves_of
from towzone.checks.intervals import Intervals, intersect
from towzone.checks.passages import CONTACT_M
from towzone.checks.path_passages import PathScene
from towzone.checks.shares import Group
from towzone.gear.stretch import GearStretch
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric
from towzone.geodesy.pieces import Pieces
from towzone.model.result import Activity

__all__ = ["least_clearance_m"]

_FINER = (20, 25)
"""Into how many steps legs around the deepest point are cut, twice: from 10 m to 2 cm, so that a depth, which
changes by no more than a metre a metre, is true to 1 cm. Own choice."""

_MOST_LEGS = 40
"""Legs cut at the most: those that may be deepest. Where more may be, along a boundary, they are about as
deep, and nothing is lost. Own choice."""


def least_clearance_m(
    scene: PathScene, stretches: Sequence[GearStretch], zone: int, span: tuple[float, float]
) -> float | None:
    """Return the least clearance of some stretches from one zone, between two places of the vessel.

    ``None`` where the gear is not down there. Zones between the parts that are traced are not noticed.
    """
    covered = intersect(Intervals(np.array([span[0]]), np.array([span[1]])), contact(stretches))
    if not len(covered):
        return None
    group = Group(unit=0, tow=None, activity=Activity.TOWING, covered=covered, first_s=np.nan, last_s=np.nan)
    curves = curves_of(stretches, scene.path)
    asked = scene.zones[zone]
    legs = [curve_batch(curve, [group]) for curve in curves]
    deepest_m = _least_signed_m(scene, zone, legs) if asked.shape.is_area else np.inf
    if deepest_m > 0.0:
        number = np.array([zone])
        side = side_together([batch.side for batch in legs])
        edge = scene.boundaries.measured(number)
        nearest_m = float(closest(side, np.array([0]), edge, number, np.array([np.inf])).distance_m[0])
        if nearest_m > CONTACT_M or not asked.shape.is_area:
            return nearest_m - asked.radius_m
    return min(deepest_m, 0.0) - asked.radius_m


def _least_signed_m(scene: PathScene, zone: int, legs: Sequence[Batch]) -> float:
    """Return the least clearance along legs from an area, negative on the wrong side of it."""
    start_m = np.concatenate([batch.side.pieces.start_m for batch in legs])
    end_m = np.concatenate([batch.side.pieces.end_m for batch in legs])
    start, end = np.split(_signed_m(scene, zone, np.concatenate([start_m, end_m])), 2)
    least_m = min(float(start.min()), float(end.min()))
    for parts in _FINER:
        # On a leg clearance changes by no more than a metre a metre.
        bound = (start + end - np.sqrt(((end_m - start_m) ** 2).sum(axis=1))) / 2.0
        chosen = np.argsort(bound, kind="stable")[:_MOST_LEGS]
        chosen = chosen[bound[chosen] < least_m]
        if not len(chosen):
            break
        share = np.linspace(0.0, 1.0, parts + 1)[:, None]
        xyz = start_m[chosen][:, None] + share * (end_m - start_m)[chosen][:, None]
        signed = _signed_m(scene, zone, xyz.reshape(-1, 3)).reshape(len(chosen), parts + 1)
        start_m, end_m = xyz[:, :-1].reshape(-1, 3), xyz[:, 1:].reshape(-1, 3)
        start, end = signed[:, :-1].ravel(), signed[:, 1:].ravel()
        least_m = min(least_m, float(signed.min()))
    return least_m


def _signed_m(scene: PathScene, zone: int, xyz_m: FloatArray) -> FloatArray:
    """Return the distances of points from an area's boundary, negative where they should not be."""
    # Legs share their ends: each point is asked about once.
    points, back = np.unique(xyz_m, axis=0, return_inverse=True)
    each = np.arange(len(points))
    edge = scene.boundaries.measured(np.array([zone]))
    side = Side.of(Pieces.each_alone(points, points), len(points))
    off_m = closest(side, each, edge, np.full(len(each), zone), np.full(len(each), np.inf)).distance_m
    inside = scene.boundaries.regions[zone].contains(*from_geocentric(points))
    signed_m = np.where(inside != scene.zones[zone].rules.allowed_only_inside, -off_m, off_m)
    return np.asarray(signed_m[back.ravel()])
