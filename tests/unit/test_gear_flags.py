"""Where the model says that it knows less: each flag on tows of known shape, and off them."""

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import RIGS, SINGLE, lead_along, rigging_of, stretch_along

from towzone.gear.flags import FLAG_WORDS, flag_masks, warp_is_guessed
from towzone.gear.stretch import gear_stretch
from towzone.model.gear import Basis

LAYBACK_M = 331.9322
"""gear.md of the plan, V2."""


def run_of(stretch, kind):
    """Ways of the block at which a flag begins and ends to hold, metres."""
    held = stretch.run_m[flag_masks(stretch)[kind]]
    return (held.min(), held.max()) if len(held) else None


def test_there_are_words_for_every_flag():
    stretch, _ = stretch_along([(0.0, 0.0), (500.0, 0.0)])
    assert set(flag_masks(stretch)) | {"no_warp", "gap"} == set(FLAG_WORDS)


def test_a_straight_tow_settles_for_three_laybacks_and_has_no_other_flag():
    stretch, _ = stretch_along([(0.0, 0.0), (3000.0, 0.0)])
    assert run_of(stretch, "settling") == (0.0, pytest.approx(3.0 * LAYBACK_M, abs=10.0))
    assert [run_of(stretch, kind) for kind in ("slack", "tight_turn", "large_angle")] == [None] * 3


def test_gear_that_is_not_down_has_no_flags():
    lead = lead_along([(0.0, 0.0), (1200.0, 0.0), (300.0, 400.0)])
    lifted = np.where(np.arange(len(lead.place)) < 110, 350.0, 90.0)  # as the corner is reached
    stretch = gear_stretch(replace(lead, warp_m=lifted), rigging_of(SINGLE))
    off = np.abs(stretch.beta_deg[~stretch.down])
    assert off.max() > 60.0
    assert not any(mask[~stretch.down].any() for mask in flag_masks(stretch).values())
    lead = lead_along([(0.0, 0.0), (600.0, 0.0), (600.0, 600.0)], warp_m=90.0)
    stretch = gear_stretch(lead, rigging_of(SINGLE))
    assert not any(mask.any() for mask in flag_masks(stretch).values())


def around(radius_m, turn_deg, before_m=1500.0, after_m=1500.0):
    """East, then round to the north on a circle, then straight on."""
    angle = np.radians(np.arange(0.0, turn_deg + 1e-9, min(2.0, np.degrees(8.0 / radius_m))))
    arc = np.column_stack([np.sin(angle), 1.0 - np.cos(angle)]) * radius_m + (before_m, 0.0)
    last = np.radians(turn_deg)
    end = arc[-1] + after_m * np.array([np.cos(last), np.sin(last)])
    return [(0.0, 0.0), *map(tuple, arc), tuple(end)]


@pytest.mark.parametrize(("radius_m", "tight"), [(300.0, True), (370.0, False)])
@pytest.mark.parametrize("mirror", [1.0, -1.0])
def test_a_circle_narrower_than_the_layback_is_a_tight_turn_either_way_round(radius_m, tight, mirror):
    corners = [(east, mirror * north) for east, north in around(radius_m, 120.0)]
    stretch, _ = stretch_along(corners)
    assert (run_of(stretch, "tight_turn") is not None) is tight


def test_a_tight_turn_lasts_for_a_layback_after_it():
    stretch, _ = stretch_along([(0.0, 0.0), (1500.0, 0.0), (1500.0, 1500.0)])
    first, last = run_of(stretch, "tight_turn")
    # Courses are taken over 30 m to either side, and the turn is seen for half a layback.
    assert first == pytest.approx(1500.0, abs=31.0)
    assert last == pytest.approx(1500.0 + 1.5 * LAYBACK_M, abs=31.0)


def test_a_wide_turn_through_north_is_no_tight_one():
    corners = around(1000.0, 180.0)
    swung = [(-north, east) for east, north in corners]  # begins northwards, passes 360 degrees
    for some in (corners, swung, [(north, east) for east, north in corners]):
        stretch, _ = stretch_along(some)
        assert run_of(stretch, "tight_turn") is None


@pytest.mark.parametrize(("turn_deg", "large"), [(50.0, False), (75.0, True)])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_gear_more_than_60_degrees_off_the_course_is_flagged_on_either_side(turn_deg, large, side):
    turn = np.radians(turn_deg)
    corners = [(0.0, 0.0), (1500.0, 0.0), (1500.0 + 900.0 * np.cos(turn), side * 900.0 * np.sin(turn))]
    stretch, _ = stretch_along(corners)
    found = run_of(stretch, "large_angle")
    assert (found is not None) is large
    if large:
        # tan(75 / 2) falls to tan(60 / 2) after 0.285 of a layback: L ln(0.7673 / 0.5774).
        assert found[1] == pytest.approx(1500.0 + LAYBACK_M * np.log(0.76733 / 0.57735), abs=15.0)


def test_warps_hang_slack_after_the_vessel_came_back_towards_its_gear():
    corners = [(0.0, 0.0), (1500.0, 0.0), (1500.0 - 260.0, 150.0), (1500.0 - 260.0, 2000.0)]
    stretch, _ = stretch_along(corners)
    first, _last = run_of(stretch, "slack")
    assert first == pytest.approx(1500.0, abs=11.0)
    # The doors rest meanwhile.
    doors = np.mean([[t.lon_deg, t.lat_deg] for t in stretch.tracers[:2]], axis=0)
    held = np.flatnonzero(flag_masks(stretch)["slack"])[:-1]
    assert np.ptp(doors[:, held], axis=1).max() < 1e-5


def test_warps_that_hang_slack_because_they_were_veered_are_not_told():
    lead = lead_along([(0.0, 0.0), (1500.0, 0.0)])
    veered = np.clip(110.0 + 4.0 * lead.clock_s, 0.0, 350.0)  # faster than the vessel sails
    stretch = gear_stretch(replace(lead, warp_m=veered), rigging_of(SINGLE))
    assert stretch.slack.any()
    assert run_of(stretch, "slack") is None


def test_a_warp_is_guessed_where_nobody_stated_or_measured_it():
    warp = rigging_of(SINGLE).warp
    guessed = {basis: warp_is_guessed(replace(warp, basis=basis)) for basis in Basis}
    assert guessed == {
        Basis.STATED: False,
        Basis.TRACK: False,
        Basis.HAUL_LOG: False,
        Basis.DERIVED: True,
        Basis.ASSUMED: True,
    }


@pytest.mark.parametrize("rig", RIGS)
def test_flags_have_one_value_for_each_node(rig):
    stretch, _ = stretch_along([(0.0, 0.0), (300.0, 0.0), (300.0, 300.0)], RIGS[rig])
    assert {mask.shape for mask in flag_masks(stretch).values()} == {stretch.run_m.shape}
