"""Two results of one check, compared: what is another answer, and what are figures beside it."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from towzone.record.catalogue import say
from towzone.record.text import short
from towzone.words import counted

__all__ = ["Comparison", "compared"]

_TOLERANCE_M = 0.01
"""Clearances are told to the centimetre, and the last digit may turn with the version of a library."""
_FLOAT_M = 1e-6
"""Own choice: far below the centimetre, above what decimal figures lose as binary ones."""
_NAME = 60
_DEEPEST = 40

_Row = Mapping[str, Any]
_Key = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Whether two results give one answer.

    Parameters
    ----------
    same : bool
    exact : bool
        Whether they are equal in everything that is compared.
    differences : tuple of str
        In words; of one answer those that do not matter.
    """

    same: bool
    exact: bool
    differences: tuple[str, ...]


def compared(recorded: Mapping[str, Any], again: Mapping[str, Any], *, same_versions: bool) -> Comparison:
    """Compare a recorded result with one just made from the same inputs and settings.

    Parameters
    ----------
    recorded, again : mapping
        Results as data; the first from a record, of any form.
    same_versions : bool
        Then everything must be equal. Else outcome, status and clearance (to 1 cm) make the answer.
    """
    first, second = _comparable(recorded, same_versions), _comparable(again, same_versions)
    if _same(first, second):
        return Comparison(same=True, exact=True, differences=())
    answers = list(_answers(first, second, 0.0 if same_versions else _TOLERANCE_M))
    if same_versions:
        answers += _details(first, second)
    elif not answers:
        places = list(_places("", first, second))
        found = counted(len(places), "place", "places")
        words = say("verify.difference.details_too", count=found, place=short(places[0], _NAME))
        return Comparison(same=True, exact=False, differences=(words,))
    return Comparison(same=False, exact=False, differences=tuple(answers))


def _comparable(result: Mapping[str, Any], same_versions: bool) -> dict[str, Any]:
    """Return what of a result must be equal: not where its files lay, nor versions known to differ."""
    made = copy.deepcopy(dict(result))
    provenance = made.get("provenance")
    if isinstance(provenance, dict):
        inputs = provenance.get("inputs")
        for one in inputs if isinstance(inputs, list) else []:
            if isinstance(one, dict):
                one.pop("file", None)
        if not same_versions:
            provenance.pop("towzone", None)
    return made


def _same(first: object, second: object) -> bool:
    """Return whether two data are equal, a number and a truth value never being so."""
    return next(_places("", first, second), None) is None


def _places(at: str, first: object, second: object) -> Iterator[str]:
    """Yield where two data differ, as names and numbers joined by points."""
    if at.count(".") > _DEEPEST:
        # No result is so deep; what is made to be is another.
        yield at
    elif isinstance(first, dict) and isinstance(second, dict):
        for key in sorted({*first, *second}):
            where = f"{at}.{key}" if at else key
            if key not in first or key not in second:
                yield where
            else:
                yield from _places(where, first[key], second[key])
    elif isinstance(first, list) and isinstance(second, list):
        for index, (one, other) in enumerate(zip(first, second, strict=False)):
            yield from _places(f"{at}.{index}", one, other)
        if len(first) != len(second):
            yield at
    elif isinstance(first, bool) != isinstance(second, bool) or first != second:
        yield at


def _answers(first: _Row, second: _Row, tolerance_m: float) -> Iterator[str]:
    if first.get("outcome") != second.get("outcome"):
        yield say(
            "verify.difference.outcome",
            before=_told(first.get("outcome")),
            after=_told(second.get("outcome")),
        )
    zones = {
        str(zone.get("zone_id")): zone for zone in (*_objects(second, "zones"), *_objects(first, "zones"))
    }
    pairs = (("rows", "clearance_m"), ("move_on", "distance_m"))
    for kind, length in pairs:
        before, after = _by_key(_objects(first, kind)), _by_key(_objects(second, kind))
        for key in (*before, *(key for key in after if key not in before)):
            yield from _row(_label(key, zones), before.get(key), after.get(key), length, tolerance_m)


def _row(
    label: str, before: _Row | None, after: _Row | None, length: str, tolerance_m: float
) -> Iterator[str]:
    if before is None or after is None:
        key = "gone" if before is not None else "fresh"
        status = _told((before or after or {}).get("status"))
        yield say(f"verify.difference.{key}", row=label, before=status, after=status)
        return
    if before.get("status") != after.get("status"):
        said = {"before": _told(before.get("status")), "after": _told(after.get("status"))}
        yield say("verify.difference.status", row=label, **said)
    if _apart(before.get(length), after.get(length), tolerance_m):
        said = {"before": _length(before.get(length)), "after": _length(after.get(length))}
        yield say("verify.difference.clearance", row=label, **said)


def _details(first: _Row, second: _Row) -> list[str]:
    """Return what else differs, row by row and then by place."""
    zones = {
        str(zone.get("zone_id")): zone for zone in (*_objects(second, "zones"), *_objects(first, "zones"))
    }
    said = []
    for kind, length in (("rows", "clearance_m"), ("move_on", "distance_m")):
        before, after = _by_key(_objects(first, kind)), _by_key(_objects(second, kind))
        for key in before:
            if key in after:
                fields = [
                    place
                    for place in _places("", before[key], after[key])
                    if place.split(".")[0] not in ("status", length)
                ]
                if fields:
                    told = short(", ".join(fields), _NAME)
                    said.append(say("verify.difference.details", row=_label(key, zones), fields=told))
    rest = ("rows", "move_on", "outcome")
    others = [{k: v for k, v in some.items() if k not in rest} for some in (first, second)]
    for place in _places("", *others):
        values = [_told(_at(some, place)) for some in others]
        where = short(place, _NAME)
        said.append(say("verify.difference.place", place=where, before=values[0], after=values[1]))
    return said or [say("verify.difference.place", place="rows", before="", after="")]


def _at(data: object, place: str) -> object:
    for name in place.split("."):
        if isinstance(data, dict):
            data = data.get(name)
        elif isinstance(data, list) and name.isdecimal() and int(name) < len(data):
            data = data[int(name)]
        else:
            return None
    return data


def _objects(result: Mapping[str, Any], name: str) -> list[_Row]:
    some = result.get(name)
    return [one for one in some if isinstance(one, dict)] if isinstance(some, list) else []


def _by_key(rows: Sequence[_Row]) -> dict[_Key, _Row]:
    """Return rows by what they are about; of several about the same, the later ones with a number."""
    found: dict[_Key, _Row] = {}
    for row in rows:
        about = tuple(str(row.get(name)) for name in ("track_id", "tow", "zone_id", "part"))
        number = 0
        while (*about, number) in found:
            number += 1
        found[(*about, number)] = row
    return found


def _label(key: _Key, zones: Mapping[str, _Row]) -> str:
    track, tow, zone_id, part = (str(name) for name in key[:4])
    who = (
        say("verify.difference.outside_tows")
        if tow == "None"
        else say("verify.difference.tow", tow=_cut(tow))
    )
    if zone_id == "None":
        return say("verify.difference.move", who=who, track=_cut(track))
    zone = zones.get(zone_id, {}).get("name", zone_id)
    said = {"zone": _cut(str(zone)), "part": _cut(part), "track": _cut(track)}
    return say("verify.difference.row", who=who, **said)


def _cut(text: str) -> str:
    return short(text, _NAME)


def _apart(before: object, after: object, tolerance_m: float) -> bool:
    numbers = [
        value for value in (before, after) if isinstance(value, int | float) and not isinstance(value, bool)
    ]
    if len(numbers) < 2:
        return before != after
    return not abs(numbers[0] - numbers[1]) <= tolerance_m + _FLOAT_M


def _length(value: object) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e12:
        return say("verify.difference.length", length=f"{value:.2f}")
    return say("verify.difference.no_length") if value is None else _told(value)


def _told(value: object) -> str:
    return say("verify.difference.nothing") if value is None else short(str(value), _NAME)
