"""The sentences of gear rows, each read in full, and what must hold for all of them."""

import re
from itertools import product

import numpy as np
import pytest
from scenes import area, box, line, points, zone

from towzone.checks.explain_gear import explain_gear
from towzone.checks.passages import Demand
from towzone.files.rule_properties import read_rules
from towzone.gear.flags import FLAG_WORDS
from towzone.model.gear import GearReach, GearTier
from towzone.model.result import (
    Activity,
    Closest,
    CloseStretch,
    Gap,
    InsideStretch,
    Part,
    Row,
    Status,
    ZoneReach,
)
from towzone.model.track import TrackKind
from towzone.model.zone import ZoneKind

AT = np.datetime64("2026-03-01T07:30:00", "us")
WRECK = zone(points((-20.0, 57.0)), ZoneKind.OBSTRUCTION, name="Old Anna")
CABLE = zone(line((-20.0, 57.0), (-19.0, 57.0)), ZoneKind.CABLE, name="North 1", margin_m=463.0)
BOX = zone(area(box(-20.0, 57.0, -19.0, 58.0)), name="Deep Bank")
ALLOWED = zone(
    area(box(-20.0, 57.0, -19.0, 58.0)), name="Allotment", rules=read_rules({"allowed_only_inside": True})[0]
)
SUMMER = zone(
    area(box(-20.0, 57.0, -19.0, 58.0)),
    name="Deep Bank",
    rules=read_rules({"gear": ["OTB"], "valid_from": "2026-04-01"})[0],
)
CLOSEST = Closest(
    utc=AT, lon_deg=-20.0, lat_deg=57.0, zone_lon_deg=-20.0, zone_lat_deg=57.001, bearing_deg=0.0
)
REACH = {
    "nearest_part": "port door",
    "tier": GearTier.NOT_RULED_OUT,
    "sigmas": 2.0,
    "likely_clearance_m": None,
    "rope_clearance_m": None,
}


def stay(seconds):
    return InsideStretch(
        enter_utc=AT,
        enter_lon_deg=-20.0,
        enter_lat_deg=57.0,
        leave_utc=AT,
        leave_lon_deg=-20.0,
        leave_lat_deg=57.0,
        seconds=seconds,
        length_m=100.0,
        min_speed_kn=3.0,
        mean_speed_kn=3.0,
    )


def row_of(status, reason="", clearance_m=None, *, at=WRECK, tow=2, activity=Activity.TOWING, **more):
    gear = GearReach(**(REACH | more.pop("gear", {})))
    return Row(
        track_id="t",
        tow=tow,
        activity=activity,
        zone_id=at.zone_id,
        part=Part.GEAR,
        status=status,
        reason=reason,
        clearance_m=clearance_m,
        margin_m=more.pop("margin_m", at.margin_m or 0.0),
        uncertainty_m=more.pop("uncertainty_m", 40.0),
        closest=more.pop("closest", CLOSEST if clearance_m is not None else None),
        gear=gear,
        **more,
    )


def said(row, at=WRECK, *, kind=TrackKind.COMPLETED, gaps=(), why_not=""):
    demand = Demand(margin_m=row.margin_m, uncertainty_m=row.uncertainty_m)
    words = explain_gear(row, at, kind, demand, gaps, why_not=why_not)
    # Each length is given in nautical miles as well, which are left out here.
    return re.sub(r" \(\d+\.\d{3} nmi\)", "", words)


GAP = Gap(
    fix=3,
    from_utc=AT,
    to_utc=AT + np.timedelta64(2400, "s"),
    seconds=2400.0,
    reach_m=5000.0,
    could_reach=(ZoneReach(zone_id="Z", least_speed_kn=2.5, longest_inside_s=600.0, tow_fits=True),),
)


# ---------------------------------------------------------------- each status and reason, in full


def test_inside():
    row = row_of(Status.INSIDE, "gear_inside", -123.4, at=BOX, inside=(stay(660.0), stay(60.0)))
    assert said(row, BOX) == (
        "The gear of tow 2 (port door) was inside the closed area 'Deep Bank' for 12 min, at most"
        " 123.4 m deep at"
        " 2026-03-01 07:30:00 UTC."
    )


def test_outside_the_only_area_allowed():
    row = row_of(Status.INSIDE, "outside_allowed_area", -123.4, at=ALLOWED, inside=(stay(None),))
    assert said(row, ALLOWED) == (
        "The gear of tow 2 (port door) was outside the only area allowed, 'Allotment', at most 123.4"
        " m away at"
        " 2026-03-01 07:30:00 UTC."
    )


def test_inside_by_less_than_is_known():
    row = row_of(Status.TOO_CLOSE, "touched", -12.0, at=BOX, inside=(stay(60.0),))
    assert said(row, BOX) == (
        "The gear of tow 2 (port door) was inside the closed area 'Deep Bank', at most 12.0 m deep at"
        " 2026-03-01 07:30:00 UTC, less than the uncertainty of 40 m of where it was."
    )


def test_touched_once_and_more_than_once():
    crossings = tuple(CloseStretch(from_utc=AT, to_utc=AT, seconds=0.0) for _ in range(3))
    row = row_of(Status.TOO_CLOSE, "touched", 0.0)
    assert said(row) == (
        "The gear of tow 2 (port door) crossed or touched the obstruction 'Old Anna' at 2026-03-01"
        " 07:30:00 UTC."
    )
    again = row_of(Status.TOO_CLOSE, "touched", 0.0, close=crossings)
    assert said(again) == said(row) + " It did so 3 times in all."


def test_under_the_margin():
    row = row_of(Status.TOO_CLOSE, "under_margin", 300.0, at=CABLE)
    assert said(row, CABLE) == (
        "The gear of tow 2 (port door) came within 300.0 m of the cable 'North 1' at 2026-03-01"
        " 07:30:00 UTC:"
        " 163.0 m less than the margin of 463.0 m."
    )


def test_not_computed_says_why():
    row = row_of(Status.UNDETERMINED, "gear_not_computed", gear={"nearest_part": ""})
    assert said(row, why_not="pair trawls are not modelled.") == (
        "Whether the gear kept clear of the obstruction 'Old Anna' is not computed: pair trawls are"
        " not modelled."
    )


def test_the_spread_of_the_figures_may_reach_it():
    row = row_of(Status.UNDETERMINED, "gear_uncertainty", 60.0, gear={"likely_clearance_m": 0.0})
    assert said(row) == (
        "The gear of tow 2 (port door) came within 60.0 m of the obstruction 'Old Anna' at"
        " 2026-03-01 07:30:00"
        " UTC. Allowing for the spread of its figures it may have reached it. Better figures of the"
        " gear (above"
        " all warp out, and the current: vessel profile, haul log) or a wider berth would settle it."
    )
    cable = row_of(
        Status.UNDETERMINED, "gear_uncertainty", 500.0, at=CABLE, gear={"likely_clearance_m": 420.0}
    )
    assert "it may have come within 420.0 m; the margin is 463.0 m." in said(cable, CABLE)


def test_the_rope_leaves_it_open():
    row = row_of(
        Status.UNDETERMINED,
        "rope_bound",
        900.0,
        at=CABLE,
        gear={"likely_clearance_m": 700.0, "rope_clearance_m": 440.0},
    )
    assert said(row, CABLE) == (
        "The gear of tow 2 (port door) came within 900.0 m of the cable 'North 1' at 2026-03-01"
        " 07:30:00 UTC."
        " Allowing for 2 standard deviations of its figures it kept 700.0 m. By the length of warp,"
        " sweeps and net"
        " alone it kept 440.0 m, less than the margin. Only a wider berth, or taking the model for proof"
        " (--gear-proof model), would settle it. Passing 23.0 m farther off proves it."
    )


def test_the_rope_could_have_reached_what_no_path_tells_of():
    row = row_of(Status.UNDETERMINED, "rope_bound", gear={"nearest_part": "", "rope_clearance_m": -20.0})
    words = said(row)
    assert words.startswith(
        "Where the gear was while the vessel passed the obstruction 'Old Anna' is not known. By the"
        " length of"
        " warp, sweeps and net alone it could have reached it. Only "
    )


def test_where_the_model_is_taken_for_proof_it_is_not_recommended_to_take_it():
    row = row_of(
        Status.UNDETERMINED,
        "rope_bound",
        900.0,
        activity=Activity.UNKNOWN,
        gear={"sigmas": 3.0, "likely_clearance_m": 700.0, "rope_clearance_m": -440.0},
    )
    assert "--gear-proof" not in said(row)
    assert "would settle it" in said(row)


def test_being_shot_or_hauled():
    row = row_of(
        Status.UNDETERMINED,
        "activity_unknown",
        30.0,
        activity=Activity.UNKNOWN,
        gear={"rope_clearance_m": -20.0},
    )
    assert said(row) == (
        "The gear of tow 2 (port door), being shot or hauled, came within 30.0 m of the obstruction"
        " 'Old Anna' at"
        " 2026-03-01 07:30:00 UTC. Whether it was in the water then cannot be told from the positions. By"
        " the length of warp, sweeps and net alone it could have reached it. Only knowing when the"
        " gear came to"
        " the bottom and left it would settle it."
    )


def test_outside_tows():
    row = row_of(
        Status.UNDETERMINED,
        "activity_unknown",
        tow=None,
        activity=Activity.UNKNOWN,
        gear={"nearest_part": "", "rope_clearance_m": -20.0},
    )
    words = said(row)
    assert words.startswith(
        "Where the gear was while the vessel passed the obstruction 'Old Anna' is not known."
    )
    assert words.endswith("A haul log (--towing FILE.csv) that covers that time would settle it.")


def test_a_gap_of_its_own():
    row = row_of(Status.UNDETERMINED, "gap", 900.0, gear={"rope_clearance_m": 400.0})
    assert said(row, gaps=(GAP,)) == (
        "The gear of tow 2 (port door) came within 900.0 m of the obstruction 'Old Anna' at"
        " 2026-03-01 07:30:00"
        " UTC. But the positions do not cover all of it. There are no positions from 2026-03-01"
        " 07:30:00 UTC to"
        " 2026-03-01 08:10:00 UTC (40 min); in that time its gear could have reached the obstruction"
        " 'Old Anna'"
        " or its margin, at 2.5 kn or more on average, for 10 min at most, long enough for a tow of 10 min."
        " Positions from another source for that time, or a lower proved --max-speed, would settle it."
    )
    unseen = row_of(Status.UNDETERMINED, "gap", gear={"nearest_part": ""})
    assert said(unseen, gaps=(GAP,)).startswith(
        "Whether the gear kept clear of the obstruction 'Old Anna' is not proved. There are no positions"
    )


def test_a_rule_that_did_not_hold_or_does_not_cover_the_gear():
    row = row_of(Status.NOT_IN_FORCE, "season", 30.0, at=SUMMER)
    assert "of the closed area 'Deep Bank' at 2026-03-01 07:30:00 UTC. The rule did not hold then (" in said(
        row, SUMMER
    )
    other = row_of(Status.NOT_IN_FORCE, "gear", 30.0, at=SUMMER)
    assert " The rule does not cover the gear (" in said(other, SUMMER)


def test_clear_by_the_rope():
    row = row_of(
        Status.CLEAR,
        "",
        900.0,
        at=CABLE,
        gear={"tier": GearTier.PROVED_CLEAR, "rope_clearance_m": 500.0},
    )
    assert said(row, CABLE) == (
        "The gear of tow 2 (port door) came within 900.0 m of the cable 'North 1' at 2026-03-01"
        " 07:30:00 UTC."
        " That is 437.0 m more than its margin. By the length of warp, sweeps and net alone it kept"
        " 500.0 m."
    )


def test_a_clearance_of_just_the_margin_is_not_called_less():
    row = row_of(
        Status.CLEAR, "", 900.0, at=CABLE, gear={"tier": GearTier.PROVED_CLEAR, "rope_clearance_m": 463.0}
    )
    assert said(row, CABLE).endswith(" By the length of warp, sweeps and net alone it kept 463.0 m.")


def test_clear_by_the_model():
    row = row_of(
        Status.CLEAR,
        "",
        900.0,
        at=CABLE,
        gear={"sigmas": 3.0, "likely_clearance_m": 600.0, "rope_clearance_m": 300.0},
    )
    assert said(row, CABLE) == (
        "The gear of tow 2 (port door) came within 900.0 m of the cable 'North 1' at 2026-03-01"
        " 07:30:00 UTC."
        " That is 437.0 m more than its margin. Allowing for 3 standard deviations of its figures it"
        " kept 600.0 m."
        " That rests on the model of the gear's path. How doors behave in turns was not found"
        " measured at sea."
        " By the length of warp, sweeps and net alone it kept 300.0 m, less than the margin."
    )


def test_a_planned_tow_is_spoken_of_in_the_present():
    row = row_of(Status.TOO_CLOSE, "touched", 0.0, closest=None)
    assert said(row, kind=TrackKind.PLANNED) == (
        "The gear (port door) on the planned tow crosses or touches the obstruction 'Old Anna'."
    )
    deep = row_of(Status.INSIDE, "gear_inside", -50.0, at=BOX, closest=None)
    assert said(deep, BOX, kind=TrackKind.PLANNED) == (
        "The gear (port door) on the planned tow runs inside the closed area 'Deep Bank', at most"
        " 50.0 m deep."
    )


def _planned(status, reason, **reach):
    clearance_m = None if reach.get("nearest_part") == "" else 500.0
    return row_of(status, reason, clearance_m, closest=None, gear=reach)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (_planned(Status.UNDETERMINED, "gear_uncertainty", likely_clearance_m=0.0), "it may reach it."),
        (
            _planned(Status.UNDETERMINED, "gear_uncertainty", likely_clearance_m=9.0),
            "it may come within 9.0 m.",
        ),
        (
            _planned(Status.UNDETERMINED, "rope_bound", rope_clearance_m=-1.0, likely_clearance_m=90.0),
            "deviations of its figures it keeps 90.0 m. By the length of warp, sweeps and net alone"
            " it could"
            " reach it.",
        ),
        (_planned(Status.CLEAR, "", rope_clearance_m=90.0), "sweeps and net alone it keeps 90.0 m."),
        (
            _planned(Status.UNDETERMINED, "rope_bound", nearest_part=""),
            "Where the gear is while the vessel passes the obstruction 'Old Anna' is not known.",
        ),
    ],
)
def test_all_of_a_planned_tow_is_still_to_come(row, words):
    assert words in said(row, kind=TrackKind.PLANNED)


def test_an_area_that_must_not_be_left_is_left_and_not_reached():
    row = row_of(Status.UNDETERMINED, "gear_uncertainty", 60.0, at=ALLOWED, gear={"likely_clearance_m": -5.0})
    assert " it may have left it." in said(row, ALLOWED)
    row = row_of(
        Status.UNDETERMINED,
        "gear_uncertainty",
        60.0,
        at=ALLOWED,
        margin_m=50.0,
        gear={"likely_clearance_m": 9.0},
    )
    assert " it may have come within 9.0 m of its limits; the margin is 50.0 m." in said(row, ALLOWED)
    row = row_of(Status.UNDETERMINED, "rope_bound", 60.0, at=ALLOWED, gear={"rope_clearance_m": -5.0})
    assert "sweeps and net alone it could have left it." in said(row, ALLOWED)
    assert "reached" not in said(row, ALLOWED)


@pytest.mark.parametrize("kind", FLAG_WORDS)
def test_what_the_model_does_not_know_there_is_said(kind):
    row = row_of(Status.TOO_CLOSE, "touched", 0.0, gear={"flags": (kind,)})
    assert said(row).endswith(" " + FLAG_WORDS[kind])


# ---------------------------------------------------------------- all of them


def every_row():
    """Rows of every status and reason, tow and no tow, with and without a path, completed and planned."""
    statuses = [
        (Status.INSIDE, "gear_inside", (-90.0,)),
        (Status.TOO_CLOSE, "touched", (-20.0, 0.0)),
        (Status.TOO_CLOSE, "under_margin", (100.0,)),
        (Status.UNDETERMINED, "gear_uncertainty", (500.0,)),
        (Status.UNDETERMINED, "rope_bound", (700.0, None)),
        (Status.UNDETERMINED, "gap", (700.0, None)),
        (Status.UNDETERMINED, "missing_times", (700.0, None)),
        (Status.UNDETERMINED, "activity_unknown", (20.0, None, -80.0)),
        (Status.UNDETERMINED, "date_unknown", (20.0, None)),
        (Status.UNDETERMINED, "gear_unknown", (20.0, None)),
        (Status.UNDETERMINED, "gear_not_computed", (None,)),
        (Status.NOT_IN_FORCE, "season", (20.0, None)),
        (Status.CLEAR, "", (900.0,)),
    ]
    zones = (WRECK, CABLE, BOX, ALLOWED, SUMMER)
    for (status, reason, clearances), at, kind in product(statuses, zones, TrackKind):
        if reason == "under_margin" and not at.margin_m:
            continue
        for clearance, tow, sigmas in product(clearances, (3, None), (2.0, 3.0)):
            activity = Activity.UNKNOWN if tow is None or reason == "activity_unknown" else Activity.TOWING
            reach = {
                "nearest_part": "" if clearance is None else "net",
                "sigmas": sigmas,
                "likely_clearance_m": None if clearance is None else clearance - 80.0,
                "rope_clearance_m": None if reason == "gear_not_computed" else -30.0,
                "flags": ("slack", "no_warp"),
            }
            row = row_of(status, reason, clearance, at=at, tow=tow, activity=activity, gear=reach)
            gaps = (GAP,) if reason == "gap" else ()
            why = "dredges are not modelled." if reason == "gear_not_computed" else ""
            yield row, at, kind, said(row, at, kind=kind, gaps=gaps, why_not=why)


def test_every_sentence_is_clean_english():
    for row, at, _kind, words in every_row():
        about = (row.status, row.reason, row.clearance_m, words)
        assert "  " not in words, about
        assert words == words.strip(), about
        assert words[0].isupper(), about
        assert words.endswith((".", ")")), about
        assert not re.search(r"\.\.|,\.|,,| [.,;:]|None|nan|-\d+(\.\d+)? m\b", words), about
        assert f"'{at.name}'" in words, about
        for sentence in re.split(r"(?<=\.) ", words):
            assert sentence[0].isupper(), about


def test_every_sentence_names_the_part_and_the_tow_where_they_are_known():
    for row, _, kind, words in every_row():
        if row.clearance_m is None:
            continue
        if row.tow is not None or kind is TrackKind.PLANNED:
            assert "(net)" in words, words
        if row.tow is not None and kind is TrackKind.COMPLETED:
            assert "The gear of tow 3" in words, words


def test_only_what_is_open_says_what_would_settle_it_and_clear_says_no_such_thing():
    for row, _, _, words in every_row():
        open_ = row.status is Status.UNDETERMINED and row.reason != "gear_not_computed"
        assert ("would settle it" in words) is open_, words


def test_no_sentence_says_both_that_it_reached_and_that_it_kept_a_distance():
    for row, _, _, words in every_row():
        if row.gear.rope_clearance_m is not None and row.gear.rope_clearance_m <= 0.0:
            assert "sweeps and net alone it kept" not in words
        if row.status is Status.CLEAR:
            assert "inside" not in words.replace("allowed_only_inside", "")


def test_of_an_area_to_stay_in_going_farther_off_is_never_said_to_settle_anything():
    turned = [words for _, some, _, words in every_row() if some.rules.allowed_only_inside]
    assert turned
    assert not [words for words in turned if "farther off" in words]
    assert any("farther inside" in words for words in turned)
