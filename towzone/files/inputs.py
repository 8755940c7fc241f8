"""The one place where input is opened: local files and standard input, never a network or virtual path."""

from __future__ import annotations

import hashlib
import io
import itertools
import os
import re
import stat
import sys
import zlib
from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from towzone.errors import InputError, Problem
from towzone.model.result import InputFile

__all__ = ["STDIN", "Loaded", "Opened", "check_local_path", "load", "name_stem", "open_input", "whole"]

STDIN = "-"
"""The path that stands for standard input."""

_PIECE_BYTES = 1 << 20
"""Own choice: large enough to be fast, small enough for any number of files at once."""
_INFLATED_AT_ONCE_BYTES = 4096
"""Own choice: deflate makes at most 1032 bytes of one (published: zlib, technical details), so that a
hostile file makes 4 MiB at once and no more; and little is copied again after a short member."""
_LARGEST_WHOLE_BYTES = 2 << 30
"""Own choice: more text than this, held in memory whole, would need several times as much."""

_GZIP = b"\x1f\x8b"
"""Published: RFC 1952, section 2.3.1."""
_ZIP = re.compile(rb"PK(?:\x03\x04|\x05\x06|\x07\x08)", re.DOTALL)
"""Published: APPNOTE.TXT, .ZIP File Format Specification, sections 4.3.7, 4.3.16 and 8.5.3."""
_PACKED = {
    # Text may begin with BZh; with the first block's mark behind it, it is no text.
    "a bzip2 file": re.compile(rb"BZh[1-9](?:1AY&SY|\x17rE8P\x90)", re.DOTALL),
    "an xz file": re.compile(rb"\xfd7zXZ\x00", re.DOTALL),
    "a Zstandard file": re.compile(rb"(?:\x28\xb5\x2f\xfd|[\x50-\x5f]\x2a\x4d\x18)", re.DOTALL),
    "a 7-Zip archive": re.compile(rb"7z\xbc\xaf\x27\x1c", re.DOTALL),
    "a tar archive": re.compile(rb".{257}ustar", re.DOTALL),
}
"""First bytes. Published: xz file format 1.2.1, section 2.1.1.1; RFC 8878, sections 3.1.1 and 3.1.2; the
7z format description of its sources, signature header; POSIX.1-2017, pax, ustar interchange format. Those of
bzip2 are common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """The content of one input and what identifies it.

    Parameters
    ----------
    data : bytes
        Everything, not empty; unpacked where the file is compressed by gzip.
    record : InputFile
        Path as the user wrote it, SHA-256 and size of the bytes as they lie on the disk.
    """

    data: bytes
    record: InputFile


class Opened:
    """One input on its way through, piece by piece; made by `open_input`.

    Attributes
    ----------
    head : bytes
        The first 1 MiB of the content, or all of it where there is less; never empty.
    """

    __slots__ = ("_complete", "_pieces", "_seen", "_taken", "head", "unpacked")

    def __init__(self, first: bytes, rest: Iterator[bytes], seen: _Seen, *, unpacked: bool) -> None:
        self.head = first[:_PIECE_BYTES]
        self.unpacked = unpacked
        self._seen = seen
        self._pieces = itertools.chain([first], rest)
        self._taken = self._complete = False

    def chunks(self) -> Iterator[bytes]:
        """Return the content from its beginning, once, in pieces of about 1 MiB (5 MiB at the most).

        Raises
        ------
        InputError
            While iterating: the file cannot be read on, or is not whole. What came before is of no use then.
        """
        if self._taken:
            message = "the content of an input can be had once only"
            raise RuntimeError(message)
        self._taken = True
        return self._run()

    def _run(self) -> Iterator[bytes]:
        yield from self._pieces
        self._complete = True

    @property
    def record(self) -> InputFile:
        """Path as the user wrote it, SHA-256 and size of the bytes on the disk; known at the end only."""
        if not self._complete:
            message = "an input is identified by all of its bytes, which have not been read yet"
            raise RuntimeError(message)
        return self._seen.record()


class _Seen:
    """What has come from the disk so far."""

    def __init__(self, path: str) -> None:
        self._path, self._digest, self._bytes = path, hashlib.sha256(), 0

    def add(self, piece: bytes) -> None:
        self._digest.update(piece)
        self._bytes += len(piece)

    def record(self) -> InputFile:
        return InputFile(file=self._path, sha256=self._digest.hexdigest(), bytes=self._bytes)


def open_input(path: str, *, at: str | None = None) -> Opened:
    """Return a local file, or standard input for ``-``, opened to be read once in pieces.

    Content compressed by gzip, recognised by its first bytes, is unpacked on the way. The file is closed
    after its last piece, or when the result is no longer held.

    Parameters
    ----------
    path : str
        As the user wrote it.
    at : str or None
        Where the file lies, if not there: what was once read under one name is read again from another.

    Raises
    ------
    InputError
        Not a local file, missing, a folder, unreadable, empty, or packed in another way than by gzip.
    """
    opened = _opened(path, at)
    if _ZIP.match(opened.head):
        raise _refused(path, _unpack("a zip archive"))
    return opened


def whole(opened: Opened, path: str) -> bytes:
    """Return the whole content of an input just opened.

    Raises
    ------
    InputError
        As `Opened.chunks`; or what was compressed is larger than 2 GiB.
    """
    content = io.BytesIO()
    for piece in opened.chunks():
        content.write(piece)
        # A plain file is as large as anyone can see; what unpacks may be a thousand times larger.
        if opened.unpacked and content.tell() > _LARGEST_WHOLE_BYTES:
            message = (
                f"holds more than {_LARGEST_WHOLE_BYTES >> 30} GiB when unpacked, too much to be held in"
                " memory; unpack it and split it"
            )
            raise _refused(path, message)
    return content.getvalue()


def load(path: str, *, at: str | None = None) -> Loaded:
    """Return the whole content of a local file, or of standard input for ``-``.

    Parameters
    ----------
    path, at
        As `open_input`.

    Raises
    ------
    InputError
        As `open_input` and `whole`, but for zip archives: those are left to the caller, because formats of
        many names are such archives.
    """
    opened = _opened(path, at)
    data = whole(opened, path)
    return Loaded(data=data, record=opened.record)


def _opened(path: str, at: str | None) -> Opened:
    place = path if at is None else at
    if place != STDIN:
        check_local_path(place)
    seen = _Seen(path)
    pieces = _from_disk(place, seen)
    first = next(pieces, b"")
    if not first:
        raise _refused(path, "the file is empty")
    unpacked = first.startswith(_GZIP)
    if unpacked:
        pieces = _unpacked(path, itertools.chain([first], pieces))
        first = next(pieces, b"")
        if not first:
            raise _refused(path, "the compressed file holds nothing")
        if first.startswith(_GZIP):
            raise _refused(path, "the file is compressed twice; unpack it once")
    for name, start in _PACKED.items():
        if start.match(first):
            raise _refused(path, _unpack(name))
    return Opened(first, pieces, seen, unpacked=unpacked)


def _unpack(name: str) -> str:
    return f"this is {name}; unpack it and give the file inside (of packed files, only gzip is read as it is)"


def _from_disk(path: str, seen: _Seen) -> Iterator[bytes]:
    """Yield the bytes of a file, none of it empty; closed when they end or nobody wants them."""
    try:
        with _stream(path) as stream:
            while piece := stream.read(_PIECE_BYTES):
                seen.add(piece)
                yield piece
    except OSError as error:
        raise _refused(path, f"cannot be read: {error.strerror or error}") from error


def _stream(path: str) -> AbstractContextManager[BinaryIO]:
    if path != STDIN:
        return Path(path).open("rb")
    if sys.stdin is None:
        raise _refused(path, "there is no standard input")
    return nullcontext(sys.stdin.buffer)


def _unpacked(path: str, pieces: Iterator[bytes]) -> Iterator[bytes]:
    """Yield what a file compressed by gzip holds, all members of it, checked by their sums."""
    member = zlib.decompressobj(wbits=31)
    between = False  # after a member, nothing seen of the next
    content = bytearray()
    for piece in pieces:
        view, at = memoryview(piece), 0
        while at < len(view):
            some = bytes(view[at : at + _INFLATED_AT_ONCE_BYTES])
            if between:
                # Tapes and some loggers fill up with zeros.
                kept = some.lstrip(b"\0")
                at += len(some) - len(kept)
                if not kept:
                    continue
                some, member, between = kept, zlib.decompressobj(wbits=31), False
            try:
                content += member.decompress(some)
            except zlib.error as error:
                raise _refused(path, _damaged(error)) from error
            at += len(some) - len(member.unused_data)
            between = member.eof
            if len(content) >= _PIECE_BYTES:
                yield bytes(content)
                content.clear()
    if not between:
        raise _refused(path, "the compressed file is cut off; nothing of it is used. Get it again")
    if content:
        yield bytes(content)


def _damaged(error: zlib.error) -> str:
    return f"the compressed file is damaged ({error}); nothing of it is used. Get it again"


def check_local_path(path: str) -> None:
    """Refuse everything but the path of an existing, regular or pipe-like local file.

    Libraries below open addresses and virtual paths as if they were files; nothing of the kind may
    reach them.

    Raises
    ------
    InputError
        An address (``://``), a virtual path (``/vsi...``), missing, a folder, or not a possible path.
    """
    if "://" in path:
        raise _refused(path, "this is a network address; only local files are read. Save it to a file first")
    if path.lower().startswith("/vsi"):
        raise _refused(path, "this is a virtual path; only local files are read. Unpack or copy it first")
    try:
        mode = Path(path).stat().st_mode
    except FileNotFoundError as error:
        raise _refused(path, "there is no such file") from error
    except OSError as error:
        raise _refused(path, f"cannot be read: {error.strerror or error}") from error
    except ValueError as error:  # a NUL inside the path
        raise _refused(path, "this is not a possible file name") from error
    if stat.S_ISDIR(mode):
        raise _refused(path, "this is a folder; give a file")


def name_stem(path: str) -> str:
    r"""Return the file name without folder, last suffix and one for gzip; ``stdin`` for standard input.

    Folders are taken off as every system writes them, so that a check has the same names everywhere.

    Examples
    --------
    >>> name_stem("trips/march.gpx"), name_stem("march.csv.gz"), name_stem("-")
    ('march', 'march', 'stdin')
    >>> name_stem("C:\\trips\\march.gpx")
    'march'
    """
    if path == STDIN:
        return "stdin"
    name = re.split(r"[/\\]", os.fspath(path).rstrip("/\\"))[-1]
    return Path(name.removesuffix(".gz") or name).stem


def _refused(path: str, message: str) -> InputError:
    return InputError(path, [Problem("", message)])
