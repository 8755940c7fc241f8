"""The one place that writes files: whole or not at all, and never over another file unasked."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from towzone.errors import OutputError

__all__ = ["UNENCODABLE", "check_writable", "put_in_place", "write_all"]

UNENCODABLE = "backslashreplace"
"""What UTF-8 cannot hold (half a character in a name, a file name of other bytes) is written as its code."""


_READ_TOGETHER = (".shp", ".000")
"""Files that are read with others of their name: a Shapefile's table, a chart cell's updates."""


def check_writable(path: Path, *, force: bool, read: Sequence[str | Path] = ()) -> None:
    """Refuse a path that cannot become a new file, before any work is done.

    Parameters
    ----------
    path : Path
        The file to be written.
    force : bool
        Whether a file that exists may be replaced.
    read : sequence of str or Path
        Files that are read: never replaced, not even with ``force``; what does not exist is passed over.

    Raises
    ------
    OutputError
        The file exists and ``force`` is false, it is read, it is no file, or its folder does not exist.
    """
    if path.is_dir():
        message = f"{path}: is a folder; name a file"
    elif path.exists() and not path.is_file():
        # A file is put in its place by renaming, which would take a device or pipe away from everybody.
        message = f"{path}: is a device or a pipe, not a file; name a file, or use standard output (-)"
    elif path.exists() and any(_is_read(path, Path(other)) for other in read):
        message = f"{path}: is read by this command and is not replaced; name another file"
    elif path.exists() and not force:
        message = f"{path}: exists already and is kept; give --force to replace it"
    elif not path.parent.is_dir():
        message = f"{path}: the folder {path.parent} does not exist"
    else:
        return
    raise OutputError(message)


def _is_read(path: Path, other: Path) -> bool:
    """Return whether a file is another that is read, or one that is read beside it."""
    if not other.exists():
        return False
    if path.samefile(other):
        return True
    together = other.suffix.lower() in _READ_TOGETHER and path.stem == other.stem
    return together and path.parent.samefile(other.parent)


def write_all(texts: Mapping[Path, str | bytes]) -> None:
    """Write texts to files, UTF-8 with LF line ends, and bytes as they are: all beside first, then renamed.

    Raises
    ------
    OutputError
        Something could not be written; files that were there before are as they were.
    """
    beside: dict[Path, Path] = {}
    try:
        for path, text in texts.items():
            beside[path] = _write_beside(path, text)
        for path, temporary in beside.items():
            temporary.replace(path)
    except OSError as error:
        message = f"{error.filename or 'output'}: could not be written: {error.strerror or error}"
        raise OutputError(message) from error
    finally:
        for temporary in beside.values():
            with contextlib.suppress(FileNotFoundError):
                temporary.unlink()


def put_in_place(path: Path, write: Callable[[Path], None]) -> None:
    """Have a file written beside its place and renamed, so that it is there whole or not at all.

    Parameters
    ----------
    path : Path
        Replaced if it exists.
    write : callable
        Writes the file that it is given the place of.

    Raises
    ------
    OutputError
        It could not be written.
    """
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        write(temporary)
        temporary.replace(path)
    except OSError as error:
        message = f"{path}: could not be written: {error.strerror or error}"
        raise OutputError(message) from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


def _write_beside(path: Path, text: str | bytes) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text if isinstance(text, bytes) else text.encode("utf-8", UNENCODABLE))
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is private; what replaces it has the rights of any new file.
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
    except BaseException:
        temporary.unlink()
        raise
    return temporary
