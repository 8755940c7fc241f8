"""One object of a chart cell to the properties of a zone: what it is, what it prohibits, when."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from towzone.errors import quoted
from towzone.files.chart_dates import fixed_day, yearly_day
from towzone.files.chart_words import (
    CATEGORIES,
    CLASSES,
    RESTRAINTS,
    RESTRICTIONS,
    SAFETY_ZONES,
    STATUS,
    ChartClass,
)
from towzone.model.zone import DEFAULT_PROHIBITS, Prohibition, ZoneKind

__all__ = ["Mapped", "Verdicts", "map_object"]

Verdicts = Callable[[tuple[str, ...]], tuple[Prohibition, ...] | None]
"""Says what unknown restrictions (in words) prohibit; ``None`` while that is an open question."""

_Code = int | str
_OTHER = ChartClass(words="", kind=ZoneKind.CLOSED_AREA, prohibits=(), category="")


@dataclass(slots=True, kw_only=True)
class Mapped:
    """What became of an object.

    ``properties`` is ``None`` where nothing in it concerns a tow; ``left_out`` says in words what it
    restricts then. ``remarks`` are what a person should know.
    """

    properties: dict[str, object] | None = None
    left_out: str = ""
    remarks: list[str] = field(default_factory=list)


def map_object(name: str, attributes: Mapping[str, object], decide: Verdicts) -> Mapped:
    """Return the zone properties of an object.

    Parameters
    ----------
    name : str
        Object class. Those outside `CLASSES` become zones by their restrictions alone.
    attributes : mapping
        By acronym; lists of codes as text with commas.
    decide : callable
        Asked what restrictions prohibit that are not known here.

    Returns
    -------
    Mapped
    """
    chart_class = CLASSES.get(name, _OTHER)
    restrictions = _codes(attributes.get("RESTRN"))
    categories = _codes(attributes.get(chart_class.category)) if chart_class.category else []
    restrictions_said = [_word(code, RESTRICTIONS, "restriction") for code in restrictions]
    categories_said = [
        _word(code, CATEGORIES.get(chart_class.category, {}), "category") for code in categories
    ]
    prohibits = dict.fromkeys(chart_class.prohibits)
    prohibits |= dict.fromkeys(
        RESTRAINTS[code] for code in restrictions if isinstance(code, int) and code in RESTRAINTS
    )
    if name == "RESARE":
        prohibits |= dict.fromkeys(
            p for code in categories if isinstance(code, int) for p in SAFETY_ZONES.get(code, ())
        )
    if unknown := _unknown(name, restrictions, categories, categories_said, bool(prohibits)):
        decided = decide(unknown)
        prohibits |= dict.fromkeys(decided or ())
    mapped = Mapped()
    if not prohibits:
        mapped.left_out = ", ".join(restrictions_said + categories_said)
        return mapped
    kind = chart_class.kind
    if name == "RESARE" and {1, 12} & set(categories):
        kind = ZoneKind.SAFETY_ZONE
    properties: dict[str, object] = {"kind": kind.value}
    if tuple(prohibits) != DEFAULT_PROHIBITS.get(kind):
        properties["prohibits"] = [word.value for word in Prohibition if word in prohibits]
    words = chart_class.words or name
    properties["name"] = _text(attributes.get("OBJNAM")) or words
    properties |= _times(attributes, mapped.remarks)
    properties["note"] = "; ".join(
        [
            f"{words} ({name})" if chart_class.words else name,
            *categories_said,
            *restrictions_said,
            *_more(attributes),
        ]
    )
    mapped.properties = properties
    return mapped


def _unknown(
    name: str, restrictions: list[_Code], categories: list[_Code], said: list[str], known: bool
) -> tuple[str, ...]:
    """Return what only a person can say the meaning of, in words; empty when nothing is open."""
    unknown = tuple(f"restriction {code}" for code in restrictions if code not in RESTRICTIONS)
    if name != "RESARE" or known or restrictions:
        return unknown
    return tuple(said) if categories else ("no restriction and no category",)


def _times(attributes: Mapping[str, object], remarks: list[str]) -> dict[str, object]:
    """Return season and validity; what cannot be read leaves the zone in force, to err on the safe side."""
    found: dict[str, object] = {}
    texts = [_text(attributes.get(key)) for key in ("PERSTA", "PEREND")]
    days = [yearly_day(text, end=index == 1) for index, text in enumerate(texts)]
    if all(days):
        found["season"] = [{"from": days[0], "to": days[1]}]
    elif any(texts):
        remarks.append(
            f"season {quoted(texts[0])} to {quoted(texts[1])} cannot be read whole; the zone is taken to"
            " be in force all year"
        )
    texts = [_text(attributes.get(key)) for key in ("DATSTA", "DATEND")]
    days = [fixed_day(text, end=index == 1) for index, text in enumerate(texts)]
    for key, text, day in zip(("valid_from", "valid_until"), texts, days, strict=True):
        if day:
            found[key] = day
        elif text:
            remarks.append(f"date {quoted(text)} cannot be read; the zone is taken to be in force without it")
    if all(days) and days[0] > days[1]:
        del found["valid_from"], found["valid_until"]
        remarks.append(f"it ends on {days[1]}, before it begins; the zone is taken to be in force always")
    return found


def _more(attributes: Mapping[str, object]) -> list[str]:
    """Return depths, status and text, in words."""
    words = []
    for key, word in (("VALSOU", "depth"), ("BURDEP", "buried")):
        value = attributes.get(key)
        if isinstance(value, (int, float)):
            words.append(f"{word} {value:g} m")
    words += [_word(code, STATUS, "status") for code in _codes(attributes.get("STATUS"))]
    if inform := _text(attributes.get("INFORM")):
        words.append(inform)
    if file := _text(attributes.get("TXTDSC")):
        words.append(f"more in the file {file} of the chart")
    return words


def _codes(value: object) -> list[_Code]:
    """Return the codes of a list, which the library gives as text or as numbers; text if it is no number."""
    if isinstance(value, int):
        return [value]
    items = value if isinstance(value, (list, tuple)) else str(value or "").split(",")
    texts = [str(item).strip() for item in items]
    return [int(text) if text.isdecimal() else text for text in texts if text]


def _word(code: _Code, words: Mapping[int, str], what: str) -> str:
    known = words.get(code) if isinstance(code, int) else None
    return known or f"{what} {code}"


def _text(value: object) -> str:
    return "" if value is None else str(value).strip()
