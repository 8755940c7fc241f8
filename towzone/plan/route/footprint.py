"""How wide a way the gear takes: beside straight legs, behind corners of every turn, and where towing begins.

All of it comes from the product's own model of the gear: one long zigzag line with a corner for each turn on
each course is run through it, far enough between corners for the gear to settle. What is kept of a corner is,
at distances along the leg after it, how far the likely gear reaches to port and to starboard of that leg.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from towzone.checks.settings import GearProof
from towzone.gear.figures import Rigging
from towzone.gear.likely import likely_outline
from towzone.gear.stretch import gear_stretch, laybacks_m, widths_of
from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.judging import Judge
from towzone.plan.route.outline import reaches, seen_from
from towzone.plan.route.zigzag import TAIL, in_order, more_at_first, zigzag

__all__ = ["LEAST_LEG_LAYBACKS", "SHARPEST_DEG", "Footprint", "footprint_of"]

SHARPEST_DEG = 60.0
"""Sharpest turn at one corner: beyond it the gear's inner side may lose its spread (`towzone.gear.flags`)."""

LEAST_LEG_LAYBACKS = 3.0
"""A leg is this many laybacks long at the least: 5 % of the turn before it are left then (exp(-3))."""

_TURN_STEP_DEG = {False: 7.5, True: 15.0}
"""Between the turns that are run, without and with a stated current; what lies between follows a cubic. With
a current more courses are needed, and less is unsure. Own choice."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Footprint:
    """The widths of the likely gear, metres over the ground.

    Parameters
    ----------
    layback_m : float
        By the figures as they are.
    settling_m : float
        The longer of it and what is behind the doors: on so much way a turn is forgotten to a third.
    along_m : ndarray, shape (x,)
        Distances along the leg after a corner, from behind it on, rising.
    course_step_deg, course_period_deg : float
        Courses of the columns below: 0, one step, two steps ... below the period.
    turn_deg : ndarray, shape (t,)
        Turns, positive to starboard, rising.
    port_m, starboard_m : ndarray, shape (courses, t, x)
        How far the gear reaches to either side of the leg after a corner, by the course after it.
    first_port_m, first_starboard_m : ndarray, shape (courses, x)
        The same where towing begins.
    front_m : float
        The likely gear is at least so far astern.
    disc_m : float
        Where the length of the rope alone counts: how far the gear may be from the vessel anywhere, else 0.
    """

    layback_m: float
    settling_m: float
    along_m: FloatArray
    course_step_deg: float
    course_period_deg: float
    turn_deg: FloatArray
    port_m: FloatArray
    starboard_m: FloatArray
    first_port_m: FloatArray
    first_starboard_m: FloatArray
    front_m: float
    disc_m: float = 0.0

    def after_turn(self, course_deg: float, turn_deg: float) -> tuple[FloatArray, FloatArray]:
        """Return how far the gear reaches to port and starboard along a leg of a course, after a turn."""
        low, high, share = self._courses(course_deg)
        at = float(np.clip(turn_deg, self.turn_deg[0], self.turn_deg[-1]))
        first, weights = self._turn_weights(at)
        some = slice(first, first + len(weights))
        port, starboard = (
            weights @ (side[low, some] * (1.0 - share) + side[high, some] * share)
            for side in (self.port_m, self.starboard_m)
        )
        return port, starboard

    def _turn_weights(self, turn_deg: float) -> tuple[int, FloatArray]:
        """Return the first of four turns around one, and their weights: a cubic through what is known."""
        count = min(4, len(self.turn_deg))
        at = (turn_deg - float(self.turn_deg[0])) / float(self.turn_deg[1] - self.turn_deg[0])
        first = min(max(math.floor(at) - 1, 0), len(self.turn_deg) - count)
        off, weights = at - first, []
        for k in range(count):
            weights.append(math.prod((off - n) / (k - n) for n in range(count) if n != k))
        return first, np.array(weights)

    def where_towing_begins(self, course_deg: float) -> tuple[FloatArray, FloatArray]:
        """Return how far the gear reaches to port and starboard along the first leg of a line."""
        low, high, share = self._courses(course_deg)
        return (
            self.first_port_m[low] * (1.0 - share) + self.first_port_m[high] * share,
            self.first_starboard_m[low] * (1.0 - share) + self.first_starboard_m[high] * share,
        )

    def settled(self, course_deg: float) -> tuple[float, float]:
        """Return how far settled gear reaches to port and starboard of a straight leg."""
        port, starboard = self.after_turn(course_deg, 0.0)
        return float(port[-1]), float(starboard[-1])

    @property
    def narrowest_m(self) -> float:
        """How far the settled gear reaches to either side at the least, on any course."""
        straight = int(np.argmin(np.abs(self.turn_deg)))
        return float(min(self.port_m[:, straight, -1].min(), self.starboard_m[:, straight, -1].min()))

    @cached_property
    def widest_m(self) -> float:
        """No part of the gear is farther from the leg after a corner, or behind the corner."""
        sides = (self.port_m, self.starboard_m, self.first_port_m, self.first_starboard_m)
        return float(max(np.abs(self.along_m[0]), *(np.abs(side).max() for side in sides)))

    @property
    def least_half_m(self) -> float:
        """Half the least width of the way that settled gear takes, on any course."""
        straight = int(np.argmin(np.abs(self.turn_deg)))
        whole = self.port_m[:, straight, -1] + self.starboard_m[:, straight, -1]
        return float(whole.min()) / 2.0

    def _courses(self, course_deg: float) -> tuple[int, int, float]:
        place = (course_deg % self.course_period_deg) / self.course_step_deg
        count = len(self.port_m)
        low = int(place) % count
        return low, (low + 1) % count, place - math.floor(place)


def footprint_of(judge: Judge, lon_deg: float, lat_deg: float) -> Footprint:
    """Return the footprint of the gear of a plan, near a position.

    Raises
    ------
    ValueError
        The judge has no rigging.
    """
    rigging = judge.rigging
    if not isinstance(rigging, Rigging):
        message = "no footprint of a gear without figures"
        raise ValueError(message)
    return _by_rope(judge, rigging) if _rope_counts(judge) else _by_model(judge, rigging, lon_deg, lat_deg)


def _rope_counts(judge: Judge) -> bool:
    return judge.settings.check.gear_proof is GearProof.ROPE


def _layback_m(rigging: Rigging) -> float:
    height = rigging.depth.value + rigging.block_height.value
    return float(laybacks_m(np.array([rigging.warp.value]), np.array([height]), rigging)[0])


def _by_rope(judge: Judge, rigging: Rigging) -> Footprint:
    """Return the footprint of a gear of which only the length is taken for proof: a disc all along."""
    along = np.array([0.0, 0.5, 1.0])
    wide = np.full((1, 2, 3), judge.rope_m)
    wide.flags.writeable = False
    return Footprint(
        layback_m=_layback_m(rigging),
        settling_m=max(_layback_m(rigging), 1.0),
        along_m=along,
        course_step_deg=360.0,
        course_period_deg=360.0,
        turn_deg=np.array([0.0, 1.0]),
        port_m=wide,
        starboard_m=wide,
        first_port_m=wide[:, 0],
        first_starboard_m=wide[:, 0],
        front_m=0.0,
        disc_m=judge.rope_m,
    )


def _by_model(judge: Judge, rigging: Rigging, lon_deg: float, lat_deg: float) -> Footprint:
    layback, widths = max(_layback_m(rigging), 1.0), widths_of(rigging)
    step, period = (30.0, 360.0) if rigging.current is not None else (15.0, 60.0)
    courses = np.arange(0.0, period, step)
    turn_step = _TURN_STEP_DEG[rigging.current is not None]
    turns = np.arange(-SHARPEST_DEG, SHARPEST_DEG + 1.0, turn_step)
    behind = layback + widths.behind_m
    settling = max(layback, widths.behind_m)
    near = np.arange(-behind, 2.0 * settling, layback / 8.0)
    along = np.concatenate([near, np.linspace(2.0 * settling + layback / 8.0, TAIL * settling, 7)])
    wanted = in_order([(course, turn) for course in courses.tolist() for turn in turns.tolist()])
    lead, corners = zigzag(judge, rigging, wanted, (layback, widths.behind_m), (lon_deg, lat_deg))
    stretch = gear_stretch(lead, rigging)
    sigmas = judge.settings.check.gear_proof.sigmas
    outline = likely_outline(stretch, rigging, sigmas)
    port = np.empty((len(courses), len(turns), len(along)))
    starboard, front = np.empty_like(port), np.inf
    for (course, turn), (corner, nodes) in zip(wanted, corners, strict=True):
        seen = seen_from(outline[nodes], corner, course)
        at = round(course / step), round((turn + SHARPEST_DEG) / turn_step)
        port[at], starboard[at] = reaches(seen, along)
        if turn == 0.0:
            front = min(front, -float(seen[3, :, 1].max()))  # as it lies when the vessel is at the corner
    straight = len(turns) // 2
    # Far along, in a strong current farther than it is sailed here, what is left of any turn is gone.
    along = np.append(along, 2.0 * along[-1])
    port, starboard = (
        np.concatenate([side, np.repeat(side[:, straight : straight + 1, -1:], len(turns), axis=1)], axis=2)
        for side in (port, starboard)
    )
    more = more_at_first(judge, rigging, along, layback, (lon_deg, lat_deg))
    return Footprint(
        layback_m=layback,
        settling_m=settling,
        along_m=along,
        course_step_deg=step,
        course_period_deg=period,
        turn_deg=turns,
        port_m=port,
        starboard_m=starboard,
        first_port_m=port[:, straight, -1:] + more,
        first_starboard_m=starboard[:, straight, -1:] + more,
        front_m=front,
    )
