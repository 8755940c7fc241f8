"""Whatever the bytes, readers answer or raise InputError; and order is kept as a slow oracle says."""

from __future__ import annotations

import json
import tempfile
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
from bad_inputs import GOOD_POINT, SQUARE, collection, feature, gpx, polygon
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from towzone.errors import InputError
from towzone.files.order import BACKWARD, CONFLICTING, KEPT, mark_duplicates, mark_order
from towzone.files.times import NOT_A_TIME
from towzone.files.tracks import read_tracks
from towzone.files.zones import read_zones

ROUTE = '<rtept lat="1" lon="2"/><rtept lat="1" lon="3"/>'
TRACK = gpx(f"<trk><name>t</name><trkseg>{GOOD_POINT * 4}</trkseg></trk><rte>{ROUTE}</rte>")
ZONES = collection(
    feature(polygon(SQUARE), margin="1km", season=[{"from": "--01-01"}]),
    feature({"type": "LineString", "coordinates": [[1, 50], [2, 51]]}, kind="cable", radius="5m"),
    crs={"type": "name", "properties": {"name": "EPSG:4258"}},
)
PIECES = [
    b"<",
    b">",
    b"&#0;",
    b"&lt;",
    b'"',
    b"\x00",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"<!DOCTYPE gpx>",
    b"<![CDATA[",
    b'<?xml version="1.0" encoding="utf-7"?>',
    b'<?xml version="1.0" encoding="shift_jis"?>',
    b"<trkpt/>",
    b"</trkseg>",
    b"<time>",
    b"1e999",
    b"-",
    b"NaN",
    b"null",
    b"[",
    b"]",
    b"{}",
    b"1" * 400,
    b"\\ud800",
    b"Infinity",
    b"true",
    b"180",
    b"EPSG:4979",
    b"EPSG:5773",
    b"ESRI:102100",
]

slow = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def answers_or_refuses(data: bytes, name: str) -> None:
    """Anything else than a file or an InputError, and the test fails with it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        refusal: InputError | None = None
        try:
            found = read_tracks(str(path)).tracks if name.endswith(".gpx") else read_zones(str(path)).zones
        except InputError as error:
            refusal = error
        if refusal is None:
            assert found
        else:
            assert refusal.problems
            assert str(refusal).startswith(str(path))


@st.composite
def mutated(draw: st.DrawFn, whole: bytes) -> bytes:
    data = bytearray(whole)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        cut = draw(st.sampled_from([0, 0, 1, 2, 7, 40, 10_000]))
        piece = draw(st.one_of(st.sampled_from(PIECES), st.binary(max_size=4)))
        data[at : at + cut] = piece
    return bytes(data)


@slow
@given(
    st.binary(max_size=200), st.sampled_from([b"", b"<", b"<gpx>", b'<?xml version="1.0"', b"\xff\xfe<\0"])
)
def test_random_bytes_as_a_track(data: bytes, head: bytes) -> None:
    answers_or_refuses(head + data, "a.gpx")


@slow
@given(mutated(TRACK))
def test_a_mutated_track(data: bytes) -> None:
    answers_or_refuses(data, "a.gpx")


@slow
@given(st.binary(max_size=200), st.sampled_from([b"", b"{", b'{"type":"FeatureCollection","features":[']))
def test_random_bytes_as_zones(data: bytes, head: bytes) -> None:
    answers_or_refuses(head + data, "a.geojson")


@slow
@given(mutated(ZONES))
def test_mutated_zones(data: bytes) -> None:
    answers_or_refuses(data, "a.geojson")


@slow
@given(
    st.binary(max_size=300),
    st.sampled_from([("a.gpkg", b"SQLite format 3\0"), ("a.shp", b"\0\0\x27\x0a"), ("a.fgb", b"fgb\x03")]),
)
def test_random_bytes_as_vector_files(data: bytes, kind: tuple[str, bytes]) -> None:
    answers_or_refuses(kind[1] + data, kind[0])


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=12,
)
geometry_types = st.sampled_from(
    ["Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection"]
)


@slow
@given(
    geometry_types,
    json_values,
    st.dictionaries(st.sampled_from(["kind", "edges", "margin", "prohibits", "season", "name"]), json_values),
    json_values,
)
def test_json_of_the_wrong_shape(
    kind: str, coordinates: object, properties: dict[str, object], crs: object
) -> None:
    geometry = {"type": kind, "coordinates": coordinates, "geometries": coordinates}
    answers_or_refuses(collection(feature(geometry, **properties)), "a.geojson")
    answers_or_refuses(collection(feature(polygon(SQUARE)), crs=crs), "a.geojson")
    answers_or_refuses(json.dumps({"type": "FeatureCollection", "features": coordinates}).encode(), "a.json")


instants = st.lists(st.integers(0, 6) | st.just(NOT_A_TIME), max_size=9)


@given(instants)
def test_the_fixes_kept_are_as_many_as_trying_every_choice_can_keep(times: list[int]) -> None:
    column = np.array(times, dtype=np.int64)
    fate = mark_order(column)
    timed = [i for i, t in enumerate(times) if t != NOT_A_TIME]
    kept = [times[i] for i in timed if fate[i] == KEPT]
    assert kept == sorted(set(kept))
    assert all(fate[i] == KEPT for i in range(len(times)) if i not in timed)
    assert set(fate.tolist()) <= {KEPT, CONFLICTING, BACKWARD}
    # The oracle: of all choices of fixes, the largest whose times never step back.
    most = max(
        size
        for size in range(len(timed) + 1)
        if any(all(times[a] <= times[b] for a, b in pairwise(choice)) for choice in combinations(timed, size))
    )
    assert sum(fate[i] != BACKWARD for i in timed) == most


@given(
    st.lists(
        st.tuples(st.integers(0, 3) | st.just(NOT_A_TIME), st.integers(0, 1), st.integers(0, 1)), max_size=12
    )
)
def test_duplicates_are_exactly_the_repeats_of_time_and_position(rows: list[tuple[int, int, int]]) -> None:
    columns = np.array(rows, dtype=np.int64).reshape(-1, 3)
    fate = mark_duplicates(columns[:, 0], columns[:, 1].astype(float), columns[:, 2].astype(float))
    expected = [row[0] != NOT_A_TIME and row in rows[:i] for i, row in enumerate(rows)]
    assert (fate != KEPT).tolist() == expected
