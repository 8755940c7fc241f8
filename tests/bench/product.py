"""towzone, asked what the alternatives are asked."""

from __future__ import annotations

import numpy as np
from alternatives.common import REACH_M, Answer, Fixes, Table

from towzone.checks.batches import batches
from towzone.checks.boundaries import Boundaries
from towzone.checks.clearance_table import clearance_table
from towzone.checks.intervals import merged
from towzone.checks.passages import Demand, Passage, measure
from towzone.checks.paths import Path, build_path
from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, Towing
from towzone.model.result import CheckResult
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone


def track_of(fixes: Fixes) -> Track:
    """Return fixes as a track that has been sailed."""
    return Track(
        track_id="bench",
        source="bench",
        kind=TrackKind.COMPLETED,
        lon_deg=fixes.lon_deg,
        lat_deg=fixes.lat_deg,
        time_utc=fixes.second.astype("datetime64[s]"),
        part=np.zeros(len(fixes), dtype=np.int32),
        fixes_read=len(fixes),
    )


def fixes_of(track: Track) -> Fixes:
    """Return a track as bare columns."""
    second = track.time_utc.astype("datetime64[s]").astype(np.int64)
    return Fixes(second=second, lon_deg=track.lon_deg, lat_deg=track.lat_deg)


class Product:
    """The core of a check; ``check`` is all of it, as ``towzone check`` does after reading."""

    name = "towzone"

    def __init__(self, zones: tuple[Zone, ...]) -> None:
        self.zones = zones
        self.boundaries = Boundaries.of(zones)
        self.demands = [Demand(margin_m=zone.margin_m or 0.0, uncertainty_m=15.0) for zone in zones]

    def measured(self, fixes: Fixes) -> tuple[Path, list[Passage]]:
        """Return the trip as a path, and how it passed the zones.

        What was a tow is not looked for: the alternatives do not, and no clearance, entry or exit of the
        trip depends on it. `check` does all of it.
        """
        path = build_path(track_of(fixes), CheckSettings(towing=Towing.NONE))
        found = [
            passage
            for batch in batches(path)
            for passage in measure(batch, self.boundaries, self.demands, REACH_M)
        ]
        return path, found

    def answer(self, fixes: Fixes) -> Answer:
        path, found = self.measured(fixes)
        by_zone: dict[int, list[Passage]] = {}
        for passage in found:
            if passage.clearance_m is not None and passage.clearance_m <= REACH_M:
                by_zone.setdefault(passage.zone, []).append(passage)
        last = len(fixes) - 1.0
        entries, exits = {}, {}
        for zone, some in by_zone.items():
            stays = merged(
                *(np.concatenate([getattr(p.inside, end) for p in some]) for end in ("first", "last"))
            )
            begun, ended = stays.first[stays.first > 0.0], stays.last[stays.last < last]
            entries[zone], exits[zone] = _times(path, begun), _times(path, ended)
        least = {zone: min(p.clearance_m for p in some) for zone, some in by_zone.items()}
        return Answer(least_m=least, entries_s=entries, exits_s=exits)

    def table(self, fixes: Fixes) -> Table:
        blocks = clearance_table(fixes.lon_deg, fixes.lat_deg, self.zones, self.boundaries, REACH_M)
        return Table.of((some.point, some.zone, some.clearance_m) for some in blocks)

    def check(self, fixes: Fixes) -> CheckResult:
        return run_check([track_of(fixes)], self.zones, CheckSettings(gear="OTB"))


def _times(path: Path, place: np.ndarray) -> np.ndarray:
    """Return the times of places on a path, seconds."""
    fix = np.minimum(place.astype(np.int64), len(path.time_s) - 2)
    return path.time_s[fix] + (place - fix) * (path.time_s[fix + 1] - path.time_s[fix])
