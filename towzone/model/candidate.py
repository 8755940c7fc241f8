"""A feature of a zone file as it was found, whether or not it can be a zone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape
from towzone.model.zone import Zone

__all__ = ["Candidate"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """One feature, with its corners as the author wrote them.

    Parameters
    ----------
    file : str
        Path as the user wrote it.
    feature : int
        Number of the feature in the file, from 1.
    where : str
        The feature in words, with the name of its zone.
    properties : mapping
        All of them, untrusted.
    shape : Shape
        Corners in degrees WGS 84, repeated ones included, so that they count as in the file.
    edges : LineKind
        How they are joined.
    zone : Zone or None
        ``None`` when the feature was refused.
    remarks : tuple of str
        What its reader would have a person know.
    """

    file: str
    feature: int
    where: str
    properties: Mapping[str, object]
    shape: Shape
    edges: LineKind
    zone: Zone | None
    remarks: tuple[str, ...] = ()
