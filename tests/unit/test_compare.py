"""Two editions of a zone file: what changed, by how much, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from bad_inputs import feature, polygon
from hypothesis import given
from hypothesis import strategies as st
from zone_sets import PUBLISHED, area, box, ring, zones_of

from towzone.geodesy.lines import WGS84
from towzone.surveys.compare import compare
from towzone.surveys.matching import match_strings

BOX = box(0, 50)


def changes(tmp_path, old, new):
    return compare(zones_of(tmp_path, *old, name="old.geojson"), zones_of(tmp_path, *new, name="new.geojson"))


def only(found):
    assert (found.added, found.removed) == ((), ())
    (change,) = found.changed
    return change


def test_the_same_file_is_the_same(tmp_path):
    """Ids made from the file name do not differ either."""
    zones = [area(BOX), area(box(3, 50), name="B", zone_id="B")]
    found = changes(tmp_path, zones, zones)

    assert found.none
    assert found.unchanged == 2


def test_order_start_direction_and_closing_do_not_matter(tmp_path):
    """None of them moves a boundary."""
    turned = [BOX[2], BOX[1], BOX[0], BOX[3]]
    other = area(box(3, 50), zone_id="B")
    opened = feature(polygon([list(c) for c in turned]), zone_id="A", edges="rhumb", source="invented")

    assert changes(tmp_path, [area(BOX, zone_id="A"), other], [other, opened]).none


def test_a_moved_corner_is_told_with_its_geodesic_distance(tmp_path):
    """Corner 3 moved 0.01 degrees east; the ring begins elsewhere now."""
    moved = [BOX[0], BOX[1], (1.01, 51.0), BOX[3]]
    change = only(changes(tmp_path, [area(BOX, zone_id="A")], [area(moved[1:] + moved[:1], zone_id="A")]))
    (corner,) = change.corners

    assert change.properties == ()
    assert (corner.old_corner, corner.new_corner) == ("ring, corner 3", "ring, corner 2")
    assert (corner.old, corner.new) == ((1.0, 51.0), (1.01, 51.0))
    assert corner.moved_m == pytest.approx(WGS84.inv(1.0, 51.0, 1.01, 51.0)[2], rel=0, abs=1e-6)
    assert corner.moved_m == pytest.approx(702.0, rel=0, abs=1.0)  # cos 51 x 1113.2 m x 1.002


def test_a_corner_added_and_a_corner_removed(tmp_path):
    """Others stay where they are."""
    more = [BOX[0], (0.5, 49.9), *BOX[1:]]
    came = only(changes(tmp_path, [area(BOX, zone_id="A")], [area(more, zone_id="A")]))
    went = only(changes(tmp_path, [area(more, zone_id="A")], [area(BOX, zone_id="A")]))

    assert [(c.old_corner, c.new_corner, c.new, c.moved_m) for c in came.corners] == [
        ("", "ring, corner 2", (0.5, 49.9), None)
    ]
    assert [(c.old_corner, c.new_corner, c.old, c.moved_m) for c in went.corners] == [
        ("ring, corner 2", "", (0.5, 49.9), None)
    ]


def test_a_corner_moved_and_another_added(tmp_path):
    """Pairs are kept in order."""
    new = [BOX[0], (0.5, 49.9), BOX[1], (1.02, 51.0), BOX[3]]
    change = only(changes(tmp_path, [area(BOX, zone_id="A")], [area(new, zone_id="A")]))

    assert [(c.old_corner, c.new_corner) for c in change.corners] == [
        ("ring, corner 3", "ring, corner 4"),
        ("", "ring, corner 2"),
    ]


def test_added_and_removed_zones(tmp_path):
    """Neither id nor name nor corners are in both."""
    found = changes(
        tmp_path,
        [area(BOX, zone_id="A", name="A"), area(box(5, 50), zone_id="B", name="B")],
        [area(BOX, zone_id="A", name="A"), area(box(9, 50), zone_id="C", name="C")],
    )

    assert [z.zone_id for z in found.removed] == ["B"]
    assert [z.zone_id for z in found.added] == ["C"]
    assert (found.changed, found.unchanged) == ((), 1)


@pytest.mark.parametrize(
    ("old", "new", "matched_by", "changed"),
    [
        ({"zone_id": "1", "name": "Bank"}, {"zone_id": "2", "name": "bank"}, "name", ["zone_id", "name"]),
        ({"zone_id": "1", "name": "Bank"}, {"zone_id": "2", "name": "Rise"}, "corners", ["zone_id", "name"]),
        ({"name": "Bank"}, {"zone_id": "2", "name": "Bank"}, "name", ["zone_id"]),
    ],
)
def test_zones_with_new_ids_are_matched_by_name_or_corners(tmp_path, old, new, matched_by, changed):
    """And it is said."""
    change = only(changes(tmp_path, [area(BOX, **old)], [area(BOX, **new)]))

    assert change.matched_by == matched_by
    assert [p.name for p in change.properties] == changed


def test_a_name_that_comes_twice_matches_nothing(tmp_path):
    """Which is which nobody can say."""
    twice = [area(BOX, zone_id="1", name="Bank"), area(box(2, 50), zone_id="2", name="Bank")]
    found = changes(tmp_path, twice, [area(box(4, 50), zone_id="3", name="Bank")])

    assert (len(found.removed), len(found.added)) == (2, 1)


def test_every_property_is_compared(tmp_path):
    """Old and new value of each, in the order of the list of properties."""
    old = area(BOX, zone_id="A", kind="closed_area", issued="2025-01-01")
    said = {
        "name": "Box B",
        "kind": "other",
        "edges": "geodesic",
        "prohibits": ["entry", "fishing"],
        "margin": "0.25nmi",
        "radius": "10m",
        "gears": ["OTB", "TBB"],
        "except_gears": ["SSC"],
        "season": [{"from": "--10-01", "to": "--02-END"}],
        "valid_from": "2026-01-01",
        "valid_until": "2026-12-31",
        "time_zone": "Europe/Dublin",
        "transit_min_speed": "6kn",
        "source": "another",
        "issued": "2026-01-01",
        "note": "changed",
    }
    change = only(changes(tmp_path, [old], [area(BOX, zone_id="A", **said)]))
    found = {p.name: (p.old, p.new) for p in change.properties}

    assert set(found) == set(said)
    assert found["edges"] == ("rhumb", "geodesic")
    assert found["prohibits"] == ("fishing", "entry, fishing")
    assert found["margin"] == ("", "463 m")
    assert found["season"] == ("", "--10-01 to --02-END")
    assert found["valid_until"] == ("", "2027-01-01T00:00:00Z")
    assert found["transit_min_speed"] == ("", "6 kn")


def test_a_rule_turned_round_is_a_change(tmp_path):
    """Not beside a radius, which the reader refuses."""
    new = area(BOX, zone_id="A", allowed_only_inside=True)
    change = only(changes(tmp_path, [area(BOX, zone_id="A")], [new]))

    assert [(p.name, p.old, p.new) for p in change.properties] == [("allowed_only_inside", "false", "true")]


def test_the_order_of_lists_is_no_change(tmp_path):
    """Gears, prohibitions and seasons are sets."""
    windows = [{"from": "--01-01", "to": "--03-31"}, {"from": "--10-01", "to": "--12-31"}]
    old = area(BOX, zone_id="A", gears=["OTB", "TBB"], prohibits=["entry", "fishing"], season=windows)
    new = area(BOX, zone_id="A", gears=["TBB", "OTB"], prohibits=["fishing", "entry"], season=windows[::-1])

    assert changes(tmp_path, [old], [new]).none


def test_stating_the_line_type_is_a_change(tmp_path):
    """What was assumed is now said."""
    change = only(
        changes(tmp_path, [area(BOX, zone_id="A", edges=None)], [area(BOX, zone_id="A", edges="lonlat")])
    )

    assert [(p.name, p.old, p.new) for p in change.properties] == [("edges", "lonlat (not stated)", "lonlat")]


def test_a_hole_that_became_a_part_is_a_change(tmp_path):
    """All corners are where they were, but the inside is not."""
    hole = box(0.2, 50.2, 0.2, 0.2)
    outer, inner = ring(BOX)["coordinates"][0], ring(hole)["coordinates"][0]
    old = feature(polygon(outer, inner), zone_id="A")
    new = feature({"type": "MultiPolygon", "coordinates": [[outer], [inner]]}, zone_id="A")
    change = only(changes(tmp_path, [old], [new]))

    assert [(p.name, p.old, p.new) for p in change.properties] == [("parts", "1 area, 1 hole", "2 areas")]
    assert change.corners == ()


def test_a_part_added_is_told_corner_by_corner(tmp_path):
    """Parts are known by their corners, not by their place in the list."""
    outer, inner = ring(BOX)["coordinates"][0], ring(box(5, 50))["coordinates"][0]
    old = feature({"type": "MultiPolygon", "coordinates": [[inner]]}, zone_id="A")
    new = feature({"type": "MultiPolygon", "coordinates": [[outer], [inner]]}, zone_id="A")
    change = only(changes(tmp_path, [old], [new]))

    assert [c.new_corner for c in change.corners] == [f"part 1, outer ring, corner {i}" for i in (1, 2, 3, 4)]


def test_points_and_lines_are_compared_too(tmp_path):
    """A cable's bend and a wreck."""
    cable = [[0.0, 50.0], [1.0, 50.5], [2.0, 50.0]]
    bent = [[2.0, 50.0], [1.0, 50.6], [0.0, 50.0]]
    old = [
        feature({"type": "LineString", "coordinates": cable}, kind="cable", zone_id="C"),
        feature({"type": "Point", "coordinates": [5.0, 50.0]}, kind="obstruction", zone_id="W"),
    ]
    new = [
        feature({"type": "LineString", "coordinates": bent}, kind="cable", zone_id="C"),
        feature({"type": "Point", "coordinates": [5.0, 50.1]}, kind="obstruction", zone_id="W"),
    ]
    found = changes(tmp_path, old, new)

    assert [[c.old_corner for c in change.corners] for change in found.changed] == [
        ["line, corner 2"],
        ["point 1"],
    ]


STEPS = st.lists(
    st.tuples(st.integers(-200, 200), st.integers(-200, 200)), min_size=3, max_size=12, unique=True
)


@given(corners=STEPS, shift=st.integers(0, 11), backwards=st.booleans(), west=st.sampled_from([0.0, 179.5]))
def test_a_ring_written_otherwise_matches_itself(corners, shift, backwards, west):
    """Every corner finds itself, 0 m away, whatever the start and direction."""
    ring_deg = np.array([((west + x / 200 + 180.0) % 360.0 - 180.0, 60 + y / 200) for x, y in corners])
    other = np.roll(ring_deg, shift, axis=0)[:: -1 if backwards else 1]
    match = match_strings(ring_deg, other, closed=True)

    assert len(match.old) == len(corners)
    assert np.array_equal(ring_deg[match.old], other[match.new])
    assert match.apart_m.tolist() == [0.0] * len(corners)
    assert (len(match.gone), len(match.come)) == (0, 0)


@given(corners=STEPS, index=st.integers(0, 11), shift=st.integers(0, 12), backwards=st.booleans())
def test_one_corner_more_is_found_as_that_corner(corners, index, shift, backwards):
    """All others are matched to themselves."""
    ring_deg = np.array([(x / 200, 60 + y / 200) for x, y in corners])
    other = np.insert(ring_deg, index % len(corners), (9.0, 65.0), axis=0)
    other = np.roll(other, shift, axis=0)[:: -1 if backwards else 1]
    match = match_strings(ring_deg, other, closed=True)

    assert other[match.come].tolist() == [[9.0, 65.0]]
    assert np.array_equal(ring_deg[match.old], other[match.new])


def test_published_lists_at_two_precisions_match():
    """Reg (EU) 2019/1241 prints 12°39,60' where 43/2014 prints 12°39,600': nothing moved."""
    corners = np.array(PUBLISHED["Altair"])
    match = match_strings(corners, np.round(corners, 3), closed=True)

    assert match.old.tolist() == match.new.tolist() == [0, 1, 2, 3]
    assert match.apart_m.max() < 60.0
