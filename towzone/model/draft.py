"""Zones on their way into a zone file: what was read, from where, and what a person must decide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from towzone.geodesy.shape import Shape

__all__ = ["Converted", "Draft", "Echo", "Question"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """One zone as it will be written.

    Parameters
    ----------
    shape : Shape
        Corners in degrees WGS 84.
    properties : mapping
        Zone properties by their names in a zone file, JSON-ready values.
    """

    shape: Shape
    properties: Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Echo:
    """One thing read, beside the words it was read from.

    ``where`` is the place in the input (``line 14``), ``words`` its text (untrusted), ``read`` what was
    understood, for example a position in degrees and minutes.
    """

    where: str
    words: str
    read: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something doubtful that only a person can decide.

    ``number`` counts from 1; ``answers`` are the values that ``--answer NUMBER=VALUE`` accepts.
    """

    number: int
    where: str
    text: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Converted:
    """What came out of a conversion; with open questions nothing may be written."""

    drafts: tuple[Draft, ...]
    echoes: tuple[Echo, ...] = ()
    questions: tuple[Question, ...] = ()
    remarks: tuple[tuple[str, str], ...] = ()
