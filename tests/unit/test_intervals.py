"""Sets of intervals against a plain count of which half-integers they hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towzone.checks.intervals import Intervals, between, intersect, merged

SMALL = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 6)).map(lambda p: (p[0], p[0] + p[1])), max_size=6
)


def held(some: Intervals) -> set[float]:
    """Halves from 0 to 30 inside closed intervals: whole numbers may be ends, the others are inner."""
    grid = np.arange(0.0, 30.0, 0.5)
    return {g for g in grid.tolist() for a, b in zip(some.first, some.last, strict=True) if a <= g <= b}


def built(rows):
    return merged([float(a) for a, _ in rows], [float(b) for _, b in rows])


@given(SMALL)
def test_merged_holds_what_its_parts_hold_in_order_and_apart(rows):
    union = built(rows)
    grid = np.arange(0.0, 30.0, 0.5).tolist()
    assert held(union) == {g for g in grid for a, b in rows if a <= g <= b}
    assert (union.first <= union.last).all()
    assert (union.first[1:] > union.last[:-1]).all()


@given(SMALL, SMALL)
def test_intersect_holds_what_both_hold(one, two):
    assert held(intersect(built(one), built(two))) == held(built(one)) & held(built(two))


@given(SMALL, SMALL)
def test_between_leaves_the_inner_places_that_are_not_taken(whole, taken):
    """Ends of what was taken stay as ends of what is left, so inner halves are compared."""
    left = between(built(whole), built(taken))
    inner = {g for g in held(built(whole)) - held(built(taken)) if g % 1.0}
    assert {g for g in held(left) if g % 1.0} == inner
    assert (left.first <= left.last).all()


@given(SMALL, SMALL)
def test_between_keeps_every_single_place_that_nothing_takes(whole, taken):
    lone = {a for a, b in zip(*built(whole), strict=True) if a == b} - held(built(taken))
    left = between(built(whole), built(taken))
    assert lone <= {a for a, b in zip(*left, strict=True) if a == b}


@pytest.mark.parametrize("gap", [0.0, 5e-10])
def test_intervals_nearer_than_the_touch_become_one(gap):
    assert len(merged([0.0, 1.0 + gap], [1.0, 2.0])) == 1


def test_intervals_apart_stay_apart_and_a_wider_touch_joins_them():
    assert len(merged([0.0, 1.1], [1.0, 2.0])) == 2
    assert len(merged([0.0, 1.1], [1.0, 2.0], touch=0.2)) == 1


def test_nothing_merged_is_nothing():
    assert len(merged([], [])) == 0
    assert len(intersect(merged([], []), merged([0.0], [1.0]))) == 0
    assert between(merged([0.0], [1.0]), merged([], [])).first.tolist() == [0.0]
