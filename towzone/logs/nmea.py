"""NMEA 0183 logs: one receiver's fixes as a track, and every sentence accounted for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.logs.dating import date_receivers, put_right
from towzone.logs.epochs import EpochMaker
from towzone.logs.fields import Piece
from towzone.logs.fixes import Fixes, FixStore, Reason
from towzone.logs.nmea_counts import LogCounts
from towzone.logs.nmea_remarks import log_remarks, nothing_usable
from towzone.logs.readings import Datum
from towzone.logs.receivers import Receiver, chosen, receivers_of
from towzone.logs.sampled_stamps import StampSampler
from towzone.logs.scan import PIECE_BYTES, scan, whole_lines
from towzone.logs.sentences import read_sentences
from towzone.logs.sources import Senders
from towzone.model.track import LeftOut
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME, RawTrack, SourceContent
from towzone.units import NAUTICAL_MILE_M

__all__ = ["read_nmea"]

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_COARSE_SHARE = 0.05
"""Own choice: positions count as written with so few decimals as more than this share of them have; programs
that leave out zeros at the end write one in ten positions shorter."""


def read_nmea(
    chunks: Iterable[bytes], *, file: str, name: str, options: ReadingOptions, piece_bytes: int = PIECE_BYTES
) -> SourceContent:
    """Return the track of one receiver of an NMEA 0183 log.

    Parameters
    ----------
    chunks : iterable of bytes
        The file in pieces of any size, in order; read once.
    file : str
        Path as the user wrote it.
    name : str
        Of the track.
    options : ReadingOptions
        ``receiver``, ``day`` and ``year``; ``track_tz`` and ``date_order`` for times the logger wrote.
    piece_bytes : int
        How much is worked on at a time; no line may be longer.

    Returns
    -------
    SourceContent
        One raw track. The tally counts ``sentences``, of which ``positions``, ``readings``, ``dates``,
        ``datums``, ``other_types``, ``ais``, ``bad_checksum`` and ``cut`` are the parts; and ``fixes``, of
        which ``used`` and ``left_out`` are.

    Raises
    ------
    InputError
        No fix can be used; the receiver's positions are on another datum than WGS 84; there is no receiver
        of the name the user states; the year stated does not have the day on which the log begins.

    Notes
    -----
    Memory grows by some 60 bytes a fix, not with the text.
    """
    log = _Log(options)
    for piece in whole_lines(chunks, piece_bytes):
        log.add(piece)
    fixes, counts = log.finish(), log.counts
    if not len(fixes):
        raise nothing_usable(counts, None, file)
    receivers = receivers_of(fixes, log.senders.names)
    sampled = log.stamps.finish()
    date_receivers(fixes, receivers, sampled, options)
    one, others = chosen(receivers, fixes, options.receiver, file)
    _refuse_datum(log.datums, one, others, log.senders.names, file)
    usable = one.usable(fixes)
    if not usable.any():
        raise nothing_usable(counts, fixes, file)
    differences = log.store.differences.get(one.sender, {})
    dates = put_right(fixes, one, others, sampled, differences, options, file)
    remarks = log_remarks(fixes, one, others, counts, file)
    stamps = log.stamps.remarks(file) if one.dated_by and len(sampled.line) else []
    used, left_out = int(usable.sum()), len(fixes) - int(usable.sum())
    raw = _raw_track(fixes, one, others, usable, _resolution_m(log.store.places[one.sender]), file, name)
    if used != len(raw) or left_out != sum(len(some) for some in raw.left_out):
        message = f"fixes do not add up: {len(fixes)} read, {len(raw)} used"
        raise ValueError(message)
    tally = counts.tally() | {"fixes": used + left_out, "used": used, "left_out": left_out}
    return SourceContent(form="NMEA 0183 log", raw=(raw,), remarks=(*remarks, *dates, *stamps), tally=tally)


class _Log:
    """What has been read of a log so far."""

    def __init__(self, options: ReadingOptions) -> None:
        self.senders = Senders()
        self.store = FixStore()
        self.stamps = StampSampler(options)
        self.datums: dict[int, Datum] = {}
        self.counts = LogCounts(self.senders)
        self._epochs = EpochMaker()
        self._line = 1
        self._seq = 0
        self._line_end = b""

    def add(self, piece: bytes) -> None:
        """Take in a piece cut at line ends."""
        if not self._line_end:
            # Lines that end with a carriage return alone are those of a file without a single line feed.
            self._line_end = b"\r" if b"\n" not in piece and b"\r" in piece else b"\n"
        found = scan(piece, self._line_end)
        part = Piece(
            found=found,
            sender=self.senders.numbers(found),
            first_seq=self._seq,
            first_line=self._line,
        )
        said = read_sentences(part)
        self._line += len(found.line_ends)
        self._seq += len(found.start)
        self.counts.add(found, said)
        for datum in said.datums:
            self.datums.setdefault(datum.sender, datum)
        self.stamps.add(said, piece)
        self.store.add(self._epochs.add(said))

    def finish(self) -> Fixes:
        """Return all fixes."""
        self.store.add(self._epochs.finish())
        return self.store.finish()


def _refuse_datum(
    datums: dict[int, Datum],
    one: Receiver,
    others: Sequence[Receiver],
    names: Sequence[tuple[str, str]],
    file: str,
) -> None:
    """Refuse positions on another datum than WGS 84, unless another receiver of the log declares it."""
    of_others = {other.sender for other in others} - {one.sender}
    foreign = next((datum for sender, datum in datums.items() if sender not in of_others), None)
    if foreign is None:
        return
    message = (
        f"the receiver {quoted(names[foreign.sender][0])} declares its positions to be on the datum"
        f" {quoted(foreign.code)}, not WGS 84; they cannot be taken as they are. Set the receiver to WGS 84"
        " for the next trip, or transform this log's positions to WGS 84 and give them as CSV or GPX"
    )
    if of_others:
        message += "; or take another receiver of the log, with --receiver"
    raise InputError(file, [Problem(f"line {foreign.line}", message)])


def _resolution_m(places: Ints) -> float:
    """Return what the last decimal of the minutes is worth, of the coarsest that are more than a few."""
    share = np.cumsum(places) / places.sum()
    return float(NAUTICAL_MILE_M / 10 ** int(np.argmax(share > _COARSE_SHARE)))


def _raw_track(
    fixes: Fixes,
    one: Receiver,
    others: Sequence[Receiver],
    usable: Flags,
    resolution_m: float,
    file: str,
    name: str,
) -> RawTrack:
    kept = np.flatnonzero(usable)
    rows = one.rows[kept]
    reason = np.where(fixes.reason[one.rows] == Reason.GOOD, Reason.BAD_TIME, fixes.reason[one.rows])
    reason[usable] = Reason.GOOD
    left_out = []
    for word in (word for word in Reason if word is not Reason.GOOD):
        index = np.flatnonzero(reason == word)
        left_out.append(_left_out(fixes, one.rows[index], one.times.time_us[index], word.name.lower(), file))
    if others:
        theirs = np.concatenate([other.rows for other in others])
        times = np.concatenate([other.times.time_us for other in others])
        order = np.lexsort((fixes.seq[theirs], fixes.line[theirs]))
        left_out.append(_left_out(fixes, theirs[order], times[order], "other_receiver", file))
    readings = {
        word: getattr(fixes, word)[rows] for word in ("sog_kn", "cog_deg", "heading_deg", "depth_m", "hdop")
    }
    return RawTrack(
        file=file,
        name=name,
        lon_deg=fixes.lon_deg[rows],
        lat_deg=fixes.lat_deg[rows],
        time_us=one.times.time_us[kept],
        line=fixes.line[rows],
        bounds=_bounds(one, kept),
        readings={word: column for word, column in readings.items() if not np.isnan(column).all()},
        left_out=tuple(some for some in left_out if len(some)),
        resolution_m=resolution_m,
    )


def _bounds(one: Receiver, kept: Ints) -> tuple[tuple[int, int], ...]:
    """Return the segments: where dates begin or end to be known, go back, or were wrong, a new one begins."""
    undated = one.times.time_us[kept] == NOT_A_TIME
    breaks = np.diff(undated, prepend=undated[:1])
    wrong = np.cumsum(one.times.wrong)[kept]
    breaks |= np.diff(wrong, prepend=wrong[:1]) != 0
    back = np.searchsorted(kept, one.times.backward)
    breaks[back[back < len(kept)]] = True
    breaks[0] = True
    begins = np.flatnonzero(breaks).tolist()
    return tuple(zip(begins, [*begins[1:], len(kept)], strict=True))


def _left_out(fixes: Fixes, rows: Ints, time_us: Ints, reason: str, file: str) -> LeftOut:
    return LeftOut(
        reason=reason,
        file=file,
        line=fixes.line[rows],
        time_utc=time_us.view("datetime64[us]"),
        lon_deg=fixes.lon_deg[rows],
        lat_deg=fixes.lat_deg[rows],
    )
