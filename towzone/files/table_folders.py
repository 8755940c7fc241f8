"""Folders that hold one table of fixes in parts: the files, what identifies them, what they hold."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from pathlib import Path, PurePath

from towzone.errors import InputError, Problem
from towzone.files.inputs import load
from towzone.files.parquet_tracks import (
    MAGIC,
    ParquetPart,
    has_identities,
    hive_vessel,
    row_groups,
    table_of,
)
from towzone.model.result import InputFile
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import SourceContent

__all__ = ["identified", "is_table_folder", "part_names", "read_parquet_folder"]

_NOTES = ("_SUCCESS", "_metadata", "_common_metadata", "_committed_", "_started_", "_temporary", "_delta_log")
"""How names of what programs write beside tables begin; common practice, from memory."""


def is_table_folder(names: Sequence[str], folder: Path) -> bool:
    """Return whether the files of a folder are the parts of one table: all Parquet, all with their vessels.

    Parameters
    ----------
    names : sequence of str
        Of all files in it, as `part_names` gives them.
    """
    return bool(names) and all(_is_part(folder / name, PurePath(name)) for name in names)


def _is_part(path: Path, name: PurePath) -> bool:
    try:
        with path.open("rb") as stream:
            if stream.read(len(MAGIC)) != MAGIC:
                # What is damaged or empty is still a part by its name: it is missed, not overlooked.
                return name.suffix.lower() in (".parquet", ".pq")
    except OSError:
        return name.suffix.lower() in (".parquet", ".pq")
    if hive_vessel(name) is not None:
        return True
    try:
        return has_identities(ParquetPart(file=str(path), part="", place=path))
    except InputError:
        return True


def part_names(folder: Path, *, notes: bool = False) -> list[str]:
    """Return the files in a folder and the folders in it by their names in it, in order of these.

    Links are followed, each folder is looked into once. What begins with a point is left aside, as is common
    practice: hidden and temporary files.

    Parameters
    ----------
    notes : bool
        Whether what begins with an underscore counts. Beside the parts of one table these are notes of the
        program that wrote it, as is common practice; anything else may be called so. `_NOTES` never count.

    Raises
    ------
    InputError
        A folder cannot be looked into: what lies there would be missing without a word.
    """

    def refuse(error: OSError) -> None:
        message = f"cannot be looked into: {error.strerror or error}"
        raise InputError(str(folder), [Problem(str(error.filename), message)]) from error

    found, looked_into = [], set()
    for here, folders, files in os.walk(folder, onerror=refuse, followlinks=True):
        real = Path(here).resolve()
        folders[:] = [] if real in looked_into else sorted(n for n in folders if not _is_aside(n, notes))
        if real in looked_into:
            continue
        looked_into.add(real)
        paths = (Path(here, name) for name in files if not _is_aside(name, notes))
        # A link that leads nowhere is a file that is missing, which is to be told.
        found += [
            path.relative_to(folder).as_posix() for path in paths if path.is_file() or path.is_symlink()
        ]
    return sorted(found)


def _is_aside(name: str, notes: bool) -> bool:
    return name.startswith((".", *_NOTES) if notes else (".", "_"))


def identified(folder: Path, names: Sequence[str], file: str) -> InputFile:
    """Return what identifies a table that lies in a folder in parts.

    Parameters
    ----------
    names : sequence of str
        Of its parts, as `part_names` gives them.
    file : str
        Path of the folder as the user wrote it.

    Returns
    -------
    InputFile
        The SHA-256 is that of a list: of each part its own, two blanks, its name and a line end.

    Raises
    ------
    InputError
        A part cannot be read.
    """
    size, digest = 0, hashlib.sha256()
    for own in names:
        loaded = load(str(folder / own)).record
        digest.update(f"{loaded.sha256}  {own}\n".encode("utf-8", "surrogateescape"))
        size += loaded.bytes
    return InputFile(file=file, sha256=digest.hexdigest(), bytes=size)


def read_parquet_folder(
    path: str, *, name: str, options: ReadingOptions, at: str | None = None
) -> tuple[SourceContent, InputFile]:
    """Return the fixes of a table that lies in a folder in parts, and what identifies it.

    Parameters
    ----------
    path : str
        As the user wrote it.
    at : str or None
        Where the folder lies, if not there.

    Returns
    -------
    SourceContent
    InputFile
        As `identified`.

    Raises
    ------
    InputError
        A part cannot be read, or any row of it; parts contradict each other; a vessel asked for is in none.
    """
    folder = Path(path if at is None else at)
    names = part_names(folder)
    if not is_table_folder(names, folder):
        message = (
            "this is a folder; give a file, or a folder of nothing but the Parquet files of one table of"
            " positions (`towzone fleet` takes folders of any tracks)"
        )
        raise InputError(path, [Problem("", message)])
    record = identified(folder, names, path)
    parts, line = [], 1
    for own in names:
        part = ParquetPart(
            file=path, part=own, place=folder / own, vessel=hive_vessel(PurePath(own)), first_line=line
        )
        parts.append(part)
        line += sum(row_groups(part).rows)
    return table_of(parts, path, name, options), record
