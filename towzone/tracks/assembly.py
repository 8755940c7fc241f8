"""The completed track of a GPX file: parts in time order, and every fix left out accounted for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem
from towzone.files.gpx import GpxContent
from towzone.files.inputs import name_stem
from towzone.files.order import BACKWARD, CONFLICTING, DUPLICATE, KEPT, mark_duplicates, mark_order
from towzone.files.times import NOT_A_TIME
from towzone.files.words import counted
from towzone.geodesy.lines import WGS84
from towzone.model.result import Remark
from towzone.model.track import Dropped, Track, TrackKind
from towzone.units import format_instant

__all__ = ["completed_tracks"]

_FAR_CONFLICT_M = 100.0
"""Own choice: two antennas of one vessel at one instant are closer than this, two vessels hardly ever."""
_LOST_SHARE = 0.01
"""Own choice: up to one fix in a hundred may be out of order before the file is not believed."""
_LOST_FEW = 10
_EARLIEST_LIKELY = np.datetime64("1990-01-01T00:00:00", "us")
"""Own choice: before this no satellite receiver logged a fishing trip; such a clock was not set."""

IntArray = npt.NDArray[np.int64]

_WORDS = {
    DUPLICATE: ("duplicate", "repeating time and position of another fix"),
    CONFLICTING: ("conflicting_time", "with the time of another fix but not its position"),
    BACKWARD: ("backward_time", "stepping back in time"),
}


@dataclass(slots=True)
class _Fixes:
    """The fixes of all segments that hold any, as views of the reader's columns."""

    lon_deg: npt.NDArray[np.float64]
    lat_deg: npt.NDArray[np.float64]
    time_us: IntArray
    line: npt.NDArray[np.uint32]
    bounds: list[tuple[int, int]]


def completed_tracks(content: GpxContent, path: str) -> tuple[list[Track], list[Remark]]:
    """Return the completed track of a file and what was assumed or left out.

    Parameters
    ----------
    content : GpxContent
    path : str
        As the user wrote it.

    Returns
    -------
    list of Track
        Empty without track points; one as a rule; several where parts overlap in time so much that they
        cannot be one vessel's path in sequence (each is then judged by itself, and no fix is lost).
    list of Remark

    Raises
    ------
    InputError
        So many fixes are out of time order that leaving them out would leave the track unjudged.
    """
    points = content.points
    fixes = _Fixes(
        lon_deg=np.frombuffer(points.lon_deg, dtype=np.float64),
        lat_deg=np.frombuffer(points.lat_deg, dtype=np.float64),
        time_us=np.frombuffer(points.time_us, dtype=np.int64),
        line=np.frombuffer(points.line, dtype=np.uint32),
        bounds=[(run.first, run.stop) for run in content.segments if run.stop > run.first],
    )
    remarks: list[Remark] = []
    if not fixes.bounds:
        return [], remarks
    fate = mark_duplicates(fixes.time_us, fixes.lon_deg, fixes.lat_deg)
    chains = _chains(fixes, fate, path, remarks)
    zero_lines = [line for run in content.segments for line in run.zero_lines]
    tracks = []
    for number, chain in enumerate(chains, start=1):
        track_id = name_stem(path) if len(chains) == 1 else f"{name_stem(path)}/{number}"
        zeros = len(zero_lines) if number == 1 else 0
        tracks.append(_track(fixes, fate, chain, track_id, path, zeros))
    remarks += _drop_remarks(fixes, fate, zero_lines, path)
    remarks += _clock_remarks(tracks, path)
    return tracks, remarks


def _chains(fixes: _Fixes, fate: npt.NDArray[np.uint8], path: str, remarks: list[Remark]) -> list[list[int]]:
    """Return the parts of each track in order, and complete ``fate`` by what that order leaves out."""
    spans = [_span(fixes.time_us[first:stop]) for first, stop in fixes.bounds]
    in_file_order = list(range(len(spans)))
    timed = [span for span in spans if span is not None]
    by_time = in_file_order
    if len(timed) == len(spans):
        by_time = sorted(in_file_order, key=lambda part: timed[part])
        if by_time != in_file_order:
            message = f"the {len(spans)} parts of the track were put in time order"
            remarks.append(Remark(file=path, where="", message=message))
    trial = fate.copy()
    lost = _apply_order(fixes, trial, by_time)
    if not _too_many(lost, len(trial)):
        fate[:] = trial
        return [by_time]
    if len(timed) < len(spans) or len(spans) == 1:
        raise InputError(path, [_disordered(fixes, trial, lost)])
    chains = _without_overlap(by_time, timed)
    for chain in chains:
        lost = _apply_order(fixes, fate, chain)
        if _too_many(lost, sum(fixes.bounds[part][1] - fixes.bounds[part][0] for part in chain)):
            raise InputError(path, [_disordered(fixes, fate, lost)])
    if len(chains) > 1:
        message = (
            f"the parts of the file overlap in time and are judged as {len(chains)} tracks;"
            " put different vessels into different files"
        )
        remarks.append(Remark(file=path, where="", message=message))
    return chains


def _span(time_us: IntArray) -> tuple[int, int] | None:
    known = time_us[time_us != NOT_A_TIME]
    return (int(known.min()), int(known.max())) if len(known) else None


def _without_overlap(by_time: Sequence[int], spans: Sequence[tuple[int, int]]) -> list[list[int]]:
    """Return as few sequences of parts as possible in which none begins before the one before it ends."""
    chains: list[list[int]] = []
    for part in by_time:
        for chain in chains:
            if spans[chain[-1]][1] <= spans[part][0]:
                chain.append(part)
                break
        else:
            chains.append([part])
    return chains


def _indices(fixes: _Fixes, chain: Sequence[int]) -> IntArray:
    return np.concatenate([np.arange(*fixes.bounds[part]) for part in chain])


def _apply_order(fixes: _Fixes, fate: npt.NDArray[np.uint8], chain: Sequence[int]) -> int:
    """Mark what is out of order in a chain; return how many fixes that leaves unjudged."""
    index = _indices(fixes, chain)
    index = index[fate[index] == KEPT]
    fate[index] = mark_order(fixes.time_us[index])
    conflicts = index[fate[index] == CONFLICTING]
    lost = int((fate[index] == BACKWARD).sum())
    if len(conflicts):
        # The fix that kept the time is the nearest kept one before, timed alike.
        kept = index[(fate[index] == KEPT) & (fixes.time_us[index] != NOT_A_TIME)]
        order = np.argsort(fixes.time_us[kept], kind="stable")
        rivals = kept[order[np.searchsorted(fixes.time_us[kept[order]], fixes.time_us[conflicts])]]
        _, _, apart_m = WGS84.inv(
            fixes.lon_deg[conflicts], fixes.lat_deg[conflicts], fixes.lon_deg[rivals], fixes.lat_deg[rivals]
        )
        lost += int((np.asarray(apart_m) > _FAR_CONFLICT_M).sum())
    return lost


def _too_many(lost: int, total: int) -> bool:
    return lost > max(_LOST_FEW, _LOST_SHARE * total) or (lost > 0 and 2 * lost >= total)


def _disordered(fixes: _Fixes, fate: npt.NDArray[np.uint8], lost: int) -> Problem:
    first = int(fixes.line[(fate == BACKWARD) | (fate == CONFLICTING)].min())
    return Problem(
        f"line {first}",
        f"{lost} of {len(fate)} fixes are out of time order or stand elsewhere at the same time, the first"
        " here; that is too many to leave out. Sort the file by time, or split it by vessel",
    )


def _track(
    fixes: _Fixes, fate: npt.NDArray[np.uint8], chain: Sequence[int], track_id: str, path: str, zeros: int
) -> Track:
    index = _indices(fixes, chain)
    own = fate[index]
    kept = own == KEPT
    sizes = [fixes.bounds[part][1] - fixes.bounds[part][0] for part in chain]
    segment = np.repeat(np.arange(len(chain)), sizes)[kept]
    # A fix left out for its time was somewhere between its neighbours: that stretch is not covered.
    holes = np.cumsum(own == BACKWARD)[kept]
    breaks = (np.diff(segment, prepend=segment[:1]) != 0) | (np.diff(holes, prepend=holes[:1]) != 0)
    counts = {word: int((own == code).sum()) for code, (word, _) in _WORDS.items()} | {"zero_position": zeros}
    index = index[kept]
    return Track(
        track_id=track_id,
        source=path,
        kind=TrackKind.COMPLETED,
        lon_deg=fixes.lon_deg[index],
        lat_deg=fixes.lat_deg[index],
        time_utc=fixes.time_us[index].view("datetime64[us]"),
        part=np.cumsum(breaks).astype(np.int32),
        fixes_read=len(own) + zeros,
        dropped=tuple(Dropped(reason=word, count=count) for word, count in counts.items() if count),
    )


def _drop_remarks(
    fixes: _Fixes, fate: npt.NDArray[np.uint8], zero_lines: Sequence[int], path: str
) -> list[Remark]:
    remarks = []
    for code, (_, words) in _WORDS.items():
        lines = fixes.line[fate == code]
        if len(lines):
            message = (
                f"{counted(len(lines), 'fix', 'fixes')} {words} left out, the first in line {lines.min()}"
            )
            remarks.append(Remark(file=path, where=f"line {lines.min()}", message=message))
    if zero_lines:
        message = (
            f"{counted(len(zero_lines), 'fix', 'fixes')} at 0, 0, which receivers write when they have no"
            f" position, left out, the first in line {zero_lines[0]}"
        )
        remarks.append(Remark(file=path, where=f"line {zero_lines[0]}", message=message))
    return remarks


def _clock_remarks(tracks: Sequence[Track], path: str) -> list[Remark]:
    for track in tracks:
        known = track.time_utc[~np.isnat(track.time_utc)]
        if len(known) and known[0] < _EARLIEST_LIKELY:
            message = f"the first fix is dated {format_instant(known[0])}; the clock was probably not set"
            return [Remark(file=path, where="", message=message)]
    return []
