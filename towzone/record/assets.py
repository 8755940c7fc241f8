"""The record's own script and style, put together from their parts in the order given here."""

from __future__ import annotations

import importlib.resources

__all__ = ["script", "style"]

_SCRIPT = (
    "base.js",
    "geodesy.js",
    "clock.js",
    "layers.js",
    "drawing.js",
    "grid.js",
    "labels.js",
    "selection.js",
    "tracks.js",
    "nearness.js",
    "probe.js",
    "measure.js",
    "playback.js",
    "curves.js",
    "files.js",
    "table.js",
    "display.js",
    "start.js",
)
_STYLE = (
    "palette.css",
    "page.css",
    "chart.css",
    "instruments.css",
    "curves.css",
    "tables.css",
    "narrow.css",
    "print.css",
)


def script() -> str:
    """Return the script of the record, which defines ``towzoneRecord(map)``."""
    return "\n".join(_asset("script", name) for name in _SCRIPT)


def style() -> str:
    """Return the style sheet of the record."""
    return "\n".join(_asset("style", name) for name in _STYLE)


def _asset(folder: str, name: str) -> str:
    file = importlib.resources.files("towzone.record").joinpath("assets", folder, name)
    return file.read_text(encoding="utf-8").replace("\r\n", "\n").strip()
