"""A GeoPackage looked over with SQLite alone before the vector library opens it.

Damaged table definitions make that library crash, and it would list tables that hold no zones; SQLite
checks the whole file, page by page, in memory and without touching what lies on the disk.

References
----------
OGC 12-128, GeoPackage Encoding Standard: the tables gpkg_contents and gpkg_geometry_columns.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from towzone.errors import quoted

__all__ = ["GeoPackageError", "GeoPackageTables", "geopackage_tables"]

_WAL_FLAGS = slice(18, 20)
"""Bytes that say whether a write-ahead log goes with the file; published: SQLite file format, 1.3."""
_OTHER_CONTENT = ("attributes", "tiles", "2d-gridded-coverage")


class GeoPackageError(ValueError):
    """The file is damaged or not a GeoPackage; the message says how."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GeoPackageTables:
    """Names of the tables with features, and of those that hold something else."""

    features: tuple[str, ...]
    others: tuple[str, ...]


def geopackage_tables(data: bytes, path: str) -> GeoPackageTables:
    """Return the tables of a GeoPackage after checking that the whole file is sound.

    Parameters
    ----------
    data : bytes
        Content of the file.
    path : str
        Where it lies; only looked at for a write-ahead log beside it.

    Raises
    ------
    GeoPackageError
        Damaged, cut off, without the tables of the standard, tables that contradict each other, or
        changes of another program still waiting in a write-ahead log.
    """
    log = Path(f"{path}-wal")
    if log.exists() and log.stat().st_size:
        message = (
            "another program has not finished writing the GeoPackage (there is a -wal file); close it first"
        )
        raise GeoPackageError(message)
    image = bytearray(data)
    image[_WAL_FLAGS] = b"\x01\x01"  # a copy in memory has no log
    try:
        with closing(sqlite3.connect(":memory:")) as database:
            database.deserialize(bytes(image))
            return _tables(database)
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise _damaged(quoted(str(error))) from error


def _damaged(said: str) -> GeoPackageError:
    return GeoPackageError(f"the GeoPackage is damaged: {said}. Export it again")


def _tables(database: sqlite3.Connection) -> GeoPackageTables:
    database.execute("SELECT name, sql FROM sqlite_master").fetchall()  # fails over names that are no text
    (verdict,) = database.execute("PRAGMA integrity_check(1)").fetchone()
    if verdict != "ok":
        raise _damaged(quoted(str(verdict)))
    contents = dict(database.execute("SELECT table_name, data_type FROM gpkg_contents"))
    with_geometry = {name for (name,) in database.execute("SELECT table_name FROM gpkg_geometry_columns")}
    features = tuple(name for name, kind in contents.items() if kind == "features")
    for name, kind in contents.items():
        if kind != "features" and kind not in _OTHER_CONTENT:
            message = f"table {quoted(name)} has content of unknown type {quoted(kind)}"
            raise _damaged(message)
    if odd := with_geometry.symmetric_difference(features):
        message = f"table {quoted(min(odd, key=str))} is listed as features in one place only"
        raise _damaged(message)
    return GeoPackageTables(
        features=features, others=tuple(name for name in contents if name not in features)
    )
