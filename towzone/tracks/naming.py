"""Names of tracks that are unique in a run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from towzone.model.track import Track

__all__ = ["with_unique_ids"]


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
