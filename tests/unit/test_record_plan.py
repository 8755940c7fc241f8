"""A plan in the record: nobody takes the wanted line for clear, and all of the plan is there to read."""

from __future__ import annotations

import dataclasses
import html
import json
import re

import numpy as np
import pytest
from hostile_names import HOSTILE
from plan_results import NAMES, NOT_KNOWN, A, build_plan
from scenes import GEOD, moved

from towzone.model.plan import AdviceKind, NoLine, NoLineWhy, SeasonChange
from towzone.model.result import CheckResult
from towzone.record.clock import local_clock
from towzone.record.drawn.coast import Coast
from towzone.record.drawn.data import chart_data
from towzone.record.drawn.legend import legend
from towzone.record.drawn.plan import SHAPES, letter_of
from towzone.record.drawn.scene import build_scene
from towzone.record.drawn.still_chart import draw_static
from towzone.record.page import render_record
from towzone.record.sections.headline import headline, look, outcome_sentence
from towzone.record.sections.plan import plan_part
from towzone.record.sections.summary import summary
from towzone.record.sections.table import rows_part
from towzone.record.sections.told import teller
from towzone.record.sections.trip_index import trip_index
from towzone.record.text import clean
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv

MENDED = f"{NAMES[0]} corrected"
NONE: Coast | None = None


@pytest.fixture(scope="module")
def plan() -> CheckResult:
    return build_plan()


@pytest.fixture(scope="module")
def one() -> CheckResult:
    return build_plan(lines=(0,))


def section(result: CheckResult) -> str:
    return plan_part(result, local_clock(result))


def read(markup: str) -> str:
    """What a person reads of HTML, on one line."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]*>", " ", markup))).replace(" .", ".").strip()


def said(result: CheckResult) -> str:
    return read(section(result)).replace(" :", ":").replace(" ,", ",")


def only(result: CheckResult, **change: object) -> CheckResult:
    """The same with something changed in the first line of its plan."""
    assert result.plan is not None
    first, *rest = result.plan.lines
    lines = (dataclasses.replace(first, **change), *rest)
    return dataclasses.replace(result, plan=dataclasses.replace(result.plan, lines=lines))


# The answer


def test_the_headline_is_about_the_wanted_line_and_the_corrected_one_stands_beside(one: CheckResult) -> None:
    assert look(one) == "finding"
    told = read(headline(one, teller(one)))
    assert told.startswith("1 problem found: the gear of the planned tow comes 162.3 m")
    assert "corrected" not in told
    beside = read(summary(one, local_clock(one)))
    assert (
        "This is about the wanted line. A corrected line, 0.05 nmi longer, is clear by the model of the "
        "gear; see The plan."
    ) in beside
    assert "Wanted line Long tow ; Corrected line Long tow corrected" in beside


def test_a_clear_line_has_nothing_beside_its_headline() -> None:
    clear = build_plan(lines=(2,))
    text = read(summary(clear, local_clock(clear)))
    assert look(clear) == "clear"
    assert "No problem found" in text
    assert "corrected" not in text


def test_corrected_lines_are_counted_in_and_said_to_be(plan: CheckResult, one: CheckResult) -> None:
    assert outcome_sentence(one).endswith("Counted in is 1 corrected line, of which nothing is open.")
    assert "corrected" not in outcome_sentence(build_plan(lines=(2,)))
    assert "For 1 of them there is a corrected line that is clear" in read(summary(plan, local_clock(plan)))


def test_without_figures_a_corrected_line_is_never_said_to_be_clear_of_gear() -> None:
    bare = build_plan(lines=(0,), figures=False)
    assert bare.gear_unchecked
    text = said(bare)
    assert "clear for the vessel (its gear was not checked)" in text
    assert "by the model" not in text


# The section


def test_a_check_has_no_section_on_a_plan(one: CheckResult) -> None:
    checked = dataclasses.replace(one, plan=None)
    assert section(checked) == ""
    assert 'id="plan"' not in render_record(checked, to_json(checked), to_csv(checked))


def test_every_line_is_told_with_what_became_of_it(plan: CheckResult) -> None:
    text = said(plan)
    assert (
        "Too close Long tow: the gear of the planned tow comes 162.3 m from Made-up wreck ; 185.2 m are "
        "required."
    ) in text
    assert (
        "A corrected line is clear by the model of the gear: 0.05 nmi, 1 min 07 s, 2 l of fuel "
        "longer, up to 450 m (0.24 nmi) aside of the wanted one. Least to spare: the "
    ) in text
    assert (
        "There is no corrected line. Where towing begins, the gear is too close to a zone on any course. "
        "Zones there: Invented Bank closed area, Made-up wreck. Narrowest place: 57°00.759'N 019°59.493'W, "
        "612 m (0.33 nmi) wide; 790 m (0.43 nmi) are needed."
    ) in text
    assert "Clear Outer tow: proved clear, under the assumptions below. Least to spare: the " in text
    turns = "The wanted line turns by more than 60° at the end of leg 1 (70.0° to starboard), leg 2 (70.0° to"
    assert turns in text
    assert text.index(turns) < text.index("A corrected line is clear")


def test_what_to_do_stands_open_and_what_it_rests_on_is_folded(plan: CheckResult, one: CheckResult) -> None:
    for result in (plan, one):
        folds = re.findall(r'<details class="plan-part of-([a-z-]+)"( open)?>', section(result))
        assert {name for name, is_open in folds if is_open} == {"corrected", "advice"}
        assert {name for name, is_open in folds if not is_open} == {"times", "times-corrected", "margins"}


def test_that_nothing_is_allowed_for_steering_is_said(one: CheckResult) -> None:
    words = "Nothing is allowed for steering off the line"
    for steering_m in (0.0, 30.0):
        steered = dataclasses.replace(one, settings={**one.settings, "steering_m": steering_m})
        assert (words in said(steered)) is (steering_m == 0.0)


def test_a_rule_that_begins_while_the_gear_is_out_stands_beside_the_answer(one: CheckResult) -> None:
    assert one.plan is not None
    first = one.plan.lines[0]
    begins = SeasonChange(zone_id="W-1", at_utc=first.timetable.legs[1].begin_utc, begins=True)
    text = said(only(one, timetable=dataclasses.replace(first.timetable, seasons=(begins,))))
    assert text.startswith("The plan The rule of Made-up wreck begins at 2026-03-01 06:57:51 UTC (05:57:51")
    assert not said(one).startswith("The plan The rule of")


def test_the_times_of_advice_are_told_on_board_too(one: CheckResult) -> None:
    assert one.plan is not None
    timed = dataclasses.replace(one.plan.lines[0].advice[0], words="Call by 2026-03-01 00:10:00 UTC.")
    text = said(only(one, advice=(timed,)))
    assert "Call by 2026-03-01 00:10:00 UTC = 2026-02-28 23:10:00 UTC-1." in text


def test_lines_are_compared_only_where_there_are_several(plan: CheckResult, one: CheckResult) -> None:
    assert "The lines compared" not in said(one)
    table = re.search(r'<div class="compared">(.*?)</div>', section(plan), flags=re.DOTALL)
    assert table is not None
    rows = re.findall(r"<tr>(.*?)</tr>", table[1], flags=re.DOTALL)[1:]
    cells = [[read(cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", row)] for row in rows]
    assert cells[0] == [
        *("A Long tow", "Too close", "66.3 m Made-up cable", "-179 m Made-up wreck", "7.29 nmi", "2.8"),
        *("311 l", "2", "0.05 nmi longer", "Show"),
    ]
    assert [row[8] for row in cells] == ["0.05 nmi longer", "none", "none needed"]


def test_fuel_is_not_told_where_the_profile_does_not(plan: CheckResult) -> None:
    assert 'data-head="Fuel"' in section(plan)
    assert 'data-head="Fuel"' not in section(build_plan(fuel=False))
    assert " l of fuel" not in said(build_plan(lines=(0,), fuel=False))


def test_corners_stand_in_a_table_and_as_text_to_be_copied(one: CheckResult) -> None:
    text = said(one)
    assert "c2 57°00.686'N 019°54.950'W 151.9° 2.11 nmi 66.6° to port" in text
    copied = re.search(r"<textarea readonly[^>]*>(.*?)</textarea>", section(one), flags=re.DOTALL)
    assert copied is not None
    assert html.unescape(copied[1]).splitlines() == [
        "1  57°00.000'N 020°00.000'W",
        "2  57°00.686'N 019°54.950'W",
        "3  56°58.825'N 019°53.128'W",
        "4  56°59.019'N 019°48.791'W",
    ]


def test_advice_says_what_each_piece_clears(one: CheckResult) -> None:
    text = said(one)
    assert (
        "Hold on for 560 m on leg 1 before turning. Not enough alone: clears the line of Made-up wreck, not"
        in text
    )
    assert "For Made-up cable. Not enough alone." in text
    assert "Enough alone: clears the line of Made-up cable, Made-up wreck, and nothing stays open." in text


@pytest.mark.parametrize("kind", AdviceKind)
def test_advice_that_names_no_zone_is_about_the_whole_line(one: CheckResult, kind: AdviceKind) -> None:
    assert one.plan is not None
    bare = dataclasses.replace(
        one.plan.lines[0].advice[0], kind=kind, zone_ids=(), clears=(), line=None, whole=False
    )
    assert "For the whole line." in said(only(one, advice=(bare,)))
    whole = dataclasses.replace(bare, whole=True)
    assert "Enough alone: clears the line, and nothing stays open." in said(only(one, advice=(whole,)))


def test_the_timetable_has_utc_and_local_times_zones_and_seasons(one: CheckResult) -> None:
    text = said(one)
    assert "haul call 2026-03-01 08:36:12 UTC (07:36:12 UTC-1) 56°59.019'N 019°48.791'W" in text
    assert "2 2026-03-01 06:57:51 UTC (05:57:51 UTC-1) 150.0° 2.16 nmi 2.8 kn 70.0° to port 43E0 42E0" in text
    assert "The rule of Invented spawning area begins at 2026-03-02 00:00:00 UTC" in text


def test_margins_say_what_is_spare_and_where_no_rule_binds(one: CheckResult) -> None:
    text = said(one)
    assert "Made-up wreck 185 m 302 m 162 m 5.8 m 82.3 m, setting to 170° -179 m 2" in text
    assert "Invented spawning area 0.0 m -160 m -182 m reached -262 m, setting to 170° no rule 2" in text


@pytest.mark.parametrize("why", NoLineWhy)
def test_no_line_is_told_with_its_reason_and_without_a_place_where_there_is_none(
    one: CheckResult, why: NoLineWhy
) -> None:
    text = said(only(one, corrected=NoLine(why=why, words="No reason here.")))
    assert "There is no corrected line. No reason here." in text
    assert "Narrowest" not in text
    assert "is clear" not in text


@pytest.mark.parametrize("lines", [(0,), (1,), (2,), (0, 1, 2)])
def test_what_no_plan_knows_is_said_every_time(lines: tuple[int, ...]) -> None:
    text = said(build_plan(lines=lines))
    assert "Not known to any plan." in text
    for sentence in NOT_KNOWN:
        assert sentence in text


def test_what_is_spare_may_be_less_where_the_likely_corridor_reaches_a_zone(one: CheckResult) -> None:
    assert one.plan is not None
    reached = tuple(dataclasses.replace(m, likely_m=0.0) for m in one.plan.lines[0].margins[:1])
    assert "162 m reached 82.3 m, setting to 170° -185 m or less 2" in said(only(one, margins=reached))


def test_a_line_inside_where_no_rule_forbids_it_is_not_said_to_be_proved_clear(one: CheckResult) -> None:
    freed = dataclasses.replace(
        only(one, corrected=None),
        rows=tuple(row for row in one.rows if row.track_id == NAMES[0] and row.zone_id == "A-2"),
    )
    text = said(freed)
    assert (
        "no finding, under the assumptions below. It may go inside or close to Invented spawning area" in text
    )
    assert "proved clear" not in text


def test_a_line_far_from_all_zones_asks_whether_they_are_the_right_ones() -> None:
    far = dataclasses.replace(build_plan(lines=(2,)), rows=())
    assert "comes within 5 nmi of none of the 4 zones given: make sure they are of these" in said(far)
    alone = dataclasses.replace(far, zones=far.zones[:1])
    assert "comes nowhere within 5 nmi of the one zone given" in said(alone)


def test_a_plan_has_no_index_of_tows_beside_its_own_comparison(plan: CheckResult) -> None:
    assert trip_index(plan, local_clock(plan)) == ""
    assert "trip-index" in trip_index(dataclasses.replace(plan, plan=None), local_clock(plan))


# The rows


def test_rows_of_corrected_lines_stand_last_and_are_marked(one: CheckResult) -> None:
    table = rows_part(one)
    bodies = re.findall(r'<tbody [^>]*id="row-(\d+)"([^>]*)>(.*?)</tbody>', table, flags=re.DOTALL)
    corrected = [one.rows[int(number) - 1].track_id == MENDED for number, _, _ in bodies]
    assert len(bodies) == len(one.rows)
    assert corrected == sorted(corrected)
    assert 0 < sum(corrected) < len(corrected)
    for (_, keys, body), is_corrected in zip(bodies, corrected, strict=True):
        assert ('data-last="1"' in keys) is is_corrected
        assert ("Corrected line" in read(body)) is is_corrected
    assert "The rows of the corrected line stand last." in read(table)


# The charts


def test_a_plan_marks_its_corners_its_ends_and_the_narrowest_place(plan: CheckResult) -> None:
    marks = build_scene(plan).plan
    words = [mark.text for mark in marks]
    assert words[:5] == ["A1: towing begins", "A2", "A3", "A4: haul call", "latest contact"]
    # The corrected line begins and ends where the wanted one does: only what is its own is numbered.
    assert [mark.text for mark in marks if mark.corrected] == ["Ac2", "Ac3", ""]
    narrow = next(mark for mark in marks if mark.kind == "narrowest")
    assert narrow.text == "narrowest: 612 m, 790 m needed"
    np.testing.assert_allclose(narrow.place, moved(A, 20.0, 1500.0), rtol=0, atol=1e-9)
    assert [mark.text for mark in build_scene(build_plan(lines=(0,))).plan][:2] == ["1: towing begins", "2"]


def test_a_contact_of_a_corrected_line_that_ends_elsewhere_is_named() -> None:
    one = build_plan(lines=(0,))
    assert one.plan is not None
    corrected = one.plan.lines[0].corrected
    times = corrected.timetable
    last = times.events[-1]
    far = moved((last.lon_deg, last.lat_deg), 0.0, 400.0)
    events = (*times.events[:-1], dataclasses.replace(last, lon_deg=far[0], lat_deg=far[1]))
    changed = dataclasses.replace(corrected, timetable=dataclasses.replace(times, events=events))
    texts = [mark.text for mark in build_scene(only(one, corrected=changed)).plan if mark.corrected]
    assert "latest contact, corrected line" in texts


def test_marks_of_a_plan_lie_on_the_line_also_across_180_degrees() -> None:
    far = build_plan(lines=(0,), at=(179.98, -17.0))
    scene = build_scene(far)
    lines = {track.corrected: track.lonlat_deg for track in scene.tracks}
    for mark in scene.plan:
        nearest = min(GEOD.inv(*mark.place, *fix)[2] for fix in lines[mark.corrected].tolist())
        # Corners are fixes of the track; the last contact lies a second of hauling before its end.
        assert nearest < 2.0
    lon = [mark.place[0] for mark in scene.plan]
    assert max(lon) - min(lon) < 1.0


def test_both_charts_draw_the_corrected_line_hollow_and_the_ends_fine(one: CheckResult) -> None:
    svg = draw_static(build_scene(one), NONE, "Title")
    drawn = re.findall(r'class="(track[^"]*)"', svg)
    assert "track a-planned t-planned tow" in drawn
    assert "track a-planned t-planned tow corrected" in drawn
    assert "track-core" in drawn
    assert {"track a-shooting t-planned tow", "track a-hauling t-planned tow corrected"} <= set(drawn)
    assert 'class="gear corridor corrected"' in svg
    for kind in ("corner", "begins", "haul_call", "contact"):
        assert f'class="plan-mark p-{kind}"' in svg
    data = chart_data(build_scene(one), NONE, "")
    assert [track["layer"] for track in data["tracks"]] == ["track-planned", "track-corrected"]
    assert [track["corrected"] for track in data["tracks"]] == [False, True]
    assert [gear["corrected"] for gear in data["gear"]] == [False, True]
    assert [mark["shape"] for mark in data["plan"]] == [SHAPES[m.kind] for m in build_scene(one).plan]


def test_a_chart_without_a_plan_has_none_of_it(one: CheckResult) -> None:
    checked = dataclasses.replace(one, plan=None)
    assert chart_data(build_scene(checked), NONE, "")["plan"] == []
    svg = draw_static(build_scene(checked), NONE, "Title")
    assert "corrected" not in svg.replace(MENDED, "")
    assert "plan-mark" not in svg


def test_the_key_explains_what_a_plan_draws(plan: CheckResult) -> None:
    key = read(legend(build_scene(plan), NONE))
    for words in (
        "Wanted line",
        "Corrected line, clear in the check",
        "shooting before it, hauling after it",
        "the same of the corrected line, with a c",
        "haul call",
        "narrowest place",
        "Gear of the corrected line",
    ):
        assert words in key
    alone = read(legend(build_scene(build_plan(lines=(2,))), NONE))
    assert "Wanted line" in alone
    assert "orrected" not in alone
    assert "narrowest" not in alone


def test_letters_of_lines_never_run_out() -> None:
    letters = [letter_of(n, 60) for n in range(60)]
    assert len(set(letters)) == 60
    assert letters[0] == "A"


# Texts from files, and the same bytes


@pytest.mark.parametrize("name", ["script", "img-quoted", "attribute"])
def test_names_from_files_are_shown_and_never_obeyed(one: CheckResult, name: str) -> None:
    text = HOSTILE[name]
    assert one.plan is not None
    line = dataclasses.replace(one.plan.lines[0].line, name=text, point_names=())
    corrected = dataclasses.replace(
        one.plan.lines[0].corrected, line=dataclasses.replace(one.plan.lines[0].line, name=text)
    )
    hostile = only(one, line=line, corrected=corrected)
    hostile = dataclasses.replace(
        hostile, plan=dataclasses.replace(hostile.plan, not_known=(text, *NOT_KNOWN))
    )
    markup = section(hostile)
    assert text not in markup
    assert html.escape(clean(text), quote=True) in markup


def test_the_same_plan_gives_the_same_record(one: CheckResult) -> None:
    texts = {
        render_record(result, to_json(result), to_csv(result)) for result in (one, build_plan(lines=(0,)))
    }
    assert len(texts) == 1
    (text,) = texts
    island = re.search(r'<script type="application/json" id="result">(.*?)</script>', text, flags=re.DOTALL)
    assert island is not None
    assert json.loads(island[1])["plan"]["lines"][0]["track_id"] == NAMES[0]
