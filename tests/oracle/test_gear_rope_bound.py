"""The rope bound against gear that streams carry about, and against ropes that know no model at all.

The bound is what a proof that the gear kept clear rests on. It must hold for gear nobody has modelled: doors
each on its own warp, sweeps and nets thrown about at random, a tide that turns, warp that goes out and comes
in, blocks apart, a bottom that falls and rises. And it must not be wider than it need be: then it proves
nothing.
"""

from __future__ import annotations

import numpy as np
import pytest
from gear_oracle import KNOT_MPS, along, dragged, level, moments, thrashed

from towzone.gear.layback import bottom_reach_m, rope_bound_m

SEED = 20260801
DIRECTIONS = np.exp(1j * np.radians(np.arange(8) * 45.0))
DRIFTS_KN = (0.3, 0.7, 1.2, 2.0)
FRICTIONS = (0.0, 0.4, 1.0)
ROUNDING_M = 1e-6


def tow(rng, legs=9):
    """A vessel's path with sharp turns at towing speed: times and places of its corners."""
    lengths = rng.uniform(80.0, 900.0, legs)
    turns = rng.uniform(-np.pi, np.pi, legs) * rng.choice([0.2, 1.0], legs)
    places = np.concatenate([[0.0], np.cumsum(lengths * np.exp(1j * np.cumsum(turns)))])
    return np.concatenate([[0.0], np.cumsum(lengths / (rng.uniform(2.0, 4.0, legs) * KNOT_MPS))]), places


def tides(at, rng):
    """Streams that turn and change: 8 directions by 4 drifts by 3 frictions, (n, 96), and the frictions."""
    sets, drifts, frictions = (
        c.ravel() for c in np.meshgrid(DIRECTIONS, DRIFTS_KN, FRICTIONS, indexing="ij")
    )
    # A tide turns through all directions in 12.4 hours (common knowledge); some here are ten times as quick.
    turn = 2.0 * np.pi / (12.4 * 3600.0) * rng.uniform(0.0, 10.0, len(sets))
    breath = 1.0 - rng.uniform(0.0, 0.5, len(sets)) * np.sin(at[:, None] / rng.uniform(300.0, 3000.0))
    return sets * np.exp(1j * turn * at[:, None]) * drifts * KNOT_MPS * breath, frictions


def figures(rng):
    return {
        "warp": rng.uniform(200.0, 700.0),
        "blocks": rng.uniform(0.0, 12.0),
        "spread": rng.uniform(30.0, 120.0),
        "sweeps": rng.uniform(60.0, 200.0),
        "net": rng.uniform(30.0, 80.0),
        "wing": rng.uniform(10.0, 28.0),
    }


def changing(at, rng, mean, share):
    """A figure that swings slowly about its mean."""
    return mean * (1.0 + share * np.sin(at / rng.uniform(200.0, 2000.0) + rng.uniform(0.0, 6.0)))


@pytest.mark.parametrize("number", range(6))
def test_gear_dragged_through_turning_tides_stays_within_the_bound(number):
    rng = np.random.default_rng([SEED, number])
    times, places = tow(rng)
    at = moments(times, 2.0)
    rig = figures(rng)
    warp, height = changing(at, rng, rig["warp"], 0.1), changing(at, rng, 0.3 * rig["warp"], 0.15)
    block = along(times, places, at)
    current, friction = tides(at, rng)
    behind = level(rig["sweeps"], 0.0, (rig["spread"] - rig["wing"]) / 2.0)
    towline = level(warp, height, (rig["spread"] - rig["blocks"]) / 2.0)[:, None]
    gear = dragged(
        at,
        block[:, None],
        towline,
        behind + rig["net"],
        current_mps=current,
        friction=friction,
        speed_mps=1.5,
    )
    half = 0.5j * gear.u * rig["spread"]
    mouth = gear.codend + gear.u2 * rig["net"]
    parts = [gear.doors + half, gear.doors - half, gear.codend]
    parts += [mouth + side * 0.5j * gear.u2 * rig["wing"] for side in (-1.0, 1.0)]
    bound = float(rope_bound_m(warp.max(), height.min(), rig["sweeps"], rig["net"])) + rig["blocks"] / 2.0
    farthest = max(float(np.abs(part - block[:, None]).max()) for part in parts)
    assert farthest <= bound + ROUNDING_M
    # At each moment, too, with the warp and the depth of that moment.
    now = rope_bound_m(warp, height, rig["sweeps"], rig["net"]) + rig["blocks"] / 2.0
    assert all((np.abs(part - block[:, None]) <= now[:, None] + ROUNDING_M).all() for part in parts)
    assert farthest > 0.9 * bound, "gear that never comes near the bound shows nothing"


@pytest.mark.parametrize("number", range(4))
def test_gear_held_by_nothing_but_its_ropes_stays_within_the_bound(number):
    rng = np.random.default_rng([SEED, 100 + number])
    times, places = tow(rng, legs=5)
    at = moments(times, 3.0)
    rig = figures(rng)
    warp, height = changing(at, rng, rig["warp"], 0.15), changing(at, rng, 0.3 * rig["warp"], 0.2)
    block = along(times, places, at)
    current, _ = tides(at, rng)
    pick = rng.integers(current.shape[1])
    parts = thrashed(
        rng, at, block, reach_m=level(warp, height), blocks_m=rig["blocks"], sweeps_m=rig["sweeps"],
        net_m=rig["net"], wildness_mps=4.0, current_mps=current[:, pick],
    )  # fmt: skip
    bound = rope_bound_m(warp, height, rig["sweeps"], rig["net"]) + rig["blocks"] / 2.0
    for name, part in parts.items():
        assert (np.abs(part - block) <= bound + ROUNDING_M).all(), name
    assert (np.abs(parts["codend"] - block) / bound).max() > 0.95


def test_the_bound_is_reached_by_gear_stretched_out_astern():
    """Doors as far apart as blocks and wing-ends: warp, sweeps and net in one line."""
    times, places = np.array([0.0, 2000.0]), np.array([0.0, 3000.0])
    at = moments(times, 1.0)
    astern = float(level(350.0, 105.0))
    gear = dragged(at, along(times, places, at)[:, None], astern, 155.0)
    reached = np.abs(gear.block - gear.codend)
    bound = float(rope_bound_m(350.0, 105.0, 105.0, 50.0))
    np.testing.assert_allclose(reached, bound, rtol=0, atol=1e-6)
    # Own derivation, worked out on its own: sqrt(350^2 - 105^2) + 105 + 50.
    np.testing.assert_allclose(bound, 488.8787, rtol=0, atol=1e-4)


@pytest.mark.parametrize(("warp", "height"), [(350.0, 105.0), (300.0, 110.0), (90.0, 105.0), (20.0, 105.0)])
def test_nothing_touches_the_bottom_beyond_the_reach_wherever_the_doors_are(warp, height):
    """Random chains in space, block to door to wing-end to codend: those with an end on the bottom."""
    rng = np.random.default_rng([SEED, int(warp)])
    lengths = np.array([warp, 110.0, 50.0])
    most = float(bottom_reach_m(warp, height, 110.0, 50.0))
    steep = np.arccos(np.minimum(height / (lengths.sum()), 1.0))
    n = 200_000
    # Directions near the one in which the chain is just long enough, and any others.
    down = np.where(
        rng.random((n, 3)) < 0.7, steep + rng.normal(0.0, 0.05, (n, 3)), rng.uniform(0, 3.1, (n, 3))
    )
    turn = np.where(rng.random((n, 1)) < 0.7, 0.0, rng.uniform(0.0, 2.0 * np.pi, (n, 3)))
    size = lengths * np.where(rng.random((n, 3)) < 0.7, 1.0, rng.random((n, 3)))
    depth = np.cumsum(size * np.cos(down), axis=1)
    out = np.cumsum(size * np.sin(down) * np.exp(1j * turn), axis=1)
    above = np.minimum.accumulate(depth <= height + 1.0, axis=1)  # no rope runs through the ground
    touching = above & (np.abs(depth - height) < 1.0)
    far = np.abs(out[touching]).max(initial=0.0)
    one_metre = float(bottom_reach_m(warp, height - 1.0, 110.0, 50.0))
    assert far <= one_metre + ROUNDING_M
    assert far > 0.97 * most
