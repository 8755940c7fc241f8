"""The answer of a check: rows with a status each, and everything needed to judge them."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from towzone.model.gear import GearAccount, GearReach, GearTier
from towzone.model.plan import PlanAccount
from towzone.model.track import Track
from towzone.model.zone import Zone

__all__ = [
    "FINDINGS",
    "ROLE_HAUL_LOG",
    "ROLE_TRACK",
    "ROLE_VESSEL",
    "ROLE_ZONES",
    "Activity",
    "CheckResult",
    "CloseStretch",
    "Closest",
    "Disagreement",
    "DisagreementKind",
    "Doubt",
    "Gap",
    "InputFile",
    "InsideStretch",
    "MoveOn",
    "Outcome",
    "Part",
    "Remark",
    "Row",
    "Status",
    "Tow",
    "ZoneReach",
]


class Status(StrEnum):
    """What is known of one row, worst first; see README, "How to read a result"."""

    INSIDE = "inside"
    TOO_CLOSE = "too_close"
    UNDETERMINED = "undetermined"
    TRANSIT = "transit"
    NOT_IN_FORCE = "not_in_force"
    CLEAR = "clear"


FINDINGS = frozenset({Status.INSIDE, Status.TOO_CLOSE})
"""The statuses that make exit code 1."""


class Outcome(StrEnum):
    """The whole check in one word."""

    FINDING = "finding"
    UNDETERMINED = "undetermined"
    CLEAR = "clear"


class Activity(StrEnum):
    """What the vessel was doing."""

    TOWING = "towing"
    NOT_TOWING = "not_towing"
    UNKNOWN = "unknown"


class Part(StrEnum):
    """What came close: the ship or what it tows."""

    VESSEL = "vessel"
    GEAR = "gear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Closest:
    """Where the path came nearest to the boundary (or, when inside, where it was deepest).

    Positions in degrees WGS 84; ``bearing_deg`` is the true bearing from the vessel to the boundary,
    0 to 360 (``None`` when they coincide); ``utc`` is ``NaT`` when the time is unknown.
    """

    utc: np.datetime64
    lon_deg: float
    lat_deg: float
    zone_lon_deg: float
    zone_lat_deg: float
    bearing_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class InsideStretch:
    """One stay inside a zone, from entry to exit; times ``NaT`` and derived values ``None`` when unknown."""

    enter_utc: np.datetime64
    enter_lon_deg: float
    enter_lat_deg: float
    leave_utc: np.datetime64
    leave_lon_deg: float
    leave_lat_deg: float
    seconds: float | None
    length_m: float
    min_speed_kn: float | None
    mean_speed_kn: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseStretch:
    """One stretch with less than the required clearance; times ``NaT`` when unknown."""

    from_utc: np.datetime64
    to_utc: np.datetime64
    seconds: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneReach:
    """What the positions leave open of a zone in one gap.

    Parameters
    ----------
    zone_id : str
    least_speed_kn : float
        Mean speed over the gap that would have been needed to come up to the zone or its margin.
    longest_inside_s : float
        Longest time it could have spent there at its top speed on the way in and out.
    tow_fits : bool
        Whether a tow of the least length could have been made there.
    """

    zone_id: str
    least_speed_kn: float
    longest_inside_s: float
    tow_fits: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch between two fixes that the positions do not cover.

    ``fix`` is the index of the fix before the gap. ``seconds`` is ``None`` when a time is missing.
    ``reach_m`` is the length of the vessel's longest possible path across the gap, metres
    (``None``: no time, no bound). ``could_reach`` tells of each zone that it leaves open (none without times:
    then all of them are).
    """

    fix: int
    from_utc: np.datetime64
    to_utc: np.datetime64
    seconds: float | None
    reach_m: float | None
    could_reach: tuple[ZoneReach, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tow:
    """One tow of a track.

    Positions are longitude and latitude in degrees.
    The gear may have been in the water from fix ``first`` to fix ``last``; from the place ``shoot`` to the
    place ``haul`` (3.25 is a quarter of the way from fix 3 to fix 4) it was towed. Times are those of the
    places, positions too (``None`` in a gap); ``length_m`` and ``seconds`` lie between them. ``basis`` is
    ``log``, ``detected`` or ``all``; ``haul_id`` is what the haul log calls it; ``depth_m`` is what the haul
    log says, else the mean of the depths on the track; ``rectangles`` are those of ICES, as entered.
    """

    track_id: str
    number: int
    first: int
    last: int
    shoot: float
    haul: float
    shoot_utc: np.datetime64
    haul_utc: np.datetime64
    seconds: float | None
    length_m: float
    mean_speed_kn: float | None
    basis: str
    haul_id: str = ""
    shoot_position: tuple[float, float] | None = None
    haul_position: tuple[float, float] | None = None
    depth_m: float | None = None
    rectangles: tuple[str, ...] = ()
    shoot_open: bool = False
    haul_open: bool = False
    gap_seconds: float = 0.0
    in_track: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A stretch of a track of which towing cannot be told, from fix ``first`` to fix ``last``.

    Times are ``NaT``, ``seconds`` is ``None`` when unknown.
    """

    track_id: str
    first: int
    last: int
    from_utc: np.datetime64
    to_utc: np.datetime64
    seconds: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One track or tow against one zone; field meanings as in README, "The result as JSON".

    ``gear`` is there for rows of the gear only.
    """

    track_id: str
    tow: int | None
    activity: Activity
    zone_id: str
    part: Part
    status: Status
    reason: str
    clearance_m: float | None
    margin_m: float
    uncertainty_m: float
    closest: Closest | None
    inside: tuple[InsideStretch, ...] = ()
    close: tuple[CloseStretch, ...] = ()
    explain: str = ""
    gear: GearReach | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveOn:
    """Whether one later shot was far enough from every position of a tow.

    ``tow`` is ``None`` where it is open whether the vessel shot at all; ``distance_m`` is ``None`` where
    the positions do not tell, the other places and times are then ``NaN`` and ``NaT``. ``status`` is
    ``too_close``, ``undetermined`` or ``clear``.
    """

    track_id: str
    from_tow: int
    tow: int | None
    status: Status
    reason: str
    distance_m: float | None
    required_m: float
    uncertainty_m: float
    shoot_utc: np.datetime64
    lon_deg: float
    lat_deg: float
    nearest_utc: np.datetime64
    nearest_lon_deg: float
    nearest_lat_deg: float
    explain: str


class DisagreementKind(StrEnum):
    """In what a haul log and a track disagree."""

    UNLOGGED = "unlogged"
    NOT_IN_TRACK = "not_in_track"
    TIMES_APART = "times_apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """One thing that a haul log and a track tell differently.

    Parameters
    ----------
    kind : DisagreementKind
    haul_id : str
        What the log calls the haul; untrusted text, empty for a tow that is not logged.
    logged_shoot_utc, logged_haul_utc : datetime64[us]
        ``NaT`` for a tow that is not logged.
    track_shoot_utc, track_haul_utc : datetime64[us]
        ``NaT`` where the track shows no tow.
    explain : str
        A sentence.
    """

    kind: DisagreementKind
    haul_id: str
    logged_shoot_utc: np.datetime64
    logged_haul_utc: np.datetime64
    track_shoot_utc: np.datetime64
    track_haul_utc: np.datetime64
    explain: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something a person should look at; ``file`` and ``where`` may be empty."""

    file: str
    where: str
    message: str


ROLE_TRACK, ROLE_ZONES, ROLE_VESSEL, ROLE_HAUL_LOG = "track", "zones", "vessel", "haul_log"
"""What an input was read as."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """An input as it was read: path as written, SHA-256 (hex) and size of its bytes.

    ``form`` says in words what it is, ``tally`` what was counted in it; empty for zones and profiles.
    ``role`` says what it was read as: ``track``, ``zones``, ``vessel`` or ``haul_log``.
    """

    file: str
    sha256: str
    bytes: int
    form: str = ""
    role: str = ""
    tally: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckResult:
    """Everything a check found out; the single source of text, JSON, CSV, GeoJSON and record.

    Parameters
    ----------
    tracks, zones
        The checked inputs, in input order.
    margins_m : dict of str to float
        Required clearance in force for each ``zone_id``, metres.
    in_force : dict of str to bool
        Whether each ``zone_id`` was in force at some time of the tracks.
    gaps : dict of str to tuple of Gap
        By ``track_id``.
    lengths_m : dict of str to float
        Length of the positions-supported path by ``track_id``, metres.
    tows : tuple of Tow
    rows : tuple of Row
        Sorted worst first. Pairs beyond the reach are left out and counted in ``beyond_reach``.
    beyond_reach : int
        Pairs (track or tow, zone) proved clear because farther than the reach.
    assumptions : tuple of str
    warnings : tuple of Remark
    inputs : tuple of InputFile
    doubts : tuple of Doubt
    moves : tuple of MoveOn
        Of the move-on rule asked for.
    log_disagreements : dict of str to tuple of Disagreement
        Of the haul log with each track, by ``track_id``; tracks without any may be missing.
    gear : GearAccount or None
        ``None`` where no figures of the gear were given.
    plan : PlanAccount or None
        Of a plan: timetable, advice and corrected lines, which are among the tracks.
    settings, methods : dict of str to JSON-ready values
    version : str
    """

    tracks: tuple[Track, ...]
    zones: tuple[Zone, ...]
    margins_m: dict[str, float]
    in_force: dict[str, bool]
    gaps: dict[str, tuple[Gap, ...]]
    lengths_m: dict[str, float]
    tows: tuple[Tow, ...]
    rows: tuple[Row, ...]
    beyond_reach: int
    assumptions: tuple[str, ...]
    warnings: tuple[Remark, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    moves: tuple[MoveOn, ...] = ()
    log_disagreements: dict[str, tuple[Disagreement, ...]] = field(default_factory=dict)
    gear: GearAccount | None = None
    plan: PlanAccount | None = None
    settings: dict[str, object] = field(default_factory=dict)
    methods: dict[str, object] = field(default_factory=dict)
    version: str = ""

    @property
    def outcome(self) -> Outcome:
        """The whole check in one word: any finding, else anything undetermined, else clear."""
        return _outcome({row.status for row in self.rows} | {move.status for move in self.moves})

    def outcome_of(self, track_id: str) -> Outcome:
        """Return the outcome of the rows of one track alone."""
        return _outcome({row.status for row in self.rows if row.track_id == track_id})

    @property
    def gear_unchecked(self) -> bool:
        """Whether there were tows (or may have been) and zones, but no figures of the gear to check it by."""
        return self.gear is None and bool(self.tows or self.doubts) and bool(self.zones)

    @property
    def clear_by_model(self) -> int:
        """How many rows are clear by the model of the gear's path alone, not by the length of its rope."""
        return sum(
            row.status is Status.CLEAR and row.gear is not None and row.gear.tier is GearTier.NOT_RULED_OUT
            for row in self.rows
        )

    @property
    def counts(self) -> dict[Status, int]:
        """Rows of each status; ``clear`` includes the pairs beyond the reach."""
        counts = dict.fromkeys(Status, 0)
        for row in self.rows:
            counts[row.status] += 1
        counts[Status.CLEAR] += self.beyond_reach
        return counts


def _outcome(statuses: Set[Status]) -> Outcome:
    if statuses & FINDINGS:
        return Outcome.FINDING
    if Status.UNDETERMINED in statuses:
        return Outcome.UNDETERMINED
    return Outcome.CLEAR
