"""Tables of a vessel profile, read strictly: every figure with its unit, every name one that is known."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import StrEnum
from typing import TypeVar

from towzone.errors import Problem, UsageError, quoted

__all__ = ["Tables", "suggestion"]

_CLOSE_ENOUGH = 0.7
"""Likeness from which a foreign name is taken for a slip of the pen. Own choice."""

_Word = TypeVar("_Word", bound=StrEnum)


class Tables:
    """The tables of a profile, and what was wrong with them.

    Parameters
    ----------
    data : mapping of str to object
        As read from TOML.
    """

    def __init__(self, data: Mapping[str, object]) -> None:
        self.problems: list[Problem] = []
        self._tables: dict[str, Mapping[str, object]] = {}
        for name, table in data.items():
            if isinstance(table, Mapping):
                self._tables[name] = table
            else:
                self._tables[name] = {}
                message = f"is {quoted(table)}; write its name in brackets, then its figures below"
                self.refuse(quoted(name), message)

    def __contains__(self, name: str) -> bool:
        """Return whether there is a table of that name, be it empty."""
        return name in self._tables

    def refuse(self, where: str, message: str) -> None:
        """Note one thing that is wrong."""
        self.problems.append(Problem(where, message))

    def value(self, table: str, key: str) -> object | None:
        """Return what is written, ``None`` where nothing is (TOML knows no null)."""
        return self._tables.get(table, {}).get(key)

    def keys(self, table: str) -> tuple[str, ...]:
        """Return the names in a table, none where there is no such table."""
        return tuple(self._tables.get(table, {}))

    def text(self, table: str, key: str) -> str:
        """Return a text, empty where there is none."""
        value = self.value(table, key)
        if value is None or isinstance(value, str):
            return value or ""
        self.refuse(f"{table}.{key}", f"is {quoted(value)}; write text in quotes")
        return ""

    def word(self, table: str, key: str, words: type[_Word]) -> _Word | None:
        """Return one of a few words."""
        value = self.value(table, key)
        if value is None:
            return None
        known = [word.value for word in words]
        if isinstance(value, str) and value in known:
            return words(value)
        self.refuse(
            f"{table}.{key}", f"is {quoted(value)}; allowed are {', '.join(known)}{suggestion(value, known)}"
        )
        return None

    def quantity(self, table: str, key: str, parse: Callable[[str], float]) -> float | None:
        """Return a figure that states its unit, in the unit of ``parse``."""
        value = self.value(table, key)
        if value is None:
            return None
        try:
            return parse(value if isinstance(value, str) else repr(value))
        except UsageError as error:
            self.refuse(f"{table}.{key}", str(error))
            return None

    def number(self, table: str, key: str, low: float, high: float, what: str) -> float | None:
        """Return a plain number between two limits, both allowed."""
        value = self.value(table, key)
        if value is None:
            return None
        # True is a number to Python; nan, which TOML knows, is in no range.
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        self.refuse(
            f"{table}.{key}",
            f"is {quoted(value)}; write {what} as a plain number from {low:g} to {high:g}, without quotes",
        )
        return None

    def refuse_unknown(self, known: Mapping[str, Sequence[str]]) -> None:
        """Name every table and key that means nothing.

        Parameters
        ----------
        known : mapping of str to sequence of str
            The names of each table.
        """
        for name, table in self._tables.items():
            if name not in known:
                message = f"is not a known table; known are {', '.join(known)}{suggestion(name, known)}"
                self.refuse(f"[{quoted(name)}]", message)
                continue
            for key in table:
                if key not in known[name]:
                    self.refuse(f"{name}.{quoted(key)}", _unknown_key(name, key, known))


def _unknown_key(table: str, key: str, known: Mapping[str, Sequence[str]]) -> str:
    message = f"is not a known name; known are {', '.join(known[table])}"
    hint = suggestion(key, known[table])
    elsewhere = next((name for name, keys in known.items() if key in keys), None)
    if elsewhere is not None:
        hint = f". It belongs in the table [{elsewhere}]"
    return message + hint


def suggestion(found: object, known: Iterable[str]) -> str:
    """Return the end of a sentence that names what a word was probably meant to be, or nothing.

    Examples
    --------
    >>> suggestion("Net length", ("warp", "net_length"))
    ". Did you mean 'net_length'?"
    >>> suggestion("colour", ("warp", "net_length"))
    ''
    """
    if not isinstance(found, str):
        return ""
    plain = found.strip().lower().replace("-", "_").replace(" ", "_")
    near = difflib.get_close_matches(plain, list(known), n=1, cutoff=_CLOSE_ENOUGH)
    return f". Did you mean '{near[0]}'?" if near else ""
