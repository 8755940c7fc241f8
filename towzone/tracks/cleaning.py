"""A completed track without the fixes that cannot be true; nothing is smoothed, nothing is moved.

Every fix left out that told a position leaves a break in the track: what lies between its neighbours is
a gap there, not a straight line, so that a broken log can never make a check come out clear. Where it
cannot be told which fixes are wrong, or those aside agree with each other, all of them stay and the
impossible steps become breaks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from towzone.errors import InputError, Problem, quoted
from towzone.model.result import Remark
from towzone.model.track import Track, TrackKind
from towzone.tracks.chains import agreeing, best_chain
from towzone.tracks.cleaning_words import (
    broken_remark,
    end_remarks,
    left_out_remark,
    mixed_remark,
    silent_ends_remark,
)
from towzone.tracks.frozen import frozen_fixes
from towzone.tracks.leaving_out import Change, by_reason, changed
from towzone.tracks.possible import (
    BoolArray,
    IntArray,
    Possible,
    fixes_within,
    impossible_above_kn,
    possible_in,
)
from towzone.words import counted

__all__ = ["LARGE_HDOP", "RANGE_ERROR_M", "SPIKE_FIXES", "clean"]

LARGE_HDOP = 10.0
"""Own choice: with `RANGE_ERROR_M` a position is then off by some 30 m, twice the error that is taken for
granted by default; 24.4, which stands in a published GGA sentence, makes some 70 m."""

RANGE_ERROR_M = 3.0
"""Error of one range to a satellite: horizontal error is about this times HDOP. Common practice, from
memory. A larger stated position error allows a larger HDOP in proportion."""

SPIKE_FIXES = 3
"""Own choice: that many fixes aside of neighbours that agree are a spike, more are a jump."""

_JUMP_SHARE, _JUMP_FEW = 0.01, 10
"""Own choice: of fixes that form a story of their own at most one in a hundred, or ten, are left out as
impossible; with more it cannot be told which story is true."""

_SPIKE_SHARE, _SPIKE_FEW = 0.1, 10
"""Own choice: spikes have both neighbours against them, so that one fix in ten may be one."""

_END_SHARE = 0.1
"""Own choice: what is left out at an end has only one neighbour against it, so it may be no more than a
tenth of the track (and last no longer than the longest step that counts as covered)."""

_HOPELESS_STEPS, _HOPELESS_SHARE = 10_000, 0.25
"""Own choice: with more impossible steps than both, more fixes are wrong than may be left out."""

_OURS = ("large_hdop", "frozen", "spike", "impossible_jump")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rules:
    max_speed_kn: float
    position_error_m: float
    gap_s: float

    @property
    def speed_kn(self) -> float:
        return impossible_above_kn(self.max_speed_kn)

    @property
    def largest_hdop(self) -> float:
        return max(LARGE_HDOP, self.position_error_m / RANGE_ERROR_M)

    def possible_in(self, track: Track) -> Possible:
        return possible_in(track, max_speed_kn=self.max_speed_kn, position_error_m=self.position_error_m)


def clean(
    track: Track, *, max_speed_kn: float, position_error_m: float, gap_s: float
) -> tuple[Track, tuple[Remark, ...]]:
    """Return a track without the fixes that cannot be true, and what was left out.

    Parameters
    ----------
    track : Track
        In time order. A planned one is returned as it is.
    max_speed_kn, position_error_m : float
        As stated for the vessel; what is only a little faster is no reason (`towzone.tracks.possible`).
    gap_s : float
        Longest time between two fixes that counts as covered. No reason cuts off more than this at the
        beginning or end of the track: the outermost fix, or the whole run, then stays, and a gap before it.

    Returns
    -------
    Track
        The same object where nothing changed. Fixes left out are in ``left_out``:

        ``large_hdop``
            HDOP above `LARGE_HDOP`, or above the stated position error over `RANGE_ERROR_M`.
        ``frozen``
            Repeats of a position after which the track catches up faster than the vessel goes, or during
            which the receiver says that it moves (`towzone.tracks.frozen`).
        ``spike``, ``impossible_jump``
            Up to `SPIKE_FIXES` fixes, or more, that could not be reached from before, nor those after
            from them, while those before and after agree (`towzone.tracks.chains`). If too many would be
            left out, or several such stretches agree with each other (`towzone.tracks.chains.agreeing`),
            none is, and the impossible steps become breaks.

        ``part`` rises at every break; all else is as it was.
    tuple of Remark
        Also on time beyond the ends of the track in which the log goes on without valid positions.

    Raises
    ------
    InputError
        No fix has an HDOP that allows to trust it.

    Notes
    -----
    Cleaning a clean track changes nothing: it goes on until nothing changes, and what was left out before
    counts when it is asked whether it is too much.
    """
    if track.kind is TrackKind.PLANNED or not len(track):
        return track, ()
    rules = _Rules(max_speed_kn=max_speed_kn, position_error_m=position_error_m, gap_s=gap_s)
    result, broken = track, []
    while True:
        before = result
        for stage in _STAGES:
            change = stage(result, rules)
            if len(change.broken) and len(change.mixed):
                broken.append(mixed_remark(result, change, speed_kn=rules.speed_kn))
            elif len(change.broken):
                broken.append(broken_remark(result, change.broken, speed_kn=rules.speed_kn))
            result = changed(result, change)
        if result is before:
            break
    silent = silent_ends_remark(result, gap_s)
    at_ends = () if silent is None else (silent,)
    if result is track:
        return track, at_ends
    rounds = result.left_out[len(track.left_out) :]
    new = by_reason(rounds)
    if len(new) < len(rounds):
        result = replace(result, left_out=(*track.left_out, *new))
    remarks = [
        left_out_remark(track, some, speed_kn=rules.speed_kn, largest_hdop=rules.largest_hdop) for some in new
    ]
    return result, (*remarks, *broken, *end_remarks(track, result), *at_ends)


def _large_hdop(track: Track, rules: _Rules) -> Change:
    hdop = track.readings.get("hdop")
    if hdop is None:
        return Change()
    # Unknown is not large: a source without HDOP is taken at its word.
    bad = np.where(np.isnan(hdop), np.float32(0.0), hdop) > rules.largest_hdop
    if not bad.any():
        return Change()
    good = np.flatnonzero(~bad)
    if not len(good):
        least = float(hdop.min())
        message = (
            f"track {quoted(track.track_id)}: all {counted(len(track), 'fix', 'fixes')} have an HDOP of"
            f" {least:.1f} or more, up to {rules.largest_hdop:g} is allowed, so that no position can be"
            f" trusted; if they will do, state a position error of {least * RANGE_ERROR_M:.0f} m or more"
        )
        raise InputError(track.source, [Problem("", message)])
    times = rules.possible_in(track)
    for end, nearest in ((0, good[0]), (len(track) - 1, good[-1])):
        low, high = sorted((end, int(nearest)))
        if times.most_s(np.array([low]), np.array([high]))[0] > rules.gap_s:
            # So long a time is not cut off in silence: a fix stands at its end, and a gap before it.
            bad[end] = False
    return Change(drop={"large_hdop": np.flatnonzero(bad)})


def _frozen(track: Track, rules: _Rules) -> Change:
    possible = rules.possible_in(track)
    return Change(drop={"frozen": frozen_fixes(track, possible, gap_s=rules.gap_s)})


def _impossible(track: Track, rules: _Rules) -> Change:
    possible = rules.possible_in(track)
    steps = possible.impossible_steps()
    if not len(steps):
        return Change()
    before = dict.fromkeys(_OURS, 0)
    for some in track.left_out:
        if some.reason in before:
            before[some.reason] += len(some)
    total = len(track) + sum(before.values())
    first, last = np.concatenate([[0], steps + 1]), np.append(steps, len(track) - 1)
    if len(steps) > max(_HOPELESS_STEPS, _HOPELESS_SHARE * total):
        spike = jump = np.zeros(len(first), dtype=bool)
    else:
        spike, jump = _aside(track, possible, first, last, total, rules.gap_s)
    spikes = before["spike"] + _fixes(first, last, spike)
    jumps = before["impossible_jump"] + _fixes(first, last, jump)
    if jumps > max(_JUMP_FEW, _JUMP_SHARE * total):
        jump, jumps = np.zeros_like(jump), 0
    if spikes > max(_SPIKE_FEW, _SPIKE_SHARE * total) or 2 * (spikes + jumps) >= total:
        spike, jump = np.zeros_like(spike), np.zeros_like(jump)
    aside = spike | jump
    mixed = np.empty(0, dtype=np.int64)
    if agreeing(possible, first[aside], last[aside]):
        mixed = fixes_within(first[aside], last[aside])
        spike = jump = aside = np.zeros_like(aside)
    kept = ~aside
    drop = {
        "spike": fixes_within(first[spike], last[spike]),
        "impossible_jump": fixes_within(first[jump], last[jump]),
    }
    broken = steps[kept[:-1] & kept[1:]]
    broken = broken[track.part[broken] == track.part[broken + 1]]
    return Change(drop=drop, broken=broken, mixed=mixed)


def _fixes(first: IntArray, last: IntArray, runs: BoolArray) -> int:
    return int((last[runs] - first[runs] + 1).sum())


def _aside(
    track: Track, possible: Possible, first: IntArray, last: IntArray, total: int, gap_s: float
) -> tuple[BoolArray, BoolArray]:
    """Return which runs between impossible steps stand aside of the others, as spikes and as jumps."""
    begins_us, ends_us = _told_span(track)
    few = _END_SHARE * len(track)
    may_begin = (first <= few) & (possible.latest_us[first] - begins_us <= gap_s * 1e6)
    may_end = (len(track) - 1 - last <= few) & (ends_us - possible.earliest_us[last] <= gap_s * 1e6)
    # Twice the cost of a step, and a run between two of them stays rather than being left out.
    step_cost = (max(_JUMP_FEW, int(_JUMP_SHARE * total)) + 0.5) / 2.0
    kept = best_chain(possible, first, last, may_begin=may_begin, may_end=may_end, step_cost=step_cost)
    turns = np.flatnonzero(np.diff((~kept).astype(np.int8), prepend=0, append=0))
    begin, end = turns[0::2], turns[1::2] - 1
    short = (last[end] - first[begin] < SPIKE_FIXES) & (begin > 0) & (end < len(first) - 1)
    spike, jump = np.zeros(len(first), dtype=bool), np.zeros(len(first), dtype=bool)
    spike[fixes_within(begin[short], end[short])] = True
    jump[fixes_within(begin[~short], end[~short])] = True
    return spike, jump


def _told_span(track: Track) -> tuple[int, int]:
    """Return the first and last instant the track tells of, microseconds; what we left out counts too."""
    times = [track.time_utc[[0, -1]]]
    times += [some.time_utc for some in track.left_out if some.reason in _OURS]
    known = np.concatenate([some[~np.isnat(some)] for some in times]).astype(np.int64)
    return (int(known.min()), int(known.max())) if len(known) else (0, 0)


_STAGES: tuple[Callable[[Track, _Rules], Change], ...] = (_large_hdop, _frozen, _impossible)
