"""What can be wrong with a zone, and how much it matters."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from towzone.model.candidate import Candidate

__all__ = ["Defect", "Severity", "about"]


class Severity(StrEnum):
    """How much a defect matters, worst first."""

    REFUSED = "refused"
    """The file is not used until this is mended."""
    MISLEADS = "misleads"
    """The file is used, but most likely says something else than its author meant."""
    DOUBT = "doubt"
    """A person should compare this with the notice."""
    NOTE = "note"
    """Worth knowing; nothing need be wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """One thing that is wrong, or may be.

    Parameters
    ----------
    severity : Severity
    code : str
        What it is, in one or two words that stay the same from version to version.
    file : str
        Path as the user wrote it.
    feature : int or None
        Number of the feature in the file, from 1; ``None`` for the whole file.
    where : str
        The feature in words, with the name of its zone.
    zone_id : str
        Empty when the feature is no zone.
    corner : str
        Which corner, edge or ring, as its author counts; empty for the whole zone.
    position : tuple of float or None
        Longitude, latitude in degrees.
    message : str
        What was found and what to do, in plain sentences.
    """

    severity: Severity
    code: str
    file: str
    feature: int | None
    where: str
    zone_id: str
    corner: str = ""
    position: tuple[float, float] | None = None
    message: str


def about(
    candidate: Candidate,
    severity: Severity,
    code: str,
    message: str,
    *,
    corner: str = "",
    position: tuple[float, float] | None = None,
) -> Defect:
    """Return a defect of a feature."""
    return Defect(
        severity=severity,
        code=code,
        file=candidate.file,
        feature=candidate.feature,
        where=candidate.where,
        zone_id=candidate.zone.zone_id if candidate.zone is not None else "",
        corner=corner,
        position=position,
        message=message,
    )
