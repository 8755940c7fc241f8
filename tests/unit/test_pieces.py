"""Pieces against independent points of the same lines: never more than a millimetre aside."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import GEOD, Lines, distance_to_line, meridian_arc_m
from scenes import around, edges, line, moved
from strategies import _random_edges, wrapped

from towzone.errors import GeometryError
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import LONGEST_PIECE_M, Pieces, cut, cut_legs, leg_lengths, outline
from towzone.geodesy.shape import Shape, freeze

SEED = 20260313
EDGES = 30
MILLIMETRE = 0.001


def random_lines(kind, n=EDGES):
    rng = np.random.default_rng(SEED)
    none = {name: np.zeros(n, dtype=bool) for name in ("point edge",)}
    family = np.arange(n) % 5
    is_ = none | {
        "across 180": family == 1,
        "high latitude": family == 2,
        "on a meridian": family == 3,
        "on a parallel": family == 4,
    }
    lines = _random_edges(rng, str(kind), n, is_)
    # Half of them as high as this tool goes in its promises.
    high = np.arange(n) % 5 == 2
    return Lines.between(
        str(kind), lines.lon0, np.where(high, np.sign(lines.lat0) * 85.0, lines.lat0), lines.lon1, lines.lat1
    )


def sideways_m(point, a, b):
    """How far points lie from the plane through a chord and the earth's centre: aside, not above."""
    across = np.cross(a, b)
    across /= np.sqrt((across**2).sum(axis=-1))[..., None]
    return np.abs((point * across).sum(axis=-1))


def line_points(lines, index, u):
    lon, lat, _, _ = lines.take(index).at(u)
    return to_geocentric(lon, lat)


@pytest.mark.parametrize("kind", list(LineKind))
def test_the_true_line_keeps_within_a_millimetre_of_its_pieces(kind):
    """Independent points (oracles) between the ends of every piece.

    A piece's own plane through the earth's centre differs from the normal section by under
    length**2 / 8 R * 0.0034 (the angle between vertical and radius), 0.07 mm for 1 km.
    """
    lines = random_lines(kind)
    pieces = cut(edges(np.column_stack([lines.lon0, lines.lat0, lines.lon1, lines.lat1]), range(EDGES), kind))
    inner = (0.25, 0.5, 0.8)
    worst = 0.0
    for share in inner:
        part = pieces.from_part + share * (pieces.to_part - pieces.from_part)
        u = lines.take(pieces.edge).parameter(part) if str(kind) != "rhumb" else rhumb_u(lines, pieces, part)
        aside = sideways_m(line_points(lines, pieces.edge, u), pieces.start_m, pieces.end_m)
        worst = max(worst, float(aside.max()))
    print(f"\n{kind}: {len(pieces)} pieces, worst {1000 * worst:.3f} mm aside")
    assert worst <= MILLIMETRE + 0.0001
    length_m = np.sqrt(((pieces.end_m - pieces.start_m) ** 2).sum(axis=1))
    assert length_m.max() <= LONGEST_PIECE_M * 1.001


def rhumb_u(lines, pieces, part):
    """Fraction of latitude for a fraction of length, by the oracle's own meridian arc, linear in between."""
    u = np.empty(len(part))
    for number in np.unique(pieces.edge):
        mine = pieces.edge == number
        grid = np.linspace(0.0, 1.0, 65)
        one = lines.take(np.full(65, number))
        fraction = np.array([0.0, 1.0])
        if one.lat0[0] != one.lat1[0]:
            arcs = meridian_arc_m(one.lat0, one.lat0 + (one.lat1 - one.lat0) * grid)
            fraction = arcs / arcs[-1]
            u[mine] = np.interp(part[mine], fraction, grid)
        else:
            u[mine] = part[mine]
    return u


@pytest.mark.parametrize("kind", list(LineKind))
def test_no_point_of_the_line_is_farther_from_its_chord_than_the_swell(kind):
    lines = random_lines(kind)
    pieces = cut(edges(np.column_stack([lines.lon0, lines.lat0, lines.lon1, lines.lat1]), range(EDGES), kind))
    for share in (0.3, 0.5):
        part = pieces.from_part + share * (pieces.to_part - pieces.from_part)
        u = lines.take(pieces.edge).parameter(part) if str(kind) != "rhumb" else rhumb_u(lines, pieces, part)
        point = line_points(lines, pieces.edge, u)
        chord = pieces.end_m - pieces.start_m
        t = ((point - pieces.start_m) * chord).sum(1) / np.maximum((chord**2).sum(1), 1e-18)
        foot = pieces.start_m + np.clip(t, 0.0, 1.0)[:, None] * chord
        assert (np.sqrt(((point - foot) ** 2).sum(1)) <= pieces.swell_m).all()


@pytest.mark.parametrize("kind", list(LineKind))
def test_pieces_of_one_edge_join_and_begin_and_end_at_its_corners(kind):
    lines = random_lines(kind)
    pieces = cut(edges(np.column_stack([lines.lon0, lines.lat0, lines.lon1, lines.lat1]), range(EDGES), kind))
    same = np.flatnonzero(np.diff(pieces.edge) == 0)
    assert (pieces.end_m[same] == pieces.start_m[same + 1]).all()
    assert (pieces.to_part[same] == pieces.from_part[same + 1]).all()
    first = np.searchsorted(pieces.edge, np.arange(EDGES))
    last = np.searchsorted(pieces.edge, np.arange(EDGES), side="right") - 1
    np.testing.assert_array_equal(pieces.start_m[first], to_geocentric(lines.lon0, lines.lat0))
    np.testing.assert_array_equal(pieces.end_m[last], to_geocentric(lines.lon1, lines.lat1))


def test_leg_lengths_are_geodesics_to_a_tenth_of_a_millimetre():
    """From no length at all to 2000 km, across 180 degrees and at 85 degrees."""
    rng = np.random.default_rng(SEED)
    lon, lat = [179.99], [84.0]
    for _ in range(400):
        x, y, _ = GEOD.fwd(lon[-1], lat[-1], rng.uniform(0, 360), 10.0 ** rng.uniform(-3.0, 6.3))
        lon.append(wrapped(x))
        lat.append(float(np.clip(y, -85.0, 85.0)))
    lon, lat = np.array([*lon, lon[-1]]), np.array([*lat, lat[-1]])
    wanted = np.asarray(GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2])
    np.testing.assert_allclose(leg_lengths(lon, lat), wanted, rtol=0, atol=1e-4)


@pytest.mark.parametrize("kind", list(LineKind))
def test_an_outline_drawn_straight_in_degrees_is_true_to_a_metre(kind):
    """The middle of every drawn stretch against dense points of the line itself."""
    corners = [(-179.0, 60.0), (176.0, 61.0), (175.0, 66.0), (-178.0, 64.0)]
    shape = Shape(polygons=((freeze(corners),),))
    (dense, closed), *_ = outline(shape, kind)
    assert closed
    assert np.abs(np.diff(dense[:, 0])).max() < 10.0, "longitudes continue without a jump"
    after = np.roll(dense, -1, axis=0)
    middles = (dense + after)[:-1] / 2.0
    middles = middles[:: max(1, len(middles) // 40)]
    near = np.full(len(middles), np.inf)
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        side = Lines.between(str(kind), *(np.full(len(middles), c) for c in (*start, *end)))
        near = np.minimum(near, distance_to_line(side, wrapped(middles[:, 0]), middles[:, 1]))
    assert near.max() <= 1.0


def test_a_lone_point_and_a_line_keep_their_corners_in_an_outline():
    shape = Shape(lines=line((0.0, 0.0), (0.0, 1.0)).lines, points=freeze([(5.0, 5.0)]))
    drawn = outline(shape, LineKind.RHUMB)
    assert [closed for _, closed in drawn] == [False, False]
    np.testing.assert_array_equal(drawn[0][0], [(0.0, 0.0), (0.0, 1.0)])
    np.testing.assert_array_equal(drawn[1][0], [(5.0, 5.0)])


def test_short_edges_are_one_piece_each():
    ring = np.array(around((10.0, 60.0), 2.0, corners=30))
    rows = np.hstack([ring, np.roll(ring, -1, axis=0)])
    assert len(cut(edges(rows, np.zeros(30)))) == 30
    far = moved((10.0, 60.0), 40.0, 10_000.0)
    assert len(cut(edges([(10.0, 60.0, *far)], [0]))) >= 10


def string_of_fixes(rng, count, step_deg):
    """Positions around 180 degrees, some of them twice, the steps of very different lengths."""
    steps = rng.normal(0.0, step_deg, (count, 2)) * 10.0 ** rng.uniform(-4.0, 0.0, (count, 1))
    steps[rng.random(count) < 0.1] = 0.0
    lon, lat = np.cumsum(steps, axis=0).T
    return wrapped(180.0 + lon), 52.0 + lat


@pytest.mark.parametrize("counts", [(60,), (1,), (2, 1, 40, 1, 1, 7)])
@pytest.mark.parametrize("step_deg", [0.001, 0.05, 0.6])
def test_legs_of_strings_are_cut_like_edges_one_by_one(counts, step_deg):
    """Short legs, legs of many pieces and over 20 km, lone positions; `cut` takes every leg by itself."""
    lon, lat = string_of_fixes(np.random.default_rng(SEED), sum(counts), step_deg)
    owner = np.arange(len(counts)) // 2
    ends, owners, begin = [], [], 0
    for number, count in enumerate(counts):
        ends += [(begin + k, begin + min(k + 1, count - 1)) for k in range(max(count - 1, 1))]
        owners += [owner[number]] * max(count - 1, 1)
        begin += count
    first, last = np.array(ends).T

    got = cut_legs(lon, lat, np.array(counts), owner)

    wanted = cut(edges(np.stack([lon[first], lat[first], lon[last], lat[last]], axis=1), owners))
    np.testing.assert_array_equal(got.edge, first[wanted.edge])
    for name in set(Pieces.__slots__) - {"edge"}:
        np.testing.assert_allclose(getattr(got, name), getattr(wanted, name), rtol=0, atol=1e-8)


@pytest.mark.parametrize(("lon", "lat"), [(np.nan, 1.0), (1.0, np.nan), (np.inf, 1.0), (1.0, 89.5)])
@pytest.mark.parametrize("place", [0, 3, 5])
@pytest.mark.parametrize("counts", [(5, 1), (6,)])
def test_a_position_that_no_line_may_have_is_refused_wherever_it_stands(lon, lat, place, counts):
    """A piece without a place would be far from everything; also where only one leg of many is bad."""
    lons, lats = np.linspace(5.0, 5.001, 6), np.full(6, 54.0)
    lons[place], lats[place] = lon, lat
    with pytest.raises(GeometryError):
        cut_legs(lons, lats, np.array(counts), np.arange(len(counts)))


def test_a_leg_that_is_too_long_is_refused():
    with pytest.raises(GeometryError, match="km"):
        cut_legs(np.array([0.0, 0.001, 100.0]), np.zeros(3), np.array([3]), np.array([0]))


@pytest.mark.parametrize("counts", [(3, 2), (0, 4), (2,)])
def test_positions_without_a_string_are_refused(counts):
    """A position left out of the pieces would be passed over unseen."""
    with pytest.raises(ValueError, match="string"):
        cut_legs(np.zeros(4), np.zeros(4), np.array(counts), np.zeros(len(counts), dtype=np.int64))


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_positions_have_no_legs(count):
    assert leg_lengths(np.zeros(count), np.zeros(count)).shape == (0,)
    assert len(cut_legs(np.zeros(count), np.zeros(count), np.ones(count, int), np.zeros(count, int))) == count


def test_the_length_of_a_leg_without_a_place_is_no_number():
    """And never a number that passes for near or far."""
    lengths = leg_lengths(np.array([0.0, np.nan, 0.2, 0.3]), np.array([0.0, 0.0, np.nan, 0.0]))
    assert np.isnan(lengths).all()
