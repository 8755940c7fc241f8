"""Margin outlines: by brute force nowhere nearer than the margin and nowhere a metre beyond it."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
import shapely
from oracles import A_M, E2, GEOD, densify, inside
from scenes import area, areas, line, points, zone
from strategies import star

from towzone.errors import GeometryError
from towzone.geodesy.lines import LineKind
from towzone.geodesy.offset import offset_areas
from towzone.model.rules import Rules
from towzone.model.zone import ZoneKind
from towzone.tables.margin_outlines import margin_outlines

PLACES = (0.0, 0.1, 0.31, 0.5, 0.77)
"""Parts of a side that are looked at; others than those the outline itself looks at, but its corners."""
STEP_M = 4.0


def ball(lon, lat):
    """Geocentric metres, written down again."""
    lon, lat = np.radians(lon), np.radians(lat)
    n = A_M / np.sqrt(1.0 - E2 * np.sin(lat) ** 2)
    return np.stack(
        [n * np.cos(lat) * np.cos(lon), n * np.cos(lat) * np.sin(lon), n * (1.0 - E2) * np.sin(lat)], axis=1
    )


def boundary(strings, kind, step_m=STEP_M):
    """Places of a boundary so close that half a step is nothing beside the margin."""
    parts = []
    for corners, closed in strings:
        if len(corners) > 1:
            parts += [np.column_stack(edge) for edge in densify(kind, corners, step_m, closed=closed)]
        else:
            parts.append(np.array(corners))
    return np.concatenate(parts)


def least_m(places, strings, kind, step_m=STEP_M):
    """The distance of each place from the boundary: to that place of it which is nearest straight through."""
    edge = boundary(strings, kind, step_m)
    middle = ball(edge[:1, 0], edge[:1, 1])
    edge_m, place_m = ball(edge[:, 0], edge[:, 1]) - middle, ball(places[:, 0], places[:, 1]) - middle
    near = []
    for first in range(0, len(places), 500):
        near.append(
            np.argmin((edge_m**2).sum(axis=1) - 2.0 * place_m[first : first + 500] @ edge_m.T, axis=1)
        )
    found = edge[np.concatenate(near)]
    return np.asarray(GEOD.inv(places[:, 0], places[:, 1], found[:, 0], found[:, 1])[2])


def drawn(geometry):
    """Places on the rings of a geometry, between corners straight in degrees; without the cut at 180."""
    found = []
    for ring in shapely.get_rings(shapely.get_parts(geometry)):
        xy = shapely.get_coordinates(ring)
        for part in PLACES:
            found.append(xy[:-1] + part * np.diff(xy, axis=0))
    places = np.concatenate(found)
    return places[np.abs(np.abs(places[:, 0]) - 180.0) > 1e-6]


def outlined(zones, margins_m):
    return json.loads(margin_outlines(zones, margins_m))


def geometry_of(one, margin_m):
    (feature,) = outlined([one], {one.zone_id: margin_m})["features"]
    return shapely.from_geojson(json.dumps(feature["geometry"])), feature["properties"]


def strings_of(one):
    return [(corners.tolist(), closed) for corners, closed in one.shape.strings()]


SQUARE = [(-9.0, 57.0), (-8.95, 57.0), (-8.95, 57.03), (-9.0, 57.03)]
HOLE = [(-8.99, 57.01), (-8.99, 57.02), (-8.96, 57.02), (-8.96, 57.01)]
NOTCHED = [
    (0.0, 50.0),
    (0.06, 50.0),
    (0.06, 50.04),
    (0.031, 50.04),
    (0.03, 50.01),
    (0.028, 50.04),
    (0.0, 50.04),
]
JAGGED = star(20.0, 70.0, np.arange(12) * 30.0, np.where(np.arange(12) % 2, 900.0, 2500.0))
SHAPES = {
    "square": area(SQUARE),
    "with a hole": area(SQUARE, HOLE),
    "with a notch": area(NOTCHED),
    "jagged": area(JAGGED),
    "over 180 degrees": area([(179.97, -43.0), (-179.98, -43.0), (-179.98, -42.97), (179.97, -42.97)]),
    "cable": line((10.0, 57.0), (10.05, 57.02), (10.02, 57.03)),
    "wrecks": points((5.0, 56.0), (5.01, 56.003)),
    "far north": area(star(30.0, 84.0, [0.0, 100.0, 220.0], 4000.0 * np.ones(3))),
}


@pytest.mark.parametrize("kind", list(LineKind))
@pytest.mark.parametrize("name", SHAPES)
def test_an_outline_is_nowhere_nearer_and_nowhere_a_metre_beyond(name, kind):
    one = zone(SHAPES[name], edges=kind, radius_m=50.0)
    geometry, properties = geometry_of(one, 413.0)
    assert geometry.is_valid
    off_m = least_m(drawn(geometry), strings_of(one), kind) - 463.0
    assert off_m.min() >= -0.02  # of steps and rounding
    assert off_m.max() <= 1.0
    assert properties["true_to_m"] == 1.0


def test_nothing_within_the_margin_is_left_out_of_an_outline():
    """Places all around: within the distance they lie in the area, a metre beyond it outside."""
    one = zone(SHAPES["with a notch"], edges=LineKind.RHUMB)
    geometry, _ = geometry_of(one, 300.0)
    rng = np.random.default_rng(5)
    places = np.column_stack([rng.uniform(-0.01, 0.07, 3000), rng.uniform(49.995, 50.045, 3000)])
    away_m = least_m(places, strings_of(one), LineKind.RHUMB, 5.0)
    held = inside("rhumb", [[np.array(NOTCHED)]], places[:, 0], places[:, 1])
    must = held | (away_m < 300.0)
    may = held | (away_m < 301.1)
    lies = shapely.contains_xy(geometry, places[:, 0], places[:, 1])
    assert (lies >= must).all()
    assert (lies <= may).all()
    assert must.sum() > 500
    assert (~may).sum() > 500


def test_a_hole_is_kept_as_far_as_there_is_room_in_it():
    one = zone(SHAPES["with a hole"], edges=LineKind.RHUMB)
    near, _ = geometry_of(one, 200.0)
    wide, _ = geometry_of(one, 600.0)
    assert (len(near.interiors), len(wide.interiors)) == (1, 0)


def test_neighbouring_zones_of_points_run_into_one():
    apart, _ = geometry_of(zone(SHAPES["wrecks"]), 100.0)
    together, _ = geometry_of(zone(SHAPES["wrecks"]), 463.0)
    assert (len(shapely.get_parts(apart)), len(shapely.get_parts(together))) == (2, 1)


@pytest.mark.parametrize("name", ["square", "with a hole", "jagged", "over 180 degrees"])
def test_an_area_that_must_not_be_left_is_outlined_inside(name):
    one = zone(SHAPES[name], edges=LineKind.RHUMB, rules=Rules(allowed_only_inside=True))
    geometry, properties = geometry_of(one, 250.0)
    assert properties["keep"] == "inside"
    places = drawn(geometry)
    off_m = least_m(places, strings_of(one), LineKind.RHUMB) - 250.0
    assert off_m.min() >= -0.02
    assert off_m.max() <= 1.0
    rings = [list(polygon) for polygon in one.shape.polygons]
    assert inside("rhumb", rings, places[:, 0], places[:, 1]).all()


def test_an_area_without_room_for_its_margin_has_no_outline_and_says_so():
    one = zone(SHAPES["square"], edges=LineKind.RHUMB, rules=Rules(allowed_only_inside=True))
    (feature,) = outlined([one], {"Z": 5000.0})["features"]
    assert feature["geometry"] is None
    assert feature["properties"]["why"].startswith("no place in the area is as far from its boundary")


def test_a_cut_at_180_degrees_is_no_boundary():
    west = [(179.97, -43.0), (180.0, -43.0), (180.0, -42.97), (179.97, -42.97)]
    east = [(-180.0, -43.0), (-179.98, -43.0), (-179.98, -42.97), (-180.0, -42.97)]
    cut = zone(areas([west], [east]), edges=LineKind.RHUMB, rules=Rules(allowed_only_inside=True))
    whole = zone(SHAPES["over 180 degrees"], edges=LineKind.RHUMB, rules=Rules(allowed_only_inside=True))
    one, other = geometry_of(cut, 250.0)[0], geometry_of(whole, 250.0)[0]
    assert len(shapely.get_parts(one)) == len(shapely.get_parts(other)) == 2
    assert one.symmetric_difference(other).area < 1e-3 * other.area
    outside = geometry_of(zone(areas([west], [east]), edges=LineKind.RHUMB), 250.0)[0]
    assert sum(len(part.interiors) for part in shapely.get_parts(outside)) == 0


def test_without_radius_and_margin_the_zone_is_its_own_outline():
    for name, kind in (("square", "Polygon"), ("cable", "LineString"), ("wrecks", "MultiPoint")):
        geometry, properties = geometry_of(zone(SHAPES[name], edges=LineKind.RHUMB), 0.0)
        assert (geometry.geom_type, properties["margin_m"], properties["radius_m"]) == (kind, 0.0, 0.0)
    holed, _ = geometry_of(zone(SHAPES["with a hole"], edges=LineKind.RHUMB), 0.0)
    assert len(holed.interiors) == 1
    off_m = least_m(drawn(holed), strings_of(zone(SHAPES["with a hole"])), LineKind.RHUMB, 0.5)
    assert off_m.max() < 1.0


def test_a_collection_says_what_it_is_and_the_caution_and_every_zone_in_order():
    zones = [
        zone(SHAPES["cable"], ZoneKind.CABLE, zone_id="B", name="Cable <b>"),
        zone(SHAPES["square"], zone_id="A", name="Box"),
    ]
    found = outlined(zones, {"A": 100.0, "B": 200.0})
    assert found["type"] == "FeatureCollection"
    assert "not for navigation" in found["caution"]
    assert found["about"].startswith("Margin outlines of zones")
    assert [feature["properties"] for feature in found["features"]] == [
        {
            "feature": "margin_outline",
            "zone_id": one.zone_id,
            "name": one.name,
            "kind": one.kind.value,
            "prohibits": [what.value for what in one.prohibits],
            "keep": "outside",
            "radius_m": 0.0,
            "margin_m": margin_m,
            "true_to_m": 1.0,
        }
        for one, margin_m in zip(zones, (200.0, 100.0), strict=True)
    ]
    assert margin_outlines(zones, {"A": 100.0, "B": 200.0}) == margin_outlines(
        zones, {"A": 100.0, "B": 200.0}
    )


def test_polygons_are_wound_as_geojson_has_them():
    geometry, _ = geometry_of(zone(SHAPES["with a hole"], edges=LineKind.RHUMB), 200.0)
    assert geometry.exterior.is_ccw
    assert not geometry.interiors[0].is_ccw


def test_a_wide_zone_is_as_true_as_a_small_one():
    """Far from its middle the plane errs by metres; what is drawn does not."""
    ring = [(0.0, 60.0), (18.0, 60.0), (18.0, 62.0), (0.0, 62.0)]
    one = zone(area(ring), edges=LineKind.RHUMB)
    geometry, _ = geometry_of(one, 3000.0)
    places = drawn(geometry)
    chosen = places[:: max(len(places) // 150, 1)]
    off_m = least_m(chosen, strings_of(one), LineKind.RHUMB, 40.0) - 3000.0
    assert off_m.min() >= -0.1  # of steps of 40 m
    assert off_m.max() <= 1.1


def test_narrow_corners_are_cut_on_the_safe_side_only():
    """Spikes with gaps in which two curves meet at all angles."""
    rng = np.random.default_rng(3)
    ring = star(179.9, 10.0, np.arange(60) * 6.0, 9000.0 * rng.uniform(0.3, 1.0, 60))
    one = zone(area(ring), edges=LineKind.RHUMB)
    found = offset_areas(one.shape, one.edges, 800.0)
    assert found.nearest_m >= 800.0
    geometry, properties = geometry_of(one, 800.0)
    assert geometry.is_valid
    places = drawn(geometry)[::7]
    off_m = least_m(places, strings_of(one), LineKind.RHUMB, 20.0) - 800.0
    assert off_m.min() >= -0.05
    assert off_m.max() <= properties["true_to_m"] + 0.05


def test_a_zone_that_no_plane_holds_has_no_outline_and_says_so():
    wide = zone(line((-60.0, 0.0), (0.0, 0.0), (60.0, 0.0)), edges=LineKind.RHUMB)
    with pytest.raises(GeometryError, match="from its middle"):
        offset_areas(wide.shape, wide.edges, 100.0)
    (feature,) = outlined([wide], {"Z": 100.0})["features"]
    assert feature["geometry"] is None
    assert "from its middle; a curve around it is drawn up to 5000 km" in feature["properties"]["why"]
    assert feature["properties"]["true_to_m"] is None


def test_a_circle_around_a_point_is_one():
    geometry, _ = geometry_of(zone(points((5.0, 56.0))), 500.0)
    away_m = GEOD.inv(*np.full((len(drawn(geometry)), 2), (5.0, 56.0)).T, *drawn(geometry).T)[2]
    assert min(away_m) >= 500.0
    assert max(away_m) <= 501.0
    assert math.isclose(abs(GEOD.geometry_area_perimeter(geometry)[0]), math.pi * 500.4**2, rel_tol=2e-3)
