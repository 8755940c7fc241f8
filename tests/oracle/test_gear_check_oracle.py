"""Whole checks of random tows with gear against gear dragged in small steps, and against other truths.

Three promises. By the same figures the clearance of the gear is that of `gear_oracle`, which moves the gear
by forces in small steps, within half a metre. The gear is never called clear of what it truly came too near
to, though figures be off, streams unknown and friction anything. And it is called inside only where it was.
`TOWZONE_GEAR_SCENES=300` in the environment makes as many scenes of each kind instead of a few dozen.
"""

from __future__ import annotations

import os
from dataclasses import replace
from functools import cache
from typing import NamedTuple
from unittest import mock

import numpy as np
import pytest
from gear_oracle import KNOT_MPS, along, dragged, least_m, moments
from gear_scenes import Scene, Truth, clearances_m, part_of, scene, stated, truths

from towzone.checks.run import run_check
from towzone.checks.settings import GearProof
from towzone.model.result import Part, Row, Status
from towzone.model.zone import Zone

SEED = 20261101
SCENES = int(os.environ.get("TOWZONE_GEAR_SCENES", "0"))
NOMINAL, DOUBTFUL, DRAWS = SCENES or 20, SCENES or 30, 24
STEPS, COARSE_STEPS, CHUNK = 3000, 600, 50
"""0.8 m and 4 m of way a step on the longest tows; so many scenes are worked out side by side."""
AGREED_M, SLACK_M = 0.5, 1.0
"""The small steps meet the end of a slack rope only to a step."""
SETTLING_S, LEAVING_S, ENDS_M = 300.0, 12.0, 12.0
"""While doors come down they lie still, at places that follow from when exactly each metre of warp went out;
in the last seconds before they leave they are drawn forward by tens of metres."""
BODY_SPACING_M = 8.0
START_SIGMA_RAD = 0.3
"""How far round the gear may lie when a track begins; own choice."""


# ---------------------------------------------------------------- that the second opinion is worth having


def test_the_second_opinion_follows_published_and_independent_values():
    """Tractrix round a corner, in a stream, hauled in; own derivations, solved apart by an ODE solver."""
    at = moments([0.0, 1000.0, 2000.0], 0.5)
    path = along([0.0, 1000.0, 2000.0], np.array([0.0, 1000.0, 1000.0 + 1000.0j]), at)[:, None]
    np.testing.assert_allclose(
        dragged(at, path, 400.0, 150.0).doors[-1], 934.7715 + 605.3543j, rtol=0, atol=2e-4
    )
    at = moments([0.0, 600.0], 0.5)
    path = (1.5 * at + 0.0j)[:, None]
    carried = dragged(at, path, 400.0, 1.0, current_mps=0.25j, start=1.0).doors[-1]
    np.testing.assert_allclose(carried, 504.3867 + 59.0774879j, rtol=0, atol=2e-4)
    at = moments([0.0, 200.0], 0.5)
    turned = np.exp(1j * np.radians(50.0))
    hauled = dragged(at, (1.2 * at + 0.0j)[:, None], (400.0 - 1.1 * at)[:, None], 1.0, start=turned)
    np.testing.assert_allclose(np.degrees(np.angle(hauled.u[-1])), 22.0844990, rtol=0, atol=2e-4)


@pytest.mark.parametrize(("friction", "aside"), [(0.0, 65.7596), (0.3, 51.0233), (1.0, 33.4441)])
def test_the_second_opinion_settles_between_friction_and_drag(friction, aside):
    """0.5 kn across a tow of 3 kn: L U c / sqrt((U V + f V^2)^2 + (U c)^2), own derivation."""
    at = moments([0.0, 4000.0], 1.0)
    speed = 3.0 * KNOT_MPS
    gear = dragged(
        at,
        (speed * at + 0.0j)[:, None],
        400.0,
        1.0,
        current_mps=0.5j * KNOT_MPS,
        friction=friction,
        speed_mps=speed,
    )
    np.testing.assert_allclose((gear.doors - gear.block)[-1].imag, aside, rtol=0, atol=0.002)


# ---------------------------------------------------------------- what towzone says


def checked(one, proof=GearProof.ROPE):
    """The rows of the gear of a scene by zone, and its figures by name.

    What changed figures would do to the answer is not asked here, and would take most of the time.
    """
    with mock.patch("towzone.checks.run.with_effects", lambda account, *_: account):
        result = run_check([one.track], one.zones, replace(one.settings, gear_proof=proof, reach_m=1e6))
    (tow,) = result.gear.tows
    assert not tow.why_not, tow.why_not
    rows = {z.zone_id: [] for z in one.zones}
    for row in result.rows:
        # Beside a logged tow another may have been made; that is no row of this one.
        if row.part is Part.GEAR and row.tow == tow.tow:
            rows[row.zone_id].append(row)
    return rows, {figure.name: figure for figure in tow.figures}


def nearest(rows):
    """The row with the least clearance: shooting, towing and hauling may have one each."""
    return min(rows, key=lambda row: np.inf if row.clearance_m is None else row.clearance_m)


def proved_clear(rows):
    return {row.status for row in rows} == {Status.CLEAR}


# ---------------------------------------------------------------- by the figures as they are


class Seen(NamedTuple):
    """A zone of a scene: the row of the gear with the least clearance, and where the gear truly went.

    Least clearance by part, least while the doors were surely down and drawn along, and of the whole body.
    """

    one: Scene
    target: Zone
    row: Row
    by_part: dict[str, float]
    steady_m: float
    body_m: float

    @property
    def least_m(self):
        return min(self.by_part.values())


@cache
def nominal():
    """What is told and what is true of zones near tows, by the same figures."""
    rng = np.random.default_rng([SEED, 1])
    seen = []
    for _ in range(0, NOMINAL, CHUNK):
        scenes = [scene(rng) for _ in range(min(CHUNK, NOMINAL - len(seen) // 4))]
        told = [checked(one) for one in scenes]
        many = [stated(r, one.settings.figures.current) for one, (_, r) in zip(scenes, told, strict=True)]
        for one, (rows, _), gone in zip(scenes, told, truths(scenes, many, STEPS), strict=True):
            for target in one.zones:
                body = clearances_m(one, target.zone_id, gone.body).values()
                seen.append(
                    Seen(
                        one,
                        target,
                        nearest(rows[target.zone_id]),
                        least_by_part(one, target, gone),
                        min(least_by_part(one, target, gone, *steady(one, gone)).values()),
                        min(float(c[0]) for c in body),
                    )
                )
    return seen


def least_by_part(one, target, gone, first=0, last=None):
    """Least clearance of each part between two moments, looked at between moments, too."""
    boundary, best = one.boundary(target.zone_id), {}
    roughly = {name: z[first:last, 0] for name, z in gone.tracers.items()}
    coarse = clearances_m(one, target.zone_id, {name: z[:, None] for name, z in roughly.items()})
    floor = min(float(c[0]) for c in coarse.values())
    for name, clearance in coarse.items():
        part, fine = part_of(name), float(clearance[0])
        if fine < floor + 3.0:
            fine = least_m(boundary, one.plane, roughly[name][~np.isnan(roughly[name])])[0]
        best[part] = min(best.get(part, np.inf), fine)
    return best


def steady(one, gone):
    """The moments at which the doors are surely down and drawn along: not while they come down or leave."""
    down = np.flatnonzero(~np.isnan(next(iter(gone.tracers.values()))[:, 0]))
    if not np.isfinite(one.shoot_s):
        return down[0], down[-1] + 1
    per_s = (STEPS - 1) / (one.time_s[-1] - one.time_s[0])
    return int((one.shoot_s + SETTLING_S) * per_s), int(down[-1] - LEAVING_S * per_s)


def test_the_clearance_of_the_gear_is_that_of_gear_dragged_in_small_steps():
    off, between, ends = [], 0, 0
    for seen in nominal():
        told_m, true_m = seen.row.clearance_m, seen.least_m
        if told_m == min(0.0, -seen.target.radius_m) < true_m - AGREED_M:
            # Run over between doors or wing-ends, where none of the parts that are followed passes.
            assert seen.body_m <= -seen.target.radius_m + BODY_SPACING_M, seen
            between += 1
        elif "settling" in seen.row.gear.flags and np.isfinite(seen.one.shoot_s):
            assert abs(told_m - true_m) <= ENDS_M, seen
            ends += 1
        elif seen.steady_m - true_m > 0.1:
            assert true_m - ENDS_M <= told_m <= seen.steady_m + AGREED_M, seen
            ends += 1
        else:
            # What the body runs over is not told to be farther than the points of it that are looked at.
            over = seen.body_m + seen.target.radius_m <= BODY_SPACING_M
            assert told_m <= seen.body_m + AGREED_M or not over or seen.target.shape.polygons, seen
            assert told_m <= 0.0 or seen.body_m > -0.5, seen
            off.append(abs(told_m - true_m))
            assert off[-1] <= (SLACK_M if "slack" in seen.row.gear.flags else AGREED_M), seen
    worst, most, middle = np.quantile(off, [1.0, 0.99, 0.5])
    print(
        f"\n{len(off)} clearances: worst {worst:.3f} m, 99 % {most:.3f} m, median {1000 * middle:.1f} mm; "
        f"{between} between doors, {ends} at the ends"
    )
    assert len(off) > 2 * NOMINAL


def test_the_nearest_part_is_the_one_that_is_nearest_by_a_metre():
    sure = 0
    for seen in nominal():
        first, *others = sorted(seen.by_part, key=seen.by_part.get)
        if not others or seen.steady_m - seen.least_m >= 0.1:
            continue
        if seen.by_part[others[0]] > seen.least_m + 1.0:
            assert seen.row.gear.nearest_part == first, seen
            sure += 1
    assert sure > NOMINAL


# ---------------------------------------------------------------- by truths nobody stated


def drawn(rng, one, rigging, *, wild, most):
    """Possible truths: every figure off by its deviation, together within ``most`` of them if that is given.

    Wild ones run in streams of up to 1.5 kn that nobody stated, over any ground.
    """
    own = stated(rigging, one.settings.figures.current)
    names = [n for n in rigging if n not in ("drift", "position", "antenna", "tow_speed")]
    off = np.clip(rng.normal(size=(len(names) + 4, DRAWS)), -3.0, 3.0)
    if most is not None:
        off *= np.minimum(1.0, most / np.sqrt((off**2).sum(axis=0)))
    values = {name: rigging[name].value + rigging[name].sigma * off[n] for n, name in enumerate(names)}
    for name in names:
        if rigging[name].low is not None:
            values[name] = np.clip(values[name], rigging[name].low, rigging[name].high)
        if name not in ("block_aft", "block_starboard", "beams_apart"):
            values[name] = np.maximum(values[name], 0.2)
    stream = own.current + rigging["drift"].value * KNOT_MPS * (off[-4] + 1j * off[-3])
    friction = np.zeros(DRAWS)
    if wild:
        stream = rng.uniform(0.0, 1.5, DRAWS) * KNOT_MPS * np.exp(2j * np.pi * rng.random(DRAWS))
        friction = rng.choice([0.0, 0.3, 1.0], DRAWS)
    bias = rigging["position"].value * (off[-2] + 1j * off[-1])
    turned = rng.uniform(-1.0, 1.0, DRAWS) if wild else START_SIGMA_RAD * off[0] * (most is None)
    return Truth(own.rig, values, stream, friction, bias, turned)


def truly_m(one, target, gone, size_m, need_m):
    """Least clearance of the whole body in each truth; infinite where it is far beyond what is needed."""
    # Every point of the gear is within its own size of the first tracer.
    first, within = next(iter(gone.tracers)), need_m + size_m
    near = clearances_m(one, target.zone_id, {first: gone.tracers[first]}, within)[first] <= within
    true_m = np.full(DRAWS, np.inf)
    if near.any():
        body = {name: z[:, near] for name, z in gone.body.items()}
        true_m[near] = np.min(list(clearances_m(one, target.zone_id, body, need_m + 10.0).values()), axis=0)
    return true_m


@cache
def sailed():
    """Scenes with figures left out, half of them in a stream that is stated, and what is told of each."""
    rng = np.random.default_rng([SEED, 2])
    return [
        (one, {proof: checked(one, proof) for proof in GearProof})
        for one in (scene(rng, guesses=True, away_m=1400.0) for _ in range(DOUBTFUL))
    ]


@cache
def outcomes(proof, *, wild=False, most=None):
    """Of zones proved clear, and of zones the gear was said to be inside: scene, zone, true clearances."""
    rng = np.random.default_rng([SEED, 3, wild, most is not None])
    some = [(one, *told[proof]) for one, told in sailed() if not (wild and one.settings.figures.current)]
    clear, inside = [], []
    for begin in range(0, len(some), CHUNK):
        part = some[begin : begin + CHUNK]
        many = [drawn(rng, one, rigging, wild=wild, most=most) for one, _, rigging in part]
        went = truths([one for one, _, _ in part], many, COARSE_STEPS)
        for (one, rows, rigging), gone in zip(part, went, strict=True):
            size = sum(rigging[n].value for n in ("door_spread", "sweeps", "net_length") if n in rigging)
            for target in one.zones:
                own = rows[target.zone_id]
                if proved_clear(own):
                    true_m = truly_m(one, target, gone, size + 100.0, target.margin_m)
                    clear.append((one, target, true_m))
                elif any(row.reason == "gear_inside" for row in own):
                    inside.append((one, target, truly_m(one, target, gone, np.inf, 0.0)))
    return clear, inside


@pytest.mark.parametrize("wild", [False, True], ids=["figures off", "streams and friction unknown"])
def test_gear_proved_clear_by_its_ropes_was_clear_in_every_truth(wild):
    clear, _ = outcomes(GearProof.ROPE, wild=wild)
    for one, target, true_m in clear:
        assert (true_m >= target.margin_m).all(), (one.settings, target, true_m)
    print(f"\nproved clear by ropes: {len(clear)} of {len(sailed()) * 4} zones")
    assert len(clear) > DOUBTFUL / 5


@pytest.mark.parametrize("wild", [False, True], ids=["figures off", "streams and friction unknown"])
def test_gear_taken_as_clear_by_the_model_was_clear_in_nearly_every_truth(wild):
    """Three deviations: of normal errors one in 740 goes beyond them to one side, where nearness matters."""
    clear, _ = outcomes(GearProof.MODEL, wild=wild)
    wrong = sum(int((true_m < target.margin_m).sum()) for _, target, true_m in clear)
    print(f"\nby the model: {len(clear)} of {4 * DOUBTFUL} zones, wrong {wrong} of {len(clear) * DRAWS}")
    assert len(clear) > DOUBTFUL / 5
    assert wrong <= max(1, len(clear) * DRAWS * (0.002 if not wild else 0.01))


def test_gear_called_inside_was_inside_in_every_truth_within_two_deviations():
    _, inside = outcomes(GearProof.ROPE, most=2.0)
    for one, target, true_m in inside:
        assert (true_m < 0.0).all(), (one.settings, target, true_m)
    print(f"\nsaid to be inside: {len(inside)} of {len(sailed()) * 4} zones")
    assert len(inside) > DOUBTFUL / 20
