"""What an audit of many vessels found out: a line for each vessel and each zone, and what was not checked."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from towzone.model.result import FINDINGS, InputFile, Outcome, Part, Remark, Status
from towzone.model.zone import Zone

__all__ = [
    "FleetOverview",
    "Standing",
    "VesselLine",
    "WorstRow",
    "ZoneLine",
    "record_name",
    "worst_first",
]

_SLUG_LENGTH = 48
"""Characters of a vessel's name in the name of its record. Own choice: file systems allow 255 bytes."""

_HASH_DIGITS = 12
"""Of the SHA-256 of the name: among a million names, chances of two alike are under 1 in 500. Own choice."""


class Standing(StrEnum):
    """What is known of one vessel, worst first.

    ``not_checked`` is a vessel of which nothing was found, but of which something could not be read or
    checked: it never counts as clear, nor as open only for what its positions say.
    """

    FINDING = "finding"
    NOT_CHECKED = "not_checked"
    UNDETERMINED = "undetermined"
    CLEAR = "clear"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstRow:
    """The worst row of a vessel, or the worst vessel of a zone, in brief.

    Parameters
    ----------
    zone_id, zone_name : str
        Untrusted text.
    part : Part
    status : Status
    reason : str
        As in `Row`.
    clearance_m : float or None
        Negative inside.
    margin_m : float
    utc : datetime64[us]
        Of the closest approach; ``NaT`` where not known.
    lon_deg, lat_deg : float or None
        Of the vessel or gear at its closest.
    """

    zone_id: str
    zone_name: str
    part: Part
    status: Status
    reason: str
    clearance_m: float | None
    margin_m: float
    utc: np.datetime64
    lon_deg: float | None
    lat_deg: float | None

    @property
    def short_by_m(self) -> float:
        """How much was missing of the required clearance, metres, negative where none was.

        Minus infinity where the clearance is not known.
        """
        return -math.inf if self.clearance_m is None else self.margin_m - self.clearance_m


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselLine:
    """One vessel of an audit.

    Parameters
    ----------
    vessel : str
        As ``--only`` takes it; untrusted text.
    files : tuple of str
        Files that its positions came from, as ``towzone check`` takes them.
    outcome : Outcome or None
        ``None`` where no check of it was completed.
    problem : str
        Why it was not checked, or not all of it: one or more sentences, untrusted text; else empty.
    counts : mapping of Status to int
        Rows of each status, ``clear`` with the pairs beyond the reach, as in `CheckResult.counts`.
    worst : WorstRow or None
        ``None`` where it has no rows.
    found_in : tuple of str
        ``zone_id`` of each zone with a finding, without repeats.
    gear_unchecked : bool
        As in `CheckResult.gear_unchecked`.
    tows : int
    towing_s, tracked_s : float
        Time from shooting to hauling of all tows, and covered by positions, seconds.
    gaps : int
    gap_s : float
        Time in gaps, seconds.
    fixes_read, fixes_used : int
        What is neither used nor left out does not exist: the difference was left out.
    first_utc, last_utc : datetime64[us]
        Of the fixes used; ``NaT`` where not known.
    remarks : int
        Warnings that its own result has.
    record : str
        Path of its record below the folder of the overview, ``/`` between folders; empty where none was made.
    """

    vessel: str
    files: tuple[str, ...] = ()
    outcome: Outcome | None = None
    problem: str = ""
    counts: Mapping[Status, int] = field(default_factory=dict)
    worst: WorstRow | None = None
    found_in: tuple[str, ...] = ()
    gear_unchecked: bool = False
    tows: int = 0
    towing_s: float = 0.0
    tracked_s: float = 0.0
    gaps: int = 0
    gap_s: float = 0.0
    fixes_read: int = 0
    fixes_used: int = 0
    first_utc: np.datetime64 = field(default_factory=lambda: np.datetime64("NaT", "us"))
    last_utc: np.datetime64 = field(default_factory=lambda: np.datetime64("NaT", "us"))
    remarks: int = 0
    record: str = ""

    @property
    def findings(self) -> int:
        """Rows inside or too close."""
        return sum(self.counts.get(status, 0) for status in FINDINGS)

    @property
    def standing(self) -> Standing:
        """What is known of it; clear only where something was checked and nothing was left unchecked."""
        if self.outcome is Outcome.FINDING or self.findings:
            return Standing.FINDING
        if self.outcome is None or self.problem or not sum(self.counts.values()):
            return Standing.NOT_CHECKED
        open_still = self.outcome is Outcome.UNDETERMINED or self.counts.get(Status.UNDETERMINED, 0) > 0
        return Standing.UNDETERMINED if open_still else Standing.CLEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLine:
    """One zone of an audit.

    Parameters
    ----------
    zone : Zone
    margin_m : float
        Required clearance, metres.
    vessels : mapping of Status to int
        Vessels by the worst status that any row of theirs has against it; ``clear`` may be missing.
    worst : WorstRow or None
        The worst of all its rows.
    worst_vessel : str
        Whose that is; untrusted text.
    """

    zone: Zone
    margin_m: float
    vessels: Mapping[Status, int] = field(default_factory=dict)
    worst: WorstRow | None = None
    worst_vessel: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetOverview:
    """All that is told of an audit of many vessels.

    Parameters
    ----------
    vessels : tuple of VesselLine
        Every vessel that was met, in any order.
    zones : tuple of ZoneLine
        Every zone, in input order.
    problems : tuple of Remark
        Files and pieces of files that could not be read, and what else was left undone, vessels apart: each
        means that something may be missing.
    positions, zone_files : tuple of str
        As the user wrote them.
    options : tuple of str
        The other options that shape a check, as words of a command line.
    assumptions, warnings, inputs, settings, methods, version
        As in `CheckResult`.
    """

    vessels: tuple[VesselLine, ...]
    zones: tuple[ZoneLine, ...]
    problems: tuple[Remark, ...] = ()
    positions: tuple[str, ...] = ()
    zone_files: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    warnings: tuple[Remark, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    settings: Mapping[str, object] = field(default_factory=dict)
    methods: Mapping[str, object] = field(default_factory=dict)
    version: str = ""

    @property
    def standings(self) -> dict[Standing, int]:
        """How many vessels stand how."""
        found = [line.standing for line in self.vessels]
        return {standing: found.count(standing) for standing in Standing}


def worst_first(lines: Iterable[VesselLine]) -> list[VesselLine]:
    """Return vessels sorted worst first; the same whatever their order was.

    By standing, status of the worst row, what it was short of its margin, number of findings, of rows not
    decided, name.
    """
    return sorted(lines, key=_badness)


def _badness(line: VesselLine) -> tuple[object, ...]:
    statuses, standings = list(Status), list(Standing)
    worst = statuses.index(line.worst.status) if line.worst is not None else len(statuses)
    short_by_m = line.worst.short_by_m if line.worst is not None else -math.inf
    undecided = line.counts.get(Status.UNDETERMINED, 0)
    return (
        standings.index(line.standing),
        worst,
        -short_by_m,
        -line.findings,
        -undecided,
        line.vessel,
        line.files,
    )


def record_name(vessel: str, files: Sequence[str] = ()) -> str:
    r"""Return the file name of a vessel's record: safe on every file system, and no other vessel's.

    It depends on nothing but the vessel, so that any worker finds the same one.

    Parameters
    ----------
    vessel : str
        Any text.
    files : sequence of str
        Where vessels are told apart by their files as well.

    Examples
    --------
    >>> record_name("../Brigg \u00c9toile")
    'Brigg-Etoile-c382f3fcbea5.html'
    """
    plain = unicodedata.normalize("NFKD", vessel).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:_SLUG_LENGTH].strip("-")
    whole = "\0".join((vessel, *files)).encode("utf-8", "surrogatepass")
    digest = hashlib.sha256(whole).hexdigest()[:_HASH_DIGITS]
    return f"{slug}-{digest}.html" if slug else f"{digest}.html"
