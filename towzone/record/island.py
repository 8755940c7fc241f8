"""Data islands: JSON inside the page that no browser can take for anything but data."""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

__all__ = ["MICRODEGREES", "data_island", "delta_path", "dump", "escape_json"]

MICRODEGREES = 1_000_000
"""Coordinates in islands are whole millionths of a degree: at most 0.06 m of rounding."""


def escape_json(text: str) -> str:
    r"""Return JSON text that means the same and holds no character HTML could take as markup.

    ``<``, ``>`` and ``&`` occur in JSON only inside strings, where ``\u003c`` says the same.

    Examples
    --------
    >>> escape_json('{"name":"</script>"}')
    '{"name":"\\u003c/script\\u003e"}'
    """
    text = text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    return text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def data_island(element_id: str, text: str) -> str:
    """Return a ``script`` element of type ``application/json`` around JSON text.

    Parameters
    ----------
    element_id : str
        Our own word, never text from a file.
    text : str
        Valid JSON.
    """
    return f'<script type="application/json" id="{element_id}">{escape_json(text)}</script>'


def dump(value: object) -> str:
    """Return compact JSON with sorted keys; refuses NaN and infinities."""
    return json.dumps(value, ensure_ascii=True, allow_nan=False, sort_keys=True, separators=(",", ":"))


def delta_path(lonlat_deg: npt.NDArray[np.float64] | Sequence[Sequence[float]]) -> list[int]:
    """Return a path as ``[lon, lat, step, step, ...]`` in whole millionths of a degree.

    Parameters
    ----------
    lonlat_deg : array_like, shape (n, 2)
        Longitude, latitude in degrees, any finite longitude.

    Returns
    -------
    list of int, length 2 n
        The first position, then the step in longitude and latitude to each next one.

    Examples
    --------
    >>> delta_path([[1.0, 2.0], [1.000001, 1.999998]])
    [1000000, 2000000, 1, -2]
    """
    whole = np.rint(np.asarray(lonlat_deg, dtype=np.float64).reshape(-1, 2) * MICRODEGREES).astype(np.int64)
    steps = np.diff(whole, axis=0, prepend=np.zeros((1, 2), dtype=np.int64))
    whole_steps: list[int] = steps.ravel().tolist()
    return whole_steps
