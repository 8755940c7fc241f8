"""What an audit of a fleet found in all: the totals, a line for each vessel, what could not be read."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from towzone.model.result import FINDINGS, Status

__all__ = [
    "SCHEMA",
    "FleetOutcome",
    "FleetTotals",
    "InputSeen",
    "KnownBy",
    "Unread",
    "VesselLine",
    "ZoneLine",
    "in_one_line",
    "record_name",
    "worst_first",
]

SCHEMA = "towzone.fleet/1"

_SLUG_LENGTH = 48
"""Characters of a vessel's name in the name of its record. Own choice: file systems allow 255 bytes."""

_PROBLEMS = 3
"""Of a file, told in one line; all of them stand in ``totals.json``. Own choice."""

_HASH_DIGITS = 12
"""Of the SHA-256 of the name: among a million names, chances of two alike are under 1 in 500. Own choice."""


class FleetOutcome(StrEnum):
    """What came of one vessel, or of all, worst first.

    ``fault``: towzone itself failed on it; ``not_checked``: refused, with a reason, or positions of it could
    not be read and the rest shows nothing; both are as good as undetermined, never clear.
    """

    FINDING = "finding"
    FAULT = "fault"
    NOT_CHECKED = "not_checked"
    UNDETERMINED = "undetermined"
    CLEAR = "clear"


class KnownBy(StrEnum):
    """What says which vessel positions are of."""

    NAME = "name"
    FILE = "file"


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselLine:
    """One vessel in a line, as in ``vessels.parquet``; every text but ``outcome`` and statuses is untrusted.

    Parameters
    ----------
    vessel : str
        Its name, as first spelled, or that of its file.
    known_by : KnownBy
    spellings : tuple of str
        All spellings of its name in the inputs: what ``towzone check --only`` takes.
    outcome : FleetOutcome
    problem : str
        Why it was not checked, or which positions of it could not be read; empty where there is nothing.
    counts : mapping of str to int
        Rows of each status, ``clear`` with the pairs beyond the reach, as in the result of a check.
    worst_status, worst_zone_id, worst_zone_name : str
        Of the first of its rows, worst first; empty without rows.
    worst_part : str
        Vessel or gear, of that row.
    worst_clearance_m, worst_margin_m : float or None
        Of that row: negative inside; what was required.
    worst_utc : str or None
        RFC 3339, when that row was closest.
    worst_lon_deg, worst_lat_deg : float or None
        Where it was closest.
    found_in : tuple of str
        ``zone_id`` of each zone with findings, without repeats.
    gear_unchecked : bool
        As in `CheckResult.gear_unchecked`.
    tows : int
    towing_s, tracked_s, gap_s : float
        Seconds in tows, between positions close enough in time, and in gaps.
    start_utc, end_utc : str or None
        RFC 3339.
    length_m : float
    fixes_read, fixes_used, fixes_left_out, gaps, tracks : int
    remarks : tuple of str
        On its tracks.
    files : tuple of str
        Inputs in which it has positions, as the user wrote them.
    profile : str
        Its vessel profile, empty where there is none.
    """

    vessel: str
    known_by: KnownBy
    spellings: tuple[str, ...]
    outcome: FleetOutcome
    problem: str
    counts: Mapping[str, int]
    worst_status: str
    worst_zone_id: str
    worst_zone_name: str
    worst_clearance_m: float | None
    tows: int
    towing_s: float
    tracked_s: float
    gap_s: float
    start_utc: str | None
    end_utc: str | None
    length_m: float
    fixes_read: int
    fixes_used: int
    fixes_left_out: int
    gaps: int
    tracks: int
    remarks: tuple[str, ...]
    files: tuple[str, ...]
    profile: str
    worst_part: str = ""
    worst_margin_m: float | None = None
    worst_utc: str | None = None
    worst_lon_deg: float | None = None
    worst_lat_deg: float | None = None
    found_in: tuple[str, ...] = ()
    gear_unchecked: bool = False

    @property
    def findings(self) -> int:
        """Rows inside or too close."""
        return sum(self.counts.get(status, 0) for status in FINDINGS)

    @property
    def standing(self) -> FleetOutcome:
        """The outcome as it may be told: clear only where all was checked."""
        nothing = self.problem or not sum(self.counts.values())
        if self.outcome in (FleetOutcome.UNDETERMINED, FleetOutcome.CLEAR) and nothing:
            return FleetOutcome.NOT_CHECKED
        return self.outcome

    @property
    def short_by_m(self) -> float:
        """What the worst row was short of its margin, negative where it was not; minus infinity unknown."""
        if self.worst_clearance_m is None or self.worst_margin_m is None:
            return -math.inf
        return self.worst_margin_m - self.worst_clearance_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """Positions that could not be read.

    Parameters
    ----------
    file : str
        As the user wrote it.
    reason : str
        What is wrong, with its place in the file.
    vessels : tuple of str, or None
        Whose they are; ``None``: that is not known.
    fault : bool
        Towzone itself failed on them.
    """

    file: str
    reason: str
    vessels: tuple[str, ...] | None
    fault: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class InputSeen:
    """An input: one file, for tables in parts each of these; ``role`` as in the result of a check."""

    file: str
    role: str
    sha256: str
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLine:
    """One zone in a line: its rows of each status, and how many vessels have findings.

    ``vessels`` counts vessels by the worst status that any row of theirs has against it; ``worst_vessel`` has
    the worst of these rows, with its clearance (``None`` where not known).
    """

    zone_id: str
    name: str
    kind: str
    margin_m: float | None
    source: str
    counts: Mapping[str, int]
    vessels_with_findings: int
    vessels: Mapping[str, int] = field(default_factory=dict)
    worst_vessel: str = ""
    worst_status: str = ""
    worst_clearance_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetTotals:
    """The totals of an audit, as in ``totals.json``.

    Parameters
    ----------
    outcome : FleetOutcome
        Of all: the worst of its vessels; never clear where anything could not be read.
    said : tuple of str
        The answer in sentences for people, first what could not be read or checked, if anything.
    notes : tuple of str
        What else they should know: profiles not used, vessels without a name, routes left aside.
    vessels : mapping of str to int
        Vessels of each outcome.
    counts : mapping of str to int
        Rows of each status, of all vessels.
    fixes_read, fixes_used, tows, gaps : int
    towing_s, tracked_s, gap_s : float
    start_utc, end_utc : str or None
    unread : tuple of Unread
    zones : tuple of ZoneLine
    inputs : tuple of InputSeen
    assumptions : tuple of (str, int)
        With the number of vessels each holds for; those on all vessels first.
    remarks : tuple of str
        On the inputs.
    settings, methods : mapping
        As in the result of a check.
    parts : mapping of str to str
        SHA-256 of every file of the result but the totals, the overview and records, by its name in OUT.
    version : str
    check_words : tuple of str
        What follows a vessel's files in ``towzone check`` to check it the same way: zones and options.
    """

    outcome: FleetOutcome
    said: tuple[str, ...]
    notes: tuple[str, ...]
    vessels: Mapping[str, int]
    counts: Mapping[str, int]
    fixes_read: int
    fixes_used: int
    tows: int
    gaps: int
    towing_s: float
    tracked_s: float
    gap_s: float
    start_utc: str | None
    end_utc: str | None
    unread: tuple[Unread, ...]
    zones: tuple[ZoneLine, ...]
    inputs: tuple[InputSeen, ...]
    assumptions: tuple[tuple[str, int], ...]
    remarks: tuple[str, ...]
    settings: Mapping[str, Any]
    methods: Mapping[str, Any]
    parts: Mapping[str, str]
    version: str
    check_words: tuple[str, ...] = ()


def in_one_line(reason: str, file: str) -> str:
    r"""Return in one line why something was not read: the file once, of many problems the first and the last.

    Examples
    --------
    >>> in_one_line("a.csv: line 2: no latitude", "a.csv")
    'a.csv: line 2: no latitude'
    >>> in_one_line("\n".join(f"a.csv: line {n}: none" for n in range(2, 9)), "a.csv")
    'a.csv: line 2: none; line 3: none; ...; line 8: none'
    """
    head = f"{file}: "
    first, *more = reason.splitlines() or [""]
    told = [
        first if first.startswith(file) else f"{head}{first}",
        *(line.removeprefix(head) for line in more),
    ]
    if len(told) > _PROBLEMS:
        told = [*told[: _PROBLEMS - 1], "...", told[-1]]
    return "; ".join(told)


def worst_first(lines: Iterable[VesselLine]) -> list[VesselLine]:
    """Return vessels sorted worst first; the same whatever their order was.

    By standing, status of the worst row, what it was short of its margin, number of findings, of rows not
    decided, name.
    """
    return sorted(lines, key=_badness)


def _badness(line: VesselLine) -> tuple[object, ...]:
    statuses = [str(status) for status in Status]
    worst = statuses.index(line.worst_status) if line.worst_status in statuses else len(statuses)
    return (
        list(FleetOutcome).index(line.standing),
        worst,
        -line.short_by_m,
        -line.findings,
        -line.counts.get(Status.UNDETERMINED, 0),
        line.vessel,
        line.known_by,
        line.files,
    )


def record_name(vessel: str, known_by: KnownBy = KnownBy.NAME) -> str:
    r"""Return the file name of a vessel's record: safe on every file system, and no other vessel's.

    It depends on nothing but the vessel, so that whoever makes the record finds the same one.

    Examples
    --------
    >>> record_name("../Brigg \u00c9toile")
    'Brigg-Etoile-02b1030b7e92.html'
    """
    plain = unicodedata.normalize("NFKD", vessel).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:_SLUG_LENGTH].strip("-")
    whole = f"{known_by}\0{vessel}".encode("utf-8", "surrogatepass")
    digest = hashlib.sha256(whole).hexdigest()[:_HASH_DIGITS]
    return f"{slug}-{digest}.html" if slug else f"{digest}.html"
