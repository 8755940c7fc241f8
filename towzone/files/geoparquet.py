"""GeoParquet through geopandas, where pyarrow is installed.

References
----------
OGC GeoParquet 1.1: the ``geo`` metadata; a column without ``crs`` is in longitude and latitude of WGS 84, one
with ``null`` is on an unknown system; ``edges`` is planar unless it says spherical.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from typing import Any

from towzone.errors import quoted
from towzone.files.datum import DatumError, is_degrees
from towzone.files.features import GeometryReader, Layer, RawFeature
from towzone.files.fiona_guard import damaged, plain_geometry, refused
from towzone.files.geojson import named

__all__ = ["read_geoparquet"]

_NAME = "GeoParquet file"


def read_geoparquet(data: bytes, path: str) -> Layer:
    """Return the features of the primary geometry column.

    Parameters
    ----------
    data : bytes
        Content of the file; nothing else is opened.
    path : str
        For messages.

    Raises
    ------
    InputError
        pyarrow is not installed, the file is damaged, or its table has no geometries.
    """
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        message = "reading GeoParquet needs pyarrow, which is not installed; install towzone[parquet]"
        raise refused(path, message) from error
    import geopandas

    try:
        metadata = pyarrow.parquet.read_schema(io.BytesIO(data)).metadata or {}
        frame = geopandas.read_parquet(io.BytesIO(data))
    except (pyarrow.ArrowException, ValueError, OSError, KeyError) as error:
        raise damaged(path, _NAME, str(error)) from error
    layer = Layer(crs=frame.crs.to_wkt() if frame.crs is not None else "")
    layer.remarks += _remarks(metadata, str(frame.geometry.name))
    try:
        reader = GeometryReader(degrees=not layer.crs or is_degrees(layer.crs))
    except DatumError as error:
        raise refused(path, str(error)) from error
    others = [name for name in frame.columns if frame[name].dtype != "geometry"]
    columns: dict[str, list[Any]] = {str(name): frame[name].tolist() for name in others}
    for number, geometry in enumerate(frame.geometry, start=1):
        properties = {name: values[number - 1] for name, values in columns.items()}
        where = named(f"feature {number}", properties)
        shape, problems = reader.read(plain_geometry(geometry), where)
        layer.problems += problems
        if shape is not None:
            layer.features.append(RawFeature(number=number, where=where, properties=properties, shape=shape))
    layer.remarks += [("", sentence) for sentence in reader.remarks()]
    return layer


def _remarks(metadata: Mapping[bytes, bytes], primary: str) -> list[tuple[str, str]]:
    """Return what the metadata says and a zone cannot."""
    columns = json.loads(metadata.get(b"geo", b"{}")).get("columns", {})
    remarks = [
        ("", f"geometry column {quoted(name)} is not read, only {quoted(primary)}")
        for name in columns
        if name != primary
    ]
    if columns.get(primary, {}).get("edges") == "spherical":
        message = "the file means great circles on a sphere between its corners; geodesic comes nearest"
        remarks.append(("", message))
    return remarks
