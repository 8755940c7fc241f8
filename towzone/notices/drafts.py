"""From areas to zones in the making: shapes, names, ids."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence

from towzone.errors import Problem, quoted
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Corners, Polygon, Shape, freeze
from towzone.geodesy.validity import shape_faults
from towzone.model.draft import Draft
from towzone.notices.areas import Area, Ring
from towzone.notices.doubts import corners_of

__all__ = ["FORMS", "make_drafts"]

FORMS = ("polygon", "line", "points")


def make_drafts(
    areas: Sequence[Area], forms: Sequence[str], properties: Mapping[str, object], stem: str
) -> tuple[list[Draft], list[Problem]]:
    """Return a draft for each area, and what makes any of them impossible.

    Parameters
    ----------
    areas : sequence of Area
    forms : sequence of str
        One of `FORMS` for each area.
    properties : mapping
        What a person said of all of them; ``name`` and ``zone_id`` are made to differ.
    stem : str
        Begins the ids of areas without names.
    """
    drafts: list[Draft] = []
    problems: list[Problem] = []
    ids: set[str] = set()
    copies: dict[str, int] = {}
    many = len(areas) > 1
    for number, (area, form) in enumerate(zip(areas, forms, strict=True), start=1):
        shape = _shape(area, form)
        edges = LineKind(str(properties.get("edges", LineKind.RHUMB)))
        where = f"line {area.line}, area {number}" + (f" {quoted(area.name)}" if area.name else "")
        problems += [Problem(where, fault) for fault in shape_faults(shape, edges)]
        given = str(properties.get("name", ""))
        name = ", ".join(part for part in (given, area.name if many or not given else "") if part)
        if many and given and not area.name:
            name = f"{given}, area {number}"
        base = str(properties.get("zone_id", "")) or _slug(name)
        if not base or (many and "zone_id" in properties):
            base = f"{base or _slug(stem) or 'notice'}-{number}"
        zone_id = base
        while zone_id in ids:
            copies[base] = copies.get(base, 1) + 1
            zone_id = f"{base}-{copies[base]}"
        ids.add(zone_id)
        first = {"zone_id": zone_id, "name": name or zone_id}
        rest = {key: value for key, value in properties.items() if key not in first}
        drafts.append(Draft(shape=shape, properties={**first, **rest}))
    return drafts, problems


def _shape(area: Area, form: str) -> Shape:
    rings = [corners_of(ring) for ring in area.rings]
    if form == "points":
        return Shape(points=freeze([corner for ring in rings for corner in ring]))
    if form == "line":
        return Shape(
            lines=tuple(_line(ring, corners) for ring, corners in zip(area.rings, rings, strict=True))
        )
    polygons: list[Polygon] = []
    for ring, corners in zip(area.rings, rings, strict=True):
        if ring.hole and polygons:
            polygons[-1] = (*polygons[-1], corners)
        else:
            polygons.append((corners,))
    return Shape(polygons=tuple(polygons))


def _line(ring: Ring, corners: Corners) -> Corners:
    return freeze([*corners, corners[0]]) if ring.closed else corners


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60]
