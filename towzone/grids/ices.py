"""Statistical rectangles of the North-East Atlantic: half a degree of latitude by one of longitude.

References
----------
ICES, "ICES statistical rectangles" (after C.M. 1977/Gen:3): rows 01 to 99 from 36 00 N, columns A0 (44 W) to
M8, named by letter and digit, no letter I, nothing between A3 and B0.
Commission Implementing Regulation (EU) No 404/2011, Annex X: the codes as logbooks carry them.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy.typing as npt

from towzone.grids.cells import Bounds, CodeArray, CodeGrid

__all__ = ["ICES", "all_codes", "rectangle_at", "rectangle_bounds"]

_COLUMNS = (
    *(f"A{digit}" for digit in range(4)),
    *(f"{letter}{digit}" for letter in "BCDEFGHJKL" for digit in range(10)),
    *(f"M{digit}" for digit in range(9)),
)

ICES = CodeGrid(
    name="ICES grid",
    west_deg=-44.0,
    south_deg=36.0,
    columns_per_deg=1,
    rows_per_deg=2,
    rows=tuple(f"{row:02d}" for row in range(1, 100)),
    columns=_COLUMNS,
    row_form="[0-9]{2}",
    column_form="[A-Z][0-9]",
    example="37F3",
    hint="rows are 01 to 99, columns A0 to A3, B0 to M8 without the letter I",
)
"""99 rows by 113 columns, 11 187 rectangles, from 36 00 N to 85 30 N and from 44 W to 69 E."""


def rectangle_bounds(code: str) -> Bounds:
    """Return the sides of a rectangle.

    Raises
    ------
    UsageError
        Not a code of the grid.

    Examples
    --------
    >>> rectangle_bounds("37F3")
    Bounds(west_deg=3.0, south_deg=54.0, east_deg=4.0, north_deg=54.5)
    """
    return ICES.bounds(code)


def rectangle_at(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> CodeArray:
    """Return the code of the rectangle that holds each position, empty text outside the grid.

    South and west sides belong to a rectangle, north and east sides to its neighbours: an own choice, as
    no published rule was found.

    Examples
    --------
    >>> rectangle_at([10.55, 0.0, -60.0], [58.2, 60.0, 58.0]).tolist()
    ['45G0', '49F0', '']
    """
    return ICES.at(lon_deg, lat_deg)


def all_codes() -> Iterator[str]:
    """Yield all 11 187 codes, row by row from the south."""
    return ICES.codes()
