"""A notice as a run of pieces: positions, angles that found no partner, words, and blank lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from towzone.notices.values import Angle, Axis

__all__ = ["Blank", "Header", "Lone", "Piece", "Position", "Text"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What the head of a table says of its columns: which comes first, and their letters if printed."""

    first: Axis
    letters: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Two angles that belong together, in printed order, still without a decision on their axes."""

    line: int
    words: str
    first: Angle
    second: Angle
    label: str = ""
    group: str = ""
    header: Header | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lone:
    """Something like a coordinate that is not a position: an angle alone, numbers in no known form."""

    line: int
    words: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """Words without coordinates; ``begins`` and ``ends`` tell whether they begin and end their line."""

    line: int
    words: str
    begins: bool
    ends: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A line without anything."""

    line: int


Piece: TypeAlias = Position | Lone | Text | Blank
