"""A planned tow: the line, its timetable, what it keeps clear by, what would mend it, a line that does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import numpy.typing as npt

__all__ = [
    "POSITION_DECIMALS",
    "Advice",
    "AdviceKind",
    "CorrectedLine",
    "EventKind",
    "Fuel",
    "LinePlan",
    "NoLine",
    "NoLineWhy",
    "PlanAccount",
    "PlanEvent",
    "PlanLeg",
    "PlannedLine",
    "SeasonChange",
    "Timetable",
    "ZoneMargin",
]


POSITION_DECIMALS = 7
"""Decimals of a degree with which lines are written for plotters: rounding moves no point by more than 8 mm
(half of 1e-7 degrees is 5.6 mm on either axis)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedLine:
    """The corners of a planned tow, from where towing begins to where the haul is called.

    Parameters
    ----------
    name : str
        Unique in a plan; untrusted text.
    lon_deg, lat_deg : ndarray of float64, shape (n,)
        Degrees WGS 84, n at least 2; longitude in [-180, 180]. No two neighbours coincide.
    point_names : tuple of str
        What the file calls the corners, as many as there are; untrusted text, empty where it does not.
    source : str
        Path of the file as the user wrote it, or ``--line``; untrusted text.

    Notes
    -----
    Columns are copied and made read-only on construction.
    """

    name: str
    lon_deg: npt.NDArray[np.float64]
    lat_deg: npt.NDArray[np.float64]
    point_names: tuple[str, ...] = ()
    source: str = ""

    def __post_init__(self) -> None:
        for name in ("lon_deg", "lat_deg"):
            column = np.array(getattr(self, name), dtype=np.float64)
            if column.ndim != 1 or len(column) < 2 or not np.isfinite(column).all():
                message = f"{name} of a planned line must hold two or more finite numbers"
                raise ValueError(message)
            column.setflags(write=False)
            object.__setattr__(self, name, column)
        if len(self.lon_deg) != len(self.lat_deg):
            message = "longitudes and latitudes of a planned line differ in number"
            raise ValueError(message)
        names = self.point_names or ("",) * len(self.lon_deg)
        if len(names) != len(self.lon_deg):
            message = "a planned line has as many names of corners as corners, or none"
            raise ValueError(message)
        object.__setattr__(self, "point_names", tuple(names))

    def __len__(self) -> int:
        return len(self.lon_deg)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonChange:
    """A rule that begins or ceases to hold close to the time of a plan."""

    zone_id: str
    at_utc: np.datetime64
    begins: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLeg:
    """One leg of a planned line.

    Parameters
    ----------
    number : int
        From 1.
    lon0_deg, lat0_deg, lon1_deg, lat1_deg : float
        Where it begins and ends.
    course_deg : float
        True course at its beginning, 0 to 360; of a rhumb line all along.
    turn_deg : float or None
        Change of course at its end, positive to starboard; ``None`` at the end of the line.
    length_m, speed_kn : float
    begin_utc, end_utc : datetime64[us]
    rectangles : tuple of str
        Of ICES, as entered.
    zones : tuple of str
        Ids of the zones within reach of the vessel on this leg whose rule holds, or may hold, while it is
        sailed.
    """

    number: int
    lon0_deg: float
    lat0_deg: float
    lon1_deg: float
    lat1_deg: float
    course_deg: float
    turn_deg: float | None
    length_m: float
    speed_kn: float
    begin_utc: np.datetime64
    end_utc: np.datetime64
    rectangles: tuple[str, ...] = ()
    zones: tuple[str, ...] = ()


class EventKind(StrEnum):
    """What happens at a moment of a planned tow, in this order."""

    NET_AWAY = "net_away"
    EARLIEST_CONTACT = "earliest_contact"
    TOWING = "towing"
    HAUL_CALL = "haul_call"
    DOORS_OFF = "doors_off"
    LATEST_CONTACT = "latest_contact"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanEvent:
    """One moment of a planned tow: when, and where the vessel is then, degrees."""

    kind: EventKind
    utc: np.datetime64
    lon_deg: float
    lat_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """Fuel for a plan: litres, and the litres per hour that they rest on."""

    litres: float
    litres_per_hour: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable:
    """A planned tow in time.

    ``seconds`` and ``length_m`` are those of the line, from where towing begins to the haul call;
    ``whole_seconds`` from the net in the water to when no part of the gear can touch the bottom any more.
    ``fuel`` is for ``whole_seconds``; ``None`` where the profile does not say.
    """

    legs: tuple[PlanLeg, ...]
    events: tuple[PlanEvent, ...]
    seasons: tuple[SeasonChange, ...]
    length_m: float
    seconds: float
    whole_seconds: float
    fuel: Fuel | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneMargin:
    """What a line keeps clear of one zone by, metres; negative inside, ``None`` where not within reach.

    Parameters
    ----------
    zone_id : str
    margin_m : float
        What is required.
    vessel_m, gear_m : float or None
        Least clearance of the vessel, and of the gear by the figures as they are.
    likely_m : float or None
        Least clearance of the gear allowing for the spread of its figures; ``None`` where it was not needed.
    set_m : float or None
        Least clearance of the gear in the worst of the eight directions of the strongest current; ``None``
        where the length of the rope alone keeps it clear, so that no current matters.
    set_deg : float or None
        The direction that current sets to.
    leg : int or None
        The leg of the line on which the least of them was, from 1.
    """

    zone_id: str
    margin_m: float
    vessel_m: float | None
    gear_m: float | None
    likely_m: float | None
    set_m: float | None
    set_deg: float | None
    leg: int | None


class AdviceKind(StrEnum):
    """What a piece of advice is about."""

    SHIFT = "shift"
    BEGIN_TURN = "begin_turn"
    HOLD_ON = "hold_on"
    SPLIT_TURN = "split_turn"
    HAUL_CALL = "haul_call"
    SHOOT = "shoot"
    DEPARTURE = "departure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing to do, with numbers; what it says was checked by the check itself.

    Parameters
    ----------
    kind : AdviceKind
    leg : int or None
        The leg it is about, from 1; of a turn the leg that ends there.
    zone_ids : tuple of str
        The zones that it clears, or is about.
    words : str
        One or two sentences for people; holds no text from files.
    figures : mapping of str to number or text
        The numbers, units in the names.
    line : PlannedLine or None
        The line as it would be.
    clears : tuple of str
        Ids of the zones whose rows were not clear and are by this; ``whole`` tells whether all are.
    whole : bool
    """

    kind: AdviceKind
    leg: int | None
    zone_ids: tuple[str, ...]
    words: str
    figures: Mapping[str, float | str] = field(default_factory=dict)
    line: PlannedLine | None = None
    clears: tuple[str, ...] = ()
    whole: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedLine:
    """A line that keeps vessel and gear clear, as the whole check has shown.

    ``track_id`` is that of its track in the result. ``aside_m`` is how far it strays from the wanted line;
    ``missed_m`` by how much it passes each inner corner of that, in their order.
    """

    track_id: str
    line: PlannedLine
    timetable: Timetable
    margins: tuple[ZoneMargin, ...]
    longer_m: float
    longer_s: float
    more_litres: float | None
    aside_m: float
    missed_m: tuple[float, ...] = ()


class NoLineWhy(StrEnum):
    """Why there is no corrected line.

    ``start`` and ``end``: where the wanted line begins or ends cannot be clear on any course. ``closed``: the
    zones with their margins close the way, which is proved for the waters that were looked at. ``not_found``:
    the search found none, which proves nothing. ``gear``: where the gear goes cannot be computed.
    ``undecided``: rules of which it is not known whether they hold leave it open.
    """

    START = "start"
    END = "end"
    CLOSED = "closed"
    NOT_FOUND = "not_found"
    GEAR = "gear"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoLine:
    """That there is no corrected line, or none was found, and where it is narrowest.

    ``width_m`` is the way between the zones there, ``needed_m`` what vessel and gear with margins on both
    sides need; positions in degrees; all ``None`` where they do not apply.
    """

    why: NoLineWhy
    words: str
    zone_ids: tuple[str, ...] = ()
    lon_deg: float | None = None
    lat_deg: float | None = None
    width_m: float | None = None
    needed_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePlan:
    """All that a plan says of one line; ``corrected`` is ``None`` where the line needs no correction.

    ``track_id`` is that of its track in the result, whose `outcome_of` tells how it came out.
    """

    track_id: str
    line: PlannedLine
    timetable: Timetable
    margins: tuple[ZoneMargin, ...]
    advice: tuple[Advice, ...] = ()
    corrected: CorrectedLine | NoLine | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAccount:
    """What a plan adds to a check: one entry for each line that was asked about, in their order.

    ``not_known`` are sentences on what no plan knows: depth, bottom, traffic, weather, land.
    """

    lines: tuple[LinePlan, ...]
    not_known: tuple[str, ...]

    def of_track(self, track_id: str) -> LinePlan | None:
        """Return the plan of a line by its track, whether as wanted or as corrected."""
        for plan in self.lines:
            corrected = plan.corrected
            if track_id == plan.track_id:
                return plan
            if isinstance(corrected, CorrectedLine) and corrected.track_id == track_id:
                return plan
        return None
