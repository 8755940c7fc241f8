"""NMEA 0183 logs: one receiver's fixes as a track, and every sentence accounted for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.logs.dating import date_receivers, put_right
from towzone.logs.epochs import EpochMaker
from towzone.logs.fields import Piece
from towzone.logs.fixes import Fixes, FixStore
from towzone.logs.nmea_counts import LogCounts
from towzone.logs.nmea_remarks import log_remarks, nothing_usable
from towzone.logs.nmea_track import raw_track
from towzone.logs.readings import Datum
from towzone.logs.receivers import Receiver, chosen, receivers_of
from towzone.logs.sampled_stamps import StampSampler
from towzone.logs.scan import PIECE_BYTES, scan, whole_lines
from towzone.logs.sentences import read_sentences
from towzone.logs.sources import Senders
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import SourceContent

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
    receivers = receivers_of(fixes, log.senders.names)
    if not receivers:
        raise nothing_usable(counts, receivers, file)
    sampled = log.stamps.finish()
    date_receivers(receivers, sampled, options)
    one, others = chosen(receivers, options.receiver, file)
    _refuse_datum(log.datums, one, others, log.senders.names, file)
    if not one.usable().any():
        raise nothing_usable(counts, receivers, file)
    dates = put_right(one, others, sampled, log.store.differences.get(one.sender, {}), options, file)
    remarks = log_remarks(one, others, counts, file)
    stamps = log.stamps.remarks(file) if one.dated_by and len(sampled.line) else []
    read = sum(len(receiver.fixes) for receiver in receivers)
    raw = raw_track(one, others, log.store.places[one.sender], file, name)
    used, left_out = len(raw), sum(len(some) for some in raw.left_out)
    if read != used + left_out:
        message = f"fixes do not add up: {read} read, {used} used, {left_out} left out"
        raise ValueError(message)
    tally = counts.tally() | {"fixes": read, "used": used, "left_out": left_out}
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
