"""Where to call the haul and where to shoot: distances by hand on straight boundaries, and the check."""

import functools
import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from gear_stretches import BEAMS, SINGLE
from planned_tows import PORT, bent, judge_of
from scenes import apart_m, area, around, box, line, moved, points, zone

from towzone.checks.settings import GearProof
from towzone.gear.bounds import rope_reach_m
from towzone.gear.winch import lift_off_scope, relative_m
from towzone.geodesy.lines import LineKind
from towzone.model.plan import AdviceKind
from towzone.model.result import FINDINGS, Status
from towzone.model.rules import Rules
from towzone.model.zone import ZoneKind
from towzone.plan.advice.haul_call import haul_call_advice
from towzone.plan.advice.shoot import shoot_advice
from towzone.plan.judging import OPEN
from towzone.plan.lines import legs_of

MPS = 3.0 * 1852.0 / 3600.0
EAST = bent((90.0, 12_000.0))


def wall(at, angle_deg, margin_m=100.0, **more):
    """A line not to be fished across, which the tow east meets at a place, at an angle to its course."""
    course_deg = float(legs_of(EAST, LineKind.RHUMB).course0_deg[0])
    ends = [moved(at, course_deg - angle_deg + turn, 9000.0) for turn in (0.0, 180.0)]
    return zone(line(*ends), margin_m=margin_m, **more)


def hauled(zones, of_line=EAST, **settings):
    judge = judge_of(zones, **settings)
    return haul_call_advice(of_line, judge, judge.rows(of_line)), judge


def shot(zones, of_line=EAST, **settings):
    judge = judge_of(zones, **settings)
    return shoot_advice(of_line, judge, judge.rows(of_line)), judge


@functools.cache
def plain():
    """The advice before a wall square across the tow, 10 km on, with a margin of 100 m."""
    found, judge = hauled([wall(moved(PORT, 90.0, 10_000.0), 90.0)])
    return only(found), judge


def only(found):
    assert len(found) == 1, [advice.words for advice in found]
    return found[0]


def still_open(judge, of_line):
    return {row.zone_id for row in judge.rows(of_line) if row.status in OPEN}


@pytest.mark.parametrize("angle_deg", [90.0, 30.0])
def test_the_guaranteed_place_keeps_rope_and_margin_from_the_boundary_until_the_gear_is_up(angle_deg):
    """Hauling takes warp, sweeps and net, 510 m, at 0.96 m/s: then the rope and the margin are still left.

    On a straight boundary what is square to it is along the course by the sine of the angle.
    """
    found, judge = hauled([wall(moved(PORT, 90.0, 10_000.0), angle_deg)])
    advice = only(found)

    square_m = rope_reach_m(judge.rigging) + 100.0
    along_m = square_m / math.sin(math.radians(angle_deg)) + (531.25 + 1.0) * MPS
    assert advice.kind is AdviceKind.HAUL_CALL
    assert advice.figures["guaranteed_before_boundary_m"] == pytest.approx(along_m, abs=1.5)
    assert advice.figures["angle_of_approach_deg"] == pytest.approx(angle_deg, abs=0.5)
    assert (advice.leg, advice.zone_ids, advice.clears, advice.whole) == (1, ("Z",), ("Z",), True)


def test_the_line_cut_short_there_is_clear_and_a_little_farther_on_it_is_not():
    found, judge = hauled([wall(moved(PORT, 90.0, 10_000.0), 70.0)])
    advice = only(found)
    place_m = advice.figures["guaranteed_along_m"]

    assert still_open(judge, advice.line) == set()
    assert apart_m(PORT, (advice.line.lon_deg[-1], advice.line.lat_deg[-1])) == pytest.approx(
        place_m, abs=0.05
    )
    assert still_open(judge, bent((90.0, place_m + 3.0))) == {"Z"}


def test_the_place_and_the_time_are_told():
    figures, words = plain()[0].figures, plain()[0].words

    at = (figures["guaranteed_lon_deg"], figures["guaranteed_lat_deg"])
    seconds = figures["guaranteed_along_m"] / MPS
    utc = datetime(2026, 3, 1, 6, tzinfo=UTC).timestamp() + seconds
    assert apart_m(PORT, at) == pytest.approx(figures["guaranteed_along_m"], abs=0.05)
    assert figures["guaranteed_utc"].startswith(
        datetime.fromtimestamp(utc, UTC).strftime("%Y-%m-%dT%H:%M:%S")
    )
    assert words.startswith(
        "Call the haul no later than 54°29.994'N 008°02.641'W (2026-03-01 07:31:38 UTC), "
    )
    assert "before the boundary: guaranteed by the length of its rope, no part of the gear" in words
    assert "By the figures the doors, but not the net, would still be off in time" in words


def test_by_the_figures_the_doors_lift_at_three_quarters_of_the_scope():
    """Over a cable, square: 8.7 of gear.md, with the doors' spread along a towline that nobody sees turn."""
    at = moved(PORT, 90.0, 10_000.0)
    cable = zone(line(moved(at, 0.0, 9000.0), moved(at, 180.0, 9000.0)), ZoneKind.CABLE, margin_m=700.0)
    found, judge = hauled([cable], figures=replace(SINGLE, warp_m=900.0, depth_m=150.0))
    advice = only(found)

    scope = float(lift_off_scope(900.0 / 155.0))
    ahead_m = float(relative_m(900.0, 155.0, MPS, 1.2, scope))
    assert advice.figures["doors_off_ahead_m"] == pytest.approx(ahead_m)
    # Lifted far astern: what binds is that the vessel tows no farther than to the margin.
    assert ahead_m < -300.0
    assert advice.figures["doors_by_figures_before_boundary_m"] == pytest.approx(700.0, abs=2.0)
    assert judge.rigging.warp.value == 900.0


def test_fast_hauling_way_carries_the_doors_ahead_of_the_call():
    """At 6 kn over the ground doors lift 72 s on, 40 m or so ahead of where the haul was called."""
    at = moved(PORT, 90.0, 10_000.0)
    cable = zone(line(moved(at, 0.0, 9000.0), moved(at, 180.0, 9000.0)), ZoneKind.CABLE, margin_m=0.0)
    found, judge = hauled([cable], hauling_way_kn=7.0)
    figures = only(found).figures

    scope = float(lift_off_scope(350.0 / 105.0))
    ahead_m = float(relative_m(350.0, 105.0, 7.0 * 1852.0 / 3600.0, 1.2, scope))
    assert ahead_m > 10.0
    doubt_m = figures["doors_by_figures_before_boundary_m"] - ahead_m
    # Three standard deviations along the tow: of 7 m of warp by 350 / 334, of the depth, and more.
    assert 3.0 * 7.0 < doubt_m < 3.0 * 25.0
    assert judge.settings.hauling_way_kn == 7.0


def test_surely_the_doors_are_off_with_the_longest_warp_the_least_depth_and_the_slowest_winch():
    advice, judge = plain()
    rigging, figures = judge.rigging, advice.figures

    longest_m = 350.0 + 3.0 * rigging.warp.sigma
    shallow_m = 105.0 - 3.0 * math.hypot(rigging.depth.sigma, rigging.block_height.sigma)
    ahead_m = MPS * (longest_m - shallow_m) / (1.2 * 0.8)
    place_m = 3.0 * math.hypot(rigging.position.sigma, rigging.antenna.sigma)
    assert figures["doors_surely_before_boundary_m"] == pytest.approx(100.0 + ahead_m + place_m, abs=2.0)
    assert figures["guaranteed_before_boundary_m"] > figures["doors_surely_before_boundary_m"]
    assert figures["doors_surely_before_boundary_m"] > figures["doors_by_figures_before_boundary_m"]


def test_sweeps_and_net_that_only_just_hang_free_are_hauled_in_to_the_last():
    """165 m of water, 160 m of sweeps and net: 5 m longer they drag until they have come in themselves."""
    just = replace(SINGLE, warp_m=600.0, depth_m=160.0)
    found, judge = hauled([wall(moved(PORT, 90.0, 10_000.0), 90.0)], figures=just)
    figures = only(found).figures

    assert figures["hauling_s"] == pytest.approx((600.0 + 160.0) / 0.96)
    assert figures["guaranteed_before_boundary_m"] == pytest.approx(
        rope_reach_m(judge.rigging) + 100.0 + (760.0 / 0.96 + 1.0) * MPS, abs=2.0
    )


def test_beams_are_called_beams():
    found, _ = hauled([wall(moved(PORT, 90.0, 10_000.0), 90.0)], figures=BEAMS, check={"gear": "TBB"})

    assert "By the figures the beams, but not the net, would still be off" in only(found).words
    assert "beams_by_figures_along_m" in only(found).figures


def test_steering_and_the_datum_of_the_zone_count():
    coarse, judge = hauled(
        [wall(moved(PORT, 90.0, 10_000.0), 90.0, datum_accuracy_m=25.0)], check={"steering_m": 40.0}
    )

    key = "guaranteed_before_boundary_m"
    assert only(coarse).figures[key] - plain()[0].figures[key] == pytest.approx(65.0, abs=2.0)
    assert still_open(judge, only(coarse).line) == set()


def test_a_zone_beyond_the_end_that_hauling_reaches_asks_for_an_earlier_call():
    """The line ends 900 m before it: no part comes near while towing."""
    found, judge = hauled([wall(moved(PORT, 90.0, 12_900.0), 90.0)])
    advice = only(found)

    assert advice.figures["guaranteed_along_m"] < 12_000.0
    assert advice.figures["guaranteed_before_boundary_m"] == pytest.approx(
        rope_reach_m(judge.rigging) + 100.0 + 532.25 * MPS, abs=2.0
    )


def test_the_call_is_on_the_leg_that_runs_into_the_zone():
    of_line = bent((90.0, 6000.0), (150.0, 9000.0))
    corner = moved(PORT, 90.0, 6000.0)
    hole = zone(points(moved(corner, 150.0, 6000.0)), radius_m=800.0, margin_m=200.0)
    found, judge = hauled([hole], of_line)
    advice = only(found)

    assert (advice.leg, len(advice.line)) == (2, 3)
    assert advice.line.lon_deg[:2].tolist() == of_line.lon_deg[:2].tolist()
    assert still_open(judge, advice.line) == set()


def test_a_zone_straight_on_from_a_corner_asks_for_no_call_where_the_line_turns_off_in_time():
    """A haul on the first leg would run into it, so the last place is on the second."""
    of_line = bent((90.0, 6000.0), (0.0, 6000.0), (90.0, 6000.0))
    last = moved(moved(moved(PORT, 90.0, 6000.0), 0.0, 6000.0), 90.0, 4500.0)
    hole = zone(points(moved(PORT, 90.0, 8000.0)), radius_m=600.0, zone_id="straight on")
    other = zone(points(last), radius_m=500.0, zone_id="on the line")
    found, judge = hauled([hole, other], of_line)
    advice = only(found)

    assert advice.zone_ids == ("on the line",)
    assert advice.leg == 3
    assert still_open(judge, advice.line) == set()


def test_a_boundary_too_near_the_start_leaves_no_place_and_it_is_said():
    found, _ = hauled([wall(moved(PORT, 90.0, 1200.0), 90.0)])
    advice = only(found)

    assert (advice.line, advice.leg, advice.clears, advice.whole) == (None, None, (), False)
    assert advice.words.startswith("Nowhere on this line is it early enough to call the haul")
    assert "towing begins 1200 m (0.65 nmi) before the boundary" in advice.words


def test_each_zone_that_the_line_comes_to_has_its_own_call():
    near = wall(moved(PORT, 90.0, 9000.0), 90.0, zone_id="near")
    far = wall(moved(PORT, 90.0, 11_000.0), 90.0, zone_id="far")
    found, _ = hauled([far, near])

    assert [advice.zone_ids for advice in found] == [("near",), ("far",)]
    assert [advice.clears for advice in found] == [("far", "near"), ("far",)]
    assert [advice.whole for advice in found] == [True, False]
    apart = np.diff([advice.figures["guaranteed_along_m"] for advice in found])
    assert apart[0] == pytest.approx(2000.0, abs=2.0)


def test_an_area_to_stay_inside_is_left_as_others_are_entered():
    stay = zone(
        area(box(-9.0, 54.0, moved(PORT, 90.0, 10_000.0)[0], 55.0)), rules=Rules(allowed_only_inside=True)
    )
    found, judge = hauled([stay])
    advice = only(found)

    assert advice.figures["guaranteed_before_boundary_m"] == pytest.approx(
        rope_reach_m(judge.rigging) + 532.25 * MPS, abs=3.0
    )
    assert still_open(judge, advice.line) == set()


def test_geodesic_legs_are_cut_on_the_geodesic():
    found, judge = hauled([wall(moved(PORT, 90.0, 10_000.0), 90.0)], check={"legs": LineKind.GEODESIC})

    assert still_open(judge, only(found).line) == set()
    assert only(found).figures["guaranteed_before_boundary_m"] == pytest.approx(1513.1, abs=2.5)


@pytest.mark.parametrize(
    "zones",
    [
        [],
        [zone(points(moved(PORT, 0.0, 5000.0)), radius_m=900.0)],
        [zone(points(moved(PORT, 90.0, 6000.0)), radius_m=900.0, rules=Rules(except_gears=("OTB",)))],
    ],
)
def test_what_is_clear_needs_no_call_and_no_other_start(zones):
    assert hauled(zones)[0] == ()
    assert shot(zones)[0] == ()


def test_of_gear_that_is_not_known_nothing_is_advised():
    zones = [wall(moved(PORT, 90.0, 10_000.0), 90.0), zone(area(around(PORT, 700.0)), zone_id="start")]

    assert hauled(zones, figures=None)[0] == ()
    assert shot(zones, figures=None)[0] == ()


def test_with_the_rope_for_proof_the_answer_is_the_same():
    """While gear is hauled only its rope counts, whatever is taken for proof while it is towed."""
    rope, _ = hauled([wall(moved(PORT, 90.0, 10_000.0), 90.0)], check={"gear_proof": GearProof.ROPE})

    key = "guaranteed_along_m"
    assert plain()[0].figures[key] == only(rope).figures[key]


@pytest.mark.parametrize("turn_deg", [0.0, 40.0])
def test_the_safe_place_to_shoot_is_a_rope_the_margin_and_the_shooting_past_the_boundary(turn_deg):
    """Shooting takes 510 m at 2 - 2 x 0.4 m/s, and the second more that the check looks at."""
    west = moved(PORT, 270.0, 200.0)
    corners = [moved(west, turn_deg, 9000.0), moved(west, turn_deg + 180.0, 9000.0)]
    behind = zone(
        area([*corners, *(moved(corner, turn_deg + 270.0, 9000.0) for corner in corners[::-1])]),
        margin_m=100.0,
        zone_id="behind",
    )
    found, judge = shot([behind])
    advice = only(found)

    square_m = rope_reach_m(judge.rigging) + 100.0
    along_m = square_m / math.cos(math.radians(turn_deg)) + (510.0 / 1.2 + 1.0) * MPS - 200.0
    assert advice.kind is AdviceKind.SHOOT
    assert advice.figures["safe_along_m"] == pytest.approx(along_m, abs=8.0)
    assert still_open(judge, advice.line) == set()
    assert still_open(judge, bent((90.0, 12_000.0), start=moved(PORT, 90.0, along_m - 12.0))) == {"behind"}
    assert (advice.leg, advice.clears, advice.whole) == (1, ("behind",), True)


def test_a_line_that_begins_inside_is_told_where_to_shoot_past_the_boundary():
    found, judge = shot([zone(area(around(PORT, 700.0, corners=72)), margin_m=50.0)])
    advice = only(found)

    past_m = rope_reach_m(judge.rigging) + 50.0 + (510.0 / 1.2 + 1.0) * MPS
    assert advice.figures["safe_past_boundary_m"] == pytest.approx(past_m, abs=4.0)
    assert advice.words.startswith("Have the brakes on no earlier than 54°")
    assert "past the boundary, shooting on the course of that leg" in advice.words
    # 8.8 of gear.md, by the figures: net, sweeps and what is out while the vessel goes on; doubt on top.
    by_figures_m = advice.figures["by_figures_past_boundary_m"]
    assert 160.0 + 333.88 + 50.0 < by_figures_m < advice.figures["safe_past_boundary_m"]
    assert still_open(judge, advice.line) == set()
    assert haul_call_advice(EAST, judge, judge.rows(EAST)) == ()


def test_a_line_that_begins_within_the_radius_of_a_wreck_is_told_the_same():
    wreck = zone(points(PORT), ZoneKind.OBSTRUCTION, radius_m=700.0, margin_m=50.0)
    found, judge = shot([wreck])
    advice = only(found)

    past_m = rope_reach_m(judge.rigging) + 50.0 + (510.0 / 1.2 + 1.0) * MPS
    assert advice.figures["safe_past_boundary_m"] == pytest.approx(past_m, abs=1.5)
    assert haul_call_advice(EAST, judge, judge.rows(EAST)) == ()


def test_a_slow_winch_lets_the_net_down_far_astern_of_where_the_brakes_go_on():
    """Half a metre a second: the vessel goes on faster than the warp runs out."""
    slow = replace(SINGLE, shoot_time_s=(350.0 + 110.0) / 0.5)
    found, _ = shot([zone(points(PORT), radius_m=700.0)], bent((90.0, 20_000.0)), figures=slow)

    # Farthest astern while the layback grows as fast as the vessel goes on: S = H / sqrt(1 - (w / v)^2).
    out_m = 105.0 / math.sqrt(1.0 - (0.5 / MPS) ** 2)
    behind_m = (350.0 - out_m) / 0.5 * MPS + math.sqrt(out_m**2 - 105.0**2)
    assert only(found).figures["net_astern_at_the_most_by_figures_m"] == pytest.approx(
        160.0 + behind_m, abs=0.1
    )


def test_a_line_along_a_zone_all_the_way_has_no_place_to_shoot():
    """400 m abeam all along: the rope reaches farther."""
    side = zone(area(box(-8.4, moved(PORT, 180.0, 3000.0)[1], -7.7, moved(PORT, 180.0, 400.0)[1])))
    found, _ = shot([side])
    advice = only(found)

    assert advice.line is None
    assert advice.words.startswith("Nowhere on this line is it late enough to have the brakes on")


def test_what_shooting_reaches_only_by_its_rope_is_told_without_a_boundary():
    """700 m astern of the start: nothing of it was ever left behind by the line itself."""
    found, judge = shot([zone(points(moved(PORT, 270.0, 1200.0)), ZoneKind.OBSTRUCTION)])
    advice = only(found)

    assert "safe_past_boundary_m" not in advice.figures
    assert "past the boundary" not in advice.words
    assert still_open(judge, advice.line) == set()


def test_a_rule_that_ends_between_start_and_safe_place_is_asked_about_at_both_times():
    """It ends when the vessel is 900 m on; a line that begins later begins after it."""
    until = datetime(2026, 3, 1, 6, 10, tzinfo=UTC)
    found, judge = shot([zone(points(PORT), radius_m=700.0, margin_m=50.0, rules=Rules(valid_until=until))])

    for advice in found:
        assert still_open(judge, advice.line) == set()


def test_rows_that_are_not_findings_but_undetermined_are_advised_on_as_well():
    judge = judge_of([wall(moved(PORT, 90.0, 12_900.0), 90.0)])
    rows = judge.rows(EAST)

    assert not any(row.status in FINDINGS for row in rows)
    assert any(row.status is Status.UNDETERMINED for row in rows)
    assert len(haul_call_advice(EAST, judge, rows)) == 1
