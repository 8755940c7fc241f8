"""The words of the record, kept apart from the code in ``assets/english`` so that they can be translated.

A key names a file, its table and its entry: ``shared.status.inside``. An entry is a text in which
``{name}`` stands for a value, or a list of two, for one and for many.
"""

from __future__ import annotations

import functools
import importlib.resources
import tomllib
from collections.abc import Mapping

from towzone.record.text import escape

__all__ = [
    "language",
    "markup",
    "markup_count",
    "pattern",
    "said_by_script",
    "said_under",
    "say",
    "say_count",
]

_FOLDER = "english"


def say(key: str, /, **values: object) -> str:
    """Return the words of a key as plain text.

    Raises
    ------
    KeyError
        There is no such entry, or it needs a value that is not given: both are faults of the program.

    Examples
    --------
    >>> say("shared.status.inside")
    'Inside'
    """
    return _text(key).format_map(values)


def say_count(key: str, count: int, /, **values: object) -> str:
    """Return the words of a key for a count; they may use ``{count}``."""
    return _counted(key, count).format_map({"count": count, **values})


def markup(key: str, /, **values: str) -> str:
    """Return the words of a key as HTML: the words are escaped, the values are HTML already."""
    return escape(_text(key)).format_map(values)


def markup_count(key: str, count: int, /, **values: str) -> str:
    """Return the words of a key for a count as HTML; the values are HTML already."""
    return escape(_counted(key, count)).format_map({"count": str(count), **values})


def pattern(key: str, /) -> str:
    """Return the words of a key as they are written, with their ``{name}`` in place."""
    return _text(key)


def language() -> str:
    """Return the language of the words, as in the attribute ``lang``."""
    return _text("shared.language")


def said_by_script() -> dict[str, str]:
    """Return what the interactive parts say: their own words by ``table.entry``, and the shared ones."""
    entries = {key: value for key, value in _entries().items() if isinstance(value, str)}
    own = {key.removeprefix("script."): text for key, text in entries.items() if key.startswith("script.")}
    return own | {key: text for key, text in entries.items() if key.startswith("shared.")}


def said_under(prefix: str) -> dict[str, str]:
    """Return all plain words whose keys begin with a prefix and a point, by their whole keys."""
    return {
        key: value
        for key, value in _entries().items()
        if isinstance(value, str) and key.startswith(f"{prefix}.")
    }


def _counted(key: str, count: int) -> str:
    one_and_many = _entries()[key]
    if isinstance(one_and_many, str):
        message = f"the words of {key} are not a list of two, for one and for many"
        raise KeyError(message)
    return one_and_many[0 if count == 1 else 1]


def _text(key: str) -> str:
    text = _entries()[key]
    if not isinstance(text, str):
        message = f"the words of {key} are for counts"
        raise KeyError(message)
    return text


@functools.cache
def _entries() -> Mapping[str, str | tuple[str, str]]:
    entries: dict[str, str | tuple[str, str]] = {}
    folder = importlib.resources.files("towzone.record").joinpath("assets", _FOLDER)
    for file in sorted(folder.iterdir(), key=lambda file: file.name):
        if file.name.endswith(".toml"):
            tables = tomllib.loads(file.read_text(encoding="utf-8"))
            _gather(entries, file.name.removesuffix(".toml"), tables)
    return entries


def _gather(entries: dict[str, str | tuple[str, str]], prefix: str, table: Mapping[str, object]) -> None:
    for name, value in table.items():
        key = f"{prefix}.{name}"
        if isinstance(value, Mapping):
            _gather(entries, key, value)
        elif isinstance(value, str):
            entries[key] = value
        elif isinstance(value, list) and len(value) == 2 and all(isinstance(v, str) for v in value):
            entries[key] = (value[0], value[1])
        else:
            message = f"{key} is neither a text nor a list of two"
            raise ValueError(message)
