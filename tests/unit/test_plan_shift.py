"""How far to shift a leg: known answers, the least that passes, what is said where nothing helps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plan_advice_scenes import (
    FIGURES,
    SPEED_KN,
    aside_m,
    corners,
    judge_of,
    planned,
    with_corners,
)
from scenes import KNOT_MPS, area, moved, points, zone
from scenes import line as line_shape

from towzone.gear.figures import Rigging
from towzone.gear.stretch import widths_of
from towzone.model.plan import AdviceKind
from towzone.model.result import Part
from towzone.model.rules import Rules, Window
from towzone.model.zone import ZoneKind
from towzone.plan.advice.shift import shift_advice

# At the equator meridians run side by side: a cable along one is as far from a leg along another all the way.
START = (-20.0, -0.05)
NORTH = corners(START, (0.0, 12_000.0))
MIDDLE = moved(START, 0.0, 6_000.0)


def cable(east_m, half_m=1_500.0, **more):
    ends = [moved(moved(MIDDLE, 90.0, east_m), bearing, half_m) for bearing in (180.0, 0.0)]
    return zone(line_shape(*ends), ZoneKind.CABLE, zone_id="C", **({"margin_m": 100.0} | more))


def advise(line, judge):
    return shift_advice(line, judge, judge.rows(line))


def to_side(found, side):
    return next(advice for advice in found if advice.figures.get("side") == side)


def up_to_5(metres):
    return 5.0 * np.ceil(metres / 5.0 - 1e-9)


def half_width_m(judge):
    """How far aside of its course the likely gear reaches, settled, with three deviations of everything.

    Own second account: the corners of the gear as they lie behind a block that goes north, in a current from
    each of six directions so strong that the hexagon holds the circle of the strongest.
    """
    rigging = judge.rigging
    assert isinstance(rigging, Rigging)
    layback = np.sqrt(350.0**2 - 105.0**2 - 36.0**2)
    cross = 3.0 * np.sqrt(
        rigging.position.sigma**2 + (rigging.door_spread.sigma / 2.0) ** 2 + rigging.antenna.sigma**2
    )
    along = 3.0 * np.hypot(rigging.position.sigma, rigging.antenna.sigma)
    behind, most = widths_of(rigging).behind_m, 0.0
    drift = 3.0 * rigging.drift_sigma.sigma * KNOT_MPS / np.cos(np.pi / 6.0)
    for direction in np.arange(6) * np.pi / 3.0:
        water = 1j * SPEED_KN * KNOT_MPS - drift * np.exp(1j * (np.pi / 2.0 - direction))
        ahead = water / abs(water)
        door, cod = -layback * ahead, -(layback + behind) * ahead
        farther = cross * (1.0 + behind / layback)
        spots = [door + ahead * (far - 1j * (40.0 + cross)) for far in (-along, along)]
        spots += [cod + ahead * (45.0 - 1j * (10.0 + farther)), cod - ahead * (along + 1j * farther)]
        most = max(most, *(spot.real for spot in spots))
    return float(most)


@pytest.mark.parametrize("east_m", [60.0, 110.0])
def test_vessel_alone_shifts_by_what_its_own_margin_lacks(east_m):
    line, judge = planned(NORTH), judge_of([cable(east_m)], figures=None)
    found = advise(line, judge)
    needed = 100.0 + 15.0 + 20.0
    assert to_side(found, "port").figures["shift_m"] == up_to_5(needed - east_m)
    assert to_side(found, "starboard").figures["shift_m"] == up_to_5(needed + east_m)
    assert found[0].figures["side"] == "port"  # the smaller one first
    assert all(judge.is_clear(advice.line) for advice in found)
    assert "vessel and gear" not in found[0].words


@pytest.mark.parametrize("strongest_kn", [0.0, 0.6])
def test_gear_shifts_by_margin_and_half_width_and_steering_less_the_distance(strongest_kn):
    judge = judge_of([cable(150.0)], figures=replace(FIGURES, strongest_kn=strongest_kn))
    line = planned(NORTH)
    found = advise(line, judge)
    needed = 100.0 + half_width_m(judge) + 20.0
    advised = to_side(found, "port")
    # To a metre: the printed one is the next multiple of 5 m, or the one after where it is within that.
    assert advised.figures["shift_m"] in {up_to_5(needed - 150.0), up_to_5(needed - 150.0 + 1.0)}
    assert judge.is_clear(advised.line)
    assert advised.whole
    assert advised.clears == ("C",)
    assert aside_m((advised.line.lon_deg[0], advised.line.lat_deg[0]), *NORTH) == pytest.approx(
        -advised.figures["shift_m"], abs=0.01
    )
    less_m = advised.figures["shift_m"] - 15.0
    nearer = {n: moved(at, 270.0, less_m) for n, at in enumerate(NORTH)}
    assert {row.part for row in judge.open_rows(with_corners(line, nearer))} == {Part.GEAR}


def test_where_towing_begins_and_the_haul_is_called_is_said_to_move():
    found = advise(planned(NORTH), judge_of([cable(60.0)], figures=None))
    assert "Where towing begins moves with it." in found[0].words
    assert "Where the haul is called moves with it." in found[0].words


STEPS = corners((-8.0, 54.5), (90.0, 8_000.0), (150.0, 6_000.0), (90.0, 8_000.0))
IN_WAY = moved(moved(STEPS[1], 150.0, 3_000.0), 60.0, 50.0)


def ring(at, radius_m, zone_id="A", **more):
    return zone(area([moved(at, b, radius_m) for b in range(0, 360, 30)]), zone_id=zone_id, **more)


def test_corners_slide_along_the_legs_beside_and_a_little_less_does_not_pass():
    line, judge = planned(STEPS), judge_of([ring(IN_WAY, 300.0, margin_m=100.0)])
    found = advise(line, judge)
    assert [advice.leg for advice in found] == [2, 2]
    for advice in found:
        assert advice.kind is AdviceKind.SHIFT
        assert advice.whole
        assert judge.is_clear(advice.line)
        sign = 1.0 if advice.figures["side"] == "starboard" else -1.0
        new = list(zip(advice.line.lon_deg, advice.line.lat_deg, strict=True))
        assert new[0] == STEPS[0]
        assert new[3] == STEPS[3]
        assert abs(aside_m(new[1], STEPS[0], STEPS[1])) < 0.5
        assert abs(aside_m(new[2], STEPS[3], STEPS[2])) < 0.5
        for corner in (1, 2):
            shift_m = sign * aside_m(new[corner], STEPS[1], STEPS[2])
            assert shift_m == pytest.approx(advice.figures["shift_m"], abs=2.0)
        share = 1.0 - 15.0 / advice.figures["shift_m"]
        less = {
            corner: tuple(np.array(STEPS[corner]) + share * (np.array(new[corner]) - np.array(STEPS[corner])))
            for corner in (1, 2)
        }
        assert not judge.is_clear(with_corners(line, less))


def test_a_shift_goes_beyond_the_next_zone_where_there_is_no_way_between():
    beyond = moved(IN_WAY, 240.0, 900.0)
    line = planned(STEPS)
    judge = judge_of([ring(IN_WAY, 300.0, margin_m=100.0), ring(beyond, 200.0, "B", margin_m=100.0)])
    alone = judge_of([ring(IN_WAY, 300.0, margin_m=100.0)])
    near, far = (to_side(advise(line, some), "starboard") for some in (alone, judge))
    assert far.figures["shift_m"] > near.figures["shift_m"] + 400.0
    assert judge.is_clear(far.line)
    assert not judge.is_clear(near.line)
    assert far.zone_ids == ("A",)
    assert far.clears == ("A",)


def test_trouble_elsewhere_is_neither_cleared_nor_in_the_way():
    other = moved(STEPS[0], 90.0, 4_000.0)
    line = planned(STEPS)
    judge = judge_of([ring(IN_WAY, 300.0, margin_m=100.0), ring(other, 100.0, "B", margin_m=100.0)])
    found = advise(line, judge)
    assert {advice.leg for advice in found} == {1, 2}
    for advice in found:
        cleared = {1: "B", 2: "A"}[advice.leg]
        assert advice.clears == (cleared,)
        assert not advice.whole
        still = {row.zone_id for row in judge.open_rows(advice.line)}
        assert still == {"A", "B"} - {cleared}


def test_says_so_where_no_shift_helps():
    wall = zone(area([moved(IN_WAY, b, 9_000.0) for b in (50.0, 70.0, 230.0, 250.0)]), zone_id="W")
    judge = judge_of([wall])
    (only,) = advise(planned(STEPS), judge)
    assert only.line is None
    assert only.clears == ()
    assert not only.whole
    assert only.words.startswith("No parallel shift of leg 2 by up to 5 km")


def test_nothing_is_said_of_a_clear_line():
    judge = judge_of([ring(moved(IN_WAY, 60.0, 5_000.0), 300.0)])
    assert advise(planned(STEPS), judge) == ()


def test_zones_of_other_seasons_do_not_count():
    summer = Rules(season=(Window(from_month=6, from_day=1, to_month=8, to_day=31),))
    judge = judge_of([ring(IN_WAY, 300.0, margin_m=100.0, rules=summer)])
    assert advise(planned(STEPS), judge) == ()


def test_an_area_that_must_not_be_left_counts():
    at = moved(STEPS[1], 150.0, 3_000.0)
    sides = [moved(moved(at, 60.0, 250.0), b, 30_000.0) for b in (150.0, 330.0)]
    allowed = zone(
        area([*sides, moved(sides[1], 240.0, 30_000.0), moved(sides[0], 240.0, 30_000.0)]),
        zone_id="I",
        rules=Rules(allowed_only_inside=True),
        margin_m=100.0,
    )
    line = planned(corners(moved(at, 330.0, 5_000.0), (150.0, 10_000.0)))
    judge = judge_of([allowed])
    advised = to_side(advise(line, judge), "starboard")
    assert judge.is_clear(advised.line)
    assert not any(advice.figures.get("side") == "port" for advice in advise(line, judge))


def test_points_count_as_what_they_are():
    wreck = zone(points(IN_WAY), ZoneKind.OBSTRUCTION, zone_id="P", radius_m=40.0, margin_m=60.0)
    judge = judge_of([wreck])
    found = advise(planned(STEPS), judge)
    assert len(found) == 2
    assert all(judge.is_clear(advice.line) for advice in found)
