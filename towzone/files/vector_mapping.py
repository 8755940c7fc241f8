"""Vector files of others to zones: columns mapped to properties, constants filled in, datum carried along."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np

from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.asking import Asker
from towzone.files.datum import Conversion, DatumError, conversion, is_wgs84
from towzone.files.draft_check import check_drafts, check_shapes
from towzone.files.edge_questions import ask_edges
from towzone.files.features import Layer, RawFeature, bounds
from towzone.files.geojson import named
from towzone.files.inputs import load
from towzone.files.json_text import from_json_text
from towzone.files.properties import KNOWN_PROPERTIES
from towzone.files.vector import Opening, read_layers
from towzone.model.draft import Converted, Draft
from towzone.model.zone import ZoneKind
from towzone.words import counted

__all__ = ["convert_vector"]

_LISTS = ("prohibits", "gears", "except_gears", "season")
_BLANK = (None, "")


def convert_vector(
    path: str,
    *,
    layer: str | None = None,
    columns: Mapping[str, str] | None = None,
    defaults: Mapping[str, object] | None = None,
    crs: str | None = None,
    encoding: str | None = None,
    answers: Mapping[int, str] | None = None,
) -> Converted:
    """Return one zone for each feature of a vector file.

    Parameters
    ----------
    path : str
        A local GeoPackage, Shapefile, FlatGeobuf, GML, KML, GeoParquet or GeoJSON file.
    layer : str, optional
        The only layer wanted; all otherwise.
    columns : mapping, optional
        Column by zone property, for columns with other names; columns that are called like a zone property
        are taken as that, all others are kept beside it.
    defaults : mapping, optional
        Zone properties for features whose columns leave them empty.
    crs : str, optional
        Coordinate reference system of a file that states none.
    encoding : str, optional
        Of the letters in a Shapefile.
    answers : mapping, optional
        Answers to questions, by number.

    Returns
    -------
    Converted
        Shapes in WGS 84. A feature that was on another datum carries ``datum_note`` and
        ``datum_accuracy`` (a length), so that the zone file still says how sure its corners are.

    Raises
    ------
    InputError
        The file cannot be read whole, a feature cannot be a zone, or a column is not there.
    UsageError
        A property or encoding that does not exist, or an impossible answer.
    """
    columns, defaults = dict(columns or {}), dict(defaults or {})
    for name in (*columns, *defaults):
        if name not in KNOWN_PROPERTIES:
            message = f"{quoted(name)} is not a zone property; there are {', '.join(KNOWN_PROPERTIES)}"
            raise UsageError(message)
    opening = Opening(layer=layer or "", crs=crs or "", encoding=encoding or "")
    layers = read_layers(load(path).data, path, opening)
    builder = _Builder(path, columns, defaults)
    for each in layers:
        builder.add(each)
    return builder.result(Asker(answers or {}), layers)


class _Builder:
    """Drafts, problems and remarks of one file."""

    def __init__(self, path: str, columns: dict[str, str], defaults: dict[str, object]) -> None:
        self.path, self.columns, self.defaults = path, columns, defaults
        self.rows: list[tuple[RawFeature, dict[str, object], Conversion | None]] = []
        self.problems: list[Problem] = []
        self.remarks: list[tuple[str, str]] = []
        self.kept: dict[str, int] = {}

    def add(self, layer: Layer) -> None:
        self.problems += layer.problems
        self.remarks += layer.remarks
        if not layer.features:
            return
        way = self._conversion(layer)
        for feature in layer.features:
            self.rows.append((feature, self._properties(feature.properties), way))

    def _conversion(self, layer: Layer) -> Conversion | None:
        x0, y0, x1, y1 = bounds(layer.features)
        try:
            if not layer.crs or is_wgs84(layer.crs):
                return None
            way = conversion(layer.crs, (x0, y0), (x1, y1))
        except DatumError as error:
            self.problems.append(Problem("", str(error)))
            return None
        self.remarks.append(("", f"positions converted to WGS 84 {way.note}"))
        if way.projected:
            message = "only the corners were converted from the map projection, not the lines between them"
            self.remarks.append(("", message))
        if way.better_missing:
            message = "a more accurate conversion exists but needs a grid file that is not installed"
            self.remarks.append(("", message))
        return way

    def _properties(self, found: Mapping[str, object]) -> dict[str, object]:
        """Return zone properties first, then the columns that are none."""
        mapped = set(self.columns.values())
        plain = {key: _plain(value) for key, value in found.items()}
        properties: dict[str, object] = {}
        for name in KNOWN_PROPERTIES:
            value = plain.get(self.columns.get(name, name))
            if value in _BLANK:
                value = self.defaults.get(name)
            elif name in self.defaults and value != self.defaults[name]:
                self.kept[name] = self.kept.get(name, 0) + 1
            if value not in _BLANK:
                properties[name] = from_json_text(value) if name in _LISTS else value
        foreign = {
            key: value
            for key, value in plain.items()
            if key not in KNOWN_PROPERTIES and key not in mapped and value is not None
        }
        return properties | foreign

    def result(self, asker: Asker, layers: Sequence[Layer]) -> Converted:
        self._check_columns(layers)
        for name, count in self.kept.items():
            message = (
                f"{counted(count, 'feature')} with a value of its own for {quoted(name)}: it was kept, not"
                f" replaced by {quoted(self.defaults[name])}"
            )
            self.remarks.append(("", message))
        if not self.rows and not self.problems:
            self.problems.append(Problem("", "the file holds no features, so there is nothing to convert"))
        if self.problems:
            raise InputError(self.path, self.problems)
        wheres = [named(f"feature {feature.number}", found) for feature, found, _ in self.rows]
        drafts = [self._draft(*row) for row in self.rows]
        check_shapes(self.path, zip(wheres, drafts, strict=True))
        drafts = self._with_answers(asker, wheres, drafts)
        questions = asker.questions()
        if not questions:
            self.remarks += check_drafts(self.path, zip(wheres, drafts, strict=True))
        return Converted(
            drafts=tuple(drafts),
            questions=questions,
            remarks=tuple(dict.fromkeys(self.remarks + asker.answered)),
        )

    def _draft(self, feature: RawFeature, properties: dict[str, object], way: Conversion | None) -> Draft:
        if way is None:
            return Draft(shape=feature.shape, properties=properties)
        datum = {"datum_note": way.note, "datum_accuracy": f"{way.accuracy_m:g}m"}
        return Draft(shape=way.apply(feature.shape), properties=properties | datum)

    def _with_answers(self, asker: Asker, wheres: list[str], drafts: list[Draft]) -> list[Draft]:
        """Ask what no column and no constant says, once for the whole file."""
        unsaid: dict[str, str] = {}
        if without := [n for n, draft in enumerate(drafts) if "kind" not in draft.properties]:
            question = (
                f"{counted(len(without), 'feature')} of {len(drafts)} without a kind: what kind of zone?"
                " (a column or --kind answers it as well)"
            )
            unsaid["kind"] = asker.ask(wheres[without[0]], question, tuple(ZoneKind))
        unsaid["edges"] = ask_edges(
            asker, [draft.shape for draft in drafts if "edges" not in draft.properties]
        )
        found = {name: value for name, value in unsaid.items() if value}
        return [Draft(shape=draft.shape, properties={**found, **draft.properties}) for draft in drafts]

    def _check_columns(self, layers: Sequence[Layer]) -> None:
        have = {key: None for layer in layers for feature in layer.features for key in feature.properties}
        for name, column in self.columns.items():
            if have and column not in have:
                message = f"there is no column {quoted(column)} to take {name!r} from; there are "
                self.problems.append(Problem("", message + ", ".join(quoted(key) for key in have)))


def _plain(value: object) -> object:
    """Return a value as JSON has them: tables also hold dates, arrays and numbers of other libraries."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, np.ndarray):
        return [_plain(item) for item in value.tolist()]
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, date):  # date-times are dates
        return None if value != value else value.isoformat()
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    return value if isinstance(value, (str, int, type(None))) else str(value)
