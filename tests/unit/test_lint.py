"""Lint: each defect is found where it is, told with corner and position, and not seen where it is not."""

from __future__ import annotations

from datetime import date

import pytest
from bad_inputs import feature, polygon
from hypothesis import given
from hypothesis import strategies as st
from zone_sets import PUBLISHED, area, box, linted, written

from towzone.files.zones import survey_zones
from towzone.surveys import neighbours
from towzone.surveys.lint import lint

METRE_LAT_DEG = 1.0 / 111_200.0
"""Nearly, at 50 N."""


def codes(defects):
    return [(defect.severity.value, defect.code) for defect in defects]


def only(defects, code):
    (found,) = [defect for defect in defects if defect.code == code]
    return found


def test_a_zone_without_fault_is_let_through(tmp_path):
    """Nothing is found in a box that states its edges and source."""
    assert linted(tmp_path, area(box(0, 50))) == ()


def test_a_published_bow_tie_is_refused_with_its_edges_and_place(tmp_path):
    """Stanhope ground joined as printed: Council Regulation (EU) 2025/202, Annex IV no. 1."""
    (found,) = linted(tmp_path, area(PUBLISHED["Stanhope ground"], zone_id="S1"))

    assert (found.severity.value, found.code, found.feature, found.zone_id) == ("refused", "refused", 1, "S1")
    assert "edge 2-3 and edge 4-1 cross near 60°17.5" in found.message


def test_every_refusal_of_the_reader_is_among_the_defects(tmp_path):
    """A file of several broken features is linted whole, sound features too."""
    broken = [
        area(PUBLISHED["Stanhope ground"]),
        area(box(0, 50), kind="closed"),
        area(box(0, 50), margin="500"),
        area(box(3, 50), source=""),
        feature({"type": "Point", "coordinates": [200, 50]}),
    ]
    survey = survey_zones(written(tmp_path, *broken))
    found = linted(tmp_path, *broken)

    refused = [(d.where, d.message) for d in found if d.severity == "refused"]
    assert sorted(refused) == sorted((p.where, p.message) for p in survey.problems)
    assert len(refused) == 4
    assert [d.feature for d in found if d.code == "no source"] == [4]


def test_corners_of_a_refused_feature_are_looked_at_all_the_same(tmp_path):
    """Several rings under one number: the ring closes at corner 4 and another begins."""
    rings = (
        (0.0, 50.0),
        (0.2, 50.0),
        (0.1, 50.1),
        (0.0, 50.0),
        (1.0, 50.0),
        (1.2, 50.0),
        (1.1, 50.1),
        (1.0, 50.0),
    )
    found = linted(tmp_path, area(rings))

    several = only(found, "several rings")
    assert several.corner == "ring, corner 4"
    assert several.position == (0.0, 50.0)
    assert (
        "corner 4 of the ring is again corner 1 (50°00.000'N 000°00.000'E), and 1 more corners"
        in several.message
    )
    assert "refused" in [d.code for d in found]


def test_repeated_corners_are_counted_as_in_the_file(tmp_path):
    """Reg (EU) 2022/1614 Annex II polygon 85 repeats points; here corners 3 and 4 repeat corner 2."""
    found = linted(tmp_path, area(((0.0, 50.0), (1.0, 50.0), (1.0, 50.0), (1.0, 50.0), (1.0, 51.0))))

    assert codes(found) == [("note", "repeated corner")]
    assert found[0].corner == "ring, corner 3"
    assert found[0].message.startswith("corners 3, 4 of the ring repeat the corner before (50°00.000'N 001")


@pytest.mark.parametrize(("height", "seen"), [(0.02, True), (0.1, False)])
def test_a_spike_is_a_turn_sharper_than_three_degrees(tmp_path, height, seen):
    """A thorn 1 degree long and 0.02 high has 1.8 degrees at its tip, one of 0.1 has 9."""
    thorn = ((0.0, 50.0), (1.0, 50.0), (2.0, 50.5), (1.0, 50.0 + height), (1.0, 51.0), (0.0, 51.0))
    found = [d for d in linted(tmp_path, area(thorn)) if d.code == "spike"]

    assert [d.corner for d in found] == (["ring, corner 3"] if seen else [])


def test_a_cable_that_runs_back_is_a_spike_and_its_ends_are_not(tmp_path):
    """Ends of lines have one edge only."""
    line = {"type": "LineString", "coordinates": [[0.0, 50.0], [1.0, 50.0], [0.0, 50.01]]}
    found = linted(tmp_path, feature(line, kind="cable", edges="rhumb", source="invented"))

    assert [(d.code, d.corner) for d in found] == [("spike", "line, corner 2")]


@pytest.mark.parametrize(("width_m", "seen"), [(90.0, True), (150.0, False)])
def test_a_sliver_is_narrower_than_a_hundred_metres(tmp_path, width_m, seen):
    """A strip of 1 degree (70 km) by about 90 m."""
    found = linted(tmp_path, area(box(0, 50, 1.0, width_m * METRE_LAT_DEG)))

    assert [d.code for d in found] == (["sliver"] if seen else [])
    if seen:
        assert "about 89." in found[0].message or "about 90." in found[0].message


def test_a_bow_tie_is_no_sliver(tmp_path):
    """Its lobes cancel, but it is refused for what it is."""
    found = linted(tmp_path, area(((0.0, 50.0), (1.0, 51.0), (1.0, 50.0), (0.0, 51.0))))

    assert [d.code for d in found] == ["refused"]


def test_a_small_square_and_a_published_strip_are_no_slivers(tmp_path):
    """Revet is 1.3 by 49 miles: Council Regulation (EU) 2025/202, Annex IV no. 9."""
    square = area(box(0, 50, 80 * METRE_LAT_DEG, 50 * METRE_LAT_DEG))

    assert linted(tmp_path, square, area(PUBLISHED["Revet"], name="Revet")) == ()


@pytest.mark.parametrize(("east", "north"), [(-1, 1), (1, -1), (-1, -1)])
def test_a_corner_in_the_wrong_hemisphere_misleads(tmp_path, east, north):
    """Altair (2019/1241 Annex XII D) with E for W, S for N, or both."""
    corners = list(PUBLISHED["Altair"])
    corners[3] = (east * corners[3][0], north * corners[3][1])
    found = linted(tmp_path, area(corners))

    stray = only(found, "stray corner")
    assert stray.severity == "misleads"
    assert stray.corner == "ring, corner 4"
    assert stray.position == pytest.approx(corners[3], abs=1e-9)
    assert "44°25.000'N 034°35.000'W would put it beside them" in stray.message
    assert "spike" not in [d.code for d in found]


def test_a_corner_ten_degrees_off_is_a_doubt(tmp_path):
    """No hemisphere helps, but it lies far away."""
    found = linted(tmp_path, area((*box(10, 50)[:3], (21.0, 51.0))))

    assert only(found, "stray corner").severity == "doubt"


@pytest.mark.parametrize("name", ["Northern MAR", "Coral edge", "Foula Deeps", "Revet"])
def test_published_rings_have_no_strays_and_no_spikes(tmp_path, name):
    """Long and skew figures are not mistaken for slips."""
    assert linted(tmp_path, area(PUBLISHED[name])) == ()


def test_a_ring_across_180_degrees_has_no_strays(tmp_path):
    """Longitudes 179.5 and -179.5 are a degree apart."""
    found = linted(tmp_path, area(((179.5, 50.0), (-179.5, 50.0), (-179.6, 51.0), (179.5, 51.0))))

    assert codes(found) == [("note", "remark")]


@pytest.mark.parametrize(
    ("name", "note", "seen"),
    [
        ("West Bank", "18 x 4 nautical miles", True),  # a digit is missing: sides are 19.05 and 43.83
        ("Revet", "1,5 x 49 nautical miles", False),
        ("Rabarberen", "2,7 x 4 nautical miles", False),
        ("West Bank", "19 x 43,5 nautical miles", False),
        ("West Bank", "35.3 x 80.6 km", False),
        ("West Bank", "about 2832 km2", False),
        ("West Bank", "about 832 square kilometres", True),
        ("West Bank", "825.7 square nautical miles", False),
        ("West Bank", "closed since 2004, 3 x a year", False),
    ],
)
def test_dimensions_in_a_note_are_compared_with_the_corners(tmp_path, name, note, seen):
    """Notes as printed in Council Regulation (EU) 2025/202, Annex IV, and invented ones."""
    found = linted(tmp_path, area(PUBLISHED[name], note=note))

    assert codes(found) == ([("doubt", "size differs from note")] if seen else [])


@pytest.mark.parametrize(
    ("gap_m", "seen"), [(0.0, False), (0.5, True), (20.0, True), (45.0, True), (60.0, False), (500.0, False)]
)
def test_a_tiny_gap_between_neighbours_is_found_with_its_width(tmp_path, gap_m, seen):
    """The second box begins this far north of the first."""
    second = box(0, 51.0 + gap_m * METRE_LAT_DEG, 1.0, 0.5)
    found = linted(tmp_path, area(box(0, 50), name="A"), area(second, name="B"))

    assert codes(found) == ([("doubt", "tiny gap")] if seen else [])
    if seen:
        assert found[0].feature == 2
        assert f"lies {gap_m:.0f}"[:6] in found[0].message or "lies 0.5" in found[0].message
        assert "and 1 more pairs of corners" in found[0].message


def test_a_tiny_gap_across_180_degrees_is_found_once(tmp_path):
    """Boxes on both sides of the line, one written with 180, one a little east of it."""
    west, east = box(179.0, 50.0, 1.0), box(-180.0 + 1e-4, 50.0, 1.0)
    for first, second in ((west, east), (east, west)):
        found = linted(tmp_path, area(first, name="A"), area(second, name="B"))
        assert codes(found) == [("doubt", "tiny gap")]


def test_the_same_corner_at_180_degrees_is_no_gap(tmp_path):
    """180 and -180 are one meridian."""
    assert linted(tmp_path, area(box(179, 50), name="A"), area(box(-180, 50), name="B")) == ()


def test_a_list_at_two_precisions_is_told(tmp_path):
    """12°39.60' and 12.66 are one point; 12.6599 is 7 m away. Start and direction do not matter."""
    corners = box(-12.66, 52.0)
    coarse = [(-12.6599, 52.0), *corners[1:]]
    turned = (coarse[2:] + coarse[:2])[::-1]
    found = linted(tmp_path, area(corners, name="A"), area(turned, name="B"))

    assert codes(found) == [("doubt", "duplicate at another precision")]
    assert "up to 6.8" in found[0].message


@pytest.mark.parametrize(
    ("season", "severity"), [(None, "doubt"), ([{"from": "--01-01", "to": "--03-31"}], "note")]
)
def test_the_same_corners_twice_are_a_doubt_only_under_the_same_rule(tmp_path, season, severity):
    """Two seasons of one area may be two zones."""
    corners = box(0, 50)
    other = [*corners[1:], corners[0]]
    found = linted(tmp_path, area(corners, name="A"), area(other, name="B", season=season))

    assert codes(found) == [(severity, "duplicate")]


@pytest.mark.parametrize(("name", "seen"), [("box a", True), ("Box B", False)])
def test_overlaps_are_told_of_zones_of_one_name(tmp_path, name, seen):
    """A quarter of each lies on the other; capital letters do not matter."""
    found = linted(tmp_path, area(box(0, 50), name="Box A"), area(box(0.5, 50.5), name=name))

    assert codes(found) == ([("doubt", "overlap of one name")] if seen else [])
    if seen:
        assert "by 25" in found[0].message


def test_zones_of_one_name_side_by_side_do_not_overlap(tmp_path):
    """A shared side is no overlap."""
    assert linted(tmp_path, area(box(0, 50)), area(box(1, 50))) == ()


@pytest.mark.parametrize(
    ("on", "seen"),
    [
        (None, []),
        (date(2026, 3, 31), [("doubt", "not yet valid")]),
        (date(2026, 4, 1), []),
        (date(2026, 4, 30), []),
        (date(2026, 5, 1), [("doubt", "expired")]),
    ],
)
def test_validity_is_asked_for_a_day_only(tmp_path, on, seen):
    """Both days are inside; without a day nothing is asked."""
    assert (
        codes(linted(tmp_path, area(box(0, 50), valid_from="2026-04-01", valid_until="2026-04-30"), on=on))
        == seen
    )


def test_a_season_to_28_february_is_a_doubt(tmp_path):
    """Coral edge, 1 January to 28 February: Council Regulation (EU) 2025/202, Annex IV no. 3."""
    season = [{"from": "--01-01", "to": "--02-28"}]
    found = linted(tmp_path, area(PUBLISHED["Coral edge"], season=season))

    assert codes(found) == [("doubt", "28 February")]


def test_a_near_miss_of_a_property_misleads(tmp_path):
    """The margin is not read."""
    found = linted(tmp_path, area(box(0, 50), margins="500m"))

    assert codes(found) == [("misleads", "near-miss property")]
    assert "'margins'" in found[0].message


def test_no_source_is_a_note(tmp_path):
    """So that a finding can be traced."""
    assert codes(linted(tmp_path, area(box(0, 50), source=" "))) == [("note", "no source")]


def test_an_unknown_line_type_tells_how_many_metres_it_leaves_open(tmp_path):
    """Northern MAR: rhumb line to straight in degrees 1645 m on the first and 1920 m on the third leg
    (computed with densified lines on WGS 84); rhumb line to geodesic 4798 m and 5006 m, the other way."""
    (found,) = linted(tmp_path, area(PUBLISHED["Northern MAR"], edges=None))

    assert (found.severity.value, found.code) == ("doubt", "line type open")
    assert "rhumb lines lie up to 1919 m away, geodesics up to 6922 m" in found.message


def test_an_unknown_line_type_of_a_small_box_is_a_note(tmp_path):
    """Within a metre it does not matter."""
    (found,) = linted(tmp_path, area(box(0, 50, 0.02, 0.02), edges=None))

    assert (found.severity.value, found.code) == ("note", "line type open")
    assert "within 1 m" in found.message


def test_too_many_pairs_are_told_not_hidden(tmp_path, monkeypatch):
    """What was not compared is said."""
    monkeypatch.setattr(neighbours, "_MOST_PAIRS", 2)
    found = linted(tmp_path, *(area(box(0.1 * i, 50), name=f"Z{i}") for i in range(4)))

    assert codes(found) == [("doubt", "not compared")]


def test_defects_are_in_order_of_features_and_worst_first(tmp_path):
    """Whatever the order of the checks."""
    found = linted(
        tmp_path,
        area(box(0, 50), source="", kinds="x", name="A"),
        area(PUBLISHED["Stanhope ground"], name="B"),
        area(box(5, 50), source="", name="C"),
    )

    assert [(d.feature, d.severity.value) for d in found] == [
        (1, "misleads"),
        (1, "note"),
        (2, "refused"),
        (3, "note"),
    ]


def test_a_hole_is_named_as_its_author_would(tmp_path):
    """Corner numbers within the hole."""
    hole = [[0.2, 50.2], [0.2, 50.2], [0.2, 50.4], [0.4, 50.2], [0.2, 50.2]]
    shape = polygon([*map(list, box(0, 50)), [0, 50]], hole)
    (found,) = linted(tmp_path, feature(shape, edges="rhumb", source="invented"))

    assert found.corner == "hole, corner 2"


LATTICE = st.lists(st.tuples(st.integers(-4, 4), st.integers(-4, 4)), min_size=1, max_size=9)


@given(rings=st.lists(LATTICE, min_size=1, max_size=4), west=st.sampled_from([-180.0, -0.5, 176.0]))
def test_whatever_the_corners_lint_answers(tmp_path_factory, rings, west):
    """On a lattice of touching, repeated and overlapping corners nothing breaks, refused or not."""
    features = [
        area([((west + x / 4 + 180.0) % 360.0 - 180.0, 60 + y / 4) for x, y in corners], edges=None)
        for corners in rings
    ]
    survey = survey_zones(written(tmp_path_factory.getbasetemp(), *features))

    for defect in lint(survey.candidates, on=date(2026, 2, 28)):
        assert 1 <= defect.feature <= len(features)
        assert defect.message


@pytest.mark.parametrize(
    ("gears", "spared", "seen"),
    [
        (["OTB"], ["TB"], True),
        (["OTB", "SSC"], ["TB"], False),
        (["TX"], ["TX"], True),
        (["TB"], ["OTB"], False),
    ],
)
def test_gears_that_are_all_spared_are_a_doubt(tmp_path, gears, spared, seen):
    """A rule that covers nobody is most likely a slip, and would never find anything."""
    found = linted(tmp_path, area(box(0, 50), gears=gears, except_gears=spared))

    assert codes(found) == ([("doubt", "covers nobody")] if seen else [])
