"""The page around the interactive chart; the only module that speaks to folium.

folium compiles what it is given as a template, so no text from a file may pass through its objects:
it receives numbers only, and every finished part of the page enters as a plain value that is never compiled.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import folium
import folium.template
from branca.element import Figure

from towzone.record.catalogue import language, say
from towzone.record.drawn.frame import Box
from towzone.record.island import data_island
from towzone.record.proof.seal import LIST_PLACE, Piece, seal
from towzone.record.text import escape

__all__ = ["CHART_ELEMENT", "PageParts", "assemble"]

CHART_ELEMENT: Piece = ("chart-element", "")
"""The piece of the body in whose place the element of the interactive chart is written."""

_SHELL = """
{% macro html(this, kwargs) %}
<div id="chart" role="application" aria-label="{{ this.label }}"></div>
{% endmacro %}
{% macro script(this, kwargs) %}
towzoneRecord(L.map("chart", {{ this.options | tojavascript }}));
{% endmacro %}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageParts:
    """Finished pieces of the page; all text in them is escaped already.

    The names of pieces are our own words; `towzone.record.proof.reading` tells by them where a record was
    changed.

    Parameters
    ----------
    title, comment : str
    styles : tuple of Piece
        Each becomes one ``style`` element.
    body : tuple of Piece
        In order, `CHART_ELEMENT` once among them and `towzone.record.proof.seal.DIGEST_ELEMENT` once in
        their text.
    islands : tuple of (str, str)
        Data elements: id, JSON text.
    scripts : tuple of Piece
        Run in this order, before the chart is started.
    made_with : mapping of str to str
        Versions by name, for the list of parts.
    """

    title: str
    comment: str
    styles: tuple[Piece, ...]
    body: tuple[Piece, ...]
    islands: tuple[tuple[str, str], ...]
    scripts: tuple[Piece, ...]
    made_with: Mapping[str, str]


class _Shell(folium.Map):
    """The bare map object: no tiles, no outside file, a fixed element id."""

    default_js = []  # noqa: RUF012  the base class declares it so
    default_css = []  # noqa: RUF012
    _template = folium.template.Template(_SHELL)
    label = escape(say("page.title.interactive"))


def assemble(parts: PageParts, view: Box) -> str:
    """Return the whole page, sealed.

    Parameters
    ----------
    parts : PageParts
    view : Box
        Where the chart opens before it is fitted to its element.

    Raises
    ------
    ValueError
        The place of the chart or of the digest is missing or there twice: a fault of the program.
    """
    if parts.body.count(CHART_ELEMENT) != 1:
        message = "a page needs one place for its chart"
        raise ValueError(message)
    element, start = _chart(view)
    scripts = (*parts.scripts, ("start", start))
    return seal(
        (
            ("head", f'<!DOCTYPE html>\n<html lang="{language()}" data-mode="auto">\n<head>\n{_META}'),
            ("policy", _policy(parts.styles, scripts)),
            LIST_PLACE,
            ("title", f"\n<title>{parts.title}</title>\n<!--\n{parts.comment}\n-->\n"),
            *((name, f"<style>{text}</style>\n") for name, text in parts.styles),
            ("body", "</head>\n<body>\n"),
            *((name, f"{element if (name, html) == CHART_ELEMENT else html}\n") for name, html in parts.body),
            *((name, f"{data_island(name, text)}\n") for name, text in parts.islands),
            *((name, f"<script>{text}</script>\n") for name, text in scripts),
            ("end", "</body>\n</html>\n"),
        ),
        parts.made_with,
    )


_META = """<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
"""


def _policy(styles: Iterable[Piece], scripts: Iterable[Piece]) -> str:
    """Return the rule by which the browser itself keeps everything out that is not in the page."""
    return (
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        f"script-src {_hashes(scripts)}; style-src {_hashes(styles)}; img-src data:; "
        "base-uri 'none'; form-action 'none'\">\n"
    )


def _hashes(pieces: Iterable[Piece]) -> str:
    digests = (hashlib.sha256(text.encode()).digest() for _, text in pieces)
    return " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)


def _chart(view: Box) -> tuple[str, str]:
    """Return the element of the interactive chart and the script that starts it."""
    page = Figure()
    page.add_child(
        _Shell(
            location=[round((view.south + view.north) / 2.0, 6), round((view.west + view.east) / 2.0, 6)],
            zoom_start=8,
            tiles=None,
            zoom_control=False,
            max_zoom=18,
            attribution_control=False,
            zoom_animation=False,
            fade_animation=False,
            marker_zoom_animation=False,
            inertia=False,
            bounce_at_zoom_limits=False,
            world_copy_jump=False,
            scroll_wheel_zoom=False,
            zoom_snap=0.25,
            zoom_delta=0.5,
            max_bounds_viscosity=1,
        )
    )
    for child in page._children.values():
        child.render()
    return page.html.render().strip(), page.script.render().strip()
