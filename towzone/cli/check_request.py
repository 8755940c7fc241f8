"""What a check is asked for; what answers it, and takes long to load, is in `towzone.cli.requests`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from towzone.checks.settings import CheckSettings
from towzone.geodesy.lines import LineKind
from towzone.tracks.options import ReadingOptions

__all__ = ["CheckRequest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """What is to be checked: files and settings; what is stated here comes before the vessel's profile.

    ``local_tz`` names the time zone in which people are told times beside UTC. ``places`` tells of files
    that are read under one name where they lie under another.
    """

    tracks: tuple[str, ...]
    zone_files: tuple[str, ...] = ()
    settings: CheckSettings = field(default_factory=CheckSettings)
    vessel_file: str | None = None
    haul_log: str | None = None
    position_error_m: float | None = None
    max_speed_kn: float | None = None
    edges: LineKind | None = None
    depart_utc: np.datetime64 | None = None
    speed_kn: float | None = None
    reading: ReadingOptions = field(default_factory=ReadingOptions)
    local_tz: str | None = None
    places: Mapping[str, str] = field(default_factory=dict)

    @property
    def files(self) -> tuple[str, ...]:
        """Every file that will be read, as the user wrote it."""
        beside = [path for path in (self.vessel_file, self.haul_log) if path is not None]
        return (*self.tracks, *self.zone_files, *beside)
