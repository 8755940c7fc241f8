"""Zones in the making held against the reader of zone files, so that nothing is written that it refuses."""

from __future__ import annotations

from collections.abc import Iterable

from towzone.errors import InputError, Problem
from towzone.files.properties import read_properties
from towzone.geodesy.lines import LineKind
from towzone.geodesy.validity import shape_faults
from towzone.model.draft import Draft

__all__ = ["check_drafts", "check_shapes"]


def check_shapes(file: str, drafts: Iterable[tuple[str, Draft]]) -> None:
    """Refuse shapes that cannot be judged, each with its place; unstated edges are held to be lon/lat.

    Raises
    ------
    InputError
        Every fault of every shape.
    """
    problems = []
    for where, draft in drafts:
        stated = draft.properties.get("edges")
        kind = next((kind for kind in LineKind if kind == stated), LineKind.LONLAT)
        problems += [Problem(where, fault) for fault in shape_faults(draft.shape, kind)]
    if problems:
        raise InputError(file, problems)


def check_drafts(file: str, drafts: Iterable[tuple[str, Draft]]) -> list[tuple[str, str]]:
    """Refuse properties the reader of zone files would refuse; return what it would remark.

    Raises
    ------
    InputError
        Every fault of every zone.
    """
    problems: list[Problem] = []
    remarks: list[tuple[str, str]] = []
    for where, draft in drafts:
        _, faults, said = read_properties(draft.properties)
        problems += [Problem(where, fault) for fault in faults]
        remarks += [(where, sentence) for sentence in said]
    if problems:
        raise InputError(file, problems)
    return remarks
