"""What every worker of an audit has to know: where the work lies, what is stated, how large pieces may be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from towzone.checks.settings import CheckSettings
from towzone.fleet.pieces import PieceSizes
from towzone.geodesy.lines import LineKind
from towzone.tracks.options import ReadingOptions

__all__ = ["FileRead", "Job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRead:
    """A file as the user wrote it, where it lies, and the SHA-256 (hex) it had when the audit began."""

    file: str
    place: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One audit.

    Parameters
    ----------
    work : str
        The folder in which everything lies that is not finished, from the root.
    edges : LineKind or None
        Taken for zones that do not state theirs.
    settings : CheckSettings
        With the defaults of what vessels' profiles may say.
    position_error_m, max_speed_kn : float or None
        As the command line states them.
    reading : ReadingOptions
    vessel_file : FileRead or None
        The profile of vessels without one of their own.
    profiles : mapping of str to FileRead
        Profiles of vessels by their keys.
    memory_bytes : int
        What one worker may take.
    sizes : PieceSizes
    """

    work: str
    edges: LineKind | None
    settings: CheckSettings
    position_error_m: float | None
    max_speed_kn: float | None
    reading: ReadingOptions
    vessel_file: FileRead | None
    profiles: Mapping[str, FileRead]
    memory_bytes: int
    sizes: PieceSizes

    @property
    def spools(self) -> Path:
        """The folder of fixes sorted by vessel, and of what was read of each piece."""
        return Path(self.work, "pieces")

    @property
    def answers(self) -> Path:
        """The folder of finished vessels."""
        return Path(self.work, "vessels")

    @property
    def gathered(self) -> Path:
        """The folder of parts of the result, until all of them are there."""
        return Path(self.work, "parts")
