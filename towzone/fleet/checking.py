"""One vessel: its fixes from the spools, made ready and checked as ``towzone check`` does."""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np

from towzone import __version__
from towzone.checks.plausible import refuse_swapped
from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings
from towzone.checks.stated import refuse_unproved_model, stated_edges, stated_settings
from towzone.errors import InputError, Problem
from towzone.files.table_parts import joined_parts
from towzone.files.vessels import read_vessel
from towzone.fleet.answers import Answer, tables_of
from towzone.fleet.grounds import grounds_of
from towzone.fleet.handing import Handed
from towzone.fleet.job import FileRead, Job
from towzone.fleet.keys import known_by
from towzone.fleet.sources import fingerprint
from towzone.fleet.spool import raw_tracks
from towzone.fleet.tasks import VesselTask, profile_key
from towzone.model.fleet import FleetOutcome, VesselLine
from towzone.model.result import FINDINGS, CheckResult, Outcome
from towzone.model.track import Track
from towzone.model.vessel import Vessel
from towzone.tables.rounding import DEGREE_DIGITS, rounded
from towzone.tracks.assembly import assembled
from towzone.tracks.naming import with_unique_ids
from towzone.tracks.raw import RawTrack
from towzone.tracks.readying import cleaned, readied
from towzone.units import format_instant

__all__ = ["checked", "needed_bytes"]

_BYTES_A_FIX = 600
_BYTES_AT_REST = 400 << 20
"""Memory of a worker: for each fix of a vessel at the highest point of its check, and without any. Own
choice: measured are 350 with 2 million fixes among 2 000 zones, and 370 MiB."""

_OUTCOMES = {
    Outcome.FINDING: FleetOutcome.FINDING,
    Outcome.UNDETERMINED: FleetOutcome.UNDETERMINED,
    Outcome.CLEAR: FleetOutcome.CLEAR,
}


def needed_bytes(fixes: int) -> int:
    """Return about how much memory a worker takes for a vessel of so many fixes."""
    return _BYTES_AT_REST + _BYTES_A_FIX * fixes


def checked(job: Job, handed: Handed, task: VesselTask) -> Answer:
    """Return what a check finds of a vessel.

    Raises
    ------
    TowzoneError
        It cannot be checked.
    """
    if needed_bytes(task.fixes) > job.memory_bytes:
        gib = needed_bytes(task.fixes) / 2**30
        message = (
            f"its {task.fixes} fixes need about {gib:.1f} GiB of memory, a worker has"
            f" {job.memory_bytes / 2**30:.1f}; run again with --force --memory {gib * 1.1 + 0.1:.1f}GiB, or"
            " split its positions by time"
        )
        raise InputError(task.files[0], [Problem("", message)])
    grounds = grounds_of(handed)
    profile_file = job.profiles.get(profile_key(task), job.vessel_file)
    profile = _profile(profile_file)
    settings = stated_settings(
        job.settings,
        profile,
        position_error_m=job.position_error_m,
        max_speed_kn=job.max_speed_kn,
        with_zones=bool(grounds.zones),
    )
    tracks, remarks = _tracks(job, task, settings)
    if not tracks:
        message = "none of its positions can be used"
        raise InputError(", ".join(task.files), [Problem("", message)])
    refuse_swapped(grounds.zones, tracks, grounds.corners)
    refuse_unproved_model(settings)
    result = run_check(tracks, grounds.zones, settings, version=__version__, boundaries=grounds.boundaries)
    told = [*remarks, *(_remark(one.where, one.message) for one in result.warnings)]
    line = _line(task, result, told, "" if profile_file is None else profile_file.file)
    return Answer(
        key=task.key,
        line=line,
        tables=tables_of(result, task.vessel),
        assumptions=(*result.assumptions, *stated_edges(job.edges)),
        methods=result.methods,
    )


@functools.lru_cache(maxsize=64)
def _profile(file: FileRead | None) -> Vessel:
    if file is None:
        return Vessel()
    _require_same(file)
    return read_vessel(file.file, at=file.place).vessel


def _require_same(file: FileRead) -> None:
    try:
        same = fingerprint(file.place).sha256 == file.sha256
    except OSError as error:
        message = f"cannot be read by a worker: {error.strerror or error}"
        raise InputError(file.file, [Problem("", message)]) from error
    if not same:
        message = "has changed while the audit was running; run it again with --force"
        raise InputError(file.file, [Problem("", message)])


def _tracks(job: Job, task: VesselTask, settings: CheckSettings) -> tuple[list[Track], list[str]]:
    """Return the tracks of a vessel as a check reads and joins them, and what to say of them."""
    by_source: dict[int, dict[str, list[RawTrack]]] = {}
    for source, spool in task.spools:
        names = by_source.setdefault(source, {})
        for raw in raw_tracks(job.spools / spool, task.key):
            names.setdefault(raw.name, []).append(raw)
    limits = {
        "max_speed_kn": settings.max_speed_kn,
        "position_error_m": settings.position_error_m,
        "gap_s": settings.gap_s,
    }
    found: list[Track] = []
    said: list[str] = []
    for names in by_source.values():
        of_file: list[Track] = []
        for parts in names.values():
            tracks, remarks = assembled(joined_parts(parts))
            of_file += tracks
            said += [_remark(one.where, one.message) for one in remarks]
        own, remarks = cleaned(with_unique_ids(of_file), **limits)
        said += [_remark(one.where, one.message) for one in remarks]
        found += own
    tracks, remarks = readied(found, **limits)
    return tracks, [*said, *(_remark(one.where, one.message) for one in remarks)]


def _remark(where: str, message: str) -> str:
    return f"{where}: {message}" if where else message


def _line(task: VesselTask, result: CheckResult, remarks: Sequence[str], profile: str) -> VesselLine:
    outcome = _OUTCOMES[result.outcome]
    if task.unread and outcome is not FleetOutcome.FINDING:
        outcome = FleetOutcome.NOT_CHECKED
    worst = result.rows[0] if result.rows else None
    closest = worst.closest if worst is not None else None
    names = {zone.zone_id: zone.name for zone in result.zones}
    spans = [track.time_utc[~np.isnat(track.time_utc)] for track in result.tracks]
    timed = [span for span in spans if len(span)]
    whole_s = sum(float((span[-1] - span[0]) / np.timedelta64(1, "us")) / 1e6 for span in timed)
    gaps = [gap for some in result.gaps.values() for gap in some]
    gap_s = sum(gap.seconds or 0.0 for gap in gaps)
    used = sum(len(track) for track in result.tracks)
    read = sum(track.fixes_read for track in result.tracks)
    return VesselLine(
        vessel=task.vessel,
        known_by=known_by(task.key),
        spellings=task.spellings,
        outcome=outcome,
        problem="\n".join(task.unread),
        counts={status.value: count for status, count in result.counts.items()},
        worst_status=worst.status.value if worst is not None else "",
        worst_zone_id=worst.zone_id if worst is not None else "",
        worst_zone_name=names[worst.zone_id] if worst is not None else "",
        worst_clearance_m=rounded(worst.clearance_m) if worst is not None else None,
        worst_part=worst.part.value if worst is not None else "",
        worst_margin_m=rounded(worst.margin_m) if worst is not None else None,
        worst_utc=format_instant(closest.utc) if closest is not None else None,
        worst_lon_deg=rounded(closest.lon_deg, DEGREE_DIGITS) if closest is not None else None,
        worst_lat_deg=rounded(closest.lat_deg, DEGREE_DIGITS) if closest is not None else None,
        found_in=tuple(dict.fromkeys(row.zone_id for row in result.rows if row.status in FINDINGS)),
        gear_unchecked=result.gear_unchecked,
        tows=len(result.tows),
        towing_s=round(sum(tow.seconds or 0.0 for tow in result.tows), 3),
        tracked_s=round(whole_s - gap_s, 3),
        gap_s=round(gap_s, 3),
        start_utc=format_instant(min(span[0] for span in timed)) if timed else None,
        end_utc=format_instant(max(span[-1] for span in timed)) if timed else None,
        length_m=round(sum(result.lengths_m.values()), 2),
        fixes_read=read,
        fixes_used=used,
        fixes_left_out=read - used,
        gaps=len(gaps),
        tracks=len(result.tracks),
        remarks=tuple(remarks),
        files=task.files,
        profile=profile,
    )
