"""The sentence of a row says what its numbers say, and what would settle what is open."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from scenes import (
    area,
    around,
    check,
    fixes,
    joined,
    line,
    moved,
    only_row,
    points,
    route,
    steady,
    wait,
    zone,
)

from towzone.checks.settings import Towing
from towzone.model.result import Status
from towzone.model.rules import Rules
from towzone.model.zone import ZoneKind

A = (-20.0, 57.0)


def wreck(at, **more):
    return zone(points(at), ZoneKind.OBSTRUCTION, **more)


def said(track, target, **settings):
    row = only_row(track, target, **settings)
    return row.status, row.explain


def test_inside_says_how_deep_how_long_and_when():
    track = fixes(
        [moved(A, 180.0, 900.0), moved(A, 0.0, 100.0), moved(A, 180.0, 900.0)], [0.0, 600.0, 1200.0]
    )
    status, sentence = said(track, zone(area(around(A, 500.0, 360))))
    assert status is Status.INSIDE
    # Enters at 500 of 900 m before A: 400 + 500 + 100 m, and back: 1200 m of 2000 in 1200 s.
    for fact in ("Tow 1", "the closed area 'invented Z'", "for 12 min", "500.0 m", "2026-03-01 06:"):
        assert fact in sentence, fact


def test_too_close_says_how_near_and_how_much_is_missing():
    status, sentence = said(fixes([moved(A, 0.0, 250.0)], [0.0]), wreck(A, margin_m=463.0))
    assert status is Status.TOO_CLOSE
    for fact in ("250.0 m (0.135 nmi)", "the obstruction", "213.0 m (0.115 nmi) less", "463.0 m (0.250 nmi)"):
        assert fact in sentence, fact


def test_a_touch_is_said_to_be_one():
    cable = zone(line(moved(A, 0.0, 500.0), moved(A, 180.0, 500.0)), ZoneKind.CABLE)
    status, sentence = said(fixes([moved(A, 90.0, 500.0), moved(A, 270.0, 500.0)], [0.0, 600.0]), cable)
    assert status is Status.TOO_CLOSE
    assert "crossed or touched the cable" in sentence


def test_inside_by_less_than_the_error_says_so():
    status, sentence = said(fixes([moved(A, 0.0, 490.0)], [0.0]), wreck(A, radius_m=500.0))
    assert status is Status.TOO_CLOSE
    assert "10.0 m" in sentence
    assert "uncertainty of 15.0 m" in sentence


OPEN = {
    "position_error": (fixes([moved(A, 0.0, 10.0)], [0.0]), {}, "--position-error"),
    "gap": (fixes([moved(A, 90.0, 900.0), moved(A, 270.0, 900.0)], [0.0, 3600.0]), {}, "--max-speed"),
    "missing_times": (fixes([moved(A, 90.0, 900.0), moved(A, 90.0, 990.0)], [None, None]), {}, "Times"),
    "gear_unknown": (
        fixes([moved(A, 0.0, 900.0)], [0.0]),
        {"margin_m": 2000.0, "rules": Rules(gears=("OTB",))},
        "covers gear OTB",
    ),
    "date_unknown": (
        fixes([moved(A, 0.0, 900.0)], [None]),
        {"margin_m": 2000.0, "rules": Rules(valid_from=datetime(2026, 1, 1, tzinfo=UTC))},
        "--on",
    ),
}


@pytest.mark.parametrize("reason", OPEN)
def test_what_is_open_comes_with_what_would_settle_it(reason):
    track, more, hint = OPEN[reason]
    row = only_row(track, wreck(A, **more))
    assert (row.status, row.reason) == (Status.UNDETERMINED, reason)
    assert hint in row.explain


def test_a_position_inside_beside_a_gap_leaves_open_what_was_done_there():
    """Positions for the gap, or a lower top speed, would not tell whether the fix inside was one of a tow."""
    track = fixes([moved(A, 90.0, 100.0), moved(A, 90.0, 200.0)], [0.0, 7200.0])
    row = only_row(track, zone(area(around(A, 3000.0))), towing=Towing.DETECT)
    assert (row.status, row.reason) == (Status.UNDETERMINED, "gap")
    assert "Whether its gear was in the water then cannot be told" in row.explain
    assert "A haul log" in row.explain
    assert "--max-speed" not in row.explain


def test_shooting_and_hauling_are_not_said_to_be_settled_by_a_haul_log():
    """A haul log tells of the tow; the minutes beside it stay in doubt with one, too."""
    legs = [(8.0, -20_000.0, -4_000.0), (3.0, -4_000.0, 4_000.0), (8.0, 4_000.0, 20_000.0)]
    track, now = None, 0.0
    for speed_kn, first_m, last_m in legs:
        ends = [moved(A, 90.0, first_m), moved(A, 90.0, last_m)]
        leg = wait(steady(ends, speed_kn=speed_kn, step_s=20.0, first_s=now), 300.0, step_s=20.0)
        track = leg if track is None else joined(track, leg)
        now = float((track.time_utc[-1] - track.time_utc[0]) / np.timedelta64(1, "s")) + 20.0
    rows = check(track, zone(area(around(A, 60_000.0, 90))), towing=Towing.DETECT, reach_m=1e6).rows
    beside = [row for row in rows if row.tow == 1 and row.reason == "activity_unknown"]
    assert len(beside) == 1, [(row.tow, row.status, row.reason) for row in rows]
    assert "about to shoot or hauling (tow 1)" in beside[0].explain
    assert "when the gear went in and came out" in beside[0].explain
    assert "haul log" not in beside[0].explain


def test_a_gap_says_from_when_to_when_and_how_long():
    _, sentence = said(fixes([moved(A, 90.0, 900.0), moved(A, 270.0, 900.0)], [0.0, 6900.0]), wreck(A))
    for fact in ("06:00:00", "07:55:00", "1 h 55 min"):
        assert fact in sentence


def test_several_gaps_are_counted():
    track = fixes([moved(A, 90.0, 900.0 + n) for n in range(4)], [0.0, 3600.0, 9000.0, 12000.0])
    assert "2 more such gaps" in said(track, wreck(A))[1]
    one = fixes([moved(A, 90.0, 900.0 + n) for n in range(3)], [0.0, 3600.0, 9000.0])
    assert "1 more such gap)" in said(one, wreck(A))[1]


def test_transit_does_not_say_fishing_of_a_vessel_that_only_crossed():
    track = steady([moved(A, 90.0, 4000.0), moved(A, 270.0, 4000.0)], speed_kn=10.0)
    status, sentence = said(track, zone(area(around(A, 1000.0))), towing=Towing.NONE)
    assert status is Status.TRANSIT
    assert sentence.startswith("The vessel, while not towing, crossed the closed area")


def test_clear_says_how_much_more_than_the_margin():
    status, sentence = said(fixes([moved(A, 0.0, 700.0)], [0.0]), wreck(A, margin_m=463.0))
    assert status is Status.CLEAR
    assert "700.0 m" in sentence
    assert "237.0 m (0.128 nmi) more" in sentence


def test_a_plan_is_spoken_of_as_a_plan():
    target = wreck(A, margin_m=463.0)
    assert said(route([moved(A, 0.0, 100.0), moved(A, 0.0, 900.0)]), target)[1].startswith("The planned tow ")


@pytest.mark.parametrize("kind", list(ZoneKind))
def test_every_kind_of_zone_has_a_word(kind):
    assert "'invented Z'" in said(fixes([moved(A, 0.0, 700.0)], [0.0]), zone(points(A), kind))[1]


def test_every_row_of_a_mixed_scene_has_a_sentence():
    track = wait(steady([moved(A, 90.0, 6000.0), A]), 1500.0)
    zones = [wreck(moved(A, b, d), zone_id=str(n), margin_m=200.0) for n, (b, d) in enumerate(MIXED)]
    rows = check(track, zones).rows
    assert len(rows) > len(MIXED)
    for row in rows:
        assert row.explain[0].isupper()
        assert row.explain.endswith(".")
        assert "  " not in row.explain
        assert "None" not in row.explain
        assert "nan" not in row.explain


MIXED = [(0.0, 0.0), (0.0, 150.0), (0.0, 210.0), (0.0, 4000.0), (90.0, 3000.0)]


@pytest.mark.parametrize(
    ("margin_m", "words"),
    [(0.0, "It did so 2 times in all."), (300.0, "It was under the margin on 2 separate stretches.")],
)
def test_a_cable_crossed_twice_is_told_twice(margin_m, words):
    """Who mends only the crossing that is named has not mended the tow."""
    cable = zone(line(moved(A, 90.0, 9000.0), moved(A, 270.0, 9000.0)), ZoneKind.CABLE, margin_m=margin_m)
    there, back = moved(moved(A, 270.0, 3000.0), 180.0, 4000.0), moved(moved(A, 90.0, 3000.0), 180.0, 4000.0)
    status, sentence = said(route([there, moved(A, 0.0, 4000.0), back]), cable)

    assert status is Status.TOO_CLOSE
    assert "crosses or touches the cable" in sentence
    assert words in sentence


def test_a_track_without_times_that_has_positions_inside_is_said_to_have_been_inside():
    target = zone(area(around(A, 500.0, 360)))
    track = fixes([moved(A, 180.0, 900.0), A, moved(A, 0.0, 900.0)], [None, None, None])
    status, sentence = said(track, target, towing=Towing.DETECT)

    assert status is Status.UNDETERMINED
    assert "was inside the closed area 'invented Z', at most 500.0 m" in sentence
    assert "Whether its gear was in the water then cannot be told" in sentence
    assert sentence.endswith(
        "it is open where else the vessel was between its fixes. Times for the positions would settle it."
    )
    assert "cannot be ruled out" not in sentence


def test_a_track_without_times_that_has_no_position_inside_is_not_said_to_be_out_of_it():
    target = zone(area(around(A, 500.0, 360)))
    track = fixes([moved(A, 180.0, 900.0), moved(A, 0.0, 900.0)], [None, None])
    status, sentence = said(track, target, towing=Towing.DETECT)

    assert status is Status.UNDETERMINED
    assert "the closed area 'invented Z' cannot be ruled out." in sentence
