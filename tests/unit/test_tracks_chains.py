"""The choice of runs that tell one story is the cheapest there is."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from track_makers import START, made

from towzone.tracks.chains import best_chain
from towzone.tracks.possible import possible_in


def chain_cost(
    kept: tuple[bool, ...], sizes: np.ndarray, reach: np.ndarray, step_cost: float, begin: int, end: int
) -> float:
    """Cost of a choice of runs by its definition, infinite where it is not allowed."""
    runs = [run for run, keep in enumerate(kept) if keep]
    if not runs or runs[0] > begin or runs[-1] < end:
        return np.inf
    cost = float(sizes[~np.array(kept)].sum())
    for one, other in itertools.pairwise(runs):
        if other == one + 1:
            cost += step_cost
        elif not reach[one, other]:
            return np.inf
    return cost


@pytest.mark.parametrize("seed", range(40))
def test_the_choice_of_runs_is_the_cheapest_of_all(seed: int) -> None:
    """Against every choice there is, for up to nine runs at a few places."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 9, rng.integers(2, 10))
    last = np.cumsum(sizes) - 1
    first = last - sizes + 1
    spot = rng.integers(0, 3, len(sizes))
    east = np.repeat(4000.0 * spot + rng.uniform(0, 5, len(sizes)), sizes)
    track = made(np.arange(len(east)) * 1.0, east)
    possible = possible_in(track, max_speed_kn=12.0, position_error_m=15.0)
    begin, end = int(rng.integers(0, 2)), len(sizes) - 1 - int(rng.integers(0, 2))
    number = np.arange(len(sizes))
    kept = best_chain(possible, first, last, may_begin=number <= begin, may_end=number >= end, step_cost=5.25)
    reach = np.abs(spot[:, None] - spot[None, :]) == 0
    every = itertools.product([False, True], repeat=len(sizes))
    best = min(chain_cost(choice, sizes, reach, 5.25, begin, end) for choice in every)
    assert chain_cost(tuple(kept.tolist()), sizes, reach, 5.25, begin, end) == best


def test_the_start_is_what_the_makers_say() -> None:
    """The tests' own ruler: 1000 m east is 1000 m away, one second is one second."""
    track = made([0.0, 1.0], [0.0, 1000.0])
    possible = possible_in(track, max_speed_kn=12.0, position_error_m=15.0)
    assert possible.apart_m(np.array([0]), np.array([1]))[0] == pytest.approx(1000.0, abs=1e-3)
    assert track.time_utc[1] - START == np.timedelta64(1, "s")
