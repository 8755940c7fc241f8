"""What words between coordinates are taken for, and what is found in them for a person to decide."""

from __future__ import annotations

from fractions import Fraction

import pytest

from towzone.notices.words import (
    Words,
    classify,
    datums,
    dimensions,
    distance_words,
    follows_something,
    line_words,
    point_label,
    seasons,
    title,
)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (" ;, — ", Words.NOTHING),
        ("; thence in a north-easterly direction to", Words.JOINT),
        ("sequentially joining with rhumb lines the following positions", Words.JOINT),
        ("3.", Words.JOINT),
        ("(iv)", Words.JOINT),
        ("NW:", Words.JOINT),
        ("and back to the starting point", Words.CLOSING),
        ("to the point of origin.", Words.CLOSING),
        ("not including the area enclosed by", Words.HOLE),
        ("excluding", Words.HOLE),
        ("3. Coral edge", Words.HEADING),
        ("(b) Long Hole", Words.HEADING),
        ("4 | Long Hole |", Words.HEADING),
        ("Area B", Words.HEADING),
        ("fishing is prohibited in this box:", Words.HEADING),
        ("Long Hole", Words.TITLE),
        ("1 January to 30 April", Words.NOTE),
        ("18 x 4 nautical miles", Words.NOTE),
        ("Official Journal of the European Union", Words.NOTE),
        ("(a buoy) thence to", Words.PROSE),
        ("and all vessels shall keep away from the works there", Words.PROSE),
        ("long " * 2000, Words.PROSE),
    ],
)
def test_words_between_coordinates_are_sorted(text, kind):
    assert classify(text) is kind


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("3. Coral edge, 1 January to 28 February", "Coral edge"),
        ("(b) Long Hole:", "Long Hole"),
        ("| 4 | Long Hole |", "Long Hole"),
        ("9. Revet 1,5 x 49 nautical miles", "Revet"),
        ("Area 2: beginning at", "Area 2"),
        ("the following coordinates", ""),
        ("word " * 30, ""),
    ],
)
def test_headings_give_names_without_numbers_dates_and_sizes(text, name):
    assert title(text) == name


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("12.", "12"),
        ("(a)", "a"),
        ("Point 3:", "3"),
        ("NE:", "NE"),
        ("85_426", "85_426"),
        ("at", None),
        ("Box", None),
    ],
)
def test_labels_of_points(text, label):
    assert point_label(text) == label


@pytest.mark.parametrize(
    ("text", "option"),
    [
        ("1 January to 30 April", "01-01..04-30"),
        ("from 1 October until and including 31 January", "10-01..01-31"),
        ("1st October - 31st January", "10-01..01-31"),
        ("15 Feb to 15 Apr.", "02-15..04-15"),
        ("1 December to the last day of February", "12-01..02-END"),
        ("1 December to the last day of June", "12-01..06-30"),
        ("1 May\nto 31 May 2014", "05-01..05-31"),
        ("1 May 2014 to 31 May 2014", "05-01..05-31"),
    ],
)
def test_season_words_give_the_option_that_says_the_same(text, option):
    assert [found for _, found in seasons(text)] == [option]


@pytest.mark.parametrize(
    "text", ["31 June to 1 July", "may be used from 12 to 14", "January", "1 to 30 April"]
)
def test_other_dates_give_no_season(text):
    assert seasons(text) == []


def test_dimensions_in_metres():
    assert dimensions("1,5 x 49 nautical miles, 2 × 3 km") == [
        ("1,5 x 49 nautical miles", Fraction(2778), Fraction(90748)),
        ("2 × 3 km", Fraction(2000), Fraction(3000)),
    ]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("along the mean high water line", "along the mean high water"),
        ("then following the 200 m depth contour", "following the 200 m depth"),
        ("along the parallel", ""),
    ],
)
def test_courses_that_follow_something_are_found(text, found):
    assert follows_something(text) == found


@pytest.mark.parametrize(
    ("text", "found"), [("thence 5 nautical miles north", "5 nautical miles"), ("18 x 4 km", "")]
)
def test_places_by_distance_are_found(text, found):
    assert distance_words(text) == found


def test_line_types_and_datums_are_found_as_printed():
    assert line_words("Rhumb lines; straight\nlines; great circles") == {
        "rhumb": "Rhumb lines",
        "geodesic": "great circles",
        "straight": "straight\nlines",
    }
    assert datums("WGS84, WGS 1984 and ED 50") == ["WGS84", "WGS 1984", "ED 50"]
