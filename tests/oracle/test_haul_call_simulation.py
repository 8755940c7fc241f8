"""Hauls called at the places that are advised, simulated: nothing may come over the boundary.

The gear is that of `gear_oracle`, moved by forces in small steps, with figures off by as much as their spread
allows, any stream up to the strongest, and friction anything; the winch is as slow as it may be. The boundary
is straight and met at any angle. Of the product only the figures of the advice are used: how far before a
boundary a call must be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from gear_oracle import KNOT_MPS, dragged, level
from planned_tows import PORT, bent, judge_of
from scenes import line, moved, zone

from towzone.geodesy.lines import LineKind
from towzone.model.vessel import GearFigures, Rig
from towzone.plan.advice.ends import Ends
from towzone.plan.advice.gear_ends import GearEnds, gear_ends
from towzone.plan.advice.haul_call import haul_call_advice
from towzone.plan.along import Way
from towzone.plan.judging import Judge
from towzone.plan.lines import legs_of

SEED = 20261126
COUNT, CHUNK = 2400, 600
BEFORE, HAULING = 60, 240
"""Steps before the call, over half a layback, and while the warp and all behind it come in."""
EDGE_M = 0.5
"""The small steps of coarse samples meet the end of a slack rope only to a step."""


@dataclass(frozen=True)
class Box:
    """Stated figures of many tows, as columns; angles in radians, lengths metres, speeds m/s."""

    warp: np.ndarray
    depth: np.ndarray
    spread: np.ndarray
    sweeps: np.ndarray
    net: np.ndarray
    speed: np.ndarray
    way: np.ndarray
    heave: np.ndarray
    angle: np.ndarray
    strongest: np.ndarray
    margin: np.ndarray

    @classmethod
    def drawn(cls, rng, count):
        warp = np.exp(rng.uniform(math.log(150.0), math.log(1500.0), count))
        speed = rng.uniform(1.2, 2.4, count)
        return cls(
            warp=warp,
            depth=warp / rng.uniform(2.2, 6.0, count),
            spread=np.minimum(rng.uniform(30.0, 120.0, count), warp / 3.0),
            sweeps=rng.uniform(70.0, 250.0, count),
            net=rng.uniform(25.0, 90.0, count),
            speed=speed,
            way=speed * rng.uniform(0.35, 1.0, count),
            heave=rng.uniform(0.6, 1.8, count),
            angle=np.radians(rng.uniform(20.0, 90.0, count)),
            strongest=rng.uniform(0.0, 1.0, count) * KNOT_MPS,
            margin=rng.choice([0.0, 100.0, 460.0], count),
        )

    def judge(self, n, zones=()):
        """The judge of one of them."""
        figures = GearFigures(
            rig=Rig.SINGLE,
            warp_m=self.warp[n],
            depth_m=self.depth[n],
            block_height_m=5.0,
            block_separation_m=8.0,
            door_spread_m=self.spread[n],
            sweeps_m=self.sweeps[n],
            net_length_m=self.net[n],
            block_aft_m=12.0,
            block_starboard_m=0.0,
            heave_speed_mps=self.heave[n],
            strongest_kn=self.strongest[n] / KNOT_MPS,
        )
        return judge_of(
            zones,
            figures=figures,
            speed_kn=self.speed[n] / KNOT_MPS,
            hauling_way_kn=self.way[n] / KNOT_MPS,
            strongest_kn=self.strongest[n] / KNOT_MPS,
        )


@dataclass(frozen=True)
class Advised:
    """How far before the boundary, along the course, each call is advised; and the spreads of the figures."""

    guaranteed: np.ndarray
    doors: np.ndarray
    sigmas: dict[str, np.ndarray]


def needs(judge: Judge, margin_m: float) -> tuple[Ends, GearEnds]:
    way = Way.of(bent((90.0, 5000.0)), LineKind.RHUMB)
    cable = zone(line(PORT, moved(PORT, 0.0, 1000.0)))
    ends = Ends(
        way=way,
        judge=judge,
        checker=judge,
        zone=cable,
        number=0,
        boundaries=judge.boundaries,
        margin_m=margin_m,
    )
    known = gear_ends(judge)
    assert known is not None
    return ends, known


@cache
def advised():
    """What the product asks for, put together for a straight boundary at an angle."""
    box = Box.drawn(np.random.default_rng(SEED), COUNT)
    guaranteed, doors = np.empty(COUNT), np.empty(COUNT)
    names = ("warp", "depth", "sweeps", "net_length", "wing_spread", "door_spread", "block_height")
    sigmas = {name: np.empty(COUNT) for name in (*names, "antenna", "position", "heave_speed")}
    for n in range(COUNT):
        judge = box.judge(n)
        line_ends, ends = needs(judge, box.margin[n])
        sin, cos = math.sin(box.angle[n]), math.cos(box.angle[n])
        guaranteed[n] = line_ends.rope_needs_m / sin + line_ends.hauling_m
        square_m = box.margin[n] + 3.0 * ends.place_sigma_m + ends.wide_surely_m * cos
        doors[n] = square_m / sin + max(ends.last_ahead_m, 0.0)
        for name, column in sigmas.items():
            column[n] = getattr(judge.rigging, name).sigma
    return box, Advised(guaranteed, doors, sigmas)


def test_the_distances_put_together_are_those_of_the_advice():
    """A few whole plans: the boundary is met 15 km on, at the angle of the tow."""
    box, found = advised()
    tow = bent((90.0, 18_000.0))
    at, course_deg = moved(PORT, 90.0, 15_000.0), float(legs_of(tow, LineKind.RHUMB).course0_deg[0])
    some = np.flatnonzero((box.warp < 700.0) & (np.degrees(box.angle) > 30.0))[:3]
    for n in some.tolist():
        turned = [course_deg - math.degrees(box.angle[n]) + turn for turn in (0.0, 180.0)]
        wall = zone(line(*(moved(at, bearing, 9000.0) for bearing in turned)), margin_m=float(box.margin[n]))
        judge = box.judge(n, [wall])
        (advice,) = haul_call_advice(tow, judge, judge.rows(tow))

        figures = advice.figures
        assert figures["guaranteed_before_boundary_m"] == pytest.approx(found.guaranteed[n], abs=3.0)
        # The vessel of a line that must not be fished across keeps clear of it, too, until the doors are off.
        assert figures["doors_surely_before_boundary_m"] >= found.doors[n] - 2.0


@dataclass(frozen=True)
class Truth:
    """What the gear of some tows did: complex metres, x ahead of where the haul was called, y to port."""

    doors: np.ndarray
    net: np.ndarray
    doors_down: np.ndarray


def haul(box: Box, sigmas, rng, rows) -> Truth:
    """Haul the gear of some tows; every true figure is within three spreads (the winch two) of the stated."""
    k = len(rows)

    def true(value, name, most=3.0):
        return value[rows] + sigmas[name][rows] * np.clip(rng.normal(size=k) * 1.5, -most, most)

    warp = true(box.warp, "warp")
    # Of errors that add up, three spreads of the sum.
    deeper = np.hypot(sigmas["depth"][rows], sigmas["block_height"][rows])
    height = box.depth[rows] + 5.0 + deeper * np.clip(rng.normal(size=k) * 1.5, -3.0, 3.0)
    height = np.minimum(height, 0.9 * warp)
    spread = np.maximum(true(box.spread, "door_spread"), 10.0)
    sweeps, net = true(box.sweeps, "sweeps"), true(box.net, "net_length")
    heave = true(box.heave, "heave_speed", 2.0)
    heave = np.where(rng.random(k) < 0.5, box.heave[rows] - 2.0 * sigmas["heave_speed"][rows], heave)
    stream = box.strongest[rows] * np.exp(2j * np.pi * rng.random(k))
    friction = rng.choice([0.0, 0.0, 0.3, 1.0], k)

    layback = level(warp, height, (spread - 8.0) / 2.0)
    hanging = np.where(height > sweeps + net, height, 0.0)
    up_s = (warp + sweeps + net - hanging) / heave
    before_s = 0.5 * layback / box.speed[rows]
    clock = np.concatenate(
        [
            np.linspace(-1.0, 0.0, BEFORE + 1)[:-1, None] * before_s,
            np.linspace(0.0, 1.0, HAULING + 1)[:, None] * up_s,
        ]
    )
    off = 3.0 * np.hypot(sigmas["position"][rows], sigmas["antenna"][rows])
    off = off * np.exp(2j * np.pi * rng.random(k))
    block = np.where(clock < 0.0, clock * box.speed[rows], clock * box.way[rows]) - 12.0
    block = block + off
    out = warp - heave * np.clip(clock, 0.0, None)
    left = np.maximum(out, 0.0)
    behind = sweeps + net + np.minimum(out, 0.0)  # the doors are up: sweeps and net come in as well
    aside = (spread - 8.0) / 2.0
    towline = level(
        left, np.minimum(height, left), np.minimum(aside, np.sqrt(np.maximum(left**2 - height**2, 0.0)))
    )
    # Gear that has long been towed lies along its way through the water.
    start = box.speed[rows] - stream
    gear = dragged(
        clock,
        block + 0.0j,
        np.maximum(towline, 0.01),
        np.maximum(behind, 0.01),
        current_mps=stream,
        friction=friction,
        speed_mps=box.speed[rows],
        start=start / np.abs(start),
        turned=rng.choice([-0.1, 0.0, 0.1], k),
    )
    # Doors nearly below their blocks lie abeam of the vessel: of a rope of no length there is no direction.
    across = np.where(np.abs(gear.block - gear.doors) > spread / 4.0, 1j * gear.u, 1j)
    # On its own warp no door is farther from its block than that reaches: in the end each hangs below it.
    half = np.minimum(np.maximum(spread / 2.0 - 4.0, 0.0), level(left, np.minimum(height, left)))
    doors = np.stack([gear.doors + side * (half * across + 4.0j) for side in (-1.0, 1.0)])
    wings = gear.codend + np.minimum(net, behind) * gear.u2
    nets = np.stack([gear.codend, *(wings + side * 15.0 * 1j * gear.u2 for side in (-1.0, 1.0))])
    return Truth(doors, nets, left > height)


def beyond_m(z, box, rows, before_m, hand):
    """How far points are beyond the boundary, square to it; ``hand`` says to which side it runs away."""
    angle = box.angle[rows]
    return z.real * np.sin(angle) + hand * z.imag * np.cos(angle) - before_m * np.sin(angle)


@cache
def simulated():
    """How far all parts, and doors that are down, come over the margin: one hand after the other."""
    box, found = advised()
    rng = np.random.default_rng(SEED + 1)
    everything, doors = [], []
    truths = [
        (rows, haul(box, found.sigmas, rng, rows)) for rows in np.split(np.arange(COUNT), COUNT // CHUNK)
    ]
    for hand in (-1.0, 1.0):
        for rows, truth in truths:
            down = np.where(truth.doors_down, 0.0, -np.inf)
            ahead = [
                beyond_m(part, box, rows, 0.0, hand).max(axis=(0, 1))
                for part in (truth.doors + down, truth.net)
            ]
            square = np.sin(box.angle[rows])
            everything.append(np.maximum(*ahead) - found.guaranteed[rows] * square + box.margin[rows])
            doors.append(ahead[0] - found.doors[rows] * square + box.margin[rows])
    return np.concatenate(everything), np.concatenate(doors)


def test_from_the_guaranteed_place_no_part_comes_under_the_margin():
    everything, _ = simulated()

    assert (everything <= EDGE_M).all(), everything.max()


def test_from_the_doors_place_the_doors_do_not_come_under_the_margin_while_they_are_down():
    _, doors = simulated()

    assert (doors <= EDGE_M).all(), (doors.max(), (doors > 0.0).mean())


def test_the_guaranteed_place_holds_for_gear_that_moves_as_it_likes_on_its_rope():
    """At each moment the rope that is out, drawn tight towards the boundary: own bound, by hand."""
    box, found = advised()
    share = np.linspace(0.0, 1.0, 400)[:, None]
    sigmas = found.sigmas
    warp = box.warp + 3.0 * sigmas["warp"]
    behind = box.sweeps + box.net + 3.0 * (sigmas["sweeps"] + sigmas["net_length"])
    height = np.maximum(box.depth + 5.0 - 3.0 * np.hypot(sigmas["depth"], sigmas["block_height"]), 0.0)
    slow = box.heave - 2.0 * sigmas["heave_speed"]
    hanging = np.where(box.depth + 5.0 > box.sweeps + box.net, box.depth + 5.0, 0.0)
    clock = share * (box.warp + box.sweeps + box.net - hanging) / slow
    out = np.maximum(warp - slow * clock, 0.0)
    reach = np.sqrt(np.maximum(out**2 - height**2, 0.0)) + behind
    far = (box.way * clock - 12.0) * np.sin(box.angle) + reach

    assert (far.max(axis=0) <= (found.guaranteed * np.sin(box.angle)) - box.margin).all()


def test_the_guaranteed_place_is_no_farther_off_than_hauling_and_rope_make_it():
    """Own sum, of stated figures: warp, sweeps and net in at the slowest, and their length drawn tight."""
    box, found = advised()
    sigmas, height, behind = found.sigmas, box.depth + 5.0, box.sweeps + box.net
    slow = box.heave - 2.0 * sigmas["heave_speed"]
    surely = height - 3.0 * np.hypot(sigmas["depth"], sigmas["block_height"])
    surely = surely > behind + 3.0 * (sigmas["sweeps"] + sigmas["net_length"])
    rope = np.sqrt(box.warp**2 - height**2) + behind
    least, most = (
        box.way * (box.warp + behind - np.where(hangs, height, 0.0)) / slow
        + (rope + box.margin) / np.sin(box.angle)
        for hangs in (height > behind, surely)
    )

    # Three spreads of every length, the offset of the block and the errors of positions come on top.
    assert (found.guaranteed >= least).all()
    assert (found.guaranteed <= 1.25 * most + 120.0 / np.sin(box.angle)).all()


def test_called_later_the_simulated_gear_does_come_over_the_boundary():
    """At the margin itself most of it does; and of the doors some with a fifth less than is asked for."""
    box, found = advised()
    everything, doors = simulated()
    square = np.tile(np.sin(box.angle), 2)
    at_margin = everything + np.tile(found.guaranteed - box.margin / np.sin(box.angle), 2) * square
    less = doors + 0.2 * np.tile(found.doors - box.margin / np.sin(box.angle), 2) * square

    assert (at_margin > 0.0).mean() > 0.5
    assert (less > 0.0).mean() > 0.005
