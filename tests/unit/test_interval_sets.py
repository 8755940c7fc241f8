"""Many sets of intervals at once, against each set by itself."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from towzone.checks.interval_sets import IntervalSets
from towzone.checks.intervals import Intervals, between, intersect, merged

SET = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 6)).map(lambda p: (float(p[0]), float(p[0] + p[1]))),
    max_size=5,
)
PAIRS = st.lists(st.tuples(SET, SET), max_size=6)


def union(rows):
    return merged([a for a, _ in rows], [b for _, b in rows])


def sets(many):
    return IntervalSets.of([union(rows) for rows in many])


def plain(some):
    """Ends of intervals of each set, as lists."""
    return [list(zip(one.first.tolist(), one.last.tolist(), strict=True)) for one in some]


@given(PAIRS)
def test_unions_are_those_of_each_set_in_whatever_order_rows_come(pairs):
    rows = [(n, *row) for n, (some, _) in enumerate(pairs) for row in some]
    rows = [rows[i] for i in np.random.default_rng(len(rows)).permutation(len(rows))]
    number, first, last = (
        (np.array(column) for column in zip(*rows, strict=True)) if rows else [np.empty(0)] * 3
    )
    made = IntervalSets.merged(len(pairs), number.astype(np.int64), first, last)
    assert plain(made.each()) == plain(union(some) for some, _ in pairs)


@given(PAIRS)
def test_sets_are_put_together_and_taken_from_each_other_one_by_one(pairs):
    one, two = sets([a for a, _ in pairs]), sets([b for _, b in pairs])
    assert plain(one.together(two).each()) == plain(union(a + b) for a, b in pairs)
    assert plain(one.between(two).each()) == plain(between(union(a), union(b)) for a, b in pairs)


@given(PAIRS)
def test_ends_that_meet_others_go_to_their_middles(pairs):
    """Looked up end by end; what touches afterwards is one."""
    own, some = [union(a) for a, _ in pairs], [union(b) for _, b in pairs]
    open_ = [between(a, b) for a, b in zip(own, some, strict=True)]
    made = IntervalSets.of(open_).to_middles(IntervalSets.of(some))
    for found, left, taken in zip(made.each(), open_, some, strict=True):
        ends = [[middle(place, taken) for place in column] for column in left]
        assert plain([found]) == plain([merged(*ends)])


def middle(place, some):
    for first, last in zip(some.first.tolist(), some.last.tolist(), strict=True):
        if place in (first, last):
            return (first + last) / 2.0
    return place


def test_some_sets_are_taken_in_any_order_and_some_intervals_of_each():
    some = IntervalSets.of([merged([0.0, 4.0], [1.0, 5.0]), merged([], []), merged([7.0], [7.0])])
    assert plain(some.take(np.array([2, 1, 0, 2])).each()) == [[(7, 7)], [], [(0, 1), (4, 5)], [(7, 7)]]
    assert plain(some.where(some.first > 3.0).each()) == [[(4, 5)], [], [(7, 7)]]
    assert some.counts.tolist() == [2, 0, 1]
    assert some.number.tolist() == [0, 0, 2]
    mixed = IntervalSets.numbered(
        3, np.array([2, 0, 0]), np.array([7.0, 0.0, 4.0]), np.array([7.0, 1.0, 5.0])
    )
    assert plain(mixed.each()) == plain(some.each())
    assert plain(IntervalSets.none(2).each()) == [[], []]


@given(PAIRS, st.lists(st.tuples(st.integers(0, 5), st.integers(0, 26), st.integers(0, 8)), max_size=6))
def test_what_lies_within_windows_is_common_to_set_and_window(pairs, windows):
    some = [union(a) for a, _ in pairs]
    asked = [(n % len(some), low, low + size) for n, low, size in windows] if some else []
    which, low, high = np.array(asked, dtype=float).reshape(-1, 3).T
    found, row = IntervalSets.of(some).within(which.astype(np.int64), low, high)
    alone = [intersect(some[n], Intervals(np.array([a]), np.array([b]))) for n, a, b in asked]
    assert plain(found.each()) == plain(alone)
    whole = IntervalSets.of(some)
    assert (whole.first[row] <= found.first).all()
    assert (found.last <= whole.last[row]).all()
    assert (whole.number[row] == which[found.number]).all()
