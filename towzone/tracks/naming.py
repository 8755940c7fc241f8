"""Names of tracks that are unique in a run, and tell files of one name apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

from towzone.model.track import Track

__all__ = ["told_apart", "with_unique_ids"]


def told_apart(tracks: Sequence[Track]) -> list[Track]:
    """Return tracks of which those of several files with one id get the suffix of their file behind it.

    Files of one name and suffix are told apart by their numbers; the same track given twice is not.
    """
    files: dict[str, dict[str, int]] = {}
    for track in tracks:
        own = files.setdefault(track.track_id, {})
        own.setdefault(track.source, len(own) + 1)
    result = []
    for track in tracks:
        own = files[track.track_id]
        if len(own) > 1:
            suffixes = [PurePath(source).suffix for source in own]
            suffix = PurePath(track.source).suffix
            number = f" ({own[track.source]})" if suffixes.count(suffix) > 1 else ""
            track = replace(track, track_id=f"{track.track_id}{suffix}{number}")
        result.append(track)
    return result


def with_unique_ids(tracks: Sequence[Track]) -> tuple[Track, ...]:
    """Return tracks of which later ones with an id that is taken get a number behind it."""
    taken = {track.track_id for track in tracks}
    seen: set[str] = set()
    result = []
    for track in tracks:
        if track.track_id in seen:
            number = 2
            while f"{track.track_id} ({number})" in taken:
                number += 1
            track = replace(track, track_id=f"{track.track_id} ({number})")
            taken.add(track.track_id)
        seen.add(track.track_id)
        result.append(track)
    return tuple(result)
