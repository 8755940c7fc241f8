"""What changed between two editions of a zone file."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from pathlib import PurePath

import numpy as np

from towzone.geodesy.ellipsoid import wrap_longitude
from towzone.geodesy.shape import Corners, Shape
from towzone.model.rules import FEBRUARY_END, Rules, Window
from towzone.model.zone import Zone
from towzone.surveys.matching import match_strings
from towzone.surveys.strings import named_strings
from towzone.units import format_instant

__all__ = ["Changes", "CornerChange", "PropertyChange", "ZoneChange", "compare"]

_SAME_M = 0.001
"""Own choice: a millimetre is what rounding makes of a corner written in another way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerChange:
    """A corner that moved, went or came.

    Parameters
    ----------
    old_corner, new_corner : str
        Which corner in the old and in the new edition; empty when it is not there.
    old, new : tuple of float or None
        Longitude, latitude in degrees.
    moved_m : float or None
        Geodesic distance when it is in both, metres.
    """

    old_corner: str
    new_corner: str
    old: tuple[float, float] | None
    new: tuple[float, float] | None
    moved_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PropertyChange:
    """A property with its old and new value as text; empty when it says nothing."""

    name: str
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneChange:
    """A zone that is in both editions and not the same.

    ``matched_by`` is ``zone_id``, ``name`` or ``corners``.
    """

    old: Zone
    new: Zone
    matched_by: str
    properties: tuple[PropertyChange, ...]
    corners: tuple[CornerChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Changes:
    """All differences between two editions."""

    added: tuple[Zone, ...]
    removed: tuple[Zone, ...]
    changed: tuple[ZoneChange, ...]
    unchanged: int

    @property
    def none(self) -> bool:
        """Whether both editions say the same."""
        return not (self.added or self.removed or self.changed)


def compare(old: Sequence[Zone], new: Sequence[Zone]) -> Changes:
    """Return what changed from one edition to another.

    Parameters
    ----------
    old, new : sequence of Zone
        Each with ids of its own. Zones belong together by the id their file states; of the rest, by a name
        that is there once in each; of the rest, by exactly the same corners.
        The order of zones, the start and the direction of rings do not matter.
    """
    pairs: list[tuple[Zone, Zone, str]] = []
    left, right = list(old), list(new)
    keys: tuple[tuple[str, Callable[[Zone], Hashable]], ...] = (
        ("zone_id", _stated_id),
        ("name", _stated_name),
        ("corners", lambda zone: _all_corners(zone.shape)),
    )
    for word, key in keys:
        found = _pairs(left, right, key)
        pairs += [(a, b, word) for a, b in found]
        taken = {id(zone) for pair in found for zone in pair}
        left = [zone for zone in left if id(zone) not in taken]
        right = [zone for zone in right if id(zone) not in taken]
    rank = {id(zone): index for index, zone in enumerate(old)}
    changes = [_change(*pair) for pair in sorted(pairs, key=lambda pair: rank[id(pair[0])])]
    changed = tuple(change for change in changes if change.properties or change.corners)
    return Changes(
        added=tuple(right), removed=tuple(left), changed=changed, unchanged=len(changes) - len(changed)
    )


def _pairs(
    left: Sequence[Zone], right: Sequence[Zone], key: Callable[[Zone], Hashable]
) -> list[tuple[Zone, Zone]]:
    """Return zones whose key is there exactly once on each side."""
    sides: list[dict[Hashable, list[Zone]]] = [{}, {}]
    for side, zones in zip(sides, (left, right), strict=True):
        for zone in zones:
            value = key(zone)
            if value:
                side.setdefault(value, []).append(zone)
    return [
        (mine[0], sides[1][value][0])
        for value, mine in sides[0].items()
        if len(mine) == 1 and len(sides[1].get(value, ())) == 1
    ]


def _stated_id(zone: Zone) -> str:
    """Return the id, or nothing for one made from file name and number, which editions do not share."""
    stem = "stdin" if zone.file == "-" else PurePath(zone.file).stem
    return "" if zone.zone_id == f"{stem}-{zone.feature}" else zone.zone_id


def _stated_name(zone: Zone) -> str:
    return "" if zone.name == zone.zone_id and not _stated_id(zone) else zone.name.strip().casefold()


def _all_corners(shape: Shape) -> frozenset[tuple[float, float]]:
    return frozenset(corner for corners, _ in shape.strings() for corner in _keys(corners))


def _keys(corners: Corners) -> list[tuple[float, float]]:
    return [
        (float(lon) + 0.0, float(lat) + 0.0)
        for lon, lat in zip(wrap_longitude(corners[:, 0]), corners[:, 1], strict=True)
    ]


def _change(old: Zone, new: Zone, matched_by: str) -> ZoneChange:
    before, after = _properties(old), _properties(new)
    if matched_by != "corners" and not (_stated_id(old) or _stated_id(new)):
        before["zone_id"] = after["zone_id"] = ""
    properties = tuple(
        PropertyChange(name=name, old=before[name], new=after[name])
        for name in before
        if before[name] != after[name]
    )
    return ZoneChange(
        old=old,
        new=new,
        matched_by=matched_by,
        properties=properties,
        corners=_corner_changes(old.shape, new.shape),
    )


def _properties(zone: Zone) -> dict[str, str]:
    return {
        "zone_id": _stated_id(zone),
        "name": zone.name if _stated_name(zone) else "",
        "kind": zone.kind.value,
        "edges": zone.edges.value if zone.edges_stated else f"{zone.edges.value} (not stated)",
        "prohibits": ", ".join(sorted(zone.prohibits)),
        "margin": "" if zone.margin_m is None else f"{zone.margin_m:g} m",
        "radius": f"{zone.radius_m:g} m" if zone.radius_m else "",
        "parts": _parts(zone.shape),
        **_rules(zone.rules),
        "source": zone.source,
        "issued": zone.issued,
        "note": zone.note,
        "datum": zone.datum_note,
    }


def _parts(shape: Shape) -> str:
    """Return how many of each a shape has; with the corners the same, that settles what encloses what."""
    areas = len(shape.polygons)
    holes = sum(len(polygon) - 1 for polygon in shape.polygons)
    counts = {"area": areas, "hole": holes, "line": len(shape.lines), "point": len(shape.points)}
    return ", ".join(f"{count} {word}{'s' * (count > 1)}" for word, count in counts.items() if count)


def _rules(rules: Rules) -> dict[str, str]:
    instants = {
        name: "" if value is None else format_instant(np.datetime64(value.replace(tzinfo=None), "us")) or ""
        for name, value in (("valid_from", rules.valid_from), ("valid_until", rules.valid_until))
    }
    return {
        "gears": ", ".join(sorted(rules.gears)),
        "except_gears": ", ".join(sorted(rules.except_gears)),
        "season": "; ".join(sorted(_window(window) for window in rules.season)),
        **instants,
        "time_zone": rules.time_zone if rules.time_zone_stated else f"{rules.time_zone} (not stated)",
        "transit_min_speed": ""
        if rules.transit_min_speed_kn is None
        else f"{rules.transit_min_speed_kn:g} kn",
        "allowed_only_inside": str(rules.allowed_only_inside).lower(),
    }


def _window(window: Window) -> str:
    ends = ((window.from_month, window.from_day), (window.to_month, window.to_day))
    return " to ".join(
        f"--{month:02d}-{'END' if (month, day) == (2, FEBRUARY_END) else f'{day:02d}'}" for month, day in ends
    )


def _corner_changes(old: Shape, new: Shape) -> tuple[CornerChange, ...]:
    changes: list[CornerChange] = []
    for closed in (True, False):
        before = [(name, corners) for name, corners, closes in _strings(old) if closes == closed]
        after = [(name, corners) for name, corners, closes in _strings(new) if closes == closed]
        for a, b in _string_pairs([c for _, c in before], [c for _, c in after]):
            changes += _string_changes(
                *(before[a] if a is not None else ("", None)),
                *(after[b] if b is not None else ("", None)),
                closed=closed,
            )
    return tuple(changes)


def _strings(shape: Shape) -> list[tuple[str, Corners, bool]]:
    strings = list(named_strings(shape))
    return [*strings, ("points", shape.points, False)] if len(shape.points) else strings


def _string_pairs(old: Sequence[Corners], new: Sequence[Corners]) -> list[tuple[int | None, int | None]]:
    """Return which strings belong together: most shared corners first, then the nearest middles."""
    partner: dict[int, int] = {}
    there: dict[bytes, list[int]] = {}
    for b, corners in enumerate(new):
        there.setdefault(corners.tobytes(), []).append(b)
    for a, corners in enumerate(old):
        if same := there.get(corners.tobytes()):
            partner[a] = same.pop(0)
    mine = [a for a in range(len(old)) if a not in partner]
    theirs = sorted(set(range(len(new))) - set(partner.values()))
    partner |= _likeliest(old, new, mine, theirs)
    alone = sorted(set(range(len(new))) - set(partner.values()))
    return [*((a, partner.get(a)) for a in range(len(old))), *((None, b) for b in alone)]


def _likeliest(
    old: Sequence[Corners], new: Sequence[Corners], mine: Sequence[int], theirs: Sequence[int]
) -> dict[int, int]:
    old_keys, new_keys = {a: set(_keys(old[a])) for a in mine}, {b: set(_keys(new[b])) for b in theirs}
    old_middle, new_middle = {a: old[a].mean(axis=0) for a in mine}, {b: new[b].mean(axis=0) for b in theirs}
    ranked = sorted(
        (-len(old_keys[a] & new_keys[b]), float(np.abs(old_middle[a] - new_middle[b]).sum()), a, b)
        for a in mine
        for b in theirs
    )
    partner: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, a, b in ranked:
        if a not in partner and b not in taken:
            partner[a] = b
            taken.add(b)
    return partner


def _string_changes(
    old_name: str, old: Corners | None, new_name: str, new: Corners | None, *, closed: bool
) -> list[CornerChange]:
    if old is None or new is None:
        corners, name = (new, new_name) if old is None else (old, old_name)
        alone = range(len(corners)) if corners is not None else range(0)
        return [_one(name, corners, i, gone=old is not None) for i in alone if corners is not None]
    if np.array_equal(old, new):
        return []
    match = match_strings(old, new, closed=closed)
    moved = [
        CornerChange(
            old_corner=_name(old_name, int(a)),
            new_corner=_name(new_name, int(b)),
            old=_place(old, int(a)),
            new=_place(new, int(b)),
            moved_m=float(apart_m),
        )
        for a, b, apart_m in zip(match.old, match.new, match.apart_m, strict=True)
        if apart_m > _SAME_M
    ]
    gone = [_one(old_name, old, int(i), gone=True) for i in match.gone]
    return [*moved, *gone, *(_one(new_name, new, int(i), gone=False) for i in match.come)]


def _one(name: str, corners: Corners, index: int, *, gone: bool) -> CornerChange:
    return CornerChange(
        old_corner=_name(name, index) if gone else "",
        new_corner="" if gone else _name(name, index),
        old=_place(corners, index) if gone else None,
        new=None if gone else _place(corners, index),
        moved_m=None,
    )


def _name(name: str, index: int) -> str:
    return f"point {index + 1}" if name == "points" else f"{name}, corner {index + 1}"


def _place(corners: Corners, index: int) -> tuple[float, float]:
    return float(corners[index, 0]), float(corners[index, 1])
