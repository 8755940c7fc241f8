"""The truth table of verdicts, at its boundaries, in the judge itself and through whole checks."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import START, area, around, box, check, fixes, moved, only_row, points, steady, wait, zone

from towzone.checks.force import Force, Standing, applies
from towzone.checks.intervals import Intervals
from towzone.checks.passages import Demand, GearMeasure, Passage
from towzone.checks.settings import GearProof, Towing
from towzone.checks.transit import CrossingSpeed
from towzone.checks.verdicts import in_doubt, judge, judge_gear, tier_of
from towzone.geodesy.lines import LineKind
from towzone.model.gear import GearTier
from towzone.model.result import FINDINGS, Activity, Outcome, Status
from towzone.model.rules import Rules
from towzone.model.zone import Prohibition, ZoneKind

A = (-20.0, 57.0)
MARGIN, ERROR = 463.0, 15.0
NEVER = Intervals(np.empty(0), np.empty(0))
STAY = Intervals(np.array([0.0]), np.array([1.0]))


def passage(clearance_m):
    inside = STAY if clearance_m is not None and clearance_m < 0 else NEVER
    return Passage(group=0, zone=0, clearance_m=clearance_m, closest=None, inside=inside, close=NEVER)


def verdict(clearance_m, *, activity=Activity.TOWING, open_gap="", margin_m=MARGIN, error_m=ERROR, **more):
    judged = zone(points(A), more.pop("kind", ZoneKind.CABLE), **more)
    some = None if clearance_m == "beyond" else passage(clearance_m)
    demand = Demand(margin_m=margin_m, uncertainty_m=error_m)
    found = judge(judged, activity, some, demand, open_gap=open_gap)
    return found.status, found.reason


INSIDE, CLOSE, OPEN, CLEAR = Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED, Status.CLEAR


@pytest.mark.parametrize(
    ("clearance_m", "expected"),
    [
        (-1000.0, (INSIDE, "fishing_inside")),
        (-15.000001, (INSIDE, "fishing_inside")),
        (-15.0, (CLOSE, "touched")),
        (-0.001, (CLOSE, "touched")),
        (0.0, (CLOSE, "touched")),
        (0.004, (CLOSE, "touched")),
        (0.006, (CLOSE, "under_margin")),
        (462.999999, (CLOSE, "under_margin")),
        (463.0, (OPEN, "position_error")),
        (477.999999, (OPEN, "position_error")),
        (478.0, (CLEAR, "")),
        ("beyond", (CLEAR, "")),
    ],
)
def test_the_status_changes_exactly_at_depth_margin_and_margin_with_error(clearance_m, expected):
    assert verdict(clearance_m) == expected


@pytest.mark.parametrize(
    ("clearance_m", "expected"),
    [
        (-15.1, (INSIDE, "fishing_inside")),
        (-14.9, (CLOSE, "touched")),
        (0.0, (CLOSE, "touched")),
        (0.1, (OPEN, "position_error")),
        (14.9, (OPEN, "position_error")),
        (15.0, (CLEAR, "")),
    ],
)
def test_without_a_margin_a_touch_is_too_close_and_the_error_alone_is_open(clearance_m, expected):
    assert verdict(clearance_m, margin_m=0.0) == expected


def test_perfect_positions_leave_nothing_open():
    assert verdict(-0.01, error_m=0.0, margin_m=0.0)[0] is INSIDE
    assert verdict(0.0, error_m=0.0, margin_m=0.0)[0] is CLOSE
    assert verdict(0.01, error_m=0.0, margin_m=0.0)[0] is CLEAR


@pytest.mark.parametrize("gap", ["gap", "missing_times"])
@pytest.mark.parametrize(
    ("clearance_m", "status"),
    [(-100.0, INSIDE), (100.0, CLOSE), (470.0, OPEN), (5000.0, OPEN), ("beyond", OPEN)],
)
def test_an_open_gap_never_leaves_clear_and_never_takes_a_finding_away(gap, clearance_m, status):
    found, reason = verdict(clearance_m, open_gap=gap)
    assert found is status
    if clearance_m in (5000.0, "beyond"):
        assert reason == gap


@pytest.mark.parametrize(
    ("clearance_m", "expected"),
    [(-1000.0, OPEN), (0.0, OPEN), (100.0, OPEN), (470.0, OPEN), (9000.0, CLEAR), ("beyond", CLEAR)],
)
def test_a_rule_that_may_not_hold_leaves_open_what_it_would_have_found(clearance_m, expected):
    """Far from the zone it does not matter whether the rule holds."""
    some = None if clearance_m == "beyond" else passage(clearance_m)
    demand = Demand(margin_m=MARGIN, uncertainty_m=ERROR)
    found = in_doubt(
        judge(zone(points(A), ZoneKind.CABLE), Activity.TOWING, some, demand),
        Standing(Force.UNKNOWN, "date_unknown"),
    )
    assert found.status is expected
    assert found.reason == ("date_unknown" if expected is OPEN else "")


@pytest.mark.parametrize(
    ("clearance_m", "kept", "expected"),
    [
        (-100.0, "kept", (Status.TRANSIT, "kept_speed")),
        (-100.0, "slow", (INSIDE, "slow_transit")),
        (-100.0, "open", (OPEN, "missing_times")),
        (-100.0, "slow at the rim", (OPEN, "position_error")),
        (-10.0, "slow at the rim", (OPEN, "position_error")),
        (10.0, "slow at the rim", (OPEN, "position_error")),
        (10.0, "open", (OPEN, "missing_times")),
        (10.0, "kept", (CLEAR, "")),
        (100.0, "kept", (CLEAR, "")),
        ("beyond", "open", (CLEAR, "")),
    ],
)
def test_a_crossing_under_a_transit_rule_is_judged_by_its_speed(clearance_m, kept, expected):
    strict = zone(points(A), rules=Rules(transit_min_speed_kn=6.0))
    some = None if clearance_m == "beyond" else passage(clearance_m)
    demand = Demand(margin_m=0.0, uncertainty_m=ERROR)
    found = judge(strict, Activity.NOT_TOWING, some, demand, speed=CrossingSpeed(kept))
    assert (found.status, found.reason) == expected


def test_a_gap_may_hide_a_slow_crossing():
    strict = zone(points(A), rules=Rules(transit_min_speed_kn=6.0))
    demand = Demand(margin_m=0.0, uncertainty_m=ERROR)
    found = judge(strict, Activity.NOT_TOWING, None, demand, open_gap="gap")
    assert (found.status, found.reason) == (OPEN, "gap")


@pytest.mark.parametrize(
    ("prohibits", "activity", "expected"),
    [
        (("fishing",), Activity.NOT_TOWING, (Status.TRANSIT, "not_towing")),
        (("bottom_contact",), Activity.NOT_TOWING, (Status.TRANSIT, "not_towing")),
        (("entry",), Activity.NOT_TOWING, (INSIDE, "entry")),
        (("entry", "fishing"), Activity.NOT_TOWING, (INSIDE, "entry")),
        (("entry",), Activity.TOWING, (INSIDE, "entry")),
        (("entry", "fishing"), Activity.TOWING, (INSIDE, "fishing_inside")),
        (("fishing",), Activity.TOWING, (INSIDE, "fishing_inside")),
        (("fishing",), Activity.UNKNOWN, (INSIDE, "fishing_inside")),
    ],
)
def test_what_is_prohibited_meets_what_was_done(prohibits, activity, expected):
    rules = tuple(Prohibition(p) for p in prohibits)
    assert verdict(-100.0, activity=activity, prohibits=rules) == expected
    some = zone(points(A), prohibits=rules)
    assert applies(some, activity) is (expected[0] is not Status.TRANSIT)


def test_not_towing_near_a_zone_without_touching_it_is_clear():
    assert verdict(100.0, activity=Activity.NOT_TOWING) == (CLEAR, "")
    assert verdict(0.0, activity=Activity.NOT_TOWING) == (Status.TRANSIT, "not_towing")


@pytest.mark.parametrize("status", list(Status))
def test_only_inside_and_too_close_are_findings(status):
    assert (status in FINDINGS) is (status in (INSIDE, CLOSE))


# The same table through a whole check, with clearances laid out by pyproj's geodesics.


@pytest.mark.parametrize(
    ("distance_m", "status"),
    [(462.99, CLOSE), (463.01, OPEN), (477.99, OPEN), (478.01, CLEAR), (0.0, CLOSE)],
)
@pytest.mark.parametrize("bearing", [10.0, 133.0, 270.0])
def test_a_wreck_with_a_quarter_mile_margin(distance_m, status, bearing):
    row = only_row(
        fixes([moved(A, bearing, distance_m)], [0.0]), zone(points(A), ZoneKind.OBSTRUCTION, margin_m=463.0)
    )
    assert row.status is status
    np.testing.assert_allclose(row.clearance_m, distance_m, rtol=0, atol=0.001)


@pytest.mark.parametrize(
    ("depth_m", "status"), [(14.99, CLOSE), (15.01, INSIDE), (0.0, CLOSE), (-0.01, OPEN), (-15.01, CLEAR)]
)
def test_a_closed_area_without_margin(depth_m, status):
    """A fix north of the parallel that is the area's south side; negative: south of it."""
    row = only_row(
        fixes([moved(A, 0.0, depth_m)], [0.0]),
        zone(area(box(-21.0, 57.0, -19.0, 58.0)), edges=LineKind.RHUMB),
    )
    assert row.status is status


def test_an_uncertain_datum_widens_what_is_open_on_both_sides_of_the_boundary():
    shape, sides = area(box(-21.0, 57.0, -19.0, 58.0)), LineKind.RHUMB
    for depth_m, plain, uncertain in ((20.0, INSIDE, CLOSE), (-20.0, CLEAR, OPEN), (-26.0, CLEAR, CLEAR)):
        track = fixes([moved(A, 0.0, depth_m)], [0.0])
        assert only_row(track, zone(shape, edges=sides)).status is plain
        row = only_row(track, zone(shape, edges=sides, datum_accuracy_m=10.0))
        assert (row.status, row.uncertainty_m) == (uncertain, 25.0)


def test_a_stated_margin_gives_way_to_the_one_asked_for():
    track, wreck = fixes([moved(A, 0.0, 600.0)], [0.0]), zone(points(A), ZoneKind.OBSTRUCTION, margin_m=463.0)
    assert only_row(track, wreck).status is CLEAR
    assert only_row(track, wreck, margin_m=700.0).status is CLOSE
    assert only_row(track, wreck, margin_m=0.0).margin_m == 0.0


def test_steaming_across_a_closed_area_is_transit_and_into_a_safety_zone_a_finding():
    track = steady([moved(A, 270.0, 4000.0), moved(A, 90.0, 4000.0)], speed_kn=10.0)
    shut = zone(area(around(A, 2000.0)))
    row = only_row(track, shut, towing=Towing.NONE)
    assert (row.status, row.reason, row.activity) == (Status.TRANSIT, "not_towing", Activity.NOT_TOWING)
    assert row.close == ()
    assert len(row.inside) == 1
    guarded = zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=500.0)
    row = only_row(track, guarded, towing=Towing.NONE)
    assert (row.status, row.reason) == (INSIDE, "entry")


def test_lying_still_in_a_closed_area_between_tows_is_transit():
    track = wait(steady([moved(A, 270.0, 9000.0), A]), 3600.0)
    result = check(track, zone(area(around(A, 500.0))))
    assert {(r.tow, r.status) for r in result.rows} == {(1, INSIDE), (None, Status.TRANSIT)}


@pytest.mark.parametrize(
    ("zones", "outcome"),
    [
        ([], Outcome.CLEAR),
        (["clear"], Outcome.CLEAR),
        (["clear", "transit"], Outcome.CLEAR),
        (["clear", "open"], Outcome.UNDETERMINED),
        (["open", "close"], Outcome.FINDING),
    ],
)
def test_the_outcome_is_the_worst_of_all_rows(zones, outcome):
    made = {
        "clear": zone(points(moved(A, 0.0, 3000.0)), ZoneKind.OBSTRUCTION, zone_id="clear"),
        "transit": zone(points(moved(A, 0.0, 9000.0)), ZoneKind.OBSTRUCTION, zone_id="transit"),
        "open": zone(points(moved(A, 0.0, 10.0)), ZoneKind.OBSTRUCTION, zone_id="open"),
        "close": zone(points(moved(A, 0.0, 10.0)), ZoneKind.OBSTRUCTION, zone_id="close", margin_m=11.0),
    }
    assert check(fixes([A], [0.0]), [made[name] for name in zones]).outcome is outcome


def test_counts_add_up_to_all_pairs():
    zones = [
        zone(points(moved(A, 0.0, 4000.0 * n)), ZoneKind.OBSTRUCTION, zone_id=str(n)) for n in range(1, 6)
    ]
    result = check([fixes([A], [0.0]), fixes([moved(A, 0.0, 30.0)], [0.0], track_id="u")], zones)
    assert sum(result.counts.values()) == 2 * 5
    assert result.beyond_reach > 0
    assert result.tracks[0].time_utc[0] == START


# ---------------------------------------------------------------- the gear

SEEN = {"uncertainty_m": 40.0, "likely_m": 600.0, "rope_m": 500.0}


def gear_verdict(clearance_m, *, proof=GearProof.ROPE, open_gap="", margin_m=MARGIN, turned=False, **gear):
    shape = area(box(-20.0, 57.0, -19.0, 58.0))
    rules = Rules(allowed_only_inside=turned)
    measure = GearMeasure(**(SEEN | gear))
    inside = STAY if clearance_m is not None and clearance_m < 0 else NEVER
    some = Passage(
        group=0, zone=0, clearance_m=clearance_m, closest=None, inside=inside, close=NEVER, gear=measure
    )
    demand = Demand(margin_m=margin_m, uncertainty_m=ERROR)
    found = judge_gear(zone(shape, rules=rules), some, demand, proof, open_gap=open_gap)
    return found, tier_of(measure, demand, found)


def told(*given, **more):
    found, tier = gear_verdict(*given, **more)
    return found.status, found.reason, tier


@pytest.mark.parametrize("proof", GearProof)
@pytest.mark.parametrize(
    ("clearance_m", "status", "reason"),
    [
        (-1000.0, INSIDE, "gear_inside"),
        (-40.000001, INSIDE, "gear_inside"),
        (-40.0, CLOSE, "touched"),
        (0.0, CLOSE, "touched"),
        (0.004, CLOSE, "touched"),
        (0.006, CLOSE, "under_margin"),
        (462.999999, CLOSE, "under_margin"),
    ],
)
def test_gear_by_its_figures_is_found_whatever_is_taken_for_proof(proof, clearance_m, status, reason):
    assert told(clearance_m, proof=proof) == (status, reason, GearTier.SHOWN)
    assert told(clearance_m, proof=proof, open_gap="gap") == (status, reason, GearTier.SHOWN)


def test_gear_outside_the_only_area_allowed_has_a_reason_of_its_own():
    assert told(-50.0, turned=True)[:2] == (INSIDE, "outside_allowed_area")
    assert told(-30.0, turned=True)[:2] == (CLOSE, "touched")


@pytest.mark.parametrize(
    ("likely_m", "rope_m", "proof", "expected"),
    [
        (462.999, 400.0, GearProof.ROPE, (OPEN, "gear_uncertainty", GearTier.POSSIBLE)),
        (462.999, 400.0, GearProof.MODEL, (OPEN, "gear_uncertainty", GearTier.POSSIBLE)),
        (463.0, 462.999, GearProof.ROPE, (OPEN, "rope_bound", GearTier.NOT_RULED_OUT)),
        (463.0, 462.999, GearProof.MODEL, (CLEAR, "", GearTier.NOT_RULED_OUT)),
        (463.0, None, GearProof.ROPE, (OPEN, "rope_bound", GearTier.NOT_RULED_OUT)),
        (463.0, None, GearProof.MODEL, (CLEAR, "", GearTier.NOT_RULED_OUT)),
        (463.0, 463.0, GearProof.ROPE, (CLEAR, "", GearTier.PROVED_CLEAR)),
        (None, 463.0, GearProof.ROPE, (CLEAR, "", GearTier.PROVED_CLEAR)),
        (None, 463.0, GearProof.MODEL, (CLEAR, "", GearTier.PROVED_CLEAR)),
        (None, 462.0, GearProof.MODEL, (OPEN, "rope_bound", GearTier.NOT_RULED_OUT)),
    ],
)
def test_the_tiers_change_exactly_at_the_margin(likely_m, rope_m, proof, expected):
    assert told(1000.0, likely_m=likely_m, rope_m=rope_m, proof=proof) == expected


def test_without_a_margin_a_touch_by_spread_or_rope_leaves_it_open():
    assert told(100.0, margin_m=0.0, likely_m=0.004)[1] == "gear_uncertainty"
    assert told(100.0, margin_m=0.0, likely_m=0.006, rope_m=0.004)[1] == "rope_bound"
    assert told(100.0, margin_m=0.0, likely_m=0.006, rope_m=0.006)[0] is CLEAR


@pytest.mark.parametrize("proof", GearProof)
@pytest.mark.parametrize("gap", ["gap", "missing_times"])
def test_an_open_gap_leaves_no_gear_clear_and_proves_nothing(proof, gap):
    assert told(1000.0, proof=proof, open_gap=gap) == (OPEN, gap, GearTier.NOT_RULED_OUT)
    assert told(1000.0, proof=proof, open_gap=gap, likely_m=10.0)[1] == "gear_uncertainty"


@pytest.mark.parametrize("proof", GearProof)
def test_gear_of_which_no_path_is_known_is_never_clear_by_its_model(proof):
    no_path = {"likely_m": None, "uncertainty_m": 0.0}
    assert told(None, proof=proof, rope_m=462.0, **no_path)[:2] == (OPEN, "rope_bound")
    assert told(None, proof=proof, rope_m=None, **no_path)[:2] == (OPEN, "rope_bound")
    assert told(None, proof=proof, rope_m=463.0, **no_path)[:2] == (CLEAR, "")
    why = {"why_not": "not modelled."}
    assert told(None, proof=proof, rope_m=None, **no_path, **why)[:2] == (OPEN, "gear_not_computed")
    assert told(1000.0, proof=proof, **why)[:2] == (OPEN, "gear_not_computed")


def test_what_the_model_does_not_follow_needs_the_rope_though_the_model_is_taken_for_proof():
    assert told(1000.0, proof=GearProof.MODEL, rope_m=-20.0, unseen_m=462.0)[:2] == (OPEN, "rope_bound")
    assert told(1000.0, proof=GearProof.MODEL, rope_m=-20.0, unseen_m=463.0)[:2] == (CLEAR, "")


def test_gear_proved_beyond_reach_is_clear_but_for_gaps():
    demand = Demand(margin_m=MARGIN, uncertainty_m=ERROR)
    cable = zone(points(A), ZoneKind.CABLE)
    assert judge_gear(cable, None, demand, GearProof.ROPE).status is CLEAR
    assert judge_gear(cable, None, demand, GearProof.ROPE, open_gap="gap").reason == "gap"


STATUS_RANK = {CLEAR: 0, OPEN: 1, CLOSE: 2, INSIDE: 3}


@pytest.mark.parametrize("proof", GearProof)
def test_more_margin_less_clearance_and_less_bound_never_improve_a_verdict(proof):
    rng = np.random.default_rng(11)
    for _ in range(400):
        clearance, spread, rope = rng.uniform(-100.0, 900.0), rng.uniform(0.0, 300.0), rng.uniform(0.0, 900.0)
        margin = rng.uniform(0.0, 500.0)
        now = {"likely_m": clearance - spread, "rope_m": clearance - rope, "proof": proof}
        rank = STATUS_RANK[told(clearance, margin_m=margin, **now)[0]]
        assert STATUS_RANK[told(clearance, margin_m=margin + 50.0, **now)[0]] >= rank
        worse = now | {"likely_m": now["likely_m"] - 50.0, "rope_m": now["rope_m"] - 50.0}
        assert STATUS_RANK[told(clearance - 50.0, margin_m=margin, **worse)[0]] >= rank
        # More doubt of where it was: a finding inside may become one too close, nothing open becomes clear.
        doubted = now | {"uncertainty_m": 90.0, "likely_m": now["likely_m"] - 50.0}
        found = told(clearance, margin_m=margin, **doubted)[0]
        assert STATUS_RANK[found] >= min(rank, STATUS_RANK[CLOSE])
        assert not (found is CLEAR and rank)
