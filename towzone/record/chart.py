"""The page around the interactive chart; the only module that speaks to folium.

folium compiles what it is given as a template, so no text from a file may pass through its objects:
it receives numbers only, and every finished part of the page enters as a plain value that is never compiled.
"""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass

import folium
import folium.template
import jinja2
from branca.element import Figure

from towzone.record.frame import Box

__all__ = ["PageParts", "assemble"]

_PAGE = """<!DOCTYPE html>
<html lang="en" data-mode="auto">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{{ this.policy }}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
<title>{{ this.parts.title }}</title>
<!--
{{ this.parts.comment }}
-->
<style>
{{ this.parts.style }}
</style>
</head>
<body>
{{ this.parts.before_chart }}
{{ this.chart_html }}
{{ this.parts.after_chart }}
{{ this.parts.islands }}
{% for script in this.scripts %}<script>{{ script }}</script>
{% endfor %}</body>
</html>
"""

_SHELL = """
{% macro html(this, kwargs) %}
<div id="chart" role="application" aria-label="Interactive chart"></div>
{% endmacro %}
{% macro script(this, kwargs) %}
towzoneRecord(L.map("chart", {{ this.options | tojavascript }}));
{% endmacro %}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageParts:
    """Finished pieces of the page; all text in them is escaped already.

    Parameters
    ----------
    title, comment, style : str
    before_chart, after_chart : str
        Body before and after the element of the interactive chart.
    islands : str
        Data elements.
    scripts : tuple of str
        Run in this order, before the chart is started.
    """

    title: str
    comment: str
    style: str
    before_chart: str
    after_chart: str
    islands: str
    scripts: tuple[str, ...]


class _Page(Figure):
    """A page with our own skeleton instead of branca's."""

    _template = jinja2.Template(_PAGE)

    def __init__(self, parts: PageParts) -> None:
        super().__init__()
        self.parts = parts

    def render(self, **kwargs: object) -> str:
        for child in self._children.values():
            child.render(**kwargs)
        self.chart_html = self.html.render().strip()
        self.scripts = (*self.parts.scripts, self.script.render().strip())
        self.policy = _policy(self.scripts)
        return str(self._template.render(this=self))


class _Shell(folium.Map):
    """The bare map object: no tiles, no outside file, a fixed element id."""

    default_js = []  # noqa: RUF012  the base class declares it so
    default_css = []  # noqa: RUF012
    _template = folium.template.Template(_SHELL)


def _policy(scripts: tuple[str, ...]) -> str:
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'" for text in scripts
    )
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def assemble(parts: PageParts, view: Box) -> str:
    """Return the whole page.

    Parameters
    ----------
    parts : PageParts
    view : Box
        Where the chart opens before it is fitted to its element.
    """
    page = _Page(parts)
    chart = _Shell(
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
    page.add_child(chart)
    return page.render()
