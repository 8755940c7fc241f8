"""The pages' own scripts and styles, put together from their parts in the order given here."""

from __future__ import annotations

import importlib.resources

__all__ = ["overview_script", "overview_style", "script", "style"]

_SCRIPT = (
    "base.js",
    "geodesy.js",
    "clock.js",
    "ink.js",
    "layers.js",
    "paint.js",
    "drawing.js",
    "courses.js",
    "rows.js",
    "plan_marks.js",
    "corners.js",
    "grid.js",
    "pins.js",
    "arrows.js",
    "labels.js",
    "keys.js",
    "handling.js",
    "selection.js",
    "gear_view.js",
    "gear_at.js",
    "tracks.js",
    "boundary.js",
    "nearness.js",
    "vessel_mark.js",
    "readout.js",
    "probe.js",
    "measure.js",
    "playback.js",
    "curves.js",
    "files.js",
    "table.js",
    "display.js",
    "folds.js",
    "start.js",
)
_STYLE = (
    "palette.css",
    "page.css",
    "plan.css",
    "chart.css",
    "drawn.css",
    "instruments.css",
    "curves.css",
    "tables.css",
    "rows.css",
    "narrow.css",
    "night.css",
    "print.css",
)

_OVERVIEW_SCRIPT = ("base.js", "display.js", "folds.js", "ledger.js", "overview.js")
_OVERVIEW_STYLE = (
    "palette.css",
    "page.css",
    "tables.css",
    "narrow.css",
    "night.css",
    "print.css",
    "overview.css",
)


def script() -> str:
    """Return the script of the record, which defines ``towzoneRecord(map)``."""
    return "\n".join(_asset("script", name) for name in _SCRIPT)


def style() -> str:
    """Return the style sheet of the record."""
    return "\n".join(_asset("style", name) for name in _STYLE)


def overview_script() -> str:
    """Return the script of the overview, which defines ``towzoneOverview()``."""
    return "\n".join(_asset("script", name) for name in _OVERVIEW_SCRIPT)


def overview_style() -> str:
    """Return the style sheet of the overview."""
    return "\n".join(_asset("style", name) for name in _OVERVIEW_STYLE)


def _asset(folder: str, name: str) -> str:
    file = importlib.resources.files("towzone.record").joinpath("assets", folder, name)
    return file.read_text(encoding="utf-8").replace("\r\n", "\n").strip()
