"""The inputs of a recorded check, found again in a folder by what is in them, not by their names."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from towzone.errors import InputError, Problem
from towzone.files.inputs import name_stem
from towzone.files.table_folders import identified, part_names
from towzone.model.result import ROLE_TRACK

__all__ = ["Found", "Wanted", "find_inputs"]

_PIECE_BYTES = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """An input as a record tells of it; untrusted text."""

    file: str
    sha256: str
    size: int
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Where inputs lie now.

    Parameters
    ----------
    places : dict of str to Path
        By SHA-256.
    named_alike : dict of str to Path
        By the recorded name of what is missing: a file of that name and other content.
    unread : tuple of Path
        Files, and folders of parts, that could not be read.
    """

    places: dict[str, Path]
    named_alike: dict[str, Path]
    unread: tuple[Path, ...]


def find_inputs(folder: str, wanted: Sequence[Wanted]) -> Found:
    """Look for inputs in a folder and the folders in it; links to folders are not followed.

    Only files of a size that is looked for are read. What is in no file may be a table of positions in parts:
    each folder is such an input, too.

    Raises
    ------
    InputError
        There is no such folder.
    """
    base = Path(folder)
    if not base.is_dir():
        message = "there is no such folder; name the one that holds the inputs"
        raise InputError(folder, [Problem("", message)])
    open_ = {one.sha256: one for one in wanted}
    places: dict[str, Path] = {}
    unread: list[Path] = []
    names: dict[str, Path] = {}
    for path, size in _files(base, unread):
        names.setdefault(name_stem(path.name), path)
        if not any(one.size == size for one in open_.values()):
            continue
        try:
            sha256 = _sha256(path)
        except OSError:
            unread.append(path)
            continue
        if sha256 in open_:
            places[sha256] = path
            del open_[sha256]
    tables = [one for one in open_.values() if one.role == ROLE_TRACK]
    for one, path in _tables(base, tables, unread) if tables else ():
        places[one.sha256] = path
        open_.pop(one.sha256, None)
    alike = {one.file: names[name_stem(one.file)] for one in open_.values() if name_stem(one.file) in names}
    return Found(places=places, named_alike=alike, unread=tuple(unread))


def _files(base: Path, unread: list[Path]) -> Iterator[tuple[Path, int]]:
    """Yield regular files with their sizes, in an order that depends on their names only."""

    def note(error: OSError) -> None:
        unread.append(Path(error.filename))

    for folder, folders, names in os.walk(base, onerror=note):
        folders.sort()
        for name in sorted(names):
            path = Path(folder, name)
            try:
                told = path.stat()
            except OSError:
                unread.append(path)
                continue
            if stat.S_ISREG(told.st_mode):
                yield path, told.st_size


def _tables(base: Path, wanted: Sequence[Wanted], unread: list[Path]) -> Iterator[tuple[Wanted, Path]]:
    """Yield the folders that hold tables in parts that are looked for."""
    for place, folders, _ in os.walk(base):
        folders.sort()
        folder = Path(place)
        try:
            names = part_names(folder)
            size = sum((folder / name).stat().st_size for name in names)
        except (OSError, InputError):
            continue  # noted where files were looked for
        alike = [one for one in wanted if one.size == size]
        if not alike:
            continue
        try:
            sha256 = identified(folder, names, place).sha256
        except InputError:
            unread.append(folder)
            continue
        yield from ((one, folder) for one in alike if one.sha256 == sha256)


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while piece := stream.read(_PIECE_BYTES):
            digest.update(piece)
    return digest.hexdigest()
