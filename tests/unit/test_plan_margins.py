"""What a line keeps clear of zones by, against the whole check asked with each current by itself."""

import cmath
import math
from dataclasses import replace

import pytest
from gear_stretches import SINGLE, TWIN
from planned_tows import PORT, bent, judge_of
from scenes import area, around, box, line, moved, points, zone

import towzone.plan.margins as margins_module
from towzone.model.result import Part
from towzone.model.rules import Rules
from towzone.model.vessel import Current
from towzone.model.zone import ZoneKind
from towzone.plan.margins import SETS_DEG, margins_of

BENT = ((90.0, 4000.0), (150.0, 4000.0))
CORNER = moved(PORT, 90.0, 4000.0)


def margins(of_line, judge):
    return margins_of(of_line, judge, judge.rows(of_line))


def only(found):
    assert len(found) == 1, found
    return found[0]


def clearances(zones, figures=SINGLE, part=Part.GEAR, **settings):
    """By zone, what the whole check says of the bent line."""
    rows = judge_of(zones, figures=figures, **settings).rows(bent(*BENT))
    return {row.zone_id: row.clearance_m for row in rows if row.part is part}


ZONES = [
    zone(area(around(moved(CORNER, 200.0, 700.0), 300.0)), zone_id="inside the corner", margin_m=150.0),
    zone(area(around(moved(CORNER, 45.0, 900.0), 400.0)), zone_id="outside the corner"),
    zone(points(moved(CORNER, 270.0, 1500.0)), ZoneKind.OBSTRUCTION, zone_id="between the doors"),
    zone(points(moved(PORT, 88.0, 2000.0)), ZoneKind.OBSTRUCTION, zone_id="ring", radius_m=50.0),
    zone(area(around(moved(CORNER, 150.0, 2500.0), 250.0)), zone_id="run through"),
    zone(line(moved(CORNER, 90.0, 3000.0), moved(CORNER, 170.0, 5000.0)), ZoneKind.CABLE, zone_id="cable"),
]


def test_vessel_and_gear_are_those_of_the_rows():
    judge = judge_of(ZONES)
    found = {margin.zone_id: margin for margin in margins(bent(*BENT), judge)}

    assert set(found) == {some.zone_id for some in ZONES}
    assert {z: m.vessel_m for z, m in found.items()} == clearances(ZONES, part=Part.VESSEL)
    assert {z: m.gear_m for z, m in found.items()} == clearances(ZONES)
    assert found["inside the corner"].margin_m == 150.0
    assert all(m.likely_m is None or m.likely_m <= max(m.gear_m, 0.0) for m in found.values())
    assert found["run through"].likely_m == 0.0


def test_the_worst_current_is_the_worst_of_eight_whole_checks():
    """The second way: each current, added to the stated one by hand, as the only one that is stated."""
    figures, strongest_kn = replace(TWIN, current=Current(set_deg=10.0, drift_kn=0.3)), 0.8
    judge = judge_of(ZONES, figures=figures, strongest_kn=strongest_kn)
    found = {margin.zone_id: margin for margin in margins(bent(*BENT), judge)}
    checks = {
        set_deg: clearances(ZONES, replace(figures, current=together(figures.current, set_deg, strongest_kn)))
        for set_deg in SETS_DEG
    }

    for zone_id, margin in found.items():
        worst_m = min(each[zone_id] for each in checks.values())
        within_m = 0.02 if worst_m > 0.0 else 0.2
        assert margin.set_m == pytest.approx(worst_m, abs=within_m), zone_id
        assert checks[margin.set_deg][zone_id] == pytest.approx(worst_m, abs=within_m), zone_id


def together(stated, set_deg, drift_kn):
    """Two currents as one, by complex numbers with north real."""
    flow = cmath.rect(drift_kn, math.radians(set_deg))
    if stated is not None:
        flow += cmath.rect(stated.drift_kn, math.radians(stated.set_deg))
    return Current(set_deg=math.degrees(cmath.phase(flow)) % 360.0, drift_kn=abs(flow))


def test_without_any_current_the_worst_is_the_gear_by_the_figures():
    found = margins(bent(*BENT), judge_of(ZONES, strongest_kn=0.0))

    for margin in found:
        within_m = 0.02 if margin.gear_m > 0.0 else 0.2
        assert margin.set_m == pytest.approx(margin.gear_m, abs=within_m), margin.zone_id
        assert margin.set_deg is None


def test_a_current_sets_the_gear_by_layback_over_speed_towards_the_zone():
    """On a straight tow, long settled: 0.6 over 3.0 is the tangent of the angle of 331.93 m of layback."""
    wreck = zone(points(moved(moved(PORT, 90.0, 9000.0), 180.0, 420.0)), ZoneKind.OBSTRUCTION)
    margin = only(margins(bent((90.0, 14_000.0)), judge_of([wreck], strongest_kn=0.6)))
    no_current = only(margins(bent((90.0, 14_000.0)), judge_of([wreck], strongest_kn=0.0)))

    assert margin.set_deg == 180.0
    # The door comes over by the layback times the sine; half of 80 m of spread is turned by that angle.
    angle = math.atan(0.6 / 3.0)
    moved_m = 331.93 * math.sin(angle) - 40.0 * (1.0 - math.cos(angle))
    assert no_current.set_m - margin.set_m == pytest.approx(moved_m, abs=0.1)
    assert margin.leg == 1


def test_a_wreck_that_a_current_brings_between_the_doors_is_touched():
    """It lies 55 m abeam, the doors 40 m: the traced parts pass on either side."""
    wreck = zone(points(moved(moved(PORT, 90.0, 9000.0), 180.0, 75.0)), ZoneKind.OBSTRUCTION)
    margin = only(margins(bent((90.0, 14_000.0)), judge_of([wreck], strongest_kn=0.5)))

    assert margin.gear_m > 20.0
    assert (margin.set_m, margin.set_deg) == (0.0, pytest.approx(157.5, abs=22.5))


def test_the_leg_is_the_one_on_which_the_least_was():
    found = {m.zone_id: m.leg for m in margins(bent(*BENT), judge_of(ZONES))}

    assert (found["ring"], found["between the doors"]) == (1, 1)
    # The gear cuts the corner when the vessel is on the second leg.
    assert (found["inside the corner"], found["run through"]) == (2, 2)


def test_run_in_and_run_out_count_to_the_first_and_the_last_leg():
    before = zone(points(moved(PORT, 270.0, 300.0)), ZoneKind.OBSTRUCTION, zone_id="before")
    end = moved(moved(PORT, 90.0, 5000.0), 90.0, 5000.0)
    after = zone(points(moved(end, 92.0, 500.0)), ZoneKind.OBSTRUCTION, zone_id="after")
    found = {
        m.zone_id: m.leg for m in margins(bent((90.0, 5000.0), (90.0, 5000.0)), judge_of([before, after]))
    }

    assert found == {"before": 1, "after": 2}


def test_the_least_to_spare_comes_first_and_what_binds_nobody_last():
    at = moved(PORT, 90.0, 5000.0)
    wide = zone(area(around(moved(at, 180.0, 2000.0), 500.0)), zone_id="wide margin", margin_m=1800.0)
    near = zone(area(around(moved(at, 180.0, 1000.0), 500.0)), zone_id="nearer", margin_m=50.0)
    idle = zone(area(around(at, 500.0)), zone_id="spared", rules=Rules(except_gears=("OTB",)), margin_m=50.0)
    found = margins(bent((90.0, 10_000.0)), judge_of([idle, near, wide]))

    assert [m.zone_id for m in found] == ["wide margin", "nearer", "spared"]
    assert found[-1].set_m < -400.0


def test_gear_wholly_inside_an_area_is_as_deep_as_the_check_says():
    """No part of it crosses the boundary."""
    whole = zone(area(around(moved(PORT, 90.0, 5000.0), 12_000.0)), zone_id="all")
    margin = only(margins(bent((90.0, 10_000.0)), judge_of([whole], strongest_kn=0.0)))

    assert margin.set_m == pytest.approx(margin.gear_m, abs=0.02)
    assert margin.gear_m < -11_000.0


def test_an_area_to_stay_inside_counts_the_other_way_round():
    """Its boundary 600 m to the south: half a knot sets the gear nearer to it."""
    stay = zone(
        area(box(-8.6, moved(PORT, 180.0, 600.0)[1], -7.6, 54.8)),
        zone_id="stay",
        rules=Rules(allowed_only_inside=True),
    )
    margin = only(margins(bent((90.0, 10_000.0)), judge_of([stay])))

    assert 0.0 < margin.set_m < margin.gear_m - 30.0
    assert margin.set_deg == 180.0


def test_gear_that_is_not_known_has_no_clearance():
    wreck = zone(points(moved(CORNER, 0.0, 900.0)), ZoneKind.OBSTRUCTION)
    margin = only(margins(bent(*BENT), judge_of([wreck], figures=None)))

    assert (margin.gear_m, margin.set_m, margin.set_deg) == (None, None, None)
    assert margin.vessel_m == pytest.approx(900.0, abs=1.0)


def test_no_zone_no_margin():
    assert margins(bent(*BENT), judge_of([])) == ()


def test_where_the_rope_alone_keeps_the_gear_clear_no_current_is_tried():
    wreck = zone(points(moved(moved(PORT, 90.0, 9000.0), 180.0, 900.0)), ZoneKind.OBSTRUCTION)
    margin = only(margins(bent((90.0, 14_000.0)), judge_of([wreck], strongest_kn=0.6)))
    assert margin.gear_m is not None
    assert (margin.set_m, margin.set_deg, margin.likely_m) == (None, None, None)


def test_of_points_along_gear_only_few_are_asked_how_deep_they_are_in_a_huge_area(monkeypatch):
    """Its boundary has tens of thousands of pieces, and from deep inside all of them are nearly as far."""
    asked = []
    whole = margins_module.closest

    def counted(side, *rest):
        asked.append(len(side.pieces.start_m))
        return whole(side, *rest)

    monkeypatch.setattr(margins_module, "closest", counted)
    huge = zone(area(box(*moved(PORT, 225.0, 300_000.0), *moved(PORT, 45.0, 200_000.0))), zone_id="huge")
    found = only(margins(bent(*BENT), judge_of([huge], strongest_kn=0.0)))
    assert found.set_m == pytest.approx(found.gear_m, abs=0.2)
    assert sum(asked[1:]) < 200  # of six thousand
