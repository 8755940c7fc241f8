"""Lists of rectangles: as rules print them, with what is doubtful asked and what is wrong named."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from towzone.errors import InputError, UsageError
from towzone.files.rectangle_lists import convert_rectangles
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape
from towzone.geodesy.validity import shape_faults
from towzone.grids.dissolve import dissolve
from towzone.grids.ices import ICES, all_codes, rectangle_at
from towzone.grids.lists import parse_rectangles
from towzone.model.draft import Converted

KIND = {"kind": "closed_area"}


def codes(text: str, **answers: str) -> list[str]:
    replies = iter(answers.values())
    areas = parse_rectangles(text, ask=lambda *_: next(replies))
    return [ICES.code(cell) for area in areas for cell in area.cells]


def block(rows: range, columns: str) -> list[str]:
    return [f"{row:02d}{column}" for row in rows for column in columns.split()]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("37F3", ["37F3"]),
        ("37f3.", ["37F3"]),
        # Regulation (EU) 2019/1241 Annex VI Part C point 2.1.
        ("30E4, 31E4, 32E3", ["30E4", "31E4", "32E3"]),
        ("ICES statistical rectangles 30E4 and 31E4", ["30E4", "31E4"]),
        ("30E4\n31E4", ["30E4", "31E4"]),
        ("41-43 F1-F3", block(range(41, 44), "F1 F2 F3")),
        ("41F1-F3", block(range(41, 42), "F1 F2 F3")),
        ("41 to 43 F1", block(range(41, 44), "F1")),
        ("31, 33 E9, F1", ["31E9", "31F1", "33E9", "33F1"]),
        ("41F1-43F1", block(range(41, 44), "F1")),
        ("36 A2-B1", ["36A2", "36A3", "36B0", "36B1"]),
        ("36 H9-J0", ["36H9", "36J0"]),
        ("41-43 F1-F3 excluding 42F2", [c for c in block(range(41, 44), "F1 F2 F3") if c != "42F2"]),
        ("41-42 F1-F2, except for 41F1 and 42F2", ["41F2", "42F1"]),
        ("41 F1-F3 (but not including 41F2), 42F1", ["41F1", "41F3", "42F1"]),
        ("Rows 31-32: E9", ["31E9", "32E9"]),
        ("37F3: 38F4", ["37F3", "38F4"]),
    ],
)
def test_lists_as_printed(text: str, expected: list[str]) -> None:
    assert codes(text) == sorted(expected, key=list(all_codes()).index)


def test_the_first_sandeel_area() -> None:
    """Regulation (EU) 2025/202 Annex III, area 1r, en dashes and a range across Greenwich."""
    found = codes("31–33 E9–F4; 33 F5; 34–37 E9–F6; 38–40 F0–F5; 41 F4–F5")
    expected = [
        *block(range(31, 34), "E9 F0 F1 F2 F3 F4"),
        *block(range(33, 34), "F5"),
        *block(range(34, 38), "E9 F0 F1 F2 F3 F4 F5 F6"),
        *block(range(38, 41), "F0 F1 F2 F3 F4 F5"),
        *block(range(41, 42), "F4 F5"),
    ]
    assert sorted(found) == sorted(expected)
    assert len(found) == 71


SECOND = "35 F7–F8; 36 F7–F9; 37 F7–F8; 38 41 F6–F8; 42 F6–F9; 43 F7–F9; 44 F9–G0; 45 G0–G1; 46 G1"
"""Regulation (EU) 2025/202 Annex III, area 2r, as printed: a dash is missing between 38 and 41."""


def test_a_missing_dash_is_asked_and_nothing_guessed() -> None:
    converted = convert_rectangles(SECOND, KIND)
    (question,) = converted.questions
    assert "'38 41'" in question.text
    assert question.answers == ("38-41", "38,41")
    read = {echo.words: echo.read for echo in converted.echoes}
    assert read["38 41 F6–F8"] == "open: see the questions"
    assert read["42 F6–F9"].startswith("4 rectangles")


@pytest.mark.parametrize(("answer", "count"), [("38-41", 4 * 3), ("38,41", 2 * 3)])
def test_the_answer_decides(answer: str, count: int) -> None:
    converted = convert_rectangles(SECOND, KIND, answers={1: answer})
    assert converted.questions == ()
    assert area_cells(converted) == 2 + 3 + 2 + count + 4 + 3 + 2 + 2 + 1
    assert any("38 41" in message for _, message in converted.remarks)


@pytest.mark.parametrize("answers", [{1: "39-41"}, {1: "38-41", 2: "x"}])
def test_answers_that_fit_no_question_are_refused(answers: dict[int, str]) -> None:
    with pytest.raises(UsageError, match=r"not one of 38-41, 38,41|no question 2"):
        convert_rectangles(SECOND, KIND, answers=answers)


def test_what_follows_an_exclusion_after_a_semicolon_is_asked() -> None:
    text = "41-43 F1-F3 except 42F2; 44 F1"
    (question,) = convert_rectangles(text, KIND).questions
    assert question.answers == ("taken out", "put in")
    assert "44F1" in codes(text, answer="put in")
    assert "44F1" not in codes(text, answer="taken out")


def test_a_range_from_code_to_code_across_both_is_asked() -> None:
    (question,) = convert_rectangles("30E4-31E5", KIND).questions
    assert "4 rectangles" in question.text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("00F1", "'00F1'"),
        ("37A4", "'37A4'"),
        ("36 A2-A4", "'A4'"),
        ("37I0", "'37I0'"),
        ("37M9", "'37M9'"),
        ("100F0", "'100F0'"),
        ("F337", "is '37F3' meant"),
        ("45G05", "sub-rectangle"),
        ("45G0 5", "'5'"),
        ("37", "no columns"),
        ("37; F3", "no columns"),
        ("F3", "a row is missing"),
        ("43-41 F1", "backwards"),
        ("41 F3-F1", "backwards"),
        ("37F3 within 6 miles", "'within' is not part of a list"),
        ("37F3 / 38F3", "'/' is not part of a list"),
        ("37F3 -", "after this dash"),
        ("- 37F3", "out of place"),
        ("(37F3", "brackets"),
        ("37F3)", "brackets"),
        ("excluding 37F3", "no rectangles are listed"),
        ("37F3 excluding 37F3", "taken out again"),
        ("", "no rectangles are listed"),
        ("M27B9, 37F3", "'37F3'"),
    ],
)
def test_what_is_not_a_list_is_refused_and_named(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        convert_rectangles(text, KIND, file="list.txt")
    assert said in str(caught.value)
    assert str(caught.value).startswith("list.txt: line 1")


def test_all_wrong_words_are_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        convert_rectangles("37F3,\n00F1,\n37I0", KIND)
    assert [problem.where for problem in caught.value.problems] == ["line 2", "line 3"]


def test_the_other_grid_is_recognised() -> None:
    converted = convert_rectangles("M27B9, M28B9-C0", KIND)
    assert [echo.words for echo in converted.echoes] == ["M27B9", "M28B9-C0"]
    corners = converted.drafts[0].shape.polygons[0][0].tolist()
    assert corners == [[3.5, 43.5], [4.0, 43.5], [4.0, 44.0], [4.5, 44.0], [4.5, 44.5], [3.5, 44.5]]


def test_what_was_read_stands_beside_the_words() -> None:
    (echo,) = convert_rectangles("31–33 E9–F4", KIND).echoes
    assert (echo.where, echo.words) == ("line 1", "31–33 E9–F4")
    assert echo.read == (
        "18 rectangles, 31E9 to 33F4: from 51°00.000'N 001°00.000'W to 52°30.000'N 005°00.000'E"
    )


def test_a_zone_says_how_its_edges_run_and_what_it_was_made_of() -> None:
    converted = convert_rectangles("30E4, 31E4", {**KIND, "name": "Box", "source": "a notice", "note": "n"})
    (draft,) = converted.drafts
    assert draft.properties == {
        **KIND,
        "name": "Box",
        "source": "a notice",
        "edges": "rhumb",
        "note": "n; ICES statistical rectangles 30E4; 31E4",
    }
    assert "the zone states rhumb" in converted.remarks[0][1]


def test_geodesic_edges_are_refused() -> None:
    with pytest.raises(UsageError, match="parallels and meridians"):
        convert_rectangles("37F3", {**KIND, "edges": "geodesic"})


def test_the_kind_is_asked_not_guessed() -> None:
    (question,) = convert_rectangles("37F3", {}).questions
    assert "closed_area" in question.answers
    (draft,) = convert_rectangles("37F3", {}, answers={1: "obstruction"}).drafts
    assert draft.properties["kind"] == "obstruction"


def test_labels_make_zones_of_their_own() -> None:
    converted = convert_rectangles("1r: 31 E9-F0\n2r: 35 F7–F8;\n36 F7", {**KIND, "zone_id": "s"})
    assert [(d.properties["name"], d.properties["zone_id"]) for d in converted.drafts] == [
        ("1r", "s-1r"),
        ("2r", "s-2r"),
    ]
    assert [echo.where for echo in converted.echoes] == ["line 1", "line 2", "line 3"]


def test_likely_misprints_are_said() -> None:
    messages = [m for _, m in convert_rectangles("41 F1-F3; 41F2 excluding 42F2", KIND).remarks]
    assert any("lists 41F2 again" in message for message in messages)
    assert any("takes out 42F2, which is not in the list" in message for message in messages)


def area_cells(converted: Converted) -> float:
    return sum(covered(draft.shape) for draft in converted.drafts)


def covered(shape: Shape) -> float:
    """Area in rectangles, by a library that knows nothing of cells."""
    polygons = [shapely.Polygon(rings[0], rings[1:]) for rings in shape.polygons]
    assert all(polygon.is_valid for polygon in polygons)
    return float(sum(polygon.area for polygon in polygons)) / 0.5


def test_a_rectangle_taken_out_of_the_middle_is_a_hole() -> None:
    (polygon,) = convert_rectangles("41-43 F1-F3 excluding 42F2", KIND).drafts[0].shape.polygons
    assert [sorted(ring.tolist()) for ring in polygon] == [
        [[1.0, 56.0], [1.0, 57.5], [4.0, 56.0], [4.0, 57.5]],
        [[2.0, 56.5], [2.0, 57.0], [3.0, 56.5], [3.0, 57.0]],
    ]


def test_rectangles_that_meet_in_a_corner_stay_apart() -> None:
    polygons = convert_rectangles("41F1, 42F2", KIND).drafts[0].shape.polygons
    assert [len(rings[0]) for rings in polygons] == [4, 4]


def test_the_whole_grid_is_one_zone_that_can_be_judged() -> None:
    (draft,) = convert_rectangles("01-99 A0-M8", KIND).drafts
    assert shape_faults(draft.shape, LineKind.RHUMB) == []
    assert covered(draft.shape) == 11_187.0


CELLS = st.sets(st.tuples(st.integers(30, 37), st.integers(40, 47)), min_size=1)


@given(CELLS)
def test_merged_rectangles_cover_exactly_their_cells(cells: set[tuple[int, int]]) -> None:
    """Every cell's middle is inside, every other's outside; rings can be judged; area is the count."""
    shape = dissolve(ICES, cells)
    assert shape_faults(shape, LineKind.RHUMB) == []
    assert abs(covered(shape) - len(cells)) <= 1e-9
    union = shapely.union_all([shapely.Polygon(rings[0], rings[1:]) for rings in shape.polygons])
    for row, column in itertools.product(range(29, 39), range(39, 49)):
        west, south = ICES.corner_deg(row, column)
        middle = shapely.Point(west + 0.5, south + 0.25)
        assert union.contains(middle) == ((row, column) in cells)
        assert rectangle_at(middle.x, middle.y).item() == ICES.code((row, column))


@given(CELLS)
def test_corners_stand_only_where_the_direction_changes(cells: set[tuple[int, int]]) -> None:
    for rings in dissolve(ICES, cells).polygons:
        for ring in rings:
            steps = np.diff(np.vstack([ring, ring[:1]]), axis=0)
            assert (np.count_nonzero(steps, axis=1) == 1).all()
            along = steps[:, 0] != 0
            assert (along != np.roll(along, 1)).all()


@given(CELLS, st.sampled_from([", ", "; ", " ", "\n", " and "]))
def test_any_list_of_codes_reads_back(cells: set[tuple[int, int]], link: str) -> None:
    """Nothing is added, nothing is left out, whatever stands between the codes."""
    written = [ICES.code(cell) for cell in sorted(cells)]
    assert codes(link.join(written)) == written


SPANS = st.lists(
    st.tuples(st.integers(0, 98), st.integers(0, 9), st.integers(0, 112), st.integers(0, 9)), min_size=1
)


@given(SPANS, st.sampled_from(["-", "–", "—", " to ", " - "]))
def test_any_ranges_mean_all_rectangles_between(spans: list[tuple[int, int, int, int]], dash: str) -> None:
    """Against a walk over all codes in the order of the grid, across Greenwich and the missing letters."""
    grid_rows, grid_columns = list(ICES.rows), list(ICES.columns)
    words, expected = [], set()
    for row, more_rows, column, more_columns in spans:
        some_rows = grid_rows[row : row + more_rows + 1]
        some_columns = grid_columns[column : column + more_columns + 1]
        words.append(f"{some_rows[0]}{dash}{some_rows[-1]} {some_columns[0]}{dash}{some_columns[-1]}")
        expected |= {r + c for r in some_rows for c in some_columns}
    assert set(codes("; ".join(words))) == expected
