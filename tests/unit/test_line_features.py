"""Planned lines as GeoJSON: true to a metre as drawn, cut at 180 degrees, with their corners."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from oracles import GEOD, Lines, distance_to_line

from towzone.geodesy.lines import LineKind
from towzone.model.plan import PlannedLine
from towzone.tables.line_features import lines_geojson


def line(*corners, name="plan", names=()):
    lon, lat = zip(*corners, strict=True)
    return PlannedLine(
        name=name, lon_deg=np.array(lon), lat_deg=np.array(lat), point_names=names, source="a.gpx"
    )


def features(lines, legs):
    found = json.loads(lines_geojson(lines, legs))
    assert found["type"] == "FeatureCollection"
    return found["features"]


@pytest.mark.parametrize("legs", [LineKind.RHUMB, LineKind.GEODESIC])
@pytest.mark.parametrize(
    "corners", [((-8.0, 54.0), (-6.0, 55.5)), ((178.5, -60.0), (-179.0, -61.0)), ((5.0, 80.0), (9.0, 80.5))]
)
def test_a_line_drawn_straight_in_degrees_is_true_to_a_metre(corners, legs):
    (drawn, *_) = features([line(*corners)], legs)
    geometry = shapely.from_geojson(json.dumps(drawn["geometry"]))
    assert geometry.is_valid
    places = []
    for part in shapely.get_parts(geometry):
        xy = shapely.get_coordinates(part)
        assert np.abs(xy[:, 0]).max() <= 180.0
        places += [xy[:-1] + share * np.diff(xy, axis=0) for share in (0.0, 0.25, 0.5, 0.8, 1.0)]
    lon, lat = np.concatenate(places).T
    leg = Lines.between(legs, *corners[0], *corners[1]).take(np.zeros(len(lon), dtype=int))
    assert distance_to_line(leg, lon, lat).max() < 1.05


def test_a_line_over_180_degrees_is_cut_there():
    (drawn, *_) = features([line((179.9, 10.0), (-179.9, 10.1))], LineKind.RHUMB)
    parts = drawn["geometry"]["coordinates"]
    assert drawn["geometry"]["type"] == "MultiLineString"
    assert (parts[0][-1][0], parts[1][0][0]) == (180.0, -180.0)


def test_each_line_and_each_corner_is_told():
    found = features(
        [line((1.0, 50.0), (1.0, 50.1), names=("A", "")), line((2.0, 50.0), (2.1, 50.0), name="b")],
        LineKind.RHUMB,
    )
    assert [feature["properties"]["feature"] for feature in found] == ["planned_line", "corner", "corner"] * 2
    assert found[0]["properties"] == {
        "feature": "planned_line",
        "line": "plan",
        "source": "a.gpx",
        "edges": "rhumb",
        "corners": 2,
        "length_m": pytest.approx(GEOD.inv(1.0, 50.0, 1.0, 50.1)[2], abs=0.01),
    }
    assert found[1]["properties"] == {"feature": "corner", "line": "plan", "number": 1, "name": "A"}
    assert found[1]["geometry"] == {"type": "Point", "coordinates": [1.0, 50.0]}
    assert found[5]["properties"]["line"] == "b"


def test_the_collection_says_what_it_is_and_the_caution():
    text = lines_geojson([line((1.0, 50.0), (1.0, 50.1))], LineKind.RHUMB)
    found = json.loads(text)
    assert "steer by the corners" in found["about"]
    assert "not for navigation" in found["caution"]
    assert text == lines_geojson([line((1.0, 50.0), (1.0, 50.1))], LineKind.RHUMB)


def test_names_of_files_are_text_and_nothing_else():
    hostile = '"}]}</script>\x1b[2J\u2028'
    found = features([line((1.0, 50.0), (1.0, 50.1), name=hostile, names=(hostile, ""))], LineKind.RHUMB)
    assert found[0]["properties"]["line"] == found[1]["properties"]["name"] == hostile
