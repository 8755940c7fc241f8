"""Commands that a person can copy: every word quoted, so that a shell takes it as it stands."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from towzone.record.text import clean

__all__ = ["file_word", "shell_word", "shell_words"]


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


def file_word(file: str) -> str | None:
    """Return a file as one word that no command takes for an option.

    Examples
    --------
    >>> file_word("-rf")
    './-rf'
    """
    return shell_word(f"./{file}" if file.startswith("-") and file != "-" else file)


def shell_words(words: Sequence[str | None]) -> str | None:
    """Return quoted words as a piece of a command; ``None`` where one of them cannot be written."""
    written = [word for word in words if word is not None]
    return " ".join(written) if len(written) == len(words) else None
