"""The text for people: outcome first, worst rows next, lengths and positions as mariners read them."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from cli_runner import BANK, GAP_TRIP, MENDED, PLAN, TRIP, call
from gear_results import SLACK, build_gear_result, figures
from scenes import area, around, check, fixes, moved, points, zone

from towzone.caution import CAUTION
from towzone.model.gear import GearReach, GearTier
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


def gear_text(*, verbose: bool = False, **changes) -> str:
    result = build_gear_result(planned=False)
    return to_text(dataclasses.replace(result, **changes), verbose=verbose)


def test_a_row_of_the_gear_names_the_part_and_what_the_spread_leaves():
    lines = gear_text().splitlines()
    assert re.match(r"  1  INSIDE +tow 2  gear: port door  zone-0  Invented Bank closed area$", lines[3])
    assert lines[6] == (
        "     likely corridor (2 sigmas) reaches the boundary or beyond (how far is not computed),"
        " rope bound -5266.9 m (-2.844 nmi)"
    )
    assert not any(line.startswith("     - ") for line in lines)  # flags are in the row's own sentence


@pytest.mark.parametrize(
    ("likely_m", "told"),
    [
        (0.01, "likely corridor (2 sigmas) 0.0 m (0.000 nmi), rope"),
        (0.0, "likely corridor (2 sigmas) reaches the boundary or beyond (how far is not computed), rope"),
        (-3.0, "likely corridor (2 sigmas) reaches the boundary or beyond (how far is not computed), rope"),
    ],
)
def test_a_likely_corridor_that_reaches_the_zone_is_told_no_depth(likely_m, told):
    row = build_gear_result(planned=False).rows[0]
    reach = dataclasses.replace(row.gear, likely_clearance_m=likely_m)
    assert told in gear_text(rows=(dataclasses.replace(row, gear=reach),))


def test_a_row_of_gear_whose_place_is_not_known_says_what_is_not_computed():
    result = build_gear_result(planned=False)
    reach = GearReach(
        nearest_part="",
        tier=GearTier.NOT_RULED_OUT,
        sigmas=2.0,
        likely_clearance_m=None,
        rope_clearance_m=12.0,
        flags=("no_warp",),
    )
    text = gear_text(rows=(dataclasses.replace(result.rows[0], gear=reach),))
    assert re.search(r"^  1  INSIDE +tow 2  gear  zone-0", text, flags=re.MULTILINE)
    assert "likely corridor (2 sigmas) not computed, rope bound 12.0 m (0.006 nmi)\n" in text


def test_zones_of_clear_gear_rows_stand_below_each_other():
    lines = [line for line in gear_text(verbose=True).splitlines() if re.match("clear .* gear", line)]
    assert len(lines) > 3
    assert len({line.index("zone-") for line in lines}) == 1


def test_flags_of_one_kind_are_told_once_with_all_their_times():
    gear = build_gear_result(planned=False).gear
    tow = gear.tows[1]
    later = [
        dataclasses.replace(
            tow.flags[0],
            from_utc=tow.flags[0].from_utc + np.timedelta64(n, "h"),
            to_utc=tow.flags[0].to_utc + np.timedelta64(n, "h"),
        )
        for n in range(5)
    ]
    told = dataclasses.replace(gear, tows=(dataclasses.replace(tow, flags=tuple(later)),))
    text = " ".join(gear_text(gear=told).split())
    assert text.count(SLACK.split(".")[0]) == 1
    assert text.count(" UTC to 2026-03-01 0") >= 3
    assert "and 2 more stretches: " in text


def test_figures_that_hardly_matter_are_counted_unless_asked_for():
    gear = build_gear_result(planned=False).gear
    still = dataclasses.replace(
        gear.effects[0],
        low_clearance_m=gear.effects_clearance_m + 0.5,
        high_clearance_m=gear.effects_clearance_m,
    )
    changed = dataclasses.replace(gear, effects=(*gear.effects, still))
    assert "  1 more move it by less than 1 m (-v lists them)" in gear_text(gear=changed)
    assert "-v lists them" not in gear_text(gear=changed, verbose=True)


def test_the_gear_has_a_section_with_every_tow():
    text = " ".join(gear_text().split())
    assert (
        "Gear: Tow 1: layback 327 to 334 m, no part farther than 507 m from the antenna, whatever it did,"
        " swept 1.9" in text
    )
    assert "On the bottom from 2026-03-01 04:09:00 UTC to 2026-03-01 06:20:00 UTC by the figures" in text
    assert "at the most from 2026-03-01 04:03:00 UTC to 2026-03-01 06:24:00 UTC." in text
    assert f"- 2026-03-01 04:43:00 UTC to 2026-03-01 04:47:00 UTC: {SLACK}" in text
    assert "- Where the gear was when the track begins is not known." in text
    assert "Tow 3: not computed. The haul log gives no warp for this tow" in text
    assert "nan" not in text.lower().replace("finance", "")


def test_figures_that_nobody_stated_are_in_capitals():
    text = gear_text(verbose=True)
    assert re.search(r"^    warp +350\.0 m +± 7 +stated +vessel profile$", text, flags=re.MULTILINE)
    assert re.search(r"^    sweeps +120\.0 m +± 30 +ASSUMED +own choice$", text, flags=re.MULTILINE)
    assert re.search(r"^    door spread +80\.0 m +\(60\.0 m to 105\.0 m\) +derived", text, flags=re.MULTILINE)
    assert re.search(r"^    current drift +0\.00 kn +± 0\.25 +ASSUMED", text, flags=re.MULTILINE)


def test_figures_of_further_tows_are_listed_where_they_differ_and_are_asked_for():
    gear = build_gear_result(planned=False).gear
    assert gear_text(verbose=True).count("    Figures as of tow 1.") == 1
    other = dataclasses.replace(gear.tows[1], figures=gear.tows[1].figures[:1])
    changed = dataclasses.replace(gear, tows=(gear.tows[0], other))
    short, long = (gear_text(gear=changed, verbose=verbose) for verbose in (False, True))
    assert (short.count("\n    warp "), long.count("\n    warp ")) == (0, 2)


def test_what_the_least_clearance_of_the_gear_depends_on_is_a_table_in_the_order_given():
    lines = gear_text().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("What the least gear clearance"))
    assert "tow 2, zone-0  Invented Bank closed area, -4846.9 m" in lines[start]
    table = [" ".join(line.split()) for line in lines[start + 2 : start + 6]]
    assert table[0] == "figure value basis lower clearance higher clearance"
    assert table[1] == "current drift 0.00 kn ASSUMED -0.50 kn -4912.9 m 0.50 kn -4780.9 m"
    assert table[2] == "warp 350.0 m stated 336.0 m -4840.9 m 364.0 m -4853.2 m"
    assert table[3] == "door spread 80.0 m derived 60.0 m none 105.0 m -4846.9 m"
    assert lines[start + 6] == "  none: no contact with the bottom, or not to be computed"


def test_without_figures_of_the_gear_there_is_no_word_of_it():
    assert "Gear:" not in gear_text(gear=None)
    assert "depends on" not in gear_text(gear=None)


def test_text_on_the_gear_acts_on_no_terminal_and_keeps_the_width():
    result = build_gear_result(planned=False)
    bad = "a\x1b[2Jb\n" + "long words " * 30
    tow = dataclasses.replace(
        result.gear.tows[0],
        track_id=bad,
        figures=tuple(dataclasses.replace(figure, name=bad[:9], source=bad) for figure in figures()),
        flags=tuple(dataclasses.replace(flag, kind=bad, words=bad) for flag in result.gear.tows[0].flags),
    )
    failed = dataclasses.replace(result.gear.tows[2], why_not=bad)
    text = gear_text(gear=dataclasses.replace(result.gear, tows=(tow, failed)), verbose=True)
    assert "\x1b" not in text
    assert "a<U+001B>[2Jb<U+000A>" in text
    section = text[text.index("Gear:") : text.index("What the least")]
    assert max(len(line) for line in section.splitlines() if "Tow 1 of" not in line) <= 100


@pytest.mark.parametrize(
    "code", [0x00, 0x07, 0x1B, 0x7F, 0x85, 0x9B, 0x200B, 0x200F, 0x202E, 0x2028, 0x2066, 0xFEFF]
)
def test_plain_shows_what_would_act_on_a_terminal(code):
    assert plain(f"a{chr(code)}b") == f"a<U+{code:04X}>b"


def test_plain_leaves_letters_of_all_scripts_alone():
    text = "Høgni, Ísafjörður, Ποσειδών, 北海, 57°00.135'N × 2"
    assert plain(text) == text
