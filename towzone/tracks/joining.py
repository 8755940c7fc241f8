"""Several tracks of one vessel as one track, and what becomes of the fixes it has no use for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.model.track import READINGS, LeftOut, Track, TrackKind
from towzone.tracks.blending import Blend, Fit, parts_of
from towzone.tracks.disagreement import Comparison
from towzone.tracks.leaving_out import left_out

__all__ = ["joined", "unused_fixes"]

_USED, _DUPLICATE, _CONFLICT, _OTHER = range(4)
_WORDS = {_DUPLICATE: "duplicate", _CONFLICT: "conflicting_time", _OTHER: "other_source"}


def unused_fixes(blend: Blend, track: Track, fit: Fit, comparison: Comparison) -> list[LeftOut]:
    """Return the fixes of a track that a blend has no use for, by reason."""
    reason = np.full(len(track), _OTHER, dtype=np.int8)
    reason[blend.at_a_cut(track, fit)] = _CONFLICT
    fix, at_once = comparison.fix, comparison.at_once
    same = (track.lon_deg[fix] == comparison.lon_deg) & (track.lat_deg[fix] == comparison.lat_deg)
    reason[fix[at_once & same]] = _DUPLICATE
    reason[fit.free] = _USED
    some = [(word, np.flatnonzero(reason == code)) for code, word in _WORDS.items()]
    return [left_out(track, word, index) for word, index in some if len(index)]


def joined(blend: Blend, unused: Sequence[Sequence[LeftOut]]) -> Track:
    """Return a blend of several tracks as one track.

    Parameters
    ----------
    blend : Blend
    unused : sequence of sequence of LeftOut
        What the blend has no use for, of each of its tracks.
    """
    tracks, pieces = blend.tracks, blend.pieces()
    used = [tracks[number] for number in sorted({number for number, _ in pieces})]
    # Named and told of in time order, whichever comes first in precedence.
    order = sorted(range(len(tracks)), key=lambda number: (tracks[number].time_utc[0], number))
    names = dict.fromkeys((tracks[number].track_id, tracks[number].source) for number in order)
    sources = list(dict.fromkeys(source for _, source in names))
    return Track(
        track_id="+".join(name for name, _ in names),
        source=", ".join(sources),
        kind=TrackKind.COMPLETED,
        lon_deg=np.concatenate([tracks[number].lon_deg[own] for number, own in pieces]),
        lat_deg=np.concatenate([tracks[number].lat_deg[own] for number, own in pieces]),
        time_utc=np.concatenate([tracks[number].time_utc[own] for number, own in pieces]),
        part=parts_of([tracks[number].part[own] for number, own in pieces]),
        fixes_read=sum(track.fixes_read for track in tracks),
        left_out=tuple(some for number in order for some in (*tracks[number].left_out, *unused[number])),
        vessel=next((track.vessel for track in tracks if track.vessel.strip()), ""),
        line=_lines(tracks, pieces) if len(sources) == 1 else None,
        readings={
            name: _reading(name, tracks, pieces)
            for name in READINGS
            if any(name in track.readings for track in used)
        },
        resolution_m=max(track.resolution_m for track in used),
    )


_Pieces = Sequence[tuple[int, slice]]


def _lines(tracks: Sequence[Track], pieces: _Pieces) -> npt.NDArray[np.uint32] | None:
    columns = []
    for number, own in pieces:
        line = tracks[number].line
        if line is None:
            return None
        columns.append(line[own])
    return np.concatenate(columns)


def _reading(name: str, tracks: Sequence[Track], pieces: _Pieces) -> npt.NDArray[np.float32]:
    columns = []
    for number, own in pieces:
        column = tracks[number].readings.get(name)
        missing = np.full(own.stop - own.start, np.nan, dtype=np.float32)
        columns.append(missing if column is None else column[own])
    return np.concatenate(columns)
