"""The page around the interactive chart; the only module that speaks to folium.

folium compiles what it is given as a template, so no text from a file may pass through its objects:
it receives numbers only, and every finished part of the page enters as a plain value that is never compiled.
"""

from __future__ import annotations

from dataclasses import replace

import folium
import folium.template
from branca.element import Figure

from towzone.record.catalogue import say
from towzone.record.drawn.frame import Box
from towzone.record.proof.seal import Piece
from towzone.record.shell import PageParts, whole_page
from towzone.record.text import escape

__all__ = ["CHART_ELEMENT", "assemble"]

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
        With `CHART_ELEMENT` once in the body.
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
    name = CHART_ELEMENT[0]
    body = tuple((name, element) if piece == CHART_ELEMENT else piece for piece in parts.body)
    return whole_page(replace(parts, body=body, scripts=(*parts.scripts, ("start", start))))


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
