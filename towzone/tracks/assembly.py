"""From fixes as they stand in a file to tracks: parts in time order, every fix left out accounted for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem
from towzone.geodesy.lines import WGS84
from towzone.model.result import Remark
from towzone.model.track import LeftOut, Track, TrackKind
from towzone.tracks.raw import NOT_A_TIME, RawTrack
from towzone.tracks.time_order import (
    BACKWARD,
    CONFLICTING,
    DUPLICATE,
    KEPT,
    Fate,
    mark_duplicates,
    mark_order,
)
from towzone.units import format_instant
from towzone.words import counted

__all__ = ["assembled"]

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
_ZERO = "at 0, 0, which receivers write when they have no position,"


@dataclass(slots=True)
class _Sorting:
    """A raw track while its fixes are put in order: what becomes of each, and its segments."""

    raw: RawTrack
    fate: Fate
    bounds: Sequence[tuple[int, int]]


def assembled(raw: RawTrack) -> tuple[list[Track], list[Remark]]:
    """Return the completed track of a source and what was assumed or left out.

    Parameters
    ----------
    raw : RawTrack

    Returns
    -------
    list of Track
        Empty without fixes; one as a rule; several where parts overlap in time so much that they cannot
        be one vessel's path in sequence (each is then judged by itself, and no fix is lost).
    list of Remark

    Raises
    ------
    InputError
        So many fixes are out of time order that leaving them out would leave the track unjudged.
    """
    if not len(raw):
        return [], []
    remarks: list[Remark] = []
    order = _row_order(raw, remarks)
    some = raw if order is None else _reordered(raw, order)
    work = _Sorting(some, mark_duplicates(some.time_us, some.lon_deg, some.lat_deg), some.bounds)
    chains = _chains(work, remarks)
    tracks = [
        _track(work, chain, some.name if len(chains) == 1 else f"{some.name}/{number}", number == 1)
        for number, chain in enumerate(chains, start=1)
    ]
    remarks += _drop_remarks(work)
    remarks += _clock_remarks(tracks, some.file)
    if (some.time_us == NOT_A_TIME).all():
        message = (
            f"no fix of '{some.name}' has a time, so nothing between them is proved and no tow is told;"
            " a planned tow must be a route (rte) of a GPX file"
        )
        remarks.append(Remark(file=some.file, where="", message=message))
    return tracks, remarks


def _row_order(raw: RawTrack, remarks: list[Remark]) -> IntArray | None:
    """Return the time order of a source whose own order says nothing; ``None`` where nothing moves."""
    timed = raw.time_us != NOT_A_TIME
    if not raw.any_order or not timed.all() or not (np.diff(raw.time_us) < 0).any():
        return None
    message = f"the {counted(len(raw), 'fix', 'fixes')} of '{raw.name}' were put in time order"
    remarks.append(Remark(file=raw.file, where="", message=message))
    return np.argsort(raw.time_us, kind="stable")


def _reordered(raw: RawTrack, order: IntArray) -> RawTrack:
    return RawTrack(
        file=raw.file,
        name=raw.name,
        lon_deg=raw.lon_deg[order],
        lat_deg=raw.lat_deg[order],
        time_us=raw.time_us[order],
        line=raw.line[order],
        bounds=((0, len(order)),),
        vessel=raw.vessel,
        readings={name: column[order] for name, column in raw.readings.items()},
        left_out=raw.left_out,
        resolution_m=raw.resolution_m,
    )


def _chains(work: _Sorting, remarks: list[Remark]) -> list[list[int]]:
    """Return the parts of each track in order, and complete the fates by what that order leaves out."""
    spans = [_span(work.raw.time_us[first:stop]) for first, stop in work.bounds]
    in_file_order = list(range(len(spans)))
    timed = [span for span in spans if span is not None]
    by_time = in_file_order
    if len(timed) == len(spans):
        by_time = sorted(in_file_order, key=lambda part: timed[part])
        if by_time != in_file_order:
            message = f"the {len(spans)} parts of the track were put in time order"
            remarks.append(Remark(file=work.raw.file, where="", message=message))
    trial = work.fate.copy()
    lost = _apply_order(work, trial, by_time)
    if not _too_many(lost, len(trial)):
        work.fate[:] = trial
        return [by_time]
    if len(timed) < len(spans) or len(spans) == 1:
        raise InputError(work.raw.file, [_disordered(work, trial, lost)])
    chains = _without_overlap(by_time, timed)
    for chain in chains:
        lost = _apply_order(work, work.fate, chain)
        if _too_many(lost, sum(work.bounds[part][1] - work.bounds[part][0] for part in chain)):
            raise InputError(work.raw.file, [_disordered(work, work.fate, lost)])
    if len(chains) > 1:
        message = (
            f"the parts of the file overlap in time and are judged as {len(chains)} tracks;"
            " put different vessels into different files"
        )
        remarks.append(Remark(file=work.raw.file, where="", message=message))
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


def _indices(work: _Sorting, chain: Sequence[int]) -> IntArray:
    return np.concatenate([np.arange(*work.bounds[part]) for part in chain])


def _apply_order(work: _Sorting, fate: Fate, chain: Sequence[int]) -> int:
    """Mark what is out of order in a chain; return how many fixes that leaves unjudged."""
    raw = work.raw
    index = _indices(work, chain)
    index = index[fate[index] == KEPT]
    fate[index] = mark_order(raw.time_us[index])
    conflicts = index[fate[index] == CONFLICTING]
    lost = int((fate[index] == BACKWARD).sum())
    if len(conflicts):
        # The fix that kept the time is the nearest kept one before, timed alike.
        kept = index[(fate[index] == KEPT) & (raw.time_us[index] != NOT_A_TIME)]
        order = np.argsort(raw.time_us[kept], kind="stable")
        rivals = kept[order[np.searchsorted(raw.time_us[kept[order]], raw.time_us[conflicts])]]
        _, _, apart_m = WGS84.inv(
            raw.lon_deg[conflicts], raw.lat_deg[conflicts], raw.lon_deg[rivals], raw.lat_deg[rivals]
        )
        lost += int((np.asarray(apart_m) > _FAR_CONFLICT_M).sum())
    return lost


def _too_many(lost: int, total: int) -> bool:
    return lost > max(_LOST_FEW, _LOST_SHARE * total) or (lost > 0 and 2 * lost >= total)


def _disordered(work: _Sorting, fate: Fate, lost: int) -> Problem:
    first = int(work.raw.line[(fate == BACKWARD) | (fate == CONFLICTING)].min())
    return Problem(
        f"line {first}",
        f"{lost} of {len(fate)} fixes are out of time order or stand elsewhere at the same time, the first"
        " here; that is too many to leave out. Sort the file by time, or split it by vessel",
    )


def _track(work: _Sorting, chain: Sequence[int], track_id: str, first: bool) -> Track:
    raw = work.raw
    index = _indices(work, chain)
    own = work.fate[index]
    kept = own == KEPT
    # A fix left out for its time was somewhere between its neighbours: that stretch is not covered.
    sizes = [work.bounds[part][1] - work.bounds[part][0] for part in chain]
    torn = np.concatenate([np.cumsum(sizes[:-1], dtype=np.int64), np.flatnonzero(own == BACKWARD)])
    left_out = [_left_out(raw, index[own == code], word) for code, (word, _) in _WORDS.items()]
    # What the reader itself left out is told once, with the first of several tracks.
    all_left_out = (*(some for some in left_out if len(some)), *(raw.left_out if first else ()))
    fixes = index[kept]
    return Track(
        track_id=track_id,
        source=raw.file,
        kind=TrackKind.COMPLETED,
        lon_deg=raw.lon_deg[fixes],
        lat_deg=raw.lat_deg[fixes],
        time_utc=raw.time_us[fixes].view("datetime64[us]"),
        part=_numbered(np.flatnonzero(kept), torn),
        fixes_read=len(own) + (sum(len(some) for some in raw.left_out) if first else 0),
        left_out=all_left_out,
        vessel=raw.vessel,
        line=raw.line[fixes],
        readings={name: column[fixes] for name, column in raw.readings.items()},
        resolution_m=raw.resolution_m,
    )


def _numbered(kept: IntArray, torn: IntArray) -> npt.NDArray[np.int32]:
    """Return the part each fix kept is of; one begins with the first that stands at or behind a tear."""
    begins = np.unique(np.append(np.searchsorted(kept, torn), 0))
    begins = begins[begins < len(kept)]
    return np.repeat(np.arange(len(begins), dtype=np.int32), np.diff(np.append(begins, len(kept))))


def _left_out(raw: RawTrack, index: IntArray, reason: str) -> LeftOut:
    return LeftOut(
        reason=reason,
        file=raw.file,
        line=raw.line[index],
        time_utc=raw.time_us[index].view("datetime64[us]"),
        lon_deg=raw.lon_deg[index],
        lat_deg=raw.lat_deg[index],
    )


def _drop_remarks(work: _Sorting) -> list[Remark]:
    dropped = [(words, work.raw.line[work.fate == code]) for code, (_, words) in _WORDS.items()]
    dropped += [(_ZERO, some.line) for some in work.raw.left_out if some.reason == "zero_position"]
    return [
        Remark(
            file=work.raw.file,
            where=f"line {lines.min()}",
            message=f"{counted(len(lines), 'fix', 'fixes')} {words} left out, first in line {lines.min()}",
        )
        for words, lines in dropped
        if len(lines)
    ]


def _clock_remarks(tracks: Sequence[Track], path: str) -> list[Remark]:
    for track in tracks:
        known = track.time_utc[~np.isnat(track.time_utc)]
        if len(known) and known[0] < _EARLIEST_LIKELY:
            message = f"the first fix is dated {format_instant(known[0])}; the clock was probably not set"
            return [Remark(file=path, where="", message=message)]
    return []
