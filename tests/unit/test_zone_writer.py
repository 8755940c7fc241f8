"""Zone files are written the same every time, wound as RFC 7946 asks, and read back to the last digit."""

from __future__ import annotations

import json
from itertools import pairwise

import pytest

from towzone.errors import InputError
from towzone.files.zone_writer import to_zone_file, zone_file_text
from towzone.geodesy.shape import Shape, freeze
from towzone.model.draft import Draft

BOX = [(-8.0, 54.0), (-7.0, 54.0), (-7.0, 55.0), (-8.0, 55.0)]
HOLE = [(-7.7, 54.3), (-7.3, 54.3), (-7.3, 54.7)]
PROPERTIES = {"zone_id": "a", "name": "A", "kind": "closed_area", "edges": "rhumb"}


def draft(shape, **properties):
    return Draft(shape=shape, properties=PROPERTIES | properties)


def polygon(*rings):
    return Shape(polygons=(tuple(freeze(ring) for ring in rings),))


def geometry(shape):
    return json.loads(zone_file_text([draft(shape)]))["features"][0]["geometry"]


def twice_area(ring):
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise(ring))


@pytest.mark.parametrize("outer", [BOX, BOX[::-1]])
@pytest.mark.parametrize("hole", [HOLE, HOLE[::-1]])
def test_outer_rings_run_anticlockwise_and_holes_clockwise(outer, hole):
    """RFC 7946, section 3.1.6; each ring keeps its first corner."""
    rings = geometry(polygon(outer, hole))["coordinates"]

    assert twice_area(rings[0]) > 0
    assert twice_area(rings[1]) < 0
    assert [rings[0][0], rings[1][0]] == [list(outer[0]), list(hole[0])]
    assert all(ring[0] == ring[-1] for ring in rings)


def test_a_ring_across_180_degrees_is_wound_by_its_true_inside():
    rings = geometry(polygon([(179.0, 54.0), (-179.0, 54.0), (-179.0, 55.0), (179.0, 55.0)]))["coordinates"]

    assert rings[0] == [[179.0, 54.0], [-179.0, 54.0], [-179.0, 55.0], [179.0, 55.0], [179.0, 54.0]]


def test_numbers_survive_to_the_last_bit():
    third = [(1 / 3, 54 + 1 / 7), (1.1, 54.0), (1.2, 55 + 2 / 3)]
    _, read = to_zone_file([draft(polygon(third))], "zones")

    assert {tuple(corner) for corner in read.zones[0].shape.polygons[0][0].tolist()} == set(third)


def test_minus_zero_is_zero():
    assert "-0.0" not in zone_file_text([draft(polygon([(-0.0, -0.0), (1.0, 0.0), (1.0, 1.0)]))])


def test_the_same_zones_give_the_same_bytes_one_feature_a_line():
    zones = [draft(polygon(BOX)), draft(polygon(HOLE), zone_id="b")]
    text = zone_file_text(zones)

    assert text == zone_file_text(zones)
    assert text.endswith("\n")
    assert [json.loads(line.rstrip(","))["properties"]["zone_id"] for line in text.splitlines()[1:-1]] == [
        "a",
        "b",
    ]


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        (polygon(BOX), "Polygon"),
        (Shape(polygons=((freeze(BOX),), (freeze([(x + 5, y) for x, y in BOX]),))), "MultiPolygon"),
        (Shape(lines=(freeze(BOX),)), "LineString"),
        (Shape(lines=(freeze(BOX), freeze(HOLE))), "MultiLineString"),
        (Shape(points=freeze(BOX[:1])), "Point"),
        (Shape(points=freeze(BOX)), "MultiPoint"),
        (Shape(lines=(freeze(HOLE),), points=freeze(BOX)), "GeometryCollection"),
    ],
)
def test_every_kind_of_shape_is_written_and_read_back(shape, kind):
    text, read = to_zone_file([draft(shape)], "zones")

    assert json.loads(text)["features"][0]["geometry"]["type"] == kind
    assert len(read.zones) == 1


def test_properties_keep_their_order_and_letters():
    text, read = to_zone_file([draft(polygon(BOX), name='Bræ "x" </script>', margin="0.25nmi")], "zones")

    assert list(json.loads(text)["features"][0]["properties"]) == [
        "zone_id",
        "name",
        "kind",
        "edges",
        "margin",
    ]
    assert read.zones[0].name == 'Bræ "x" </script>'
    assert read.zones[0].margin_m == 463.0


@pytest.mark.parametrize(
    ("zones", "words"),
    [
        ([draft(polygon(BOX), margin="5")], "has no unit"),
        ([draft(polygon([BOX[0], BOX[2], BOX[1], BOX[3]]))], "cross"),
        ([draft(polygon(BOX)), draft(polygon(HOLE))], "ids must differ"),
    ],
)
def test_what_the_reader_refuses_is_not_written(zones, words):
    with pytest.raises(InputError, match=words) as caught:
        to_zone_file(zones, "out.geojson")
    assert str(caught.value).startswith("out.geojson: ")
