"""One question, asked again and again while a plan is made: what the check says of this line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.force import change_instants
from towzone.checks.gear_figures import contact_of
from towzone.checks.near_zones import NearZones
from towzone.checks.run import TrackJudged, judge_track, run_check
from towzone.checks.settings import CheckSettings
from towzone.errors import UsageError
from towzone.gear.bounds import FARTHEST_M, rope_reach_m
from towzone.gear.figures import NoRigging, Rigging, rigging_for
from towzone.gear.phases import Contact, Winch
from towzone.geodesy.lines import direct
from towzone.model.plan import PlannedLine
from towzone.model.result import FINDINGS, CheckResult, InputFile, Remark, Row, Status
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone
from towzone.plan.lines import legs_of
from towzone.units import KNOT_MPS

__all__ = ["OPEN", "Judge", "PlanSettings"]

OPEN = FINDINGS | {Status.UNDETERMINED}
"""The statuses that keep a line from being clear."""

_UNKNOWN_RUN_S = 900.0
"""So long a gear of which nothing is known is taken to be shot, and hauled. Own choice."""

_AFTER_S = 1.0
"""The run-out goes on for so long after the last contact, so that all of it lies on the track."""

_MICROSECONDS = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """What a plan rests on, beside the line.

    Parameters
    ----------
    check : CheckSettings
        Among them the kind of legs, the gear, and how far off the line the vessel may be steered.
    depart_utc : datetime64[us]
        When the first corner is passed and towing begins.
    speed_kn : float
        Over the ground, while shooting and towing; above 0.
    hauling_way_kn : float
        Of the vessel over the ground while hauling; above 0.
    hauling_way_stated : bool
    strongest_kn : float
        The strongest current reckoned with, from any direction.
    strongest_stated : bool
    fuel_l_per_h : float or None
    """

    check: CheckSettings
    depart_utc: np.datetime64
    speed_kn: float
    hauling_way_kn: float
    hauling_way_stated: bool
    strongest_kn: float
    strongest_stated: bool = False
    fuel_l_per_h: float | None = None

    def __post_init__(self) -> None:
        for what, speed_kn in (("towing", self.speed_kn), ("hauling", self.hauling_way_kn)):
            if not speed_kn > 0.0:
                message = f"the speed while {what} is {speed_kn:g} kn; it must be more than 0"
                raise UsageError(message)
        if np.isnat(self.depart_utc):
            message = "the plan has no time of departure"
            raise UsageError(message)


class Judge:
    """The check, made ready to be asked about many lines among the same zones.

    Parameters
    ----------
    zones : sequence of Zone
        Ids unique.
    settings : PlanSettings
    like : Judge or None
        Another judge of the same zones, which need not be looked over again.

    Raises
    ------
    GeometryError
        An edge of a zone is too long or ambiguous.
    """

    def __init__(self, zones: Sequence[Zone], settings: PlanSettings, like: Judge | None = None) -> None:
        self.zones = tuple(zones)
        self.settings = settings
        self.boundaries: Boundaries = Boundaries.of(self.zones) if like is None else like.boundaries
        self._near_zones: NearZones = NearZones(self.zones) if like is None else like._near_zones
        self._near: dict[tuple[int, ...], tuple[tuple[Zone, ...], Boundaries]] = (
            {} if like is None else like._near
        )
        self._kept: dict[str, tuple[PlannedLine, TrackJudged]] = {}

    def at(self, depart_utc: np.datetime64) -> Judge:
        """Return the same judge for another departure."""
        return self.with_settings(replace(self.settings, depart_utc=depart_utc))

    def with_settings(self, settings: PlanSettings) -> Judge:
        """Return a judge of the same zones by other settings."""
        return Judge(self.zones, settings, self)

    @cached_property
    def rigging(self) -> Rigging | NoRigging:
        """The figures of the gear, or why there are none."""
        check = self.settings.check
        if check.figures is None:
            return NoRigging(why="The vessel profile has no table [gear].")
        return rigging_for(check.figures, check.gear, position_error_m=check.position_error_m)

    @cached_property
    def rope_m(self) -> float:
        """How far from the antenna any part of the gear can be."""
        return rope_reach_m(self.rigging) if isinstance(self.rigging, Rigging) else FARTHEST_M

    @cached_property
    def contact(self) -> Contact:
        """When the gear touches the bottom: seconds before 0, where towing begins, and after 0, the call."""
        if not isinstance(self.rigging, Rigging):
            run_s = _UNKNOWN_RUN_S
            return Contact(first_s=-run_s, last_s=run_s, earliest_s=-run_s, latest_s=run_s)
        winch = Winch(
            shoot_s=0.0,
            haul_s=0.0,
            veer_mps=self.rigging.veer_speed.value,
            heave_mps=self.rigging.heave_speed.value,
        )
        return contact_of(winch, self.rigging)

    @property
    def run_in_m(self) -> float:
        """How far before its first corner a planned tow is looked at: all the way the gear may be down."""
        return (-self.contact.earliest_s + _AFTER_S) * self.settings.speed_kn * KNOT_MPS

    @property
    def run_out_m(self) -> float:
        """How far beyond its last corner a planned tow is looked at."""
        return (self.contact.latest_s + _AFTER_S) * self.settings.hauling_way_kn * KNOT_MPS

    def track(self, line: PlannedLine, *, track_id: str | None = None) -> Track:
        """Return a line as a track with times: run-in, corners, run-out.

        Raises
        ------
        GeometryError
            A leg is too long or ambiguous.
        """
        kind, legs = self.settings.check.legs, legs_of(line, self.settings.check.legs)
        before = direct(
            kind, line.lon_deg[0], line.lat_deg[0], (legs.course0_deg[0] + 180.0) % 360.0, self.run_in_m
        )
        after = direct(kind, line.lon_deg[-1], line.lat_deg[-1], legs.course1_deg[-1], self.run_out_m)
        lon, lat = (
            np.concatenate([[before[axis]], column, [after[axis]]])
            for axis, column in enumerate((line.lon_deg, line.lat_deg))
        )
        towed_s = np.concatenate([[0.0], np.cumsum(legs.length_m)]) / (self.settings.speed_kn * KNOT_MPS)
        ends = (self.contact.earliest_s - _AFTER_S, towed_s[-1] + self.contact.latest_s + _AFTER_S)
        elapsed_s = np.concatenate([[ends[0]], towed_s, [ends[1]]])
        times = np.round(elapsed_s * _MICROSECONDS).astype("timedelta64[us]")
        return Track(
            track_id=line.name if track_id is None else track_id,
            source=line.source,
            kind=TrackKind.PLANNED,
            lon_deg=lon,
            lat_deg=lat,
            time_utc=self.settings.depart_utc.astype("datetime64[us]") + times,
            part=np.zeros(len(lon), dtype=np.int32),
            fixes_read=len(lon),
            towed=(1, len(line)),
        )

    def rows(self, line: PlannedLine, *, keep: bool = False) -> tuple[Row, ...]:
        """Return the rows of a line, as the whole check has them; far zones, proved clear, have none.

        Parameters
        ----------
        keep : bool
            Whether what was found is kept for the whole check (`check`).

        Raises
        ------
        GeometryError
            A leg is too long or ambiguous.
        """
        judged = self._judge(line)
        if keep:
            self._kept[line.name] = (line, judged)
        return judged.rows

    def _judge(self, line: PlannedLine) -> TrackJudged:
        track = self.track(line)
        zones, boundaries = self.near(track)
        # Cut where any rule changes, near or far, as a path of the whole check is.
        changes_s = change_instants(track, self.zones)
        return judge_track(track, zones, self.settings.check, boundaries, changes_s)

    def open_rows(self, line: PlannedLine) -> tuple[Row, ...]:
        """Return the rows that are findings or undetermined."""
        return tuple(row for row in self.rows(line) if row.status in OPEN)

    def is_clear(self, line: PlannedLine) -> bool:
        """Return whether no row of a line is a finding or undetermined."""
        return not self.open_rows(line)

    def check(
        self,
        lines: Sequence[PlannedLine],
        *,
        remarks: Sequence[Remark] = (),
        inputs: Sequence[InputFile] = (),
        version: str = "",
    ) -> CheckResult:
        """Return the whole check of lines, whose names are unique, against all zones."""
        judged = {}
        for line in lines:
            kept = self._kept.get(line.name)
            judged[line.name] = kept[1] if kept is not None and kept[0] is line else self._judge(line)
        return run_check(
            [judged[line.name].scene.path.track for line in lines],
            self.zones,
            self.settings.check,
            remarks=remarks,
            inputs=inputs,
            version=version,
            boundaries=self.boundaries,
            judged=judged,
        )

    def near(self, track: Track) -> tuple[tuple[Zone, ...], Boundaries]:
        """Return the zones that a track may have rows with, and their boundaries.

        The others are proved farther from it than all that matters.
        """
        check = self.settings.check
        numbers = self._near_zones.of(track, check.legs, check, self.rope_m)
        chosen = tuple(n for n in numbers.tolist() if self._counts(n))
        if chosen not in self._near:
            zones = tuple(self.zones[z] for z in chosen)
            self._near[chosen] = (zones, Boundaries.of(zones))
        return self._near[chosen]

    def _counts(self, zone: int) -> bool:
        """Return whether a zone, by its number, is asked about at all."""
        return 0 <= zone < len(self.zones)
