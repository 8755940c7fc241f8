"""Notices to zones: which corners belong together, what is asked, and that nothing is mended unasked."""

from __future__ import annotations

import pytest

from towzone.errors import InputError, UsageError
from towzone.notices import points
from towzone.notices.convert import MOST_CHARACTERS, convert_notice

ONE = "54°30′N 8°10′W\n54°30′N 7°50′W\n54°40′N 7°50′W\n54°40′N 8°10′W\n"
TWO = "55°30′N 8°10′W\n55°30′N 7°50′W\n55°40′N 7°50′W\n55°40′N 8°10′W\n"
CLOSED = ONE + "54°30′N 8°10′W\n"
ONE_RING = [
    (-8 - 10 / 60, 54.5),
    (-7 - 50 / 60, 54.5),
    (-7 - 50 / 60, 54 + 40 / 60),
    (-8 - 10 / 60, 54 + 40 / 60),
]
INNER = "54°33′N 8°05′W\n54°33′N 7°55′W\n54°37′N 7°55′W\n54°33′N 8°05′W\n"


def convert(text, kind="closed_area", edges="rhumb", **options):
    properties = {"kind": kind, "edges": edges} | options.pop("properties", {})
    given = {key: value for key, value in properties.items() if value is not None}
    return convert_notice(text, given, **options)


def names(result):
    return [draft.properties["name"] for draft in result.drafts]


def sizes(result):
    """Corners of every ring of every polygon of every zone."""
    return [[[len(ring) for ring in rings] for rings in draft.shape.polygons] for draft in result.drafts]


def messages(result):
    return [message for _, message in result.remarks]


# ---------------------------------------------------------------- areas


@pytest.mark.parametrize(
    "text",
    [
        ONE,
        CLOSED,
        ONE.replace("\n", ";"),
        ONE.replace("\n", "\n\n"),
        "\n".join(f"{k}. {row}" for k, row in enumerate(ONE.splitlines(), 1)),
        "\n".join(f"({k}) {row};" for k, row in zip("abcd", ONE.splitlines(), strict=True)),
        "\n".join(f"{k}: {row}" for k, row in zip(("SW", "SE", "NE", "NW"), ONE.splitlines(), strict=True)),
        "\n".join(
            f"Buoy {k} {row}" for k, row in zip(("Ab", "Cd", "Ef", "Gh"), ONE.splitlines(), strict=True)
        ),
        "Commencing at " + "; thence to ".join(ONE.splitlines()) + "; thence to the point of origin.",
        "A line joining " + ", ".join(ONE.splitlines()) + " and back to the starting point",
        "from " + " (a buoy) thence easterly to ".join(ONE.splitlines()),
        "\n".join(f"{k} Buoy {k * 'x'}y {row}" for k, row in enumerate(ONE.splitlines(), 1)),
        "\r\n".join(ONE.splitlines()),
        ONE.replace(" ", "\n"),
        "\ufeff" + ONE.replace("°", "°\u200b"),
    ],
)
def test_one_list_is_one_area_however_it_is_laid_out(text):
    result = convert(text)

    assert result.questions == ()
    assert [tuple(corner) for corner in result.drafts[0].shape.polygons[0][0].tolist()] == ONE_RING
    assert sizes(result) == [[[4]]]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (f"1. First ground\n{ONE}2. Second ground\n{TWO}", ["First ground", "Second ground"]),
        (f"First ground\n{ONE}\nSecond ground\n{TWO}", ["First ground", "Second ground"]),
        (f"First ground:\n{CLOSED}Second ground:\n{TWO}", ["First ground", "Second ground"]),
        (f"(a) Long Hole\n{ONE}(b) Short Hole\n{TWO}", ["Long Hole", "Short Hole"]),
        (
            "No | Area | Coordinates | Period\n"
            f"1 | First ground | {ONE.replace(chr(10), ' ')} | 1 January to 30 April |\n"
            f"2 | Second ground | {TWO.replace(chr(10), ' ')} | 1 to 3 | 10 x 4 nautical miles",
            ["First ground", "Second ground"],
        ),
        (f"Area A: {ONE.strip()}. Area B: {TWO}".replace("\n", "; "), ["Area A", "Area B"]),
        (
            f"1. First ground, 1 January to 30 April\n{ONE}18 x 4 nautical miles\n2. Second ground\n{TWO}",
            ["First ground", "Second ground"],
        ),
    ],
)
def test_headings_part_areas_and_name_them(text, expected):
    result = convert(text)

    assert result.questions == ()
    assert names(result) == expected
    assert sizes(result) == [[[4]], [[4]]]
    assert len({draft.properties["zone_id"] for draft in result.drafts}) == 2


def test_a_number_that_all_corners_of_an_area_share_parts_areas():
    rows = ["-6,75 35,95", "-6,70 35,95", "-6,65 35,90"]
    text = "\n".join(f"{area} {row}" for area in (1, 2) for row in rows).replace("2 -6", "2 -7")

    assert sizes(convert(text, order="lon-lat")) == [[[3]], [[3]]]


@pytest.mark.parametrize("cut", range(8))
def test_text_wrapped_between_any_two_coordinates_is_one_list(cut):
    words = [word for row in ONE.splitlines() for word in row.split(" ")]
    text = " ".join(words[:cut]) + "\n" + "\n".join(" ".join(words[k : k + 2]) for k in range(cut, 8, 2))

    assert [tuple(c) for c in convert(text).drafts[0].shape.polygons[0][0].tolist()] == ONE_RING


def test_exclusions_in_a_heading_are_told():
    told = "words of exclusion before this area were not applied to it"

    assert told in messages(convert(f"Box A (excluding box B)\n{ONE}"))


def test_numbers_that_begin_again_begin_an_area():
    rows = [f"{k}. {row}" for text in (ONE, TWO) for k, row in enumerate(text.splitlines(), 1)]
    result = convert("\n".join(rows))

    assert sizes(result) == [[[4]], [[4]]]
    assert "the numbers of the points begin again, so a new area was begun" in messages(result)


@pytest.mark.parametrize(
    "between",
    [
        "Official Journal of the European Union EN\n",
        "fishing is prohibited there\n",
        "Plover Rise\n",
    ],
)
def test_words_inside_a_list_are_asked_about(between):
    """A page foot must not cut a list in two, nor a heading be overlooked."""
    rows = ONE.splitlines(keepends=True)
    rows = [*rows[:3], between, *rows[3:], "54°35′N 8°20′W\n", "54°32′N 8°18′W\n"]
    result = convert("".join(rows))

    assert result.drafts == ()
    assert [question.answers for question in result.questions] == [("new", "same")]
    assert between.strip() in result.questions[0].text
    assert sizes(convert("".join(rows), answers={1: "same"})) == [[[6]]]
    assert sizes(convert("".join(rows), answers={1: "new"})) == [[[3]], [[3]]]


def test_an_empty_line_where_there_were_none_is_asked_about():
    result = convert(f"{ONE}\n{TWO}")

    assert [question.answers for question in result.questions] == [("new", "same")]
    assert sizes(convert(f"{ONE}\n{TWO}", answers={1: "new"})) == [[[4]], [[4]]]


def test_several_rings_under_one_number_are_parts_of_one_zone():
    """As in published annexes, where a repeated point closes a ring and the next row begins another."""
    rows = ["-14,0 56,0", "-14,0 56,1", "-14,1 56,1", "-14,1 56,1", "-14,1 56,1", "-14,0 56,0"]
    rows += ["-13,0 56,0", "-13,0 56,1", "-13,1 56,1", "-13,0 56,0"]
    text = "\n".join(f"85 85_{k} {row}" for k, row in enumerate(rows, 1)) + "\n86 86_1 -12,0 56,0\n"
    text += "86 86_2 -12,0 56,1\n86 86_3 -12,1 56,1\n"
    result = convert(text, order="lon-lat")

    assert names(result) == ["polygon 85", "polygon 86"]
    assert sizes(result) == [[[3], [3]], [[3]]]
    assert ("lines 4, 5", "a corner that repeats the one before was left out") in result.remarks
    assert ("line 7", "a ring was closed before this corner, which begins another ring of the same area") in (
        result.remarks
    )


@pytest.mark.parametrize(
    "words",
    [
        "not including the area enclosed by",
        "excluding the area bounded by:",
        "except for the area joining",
        "The following area is excluded:",
    ],
)
def test_words_of_exclusion_make_a_hole(words):
    result = convert(f"{CLOSED}{words}\n{INNER}")

    assert result.questions == ()
    assert sizes(result) == [[[4, 3]]]


def test_a_ring_inside_another_is_asked_about():
    result = convert(CLOSED + INNER)

    assert [question.answers for question in result.questions] == [("hole", "part")]
    assert sizes(convert(CLOSED + INNER, answers={1: "hole"})) == [[[4, 3]]]


# ---------------------------------------------------------------- doubts


def test_a_corner_in_the_wrong_hemisphere_is_asked_about():
    text = ONE.replace("54°40′N 7°50′W", "54°40′N 7°50′E")
    result = convert(text)

    assert result.drafts == ()
    assert result.questions[0].answers[:2] == ("west", "as-printed")
    assert "54°40′N 7°50′E" in result.questions[0].text
    corners = convert(text, answers={1: "west"}).drafts[0].shape.polygons[0][0].tolist()
    assert [tuple(corner) for corner in corners] == ONE_RING
    printed = convert(text, answers={1: "as-printed"}).drafts[0].shape.polygons[0][0].tolist()
    assert printed[2] == [7 + 50 / 60, 54 + 40 / 60]


@pytest.mark.parametrize(
    "text",
    ["54°N 1°W\n54°N 1°E\n55°N 1°E\n55°N 1°W", "54°N 179°E\n54°N 179°W\n55°N 179°W\n55°N 179°E", ONE],
)
def test_lists_across_greenwich_and_180_are_not_doubted(text):
    result = convert(text)

    assert result.questions == ()
    assert sizes(result) == [[[4]]]


def test_the_180th_meridian_may_be_written_both_ways_in_one_list():
    text = "42°10′S 180°W\n42°10′S 179°E\n43°10′S 179°E\n43°10′S 180°E"

    assert {lon for lon, _ in convert(text).drafts[0].shape.polygons[0][0].tolist()} == {179.0, 180.0}


def test_a_ring_that_all_but_closes_is_told():
    told = messages(convert(ONE + "54°30.01′N 8°10′W"))

    assert any("the last corner lies 18.6 m from the first" in message for message in told)
    assert not any("lies" in message for message in messages(convert(ONE)))


def test_a_bow_tie_is_asked_about_with_an_order_that_does_not_cross():
    rows = ONE.splitlines()
    text = "\n".join([rows[0], rows[1], rows[3], rows[2]])
    result = convert(text)

    assert result.drafts == ()
    assert result.questions[0].answers[0] == "1-2-4-3"
    assert [
        tuple(c) for c in convert(text, answers={1: "1-2-4-3"}).drafts[0].shape.polygons[0][0]
    ] == ONE_RING
    with pytest.raises(UsageError, match="does not answer"):
        convert(text, answers={1: "1-2-3-4"})
    with pytest.raises(UsageError, match="does not answer"):
        convert(text, answers={1: "1-2-4"})


def test_longer_crossed_rings_get_an_order_too():
    star = [(0, 0), (4, 3), (4, 0), (0, 3), (2, 5)]
    text = "\n".join(f"{50 + y}°N {10 + x}°E" for x, y in star)
    result = convert(text)
    suggestion = result.questions[0].answers[0]

    assert sorted(suggestion.split("-")) == ["1", "2", "3", "4", "5"]
    assert sizes(convert(text, answers={1: suggestion})) == [[[5]]]


@pytest.mark.parametrize(
    ("note", "word"),
    [
        ("10 x 11,6 nautical miles", "agrees"),
        ("18.5 x 21.5 km", "agrees"),
        ("18 x 4 nautical miles", "contradicts"),
    ],
)
def test_stated_dimensions_are_compared_with_the_sides(note, word):
    told = [message for message in messages(convert(ONE + note)) if note in message]

    assert len(told) == 1
    assert word in told[0]


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("on ED50\n" + ONE, "the text names the datum 'ED50'"),
        (
            ONE.replace("7°50′W\n54°40′N", "7°50′W thence 5 nautical miles north\n54°40′N", 1),
            "'5 nautical miles'",
        ),
        (ONE.replace("7°50′W\n54°40′N", "7°50′W thence along the coast to\n54°40′N", 1), "'along the coast'"),
    ],
)
def test_datums_and_coasts_are_asked_about(text, asked):
    result = convert(text)

    assert result.drafts == ()
    assert asked in result.questions[0].text
    assert sizes(convert(text, answers={1: result.questions[0].answers[0].split(" ")[0]})) == [[[4]]]


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        (ONE, "no datum is stated; positions are taken as WGS 84"),
        ("(WGS84)\n" + ONE, "the text states 'WGS84'"),
        (ONE + "from 1 October to 31 January", "'1 October to 31 January'; give --season 10-01..01-31"),
        (ONE + "1 January to 28 February", "does not cover 29 February as printed"),
        (
            ONE + "except within 6 nautical miles of the baselines",
            "'within 6 nautical miles of the baselines'",
        ),
        (ONE + "centre, radius of 500 metres", "radius found: 'radius of 500 metres'; give --radius"),
        (ONE + "and 37F3", "'37F3' looks like a statistical rectangle"),
        ("great circles\n" + ONE, "the text says 'great circles', the option --edges rhumb was followed"),
    ],
)
def test_what_else_a_notice_says_is_told(text, remark):
    assert any(remark in message for message in messages(convert(text)))


# ---------------------------------------------------------------- kind, edges, form


def test_kind_and_edges_are_asked_for():
    result = convert(ONE, kind=None, edges=None)

    assert result.drafts == ()
    assert "give --kind" in result.questions[0].text
    assert "give --edges" in result.questions[1].text
    answered = convert(ONE, kind=None, edges=None, answers={1: "closed_area", 2: "geodesic"})
    assert answered.drafts[0].properties["kind"] == "closed_area"
    assert answered.drafts[0].properties["edges"] == "geodesic"


def test_a_kind_answered_makes_the_same_zone_as_a_kind_given_as_option():
    """A cable is a line, whichever way the reader is told that it is a cable."""
    given = convert(ONE, kind="cable")
    answered = convert(ONE, kind=None, answers={1: "cable"})

    assert answered.drafts[0].properties == given.drafts[0].properties
    for result in (given, answered):
        shape = result.drafts[0].shape
        assert (len(shape.polygons), [len(line) for line in shape.lines]) == (0, [4])


def test_answers_keep_their_numbers_when_a_later_round_asks_more():
    """A corner far off is asked about only when all corners are read; no answer may move for it."""
    text = ONE.replace("8°10′W", "8°10′", 1).replace("54°40′N 7°50′W", "54°40′N 7°50′E")
    first = convert(text, kind=None, edges=None)
    answers = {1: "closed_area", 2: "geodesic", 3: "west"}
    second = convert(text, kind=None, edges=None, answers=answers)
    third = convert(text, kind=None, edges=None, answers=answers | {4: "west"})

    assert [question.number for question in first.questions] == [1, 2, 3]
    assert "no letter" in first.questions[2].text
    assert [question.number for question in second.questions] == [4]
    assert third.drafts[0].properties["edges"] == "geodesic"
    assert sizes(third) == [[[4]]]


@pytest.mark.parametrize(
    ("words", "edges"),
    [
        ("joined by rhumb lines", "rhumb"),
        ("loxodromes", "rhumb"),
        ("geodesics", "geodesic"),
        ("great\ncircles", "geodesic"),
    ],
)
def test_line_types_named_in_the_text_are_used_and_told(words, edges):
    result = convert(f"{words}:\n{ONE}", edges=None)

    assert result.drafts[0].properties["edges"] == edges
    assert any(f"edges {edges}" in message for message in messages(result))


@pytest.mark.parametrize(
    "words", ["straight lines", "rhumb lines and straight lines", "geodesics or rhumb lines"]
)
def test_line_types_that_are_not_plain_are_asked_for(words):
    result = convert(f"{words}:\n{ONE}", edges=None)

    assert [question.answers for question in result.questions] == [("rhumb", "geodesic", "lonlat")]


def test_cables_are_lines_and_a_closed_cable_is_asked_about():
    assert len(convert(ONE, kind="cable").drafts[0].shape.lines[0]) == 4
    assert convert(CLOSED, kind="cable").questions[0].answers == ("polygon", "line")
    assert len(convert(CLOSED, kind="cable", form="line").drafts[0].shape.lines[0]) == 5


def test_single_positions_of_obstructions_are_points():
    result = convert("Wreck 54°30′N 8°10′W", kind="obstruction", edges=None)

    assert result.questions == ()
    assert result.drafts[0].shape.points.tolist() == [[-8 - 10 / 60, 54.5]]


@pytest.mark.parametrize(
    ("text", "answers"), [("54°N 8°W", ("points",)), ("54°N 8°W, 54°N 9°W", ("line", "points"))]
)
def test_areas_of_too_few_corners_are_asked_about(text, answers):
    assert convert(text).questions[0].answers == answers


def test_names_and_ids_by_option():
    result = convert(f"1. Plover\n{ONE}2. Dunlin\n{TWO}", properties={"name": "Box", "zone_id": "B"})

    assert names(result) == ["Box, Plover", "Box, Dunlin"]
    assert [draft.properties["zone_id"] for draft in result.drafts] == ["B-1", "B-2"]
    assert names(convert(ONE, properties={"name": "Box"})) == ["Box"]
    assert convert(ONE, stem="notice_7").drafts[0].properties["zone_id"] == "notice-7-1"


# ---------------------------------------------------------------- echo, answers, refusals


def test_every_corner_is_echoed_with_line_words_and_reading():
    result = convert("Box\n" + ONE)

    assert [echo.where for echo in result.echoes] == ["line 1", "line 2", "line 3", "line 4", "line 5"]
    assert [echo.words for echo in result.echoes[1:]] == ONE.splitlines()
    assert result.echoes[1].read.startswith(
        "area 1 'Box', corner 1: 54°30.000'N 008°10.000'W (54.5000000, -8.1666667), 11.6"
    )
    assert "4 corners, not closed in the text" in result.echoes[0].read


def test_answers_to_questions_never_asked_are_refused():
    with pytest.raises(UsageError, match="there is no question 3"):
        convert(ONE, answers={3: "west"})


def test_answers_keep_their_numbers_when_others_are_answered():
    """A corner in question first, then the crossing that only its answer brings."""
    rows = ONE.splitlines()
    text = "\n".join([rows[0], rows[1], rows[3], "54°40′N 7°110′W"])
    assert len(convert(text).questions) == 1
    second = convert(text, answers={1: "54°40′N 7°50′W"}).questions
    assert [(question.number, question.answers[0]) for question in second] == [(2, "1-2-4-3")]
    assert sizes(convert(text, answers={1: "54°40′N 7°50′W", 2: "1-2-4-3"})) == [[[4]]]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no coordinates were found"),
        ("nothing here", "no coordinates were found"),
        ("30E4, 31E4", "use --from rectangles"),
        ("٥٤°30′N 8°10′W", "digit of another script"),
        ("89°30′N 8°W\n89°30′N 7°W\n89°40′N 7°W", "limit of this tool"),
        ("54°N 8°W\n54°N 7°W\n54°N 6°W", "encloses nothing"),
        (f"{CLOSED}not including the area\n{TWO}", "lies outside"),
    ],
)
def test_texts_that_make_no_zone_are_refused(text, words):
    with pytest.raises(InputError, match=words):
        convert(text)


def test_texts_beyond_all_measure_are_refused(monkeypatch):
    monkeypatch.setattr(points, "MOST_POSITIONS", 100)
    with pytest.raises(InputError, match="longer than"):
        convert(" " * (MOST_CHARACTERS + 1))
    with pytest.raises(InputError, match="data file, not a notice"):
        convert("54°N 8°W;" * 101)


def test_skipping_every_position_is_refused():
    with pytest.raises(InputError, match="every position was skipped"):
        convert("north of 54°30′N", answers={1: "skip"})


def test_a_zone_of_another_kind_needs_to_say_what_it_prohibits():
    with pytest.raises(UsageError, match="needs --prohibits"):
        convert(ONE, kind=None, answers={1: "other"})
