"""NMEA 0183 logs: one receiver's fixes as a track, and every sentence accounted for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from towzone.logs.dating import date_receivers, put_right
from towzone.logs.disagreements import Disagreement, disagreement
from towzone.logs.epochs import EpochMaker
from towzone.logs.fields import Piece
from towzone.logs.fixes import Fixes, FixStore
from towzone.logs.nmea_counts import LogCounts
from towzone.logs.nmea_refusals import nothing_usable, refuse_conflicts, refuse_datum
from towzone.logs.nmea_remarks import disagreement_remarks, log_remarks, receiver_remarks
from towzone.logs.nmea_track import raw_track
from towzone.logs.other_lines import OtherLines
from towzone.logs.readings import Datum
from towzone.logs.receivers import Receiver, chosen, receivers_of
from towzone.logs.sampled_stamps import Sampled, StampSampler
from towzone.logs.scan import PIECE_BYTES, scan, whole_lines
from towzone.logs.sentences import read_sentences
from towzone.logs.sources import Senders
from towzone.model.result import Remark
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import SourceContent

__all__ = ["read_nmea"]


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
        One raw track; more where receivers of the log are miles apart. The tally counts ``sentences``, of
        which ``positions``, ``readings``, ``dates``, ``datums``, ``other_types``, ``ais``, ``bad_checksum``
        and ``cut`` are the parts; ``other_lines``, which hold none; and ``fixes``, of which ``used`` and
        ``left_out`` are.

    Raises
    ------
    InputError
        No fix can be used; half of the lines hold no sentence; the receiver stands at two places at too many
        moments; the receiver's positions are on another datum than WGS 84; there is no receiver
        of the name the user states; the year stated does not have the day on which the log begins.

    Notes
    -----
    Memory grows by some 60 bytes a fix, not with the text.
    """
    log = _Log(options)
    for piece in whole_lines(chunks, piece_bytes):
        log.add(piece)
    fixes, counts = log.finish(), log.counts
    receivers = receivers_of(fixes, log.senders.names, log.told)
    if not receivers:
        raise nothing_usable(counts, receivers, file)
    log.other_lines.refuse(file)
    sampled = log.stamps.finish()
    date_receivers(receivers, sampled, options)
    one, others = chosen(receivers, options.receiver, file)
    apart = [(other, disagreement(one, other)) for other in others]
    judged = [one, *_elsewhere(apart, options)]
    passed = [other for other in others if other not in judged]
    refuse_datum(log.datums, judged, passed, log.senders.names, file)
    for receiver in judged:
        refuse_conflicts(receiver, others, file)
    if not one.usable().any():
        raise nothing_usable(counts, receivers, file)
    dates: list[Remark] = []
    for receiver in judged:
        rest = [other for other in receivers if other is not receiver]
        differences = log.store.differences.get(receiver.sender, {})
        dates += put_right(receiver, rest, sampled, differences, options, file)
    remarks = [*log_remarks(one, judged[1:], passed, counts, file), *log.other_lines.remarks(file)]
    remarks += disagreement_remarks(one, apart, judged, file)
    remarks += [remark for other in judged[1:] for remark in receiver_remarks(other, counts, file)]
    stamps = log.stamps.remarks(file) if _stamps_matter(one, sampled) else []
    read = sum(len(some.fixes) for some in receivers)
    read += sum(len(some.conflicts) - some.conflicts.moments for some in judged)
    names = [name] if len(judged) == 1 else [f"{name}/{some.name}" for some in judged]
    raw = [
        raw_track(some, passed if some is one else (), log.store.places[some.sender], file, of_track)
        for some, of_track in zip(judged, names, strict=True)
    ]
    used, left_out = sum(len(some) for some in raw), sum(len(out) for some in raw for out in some.left_out)
    if read != used + left_out:
        message = f"fixes do not add up: {read} read, {used} used, {left_out} left out"
        raise ValueError(message)
    tally = counts.tally() | {"other_lines": log.other_lines.number}
    tally |= {"fixes": read, "used": used, "left_out": left_out}
    return SourceContent(
        form="NMEA 0183 log", raw=tuple(raw), remarks=(*remarks, *dates, *stamps), tally=tally
    )


def _elsewhere(apart: Sequence[tuple[Receiver, Disagreement]], options: ReadingOptions) -> list[Receiver]:
    """Return the receivers that are not where the one used is, unless the user has said which one counts."""
    if options.receiver is not None:
        return []
    return [other for other, some in apart if some.two_vessels]


def _stamps_matter(one: Receiver, sampled: Sampled) -> bool:
    """Return whether the times the logger wrote gave the dates, or might have where there are none."""
    return bool(one.dated_by and len(sampled.line)) or not one.has_dates


class _Log:
    """What has been read of a log so far."""

    def __init__(self, options: ReadingOptions) -> None:
        self.senders = Senders()
        self.store = FixStore()
        self.stamps = StampSampler(options)
        self.datums: dict[int, Datum] = {}
        self.counts = LogCounts(self.senders)
        self.other_lines = OtherLines()
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
        self.other_lines.add(found, len(piece), self._line)
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
        self.told = self._epochs.told.finish()
        return self.store.finish()
