"""Corners from the coordinate reference system of a file to WGS 84, by one stated operation, offline."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass

import numpy as np
import pyproj
from pyproj.exceptions import CRSError, ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]  # public, but not in its stubs
from pyproj.transformer import AreaOfInterest, Transformer, TransformerGroup

from towzone.errors import quoted
from towzone.geodesy.ellipsoid import wrap_longitude
from towzone.geodesy.shape import Corners, Shape, freeze

__all__ = ["Conversion", "DatumError", "conversion", "is_degrees", "is_wgs84"]

_WGS84 = "OGC:CRS84"

_SAME_TO_M = 2.0
"""Own choice: an operation that moves nothing and is stated good to this much is that of a datum which is
WGS 84 to a metre or two by definition (ETRS89 and its like), also beyond the area it was published for. It
is also the accuracy stated there: plates drift some 2 cm a year from the frame they were tied to in 1989."""
_SAME_DEG = 1e-9


class DatumError(ValueError):
    """Positions cannot be brought to WGS 84 with a known accuracy; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """One way from the datum of a file to WGS 84.

    Parameters
    ----------
    transformer : Transformer
    note : str
        From where, by which operation, how accurate; for the record.
    accuracy_m : float
        Stated accuracy of the operation, metres.
    projected : bool
        Whether the file is in metres of a map projection.
    better_missing : bool
        Whether a more accurate operation exists that needs a grid not installed here.
    """

    transformer: Transformer
    note: str
    accuracy_m: float
    projected: bool
    better_missing: bool

    def apply(self, shape: Shape) -> Shape:
        """Return the shape with every corner in longitude and latitude WGS 84.

        Corners that cannot be converted come out not finite, which the shape check refuses.
        """
        return Shape(
            polygons=tuple(tuple(self._corners(ring) for ring in polygon) for polygon in shape.polygons),
            lines=tuple(self._corners(line) for line in shape.lines),
            points=self._corners(shape.points),
        )

    def _corners(self, corners: Corners) -> Corners:
        if not len(corners):
            return corners
        lon, lat = self.transformer.transform(corners[:, 0], corners[:, 1])
        lon = np.asarray(lon, dtype=np.float64)
        finite = np.isfinite(lon)
        lon = np.where(finite & (np.abs(lon) > 180.0), wrap_longitude(np.where(finite, lon, 0.0)), lon)
        return freeze(np.column_stack([lon, lat]))


def is_wgs84(crs: str) -> bool:
    """Return whether a code or WKT means longitude and latitude on WGS 84 (any axis order, any height).

    Raises
    ------
    DatumError
        The code or text is not a coordinate reference system.
    """
    parsed = _parse(crs)
    known = (pyproj.CRS.from_user_input(code) for code in (_WGS84, "EPSG:4326", "EPSG:4979"))
    return any(parsed.equals(wgs84, ignore_axis_order=True) for wgs84 in known)


def is_degrees(crs: str) -> bool:
    """Return whether coordinates are degrees of longitude and latitude.

    Raises
    ------
    DatumError
        As `is_wgs84`.
    """
    parsed = _parse(crs)
    return bool(parsed.is_geographic) and all(
        axis.unit_name == "degree" for axis in parsed.axis_info if axis.direction in ("north", "east")
    )


def conversion(crs: str, low: tuple[float, float], high: tuple[float, float]) -> Conversion:
    """Return the most accurate operation available here for the area the corners lie in.

    Parameters
    ----------
    crs : str
        Authority code or WKT.
    low, high : tuple of float
        Smallest and largest first and second coordinate of all corners, in the units of the file.

    Raises
    ------
    DatumError
        Unknown system, no operation with a known accuracy, or not a position on the earth.

    Notes
    -----
    One operation serves all corners of a file: picking one for each corner would tear zones at the seams
    between the areas of use.
    """
    parsed = _parse(crs)
    if not (parsed.is_geographic or parsed.is_projected):
        message = f"{quoted(parsed.name)} gives no positions on the earth's surface"
        raise DatumError(message)
    area = _area(parsed, low, high)
    try:
        group = _group(parsed, area)
    except ProjError as error:
        message = f"no conversion from {quoted(parsed.name)} to WGS 84 is known ({error})"
        raise DatumError(message) from error
    usable = [t for t in group.transformers if _is_known(t)]
    if not usable and (same := _same_datum(parsed, low, high)) is not None:
        return Conversion(
            transformer=same,
            note=f"from {parsed.name}, which is WGS 84 to {_SAME_TO_M:g} m by definition, unchanged; these"
            f" positions lie outside the area it is made for, accuracy {_SAME_TO_M:g} m",
            accuracy_m=_SAME_TO_M,
            projected=bool(parsed.is_projected),
            better_missing=False,
        )
    if not usable:
        used = parsed.area_of_use
        where = (
            f" (made for {used.south:g} to {used.north:g} N, {used.west:g} to {used.east:g} E)"
            if used
            else ""
        )
        message = (
            f"no conversion of known accuracy leads from {quoted(parsed.name)} to WGS 84 where these"
            f" positions lie{where}; on an unknown datum they can be off by 100 m and more. Ask the supplier"
            " for WGS 84"
        )
        raise DatumError(message)
    chosen = usable[0]
    name = re.sub(r"axis order change \([^)]*\)", "", chosen.description)
    operation = " + ".join(part.strip() for part in name.split(" + ") if part.strip()) or "change of axes"
    return Conversion(
        transformer=chosen,
        note=f"from {parsed.name} by {operation}, accuracy {chosen.accuracy:g} m",
        accuracy_m=float(chosen.accuracy),
        projected=bool(parsed.is_projected),
        better_missing=not group.best_available,
    )


def _parse(crs: str) -> pyproj.CRS:
    # A grid or a definition fetched from a network would make the answer depend on being online.
    set_network_enabled(active=False)
    try:
        return pyproj.CRS.from_user_input(crs)
    except CRSError as error:
        message = f"the coordinate reference system {quoted(crs)} is not known"
        raise DatumError(message) from error


def _group(crs: pyproj.CRS, area: AreaOfInterest | None) -> TransformerGroup:
    with warnings.catch_warnings():
        # A missing grid is told by `best_available`; the warning would go past the caller.
        warnings.filterwarnings("ignore", message="Best transformation is not available")
        return TransformerGroup(crs, _WGS84, always_xy=True, area_of_interest=area, allow_ballpark=False)


def _is_known(transformer: Transformer) -> bool:
    return transformer.accuracy is not None and transformer.accuracy >= 0.0


def _same_datum(crs: pyproj.CRS, low: tuple[float, float], high: tuple[float, float]) -> Transformer | None:
    """Return the way to WGS 84 of a datum that is the same, wherever the positions lie; else ``None``."""
    if crs.geodetic_crs is None:
        return None
    x, y = np.array([low[0], high[0], low[0], high[0]]), np.array([low[1], low[1], high[1], high[1]])
    plain = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    for transformer in _group(crs, None).transformers:
        if not _is_known(transformer) or transformer.accuracy > _SAME_TO_M:
            continue
        moved = np.abs(np.array(transformer.transform(x, y)) - np.array(plain.transform(x, y)))
        if (moved <= _SAME_DEG).all():  # not finite compares false, which is right here
            return transformer
    return None


def _area(crs: pyproj.CRS, low: tuple[float, float], high: tuple[float, float]) -> AreaOfInterest | None:
    """Return the area of the corners, roughly in degrees: it only chooses among operations."""
    if is_degrees(crs.to_wkt()):
        return AreaOfInterest(low[0], low[1], high[0], high[1])
    x, y = np.array([low[0], high[0], low[0], high[0]]), np.array([low[1], low[1], high[1], high[1]])
    transformers = _group(crs, None).transformers
    if not transformers:
        return None
    lon, lat = transformers[0].transform(x, y)
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        return None
    return AreaOfInterest(float(np.min(lon)), float(np.min(lat)), float(np.max(lon)), float(np.max(lat)))
