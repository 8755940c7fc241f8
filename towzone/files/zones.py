"""Zone files of any kind to zones: recognise, convert to WGS 84, check every shape, lose none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.files.datum import Conversion, DatumError, conversion, is_wgs84
from towzone.files.features import Layer, RawFeature, bounds
from towzone.files.geojson import looks_like_json, read_geojson
from towzone.files.inputs import STDIN, load, name_stem
from towzone.files.properties import ZoneFields, read_properties
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Corners, Shape, freeze
from towzone.geodesy.soundness import surely_sound
from towzone.geodesy.validity import shape_faults
from towzone.model.candidate import Candidate
from towzone.model.result import InputFile, Remark
from towzone.model.zone import Zone, ZoneKind
from towzone.words import counted

__all__ = ["ZoneFile", "ZoneSurvey", "read_zones", "survey_zones"]


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


def read_zones(path: str, *, default_edges: LineKind | None = None, at: str | None = None) -> ZoneFile:
    """Return the zones of a file.

    Parameters
    ----------
    path : str
        A local GeoJSON file (recognised by content), GeoPackage, Shapefile or FlatGeobuf (by suffix), or
        ``-`` for GeoJSON on standard input.
    default_edges : LineKind or None
        How the corners of zones are joined that do not say; ``None`` reads them as RFC 7946 does, and
        marks those zones ``edges_stated=False``.
    at : str or None
        Where the file lies, if not there (`towzone.files.inputs.open_input`), the files that belong to it
        beside it; of the same suffix.

    Raises
    ------
    InputError
        The file cannot be read, or any of its features cannot be a zone; all of them are named, because
        a zone left out would be a false all-clear.
    """
    survey = survey_zones(path, default_edges=default_edges, at=at)
    if survey.problems:
        raise InputError(path, survey.problems)
    return ZoneFile(
        zones=tuple(candidate.zone for candidate in survey.candidates if candidate.zone is not None),
        remarks=survey.remarks,
        input=survey.input,
        companions=survey.companions,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneSurvey:
    """All that is in one file, fit to be zones or not.

    Parameters
    ----------
    candidates : tuple of Candidate
        Every feature with a shape, in file order.
    problems : tuple of Problem
        Why `read_zones` refuses the file; empty when it does not.
    remarks, input, companions
        As in `ZoneFile`.
    """

    candidates: tuple[Candidate, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[Remark, ...]
    input: InputFile
    companions: tuple[InputFile, ...] = ()


def survey_zones(path: str, *, default_edges: LineKind | None = None, at: str | None = None) -> ZoneSurvey:
    """Return what is in a zone file, with everything that is wrong with it.

    Parameters
    ----------
    path, default_edges, at
        As in `read_zones`.

    Raises
    ------
    InputError
        Nothing can be said about the file feature by feature: it cannot be opened, or is no zone file.
    """
    loaded = load(path, at=at)
    companions: tuple[InputFile, ...]
    if path == STDIN or looks_like_json(loaded.data) or path.lower().endswith((".json", ".geojson")):
        layers, companions = [read_geojson(loaded.data, path)], ()
    else:
        from towzone.files.vector import companion_paths, read_vector  # loads a large library

        place = path if at is None else at
        companions = tuple(_companion(path, beside) for beside in companion_paths(place))
        layers = read_vector(loaded.data, place)
    record = loaded.record
    del loaded  # the text is the largest thing here, and no longer needed
    builder = _Builder(path, default_edges)
    for layer in layers:
        builder.add(layer)
    builder.check_ids()
    if not builder.problems and not builder.candidates:
        builder.problems.append(Problem("", "the file holds no zones, so there is nothing to keep clear of"))
    return ZoneSurvey(
        candidates=tuple(builder.candidates),
        problems=tuple(builder.problems),
        remarks=builder.remarks(),
        input=record,
        companions=companions,
    )


def _companion(path: str, beside: str) -> InputFile:
    """Return what identifies a file that belongs to another, under the name it has beside that."""
    return load(str(Path(path).with_suffix(Path(beside).suffix)), at=beside).record


class _Builder:
    """Candidates, problems and remarks of one file as its layers come in."""

    def __init__(self, path: str, default_edges: LineKind | None) -> None:
        self.path = path
        self.default_edges = default_edges
        self.candidates: list[Candidate] = []
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
        read = [read_properties(feature.properties) for feature in layer.features]
        shapes = [way.apply(feature.shape) if way else feature.shape for feature in layer.features]
        edges = [
            (fields.edges if fields else None) or self.default_edges or LineKind.LONLAT
            for fields, _, _ in read
        ]
        sound, repeats = surely_sound(shapes, edges), _with_repeats(shapes)
        for number, feature in enumerate(layer.features):
            shape = shapes[number]
            faults = [] if sound[number] else shape_faults(shape, edges[number])
            found = _Found(
                feature,
                *read[number],
                shape,
                edges[number],
                faults,
                repeats=bool(repeats[number]),
                short=bool(sound[number]),  # what is surely sound has no long edge
            )
            self._feature(found, way)

    def check_ids(self) -> None:
        """Refuse two zones with one id: findings could not be told apart."""
        first: dict[str, Zone] = {}
        for zone in (candidate.zone for candidate in self.candidates if candidate.zone is not None):
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

    def _feature(self, found: _Found, way: Conversion | None) -> None:
        where = found.feature.where
        misfits = _misfits(found)
        self.problems += [Problem(where, text) for text in (*found.problems, *found.faults, *misfits)]
        remarks = list(found.remarks)
        zone = None
        if found.fields is not None and not found.faults and not misfits:
            zone = self._zone(found, found.fields, way)
            remarks += _shape_remarks(zone, short=found.short)
        for message in remarks:
            self._remark(where, message)
        self.candidates.append(
            Candidate(
                file=self.path,
                feature=found.feature.number,
                where=where,
                properties=found.feature.properties,
                shape=found.shape,
                edges=found.edges,
                zone=zone,
                remarks=tuple(remarks),
            )
        )

    def _zone(self, found: _Found, fields: ZoneFields, way: Conversion | None) -> Zone:
        # Only now, so that faults counted corners as the file does.
        shape, repeated = _without_repeats(found.shape) if found.repeats else (found.shape, 0)
        if repeated:
            self._remark(
                found.feature.where, f"{counted(repeated, 'corner')} repeating the one before, left out"
            )
        zone_id = fields.zone_id or f"{name_stem(self.path)}-{found.feature.number}"
        return Zone(
            zone_id=zone_id,
            name=fields.name or zone_id,
            kind=fields.kind,
            shape=shape,
            edges=found.edges,
            edges_stated=fields.edges is not None or self.default_edges is not None,
            prohibits=fields.prohibits,
            margin_m=fields.margin_m,
            radius_m=fields.radius_m,
            rules=fields.rules,
            source=fields.source,
            issued=fields.issued,
            note=fields.note,
            file=self.path,
            feature=found.feature.number,
            datum_note="; ".join(note for note in (fields.datum_note, way.note if way else "") if note),
            # Of two conversions, one before the file and one after, both errors may add up.
            datum_accuracy_m=fields.datum_accuracy_m + (way.accuracy_m if way else 0.0),
        )


def _misfits(found: _Found) -> list[str]:
    """Return what properties ask for that the shape does not allow."""
    if found.fields is None or not found.fields.rules.allowed_only_inside:
        return []
    if not found.shape.is_area or found.shape.lines or len(found.shape.points):
        return ["'allowed_only_inside' needs polygons and nothing else: lines and points have no inside"]
    if found.fields.radius_m:
        return ["'allowed_only_inside' and 'radius' cannot go together; draw the whole area"]
    return []


class _Found(NamedTuple):
    """What was found out about one feature: its properties, its shape in WGS 84, their faults.

    ``repeats`` tells whether any corner may repeat the one before, ``short`` that no neighbours are more than
    180 degrees of longitude apart.
    """

    feature: RawFeature
    fields: ZoneFields | None
    problems: list[str]
    remarks: list[str]
    shape: Shape
    edges: LineKind
    faults: list[str]
    repeats: bool
    short: bool


def _shape_remarks(zone: Zone, *, short: bool) -> list[str]:
    remarks = []
    if not short and _goes_round(zone.shape):
        remarks.append(
            "corners lie more than 180 degrees of longitude apart; the edge between them was taken the"
            " shorter way, across 180 degrees"
        )
    area_kinds = (ZoneKind.CLOSED_AREA, ZoneKind.SAFETY_ZONE)
    if zone.kind in area_kinds and not zone.shape.is_area and zone.radius_m == 0.0:
        remarks.append(f"a {zone.kind} without an area and without radius is only a line or a point")
    return remarks


def _with_repeats(shapes: Sequence[Shape]) -> npt.NDArray[np.bool_]:
    """Return which of many shapes may have a corner that repeats the one before, asked of all at once."""
    found = np.zeros(len(shapes), dtype=bool)
    strings = [
        (number, corners)
        for number, shape in enumerate(shapes)
        for corners in (*(ring for polygon in shape.polygons for ring in polygon), *shape.lines)
        if len(corners)
    ]
    if not strings:
        return found
    size = np.array([len(corners) for _, corners in strings])
    corners = np.concatenate([corners for _, corners in strings])
    last = np.cumsum(size) - 1
    before = np.roll(corners, 1, axis=0)
    before[last - size + 1] = corners[last]
    same = np.logical_or.reduceat((corners == before).all(axis=1), last - size + 1)
    found[np.array([number for number, _ in strings])[same]] = True
    return found


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
