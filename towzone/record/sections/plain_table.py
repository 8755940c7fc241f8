"""Plain tables of finished cells, and the small pieces that the record's tables share."""

from __future__ import annotations

from collections.abc import Sequence

from towzone.record.catalogue import say
from towzone.record.text import escape
from towzone.units import format_length

__all__ = ["length_cell", "none", "plain_table", "unbroken"]


def unbroken(text: str) -> str:
    """Return our own text as HTML that is kept on one line: a figure parted from its unit misleads."""
    return f'<span class="nb">{escape(text)}</span>'


def length_cell(length_m: float | None) -> str:
    """Return a length as HTML: metres first, nautical miles below."""
    if length_m is None:
        return escape(say("shared.not_known"))
    metres, miles = format_length(length_m).split(" (")
    return f'<strong class="nb">{metres}</strong> <span class="second nb">{miles.rstrip(")")}</span>'


def none(text: str) -> str:
    """Return our own word for an empty table, as HTML."""
    return f'<p class="none">{text}</p>'


def plain_table(caption: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table of finished cells (HTML), wrapped so that it can be scrolled on a narrow screen."""
    head = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in headings)
    body = "\n".join(
        "<tr>"
        + "".join(
            f'<td data-head="{escape(heading)}">{cell}</td>'
            for heading, cell in zip(headings, row, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return (
        f'<table class="plain"><caption>{escape(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody></table>"
    )
