"""Commands that a person can copy: every word quoted, so that a shell takes it as it stands."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from towzone.model.fleet import KnownBy, VesselLine
from towzone.record.text import clean

__all__ = ["check_words", "file_word", "shell_command", "shell_word"]


def shell_word(text: str) -> str | None:
    r"""Return a text as one word for a shell; ``None`` where no command line can hold it.

    What cannot be seen, or turns the reading direction, is written as octal bytes in ``$'...'``, so that what
    is copied is what is seen (POSIX.1-2024, XCU 2.2.4).

    Examples
    --------
    >>> print(shell_word("it's"))
    'it'"'"'s'
    >>> shell_word("two\nlines")
    "$'two\\012lines'"
    >>> shell_word("nul\0") is None
    True
    """
    try:
        data = text.encode()
    except UnicodeEncodeError:
        return None
    if "\0" in text:
        return None
    if clean(text) == text:
        return shlex.quote(text)
    return "$'" + "".join(_octal(byte) for byte in data) + "'"


def _octal(byte: int) -> str:
    plain = 0x20 <= byte < 0x7F and byte not in b"'\\"
    return chr(byte) if plain else f"\\{byte:03o}"


def file_word(file: str) -> str:
    """Return a file as no command takes it for an option.

    Examples
    --------
    >>> file_word("-rf")
    './-rf'
    """
    return f"./{file}" if file.startswith("-") and file != "-" else file


def check_words(line: VesselLine) -> list[str]:
    """Return the words of a check of one vessel alone, without those that all vessels share.

    With an equals sign a name that begins with a hyphen is no option.
    """
    words = [file_word(file) for file in line.files]
    if line.known_by is KnownBy.NAME:
        words += [f"--only={spelling}" for spelling in line.spellings]
    if line.profile:
        words += ["--vessel", file_word(line.profile)]
    return words


def shell_command(words: Sequence[str]) -> str | None:
    """Return words as a command, each quoted; ``None`` where one of them cannot be written."""
    quoted = [shell_word(word) for word in words]
    written = [word for word in quoted if word is not None]
    return " ".join(written) if len(written) == len(words) else None
