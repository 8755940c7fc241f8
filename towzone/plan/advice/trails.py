"""The gear behind many lines at once, in a plane: for the search for advice, never for a verdict.

The model is that of `towzone.gear.pursuit`: on each step of the lead the line from body to lead turns by the
closed form of the tractrix, in a frame that moves with the water; where it would have to push it hangs slack.
All lines, laybacks and currents are stepped side by side. Positions are complex, east + north i, metres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from towzone.gear.figures import Rigging
from towzone.gear.likely import layback_limits, outline_spots, streams_around
from towzone.gear.stretch import Lead, ahead_of_doors, gear_stretch, sigmas_of, widths_of
from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.advice.flat import Complexes
from towzone.units import KNOT_MPS

__all__ = ["COURSE_M", "Towed", "outlines", "towed_gear"]

COURSE_M = 30.0
"""Courses are taken over so much way before and after (`towzone.gear.offsets`)."""

_STILL_M = 1e-6
"""A step shorter than this has no direction. Own choice."""

_FAR_M = 1e6
"""Way of doors whose bearing at the beginning is long forgotten."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Towed:
    """What is the same of a gear on all lines: laybacks and currents that its outline is made of.

    Parameters
    ----------
    rigging : Rigging
    count : float
        Standard deviations allowed for.
    speed_mps : float
    warp_m, height_m : float
        Warp out, and from the block down to the bottom.
    layback_m : ndarray, shape (v,)
        Of each variant; the first is that by the figures as they are.
    drift_mps : ndarray of complex, shape (v,)
    clump_m : float
        How far the clump is ahead of the doors.
    """

    rigging: Rigging
    count: float
    speed_mps: float
    warp_m: float
    height_m: float
    layback_m: FloatArray
    drift_mps: Complexes
    clump_m: float

    @property
    def length_m(self) -> float:
        """From the block to the codend over the ground."""
        return float(self.layback_m[0]) + widths_of(self.rigging).behind_m


def towed_gear(rigging: Rigging, count: float, speed_kn: float) -> Towed:
    """Return a gear that is towed with all its warp out, at one speed over the ground."""
    speed_mps = speed_kn * KNOT_MPS
    two = np.array([0.0, 1.0])
    height_m = rigging.depth.value + rigging.block_height.value
    lead = Lead(
        place=two,
        clock_s=two * 1_000.0 / speed_mps,
        lon_deg=np.zeros(2),
        lat_deg=two * 0.01,
        speed_mps=np.full(2, speed_mps),
        warp_m=np.full(2, rigging.warp.value),
        height_m=np.full(2, height_m),
    )
    stretch = gear_stretch(lead, replace(rigging, current=None))
    layback_m = float(stretch.layback_m[0])
    limits = [float(limit[0]) for limit in layback_limits(stretch, rigging, count)]
    streams = streams_around(rigging, count)
    laybacks = [layback_m, *limits, *(layback_m for _ in streams)]
    drifts = [_drift_mps(one) for one in (rigging, rigging, rigging, *streams)]
    return Towed(
        rigging=rigging,
        count=count,
        speed_mps=speed_mps,
        warp_m=rigging.warp.value,
        height_m=height_m,
        layback_m=np.array(laybacks),
        drift_mps=np.array(drifts),
        clump_m=float(ahead_of_doors(lead, stretch.layback_m, rigging)[0]),
    )


def _drift_mps(rigging: Rigging) -> complex:
    if rigging.current is None:
        return 0j
    return complex(
        rigging.current.drift_kn * KNOT_MPS * np.exp(1j * np.radians(90.0 - rigging.current.set_deg))
    )


def outlines(lead: Complexes, ahead: Complexes, towed: Towed, *, begins: bool) -> Complexes:
    """Return the points whose hull holds the likely gear, behind each node of some lines.

    Parameters
    ----------
    lead : ndarray of complex, shape (c, n)
        The vessel's antenna at the nodes of each of c lines.
    ahead : ndarray of complex, shape (c, n)
        Its course there, of length 1.
    begins : bool
        Whether towing begins at the first node, where it is not known how the gear lies; else it has been
        known for long.

    Returns
    -------
    ndarray of complex, shape (c, n, m)
    """
    rigging = towed.rigging
    block = lead - ahead * (rigging.block_aft.value + 1j * rigging.block_starboard.value)
    steps = np.diff(block, axis=1)
    seconds = np.abs(np.diff(lead, axis=1)) / towed.speed_mps
    water = steps[:, None, :] - towed.drift_mps[None, :, None] * seconds[:, None, :]
    to_block = _followed(water, towed.layback_m, None)
    doors = block[:, None, :] - to_block
    behind_m = np.full(len(towed.layback_m), widths_of(rigging).behind_m)
    moved = np.diff(doors, axis=2) - towed.drift_mps[None, :, None] * seconds[:, None, :]
    to_doors = _followed(moved, behind_m, to_block[:, :, 0])
    return _points(towed, _courses(block), block, to_block, to_doors, begins=begins)


def _courses(block: Complexes) -> Complexes:
    """Return the courses of a towing block, taken over some way before and after, shape (c, n)."""
    steps = np.abs(np.diff(block, axis=1))
    run_m = np.concatenate([np.zeros((len(block), 1)), np.cumsum(steps, axis=1)], axis=1)
    chords = [
        np.interp(way + COURSE_M, way, own) - np.interp(way - COURSE_M, way, own)
        for way, own in zip(run_m, block, strict=True)
    ]
    chord = np.array(chords)
    return np.asarray(chord / np.maximum(np.abs(chord), _STILL_M))


def _points(
    towed: Towed,
    course: Complexes,
    block: Complexes,
    to_block: Complexes,
    to_doors: Complexes,
    *,
    begins: bool,
) -> Complexes:
    door_up, net_up = to_block / np.abs(to_block), to_doors / np.abs(to_doors)
    doors = block[:, None, :] - to_block
    nets = doors - to_doors
    aside_m = _aside_m(towed, course, to_block[:, 0], doors[:, 0], begins=begins)[:, None, :]
    clump_m = np.full((1, 1, 1), towed.clump_m)
    layback_m = towed.layback_m[None, :, None]
    spots = outline_spots(towed.rigging, towed.count, aside_m, layback_m, clump_m)
    shape = doors.shape
    points = []
    for spot in spots:
        at, up = (nets, net_up) if spot.at_net else (doors, door_up)
        points.append(
            np.broadcast_to(at + up * (np.asarray(spot.ahead_m) - 1j * np.asarray(spot.right_m)), shape)
        )
    stacked = np.stack(points, axis=-1)
    return np.moveaxis(stacked, 1, 2).reshape(shape[0], shape[2], -1)


def _aside_m(
    towed: Towed, course: Complexes, to_block: Complexes, doors: Complexes, *, begins: bool
) -> FloatArray:
    """Return the deviation sideways of all but the current, as many times as counts, shape (c, n)."""
    rigging = replace(towed.rigging, drift_sigma=replace(towed.rigging.drift_sigma, sigma=0.0))
    beta_deg = np.degrees(np.angle(course * np.conj(to_block)))
    settled_m = np.zeros(doors.shape)
    settled_m[:, 1:] = np.cumsum(np.abs(np.diff(doors, axis=1)), axis=1)
    if not begins:
        settled_m += _FAR_M
    count = doors.size
    lead = Lead(
        place=np.zeros(count),
        clock_s=np.zeros(count),
        lon_deg=np.zeros(count),
        lat_deg=np.zeros(count),
        speed_mps=np.full(count, towed.speed_mps),
        warp_m=np.full(count, towed.warp_m),
        height_m=np.full(count, towed.height_m),
    )
    layback = np.full(count, towed.layback_m[0])
    found = sigmas_of(lead, layback, beta_deg.ravel(), settled_m.ravel(), rigging)
    return np.asarray(towed.count * found.cross_m.reshape(doors.shape))


def _followed(steps: Complexes, length_m: FloatArray, start: Complexes | None) -> Complexes:
    """Return the vector from a body to its lead at each node, shape (c, v, n).

    Parameters
    ----------
    steps : ndarray of complex, shape (c, v, n - 1)
        Of the lead through the water.
    length_m : ndarray, shape (v,)
    start : ndarray of complex, shape (c, v)
        Along the line at the first node; ``None``: the lead came straight on the course of its first step.
    """
    run_m = np.abs(steps)
    moving = run_m > _STILL_M
    course = np.asarray(np.where(moving, steps, 1.0) / np.where(moving, run_m, 1.0), dtype=np.complex128)
    length = np.broadcast_to(length_m[None, :], steps.shape[:2])
    first = _first_course(course, moving) if start is None else start / np.abs(start)
    vectors = [length * first]
    for step in range(steps.shape[2]):
        vectors.append(_after(vectors[-1], run_m[:, :, step], course[:, :, step], length))
    return np.stack(vectors, axis=2)


def _first_course(course: Complexes, moving: npt.NDArray[np.bool_]) -> Complexes:
    first = np.argmax(moving, axis=2)[:, :, None]
    return np.asarray(np.take_along_axis(course, first, axis=2)[:, :, 0])


def _after(vector: Complexes, run_m: FloatArray, course: Complexes, length_m: FloatArray) -> Complexes:
    """Return the vector from body to lead after one straight step."""
    ahead = vector * np.conj(course)  # along the step, and to port of it
    lacking = length_m**2 - (ahead.real**2 + ahead.imag**2)
    slack_m = np.sqrt(np.maximum(ahead.real**2 + lacking, 0.0)) - ahead.real  # until the line is taut
    slack_m = np.minimum(slack_m, run_m)
    ahead = ahead + slack_m
    angle = ahead.imag / np.maximum(np.abs(ahead) + ahead.real, 1e-9)  # tangent of half of it
    angle = angle * np.exp((slack_m - run_m) / length_m)
    taut = length_m * (1.0 + 1j * angle) ** 2 / (1.0 + angle**2)
    return np.asarray(np.where(slack_m < run_m, taut, ahead) * course)
