"""Chart cells (S-57) to zones, through fiona: what concerns a tow, with the cell as its source.

A chart is a help for planning here and no more: positions are as old and as good as the surveys behind it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import fiona

from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.asking import Asker
from towzone.files.chart_dates import fixed_day
from towzone.files.chart_identity import Identity, identify
from towzone.files.chart_mapping import map_object
from towzone.files.chart_words import CLASSES
from towzone.files.draft_check import check_drafts, check_shapes
from towzone.files.edge_questions import ask_edges
from towzone.files.features import GeometryReader
from towzone.files.fiona_guard import guarded, plain_geometry, refused, warned
from towzone.files.inputs import load
from towzone.geodesy.shape import Shape
from towzone.model.draft import Converted, Draft
from towzone.model.zone import Prohibition
from towzone.units import format_position
from towzone.words import counted

__all__ = ["convert_chart"]

_NAME = "S-57 cell"
_WGS84 = 2
"""Horizontal datum DSPM_HDAT of WGS 84; published: IHO S-57 Edition 3.1, Appendix A, attribute HORDAT."""
_DATA_HERE = 1
"""CATCOV of an area with data; published: the same, attribute CATCOV."""
_HEADER, _COVERAGE = "DSID", "M_COVR"
_OPEN_PROPERTIES = ("edges", "margin", "radius", "time_zone")
"""What no chart says and a person may state for all of its objects."""
_NOTHING = "nothing"
_HARMLESS = "Skipping field FFPT_RIND"
"""A list of relations between objects, which the library cannot hand out and nothing here needs."""
_SERIOUS = re.compile("spatial|geometry|corrupt|missing|update|bytes|find|short|invalid", re.IGNORECASE)
"""Warnings of the library after which an object may lack a part; others concern texts and codes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Object:
    """One object of the cell: class, identity, attributes, shape."""

    name: str
    where: str
    key: str
    attributes: Mapping[str, object]
    shape: Shape


def convert_chart(
    path: str,
    *,
    properties: Mapping[str, object] | None = None,
    answers: Mapping[int, str] | None = None,
) -> Converted:
    """Return the zones of a chart cell with its updates.

    Parameters
    ----------
    path : str
        The base cell (``.000``); updates beside it (``.001`` and on) are applied.
    properties : mapping, optional
        What the chart does not give: ``edges``, ``margin``, ``time_zone`` and ``radius``, which is for points
        and lines only.
    answers : mapping, optional
        Answers to questions, by number.

    Raises
    ------
    InputError
        Not an S-57 base cell on WGS 84 with coverage, damaged, or with updates that do not fit.
    UsageError
        Any other property, or an impossible answer.
    """
    given = {key: value for key, value in (properties or {}).items() if value is not None}
    for key in given:
        if key not in _OPEN_PROPERTIES:
            message = (
                f"{quoted(key)} cannot be given for a whole chart, which says it for each object; only"
                f" {', '.join(_OPEN_PROPERTIES)} can. Edit the zone file afterwards"
            )
            raise UsageError(message)
    identity = _identity(path)
    cell = _Cell(path, Asker(answers or {}), given)
    cell.read(identity)
    return cell.result()


def _identity(path: str) -> Identity:
    data = load(path).data
    suffix = Path(path).suffix
    if re.fullmatch(r"\.\d{3}", suffix) and suffix != ".000":
        raise refused(path, "this is an update; give the base cell (.000), updates beside it are applied")
    if suffix != ".000":
        raise refused(path, "chart cells are read from files ending in .000; give the base cell")
    identity = identify(data, path)
    if identity.is_update:
        raise refused(
            path, "this is an update named like a base cell; alone it holds only changes. Give the base cell"
        )
    _check_updates(path, identity)
    return identity


def _updates(path: str) -> dict[int, Path]:
    """Return the updates beside a cell by number."""
    base = Path(path)
    try:
        beside = [other for other in base.parent.iterdir() if other.stem == base.stem]
    except OSError as error:
        raise refused(
            path, f"its folder cannot be searched for updates: {error.strerror or error}"
        ) from error
    found = {int(other.suffix[1:]): other for other in beside if re.fullmatch(r"\.[0-9]{3}", other.suffix)}
    return {number: found[number] for number in sorted(found) if number > 0}


def _check_updates(path: str, base: Identity) -> None:
    """Refuse updates that the library would pass over or fail on, and say which."""
    problems = []
    for number, (found, update) in enumerate(_updates(path).items(), start=1):
        what = f"update {update.name} beside it"
        if found != number:
            problems.append(f"update .{number:03d} is missing, so {what} cannot be applied")
            break
        identity = identify(load(str(update)).data, str(update))
        if identity.edition == "0":
            problems.append(f"{what} cancels the cell; do not use it")
        elif not identity.is_update:
            problems.append(f"{what} is a base cell of its own")
        elif (identity.edition, identity.update) != (base.edition, str(number)):
            problems.append(
                f"{what} is update {quoted(identity.update)} of edition {quoted(identity.edition)},"
                f" the cell is edition {quoted(base.edition)}"
            )
    if problems:
        advice = ". Put the right updates there, or move them away to use the cell as it was issued"
        raise InputError(path, [Problem("", problem + advice) for problem in problems])


class _Cell:
    """The zones, questions and remarks of one cell."""

    def __init__(self, path: str, asker: Asker, given: dict[str, object]) -> None:
        self.path, self.asker, self.given = path, asker, given
        self.reader = GeometryReader(degrees=True)
        self.remarks: list[tuple[str, str]] = []
        self.problems: list[Problem] = []
        self.drafts: list[tuple[str, Draft]] = []
        self.left_out: Counter[str] = Counter()
        self.decided: dict[tuple[str, ...], tuple[Prohibition, ...] | None] = {}
        self.keys: Counter[str] = Counter()
        self.source: dict[str, object] = {}
        self.unspread: Counter[str] = Counter()

    def read(self, identity: Identity) -> None:
        with guarded(self.path, _NAME), warned() as said:
            layers = fiona.listlayers(self.path)
            self._header(layers, identity)
            self._coverage(layers)
            # Classes that are zones by themselves first, then all others that carry restrictions.
            names = [name for name in CLASSES if name in layers]
            names += [name for name in layers if name not in (*CLASSES, _HEADER, _COVERAGE)]
            for name in names:
                for item in self._objects(name):
                    self._object(item)
        for text in dict.fromkeys(text for text in said if not text.startswith(_HARMLESS)):
            if _SERIOUS.search(text) and not text.startswith("Skipping field"):
                self.problems.append(Problem("", f"the cell is damaged: {quoted(text)}. Get it again"))
            else:
                self.remarks.append(("", f"the cell was read with a warning: {quoted(text)}"))

    def _rows(self, name: str, *, needs: str = "") -> Iterator[tuple[dict[str, object], object]]:
        """Yield attributes and geometry; some layers have no length, so it is never asked for."""
        with fiona.open(self.path, driver="S57", layer=name, LIST_AS_STRING="YES") as collection:
            if needs and needs not in collection.schema["properties"]:
                return
            for feature in collection:
                yield dict(feature.properties), plain_geometry(feature.geometry)

    def _header(self, layers: list[str], identity: Identity) -> None:
        header = next(self._rows(_HEADER), ({}, None))[0] if _HEADER in layers else {}
        datum = header.get("DSPM_HDAT")
        if datum != _WGS84:
            raise refused(
                self.path,
                f"the cell is on horizontal datum {quoted(datum)} (DSPM_HDAT), not on WGS 84 (2);"
                " its positions can be off by 100 m and more. Ask the chart office for a cell on WGS 84",
            )
        update = str(header.get("DSID_UPDN") or "0").strip()
        last = max(_updates(self.path), default=0)
        if last and update != str(last):
            raise refused(
                self.path, f"update .{last:03d} beside it was not applied, only up to {quoted(update)}"
            )
        issued = fixed_day(str(header.get("DSID_ISDT") or ""), end=False)
        scale = header.get("DSPM_CSCL")
        name = identity.name.removesuffix(".000") or Path(self.path).stem
        parts = [f"chart cell {name}", f"edition {identity.edition}", f"update {update}"]
        parts += [f"issued {issued}"] if issued else []
        parts += [f"compilation scale 1:{scale}"] if scale else []
        self.source["source"] = ", ".join(parts)
        if issued:
            self.source["issued"] = issued
        self.remarks.append(("", f"{self.source['source']}; not for navigation"))

    def _coverage(self, layers: list[str]) -> None:
        """Say where the cell has data: beyond, nothing is known."""
        found = self._rows(_COVERAGE) if _COVERAGE in layers else iter(())
        shapes = [
            self.reader.read(geometry, _COVERAGE)[0]
            for attributes, geometry in found
            if attributes.get("CATCOV") == _DATA_HERE
        ]
        areas = [shape for shape in shapes if shape is not None and shape.polygons]
        if not areas:
            raise refused(
                self.path,
                "the cell states no area with data (M_COVR with CATCOV 1), so it is no whole base cell",
            )
        for shape in areas:
            for rings in shape.polygons:
                low, high = rings[0].min(axis=0), rings[0].max(axis=0)
                message = (
                    f"all its data lie between {format_position(*low)} and {format_position(*high)};"
                    " outside the chart is not outside all zones"
                )
                self.remarks.append((_COVERAGE, message))

    def _objects(self, name: str) -> Iterator[_Object]:
        for number, (attributes, geometry) in enumerate(
            self._rows(name, needs="" if name in CLASSES else "RESTRN"), start=1
        ):
            if name not in CLASSES and not attributes.get("RESTRN"):
                continue
            key = "-".join(str(attributes.get(part) or number) for part in ("FIDN", "FIDS"))
            called = attributes.get("OBJNAM")
            where = f"{name} {key}" + (f" ({quoted(called)})" if called else "")
            shape, problems = self.reader.read(geometry, where)
            self.problems += problems
            if shape is not None:
                yield _Object(name=name, where=where, key=key, attributes=attributes, shape=shape)

    def _object(self, item: _Object) -> None:
        mapped = map_object(
            item.name, item.attributes, lambda unknown: self._decide(item.name, item.where, unknown)
        )
        self.remarks += [(item.where, message) for message in mapped.remarks]
        if mapped.properties is None:
            self.left_out[f"{item.name}: {mapped.left_out}"] += 1
            return
        # An object cut at the border of a cell has its identity twice.
        zone_id = f"{Path(self.path).stem}-{item.name}-{item.key}"
        self.keys[zone_id] += 1
        if self.keys[zone_id] > 1:
            zone_id += f"-{self.keys[zone_id]}"
        usual = {key: value for key, value in self.given.items() if key != "radius"}
        properties = usual | {"zone_id": zone_id} | mapped.properties | self.source
        if not item.shape.is_area:
            if "radius" in self.given:
                properties["radius"] = self.given["radius"]
            else:
                self.unspread[item.name] += 1
        self.drafts.append((item.where, Draft(shape=item.shape, properties=properties)))

    def _decide(self, name: str, where: str, unknown: tuple[str, ...]) -> tuple[Prohibition, ...] | None:
        """Ask once for each set of restrictions what they prohibit."""
        if unknown not in self.decided:
            question = (
                f"{name} with {', '.join(unknown)}, first {where}: the chart does not say in codes known here"
                " what that prohibits; what is it?"
            )
            answer = self.asker.ask(where, question, (*Prohibition, _NOTHING))
            decided = () if answer == _NOTHING else (Prohibition(answer),) if answer else None
            self.decided[unknown] = decided
        return self.decided[unknown]

    def result(self) -> Converted:
        if self.problems:
            raise InputError(self.path, self.problems)
        check_shapes(self.path, self.drafts)
        edges = ask_edges(
            self.asker, [draft.shape for _, draft in self.drafts if "edges" not in draft.properties]
        )
        if edges:
            self.drafts = [
                (where, Draft(shape=draft.shape, properties={"edges": edges, **draft.properties}))
                for where, draft in self.drafts
            ]
        questions = self.asker.questions()
        if not self.drafts and not questions:
            raise refused(self.path, "nothing in the cell concerns a tow, so there is nothing to convert")
        if not questions:
            self.remarks += check_drafts(self.path, self.drafts)
        self._say_left_out()
        return Converted(
            drafts=tuple(draft for _, draft in self.drafts),
            questions=questions,
            remarks=tuple(dict.fromkeys(self.remarks + self.asker.answered)),
        )

    def _say_left_out(self) -> None:
        for words, count in self.left_out.items():
            self.remarks.append(("", f"{counted(count, 'object')} left out, nothing for a tow: {words}"))
        if self.unspread:
            names = ", ".join(f"{count} {name}" for name, count in self.unspread.items())
            message = (
                f"points and lines reach no further than themselves ({names}): the chart states no distance."
                " A margin asks for one, --radius gives them one"
            )
            self.remarks.append(("", message))
        self.remarks += [("", sentence) for sentence in self.reader.remarks()]
