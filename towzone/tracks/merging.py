"""Sources of one vessel put together: the plotter's log, reports every two hours, what others received.

The source with the shortest usual time between fixes counts, of equals the one that tells more; another is
used only where that one leaves a gap, or has not begun, or is over. Nothing is averaged. Where sources
disagree, it is said.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.errors import quoted
from towzone.model.result import Remark
from towzone.model.track import LeftOut, Track, TrackKind
from towzone.tracks.blending import Blend
from towzone.tracks.disagreement import compared
from towzone.tracks.identity import by_vessel
from towzone.tracks.joining import joined, unused_fixes
from towzone.tracks.naming import told_apart, with_unique_ids
from towzone.units import NAUTICAL_MILE_M, format_duration, format_length
from towzone.words import counted

__all__ = ["ELSEWHERE_M", "merge"]

ELSEWHERE_M = NAUTICAL_MILE_M
_ELSEWHERE_FIXES, _ELSEWHERE_SHARE = 3, 0.5
"""Own choice: when so many fixes, and more than that share of those compared, are farther than this from
where a better source has the vessel, the two are not taken as one vessel's: leaving the fixes out would
leave another vessel (or the same, with a clock that is off) unjudged."""

_SHOWN = 4
"""Tracks named in a remark. Own choice."""


def merge(
    tracks: Sequence[Track], *, gap_s: float, position_error_m: float
) -> tuple[tuple[Track, ...], tuple[Remark, ...]]:
    """Put the completed tracks of one vessel together.

    Parameters
    ----------
    tracks : sequence of Track
        Of all files, in the order given, each in time order; planned ones pass through.
    gap_s : float
        Longest time between two fixes that counts as covered.
    position_error_m : float
        How far a position may be from the truth.

    Returns
    -------
    tuple of Track
        One for each vessel in place of its first track, and by themselves those that cannot be merged.
        ``track_id`` is unique; files of one name are told apart by their suffixes.
    tuple of Remark

    Notes
    -----
    *Who is one vessel* is told in `towzone.tracks.identity.by_vessel`.

    *Precedence.* The source with the shorter median time between fixes comes first; where that is equal,
    the one with more kinds of readings (so that depths are not lost), then the one given first. Fixes of a
    lower source are used where the higher ones leave more than ``gap_s`` between two fixes, before their
    first and after their last; the others are left out as ``other_source``, at the time and place of a fix
    that is used as ``duplicate``. The fix at which a log was cut in two is ``conflicting_time`` when both
    pieces have it at different places.
    Where sources meet there is no break: two fixes no farther apart than ``gap_s`` are joined. Within
    their parts sources keep their own breaks.

    *What cannot be merged* is judged by itself, with a remark: a track that does not begin and end with
    a known time; one with other fixes without time that overlaps another; one that is clearly elsewhere
    (`ELSEWHERE_M`) while a better source tells where the vessel is.

    *Disagreement.* Fixes of a lower source that fall on a covered leg, or on a fix, are compared with the
    place there; beyond twice the position error and what the sources write coarsely, it is remarked on.
    """
    completed = [index for index, track in enumerate(tracks) if track.kind is TrackKind.COMPLETED]
    result = {index: track for index, track in enumerate(tracks) if track.kind is TrackKind.PLANNED}
    groups, remarks = by_vessel([tracks[index] for index in completed])
    for group in groups:
        members = [completed[index] for index in group]
        found, said = _merged_group([tracks[index] for index in members], gap_s, position_error_m)
        result |= {members[index]: track for index, track in found.items()}
        remarks += said
    return with_unique_ids([result[index] for index in sorted(result)]), tuple(remarks)


def _merged_group(
    group: Sequence[Track], gap_s: float, position_error_m: float
) -> tuple[dict[int, Track], list[Remark]]:
    """Return the tracks of one vessel by the place they take among those given, and what was done."""
    group = told_apart(group)
    alone, remarks = _cannot_be_merged(group)
    result = {index: group[index] for index in alone}
    blend = Blend(round(gap_s * 1e6))
    unused: dict[int, list[LeftOut]] = {}
    steps = {index: _usual_step_us(track) for index, track in enumerate(group) if index not in result}
    for index in sorted(steps, key=lambda index: (steps[index], -_kinds_of_readings(group[index]))):
        track = group[index]
        fit = blend.fit(track)
        comparison = compared(blend, track, fit)
        remarks += comparison.remarks(track, blend, position_error_m=position_error_m)
        far = int(np.count_nonzero(comparison.apart_m > ELSEWHERE_M))
        if far >= _ELSEWHERE_FIXES and far > _ELSEWHERE_SHARE * len(comparison.fix):
            remarks.append(_elsewhere(track, far, len(comparison.fix)))
            result[index] = track
            continue
        unused[index] = unused_fixes(blend, track, fit, comparison)
        blend.add(track, fit)
    if len(unused) == 1:
        result |= {index: group[index] for index in unused}
    elif unused:
        result[min(unused)] = joined(blend, list(unused.values()))
        remarks.insert(0, _joined_remark(blend, list(unused.values())))
    return result, remarks


def _cannot_be_merged(group: Sequence[Track]) -> tuple[list[int], list[Remark]]:
    """Return the tracks that have too few times to be put in order with others."""
    if len(group) < 2:
        return list(range(len(group))), []
    alone, remarks = [], []
    spans = [_span(track) for track in group]
    for index, (track, span) in enumerate(zip(group, spans, strict=True)):
        if span is None:
            why = "does not begin and end with a known time"
        elif np.isnat(track.time_utc).any() and _meets(span, [*spans[:index], *spans[index + 1 :]]):
            why = "has fixes without time and overlaps another track"
        else:
            continue
        alone.append(index)
        message = (
            f"this track {why}: it is judged by itself, and what lies between it and others is not judged"
        )
        remarks.append(Remark(file=track.source, where=_named(track), message=message))
    return alone, remarks


_Span = tuple[np.datetime64, np.datetime64]


def _span(track: Track) -> _Span | None:
    if not len(track) or np.isnat(track.time_utc[[0, -1]]).any():
        return None
    return track.time_utc[0], track.time_utc[-1]


def _meets(span: _Span, others: Sequence[_Span | None]) -> bool:
    return any(other is not None and other[0] <= span[1] and span[0] <= other[1] for other in others)


def _named(track: Track) -> str:
    return f"track {quoted(track.track_id)}"


def _usual_step_us(track: Track) -> float:
    """Return the median time between fixes, infinite where there is only one."""
    times = track.time_utc[~np.isnat(track.time_utc)].view(np.int64)
    return float(np.median(np.diff(times))) if len(times) > 1 else np.inf


def _kinds_of_readings(track: Track) -> int:
    """Return how many readings a track really tells."""
    return sum(not np.isnan(column).all() for column in track.readings.values())


def _elsewhere(track: Track, far: int, of: int) -> Remark:
    message = (
        f"{far} of {counted(of, 'fix', 'fixes')} compared are more than {format_length(ELSEWHERE_M)} from"
        " where a better source has the vessel: this track is taken for another vessel's, or its"
        " clock is off, and judged by itself"
    )
    return Remark(file=track.source, where=_named(track), message=message)


def _joined_remark(blend: Blend, unused: Sequence[Sequence[LeftOut]]) -> Remark:
    message = f"{len(blend.tracks)} completed tracks are taken as one vessel's and joined in time order"
    count = dict.fromkeys(("other_source", "conflicting_time"), 0)
    for some in (one for own in unused for one in own if one.reason in count):
        count[some.reason] += len(some)
    if count["other_source"]:
        shown = [f"{quoted(track.track_id)} ({_merit(track)})" for track in blend.tracks[:_SHOWN]]
        shown += ["..."] if len(blend.tracks) > _SHOWN else []
        message += (
            "; where they overlap, the one with the shorter usual time between fixes counts, of equals the"
            " one with more kinds of readings, then the one given first, in this order:"
            f" {', '.join(shown)}; {counted(count['other_source'], 'fix', 'fixes')} of others left out"
        )
    if count["conflicting_time"]:
        cuts = counted(count["conflicting_time"], "fix", "fixes")
        message += f"; where one ends as another begins, {cuts} elsewhere at the same time left out"
    sources = dict.fromkeys(track.source for track in blend.tracks)
    return Remark(file=", ".join(sources), where="", message=message)


def _merit(track: Track) -> str:
    step_us, kinds = _usual_step_us(track), _kinds_of_readings(track)
    step = "one fix" if np.isinf(step_us) else format_duration(step_us / 1e6)
    return f"{step}, {counted(kinds, 'kind')} of readings" if kinds else step
