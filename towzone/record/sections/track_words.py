"""What each track of a result is called."""

from __future__ import annotations

from towzone.model.result import CheckResult
from towzone.model.track import Track
from towzone.plan.telling import corrected_ids, wanted_ids
from towzone.record.catalogue import say
from towzone.record.words import TRACK

__all__ = ["track_word"]


def track_word(track: Track, result: CheckResult) -> str:
    """Return what a track is: of a plan, whether its line was asked for or is a corrected one."""
    if track.track_id in wanted_ids(result):
        return say("shared.track.wanted")
    return say("shared.track.corrected") if track.track_id in corrected_ids(result) else TRACK[track.kind]
