"""Compiled cuts of edges against the column functions of lines, one edge at a time."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import edges

from towzone.errors import GeometryError
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.lines import LineKind, inverse, points_along
from towzone.geodesy.pieces import cut, whole_edges

SEED = 20260711
LONGEST_DEG = 30.0


def drawn(rng, count):
    """Edges everywhere, of all lengths from centimetres on, some along parallels and meridians."""
    start = np.column_stack([rng.uniform(-180.0, 180.0, count), rng.uniform(-80.0, 80.0, count)])
    step = 10.0 ** rng.uniform(-7.0, np.log10(LONGEST_DEG), (count, 2)) * rng.choice([-1.0, 1.0], (count, 2))
    step[::5, 0], step[1::5, 1] = 0.0, 0.0
    step[2::5, 1] *= 1e-6
    end = start + step
    end[:, 1] = np.clip(end[:, 1], -88.9, 88.9)
    return np.hstack([start, end])


@pytest.mark.parametrize("kind", LineKind)
def test_pieces_begin_and_end_where_the_line_runs(kind):
    rows = drawn(np.random.default_rng([SEED, len(kind)]), 300)
    found = cut(edges(rows, np.arange(300), kind))

    ends = rows[found.edge].T
    for part, points_m in ((found.from_part, found.start_m), (found.to_part, found.end_m)):
        wanted_m = to_geocentric(*points_along(kind, *ends, part))
        np.testing.assert_allclose(points_m, wanted_m, rtol=0, atol=1e-6)
    assert (found.start_m[1:][np.diff(found.edge) == 0] == found.end_m[:-1][np.diff(found.edge) == 0]).all()


@pytest.mark.parametrize("kind", LineKind)
def test_boxes_of_whole_edges_hold_all_of_them(kind):
    rows = drawn(np.random.default_rng([SEED + 1, len(kind)]), 300)
    found = whole_edges(edges(rows, np.arange(300), kind))

    length_m, _ = inverse(kind, *rows.T)
    assert (found.swell_m >= length_m / 2.0).all()
    low = np.minimum(found.start_m, found.end_m) - found.swell_m[:, None]
    high = np.maximum(found.start_m, found.end_m) + found.swell_m[:, None]
    for part in np.linspace(0.0, 1.0, 21):
        point_m = to_geocentric(*points_along(kind, *rows.T, part))
        assert ((low <= point_m) & (point_m <= high)).all()


@pytest.mark.parametrize("kind", LineKind)
@pytest.mark.parametrize("make", [cut, whole_edges])
@pytest.mark.parametrize(
    ("row", "words"),
    [
        ((0.0, 10.0, 180.0, 20.0), "exactly 180"),
        ((0.0, 0.0, 120.0, 0.0), "longer than"),
        ((0.0, 0.0, 1.0, 89.5), "latitude"),
        ((0.0, 0.0, np.nan, 1.0), "finite"),
        ((np.inf, 0.0, 1.0, 1.0), "finite"),
    ],
)
def test_edges_that_cannot_be_measured_are_refused(kind, make, row, words):
    some = edges(np.array([(5.0, 50.0, 5.1, 50.0), row]), np.arange(2), kind)
    with pytest.raises(GeometryError, match=words):
        make(some)
