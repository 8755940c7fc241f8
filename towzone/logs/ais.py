"""AIS logs: position reports of one or many vessels as tracks, with every sentence accounted for.

References
----------
ITU-R M.1371 (messages) and IEC 61162-1 (sentences VDM and VDO), from memory; decoded by pyais.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.logs.ais_clock import AHEAD_US, Clock, Reception, reception
from towzone.logs.ais_fixes import Heap, gathered
from towzone.logs.ais_sentences import SentenceReader, vdm_count
from towzone.logs.ais_vessels import LONG_RANGE_RESOLUTION_M, Vessels, vessels
from towzone.logs.stamps import StampReader
from towzone.model.result import Remark
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME, SourceContent
from towzone.words import counted

__all__ = ["read_ais", "vdm_count"]

_NAMED = 5
"""Own choice: so many vessels are named in a message, the others counted."""
_DAMAGED = {
    "bad_checksum": "with a wrong checksum",
    "cut": "cut off",
    "malformed": "with fields that no such sentence has",
    "incomplete_groups": "without the other sentences of their message",
}


def read_ais(chunks: Iterable[bytes], *, file: str, name: str, options: ReadingOptions) -> SourceContent:
    """Return the tracks of all vessels in a log, or of those asked for.

    Parameters
    ----------
    chunks : iterable of bytes
        The file in order, in pieces of any size.
    file : str
        Path as the user wrote it.
    name : str
        Of the source; the tracks are called ``name/MMSI``.
    options : ReadingOptions
        ``only`` names vessels by MMSI; ``track_tz`` and ``date_order`` are for times the logger wrote.

    Returns
    -------
    SourceContent
        Tracks by MMSI. The tally counts sentences: ``sentences`` is the sum of all other words.

    Raises
    ------
    InputError
        A vessel asked for is not in the log.

    Notes
    -----
    A fix is dated by the reception of its message, moved back to the second that the message names; without
    any source of time it has none. Fixes marked as manual, dead reckoning or without a receiver are left out
    as estimated; long-range positions (0.1 minute) where the vessel has better ones.
    """
    only = _wanted(options.only, file)
    stamps = StampReader(options)
    reader = SentenceReader()
    heap = gathered(reader, stamps, chunks, frozenset(only))
    _require_present(only, heap, file)
    time_us, time_remarks = _times(heap, reader.clock)
    found = vessels(heap, time_us, file, name)
    tally = _tally(reader.sentences, found.tally, heap.tally, reader.lost)
    messages = [*_sentence_remarks(tally, reader.first_lost), *time_remarks, *_vessel_remarks(found)]
    remarks = [Remark(file=file, where="", message=message) for message in messages]
    return SourceContent(
        form="AIS log", raw=found.tracks, remarks=(*remarks, *stamps.remarks(file)), tally=tally
    )


def _tally(sentences: int, *counts: Mapping[str, int]) -> dict[str, int]:
    """Return all counts of sentences by word; the first word is that of their sum."""
    tally = {"sentences": sentences}
    for some in counts:
        for word, count in some.items():
            tally[word] = tally.get(word, 0) + count
    if sum(tally.values()) != 2 * sentences:
        message = f"the sentences of the AIS log do not add up: {tally}"
        raise AssertionError(message)
    return tally


def _wanted(only: Sequence[str], file: str) -> dict[int, str]:
    """Return the identities asked for, and how they were written."""
    wanted: dict[int, str] = {}
    for text in only:
        digits = text.strip()
        if not (digits.isascii() and digits.isdigit() and len(digits) <= 9 and int(digits)):
            message = (
                f"{quoted(text)} is not an MMSI; vessels of an AIS log are chosen by their MMSI, nine digits"
            )
            raise InputError(file, [Problem("", message)])
        wanted[int(digits)] = digits
    return wanted


def _require_present(only: dict[int, str], heap: Heap, file: str) -> None:
    there = set(heap.mmsi) if only else set()
    absent = [f"{mmsi:09d}" for mmsi in only if mmsi not in there]
    if absent:
        others = sorted(heap.seen | there)
        known = _some([f"{mmsi:09d}" for mmsi in others])
        message = f"no position report of MMSI {_some(absent)} is in this log; " + (
            f"there are reports of {known}" if others else "there are none of any vessel"
        )
        raise InputError(file, [Problem("", message)])


def _times(heap: Heap, clock: Clock) -> tuple[npt.NDArray[np.int64], list[str]]:
    """Return the times of all positions and what to tell about them."""
    time_us = np.array(heap.time_us, dtype=np.int64)
    second = np.frombuffer(heap.second, dtype=np.uint8)
    remarks = []
    stamped = time_us != NOT_A_TIME
    if stamped.any():
        received = reception(time_us[stamped], second[stamped])
        time_us[stamped] = received.time_us
        remarks.append(_reception_remark(received))
    bare = ~stamped
    if bare.any():
        lines = np.frombuffer(heap.line, dtype=np.uint32)[bare]
        time_us[bare], source = clock.moments(lines.astype(np.int64), second[bare])
        remarks += _bare_remarks(time_us[bare], source, len(time_us))
    return time_us, remarks


def _reception_remark(received: Reception) -> str:
    rest = len(received.time_us) - received.named
    if received.median_s is None:
        return (
            f"the messages name no second; positions ({rest}) have the time at which the logger received them"
        )
    if not received.fits:
        return (
            "the seconds that the messages name do not fit the times the logger wrote: its clock is wrong or"
            " messages came very late. Positions keep the logger's times, which may be wrong by more than a"
            " minute"
        )
    median_s = abs(received.median_s)
    direction = "earlier" if received.median_s >= 0 else "later"
    kept = f"; those without a second ({rest}) keep the time of reception" if rest else ""
    return (
        "times are those at which the logger received the messages, moved to the second that each names (at"
        f" most {AHEAD_US // 1_000_000} s later, {median_s:.1f} s {direction} in the median){kept}"
    )


def _bare_remarks(time_us: npt.NDArray[np.int64], source: str, total: int) -> list[str]:
    """Return what to tell about positions whose lines carry no time."""
    if source == "contradiction":
        told = [
            "base stations and the ship's own receiver differ by more than a minute; neither dates anything"
        ]
    elif source:
        dated = counted(int((time_us != NOT_A_TIME).sum()), "position")
        told = [
            f"the logger wrote no time beside {dated}; the reports of {source} before and after, at most 30 s"
            " apart, and the second in the message date them"
        ]
    else:
        told = []
    untimed = int((time_us == NOT_A_TIME).sum())
    if untimed:
        told.append(
            f"{untimed} of {total} positions have no time: an AIS message names only the second,"
            " and nothing near it in the log says which minute; let the logger write the time on every line"
        )
    return told


def _sentence_remarks(tally: Mapping[str, int], first: Mapping[str, int]) -> list[str]:
    """Return what to tell about sentences of no use; ``first`` has the first line of each kind."""
    remarks = []
    lost = {word: tally[word] for word in _DAMAGED if word in tally}
    if lost:
        parts = ", ".join(
            f"{count} {_DAMAGED[word]} (first in line {first[word]})" for word, count in lost.items()
        )
        whole = counted(tally["sentences"], "AIS sentence")
        remarks.append(f"not used because damaged are {sum(lost.values())} of {whole}: {parts}")
    if "no_checksum" in tally:
        remarks.append(
            f"{counted(tally['no_checksum'], 'AIS sentence')} without a checksum (first in line"
            f" {first['no_checksum']}) were not used: nothing shows that they are whole"
        )
    if "no_identity" in tally:
        remarks.append(f"{counted(tally['no_identity'], 'AIS sentence')} without an MMSI were not used")
    return remarks


def _vessel_remarks(found: Vessels) -> list[str]:
    remarks = []
    if found.own:
        remarks.append(f"the ship's own transponder (VDO) is {_some(found.own)}")
    if found.silent:
        remarks.append(
            f"{counted(len(found.silent), 'vessel')} sent no position that can be used: {_some(found.silent)}"
        )
    if found.coarse:
        remarks.append(
            f"{counted(len(found.coarse), 'vessel')} sent long-range positions only, to a tenth of a minute"
            f" ({LONG_RANGE_RESOLUTION_M:.0f} m): {_some(found.coarse)}"
        )
    if not found.tracks:
        remarks.append("the log has no position of a vessel that can be used")
    return remarks


def _some(names: Sequence[str]) -> str:
    rest = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {rest} more" if rest > 0 else "")
