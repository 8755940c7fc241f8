"""Lists in table columns, which have no lists: JSON text."""

from __future__ import annotations

import json

__all__ = ["from_json_text"]


def from_json_text(value: object) -> object:
    """Return the list a table column holds as JSON text; anything else as it is."""
    if isinstance(value, str) and value.strip().startswith(("[", "{")):
        try:
            return json.loads(value)
        except (json.JSONDecodeError, RecursionError):
            return value
    return value
