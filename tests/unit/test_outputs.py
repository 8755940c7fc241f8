"""Writing: whole or not at all, and never over another file unasked."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from towzone.errors import OutputError
from towzone.files.outputs import check_writable, write_all


def test_files_are_written_as_utf_8_with_line_feeds(tmp_path):
    write_all({tmp_path / "a": "één\nlijn\n", tmp_path / "b": ""})
    assert (tmp_path / "a").read_bytes() == "één\nlijn\n".encode()
    assert (tmp_path / "b").read_bytes() == b""


def test_when_one_of_two_fails_neither_appears_and_old_ones_stay(tmp_path):
    (tmp_path / "a").write_text("old")
    with pytest.raises(OutputError, match="missing"):
        write_all({tmp_path / "a": "new", tmp_path / "missing" / "b": "new"})
    assert (tmp_path / "a").read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


def test_a_writer_that_is_interrupted_leaves_no_temporary_file(tmp_path, monkeypatch):
    def interrupted(*_: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_all({tmp_path / "a": "new"})
    assert list(tmp_path.iterdir()) == []


def test_text_that_cannot_be_encoded_is_written_as_its_code(tmp_path):
    """A lone surrogate, as names of files and zones can hold; in JSON that is the right escape."""
    write_all({tmp_path / "a": "x\ud800"})
    assert (tmp_path / "a").read_bytes() == b"x\\ud800"
    assert list(tmp_path.iterdir()) == [tmp_path / "a"]


@pytest.mark.parametrize("force", [False, True])
def test_a_new_file_in_a_folder_that_exists_is_writable(tmp_path, force):
    check_writable(tmp_path / "new", force=force)
    assert not (tmp_path / "new").exists()


def test_an_existing_file_needs_force(tmp_path):
    (tmp_path / "old").touch()
    with pytest.raises(OutputError, match="--force"):
        check_writable(tmp_path / "old", force=False)
    check_writable(tmp_path / "old", force=True)


@pytest.mark.parametrize("force", [False, True])
def test_a_folder_and_a_missing_folder_are_refused_even_with_force(tmp_path, force):
    with pytest.raises(OutputError, match="folder"):
        check_writable(tmp_path, force=force)
    with pytest.raises(OutputError, match="does not exist"):
        check_writable(tmp_path / "no" / "file", force=force)


def test_a_link_to_nothing_is_not_a_free_place(tmp_path):
    """A dangling link is replaced by the file or refused; its target is never created."""
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "elsewhere")
    write_all({link: "text"})
    assert not (tmp_path / "elsewhere").exists()


@pytest.mark.parametrize(("read", "written"), [("a.shp", "a.dbf"), ("a.SHP", "a.prj"), ("C1.000", "C1.001")])
def test_what_is_read_beside_a_file_is_not_replaced_either(read, written, tmp_path):
    for name in (read, written, "b.dbf"):
        (tmp_path / name).touch()

    with pytest.raises(OutputError, match="is read by this command"):
        check_writable(tmp_path / written, force=True, read=[tmp_path / read])
    check_writable(tmp_path / "b.dbf", force=True, read=[tmp_path / read])


def test_a_device_or_pipe_is_never_replaced_by_a_file(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OutputError, match="is a device or a pipe"):
        check_writable(pipe, force=True)
    assert pipe.is_fifo()
