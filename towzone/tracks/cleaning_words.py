"""What is said to a person of fixes left out of a track, and of steps that became breaks."""

from __future__ import annotations

import numpy as np

from towzone.errors import quoted
from towzone.model.result import Remark
from towzone.model.track import LeftOut, Track
from towzone.tracks.possible import IntArray
from towzone.units import format_time
from towzone.words import counted

__all__ = ["broken_remark", "end_remarks", "left_out_remark"]

_NOTEWORTHY = 0.01
"""Own choice: when more than one fix in a hundred is left out, it is said as such."""


def left_out_remark(track: Track, some: LeftOut, *, speed_kn: float, largest_hdop: float) -> Remark:
    """Return the remark on fixes left out of a track for one reason.

    Parameters
    ----------
    track : Track
        As it was before.
    some : LeftOut
    speed_kn, largest_hdop : float
        What was still taken for possible.
    """
    words = {
        "large_hdop": f"with an HDOP above {largest_hdop:g}, a position not to be trusted,",
        "frozen": "repeating the same position while the vessel was under way",
        "spike": f"standing aside of others that agree with each other, out of reach at {speed_kn:g} kn,",
        "impossible_jump": f"that could not be reached and left again at {speed_kn:g} kn",
    }[some.reason]
    line = int(some.line[0])
    message = (
        f"{counted(len(some), 'fix', 'fixes')} {words} left out, the first"
        f" {_at(line, some.time_utc[0])}; what lies there counts as a gap"
    )
    if len(some) > _NOTEWORTHY * len(track):
        message += f"; that is {100.0 * len(some) / len(track):.1f} % of all fixes"
    return Remark(file=track.source, where=_where(track, line), message=message)


def broken_remark(track: Track, steps: IntArray, *, speed_kn: float) -> Remark:
    """Return the remark on impossible steps of a track that became breaks."""
    to = int(steps[0]) + 1
    line = 0 if track.line is None else int(track.line[to])
    message = (
        f"{counted(len(steps), 'step')} between fixes cannot have been made at {speed_kn:g} kn, the first"
        f" to the fix {_at(line, track.time_utc[to])}; either the vessel is faster than stated, or fixes are"
        " wrong and it cannot be told which: none of them is left out, and these steps count as gaps"
    )
    return Remark(file=track.source, where=_where(track, line), message=message)


def end_remarks(track: Track, cleaned: Track) -> list[Remark]:
    """Return remarks on time at the ends of a track that is no longer judged."""
    remarks = []
    for end, word, told, kept in (
        ("beginning", "from", track.time_utc[0], cleaned.time_utc[0]),
        ("end", "up to", track.time_utc[-1], cleaned.time_utc[-1]),
    ):
        if not np.isnat(told) and not np.isnat(kept) and told != kept:
            message = (
                f"fixes at the {end} of the track are left out: it is judged {word} {format_time(kept)},"
                f" not {word} {format_time(told)}"
            )
            remarks.append(Remark(file=track.source, where=_where(track, 0), message=message))
    return remarks


def _where(track: Track, line: int) -> str:
    return f"line {line}" if line else f"track {quoted(track.track_id)}"


def _at(line: int, instant: np.datetime64) -> str:
    time = "without time" if np.isnat(instant) else f"at {format_time(instant)}"
    return f"in line {line} {time}" if line else time
