"""A zone: a shape, how its corners are joined, what is prohibited there and who says so."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape
from towzone.model.rules import Rules

__all__ = ["DEFAULT_PROHIBITS", "Prohibition", "Zone", "ZoneKind"]


class ZoneKind(StrEnum):
    """What lies there."""

    CLOSED_AREA = "closed_area"
    CABLE = "cable"
    PIPELINE = "pipeline"
    SAFETY_ZONE = "safety_zone"
    OBSTRUCTION = "obstruction"
    OTHER = "other"


class Prohibition(StrEnum):
    """What must not happen inside."""

    ENTRY = "entry"
    FISHING = "fishing"
    BOTTOM_CONTACT = "bottom_contact"


DEFAULT_PROHIBITS: dict[ZoneKind, tuple[Prohibition, ...]] = {
    ZoneKind.CLOSED_AREA: (Prohibition.FISHING,),
    ZoneKind.SAFETY_ZONE: (Prohibition.ENTRY,),
    ZoneKind.CABLE: (Prohibition.BOTTOM_CONTACT,),
    ZoneKind.PIPELINE: (Prohibition.BOTTOM_CONTACT,),
    ZoneKind.OBSTRUCTION: (Prohibition.BOTTOM_CONTACT,),
}
"""What a kind of zone prohibits unless the file says otherwise; ``other`` has no default."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zone:
    """One zone of a zone file, read and validated.

    Parameters
    ----------
    zone_id : str
        Unique in a run.
    name : str
        What the notice calls it; untrusted text.
    kind : ZoneKind
    shape : Shape
        Corners in degrees WGS 84.
    edges : LineKind
        How corners are joined.
    edges_stated : bool
        Whether the file (or ``--edges``) said so; if not, ``edges`` is the RFC 7946 reading.
    prohibits : tuple of Prohibition
        At least one.
    margin_m : float or None
        Required clearance in metres; ``None`` when the file states none.
    radius_m : float
        The zone is all within this distance of the shape, metres.
    rules : Rules
        When and for whom the prohibition holds.
    source, issued, note : str
        Citation, date and free text of the notice; untrusted text; empty when not stated.
    file : str
        Path of the zone file as the user wrote it.
    feature : int
        Number of the feature in that file, from 1.
    datum_note : str
        How the corners came to WGS 84 when the file used another datum; empty otherwise.
    datum_accuracy_m : float
        Stated accuracy of that transformation, metres; 0 when the file was WGS 84.
    """

    zone_id: str
    name: str
    kind: ZoneKind
    shape: Shape
    edges: LineKind
    edges_stated: bool
    prohibits: tuple[Prohibition, ...]
    margin_m: float | None = None
    radius_m: float = 0.0
    rules: Rules = field(default_factory=Rules)
    source: str = ""
    issued: str = ""
    note: str = ""
    file: str = ""
    feature: int = 0
    datum_note: str = ""
    datum_accuracy_m: float = 0.0
