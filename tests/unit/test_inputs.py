"""Input is opened in one place: plain or gzip, in pieces or whole, identified by the bytes on the disk."""

from __future__ import annotations

import bz2
import gc
import gzip
import hashlib
import io
import lzma
import os
import random
import tarfile
import threading
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from towzone.errors import InputError
from towzone.files import inputs
from towzone.files.inputs import load, open_input, whole

MIB = 1 << 20


def squeezed(data: bytes) -> bytes:
    """Without the time of packing, which would stand in names of tests and make cores disagree on them."""
    return gzip.compress(data, mtime=0)


def put(tmp_path: Path, data: bytes, name: str = "log.csv") -> str:
    path = tmp_path / name
    path.write_bytes(data)
    return str(path)


def noise(size: int) -> bytes:
    """Bytes that do not compress."""
    return random.Random(size).randbytes(size)


def refusal(path: str) -> str:
    """What is said of a file read to its end."""
    with pytest.raises(InputError) as caught:
        list(open_input(path).chunks())
    return str(caught.value)


@pytest.mark.parametrize("size", [1, MIB - 1, MIB, MIB + 1, 3 * MIB + 7])
@pytest.mark.parametrize("packed", [False, True])
def test_the_pieces_are_the_content_and_the_record_is_of_the_disk(
    tmp_path: Path, size: int, packed: bool
) -> None:
    data = noise(size)
    stored = squeezed(data) if packed else data
    opened = open_input(put(tmp_path, stored))
    assert opened.head == data[:MIB]
    pieces = list(opened.chunks())
    assert b"".join(pieces) == data
    assert max(map(len, pieces)) <= 6 * MIB
    record = opened.record
    assert (record.sha256, record.bytes) == (hashlib.sha256(stored).hexdigest(), len(stored))
    assert record.file.endswith("log.csv")


def test_the_record_is_not_known_before_the_last_piece(tmp_path: Path) -> None:
    opened = open_input(put(tmp_path, noise(3 * MIB)))
    pieces = opened.chunks()
    for _ in range(3):
        next(pieces)
        with pytest.raises(RuntimeError, match="not been read"):
            _ = opened.record
    assert next(pieces, None) is None
    assert opened.record.bytes == 3 * MIB


def test_the_content_can_be_had_once(tmp_path: Path) -> None:
    opened = open_input(put(tmp_path, b"a"))
    opened.chunks()
    with pytest.raises(RuntimeError, match="once only"):
        opened.chunks()


def test_a_file_given_up_half_way_is_closed(tmp_path: Path) -> None:
    """Otherwise the warning of the open file would fail this test."""
    for begun in (False, True):
        opened = open_input(put(tmp_path, noise(3 * MIB)))
        if begun:
            next(opened.chunks())
        del opened
        gc.collect()


@pytest.mark.parametrize(
    "stored",
    [
        squeezed(b"one\n") + squeezed(b"two\n"),
        squeezed(b"one\n") + squeezed(b"") + squeezed(b"two\n"),
        squeezed(b"one\n") + bytes(5000) + squeezed(b"two\n") + bytes(9),
        squeezed(b"") + squeezed(b"one\ntwo\n"),
    ],
    ids=["two", "an empty one between", "filled with zeros", "an empty one first"],
)
def test_all_members_are_read(tmp_path: Path, stored: bytes) -> None:
    assert load(put(tmp_path, stored)).data == b"one\ntwo\n"


def test_ten_thousand_members_are_read_in_one_go(tmp_path: Path) -> None:
    """Copying the rest of a piece after each member would take minutes."""
    one = squeezed(b"a line of the log\n")
    assert load(put(tmp_path, one * 10_000)).data == b"a line of the log\n" * 10_000


def test_a_gzip_file_cut_anywhere_is_refused(tmp_path: Path) -> None:
    stored = squeezed(b"time,lat,lon\n" * 40)
    for end in range(2, len(stored)):
        assert "cut off; nothing of it is used" in refusal(put(tmp_path, stored[:end]))


def test_a_large_gzip_file_cut_late_is_refused_after_its_pieces(tmp_path: Path) -> None:
    stored = squeezed(noise(3 * MIB))
    opened = open_input(put(tmp_path, stored[:-1]))
    with pytest.raises(InputError, match="cut off"):
        list(opened.chunks())
    with pytest.raises(RuntimeError, match="not been read"):
        _ = opened.record


def test_a_changed_byte_of_a_gzip_file_is_noticed_or_changes_nothing(tmp_path: Path) -> None:
    data = noise(300)
    stored = squeezed(data)
    unnoticed = []
    for at in range(2, len(stored)):
        changed = bytearray(stored)
        changed[at] ^= 0x10
        path = put(tmp_path, bytes(changed))
        try:
            found = load(path).data
        except InputError:
            continue
        assert found == data
        unnoticed.append(at)
    # RFC 1952, 2.3.1: bytes 4 to 9 tell the time, the writer and the system; 3.2.4 of RFC 1951: a block
    # stored as it is has five bits without a meaning in its first byte.
    assert set(unnoticed) <= {4, 5, 6, 7, 8, 9, 10}


def test_what_follows_a_gzip_member_and_is_none_is_refused(tmp_path: Path) -> None:
    assert "damaged" in refusal(put(tmp_path, squeezed(b"a") + b"left over"))


def _tar() -> bytes:
    buffer = io.BytesIO()
    with tarfile.open(fileobj=buffer, mode="w") as archive:
        archive.addfile(tarfile.TarInfo("a.csv"))
    return buffer.getvalue()


def _zip() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("a.csv", "a")
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("stored", "name"),
    [
        (_zip(), "zip"),
        (b"PK\5\6" + bytes(18), "zip"),
        (bz2.compress(b"a"), "bzip2"),
        (bz2.compress(b""), "bzip2"),
        (lzma.compress(b"a"), "xz"),
        (b"\x28\xb5\x2f\xfd\x04\x00", "Zstandard"),
        (b"7z\xbc\xaf\x27\x1c\0\4", "7-Zip"),
        (_tar(), "tar"),
        (squeezed(_tar()), "tar"),
        (squeezed(_zip()), "zip"),
        (squeezed(squeezed(b"a")), "compressed twice"),
    ],
)
def test_other_packings_are_named_and_to_be_unpacked(tmp_path: Path, stored: bytes, name: str) -> None:
    said = refusal(put(tmp_path, stored))
    assert name in said
    assert "unpack it" in said


def test_text_that_begins_like_a_packed_file_is_text(tmp_path: Path) -> None:
    assert load(put(tmp_path, b"BZh9 is a name\n")).data == b"BZh9 is a name\n"
    assert b"".join(open_input(put(tmp_path, b"PK,lat,lon\n")).chunks()) == b"PK,lat,lon\n"


def test_zip_archives_loaded_whole_are_left_to_the_caller(tmp_path: Path) -> None:
    assert load(put(tmp_path, _zip())).data == _zip()


@pytest.mark.parametrize("stored", [b"", squeezed(b""), squeezed(b"") * 3])
def test_nothing_is_refused(tmp_path: Path, stored: bytes) -> None:
    said = refusal(put(tmp_path, stored))
    assert "the file is empty" in said or "the compressed file holds nothing" in said


def test_a_file_that_unpacks_to_far_more_keeps_memory_bounded(tmp_path: Path) -> None:
    """256 MiB of zeros in 256 KiB: read in pieces, no more than a few of them are held at a time."""
    path = put(tmp_path, squeezed(bytes(256 * MIB)))
    tracemalloc.start()
    size = sum(len(piece) for piece in open_input(path).chunks())
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert size == 256 * MIB
    assert most < 24 * MIB


def test_a_file_that_unpacks_to_more_than_the_limit_is_not_held_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(inputs, "_LARGEST_WHOLE_BYTES", 2 * MIB)
    packed = put(tmp_path, squeezed(bytes(2 * MIB + 1)))
    with pytest.raises(InputError, match="when unpacked, too much to be held in memory; unpack it"):
        load(packed)
    assert sum(map(len, open_input(packed).chunks())) == 2 * MIB + 1
    assert len(load(put(tmp_path, squeezed(bytes(2 * MIB)))).data) == 2 * MIB
    assert len(load(put(tmp_path, bytes(2 * MIB + 1))).data) == 2 * MIB + 1


@pytest.mark.parametrize("packed", [False, True])
def test_standard_input_is_read_like_a_file(monkeypatch: pytest.MonkeyPatch, packed: bool) -> None:
    stored = squeezed(b"abc") if packed else b"abc"
    stream = io.TextIOWrapper(io.BytesIO(stored))
    monkeypatch.setattr("sys.stdin", stream)
    loaded = load("-")
    assert loaded.data == b"abc"
    assert (loaded.record.file, loaded.record.bytes) == ("-", len(stored))
    assert not stream.closed


def test_a_program_without_standard_input_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", None)
    assert refusal("-") == "-: there is no standard input"


def test_a_pipe_is_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    data = noise(2 * MIB + 3)
    writer = threading.Thread(target=path.write_bytes, args=(data,))
    writer.start()
    opened = open_input(str(path))
    assert b"".join(opened.chunks()) == data
    writer.join()
    assert opened.record.bytes == len(data)


def test_a_file_that_cannot_be_read_on_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Failing(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            if self.tell():
                raise OSError(5, "Input/output error")
            return super().read(size)

    monkeypatch.setattr(inputs, "_stream", lambda _path: Failing(noise(3 * MIB)))
    assert "cannot be read: Input/output error" in refusal(put(tmp_path, b"a"))


def test_the_whole_of_an_opened_input_is_its_content(tmp_path: Path) -> None:
    path = put(tmp_path, squeezed(b"abc"))
    opened = open_input(path)
    assert whole(opened, path) == b"abc"
    assert opened.record.bytes == len(squeezed(b"abc"))
