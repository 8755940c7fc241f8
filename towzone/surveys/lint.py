"""Everything that is wrong, or may be, with the features of zone files."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date

from towzone.errors import Problem
from towzone.model.candidate import Candidate
from towzone.model.result import Remark
from towzone.surveys.corners import corner_defects
from towzone.surveys.defects import Defect, Severity
from towzone.surveys.neighbours import neighbour_defects
from towzone.surveys.words import word_defects

__all__ = ["file_notes", "in_order", "lint", "refusals"]

_FEATURE = re.compile(r"feature (\d+)")
_RANK = {severity: rank for rank, severity in enumerate(Severity)}


def refusals(file: str, problems: Sequence[Problem], candidates: Sequence[Candidate]) -> tuple[Defect, ...]:
    """Return what a reader refused as defects.

    Parameters
    ----------
    file : str
    problems : sequence of Problem
        Of that file.
    candidates : sequence of Candidate
        Its features, to name the zones.
    """
    ids = {
        candidate.feature: candidate.zone.zone_id if candidate.zone else _stated_id(candidate)
        for candidate in candidates
    }
    return tuple(_refusal(file, problem, ids) for problem in problems)


def _refusal(file: str, problem: Problem, ids: dict[int, str]) -> Defect:
    match = _FEATURE.search(problem.where)
    feature = int(match[1]) if match else None
    return Defect(
        severity=Severity.REFUSED,
        code="refused",
        file=file,
        feature=feature,
        where=problem.where,
        zone_id=ids.get(feature, "") if feature is not None else "",
        message=problem.message,
    )


def _stated_id(candidate: Candidate) -> str:
    stated = candidate.properties.get("zone_id")
    return stated if isinstance(stated, str) else ""


def file_notes(remarks: Sequence[Remark]) -> tuple[Defect, ...]:
    """Return what a reader remarked on a whole file, such as a change of datum, as notes."""
    return tuple(
        Defect(
            severity=Severity.NOTE,
            code="remark",
            file=remark.file,
            feature=None,
            where="",
            zone_id="",
            message=remark.message,
        )
        for remark in remarks
        if not remark.where
    )


def lint(candidates: Sequence[Candidate], *, on: date | None = None) -> tuple[Defect, ...]:
    """Return what is doubtful about features of one or several files, by file and feature, worst first.

    Parameters
    ----------
    candidates : sequence of Candidate
        Refused ones too: their corners are looked at all the same.
    on : date or None
        Day for which to ask what has expired or not yet begun; ``None`` does not ask.
    """
    return in_order(_found(candidates, on))


def in_order(defects: Iterator[Defect] | Sequence[Defect]) -> tuple[Defect, ...]:
    """Return defects by file in the order first met, then by feature, then worst first."""
    defects = list(defects)
    file_rank: dict[str, int] = {}
    for defect in defects:
        file_rank.setdefault(defect.file, len(file_rank))
    return tuple(
        sorted(
            defects, key=lambda d: (file_rank[d.file], d.feature or 0, _RANK[d.severity], d.code, d.corner)
        )
    )


def _found(candidates: Sequence[Candidate], on: date | None) -> Iterator[Defect]:
    for candidate in candidates:
        yield from word_defects(candidate, on)
    yield from corner_defects(candidates)
    yield from neighbour_defects(candidates)
