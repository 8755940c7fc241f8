"""Tracks and routes from files: recognised by content, read by the reader for it, put in order."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from towzone.errors import InputError, Problem
from towzone.files.csv_tracks import is_table_of_fixes, read_csv_tracks
from towzone.files.gpx import looks_like_xml
from towzone.files.gpx_tracks import read_gpx
from towzone.files.inputs import STDIN, Opened, name_stem, open_input, whole
from towzone.files.parquet_tracks import MAGIC as PARQUET
from towzone.files.parquet_tracks import read_parquet_file
from towzone.files.table_folders import read_parquet_folder
from towzone.logs.ais import read_ais, vdm_count
from towzone.logs.nmea import read_nmea
from towzone.logs.scan import holds_own_positions, looks_like_sentences
from towzone.model.result import InputFile, Remark
from towzone.model.track import Track
from towzone.tracks.assembly import assembled
from towzone.tracks.naming import with_unique_ids
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import SourceContent

__all__ = ["RawFile", "TrackFile", "read_raw", "read_tracks"]

_AS_FOUND = ReadingOptions()
_UTF_16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackFile:
    """What one file gave: its tracks, what a person should know about them, and the input itself."""

    tracks: tuple[Track, ...]
    remarks: tuple[Remark, ...]
    input: InputFile


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFile:
    """What stands in one file: fixes, planned routes, and the input itself."""

    content: SourceContent
    routes: tuple[Track, ...]
    input: InputFile


def read_tracks(path: str, options: ReadingOptions = _AS_FOUND, *, at: str | None = None) -> TrackFile:
    """Return the completed tracks and the planned routes of a file.

    Parameters
    ----------
    path : str
        A local file, or ``-`` for standard input: GPX 1.0 or 1.1, a log of NMEA 0183 or AIS sentences, CSV,
        any of them compressed by gzip, or Parquet; recognised by content. Or a folder of the Parquet files
        of one table.
    options : ReadingOptions
        What the user states where the file leaves it open.
    at : str or None
        Where the file lies, if not there (`towzone.files.inputs.open_input`).

    Returns
    -------
    TrackFile
        One completed track for each vessel in the file (several only where the parts of a GPX file overlap
        in time), then one planned track for each ``rte`` of a GPX file.

    Raises
    ------
    InputError
        The file cannot be read, is none of these, is damaged, or holds no position.
    """
    read = read_raw(path, options, at=at)
    tracks: list[Track] = []
    remarks = list(read.content.remarks)
    for raw in read.content.raw:
        found, order_remarks = assembled(raw)
        tracks += found
        remarks += order_remarks
    if not tracks and not read.routes:
        raise InputError(path, [Problem("", _nothing_usable(read.content))])
    record = replace(read.input, form=read.content.form, tally=dict(read.content.tally))
    return TrackFile(tracks=with_unique_ids([*tracks, *read.routes]), remarks=tuple(remarks), input=record)


def read_raw(path: str, options: ReadingOptions = _AS_FOUND, *, at: str | None = None) -> RawFile:
    """Return the fixes of a file as they stand in it, and its planned routes.

    Parameters
    ----------
    path, options, at
        As `read_tracks`.

    Raises
    ------
    InputError
        As `read_tracks`; but a file without a position that can be used may come back empty.
    """
    place = Path(path if at is None else at)
    if path != STDIN and place.is_dir():
        content, record = read_parquet_folder(path, name=name_stem(path), options=options, at=at)
        return RawFile(content=content, routes=(), input=record)
    opened = open_input(path, at=at)
    content, routes = _content(opened, path, options, place)
    return RawFile(content=content, routes=routes, input=opened.record)


def _nothing_usable(content: SourceContent) -> str:
    """Say what a file held that gives no track: without one a check would find nothing, and seem clear."""
    counts = ", ".join(f"{count} {word.replace('_', ' ')}" for word, count in content.tally.items() if count)
    return f"holds no position that can be used ({content.form}: {counts or 'nothing in it'})"


def _content(
    opened: Opened, path: str, options: ReadingOptions, place: Path
) -> tuple[SourceContent, tuple[Track, ...]]:
    head = opened.head
    if head.startswith(PARQUET):
        return _parquet(opened, path, options, place), ()
    if looks_like_xml(head):
        return read_gpx(whole(opened, path), path, options.track_tz)
    if not is_table_of_fixes(head):
        # A single sentence, in a remark of a table for example, makes no log of the table.
        if looks_like_sentences(head):
            return _log(opened.chunks(), head, path, options), ()
        wide = head.startswith(_UTF_16_MARKS)
        narrow_head = b"".join(_narrowed(iter((head,)))) if wide else b""
        if wide and looks_like_sentences(narrow_head):
            # Some shells write whatever is sent into a file in this encoding, and so logs too.
            return _log(_narrowed(opened.chunks()), narrow_head, path, options), ()
        if b"\0" in head[:1024] and not wide:
            message = "this is neither GPX, nor a log of NMEA 0183 or AIS sentences, nor CSV, nor Parquet"
            raise InputError(path, [Problem("", message)])
    return read_csv_tracks(opened.chunks(), file=path, name=name_stem(path), options=options), ()


def _parquet(opened: Opened, path: str, options: ReadingOptions, place: Path) -> SourceContent:
    """Read a table that has to be jumped about in: from its place, where it lies there as it is."""
    content = None
    if path == STDIN or opened.unpacked:
        content = whole(opened, path)
    else:
        for _ in opened.chunks():
            pass  # identified by all of its bytes
    return read_parquet_file(path, place, content, name=name_stem(path), options=options)


def _narrowed(chunks: Iterator[bytes]) -> Iterator[bytes]:
    """Return UTF-16 text as UTF-8, what is damaged in it as marks that no sentence has."""
    return codecs.iterencode(codecs.iterdecode(chunks, "utf-16", errors="replace"), "utf-8")


def _log(chunks: Iterator[bytes], head: bytes, path: str, options: ReadingOptions) -> SourceContent:
    """Read a log by what it is: of the vessel's own receivers, or of what others sent.

    The positions of a receiver are the vessel's own; AIS sentences beside them tell of others, unless one
    is asked for by its MMSI.
    """
    others = vdm_count(head) > 0 and (bool(options.only) or not holds_own_positions(head))
    read = read_ais if others else read_nmea
    return read(chunks, file=path, name=name_stem(path), options=options)
