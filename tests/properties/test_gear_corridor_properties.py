"""What must hold for a swept corridor, wherever and however the gear was towed."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from oracles import GEOD
from strategies import numbers, positions

from towzone.gear.corridor import EDGE_TOLERANCE_M, swept

BAND_M = 0.01
"""Points nearer than 1 cm to a line between two points of one step may fall on either side."""


def laid(xy_m, place):
    """Positions of points of a flat drawing, metres east and north of a place, shape (..., 2)."""
    flat = np.asarray(xy_m, dtype=float).reshape(-1, 2)
    start = [np.full(len(flat), value) for value in place]
    lon, lat, _ = GEOD.fwd(*start, np.degrees(np.arctan2(flat[:, 0], flat[:, 1])), np.hypot(*flat.T))
    return np.column_stack([lon, lat]).reshape(np.shape(xy_m))


@st.composite
def paths(draw):
    """A flat path that turns and backs at will: places (n, 2) and headings (n,)."""
    n = draw(st.integers(1, 9))
    turns = draw(st.lists(numbers(-3.0, 3.0), min_size=n, max_size=n))
    steps = draw(st.lists(numbers(0.0, 60.0), min_size=n, max_size=n))
    heading = np.cumsum(turns)
    path = np.cumsum(np.array(steps)[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=-1), axis=0)
    return path, heading


def across(path, offsets_m):
    places, heading = path
    left = np.stack([-np.sin(heading), np.cos(heading)], axis=-1)
    return places[:, None, :] + np.asarray(offsets_m)[None, :, None] * left[:, None, :]


@st.composite
def scenes(draw):
    """(place, flat stretches): one to three, of two to four points across."""
    offsets = st.lists(numbers(-60.0, 60.0), min_size=2, max_size=4)
    stretches = [across(draw(paths()), draw(offsets)) for _ in range(draw(st.integers(1, 3)))]
    return draw(positions(85.0)), stretches


def steps(stretch):
    """All points of both moments of each step: (n - 1, 2 m, 2); of one moment its own."""
    return np.concatenate([stretch[:-1], stretch[1:]], axis=1) if len(stretch) > 1 else stretch


def in_triangles(points, corners):
    """Which points are in a triangle of any three corners, which is their hull; and how near any side is.

    Nothing is shared with the product: a point is in a triangle when it is on one side of all its sides.
    """
    held, near_m = np.zeros(len(points), dtype=bool), np.full(len(points), np.inf)
    for three in combinations(range(corners.shape[0]), 3):
        sides = [(corners[three[i]], corners[three[(i + 1) % 3]]) for i in range(3)]
        turn = np.array([cross(head - tail, points - tail) for tail, head in sides])
        flat = abs(cross(sides[0][1] - sides[0][0], corners[three[2]] - sides[0][0])) < 1e-6
        if not flat:
            held |= (turn >= 0.0).all(axis=0) | (turn <= 0.0).all(axis=0)
        for tail, head in sides:
            along = head - tail
            part = np.clip(((points - tail) @ along) / max(along @ along, 1e-30), 0.0, 1.0)
            near_m = np.minimum(near_m, np.hypot(*(points - tail - part[:, None] * along).T))
    return held, near_m


def cross(a, b):
    return a[0] * b[..., 1] - a[1] * b[..., 0]


def area_m2(stretches, place):
    return swept([laid(stretch, place) for stretch in stretches]).area_m2


@given(scenes(), st.integers(0, 2**32 - 1))
def test_a_point_is_held_if_and_only_if_a_step_went_over_it(scene, seed):
    """By brute force on every step, with points all over and points beside the corners."""
    place, stretches = scene
    rng = np.random.default_rng(seed)
    every = np.concatenate([stretch.reshape(-1, 2) for stretch in stretches])
    near = every[rng.integers(0, len(every), 40)] + rng.normal(0.0, 1.0, (40, 2))
    points = np.concatenate([near, rng.uniform(every.min(axis=0) - 5.0, every.max(axis=0) + 5.0, (60, 2))])
    answers = [
        in_triangles(points, step) for stretch in stretches for step in steps(stretch) if len(step) > 2
    ]

    found = swept([laid(stretch, place) for stretch in stretches])

    truth = np.any([held for held, _ in answers], axis=0) if answers else np.zeros(len(points), dtype=bool)
    sure = np.min([near_m for _, near_m in answers], axis=0) > BAND_M if answers else np.ones(100, dtype=bool)
    lines = [step for stretch in stretches for step in steps(stretch) if len(step) == 2]
    for tail, head in lines:
        along = head - tail
        part = np.clip(((points - tail) @ along) / max(along @ along, 1e-30), 0.0, 1.0)
        sure &= np.hypot(*(points - tail - part[:, None] * along).T) > BAND_M
    position = laid(points, place)
    np.testing.assert_array_equal(found.holds(*position.T)[sure], truth[sure])


@given(scenes())
def test_wherever_the_gear_was_is_held(scene):
    """Every point at every moment, and half way to the next point and to the next moment."""
    place, stretches = scene
    found = swept([laid(stretch, place) for stretch in stretches])

    for stretch in stretches:
        middles = (stretch + np.roll(stretch, 1, axis=1)) / 2.0
        moved = (stretch[1:] + stretch[:-1]) / 2.0
        for points in (stretch, middles, moved):
            assert found.holds(*laid(points.reshape(-1, 2), place).T).all()


@given(positions(85.0), paths(), numbers(0.0, 60.0), numbers(0.0, 30.0))
def test_wider_gear_sweeps_all_that_narrower_gear_does(place, path, half_m, more_m):
    narrow, wide = across(path, [half_m, -half_m]), across(path, [half_m + more_m, -half_m - more_m])
    held = swept([laid(wide, place)])

    corners = np.concatenate(
        [ring for polygon in swept([laid(narrow, place)]).polygons for ring in polygon] or [[]]
    )
    if corners.size:
        assert held.holds(*corners.T).all()
    assert held.area_m2 >= area_m2([narrow], place) - EDGE_TOLERANCE_M * 2000.0


@given(scenes())
def test_the_whole_is_between_the_largest_part_and_the_sum(scene):
    place, stretches = scene
    parts = [area_m2([step[None]], place) for stretch in stretches for step in steps(stretch)]

    whole = area_m2(stretches, place)

    assert max(parts) * (1.0 - 1e-6) - 1e-2 <= whole <= sum(parts) * (1.0 + 1e-6) + 1e-2 * len(parts)


@given(scenes(), numbers(-720.0, 720.0))
def test_turning_the_globe_turns_the_corridor(scene, turn_deg):
    """Nothing depends on the longitude, 180 degrees included."""
    place, stretches = scene
    positions_deg = [laid(stretch, place) for stretch in stretches]
    found = swept(positions_deg)

    turned = swept([position + np.array([turn_deg, 0.0]) for position in positions_deg])

    # Rounding to 0.01 mm in another plane, along sides of less than 5 km in all.
    assert abs(turned.area_m2 - found.area_m2) <= 0.05
    for position in positions_deg:
        lon, lat = position.reshape(-1, 2).T
        assert turned.holds(lon + turn_deg, lat).all()


@given(scenes(), st.randoms(use_true_random=False))
def test_neither_order_nor_direction_matters(scene, random):
    place, stretches = scene
    other = [stretch[::-1, ::-1] for stretch in stretches]
    random.shuffle(other)

    assert abs(area_m2(other, place) - area_m2(stretches, place)) <= 1e-3


@given(scenes())
def test_rings_are_closed_and_their_areas_make_the_whole(scene):
    place, stretches = scene
    found = swept([laid(stretch, place) for stretch in stretches])

    total_m2 = 0.0
    for polygon in found.polygons:
        for number, ring in enumerate(polygon):
            assert (ring[0] == ring[-1]).all()
            ring_m2 = GEOD.polygon_area_perimeter(*ring.T)[0]
            assert (ring_m2 > 0.0) == (number == 0)
            total_m2 += ring_m2
    assert abs(total_m2 - found.area_m2) <= 1e-6 * found.area_m2 + 1e-6
