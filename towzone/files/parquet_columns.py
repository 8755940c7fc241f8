"""Columns of a Parquet table as numpy columns: by their types where these are clear, else as text.

References
----------
Apache Arrow columnar format (types); GeoParquet 1.1 (points in WKB or as structures of x and y, longitude
first); OGC 06-103r4, Simple Feature Access (WKB).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_columns import Column
from towzone.files.datum import DatumError, is_wgs84
from towzone.tracks.raw import NOT_A_TIME

if TYPE_CHECKING:
    import pyarrow as pa

__all__ = ["Names", "is_text", "names_in", "numbers_in", "point_column", "points_in", "texts_in", "times_in"]

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_WKB_POINT = 21
"""Bytes of a point of two coordinates in WKB: byte order, type, x, y."""
_LITTLE_POINT = b"\x01\x01\x00\x00\x00"
_US = {"s": (1_000_000, 1), "ms": (1_000, 1), "us": (1, 1), "ns": (1, 1_000)}
"""Microseconds in one unit of a type of instants, and units in one microsecond."""
_EARLIEST_US, _LATEST_US = 315_964_800_000_000, 4_102_444_800_000_000
"""As for numbers counted from 1970 in text (`towzone.files.csv_epochs`): 1980-01-06 to 2100."""


class Names:
    """The vessels of some rows.

    Parameters
    ----------
    names : list of str
        Without blanks around them, empty where there is none.
    code : ndarray of int64, shape (n,)
        Of each row, its place in ``names``.
    """

    __slots__ = ("code", "names")

    def __init__(self, names: list[str], code: IntArray) -> None:
        self.names, self.code = names, code


def is_text(column: Any) -> bool:
    """Return whether an Arrow column holds text, encoded by a dictionary or not."""
    import pyarrow as pa

    kind = column.type.value_type if pa.types.is_dictionary(column.type) else column.type
    return bool(
        pa.types.is_string(kind)
        or pa.types.is_large_string(kind)
        or pa.types.is_string_view(kind)
        or pa.types.is_null(kind)
    )


def texts_in(column: Any) -> list[str]:
    """Return the cells of a column as text, empty where there is nothing."""
    import pyarrow as pa

    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    if not is_text(column):
        column = column.cast(pa.string())
    return ["" if cell is None else cell for cell in column.to_pylist()]


def numbers_in(column: Any, file: str, name: str) -> FloatArray:
    """Return a column of numbers, ``NaN`` where there is none.

    Raises
    ------
    InputError
        It is of another type.
    """
    import pyarrow as pa

    kind = column.type
    if pa.types.is_float64(kind) or pa.types.is_float32(kind) or pa.types.is_integer(kind):
        return _float64(column)
    if pa.types.is_decimal(kind):
        return _float64(column.cast(pa.float64()))
    raise _unread(file, name, f"holds {kind}, where numbers of 32 bits or more are read")


def _float64(column: Any) -> FloatArray:
    return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.float64)


def times_in(column: Any, column_of: Column, file: str) -> tuple[IntArray, bool]:
    """Return the instants of a column that is no text, microseconds since 1970, and whether they are UTC.

    Parameters
    ----------
    column : Arrow array
    column_of : Column
        What its name says.
    file : str

    Returns
    -------
    ndarray of int64, shape (n,)
        Rounded down, `NOT_A_TIME` where there is none.
    bool
        False: as some clock shows them, of a zone that is not stated.

    Raises
    ------
    InputError
        Numbers without a unit in the name of the column, or of another type.
    """
    import pyarrow as pa

    kind, name = column.type, column_of.name
    known = ~np.asarray(column.is_null(nan_is_null=True).to_numpy(zero_copy_only=False), dtype=bool)
    if pa.types.is_timestamp(kind):
        times, per = _US[kind.unit]
        units = np.asarray(column.cast(pa.int64()).fill_null(0).to_numpy(zero_copy_only=False))
        far = np.iinfo(np.int64).max // times
        # Not by their size: the least whole number has none that fits.
        if ((units > far) | (units < -far)).any():
            raise _unread(file, name, "holds times beyond the year 200 000")
        return np.where(known, units * times // per, NOT_A_TIME), kind.tz is not None
    if not (pa.types.is_integer(kind) or pa.types.is_float32(kind) or pa.types.is_float64(kind)):
        raise _unread(file, name, f"holds {kind}, where times are timestamps, text, or numbers with a unit")
    if not column_of.words.unit_us:
        message = (
            "holds numbers, and its name does not say what of; name it epoch_s, epoch_ms or epoch_us if they"
            " are counted from 1970 UTC, or write timestamps"
        )
        raise _unread(file, name, message)
    if pa.types.is_float32(kind):
        raise _unread(file, name, "holds numbers of single precision, which tell minutes at best")
    if pa.types.is_integer(kind):
        units = _whole_numbers(column)
        # Cut off where it is late enough to be refused, before it is too large to be multiplied.
        latest = -(-_LATEST_US // column_of.words.unit_us)
        time_us = np.clip(units, -latest, latest) * column_of.words.unit_us
    else:
        numbers = np.where(known, _float64(column), 0.0) * column_of.words.unit_us
        time_us = np.clip(np.round(numbers), -_LATEST_US, _LATEST_US).astype(np.int64)
    outside = known & ((time_us < _EARLIEST_US) | (time_us >= _LATEST_US))
    if outside.any():
        row = int(np.flatnonzero(outside)[0])
        first = quoted(str(column[row].as_py()))
        raise _unread(
            file, name, f"holds {first}, which in the unit of its name is before 1980 or after 2099"
        )
    return np.where(known, time_us, NOT_A_TIME), True


def _whole_numbers(column: Any) -> IntArray:
    """Return a column of whole numbers, 0 where there is none, the greatest for what is greater still."""
    import pyarrow as pa

    numbers = column.fill_null(0).to_numpy(zero_copy_only=False)
    if pa.types.is_uint64(column.type):
        numbers = np.minimum(numbers, np.uint64(np.iinfo(np.int64).max))
    return np.asarray(numbers).astype(np.int64)


def names_in(column: Any, file: str, name: str) -> Names:
    """Return the vessels of a column of names or whole numbers, in order of their first rows.

    Raises
    ------
    InputError
        The column is of another type.
    """
    import pyarrow as pa

    kind = column.type
    if pa.types.is_floating(kind) and not pa.types.is_float16(kind):
        # Programs that have no empty whole number write them so.
        numbers = _float64(column)
        if not (np.isnan(numbers) | (numbers == np.floor(numbers))).all():
            raise _unread(file, name, "holds numbers that are not whole, which name no vessel")
        column = pa.array(np.where(np.isnan(numbers), 0.0, numbers).astype(np.int64), mask=np.isnan(numbers))
        kind = column.type
    if not (is_text(column) or pa.types.is_integer(kind) or pa.types.is_dictionary(kind)):
        raise _unread(file, name, f"holds {kind}, where vessels are named by text or whole numbers")
    if pa.types.is_null(kind):
        return Names([""] * bool(len(column)), np.zeros(len(column), dtype=np.int64))
    if not pa.types.is_dictionary(kind):
        column = column.dictionary_encode()
    texts = ["" if cell is None else str(cell).strip() for cell in column.dictionary.to_pylist()]
    filled = column.indices.cast(pa.int64()).fill_null(len(texts))
    index = np.asarray(filled.to_numpy(zero_copy_only=False), dtype=np.int64)
    texts.append("")
    first = np.full(len(texts), len(index), dtype=np.int64)
    first[index[::-1]] = np.arange(len(index) - 1, -1, -1)
    numbers_of: dict[str, int] = {}
    code_of = np.zeros(len(texts), dtype=np.int64)
    for place in np.argsort(first, kind="stable").tolist():
        if first[place] < len(index):
            code_of[place] = numbers_of.setdefault(texts[place], len(numbers_of))
    return Names(list(numbers_of), code_of[index])


def point_column(schema: pa.Schema, file: str) -> str:
    """Return the name of the column of points of a GeoParquet table, empty where there is none.

    Raises
    ------
    InputError
        Its positions are not on WGS 84, or it holds something else than points.
    """
    metadata = schema.metadata or {}
    if b"geo" not in metadata:
        return ""
    try:
        geo = json.loads(metadata[b"geo"])
        name = geo["primary_column"]
        told = geo["columns"][name]
    except (ValueError, KeyError, TypeError) as error:
        message = "its geo metadata cannot be understood; write it again, or give columns lat and lon"
        raise InputError(file, [Problem("", message)]) from error
    if not isinstance(name, str) or name not in schema.names or not isinstance(told, Mapping):
        message = "its geo metadata name a column that is not there; give columns lat and lon"
        raise InputError(file, [Problem("", message)])
    _require_wgs84(told, file, name)
    if told.get("encoding") not in ("WKB", "point"):
        encoding = quoted(told.get("encoding"))
        raise _unread(file, name, f"has the encoding {encoding}; points are read as WKB or point")
    return name


def _require_wgs84(told: Mapping[str, Any], file: str, name: str) -> None:
    if "crs" not in told:
        return  # published: GeoParquet 1.1, then it is OGC:CRS84
    crs = told["crs"]
    try:
        known = crs is not None and is_wgs84(json.dumps(crs))
    except DatumError:
        known = False
    if not known:
        what = "an unknown system" if crs is None else "another system than longitude and latitude of WGS 84"
        raise _unread(file, name, f"has its points on {what}; convert them to WGS 84 (OGC:CRS84)")


def points_in(column: Any, file: str, name: str) -> tuple[FloatArray, FloatArray]:
    """Return longitudes and latitudes of points, ``NaN`` where there is none.

    Raises
    ------
    InputError
        Something in it is not a point.
    """
    import pyarrow as pa

    column = getattr(column, "storage", column)
    if pa.types.is_struct(column.type):
        known = np.asarray(column.is_valid().to_numpy(zero_copy_only=False), dtype=bool)
        axes = [_float64(column.field(axis)) for axis in ("x", "y")]
        return np.where(known, axes[0], np.nan), np.where(known, axes[1], np.nan)
    if not (pa.types.is_binary(column.type) or pa.types.is_large_binary(column.type)):
        raise _unread(file, name, f"holds {column.type}, where points are WKB")
    plain = _plain_points(column)
    return plain if plain is not None else _any_points(column, file, name)


def _plain_points(column: Any) -> tuple[FloatArray, FloatArray] | None:
    """Return points that are all of two coordinates in little-endian WKB, if that is what they are."""
    import pyarrow as pa

    if column.null_count or not len(column):
        return None
    wide = np.int64 if pa.types.is_large_binary(column.type) else np.int32
    _, offsets, data = column.buffers()
    at = np.frombuffer(offsets, dtype=wide)[column.offset : column.offset + len(column) + 1]
    if not (np.diff(at) == _WKB_POINT).all():
        return None
    cells = np.frombuffer(data, dtype=np.uint8)[at[0] : at[-1]].reshape(-1, _WKB_POINT)
    if not (cells[:, :5] == np.frombuffer(_LITTLE_POINT, dtype=np.uint8)).all():
        return None
    pairs = np.ascontiguousarray(cells[:, 5:]).view("<f8")
    return pairs[:, 0].astype(np.float64), pairs[:, 1].astype(np.float64)


def _any_points(column: Any, file: str, name: str) -> tuple[FloatArray, FloatArray]:
    import shapely

    try:
        found = shapely.from_wkb(np.array(column.to_pylist(), dtype=object))
    except shapely.errors.GEOSException as error:
        raise _unread(file, name, f"holds what is no WKB ({quoted(str(error))})") from error
    kinds = shapely.get_type_id(found)
    if not np.isin(kinds, (-1, 0)).all():
        raise _unread(file, name, "holds other shapes than points; one row is one position")
    # An empty point is no position; to ask for its coordinates is an error in some versions of GEOS.
    found[shapely.is_empty(found)] = None
    return shapely.get_x(found), shapely.get_y(found)


def _unread(file: str, name: str, message: str) -> InputError:
    return InputError(file, [Problem(f"column {quoted(name)}", message)])
