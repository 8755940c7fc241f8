"""Which files an audit reads, from the paths it is given: tables in parts, tables, and files of tracks."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path, PurePath

from towzone.errors import InputError, Problem, UsageError
from towzone.files.inputs import STDIN, check_local_path
from towzone.files.parquet_tracks import MAGIC, hive_vessel
from towzone.files.table_folders import is_table_folder, part_names

__all__ = ["Form", "Seen", "SourceFile", "find_sources", "fingerprint"]

_PIECE_BYTES = 1 << 22


class Form(StrEnum):
    """How a file is read: a part of a Parquet table, or by what it is found to be."""

    PARQUET = "parquet"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFile:
    """One file to be read.

    Parameters
    ----------
    source : int
        Number of the input it belongs to; parts of a table share one.
    file : str
        The input as the user wrote it; untrusted text.
    part : str
        Name of this file in it, empty where it is the input.
    place : str
        Where it lies, from the root.
    form : Form
    vessel : str or None
        What its folders say of the vessel.
    """

    source: int
    file: str
    part: str
    place: str
    form: Form
    vessel: str | None = None

    @property
    def shown(self) -> str:
        """The file as a person is told of it."""
        return f"{self.file}/{self.part}" if self.part else self.file


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A file by its size, the time of its last change and the SHA-256 (hex) of its bytes."""

    bytes: int
    changed_ns: int
    sha256: str


def find_sources(positions: Sequence[str]) -> list[SourceFile]:
    """Return the files to be read, in the order given, those of a folder by their names.

    Raises
    ------
    UsageError
        Standard input, which cannot be read in pieces, or one path twice.
    InputError
        A path is no file or folder, or a folder without files.
    """
    found: list[SourceFile] = []
    number = 0
    for path in positions:
        if path == STDIN:
            message = "fleet reads files and folders, not standard input; save the positions to a file"
            raise UsageError(message)
        for files in _inputs(path.rstrip("/") if len(path) > 1 else path):
            found += [_with_number(one, number) for one in files]
            number += 1
    places: dict[str, str] = {}
    for one in found:
        if one.place in places:
            message = f"{one.shown} is named twice (as {places[one.place]}, too); name it once"
            raise UsageError(message)
        places[one.place] = one.shown
    return found


def _with_number(one: SourceFile, number: int) -> SourceFile:
    return SourceFile(
        source=number, file=one.file, part=one.part, place=one.place, form=one.form, vessel=one.vessel
    )


def _inputs(path: str) -> Iterator[list[SourceFile]]:
    """Yield the files of each input that a path stands for."""
    folder = Path(path)
    if not folder.is_dir():
        check_local_path(path)
        yield [_file(path, folder)]
        return
    parts, names = part_names(folder), part_names(folder, notes=True)
    if not names:
        raise InputError(path, [Problem("", "there is no file in this folder, nor in folders in it")])
    if is_table_folder(parts, folder):
        yield [
            SourceFile(
                source=0,
                file=path,
                part=name,
                place=str((folder / name).resolve()),
                form=Form.PARQUET,
                vessel=hive_vessel(PurePath(name)),
            )
            for name in parts
        ]
        return
    for name in names:
        yield [_file(f"{path}/{name}", folder / name)]


def _file(file: str, place: Path) -> SourceFile:
    try:
        with place.open("rb") as stream:
            parquet = stream.read(len(MAGIC)) == MAGIC
    except OSError:
        parquet = False  # told of where it is read
    return SourceFile(
        source=0,
        file=file,
        part="",
        place=str(place.resolve()),
        form=Form.PARQUET if parquet else Form.OTHER,
        vessel=hive_vessel(PurePath(file)) if parquet else None,
    )


def fingerprint(place: str) -> Seen:
    """Return what a file is known by.

    Raises
    ------
    OSError
        It cannot be read.
    """
    path = Path(place)
    told, digest = path.stat(), hashlib.sha256()
    with path.open("rb") as stream:
        while piece := stream.read(_PIECE_BYTES):
            digest.update(piece)
    return Seen(bytes=told.st_size, changed_ns=told.st_mtime_ns, sha256=digest.hexdigest())
