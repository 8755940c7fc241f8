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
from towzone.files.planned_lines import read_lines
from towzone.files.tracks import read_tracks
from towzone.files.zones import read_zones
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.geodesy.validity import shape_faults
from towzone.tracks.raw import NOT_A_TIME
from towzone.tracks.time_order import BACKWARD, CONFLICTING, KEPT, mark_duplicates, mark_order

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

READERS = {
    ".gpx": lambda path: read_tracks(path).tracks,
    ".plan": lambda path: read_lines(path).lines,
}
WAYPOINTS = b"line,name,lat,lon\nA,one,54 30.5N,8 10.5W\nA,two,54 31.5N,8 10.5W\nB,,54.5,8.1\nB,,54.6,8.1\n"

slow = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def answers_or_refuses(data: bytes, name: str) -> None:
    """Anything else than a file or an InputError, and the test fails with it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        refusal: InputError | None = None
        try:
            found = READERS.get(path.suffix, lambda path: read_zones(path).zones)(str(path))
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
@given(st.sampled_from([TRACK, WAYPOINTS]).flatmap(mutated))
def test_a_mutated_plan(data: bytes) -> None:
    answers_or_refuses(data, "a.plan")


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


def _turn(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> int:
    """Which side of the line a to b the point c lies on, exactly (whole numbers)."""
    value = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return (value > 0) - (value < 0)


def _between(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> bool:
    """Whether c lies on the segment a b, given that the three are on one line."""
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def _clash(p: list[tuple[int, int]], q: list[tuple[int, int]]) -> bool:
    """Whether two segments cross inside both, or run along each other for a stretch."""
    turns = (_turn(*p, q[0]), _turn(*p, q[1]), _turn(*q, p[0]), _turn(*q, p[1]))
    if turns == (0, 0, 0, 0):
        shared = {c for c in q if _between(*p, c)} | {c for c in p if _between(*q, c)}
        return len(shared) > 1
    return turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0


grid_corners = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=3, max_size=7)


@settings(max_examples=400, deadline=None)
@given(grid_corners, st.integers(-180, 173), st.booleans(), st.integers(0, 6))
def test_a_ring_is_refused_exactly_when_its_edges_clash(
    corners: list[tuple[int, int]], shift: int, backwards: bool, start: int
) -> None:
    """Against whole-number geometry, wherever on the earth, either way round and from any corner."""
    ring = [corner for i, corner in enumerate(corners) if corner != corners[i - 1]]
    edges = [[corner, ring[(i + 1) % len(ring)]] for i, corner in enumerate(ring)]
    flat = len(set(ring)) < 3 or all(
        _turn(ring[0], next(c for c in ring if c != ring[0]), c) == 0 for c in ring
    )
    bad = flat or any(_clash(p, q) for p, q in combinations(edges, 2))
    written = corners[start % len(corners) :] + corners[: start % len(corners)]
    written = written[::-1] if backwards else written
    degrees = [((x + shift + 180) % 360 - 180, y) for x, y in written]
    shape = Shape(polygons=((freeze(degrees),),))
    assert bool(shape_faults(shape, LineKind.LONLAT)) == bad
