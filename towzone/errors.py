"""Every exception a caller may catch, with the facts as attributes."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["GeometryError", "InputError", "OutputError", "Problem", "TowzoneError", "UsageError"]

_SHOWN_PROBLEMS = 10
_SHOWN_CHARACTERS = 60


class TowzoneError(Exception):
    """Root of all errors that towzone raises on purpose."""


class UsageError(TowzoneError, ValueError):
    """An option or argument makes no sense; nothing was read."""


class GeometryError(TowzoneError, ValueError):
    """A shape cannot be judged: crossed, too short, too long, out of range."""


class OutputError(TowzoneError, OSError):
    """A result could not be written; what was there before is untouched."""


class Problem:
    """One thing wrong with an input: where it is, what it is and what to do.

    Parameters
    ----------
    where : str
        Place inside the file, for example ``"line 14"`` or ``"feature 3 (zone 'Box A')"``; may be empty.
    message : str
        What was found, what is allowed and what to do, in one or two plain sentences.
    """

    __slots__ = ("message", "where")

    def __init__(self, where: str, message: str) -> None:
        self.where = where
        self.message = message

    def __str__(self) -> str:
        return f"{self.where}: {self.message}" if self.where else self.message


class InputError(TowzoneError, ValueError):
    """A file was refused; names the file and every problem found in it.

    Parameters
    ----------
    file : str
        Path as the user wrote it.
    problems : sequence of Problem
        At least one; the first ten are printed, the rest counted.
    """

    def __init__(self, file: str, problems: Sequence[Problem]) -> None:
        self.file = file
        self.problems = tuple(problems)
        super().__init__(str(self))

    def __str__(self) -> str:
        lines = [f"{self.file}: {problem}" for problem in self.problems[:_SHOWN_PROBLEMS]]
        hidden = len(self.problems) - _SHOWN_PROBLEMS
        if hidden > 0:
            lines.append(f"{self.file}: and {hidden} more problem{'s' * (hidden > 1)}")
        return "\n".join(lines)


def quoted(value: object) -> str:
    r"""Return a value from a file in quotes, cut short and with control characters made visible.

    Examples
    --------
    >>> quoted("54,2")
    "'54,2'"
    >>> quoted("a\x00b")
    "'a\\x00b'"
    """
    text = value if isinstance(value, str) else repr(value)
    start = text[:_SHOWN_CHARACTERS]
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in start)
    return f"'{shown}…'" if len(text) > _SHOWN_CHARACTERS else f"'{shown}'"
