"""Tracks as their files give them, made ready for a check: cleaned, joined by vessel, cleaned again."""

from __future__ import annotations

from collections.abc import Sequence

from towzone.model.result import Remark
from towzone.model.track import Track, TrackKind
from towzone.tracks.cleaning import clean
from towzone.tracks.merging import merge

__all__ = ["cleaned", "readied"]


def cleaned(
    tracks: Sequence[Track], *, max_speed_kn: float, position_error_m: float, gap_s: float
) -> tuple[list[Track], list[Remark]]:
    """Return the tracks of one file cleaned (`towzone.tracks.cleaning.clean`); planned ones as they are.

    Raises
    ------
    InputError
        No fix of a track can be trusted.
    """
    found: list[Track] = []
    remarks: list[Remark] = []
    for track in tracks:
        if track.kind is TrackKind.COMPLETED:
            track, said = clean(
                track, max_speed_kn=max_speed_kn, position_error_m=position_error_m, gap_s=gap_s
            )
            remarks += said
        found.append(track)
    return found, remarks


def readied(
    tracks: Sequence[Track], *, max_speed_kn: float, position_error_m: float, gap_s: float
) -> tuple[list[Track], list[Remark]]:
    """Return cleaned tracks of all files joined by vessel, and cleaned where that changed them.

    Parameters
    ----------
    tracks : sequence of Track
        Of all files, in the order given.
    max_speed_kn, position_error_m, gap_s : float
        As for `towzone.tracks.cleaning.clean` and `towzone.tracks.merging.merge`.

    Raises
    ------
    InputError
        No fix of a track can be trusted.
    """
    merged, remarks = merge(tracks, gap_s=gap_s, position_error_m=position_error_m)
    found: list[Track] = []
    said = list(remarks)
    for track in merged:
        if not any(track is one for one in tracks):
            # Where two sources meet, a step may be impossible that neither holds.
            (track,), more = cleaned(
                [track], max_speed_kn=max_speed_kn, position_error_m=position_error_m, gap_s=gap_s
            )
            said += more
        found.append(track)
    return found, said
