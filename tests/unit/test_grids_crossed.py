"""Rectangles that a path crosses, in order."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from towzone.grids.crossed import cells_crossed, cells_of_each
from towzone.grids.ices import ICES, rectangle_at


def crossed(*positions):
    lon, lat = np.array(positions, dtype=float).T
    return cells_crossed(ICES, lon, lat)


def test_a_path_inside_one_rectangle_has_one():
    assert crossed((3.2, 54.1), (3.4, 54.3), (3.5, 54.2)) == ("37F3",)


def test_a_leg_over_a_corner_names_the_rectangle_between():
    # From 37F2 over the parallel of 54 30 N (at a quarter) before the meridian of 3 E (at a half).
    assert crossed((2.9, 54.475), (3.1, 54.575)) == ("37F2", "38F2", "38F3")


def test_a_long_leg_names_every_rectangle_in_order():
    assert crossed((0.5, 54.1), (4.5, 54.1)) == ("37F0", "37F1", "37F2", "37F3", "37F4")
    assert crossed((4.5, 54.1), (0.5, 54.1)) == ("37F4", "37F3", "37F2", "37F1", "37F0")


def test_a_rectangle_entered_twice_is_named_once():
    assert crossed((2.9, 54.1), (3.1, 54.1), (2.9, 54.1)) == ("37F2", "37F3")


def test_a_path_that_ends_on_a_side_has_entered_the_rectangle_beyond():
    assert crossed((2.9, 54.1), (3.0, 54.1)) == ("37F2", "37F3")


def test_outside_the_grid_there_are_none_and_what_is_inside_is_named():
    assert crossed((-60.0, 58.0), (-59.0, 58.0)) == ()
    assert crossed((-44.2, 58.2), (-43.8, 58.2)) == ("45A0",)


def test_no_positions_have_no_rectangles():
    assert cells_crossed(ICES, np.empty(0), np.empty(0)) == ()


def test_many_paths_at_once_cross_what_each_crosses_alone():
    rng = np.random.default_rng(20261126)
    for _ in range(50):
        counts = rng.integers(0, 6, 7)
        # Whole and half degrees among them, which are sides; and ways over 180 degrees, outside the grid.
        lon = np.round(
            rng.choice([2.0, 3.5, 179.5]) + rng.uniform(-1.5, 1.5, counts.sum()), rng.integers(1, 4)
        )
        lon = (lon + 180.0) % 360.0 - 180.0
        lat = np.round(rng.uniform(53.0, 56.0, counts.sum()), 1)
        cuts = np.cumsum(counts)[:-1]
        alone = [
            cells_crossed(ICES, *one) for one in zip(np.split(lon, cuts), np.split(lat, cuts), strict=True)
        ]
        assert cells_of_each(ICES, lon, lat, counts) == alone


def test_a_path_along_a_side_after_a_step_to_it_is_in_the_cell_whose_side_it_is():
    """0.001 + 0.01 - 0.011 is not quite 0."""
    found = crossed((0.001, 37.0), (0.011, 37.0), (0.0, 37.0), (0.0, 37.504))
    assert list(found) == ["03F0", "04F0"]


@given(
    st.lists(
        st.tuples(
            st.integers(-40_000, 60_000).map(lambda n: n / 1e3),
            st.integers(37_000, 80_000).map(lambda n: n / 1e3),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_no_sampled_point_lies_in_a_rectangle_that_is_not_named(positions):
    named = set(crossed(*positions))
    for (lon0, lat0), (lon1, lat1) in itertools.pairwise(positions):
        part = np.linspace(0.0, 1.0, 301)
        codes = rectangle_at(lon0 + part * (lon1 - lon0), lat0 + part * (lat1 - lat0))
        middle = codes[1:-1][(codes[:-2] == codes[1:-1]) & (codes[1:-1] == codes[2:])]
        # Single samples may lie on a side by rounding; three in a row do not.
        assert set(middle.tolist()) <= named | {""}
