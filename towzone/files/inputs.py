"""The one place where input is opened: local files and standard input, never a network or virtual path."""

from __future__ import annotations

import hashlib
import os
import stat
import sys
from dataclasses import dataclass
from pathlib import Path

from towzone.errors import InputError, Problem
from towzone.model.result import InputFile

__all__ = ["STDIN", "Loaded", "check_local_path", "load", "name_stem"]

STDIN = "-"
"""The path that stands for standard input."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """The bytes of one input and what identifies them.

    Parameters
    ----------
    data : bytes
        Everything, not empty.
    record : InputFile
        Path as the user wrote it, SHA-256 and size of ``data``.
    """

    data: bytes
    record: InputFile


def load(path: str) -> Loaded:
    """Return the whole content of a local file, or of standard input for ``-``.

    Parameters
    ----------
    path : str
        As the user wrote it.

    Raises
    ------
    InputError
        Not a local file, missing, a folder, unreadable or empty.
    """
    if path == STDIN:
        return _loaded(path, sys.stdin.buffer.read())
    check_local_path(path)
    try:
        return _loaded(path, Path(path).read_bytes())
    except OSError as error:
        raise _refused(path, f"cannot be read: {error.strerror or error}") from error


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
    """Return the file name without folder and last suffix; ``stdin`` for standard input.

    Examples
    --------
    >>> name_stem("trips/march.gpx"), name_stem("-")
    ('march', 'stdin')
    """
    return "stdin" if path == STDIN else Path(os.fspath(path)).stem


def _loaded(path: str, data: bytes) -> Loaded:
    if not data:
        raise _refused(path, "the file is empty")
    digest = hashlib.sha256(data).hexdigest()
    return Loaded(data=data, record=InputFile(file=path, sha256=digest, bytes=len(data)))


def _refused(path: str, message: str) -> InputError:
    return InputError(path, [Problem("", message)])
