"""Who a vessel is: names compared without regard to case and blanks; else the file it is read from."""

from __future__ import annotations

import hashlib

from towzone.model.fleet import KnownBy
from towzone.tracks.identity import identity_of

__all__ = ["file_key", "key_of", "known_by", "name_key", "work_name"]

_BY_NAME, _BY_FILE = "name:", "file:"


def name_key(vessel: str) -> str:
    """Return the key of a vessel by its name, empty where that is no name.

    Examples
    --------
    >>> name_key("Hazel Ann") == name_key("HAZEL  ann"), name_key(" ")
    (True, '')
    """
    identity = identity_of(vessel)
    return "" if identity is None else f"{_BY_NAME}{identity[1]}"


def file_key(file: str) -> str:
    """Return the key of the vessel of a file that names none: such files are never put together."""
    return f"{_BY_FILE}{file}"


def key_of(vessel: str, file: str) -> str:
    """Return the key of what a source calls a vessel in a file."""
    return name_key(vessel) or file_key(file)


def known_by(key: str) -> KnownBy:
    """Return what says which vessel a key stands for."""
    return KnownBy.NAME if key.startswith(_BY_NAME) else KnownBy.FILE


def work_name(key: str) -> str:
    """Return a file name for a key: names of vessels are never used as names of files."""
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()[:32]
