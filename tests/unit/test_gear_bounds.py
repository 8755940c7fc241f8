"""How far any part of the gear can be from the antenna: against lengths of rope worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import BEAM, BEAMS, RIGS, SINGLE, TWIN, flat, rigging_of, stretch_along, zigzag

from towzone.gear.bounds import longest_warp_m, rope_reach_m
from towzone.gear.figures import Measured, rigging_for
from towzone.gear.scope import greatest_warp_m
from towzone.model.gear import Basis

NO_SIGMA = (
    "warp",
    "clump_warp",
    "depth",
    "block_height",
    "block_separation",
    "sweeps",
    "net_length",
    "beam_length",
    "beams_apart",
    "antenna",
    "position",
)


def exact(figures):
    """The rigging with every figure taken for exact."""
    rigging = rigging_of(figures)
    known = {name: getattr(rigging, name) for name in NO_SIGMA if getattr(rigging, name) is not None}
    sure = {name: replace(figure, sigma=0.0, low=None, high=None) for name, figure in known.items()}
    return replace(rigging, **sure)


def test_exact_figures_leave_the_rope_and_half_the_distance_of_the_blocks():
    # Warp 350 m, sweeps 110 m and net 50 m straight down to 105 m below the blocks, which are 8 m apart.
    assert rope_reach_m(exact(SINGLE)) == pytest.approx(np.sqrt(510.0**2 - 105.0**2) + 4.0, abs=1e-9)


@pytest.mark.parametrize(("aft_m", "starboard_m"), [(30.0, 0.0), (0.0, -40.0), (-30.0, 40.0)])
def test_the_block_may_lie_on_either_side_of_the_antenna(aft_m, starboard_m):
    beside = exact(replace(SINGLE, block_aft_m=aft_m, block_starboard_m=starboard_m))
    assert rope_reach_m(beside) - rope_reach_m(exact(SINGLE)) == pytest.approx(
        np.hypot(aft_m, starboard_m), abs=1e-9
    )


@pytest.mark.parametrize(("figures", "aside_m"), [(BEAMS, 18.0), (BEAM, 6.0)])
def test_the_outer_ends_of_beams_lie_abeam_of_their_warps(figures, aside_m):
    # Warp 90 m and net 20 m; beams of 12 m, 24 m apart or one alone.
    assert rope_reach_m(exact(figures)) == pytest.approx(np.sqrt(110.0**2 - 30.0**2) + aside_m, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "reach_m"),
    [
        ("warp", np.sqrt(525.0**2 - 105.0**2) + 4.0),
        ("sweeps", np.sqrt(525.0**2 - 105.0**2) + 4.0),
        ("net_length", np.sqrt(525.0**2 - 105.0**2) + 4.0),
        ("depth", np.sqrt(510.0**2 - 90.0**2) + 4.0),
        ("block_height", np.sqrt(510.0**2 - 90.0**2) + 4.0),
        ("antenna", np.sqrt(510.0**2 - 105.0**2) + 4.0 + 15.0),
        ("position", np.sqrt(510.0**2 - 105.0**2) + 4.0 + 15.0),
    ],
)
def test_each_figure_is_taken_three_standard_deviations_to_the_far_side(name, reach_m):
    rigging = exact(SINGLE)
    doubted = replace(rigging, **{name: replace(getattr(rigging, name), sigma=5.0)})
    assert rope_reach_m(doubted) == pytest.approx(reach_m, abs=1e-9)


def test_a_depth_known_between_limits_is_taken_at_the_shallow_one():
    rigging = exact(SINGLE)
    guessed = replace(rigging, depth=replace(rigging.depth, low=60.0, high=140.0))
    assert rope_reach_m(guessed) == pytest.approx(np.sqrt(510.0**2 - 65.0**2) + 4.0, abs=1e-9)


def test_a_depth_that_may_be_none_at_all_still_gives_a_bound():
    rigging = exact(SINGLE)
    doubted = replace(rigging, depth=replace(rigging.depth, sigma=80.0))
    assert rope_reach_m(doubted) == pytest.approx(510.0 + 4.0, abs=1e-9)


def test_a_guessed_warp_is_taken_as_long_as_hardly_any_gear_has_it_in_the_deepest_water():
    rigging = rigging_of(replace(SINGLE, warp_m=None))
    deepest_m = rigging.depth.value + 3.0 * rigging.depth.sigma
    assert longest_warp_m(rigging) == pytest.approx(float(greatest_warp_m(deepest_m)), abs=1e-9)
    assert longest_warp_m(rigging) > rigging.warp.high > rigging.warp.value


def test_a_guessed_warp_counts_as_in_the_deepest_water_that_the_depth_allows():
    rigging = rigging_of(replace(SINGLE, warp_m=None))
    deep = replace(rigging, depth=replace(rigging.depth, low=50.0, high=400.0))
    assert longest_warp_m(deep) == pytest.approx(float(greatest_warp_m(400.0)), abs=1e-9)


def test_a_warp_out_of_a_guessed_depth_keeps_its_own_spread():
    rigging = rigging_for(
        replace(SINGLE, depth_m=None),
        "OTB",
        warp=Measured(400.0, Basis.TRACK, "the track"),
        position_error_m=10.0,
    )
    assert longest_warp_m(rigging) == pytest.approx(400.0 + 3.0 * rigging.warp.sigma, abs=1e-9)
    assert rigging.depth.low < rigging.depth.value


def test_a_clump_on_a_longer_warp_than_the_doors_is_within_the_bound():
    long = exact(replace(TWIN, clump_warp_m=520.0, sweeps_m=110.0, net_length_m=20.0))
    assert rope_reach_m(long) > np.sqrt(520.0**2 - 105.0**2) + 20.0
    doubted = replace(long, clump_warp=replace(long.clump_warp, sigma=10.0))
    assert longest_warp_m(doubted) == pytest.approx(550.0, abs=1e-9)


def test_a_shorter_warp_of_the_clump_does_not_shorten_the_bound():
    assert rope_reach_m(exact(TWIN)) == pytest.approx(rope_reach_m(exact(SINGLE)), abs=1e-9)


@pytest.mark.parametrize("rig", RIGS)
def test_no_part_of_the_modelled_gear_is_beyond_the_bound_in_any_turn(rig):
    stretch, _ = stretch_along(zigzag(3), RIGS[rig])
    bound_m = rope_reach_m(exact(RIGS[rig]))
    vessel = flat(stretch.lead.lon_deg, stretch.lead.lat_deg)
    farthest = 0.0
    for outline in (*stretch.doors, *stretch.nets):
        for point in range(outline.shape[1]):
            apart = flat(outline[:, point, 0], outline[:, point, 1]) - vessel
            farthest = max(farthest, float(np.hypot(*apart.T).max()))
    assert 0.8 * bound_m < farthest < bound_m
