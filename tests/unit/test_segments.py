"""Segments in a plane against dense sampling of both; sampling can only err upwards, by half a step."""

from __future__ import annotations

import numpy as np
import pytest

from towzone.geodesy import segments

SEED = 20260312
PAIRS = 200
GRID = np.linspace(0.0, 1.0, 201)


def random_segments(rng, n):
    """Two columns of segments of all sizes: apart, crossing, parallel, touching, of no length."""
    a0, b0 = rng.uniform(-100.0, 100.0, (2, n, 2))
    a1, b1 = a0 + rng.normal(0.0, 60.0, (n, 2)), b0 + rng.normal(0.0, 60.0, (n, 2))
    which = np.arange(n) % 8
    b1[which == 1] = b0[which == 1] + (a1 - a0)[which == 1] * 0.7  # parallel
    b0[which == 2] = a1[which == 2]  # end on end
    a1[which == 3] = a0[which == 3]  # no length
    b1[which == 4] = b0[which == 4]
    a1[which == 5], b1[which == 5] = a0[which == 5], b0[which == 5]
    middle = (a0 + a1)[which == 6] / 2.0  # crossing
    across = b1[which == 6] - b0[which == 6]
    b0[which == 6], b1[which == 6] = middle - across / 3.0, middle + across / 3.0
    b0[which == 7] = a0[which == 7] + (a1 - a0)[which == 7] * 0.2  # overlapping on one line
    b1[which == 7] = a0[which == 7] + (a1 - a0)[which == 7] * 1.4
    return a0, a1, b0, b1


def by_row(search, *columns):
    """A compiled search of single pairs asked row by row; a tuple of columns."""
    points = [[tuple(p) if np.ndim(p) else float(p) for p in column] for column in columns]
    return tuple(
        np.array(column) for column in zip(*(search(*row) for row in zip(*points, strict=True)), strict=True)
    )


def along(p0, p1, t):
    return p0[:, None, :] + t[None, :, None] * (p1 - p0)[:, None, :]


def sampled_distances(a0, a1, b0, b1):
    """Distance from each sample of a to the segment b, shape (n, samples), by dense points of b."""
    a, b = along(a0, a1, GRID), along(b0, b1, np.linspace(0.0, 1.0, 1001))
    return np.stack([np.sqrt(((b - a[:, k, None, :]) ** 2).sum(-1)).min(axis=1) for k in range(len(GRID))], 1)


@pytest.fixture(scope="module")
def scene():
    rng = np.random.default_rng(SEED)
    segments = random_segments(rng, PAIRS)
    return segments, sampled_distances(*segments)


def step_m(segments):
    a0, a1, b0, b1 = segments
    length_a, length_b = np.sqrt(((a1 - a0) ** 2).sum(1)), np.sqrt(((b1 - b0) ** 2).sum(1))
    return length_a / 200.0, length_b / 1000.0


def test_nearest_parts_are_as_near_as_any_sample(scene):
    (a0, a1, b0, b1), sampled = scene
    first, second, crossing = by_row(segments.nearest_parts, a0, a1, b0, b1)
    on_a, on_b = a0 + first[:, None] * (a1 - a0), b0 + second[:, None] * (b1 - b0)
    found = np.where(crossing, 0.0, np.sqrt(((on_a - on_b) ** 2).sum(1)))
    a_step, b_step = step_m(scene[0])
    assert (found <= sampled.min(axis=1) + 1e-9).all()
    assert (found >= sampled.min(axis=1) - (a_step + b_step) / 2.0 - 1e-9).all()
    assert ((first >= 0.0) & (first <= 1.0) & (second >= 0.0) & (second <= 1.0)).all()


def test_segments_laid_across_each_other_are_said_to_cross_at_one_point(scene):
    a0, a1, b0, b1 = scene[0]
    first, second, crossing = by_row(segments.nearest_parts, a0, a1, b0, b1)
    assert crossing[6::8].all()
    on_a, on_b = a0 + first[:, None] * (a1 - a0), b0 + second[:, None] * (b1 - b0)
    apart = np.sqrt(((on_a - on_b) ** 2).sum(1))[6::8]
    np.testing.assert_allclose(apart, 0.0, rtol=0, atol=1e-9)
    assert not crossing[[3, 4, 5]].any(), "what has no length crosses nothing"


@pytest.mark.parametrize("limit_m", [0.5, 10.0, 40.0, 150.0])
def test_reach_interval_holds_exactly_the_samples_within_the_limit(scene, limit_m):
    (a0, a1, b0, b1), sampled = scene
    first, last = by_row(segments.reach_interval, a0, a1, b0, b1, np.full(PAIRS, limit_m))
    within = (first[:, None] <= GRID) & (last[:, None] >= GRID)
    a_step, b_step = step_m(scene[0])
    unsure = np.abs(sampled - limit_m) <= b_step[:, None] + 1e-9
    assert (within == (sampled <= limit_m))[~unsure].all()
    assert within.any()
    assert not within.all()
    reached = first <= last
    for place in (first, last):
        inner = reached & (place > 0.0) & (place < 1.0) & (a_step > 0.0)
        nearest = np.array([np.interp(p, GRID, row) for p, row in zip(place, sampled, strict=True)])
        tolerance = (a_step + b_step + 1e-9)[inner]
        assert (np.abs(nearest - limit_m)[inner] <= tolerance).all(), "an interval ends at the limit itself"


def test_least_detour_is_as_short_as_any_sample(scene):
    """The way from p over the segment to q, with p and q on either side, on it and far away."""
    rng = np.random.default_rng(SEED + 1)
    _, _, b0, b1 = scene[0]
    p, q = rng.uniform(-200.0, 200.0, (2, PAIRS, 2))
    p[::10] = b0[::10] + 0.3 * (b1 - b0)[::10]  # on the segment
    q[::20] = b0[::20] + 1.7 * (b1 - b0)[::20]  # both on its line
    q[5::20] = p[5::20]  # one place
    part = np.array([segments.least_detour(*map(tuple, row)) for row in zip(p, q, b0, b1, strict=True)])
    assert ((part >= 0.0) & (part <= 1.0)).all()

    def way(t):
        at = b0[:, None, :] + t[..., None] * (b1 - b0)[:, None, :]
        return np.sqrt(((at - p[:, None]) ** 2).sum(-1)) + np.sqrt(((at - q[:, None]) ** 2).sum(-1))

    found = way(part[:, None])[:, 0]
    best = way(np.broadcast_to(np.linspace(0.0, 1.0, 4001), (PAIRS, 4001))).min(axis=1)
    assert (found <= best + 1e-9).all()
