"""Zone files of any kind to zones: recognise, convert to WGS 84, check every shape, lose none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.files.datum import Conversion, DatumError, conversion, is_wgs84
from towzone.files.features import Layer, RawFeature, bounds
from towzone.files.geojson import looks_like_json, read_geojson
from towzone.files.inputs import STDIN, load, name_stem
from towzone.files.properties import ZoneFields, read_properties
from towzone.files.vector import companion_paths, read_vector
from towzone.files.words import counted
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Corners, Shape, freeze
from towzone.geodesy.validity import shape_faults
from towzone.model.result import InputFile, Remark
from towzone.model.zone import Zone, ZoneKind

__all__ = ["ZoneFile", "read_zones"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneFile:
    """What one file gave.

    Parameters
    ----------
    zones : tuple of Zone
        In file order.
    remarks : tuple of Remark
        What a person should know about them.
    input : InputFile
    companions : tuple of InputFile
        The files that belong to it, as those beside a Shapefile, which hold its names and datum.
    """

    zones: tuple[Zone, ...]
    remarks: tuple[Remark, ...]
    input: InputFile
    companions: tuple[InputFile, ...] = ()


def read_zones(path: str, *, default_edges: LineKind | None = None) -> ZoneFile:
    """Return the zones of a file.

    Parameters
    ----------
    path : str
        A local GeoJSON file (recognised by content), GeoPackage, Shapefile or FlatGeobuf (by suffix), or
        ``-`` for GeoJSON on standard input.
    default_edges : LineKind or None
        How the corners of zones are joined that do not say; ``None`` reads them as RFC 7946 does, and
        marks those zones ``edges_stated=False``.

    Raises
    ------
    InputError
        The file cannot be read, or any of its features cannot be a zone; all of them are named, because
        a zone left out would be a false all-clear.
    """
    loaded = load(path)
    companions: tuple[InputFile, ...]
    if path == STDIN or looks_like_json(loaded.data) or path.lower().endswith((".json", ".geojson")):
        layers, companions = [read_geojson(loaded.data, path)], ()
    else:
        companions = tuple(load(companion).record for companion in companion_paths(path))
        layers = read_vector(loaded.data, path)
    builder = _Builder(path, default_edges)
    for layer in layers:
        builder.add(layer)
    builder.check_ids()
    if builder.problems:
        raise InputError(path, builder.problems)
    if not builder.zones:
        raise InputError(path, [Problem("", "the file holds no zones, so there is nothing to keep clear of")])
    return ZoneFile(
        zones=tuple(builder.zones), remarks=builder.remarks(), input=loaded.record, companions=companions
    )


class _Builder:
    """Zones, problems and remarks of one file as its layers come in."""

    def __init__(self, path: str, default_edges: LineKind | None) -> None:
        self.path = path
        self.default_edges = default_edges
        self.zones: list[Zone] = []
        self.problems: list[Problem] = []
        self._wheres: dict[str, list[str]] = {}

    def add(self, layer: Layer) -> None:
        self.problems += layer.problems
        for where, message in layer.remarks:
            self._remark(where, message)
        try:
            way = self._conversion(layer)
        except DatumError as error:
            self.problems.append(Problem("", str(error)))
            return
        for feature in layer.features:
            self._feature(feature, way)

    def check_ids(self) -> None:
        """Refuse two zones with one id: findings could not be told apart."""
        first: dict[str, Zone] = {}
        for zone in self.zones:
            other = first.setdefault(zone.zone_id, zone)
            if other is not zone:
                message = (
                    f"zone_id {quoted(zone.zone_id)} is also that of feature {other.feature}; ids must differ"
                )
                self.problems.append(Problem(f"feature {zone.feature}", message))

    def remarks(self) -> tuple[Remark, ...]:
        """Return each remark once, with the first place it applies to."""
        return tuple(
            Remark(
                file=self.path,
                where=wheres[0],
                message=message if len(wheres) == 1 else f"{message} (and {len(wheres) - 1} more like this)",
            )
            for message, wheres in self._wheres.items()
        )

    def _remark(self, where: str, message: str) -> None:
        self._wheres.setdefault(message, []).append(where)

    def _conversion(self, layer: Layer) -> Conversion | None:
        if not layer.crs or not layer.features or is_wgs84(layer.crs):
            return None
        x0, y0, x1, y1 = bounds(layer.features)
        way = conversion(layer.crs, (x0, y0), (x1, y1))
        self._remark("", f"positions converted to WGS 84 {way.note}")
        if way.projected:
            self._remark(
                "",
                "only the corners were converted from the map projection; the edges between them are drawn as"
                " each zone states, not straight on that map",
            )
        if way.better_missing:
            self._remark("", "a more accurate conversion exists but needs a grid file that is not installed")
        return way

    def _feature(self, feature: RawFeature, way: Conversion | None) -> None:
        fields, problems, remarks = read_properties(feature.properties)
        self.problems += [Problem(feature.where, message) for message in problems]
        for message in remarks:
            self._remark(feature.where, message)
        shape = way.apply(feature.shape) if way else feature.shape
        edges = (fields.edges if fields else None) or self.default_edges or LineKind.LONLAT
        faults = shape_faults(shape, edges)
        self.problems += [Problem(feature.where, fault) for fault in faults]
        if fields is None or faults:
            return
        # Only now, so that faults count corners as the file does.
        shape, repeated = _without_repeats(shape)
        if repeated:
            self._remark(feature.where, f"{counted(repeated, 'corner')} repeating the one before, left out")
        self._shape_remarks(feature.where, shape, fields)
        zone_id = fields.zone_id or f"{name_stem(self.path)}-{feature.number}"
        self.zones.append(
            Zone(
                zone_id=zone_id,
                name=fields.name or zone_id,
                kind=fields.kind,
                shape=shape,
                edges=edges,
                edges_stated=fields.edges is not None or self.default_edges is not None,
                prohibits=fields.prohibits,
                margin_m=fields.margin_m,
                radius_m=fields.radius_m,
                pending_rules=fields.pending_rules,
                source=fields.source,
                issued=fields.issued,
                note=fields.note,
                file=self.path,
                feature=feature.number,
                datum_note=way.note if way else "",
                datum_accuracy_m=way.accuracy_m if way else 0.0,
            )
        )

    def _shape_remarks(self, where: str, shape: Shape, fields: ZoneFields) -> None:
        if _goes_round(shape):
            self._remark(
                where,
                "corners lie more than 180 degrees of longitude apart; the edge between them was taken the"
                " shorter way, across 180 degrees",
            )
        area_kinds = (ZoneKind.CLOSED_AREA, ZoneKind.SAFETY_ZONE)
        if fields.kind in area_kinds and not shape.is_area and fields.radius_m == 0.0:
            self._remark(
                where, f"a {fields.kind} without an area and without radius is only a line or a point"
            )


def _without_repeats(shape: Shape) -> tuple[Shape, int]:
    """Return a shape without corners that repeat the one before, and how many there were."""
    mended = Shape(
        polygons=tuple(tuple(_unrepeated(ring, closed=True) for ring in rings) for rings in shape.polygons),
        lines=tuple(_unrepeated(line, closed=False) for line in shape.lines),
        points=shape.points,
    )
    sizes = [sum(len(corners) for corners, _ in part.strings()) for part in (shape, mended)]
    return mended, sizes[0] - sizes[1]


def _unrepeated(corners: Corners, *, closed: bool) -> Corners:
    new = (corners != np.roll(corners, 1, axis=0)).any(axis=1)
    if not closed:
        new[:1] = True
    return corners if new.all() else freeze(corners[new])


def _goes_round(shape: Shape) -> bool:
    return any(_step_deg(corners[:, 0], closed=closed) > 180.0 for corners, closed in shape.strings())


def _step_deg(lon_deg: npt.NDArray[np.float64], *, closed: bool) -> float:
    """Return the largest difference of longitude between neighbours."""
    around = np.append(lon_deg, lon_deg[:1]) if closed else lon_deg
    return float(np.abs(np.diff(around)).max(initial=0.0))
