"""Zones in the making held against the reader of zone files, so that nothing is written that it refuses."""

from __future__ import annotations

from collections.abc import Iterable

from towzone.errors import InputError, Problem
from towzone.files.properties import read_properties
from towzone.geodesy.lines import LineKind
from towzone.geodesy.soundness import surely_sound
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
    pairs = list(drafts)
    stated = [draft.properties.get("edges") for _, draft in pairs]
    kinds = [next((kind for kind in LineKind if kind == word), LineKind.LONLAT) for word in stated]
    sound = surely_sound([draft.shape for _, draft in pairs], kinds)
    problems = [
        Problem(where, fault)
        for (where, draft), kind, passed in zip(pairs, kinds, sound, strict=True)
        if not passed
        for fault in shape_faults(draft.shape, kind)
    ]
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
