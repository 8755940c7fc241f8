"""The text for people: outcome first, worst rows next, lengths and positions as mariners read them."""

from __future__ import annotations

import re

import pytest
from cli_runner import BANK, GAP_TRIP, MENDED, PLAN, TRIP, call
from scenes import area, around, check, fixes, moved, points, zone

from towzone.caution import CAUTION
from towzone.model.rules import Rules
from towzone.model.zone import ZoneKind
from towzone.tables.screen import plain, to_text

A = (-20.0, 57.0)


@pytest.mark.parametrize(
    ("track", "first"), [(PLAN, "FINDING: 2 findings"), (MENDED, "CLEAR: "), (GAP_TRIP, "UNDETERMINED: ")]
)
def test_the_first_line_is_the_outcome(track, first):
    assert call("check", track, "--zones", BANK).out.startswith(first)


def test_proved_clear_is_not_said_of_what_was_inside_while_no_rule_forbade_it():
    spared = zone(area(around(A, 500.0)), rules=Rules(except_gears=("OTB",)))
    text = to_text(check(fixes([A, moved(A, 0.0, 50.0)], [0.0, 60.0]), spared, gear="OTB"))
    assert text.startswith("CLEAR: no finding, 1 pair inside or close where no rule forbade it")
    assert "proved clear under" not in text.splitlines()[0]


def test_the_second_line_counts_every_status():
    line = call("check", PLAN, "--zones", BANK).out.splitlines()[1]
    assert line == "1 inside, 1 too close, 0 undetermined, 0 transit, 0 not in force, 3 clear"


def test_rows_come_worst_first_and_are_numbered():
    out = call("check", TRIP, "--zones", BANK).out
    found = re.findall(r"^ +(\d+)  (INSIDE|TOO CLOSE|UNDETERMINED|TRANSIT)", out, flags=re.MULTILINE)
    assert [int(number) for number, _ in found] == list(range(1, len(found) + 1))
    order = ["INSIDE", "TOO CLOSE", "UNDETERMINED", "TRANSIT"]
    assert [word for _, word in found] == sorted((word for _, word in found), key=order.index)
    assert out.index("TOO CLOSE") < out.index("\nclear  ")


def test_a_finding_has_its_clearance_position_and_time():
    at = moved(A, 0.0, 250.0)
    text = to_text(check(fixes([at], [0.0]), zone(points(A), ZoneKind.OBSTRUCTION, margin_m=463.0)))
    assert "clearance 250.0 m (0.135 nmi), margin 463.0 m (0.250 nmi)" in text
    # 250 m are 0.1347 minutes of latitude here (1855.6 m a minute at 57 degrees).
    assert "57°00.135'N 020°00.000'W" in text
    assert "2026-03-01 06:00:00 UTC" in text


def test_it_ends_with_the_assumptions_and_the_caution():
    out = call("check", PLAN, "--zones", BANK).out
    assert out.index("Assumed:") > out.index("Track ")
    assert " ".join(out.split()).endswith(CAUTION)


def test_no_line_is_wider_than_a_hundred_columns_unless_a_name_is():
    for track in (PLAN, TRIP, GAP_TRIP):
        out = call("check", track, "--zones", BANK, "-v").out
        assert max(len(line) for line in out.splitlines()) <= 120


def test_clear_rows_beyond_five_are_counted_unless_asked_for():
    zones = [
        zone(points(moved(A, 40.0 * n, 3000.0)), ZoneKind.OBSTRUCTION, zone_id=f"Z{n}") for n in range(8)
    ]
    result = check(fixes([A], [0.0]), zones)
    assert "3 more clear rows" in to_text(result)
    assert to_text(result).count("\nclear  ") == 5
    assert to_text(result, verbose=True).count("\nclear  ") == 8


def test_pairs_beyond_the_reach_are_counted():
    far = zone(points(moved(A, 0.0, 30_000.0)), ZoneKind.OBSTRUCTION)
    assert re.search(r"clear +1 pairs? farther apart than 5.000 nmi", to_text(check(fixes([A], [0.0]), far)))


def test_two_tracks_are_told_apart():
    tracks = [fixes([A], [0.0], track_id="first"), fixes([A], [0.0], track_id="second")]
    text = to_text(check(tracks, zone(area(around(A, 900.0)))))
    assert re.search(r"INSIDE +first tow 1", text)
    assert re.search(r"INSIDE +second tow 1", text)


@pytest.mark.parametrize(
    "code", [0x00, 0x07, 0x1B, 0x7F, 0x85, 0x9B, 0x200B, 0x200F, 0x202E, 0x2028, 0x2066, 0xFEFF]
)
def test_plain_shows_what_would_act_on_a_terminal(code):
    assert plain(f"a{chr(code)}b") == f"a<U+{code:04X}>b"


def test_plain_leaves_letters_of_all_scripts_alone():
    text = "Høgni, Ísafjörður, Ποσειδών, 北海, 57°00.135'N × 2"
    assert plain(text) == text
