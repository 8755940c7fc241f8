"""Statistical rectangles of the Mediterranean and Black Sea: half a degree by half a degree.

References
----------
Commission Implementing Regulation (EU) No 404/2011, Annex X: five characters, latitude M00 (30 N) to M34
(47 30 N) and longitude A0 (6 W) to J5 (42 E), letters A to J with digits 0 to 9. The letter I is used.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy.typing as npt

from towzone.grids.cells import Bounds, CodeArray, CodeGrid

__all__ = ["GFCM", "all_codes", "rectangle_at", "rectangle_bounds"]

GFCM = CodeGrid(
    name="GFCM grid",
    west_deg=-6.0,
    south_deg=30.0,
    columns_per_deg=2,
    rows_per_deg=2,
    rows=tuple(f"M{row:02d}" for row in range(35)),
    columns=tuple(f"{letter}{digit}" for letter in "ABCDEFGHIJ" for digit in range(10))[:96],
    row_form="M[0-9]{2}",
    column_form="[A-Z][0-9]",
    example="M27B9",
    hint="rows are M00 to M34, columns A0 to J5",
)
"""35 rows by 96 columns, 3 360 rectangles, from 30 N to 47 30 N and from 6 W to 42 E."""


def rectangle_bounds(code: str) -> Bounds:
    """Return the sides of a rectangle.

    Raises
    ------
    UsageError
        Not a code of the grid.

    Examples
    --------
    >>> rectangle_bounds("M27B9")
    Bounds(west_deg=3.5, south_deg=43.5, east_deg=4.0, north_deg=44.0)
    """
    return GFCM.bounds(code)


def rectangle_at(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> CodeArray:
    """Return the code of the rectangle that holds each position, empty text outside the grid.

    South and west sides belong to a rectangle, north and east sides to its neighbours.

    Examples
    --------
    >>> rectangle_at([3.6, -7.0], [43.7, 40.0]).tolist()
    ['M27B9', '']
    """
    return GFCM.at(lon_deg, lat_deg)


def all_codes() -> Iterator[str]:
    """Yield all 3 360 codes, row by row from the south."""
    return GFCM.codes()
