"""Where to begin a turn, hold on before it or split it: the corner cut of the model, the check, the least."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plan_advice_scenes import FIGURES, aside_m, corners, judge_of, planned, with_corners
from scenes import GEOD, apart_m, area, moved, points, zone
from scenes import line as line_shape

from towzone.gear.turns import corner_cut
from towzone.model.plan import AdviceKind
from towzone.model.result import Part, Status
from towzone.model.vessel import Current, Rig
from towzone.model.zone import ZoneKind
from towzone.plan.advice.adviser import Adviser
from towzone.plan.advice.quick import AFTER, BEFORE, LEAST, Quick, Routes
from towzone.plan.advice.trails import outlines, towed_gear
from towzone.plan.advice.turning import turning_advice
from towzone.plan.judging import OPEN
from towzone.plan.lines import turns_deg

AT = (-8.0, 54.5)
CORNER = corners(AT, (90.0, 8_000.0), (180.0, 8_000.0))
INSIDE = moved(moved(CORNER[1], 180.0, 300.0), 270.0, 300.0)


def wreck(at, **more):
    return zone(points(at), ZoneKind.OBSTRUCTION, zone_id="W", **({"margin_m": 50.0} | more))


def advise(line, judge):
    return turning_advice(line, judge, judge.rows(line))


def of_kind(found, kind):
    return next(advice for advice in found if advice.kind is kind)


def in_plane(length_m, turn_deg, step_m=2.0):
    """A lead that goes north, then turns, in a plane; with its courses."""
    run = np.arange(0.0, length_m, step_m)
    on = np.exp(1j * (np.pi / 2.0 - np.radians(turn_deg)))
    lead = np.concatenate([1j * (run - length_m), run * on])[None]
    return lead, np.concatenate([np.full(len(run), 1j), np.full(len(run), on)])[None]


@pytest.mark.parametrize("turn_deg", [30.0, 60.0, 90.0, 120.0])
def test_doors_pass_a_corner_as_the_closed_form_has_it(turn_deg):
    rigging = judge_of([], figures=replace(FIGURES, strongest_kn=0.0)).rigging
    towed = towed_gear(rigging, 3.0, 3.0)
    layback_m = float(towed.layback_m[0])
    lead, course = in_plane(5.0 * layback_m, turn_deg)
    spots = outlines(lead, course, towed, begins=False)
    # Between the points at both doors lies the middle of the doors; the first eight are of the gear as it is.
    doors = (spots[0, :, 0] + spots[0, :, 1] + spots[0, :, 4] + spots[0, :, 5]) / 4.0
    cut = corner_cut(np.radians(turn_deg))
    assert np.abs(doors).min() == pytest.approx(float(cut.distance) * layback_m, abs=1.0)


def scene_of_corner(rng, number):
    drift = Current(set_deg=float(rng.uniform(0.0, 360.0)), drift_kn=0.4) if number % 2 else None
    figures = replace(
        FIGURES,
        rig=(Rig.SINGLE, Rig.TWIN)[number % 2],
        warp_m=float(rng.uniform(250.0, 600.0)),
        block_aft_m=float(rng.uniform(0.0, 20.0)),
        strongest_kn=(0.3, 0.8)[number % 2],
        current=drift,
    )
    course, turn = rng.uniform(0.0, 360.0), rng.choice([-1.0, 1.0]) * rng.uniform(20.0, 110.0)
    place = ((5.0, 57.0), (179.99, -16.0), (-30.0, 70.0))[number % 3]
    line = corners(place, (course, 5_000.0), (course + turn, 5_000.0))
    near = [moved(line[1], rng.uniform(0.0, 360.0), rng.uniform(100.0, 900.0)) for _ in range(25)]
    zones = [
        zone(points(at), ZoneKind.OBSTRUCTION, zone_id=f"P{n}", margin_m=600.0) for n, at in enumerate(near)
    ]
    return planned(line), judge_of(zones, figures=figures), zones


@pytest.mark.parametrize("number", range(3))
def test_the_search_knows_what_the_check_will_say_to_a_few_metres(number):
    line, judge, _ = scene_of_corner(np.random.default_rng(number), number)
    quick = Quick(line, judge, 100.0)
    # On short tows either side of the corner neither shooting nor hauling comes near.
    short = quick.short(
        Routes(lon_deg=line.lon_deg[None], lat_deg=line.lat_deg[None], begins=True, ends=True)
    )
    # The towline hangs slack for a moment where the turn is sharper than a right angle.
    off_m, compared = (9.0 if abs(turns_deg(line, quick.kind)[0]) > 90.0 else 5.0), 0
    for row in judge.rows(line):
        own = quick.obstacles.numbers[row.zone_id]
        if row.part is Part.VESSEL:
            known = row.margin_m + row.uncertainty_m - row.clearance_m
            if known > LEAST + 5.0:
                assert short.vessel_m[0, :, :, own].max() == pytest.approx(known, abs=0.1)
        elif row.gear.likely_clearance_m and row.gear.likely_clearance_m < 600.0:
            # Its path or its rope alone: whichever keeps the gear farther off.
            kept_m = max(row.gear.likely_clearance_m, row.gear.rope_clearance_m)
            known = row.margin_m - kept_m
            if known > LEAST + 10.0:
                assert short.gear_m[0, :, :, own].max() == pytest.approx(known, abs=off_m)
                compared += 1
    assert compared >= 10


@pytest.fixture(scope="module")
def inside():
    """A corner with a wreck inside it: the judge, and what is advised."""
    judge = judge_of([wreck(INSIDE)])
    return judge, advise(planned(CORNER), judge)


def test_each_remedy_of_an_inside_corner_is_confirmed_and_the_least(inside):
    line, (judge, found) = planned(CORNER), inside
    assert {advice.kind for advice in found} == {
        AdviceKind.HOLD_ON,
        AdviceKind.BEGIN_TURN,
        AdviceKind.SPLIT_TURN,
    }
    changes = [abs(advice.figures["longer_m"]) for advice in found]
    assert changes == sorted(changes)
    for advice in found:
        assert advice.leg == 1
        assert advice.zone_ids == advice.clears == ("W",)
        assert advice.whole
        assert judge.is_clear(advice.line)
    hold, early = (of_kind(found, kind) for kind in (AdviceKind.HOLD_ON, AdviceKind.BEGIN_TURN))
    for advice, course, metres in (
        (hold, 90.0, hold.figures["hold_on_m"]),
        (early, 270.0, early.figures["earlier_m"]),
    ):
        azimuth, _, _ = GEOD.inv(*CORNER[1], *CORNER[0])
        along = (azimuth + (180.0 if course == 90.0 else 0.0)) % 360.0
        corner = (advice.line.lon_deg[1], advice.line.lat_deg[1])
        assert apart_m(corner, moved(CORNER[1], along, metres)) < 0.1
        assert (advice.line.lon_deg[2], advice.line.lat_deg[2]) == CORNER[2]
        assert not judge.is_clear(with_corners(line, {1: moved(CORNER[1], along, metres - 15.0)}))
    assert hold.words.startswith(f"Hold on {hold.figures['hold_on_m']:.0f} m (")


def test_holding_on_is_never_advised_for_longer_than_the_whole_gear_past_what_is_in_the_way(inside):
    # Held on until all of the likely gear is past it, the gear begins its cut beyond (gear.md 8.3).
    judge, found = inside
    hold = of_kind(found, AdviceKind.HOLD_ON)
    likely_m = Adviser(planned(CORNER), judge).quick.gear_m * 1.2  # and its spread
    before_corner_m = 300.0
    assert 0.0 < hold.figures["hold_on_m"] + before_corner_m <= likely_m + 50.0 + 20.0


def test_halves_of_a_split_turn_are_alike_and_three_laybacks_apart(inside):
    judge, found = inside
    advice = of_kind(found, AdviceKind.SPLIT_TURN)
    assert len(advice.line) == len(CORNER) + 1
    first, second = turns_deg(advice.line, judge.settings.check.legs)
    assert first == pytest.approx(second, abs=0.5)
    assert advice.figures["half_deg"] == pytest.approx(first, abs=0.1)
    ends = [(advice.line.lon_deg[n], advice.line.lat_deg[n]) for n in (1, 2)]
    assert apart_m(*ends) == pytest.approx(advice.figures["apart_m"], abs=0.5)
    layback_m = np.sqrt(350.0**2 - 105.0**2 - 36.0**2)
    assert advice.figures["apart_m"] >= 3.0 * layback_m
    assert abs(aside_m(ends[0], CORNER[0], CORNER[1])) < 0.5


def test_a_zone_outside_the_corner_is_kept_off_by_turning_earlier():
    outside = moved(CORNER[1], 45.0, 60.0)
    line, judge = planned(CORNER), judge_of([wreck(outside)])
    found = advise(line, judge)
    early = of_kind(found, AdviceKind.BEGIN_TURN)
    assert judge.is_clear(early.line)
    assert early.figures["earlier_m"] < 400.0


def test_nothing_is_said_of_a_corner_that_no_turn_mends():
    ring = [moved(CORNER[1], bearing, 5_000.0) for bearing in range(0, 360, 30)]
    holed = zone(area(ring), zone_id="A")
    assert advise(planned(CORNER), judge_of([holed])) == ()


def test_trouble_along_a_leg_is_no_matter_of_its_turns():
    beside = moved(moved(CORNER[0], 90.0, 4_000.0), 0.0, 50.0)
    line, judge = planned(CORNER), judge_of([wreck(beside)])
    assert any(row.status in OPEN for row in judge.rows(line))
    assert advise(line, judge) == ()


def test_without_gear_there_is_nothing_to_cut_corners():
    judge = judge_of([wreck(moved(CORNER[1], 45.0, 60.0))], figures=None)
    assert advise(planned(CORNER), judge) == ()


def test_legs_and_sections_of_trouble_are_where_it_is():
    cable = zone(line_shape(INSIDE, moved(INSIDE, 225.0, 600.0)), ZoneKind.CABLE, zone_id="C", margin_m=50.0)
    adviser = Adviser(planned(CORNER), judge_of([wreck(INSIDE), cable]))
    where = {tuple(cell) for cell in np.argwhere(adviser.trouble.any(axis=2)).tolist()}
    assert where <= {(0, BEFORE), (1, AFTER)}
    assert (1, AFTER) in where
    statuses = {row.status for row in adviser.judge.open_rows(adviser.line)}
    assert statuses <= {Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED}
    assert {row.zone_id for row in adviser.judge.open_rows(adviser.line)} == adviser.open_ids
