"""The figures of a tow: what beats what, what is taken when nothing is known, and when nothing can be said.

Expected defaults, deviations and formulas are those written down before the code, from published and
remembered figures; each is named where it is used.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.gear.figures import Measured, NoRigging, Rigging, assumed_lines, rigging_for
from towzone.gear.layback import layback_m, wing_end_distance_m
from towzone.gear.rigging import plain_amount
from towzone.gear.rigs import rigs_of, usual_rig, why_not_modelled
from towzone.model.gear import Basis, Figure
from towzone.model.gears import GEAR_NAMES
from towzone.model.vessel import Current, GearFigures, Rig

FULL = GearFigures(
    rig=Rig.TWIN,
    warp_m=350.0,
    clump_warp_m=345.0,
    depth_m=118.0,
    block_height_m=4.0,
    block_separation_m=9.0,
    door_spread_m=100.0,
    sweeps_m=75.0,
    net_length_m=45.0,
    wing_spread_m=18.0,
    block_aft_m=18.0,
    block_starboard_m=-1.0,
    tow_speed_kn=2.8,
    heave_speed_mps=1.2,
    shoot_time_s=500.0,
    current=Current(set_deg=90.0, drift_kn=0.5),
)
TRACK, LOG = Basis.TRACK, Basis.HAUL_LOG


def rigged(figures, gear="OTB", **measured) -> Rigging:
    found = rigging_for(figures, gear, **({"position_error_m": 15.0} | measured))
    assert isinstance(found, Rigging), found
    return found


def why_not(figures, gear="OTB", **measured) -> str:
    found = rigging_for(figures, gear, **({"position_error_m": 15.0} | measured))
    assert isinstance(found, NoRigging), found
    assert found.why.endswith(".")
    return found.why


def track(value_m):
    return Measured(value_m, TRACK, "the track")


def log(value_m):
    return Measured(value_m, LOG, "the haul log")


# What is stated is taken as it is.


def test_every_figure_of_a_full_profile_is_taken_as_stated():
    found = rigged(FULL, "OTT")
    stated = {
        "warp": 350.0,
        "clump_warp": 345.0,
        "depth": 118.0,
        "block_height": 4.0,
        "block_separation": 9.0,
        "door_spread": 100.0,
        "sweeps": 75.0,
        "net_length": 45.0,
        "wing_spread": 18.0,
        "block_aft": 18.0,
        "block_starboard": -1.0,
        "tow_speed": 2.8,
        "haul_speed": 1.2,
    }
    assert {f.name: f.value for f in found.all() if f.name in stated} == stated
    assert {f.basis for f in found.all() if f.name in stated} == {Basis.STATED}
    assert {f.source for f in found.all() if f.name in stated} == {"vessel profile"}
    assert (found.rig, found.rig_basis, found.gear, found.current) == (
        Rig.TWIN,
        Basis.STATED,
        "OTT",
        FULL.current,
    )


def test_a_full_profile_leaves_only_deviations_and_the_veering_speed_to_be_told():
    lines = assumed_lines(rigged(FULL, "OTT"))
    assert [line.split("(")[0] for line in lines] == [
        "ASSUMED: speed at which the warp goes out 0.85 m/s ",
        "ASSUMED: current that is not known 0.2 kn ",
        "ASSUMED: scatter of positions 5 m ",
    ]


@pytest.mark.parametrize(
    ("name", "sigma"),
    [
        ("warp", 17.5),  # 5 % of what is usual
        ("depth", 3.0 + 0.05 * 118.0),
        ("block_height", 0.5),
        ("block_separation", 0.5),
        ("door_spread", 8.0),
        ("sweeps", 1.5),  # 2 %
        ("net_length", 2.25),  # 5 %
        ("wing_spread", 1.8),  # 10 %
        ("block_aft", 2.0),
        ("block_starboard", 2.0),
        ("tow_speed", 0.3),
        ("haul_speed", 0.12),  # 10 %
        ("clump_warp", 6.9),  # 2 %
        ("drift", 0.2),  # with a current stated
        ("position", 5.0),  # a third of 15 m
        ("antenna", 2.0),
    ],
)
def test_a_stated_figure_has_its_deviation(name, sigma):
    found = {f.name: f for f in rigged(FULL, "OTT").all()}[name]
    np.testing.assert_allclose(found.sigma, sigma, rtol=0, atol=1e-12)


def test_shooting_time_gives_the_veering_speed_of_warp_and_sweeps():
    found = rigged(FULL, "OTT").veer_speed
    np.testing.assert_allclose([found.value, found.sigma], [425.0 / 500.0, 0.25 * 0.85], rtol=0, atol=1e-12)
    assert found.basis is Basis.DERIVED


# What was measured for the tow comes first.


@pytest.mark.parametrize("basis", [TRACK, LOG])
def test_a_measured_warp_beats_the_profile_and_is_surer(basis):
    found = rigged(FULL, "OTT", warp=Measured(360.0, basis, "words")).warp
    assert found == Figure(name="warp", value=360.0, sigma=7.2, unit="m", basis=basis, source="words")


@pytest.mark.parametrize("basis", [TRACK, LOG])
def test_a_measured_depth_beats_the_profile_and_is_surer(basis):
    found = rigged(FULL, "OTT", depth=Measured(120.0, basis, "words")).depth
    assert found == Figure(name="depth", value=120.0, sigma=4.2, unit="m", basis=basis, source="words")


@pytest.mark.parametrize("basis", [TRACK, LOG])
def test_a_measured_spread_beats_the_profile_and_is_surer(basis):
    found = rigged(FULL, "OTT", door_spread=Measured(90.0, basis, "words")).door_spread
    assert found == Figure(name="door_spread", value=90.0, sigma=5.0, unit="m", basis=basis, source="words")


def test_a_stated_spread_beats_the_warps_apart_and_these_beat_the_default():
    apart = GearFigures(warp_m=350.0, depth_m=100.0, warps_apart_m=8.8, warps_apart_at_m=4.0)
    both = dataclasses.replace(apart, door_spread_m=60.0)
    assert rigged(both).door_spread.value == 60.0
    found = rigged(apart).door_spread
    # b + (W / x) (d - b) = 8 + 87.5 x 0.8
    np.testing.assert_allclose(found.value, 78.0, rtol=0, atol=1e-9)
    assert found.basis is Basis.DERIVED


def test_the_spread_by_warps_apart_is_as_doubtful_as_its_lever_is_long():
    """5 cm of the warps and 0.5 m of the blocks, W / x and W / x - 1 times."""
    near = GearFigures(
        warp_m=350.0, depth_m=100.0, block_separation_m=8.0, warps_apart_m=8.8, warps_apart_at_m=4.0
    )
    far = dataclasses.replace(near, warps_apart_m=28.0, warps_apart_at_m=100.0)
    np.testing.assert_allclose(
        rigged(near).door_spread.sigma, math.hypot(87.5 * 0.05, 86.5 * 0.5), rtol=0, atol=1e-9
    )
    assert rigged(far).door_spread.sigma == 8.0


def test_warps_apart_were_measured_on_the_usual_warp_not_on_that_of_this_tow():
    apart = GearFigures(warp_m=350.0, depth_m=100.0, warps_apart_m=8.8, warps_apart_at_m=4.0)
    np.testing.assert_allclose(rigged(apart, warp=log(400.0)).door_spread.value, 78.0, rtol=0, atol=1e-9)


# Warp and depth.


def test_a_warp_follows_from_the_depth_with_lopsided_limits():
    """14.968 D^0.7029 = 381.0340 m at 100 m (check value V27); 16 % and limits of survey hauls."""
    found = rigged(GearFigures(depth_m=100.0)).warp
    np.testing.assert_allclose([found.value, found.sigma], [381.0340, 0.156 * 381.0340], rtol=0, atol=1e-3)
    assert found.basis is Basis.DERIVED
    # In 75 to 150 m, nine hauls in ten had 3.0 to 4.9 of warp to one of depth; of twenty, 19 spread more.
    assert 270.0 < found.low < 319.0
    assert 416.0 < found.high < 560.0
    assert found.high - found.value > found.value - found.low


def test_limits_hold_nineteen_in_twenty_and_not_nine_in_ten():
    from towzone.gear.scope import warp_range_m

    found = rigged(GearFigures(depth_m=100.0)).warp
    low, high = (float(limit) for limit in warp_range_m(100.0))
    for limit, ninety in ((found.low, low), (found.high, high)):
        ratio = math.log(limit / found.value) / math.log(ninety / found.value)
        np.testing.assert_allclose(ratio, 1.959964 / 1.644854, rtol=0, atol=1e-4)


def test_a_depth_follows_from_the_warp_and_stays_above_the_end_of_it():
    found = rigged(GearFigures(warp_m=381.034)).depth
    np.testing.assert_allclose(found.value, 100.0, rtol=0, atol=1e-3)
    assert found.basis is Basis.DERIVED
    assert found.low < 85.0 < 115.0 < found.high <= 381.034 / 1.05


def test_the_longest_warp_does_not_reach_deeper_than_it_is_long():
    """Beyond the hauls measured the limits widen; a gear with hardly more warp than depth tows nothing."""
    assert rigged(GearFigures(warp_m=4000.0)).depth.high == 4000.0 / 1.05


def test_neither_warp_nor_depth_is_told_with_what_to_do():
    why = why_not(GearFigures())
    assert "neither warp nor depth is known" in why
    assert "gear.warp" in why
    assert "haul log" in why


def test_a_usual_warp_is_less_sure_on_a_depth_that_is_less_usual():
    """ln W changes by 0.7029 ln D: 20 % deeper is 12.8 % more warp."""
    usual = GearFigures(warp_m=350.0, depth_m=100.0)
    at_home, deeper = (rigged(usual, depth=log(d)).warp for d in (100.0, 120.0))
    assert (at_home.value, at_home.sigma) == (350.0, 17.5)
    assert (deeper.value, deeper.basis) == (350.0, Basis.STATED)
    expected = 350.0 * math.hypot(0.05, 0.7029 * math.log(1.2))
    np.testing.assert_allclose(deeper.sigma, expected, rtol=0, atol=1e-9)


@pytest.mark.parametrize("usual_depth_m", [118.0, None])
def test_a_usual_warp_does_not_go_with_a_depth_far_from_usual(usual_depth_m):
    """350 m of warp in 300 m: nobody tows like that; all from it to what is usual there is left open."""
    found = rigged(GearFigures(warp_m=350.0, depth_m=usual_depth_m), depth=track(300.0)).warp
    np.testing.assert_allclose(found.value, 824.7690, rtol=0, atol=1e-3)  # V27
    assert found.basis is Basis.DERIVED
    assert found.low == 350.0
    assert found.high > 900.0
    assert "350 m of the profile" in found.source


def test_a_usual_warp_far_too_long_for_the_depth_stays_possible():
    found = rigged(GearFigures(warp_m=900.0, depth_m=300.0), depth=track(60.0)).warp
    assert found.high == 900.0
    assert found.low < 250.0


def test_a_usual_warp_that_is_usual_in_the_depth_measured_holds_as_surely_as_what_is_usual():
    found = rigged(GearFigures(warp_m=350.0), depth=track(100.0)).warp
    assert (found.value, found.basis) == (350.0, Basis.STATED)
    np.testing.assert_allclose(found.sigma, 0.156 * 350.0, rtol=0, atol=1e-9)


def test_a_usual_depth_does_not_go_with_a_warp_far_from_usual():
    found = rigged(GearFigures(warp_m=350.0, depth_m=118.0), warp=log(850.0)).depth
    assert found.basis is Basis.DERIVED
    assert found.low == 118.0
    assert found.high > 330.0


def test_a_usual_depth_deeper_than_the_warp_of_the_tow_is_not_left_possible():
    found = rigged(GearFigures(depth_m=300.0), warp=log(200.0)).depth
    assert found.high == 200.0 / 1.05


def test_a_usual_depth_goes_with_a_warp_that_is_nearly_usual():
    """ln D changes by ln W / 0.7029."""
    found = rigged(GearFigures(warp_m=350.0, depth_m=118.0), warp=log(385.0)).depth
    expected = math.hypot(3.0 + 5.9, 118.0 * math.log(1.1) / 0.7029)
    assert (found.value, found.basis) == (118.0, Basis.STATED)
    np.testing.assert_allclose(found.sigma, expected, rtol=0, atol=1e-9)


def test_warp_and_depth_both_measured_are_not_doubted():
    found = rigged(GearFigures(warp_m=350.0, depth_m=118.0), warp=log(600.0), depth=log(60.0))
    assert (found.warp.value, found.depth.value) == (600.0, 60.0)
    assert (found.warp.low, found.depth.low) == (None, None)


@pytest.mark.parametrize("warp_m", [105.0, 100.0])
def test_a_warp_that_does_not_reach_down_is_told_with_the_numbers(warp_m):
    why = why_not(GearFigures(warp_m=warp_m, depth_m=100.0, block_height_m=5.0))
    assert f"{warp_m:g} m" in why
    assert "105 m" in why


def test_a_beam_does_not_hang_straight_below_the_block():
    figures = GearFigures(warp_m=45.0, depth_m=40.0, block_height_m=5.0)
    assert "45 m" in why_not(figures, "TBB")
    assert rigged(dataclasses.replace(figures, warp_m=45.1), "TBB").warp.value == 45.1


def test_warps_that_do_not_reach_down_and_aside_are_told_with_the_numbers():
    """55 m down and (91 - 11) / 2 = 40 m aside: 68.007 m are needed."""
    figures = GearFigures(
        warp_m=68.0, depth_m=50.0, block_height_m=5.0, block_separation_m=11.0, door_spread_m=91.0
    )
    assert "91 m apart" in why_not(figures)
    assert rigged(dataclasses.replace(figures, warp_m=68.1)).warp.value == 68.1


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("warp", 9.9),
        ("warp", 4000.1),
        ("depth", 0.9),
        ("depth", 3000.1),
        ("door_spread", 0.9),
        ("door_spread", 500.1),
        ("warp", math.nan),
        ("depth", math.inf),
        ("door_spread", -80.0),
    ],
)
def test_what_was_measured_out_of_all_reason_is_refused_with_its_source(name, value):
    why = why_not(FULL, "OTT", **{name: log(value)})
    assert f"{value:g} m" in why
    assert "the haul log" in why


# Defaults.


@pytest.mark.parametrize(
    ("name", "value", "sigma"),
    [
        ("block_height", 5.0, 2.0),
        ("block_separation", 8.0, 2.0),
        ("door_spread", 18.66 + 13.33 * math.log(100.0), 12.0),  # survey trawl, short sweeps
        ("sweeps", 120.0, 40.0),
        ("net_length", 50.0, 10.0),
        ("block_aft", 10.0, 10.0),
        ("block_starboard", 0.0, 10.0),
        ("tow_speed", 3.0, 0.5),
        ("haul_speed", 1.0, 0.3),
        ("veer_speed", 2.0, 0.4),
        ("drift", 0.5, 0.5),  # no current stated
        ("antenna", 10.0, 10.0),  # nothing measured
    ],
)
def test_a_figure_that_nobody_states_has_its_default(name, value, sigma):
    found = {f.name: f for f in rigged(GearFigures(warp_m=350.0, depth_m=100.0)).all()}[name]
    np.testing.assert_allclose([found.value, found.sigma], [value, sigma], rtol=0, atol=1e-9)
    assert found.basis is Basis.ASSUMED
    assert found.source


def test_every_default_says_where_it_is_from():
    words = ("from memory", "own choice", "own evaluation", "Eigaard et al. 2016")
    for gear in ("OTB", "OTT", "TBB", "OTM"):
        for figure in rigged(GearFigures(warp_m=350.0, depth_m=100.0), gear).all():
            if figure.basis is Basis.ASSUMED:
                assert any(word in figure.source for word in words), figure


def test_half_a_place_of_the_block_is_not_a_measured_place():
    found = rigged(dataclasses.replace(FULL, block_starboard_m=None), "OTT")
    assert (found.block_aft.value, found.block_aft.sigma, found.antenna.sigma) == (18.0, 10.0, 10.0)
    assert found.antenna.basis is Basis.ASSUMED


def test_the_deviation_figures_are_that_deviation_by_value_and_by_sigma():
    found = rigged(GearFigures(warp_m=350.0))
    for figure in (found.drift_sigma, found.position, found.antenna):
        assert figure.value == figure.sigma > 0.0


@pytest.mark.parametrize("error_m", [-1.0, math.nan, math.inf])
def test_a_position_error_that_makes_no_sense_is_refused(error_m):
    with pytest.raises(UsageError, match="position error"):
        rigging_for(FULL, "OTT", position_error_m=error_m)


# Rigs and gears.


@pytest.mark.parametrize(
    ("gear", "rig", "basis"),
    [
        ("OTT", Rig.TWIN, Basis.DERIVED),
        ("OTP", Rig.TWIN, Basis.DERIVED),
        ("TBB", Rig.BEAM, Basis.DERIVED),
        ("OTB", Rig.SINGLE, Basis.ASSUMED),
        ("TBN", Rig.SINGLE, Basis.ASSUMED),
        ("TBS", Rig.SINGLE, Basis.ASSUMED),
        ("TB", Rig.SINGLE, Basis.ASSUMED),
        ("TX", Rig.SINGLE, Basis.ASSUMED),
        ("OTM", Rig.SINGLE, Basis.ASSUMED),
        (None, Rig.SINGLE, Basis.ASSUMED),
    ],
)
def test_a_rig_that_is_not_stated_follows_from_the_code_or_is_the_usual_one(gear, rig, basis):
    found = rigged(GearFigures(warp_m=350.0, depth_m=100.0), gear)
    assert (found.rig, found.rig_basis) == (rig, basis)
    assert assumed_lines(found)[0].startswith(f"ASSUMED: a {rig.value} rig (")


def test_a_stated_rig_is_not_told_as_assumed():
    found = rigged(GearFigures(rig=Rig.SINGLE, warp_m=350.0, depth_m=100.0), None)
    assert not any(" rig (" in line for line in assumed_lines(found))


def test_the_gear_of_a_haul_that_the_profile_is_not_for_is_told():
    why = why_not(GearFigures(rig=Rig.BEAM, warp_m=350.0, depth_m=100.0), "OTB")
    assert "beam" in why
    assert "OTB" in why


@pytest.mark.parametrize("gear", ["PTB", "PTM", "SPR"])
def test_gear_between_two_vessels_needs_the_tracks_of_both(gear):
    assert "the tracks of both" in why_not(FULL, gear)


@pytest.mark.parametrize("gear", sorted(GEAR_NAMES))
def test_every_gear_either_has_a_rig_or_a_reason(gear):
    towed = {"OTB", "OTT", "OTP", "TBB", "TBN", "TBS", "TB", "TX", "OTM", "TM", "TSP"}
    figures = GearFigures(warp_m=350.0, depth_m=100.0)
    if gear in towed:
        assert rigged(figures, gear).rig is usual_rig(gear)
        assert why_not_modelled(gear) == ""
    else:
        assert gear in why_not(figures, gear)
        assert rigs_of(gear) == ()


# Widths.


@pytest.mark.parametrize(("gear", "nets"), [("OTB", 1), ("OTT", 2)])
def test_doors_sweeps_and_wing_ends_always_fit_together(gear, nets):
    """Over profiles with any of the three stated or not, within what the reader lets through."""
    for spread in (None, 20.1, 90.3, 240.7):
        for sweeps in (None, 0.0, 1e-3, 0.7, 15.1, 300.0):
            for wings in (None, 8.3, 19.7, 60.1):
                if spread is not None and wings is not None:
                    most = nets * (wings + 2.0 * (math.inf if sweeps is None else sweeps))
                    if wings > spread / nets or spread > most:
                        continue
                figures = GearFigures(
                    warp_m=600.0, depth_m=100.0, door_spread_m=spread, sweeps_m=sweeps, wing_spread_m=wings
                )
                found = rigged(figures, gear)
                of_net, wing = found.door_spread.value / nets, found.wing_spread.value
                assert wing <= of_net
                # Which refuses what does not fit, by a hair too.
                assert 0.0 <= wing_end_distance_m(found.sweeps.value, of_net, wing) <= found.sweeps.value
                for stated, figure in (
                    (spread, found.door_spread),
                    (sweeps, found.sweeps),
                    (wings, found.wing_spread),
                ):
                    if stated is not None:
                        assert (figure.value, figure.basis) == (stated, Basis.STATED)


def test_doors_at_the_wing_ends_spread_the_net_as_far_as_themselves():
    found = rigged(GearFigures(warp_m=350.0, depth_m=100.0, sweeps_m=0.0, door_spread_m=30.0))
    assert (found.wing_spread.value, found.wing_spread.basis, found.sweeps.sigma) == (
        30.0,
        Basis.DERIVED,
        0.0,
    )


def test_wing_ends_that_follow_the_doors_are_as_doubtful_as_these():
    found = rigged(GearFigures(warp_m=350.0, depth_m=100.0, sweeps_m=0.0, door_spread_m=10.0))
    assert found.wing_spread.sigma == found.door_spread.sigma == 8.0


def test_sweeps_are_long_enough_for_bridles_of_twenty_degrees():
    found = rigged(GearFigures(warp_m=600.0, depth_m=100.0, door_spread_m=200.0, wing_spread_m=50.0)).sweeps
    np.testing.assert_allclose(found.value, 75.0 / math.sin(math.radians(20.0)), rtol=0, atol=1e-9)
    assert found.basis is Basis.ASSUMED


def test_an_assumed_spread_stays_within_what_stated_wings_and_sweeps_allow():
    narrow = rigged(GearFigures(warp_m=350.0, depth_m=100.0, wing_spread_m=10.0, sweeps_m=12.0))
    assert (narrow.door_spread.value, narrow.door_spread.basis) == (34.0, Basis.DERIVED)
    wide = rigged(GearFigures(warp_m=350.0, depth_m=100.0, wing_spread_m=120.0))
    assert wide.door_spread.value == 120.0


@pytest.mark.parametrize(
    ("spread_m", "words"), [(350.0, "do not reach from the doors"), (30.0, "farther apart than its doors")]
)
def test_a_measured_spread_that_sweeps_and_wings_contradict_is_told_with_all_three(spread_m, words):
    why = why_not(FULL, "OTT", door_spread=log(spread_m))
    assert words in why
    for amount in (f"{spread_m:g} m", "18 m", "75 m"):
        assert amount in why


def test_the_default_wing_spread_is_that_of_one_net():
    """0.258 of door to door: of a twin rig, from door to clump."""
    figures = GearFigures(warp_m=350.0, depth_m=100.0, door_spread_m=100.0)
    np.testing.assert_allclose(rigged(figures, "OTB").wing_spread.value, 25.8, rtol=0, atol=1e-9)
    np.testing.assert_allclose(rigged(figures, "OTT").wing_spread.value, 12.9, rtol=0, atol=1e-9)


def test_a_twin_rig_is_a_third_wider_by_default():
    figures = GearFigures(warp_m=350.0, depth_m=100.0)
    single, twin = rigged(figures, "OTB").door_spread, rigged(figures, "OTT").door_spread
    np.testing.assert_allclose(twin.value / single.value, 4.0 / 3.0, rtol=0, atol=1e-12)
    assert twin.sigma == 20.0


@pytest.mark.parametrize("at_m", [4.0, 0.5])
def test_warps_apart_that_make_no_spread_are_told(at_m):
    """Crossing warps, and doors farther apart than any."""
    apart_m = 1.0 if at_m == 4.0 else 8.8
    why = why_not(GearFigures(warp_m=350.0, depth_m=100.0, warps_apart_m=apart_m, warps_apart_at_m=at_m))
    assert f"{apart_m:g} m" in why
    assert "measure again" in why


# The clump.


def test_a_clump_lies_on_the_line_between_the_doors_unless_stated():
    found = rigged(dataclasses.replace(FULL, clump_warp_m=None), "OTT")
    height = found.depth.value + found.block_height.value
    doors = layback_m(350.0, height, spread_m=100.0, separation_m=9.0)
    np.testing.assert_allclose(layback_m(found.clump_warp.value, height), doors, rtol=0, atol=1e-9)
    assert found.clump_warp.basis is Basis.DERIVED


def test_the_clump_keeps_its_difference_from_the_warp_of_the_tow():
    found = rigged(FULL, "OTT", warp=log(400.0)).clump_warp
    assert (found.value, found.sigma, found.basis) == (395.0, 8.0, Basis.DERIVED)
    assert "5 m shorter" in found.source


def test_a_clump_on_a_longer_warp_stays_longer():
    found = rigged(dataclasses.replace(FULL, clump_warp_m=352.0), "OTT", warp=log(400.0)).clump_warp
    assert (found.value, "2 m longer" in found.source) == (402.0, True)


def test_the_clump_of_a_derived_warp_keeps_its_difference_too():
    found = rigged(FULL, "OTT", depth=track(300.0))
    assert found.warp.basis is Basis.DERIVED
    np.testing.assert_allclose(found.clump_warp.value, found.warp.value - 5.0, rtol=0, atol=1e-9)


def test_a_clump_whose_warp_does_not_reach_down_is_told():
    why = why_not(dataclasses.replace(FULL, clump_warp_m=122.0), "OTT")
    assert "clump" in why
    assert "122 m" in why


def test_only_a_twin_rig_lists_a_clump():
    single = rigged(GearFigures(warp_m=350.0, depth_m=100.0))
    assert "clump_warp" not in [f.name for f in single.all()]
    assert single.clump_warp.value == single.warp.value


# Beams.


def test_two_beams_are_as_wide_as_their_distance_and_one_of_them():
    figures = GearFigures(warp_m=150.0, depth_m=40.0, beam_length_m=9.0, beams_apart_m=20.0)
    found = rigged(figures, "TBB")
    np.testing.assert_allclose(found.door_spread.value, 29.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.door_spread.sigma, math.hypot(0.2, 1.0), rtol=0, atol=1e-12)
    assert (found.wing_spread.value, found.sweeps.value, found.sweeps.sigma) == (9.0, 0.0, 0.0)
    assert (found.block_separation.value, found.block_separation.basis) == (20.0, Basis.DERIVED)
    assert (found.beam_length.basis, found.beams_apart.basis) == (Basis.STATED, Basis.STATED)


def test_a_single_beam_is_as_wide_as_it_is_long():
    figures = GearFigures(warp_m=150.0, depth_m=40.0, beam_length_m=9.0, beams_apart_m=0.0)
    assert rigged(figures, "TBB").door_spread.value == 9.0


def test_beams_hang_as_far_apart_as_the_ends_of_the_booms():
    found = rigged(GearFigures(warp_m=150.0, depth_m=40.0, block_separation_m=22.0), "TBB")
    assert (found.beams_apart.value, found.beams_apart.basis) == (22.0, Basis.DERIVED)


def test_beams_that_nobody_states_are_long_and_far_apart():
    found = rigged(GearFigures(warp_m=150.0, depth_m=40.0), "TBB")
    assert (found.beam_length.value, found.beams_apart.value, found.net_length.value) == (12.0, 26.0, 20.0)
    assert (found.tow_speed.value, found.tow_speed.sigma) == (4.5, 1.5)


def test_assumed_beams_never_overlap_and_stated_ones_are_told_if_they_do():
    assert rigged(GearFigures(warp_m=150.0, beam_length_m=30.0), "TBB").beams_apart.value == 30.0
    why = why_not(GearFigures(warp_m=150.0, beam_length_m=12.0, block_separation_m=10.0), "TBB")
    assert "overlap" in why


def test_a_beam_trawl_lists_beams_and_no_sweeps():
    names = [f.name for f in rigged(GearFigures(warp_m=150.0, depth_m=40.0), "TBB").all()]
    assert {"beam_length", "beams_apart"} <= set(names)
    assert not {"sweeps", "wing_spread", "clump_warp"} & set(names)


def test_only_a_beam_trawl_has_beams():
    assert (rigged(FULL, "OTT").beam_length, rigged(FULL, "OTT").beams_apart) == (None, None)


# Midwater.


@pytest.mark.parametrize("gear", ["OTM", "TM", "TSP"])
def test_the_depth_of_a_midwater_trawl_is_that_of_its_doors_and_never_a_sounding(gear):
    found = rigged(GearFigures(warp_m=350.0, depth_m=60.0), gear, depth=track(140.0))
    assert (found.depth.value, found.depth.basis) == (60.0, Basis.STATED)
    assert "depth of the doors" in found.depth.source
    assert (found.door_spread.value, found.net_length.value, found.tow_speed.value) == (100.0, 150.0, 4.0)


@pytest.mark.parametrize("figures", [GearFigures(warp_m=350.0), GearFigures(depth_m=60.0)])
def test_of_a_midwater_trawl_both_must_be_known(figures):
    why = why_not(figures, "OTM", depth=track(140.0))
    assert "both warp and depth of the doors" in why


def test_a_logged_warp_serves_a_midwater_trawl():
    found = rigged(GearFigures(warp_m=350.0, depth_m=60.0), "OTM", warp=log(900.0))
    assert (found.warp.value, found.depth.value, found.depth.low) == (900.0, 60.0, None)


# The sentences.


def test_an_assumed_figure_is_told_with_value_reason_and_spread():
    lines = assumed_lines(rigged(GearFigures(rig=Rig.SINGLE, warp_m=350.0, depth_m=100.0)))
    (line,) = [line for line in lines if "sweeps" in line]
    assert line == (
        "ASSUMED: sweeps and bridles 120 m (no figure in the profile; published rigs have from none to "
        "300 m, training text of Seafish; 120 m is an own choice), give or take 40 m."
    )


def test_lopsided_limits_are_told_as_such():
    (line,) = [line for line in assumed_lines(rigged(GearFigures(depth_m=100.0))) if " warp 381" in line]
    assert "nineteen times in twenty between 299 and 474 m." in line


def test_there_is_one_sentence_for_each_figure_that_nobody_stated_or_measured():
    found = rigged(GearFigures(depth_m=100.0), "TBB")
    unsure = [f for f in found.all() if f.basis in (Basis.ASSUMED, Basis.DERIVED)]
    lines = assumed_lines(found)
    assert len(lines) == len(unsure) + 1  # and the rig
    assert all(line.startswith("ASSUMED: ") and line.endswith(".") for line in lines)
    assert len(set(lines)) == len(lines)


def test_beams_are_not_called_doors():
    lines = assumed_lines(rigged(GearFigures(warp_m=150.0, depth_m=40.0), "TBB"))
    assert not any("doors" in line for line in lines)


@pytest.mark.parametrize(
    ("value", "text"),
    [(1000.0, "1000"), (99.96, "100"), (9.996, "10"), (0.25, "0.25"), (-12.34, "-12.3"), (7.0, "7")],
)
def test_amounts_are_told_without_digits_they_do_not_deserve(value, text):
    assert plain_amount(value) == text
