"""Rectangles: published places, every code there and back, sides that belong to one rectangle only."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference_rows import Row, rows

from towzone.errors import GeometryError, UsageError
from towzone.grids import gfcm, ices
from towzone.grids.cells import Bounds
from towzone.grids.gfcm import GFCM
from towzone.grids.ices import ICES

GRIDS = {"ices": ICES, "gfcm": GFCM}


@pytest.mark.parametrize("row", rows("rectangles.csv", place=["south-west corner"]))
def test_published_corners(row: Row) -> None:
    bounds = GRIDS[row.inputs["grid"]].bounds(row.inputs["code"])
    assert (bounds.west_deg, bounds.south_deg) == (row.number("lon_deg"), row.number("lat_deg"))


@pytest.mark.parametrize("row", rows("rectangles.csv", place=["south-west corner", "inside"]))
def test_published_places(row: Row) -> None:
    grid = GRIDS[row.inputs["grid"]]
    assert grid.at(row.number("lon_deg"), row.number("lat_deg")).item() == row.expected


@pytest.mark.parametrize(
    ("module", "count", "edges"),
    [(ices, 11_187, (-44.0, 36.0, 69.0, 85.5)), (gfcm, 3_360, (-6.0, 30.0, 42.0, 47.5))],
)
def test_every_code_there_and_back(module, count: int, edges: tuple[float, ...]) -> None:
    """South-west corner, middle and the last position before the north-east corner are in the rectangle."""
    codes = list(module.all_codes())
    assert len(set(codes)) == len(codes) == count
    bounds = [module.rectangle_bounds(code) for code in codes]
    west, south, east, north = (
        np.array([getattr(b, name) for b in bounds])
        for name in ("west_deg", "south_deg", "east_deg", "north_deg")
    )
    for lon, lat in (
        (west, south),
        ((west + east) / 2, (south + north) / 2),
        (np.nextafter(east, -999.0), np.nextafter(north, -999.0)),
    ):
        assert module.rectangle_at(lon, lat).tolist() == codes
    assert (west.min(), south.min(), east.max(), north.max()) == edges


def test_codes_name_rows_and_columns_independently() -> None:
    """An own walk over the letters: ten degrees each from 40 W, A before them, I left out."""
    letters = [
        ("A", -44, 4),
        *((letter, -40 + 10 * i, 10) for i, letter in enumerate("BCDEFGHJKL")),
        ("M", 60, 9),
    ]
    expected = {
        f"{row:02d}{letter}{digit}": (west + digit, 36 + (row - 1) / 2)
        for row in range(1, 100)
        for letter, west, count in letters
        for digit in range(count)
    }
    found = {code: ices.rectangle_bounds(code) for code in ices.all_codes()}
    assert {code: (b.west_deg, b.south_deg) for code, b in found.items()} == expected


@pytest.mark.parametrize(
    "code", ["00F1", "37A4", "37A9", "37I0", "37M9", "100F0", "F337", "3F7", "37N0", "", "37F", "37Ｆ3"]
)
def test_codes_that_do_not_exist_are_named(code: str) -> None:
    with pytest.raises(UsageError, match=f"'{code}'"):
        ices.rectangle_bounds(code)


@pytest.mark.parametrize("code", ["M35A0", "M00J6", "M00K0", "M1B2", "37F3", "B9M27"])
def test_codes_of_the_other_grid_are_named(code: str) -> None:
    with pytest.raises(UsageError, match=f"'{code}'"):
        gfcm.rectangle_bounds(code)


def test_turned_round_codes_are_suggested() -> None:
    with pytest.raises(UsageError, match="the row comes first; is '37F3' meant"):
        ices.rectangle_bounds("F337")


def test_sub_rectangles_are_refused_with_a_reason() -> None:
    with pytest.raises(UsageError, match="'45G05' has a digit for a sub-rectangle"):
        ices.rectangle_bounds("45G05")


def test_outside_the_grid_is_no_rectangle() -> None:
    lon = [-44.0001, 69.0, 0.0, 0.0, 180.0, -180.0]
    lat = [50.0, 50.0, 35.9999, 85.5, 60.0, 60.0]
    assert ices.rectangle_at(lon, lat).tolist() == [""] * 6


def test_longitudes_of_another_turn_are_the_same_place() -> None:
    assert ices.rectangle_at([363.5, -356.5], 54.25).tolist() == ["37F3", "37F3"]


def test_the_smallest_step_west_of_greenwich_is_west() -> None:
    """Adding 44 to -1e-300 would lose it."""
    assert ices.rectangle_at([-1e-300, -0.0, 0.0], 60.25).tolist() == ["49E9", "49F0", "49F0"]
    assert gfcm.rectangle_at([-1e-300, 0.0], 40.25).tolist() == ["M20B1", "M20B2"]


@pytest.mark.parametrize("position", [(np.nan, 50.0), (0.0, np.inf)])
def test_positions_that_are_not_finite_are_refused(position: tuple[float, float]) -> None:
    with pytest.raises(GeometryError, match="not finite"):
        ices.rectangle_at(*position)


def test_shapes_broadcast() -> None:
    assert ices.rectangle_at(np.zeros((2, 1)), np.full((1, 3), 60.0)).shape == (2, 3)
    assert ices.rectangle_at(3.0, 54.0).shape == ()


@given(st.floats(-44.0, 68.99), st.floats(36.0, 85.49))
def test_a_position_lies_within_the_sides_of_its_rectangle(lon: float, lat: float) -> None:
    bounds = ices.rectangle_bounds(ices.rectangle_at(lon, lat).item())
    assert isinstance(bounds, Bounds)
    assert bounds.west_deg <= lon < bounds.east_deg
    assert bounds.south_deg <= lat < bounds.north_deg
