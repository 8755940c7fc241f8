"""The table of rows: each row whole and in order, unknown said as unknown, fit to be sorted and read out."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Sequence
from html.parser import HTMLParser

import numpy as np
import pytest
from gear_results import build_gear_result
from result_builders import NAMES, build_result

from towzone.model.result import CheckResult, Part, Row, Status
from towzone.record.clock import local_clock
from towzone.record.sections.table import rows_part
from towzone.record.text import short
from towzone.record.words import STATUS
from towzone.units import format_duration, format_length, format_position, format_time

NEVER = np.datetime64("NaT", "us")
HOSTILE = ("<script>window.taken=1</script>", "a\u202eb", "'\"><svg onload=x>", "{zone_id}", "x" * 10_000)


class Elements(HTMLParser):
    """Elements in order, each with its attributes and all the text within it."""

    EMPTY = frozenset({"col", "path"})

    def __init__(self, part: str) -> None:
        super().__init__(convert_charrefs=True)
        self.all: list[tuple[str, dict[str, str], list[str]]] = []
        self._open: list[tuple[str, dict[str, str], list[str]]] = []
        self.feed(part)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = (tag, {name: value or "" for name, value in attrs}, [])
        self.all.append(element)
        if tag not in self.EMPTY:
            self._open.append(element)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.EMPTY:
            assert self._open.pop()[0] == tag
            if tag in ("td", "th", "p", "li"):
                self.handle_data(" ")

    def handle_data(self, data: str) -> None:
        for _, _, text in self._open:
            text.append(data)

    def of(self, tag: str, **wanted: str) -> list[tuple[dict[str, str], str]]:
        """Return attributes and text of the elements with these attributes; ``class_`` is one of several."""
        return [
            (attrs, " ".join("".join(text).split()))
            for found, attrs, text in self.all
            if found == tag
            and all(
                value in attrs.get("class", "").split() if name == "class_" else attrs.get(name) == value
                for name, value in wanted.items()
            )
        ]

    def one(self, tag: str, **wanted: str) -> tuple[dict[str, str], str]:
        (found,) = self.of(tag, **wanted)
        return found

    def options(self, element_id: str) -> list[tuple[str, str]]:
        """Return value and words of what can be chosen from a list."""
        begin = next(i for i, (_, attrs, _) in enumerate(self.all) if attrs.get("id") == element_id)
        found = []
        for tag, attrs, text in self.all[begin + 1 :]:
            if tag != "option":
                break
            found.append((attrs["value"], "".join(text)))
        return found


def with_rows(result: CheckResult, rows: Sequence[Row]) -> CheckResult:
    return dataclasses.replace(result, rows=tuple(rows))


def changed(result: CheckResult, **values: object) -> CheckResult:
    """Return a result whose only row is the first one, changed."""
    return with_rows(result, [dataclasses.replace(result.rows[0], **values)])  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return build_result()


@pytest.fixture(scope="module")
def found(result: CheckResult) -> Elements:
    return Elements(rows_part(result))


@pytest.fixture(scope="module")
def of_gear() -> CheckResult:
    return build_gear_result(planned=False)


def test_every_row_stands_once_in_the_order_of_the_result(result: CheckResult, found: Elements) -> None:
    bodies = found.of("tbody")

    assert [attrs["id"] for attrs, _ in bodies] == [f"row-{n}" for n in range(1, len(result.rows) + 1)]
    for row, (attrs, text) in zip(result.rows, bodies, strict=True):
        assert attrs["data-status"] == row.status
        assert STATUS[row.status] in text
        assert row.explain in text


def test_a_row_tells_clearance_requirement_uncertainty_place_and_both_times(
    result: CheckResult, found: Elements
) -> None:
    clock = local_clock(result)
    assert not np.isnat(result.rows[0].closest.utc)  # type: ignore[union-attr]
    for row, (_, text) in zip(result.rows, found.of("tbody"), strict=True):
        assert row.clearance_m is not None
        assert row.closest is not None
        metres, miles = format_length(row.clearance_m).rstrip(")").split(" (")
        required = format_length(row.margin_m).split(" (")[0]
        place = format_position(row.closest.lon_deg, row.closest.lat_deg)
        assert f"{metres} {miles} {required} ±{row.uncertainty_m:.1f} m" in text
        if np.isnat(row.closest.utc):
            assert f"time not known {place}" in text
        else:
            assert f"{format_time(row.closest.utc)} {clock.local(row.closest.utc)} · {place}" in text


def test_local_times_are_those_of_the_time_zone_asked_for(result: CheckResult) -> None:
    stated = dataclasses.replace(result, settings={**result.settings, "local_tz": "Asia/Kathmandu"})
    part = rows_part(stated)

    assert "UTC+5:45" in part
    assert "UTC-1" not in part


def test_each_status_has_a_word_and_a_shape_of_its_own(result: CheckResult) -> None:
    row = result.rows[0]
    found = Elements(
        rows_part(with_rows(result, [dataclasses.replace(row, status=status) for status in Status]))
    )
    shapes = [attrs["d"] for attrs, _ in found.of("path")]
    words = [text for _, text in found.of("span", class_="status")]

    assert words == [STATUS[status] for status in Status]
    assert len(set(shapes)) == len(shapes) == len(Status)
    assert {attrs["aria-hidden"] for attrs, _ in found.of("svg")} == {"true"}


def test_what_is_not_known_is_said_and_gives_nothing_to_sort_by(result: CheckResult) -> None:
    found = Elements(rows_part(changed(result, clearance_m=None, closest=None, inside=(), close=())))
    attrs, text = found.one("tbody")

    assert text.count("not known") == 2
    assert "data-clearance" not in attrs
    assert "data-time" not in attrs


def test_rows_carry_the_exact_numbers_they_are_sorted_by(result: CheckResult, found: Elements) -> None:
    order = {zone.zone_id: str(i) for i, zone in enumerate(result.zones)}
    epoch = np.datetime64(0, "us")
    for row, (attrs, _) in zip(result.rows, found.of("tbody"), strict=True):
        assert row.closest is not None
        assert float(attrs["data-clearance"]) == row.clearance_m
        assert attrs["data-zone"] == order[row.zone_id]
        known = not np.isnat(row.closest.utc)
        assert ("data-time" in attrs) == known
        if known:
            assert float(attrs["data-time"]) == (row.closest.utc - epoch) / np.timedelta64(1, "s")


def test_tows_are_counted_along_the_tracks_with_what_is_outside_tows_last(result: CheckResult) -> None:
    first, second = (track.track_id for track in result.tracks)
    pairs = [(second, None), (first, None), (first, 10), (second, 1), (first, 9)]
    row = result.rows[0]
    rows = [dataclasses.replace(row, track_id=track_id, tow=tow) for track_id, tow in pairs]
    found = Elements(rows_part(with_rows(result, rows)))

    assert [attrs["data-tow"] for attrs, _ in found.of("tbody")] == ["4", "2", "1", "3", "0"]
    assert found.options("rows-tow") == [
        ("", "all"),
        *((str(i), f"{first}, {tow}") for i, tow in enumerate(("tow 9", "tow 10", "outside tows"))),
        *((str(i), f"{second}, {tow}") for i, tow in enumerate(("tow 1", "outside tows"), start=3)),
    ]


def test_a_track_alone_is_named_above_the_table_and_of_several_in_each_row(result: CheckResult) -> None:
    alone = dataclasses.replace(
        with_rows(result, [row for row in result.rows if row.track_id == "Invented trip"]),
        tracks=result.tracks[:1],
    )
    one, several = Elements(rows_part(alone)), Elements(rows_part(result))

    assert "Invented trip" in one.one("caption")[1]
    assert not any("Invented trip" in text for _, text in one.of("td", class_="c-tow"))
    for row, (_, text) in zip(result.rows, several.of("td", class_="c-tow"), strict=True):
        assert text.endswith(row.track_id)


def test_part_and_nearest_part_of_the_gear_stand_beside_the_tow(of_gear: CheckResult) -> None:
    found = Elements(rows_part(of_gear))
    parts = {row.part for row in of_gear.rows}

    assert parts == {Part.VESSEL, Part.GEAR}
    for row, (_, text) in zip(of_gear.rows, found.of("td", class_="c-tow"), strict=True):
        nearest = f"{row.gear.nearest_part}, " if row.gear else ""
        assert text == f"Tow {row.tow}, {row.part} {nearest}towing"


def test_of_many_stays_twelve_are_listed_and_the_others_counted(result: CheckResult) -> None:
    stay, close = result.rows[0].inside[0], result.rows[0].close[0]

    for count, more in ((12, ""), (13, "and 1 more"), (20, "and 8 more")):
        found = Elements(rows_part(changed(result, inside=(stay,) * count, close=(close,) * count)))
        lines = [text for _, text in found.of("li")]
        assert sum(text.startswith("Inside from") for text in lines) == 12
        assert sum(text.startswith("Nearer than required") for text in lines) == 12
        rest = [text for text in lines if text.startswith("and ")]
        assert len(rest) == (2 if more else 0)
        assert all(text.startswith(more) for text in rest)


def test_a_stay_tells_both_ends_in_both_times_and_what_is_known_of_it(result: CheckResult) -> None:
    clock, stay = local_clock(result), result.rows[0].inside[0]
    known = Elements(rows_part(changed(result, inside=(stay,), close=()))).one("li")[1]
    unknown = dataclasses.replace(
        stay, enter_utc=NEVER, leave_utc=NEVER, seconds=None, mean_speed_kn=None, min_speed_kn=None
    )
    untimed = Elements(rows_part(changed(result, inside=(unknown,), close=()))).one("li")[1]
    enter = format_position(stay.enter_lon_deg, stay.enter_lat_deg)
    leave = format_position(stay.leave_lon_deg, stay.leave_lat_deg)

    assert f"Inside from {clock.text(stay.enter_utc)} at {enter} to {clock.text(stay.leave_utc)}" in known
    assert stay.seconds is not None
    facts = f"{format_length(stay.length_m)}, {format_duration(stay.seconds)}"
    assert known.endswith(f"{facts}, mean speed 3.4 kn, slowest 3.1 kn")
    assert untimed == f"Inside from {enter} to {leave}, times not known: {format_length(stay.length_m)}"


def test_a_close_stretch_tells_its_times_or_that_they_are_not_known(result: CheckResult) -> None:
    clock, stretch = local_clock(result), result.rows[0].close[0]

    def line(**values: object) -> str:
        one = dataclasses.replace(stretch, **values)  # type: ignore[arg-type]
        return Elements(rows_part(changed(result, inside=(), close=(one,)))).one("li")[1]

    times = f"{clock.text(stretch.from_utc)} to {clock.text(stretch.to_utc)}"
    assert line(seconds=90.0) == f"Nearer than required from {times} (1 min 30 s)"
    assert line(seconds=None) == f"Nearer than required from {times}"
    assert line(seconds=None, from_utc=NEVER, to_utc=NEVER) == "Nearer than required once, times not known"
    assert line(seconds=90.0, from_utc=NEVER, to_utc=NEVER) == (
        "Nearer than required, times not known (1 min 30 s)"
    )
    assert line(to_utc=NEVER, seconds=None).endswith(f"{clock.text(stretch.from_utc)} to time not known")


def test_stretches_of_which_nothing_is_known_share_one_line(result: CheckResult) -> None:
    timed = result.rows[0].close[0]
    bare = dataclasses.replace(timed, from_utc=NEVER, to_utc=NEVER, seconds=None)
    found = Elements(rows_part(changed(result, inside=(), close=(bare, timed, *(bare,) * 383))))
    lines = [text for _, text in found.of("li")]

    assert len(lines) == 2
    assert lines[0].startswith("Nearer than required from ")
    assert lines[1] == "Nearer than required on 384 stretches, times not known"


def test_stays_of_no_length_share_one_line_with_the_first_and_the_last_place(result: CheckResult) -> None:
    stay, clock = result.rows[0].inside[0], local_clock(result)
    point = dataclasses.replace(stay, length_m=0.04)
    last = dataclasses.replace(point, enter_lon_deg=-18.0, enter_utc=NEVER)
    found = Elements(rows_part(changed(result, inside=(point, stay, point, last), close=())))
    one = Elements(rows_part(changed(result, inside=(point, stay), close=())))
    lines = [text for _, text in found.of("li")]
    places = [format_position(some.enter_lon_deg, some.enter_lat_deg) for some in (point, last)]

    assert len(lines) == 2
    assert lines[0].startswith("Inside from ")
    assert lines[1] == (
        "Inside 3 times for 0.0 m, at single positions or touches, "
        f"the first at {places[0]}, {clock.text(stay.enter_utc)}, the last at {places[1]}"
    )
    assert len(one.of("li")) == 2


def test_what_the_uncertainties_mean_is_said_once_below_the_table(
    found: Elements, of_gear: CheckResult
) -> None:
    gear = Elements(rows_part(of_gear)).one("p", id="rows-reading")[1]
    vessel = found.one("p", id="rows-reading")[1]

    assert vessel.startswith("± of the vessel: the error allowed for its positions")
    assert "± of the gear" not in vessel
    assert "± of the gear: two standard deviations" in gear
    assert local_clock(of_gear).name in gear


def test_only_a_row_with_nothing_found_can_be_folded(result: CheckResult) -> None:
    for status in Status:
        folds = Elements(rows_part(changed(result, status=status))).of("details", class_="of-row")
        wanted = status not in (Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED)
        assert len(folds) == wanted
        assert all("open" in attrs for attrs, _ in folds)


def test_rows_are_told_apart_by_a_heading_that_spans_facts_and_sentence(
    result: CheckResult, found: Elements
) -> None:
    heads = [attrs["scope"] for attrs, _ in found.of("th") if attrs["scope"] == "col"]
    rows = found.of("th", scope="rowgroup")

    assert [text for _, text in rows] == [str(n) for n in range(1, len(result.rows) + 1)]
    assert {attrs["rowspan"] for attrs, _ in rows} == {"2"}
    sentences = [attrs for attrs, _ in found.of("td") if "colspan" in attrs]
    assert {attrs["colspan"] for attrs in sentences} == {str(len(heads) - 1)}
    assert len(sentences) == len(rows)
    assert len(found.of("col")) == len(heads) == 7
    assert len(found.of("td")) == len(rows) * len(heads)
    ids = [attrs["id"] for _, attrs, _ in found.all if "id" in attrs]
    assert len(set(ids)) == len(ids)


def test_the_button_of_a_row_says_what_it_does_and_is_described_by_the_sentence(
    result: CheckResult, found: Elements
) -> None:
    buttons = found.of("button", class_="show")

    assert [attrs["data-row"] for attrs, _ in buttons] == [text for _, text in buttons]
    assert len(buttons) == len(result.rows)
    for row, (attrs, number) in zip(result.rows, buttons, strict=True):
        assert attrs["aria-label"] == f"Show row {number} on the chart"
        assert found.one("p", id=attrs["aria-describedby"])[1] == row.explain


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text)[:16])
def test_hostile_names_are_shown_as_text_and_cut(text: str, found: Elements) -> None:
    base = build_result(names=(text,) * 5)
    ids = {zone.zone_id: f"{zone.zone_id}{text}" for zone in base.zones}
    result = dataclasses.replace(
        base,
        zones=tuple(dataclasses.replace(zone, zone_id=ids[zone.zone_id]) for zone in base.zones),
        rows=tuple(dataclasses.replace(row, zone_id=ids[row.zone_id], explain=text * 2) for row in base.rows),
    )
    part = rows_part(result)
    hostile = Elements(part)

    assert [(tag, set(attrs)) for tag, attrs, _ in hostile.all] == [
        (tag, set(attrs)) for tag, attrs, _ in found.all
    ]
    shown = " ".join(short(text).split())
    assert all(shown in words for _, words in hostile.of("td", class_="c-zone"))
    assert len(part) < len(result.rows) * 5_000 + 10_000
    assert "\u202e" not in part


def test_lists_to_choose_from_name_only_what_is_there_and_count_it(
    result: CheckResult, found: Elements
) -> None:
    counts = {status: sum(row.status is status for row in result.rows) for status in Status}
    matter = counts[Status.INSIDE] + counts[Status.TOO_CLOSE] + counts[Status.UNDETERMINED]

    assert found.options("rows-result") == [
        ("", "all"),
        ("inside too_close undetermined", f"findings and not decided ({matter})"),
        *((status, f"{STATUS[status]} ({counts[status]})") for status in Status if counts[status]),
    ]
    assert found.options("rows-zone") == [("", "all"), *((str(i), NAMES[i]) for i in range(4))]
    assert [value for value, _ in found.options("rows-order")] == [
        "number",
        "zone",
        "tow",
        "clearance",
        "time",
    ]


def test_zones_of_one_name_are_told_apart_by_their_ids() -> None:
    found = Elements(rows_part(build_result(names=("Bank", "Bank", "Wreck", "Rig", "Bank"))))

    assert [words for _, words in found.options("rows-zone")] == [
        "all",
        "Bank (zone-0)",
        "Bank (zone-1)",
        "Wreck",
        "Rig",
    ]


def test_findings_are_no_choice_where_every_row_or_none_is_one(result: CheckResult) -> None:
    for status in (Status.INSIDE, Status.CLEAR):
        rows = [dataclasses.replace(row, status=status) for row in result.rows]
        found = Elements(rows_part(with_rows(result, rows)))
        assert [value for value, _ in found.options("rows-result")] == ["", status]


def test_tow_is_no_choice_where_there_is_one_alone(result: CheckResult) -> None:
    rows = [row for row in result.rows if row.tow == 1]
    found = Elements(rows_part(with_rows(result, rows)))

    assert len(rows) > 1
    assert found.of("select", id="rows-tow") == []
    assert len(found.of("select", id="rows-zone")) == 1


def test_a_row_alone_has_nothing_to_choose_from_but_can_be_saved(result: CheckResult) -> None:
    found = Elements(rows_part(with_rows(result, result.rows[:1])))

    assert found.of("select") == []
    assert [attrs["id"] for attrs, _ in found.of("button") if "id" in attrs] == [
        "copy-csv",
        "save-csv",
        "save-json",
    ]


def test_without_rows_the_table_is_replaced_by_a_sentence(result: CheckResult) -> None:
    found = Elements(rows_part(dataclasses.replace(result, rows=(), beyond_reach=0)))

    assert found.of("table") == []
    assert found.one("p", class_="none")[1] == "No zone lies within reach of any track."
    assert found.of("p", class_="note") == []


def test_pairs_beyond_the_reach_are_counted_below_the_table(
    result: CheckResult, of_gear: CheckResult
) -> None:
    def note(result: CheckResult, count: int) -> str:
        return Elements(rows_part(dataclasses.replace(result, beyond_reach=count))).one("p", class_="note")[1]

    assert note(result, 1).startswith("1 more pair of track and zone is farther")
    assert note(result, 7).startswith("7 more pairs of track and zone are farther")
    assert note(of_gear, 1).startswith("1 more pair of track or gear and zone is farther")


def test_every_list_has_a_label_and_no_list_keeps_an_old_choice(found: Elements) -> None:
    lists = [attrs for attrs, _ in (*found.of("select"), *found.of("textarea"))]
    labelled = [attrs["for"] for attrs, _ in found.of("label")]

    assert sorted(attrs["id"] for attrs in lists) == sorted(labelled)
    assert {attrs["autocomplete"] for attrs, _ in found.of("select")} == {"off"}


def test_what_needs_the_script_is_marked_so_and_nothing_carries_style_or_script(found: Elements) -> None:
    whole = [(tag, attrs) for tag, attrs, _ in found.all]
    tools = [attrs for tag, attrs in whole if attrs.get("role") == "group"]

    assert len(tools) == 2
    assert all("needs-script" in attrs["class"].split() for attrs in tools)
    assert not [attrs for _, attrs in whole if "style" in attrs or any(re.match("on", n) for n in attrs)]
    assert found.of("button", class_="sort") == []
