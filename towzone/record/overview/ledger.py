"""Long tables: the first rows stand in the page, all of them in its data, from which a script turns pages.

Both are made from the same texts, cleaned once, so that page and script cannot tell different things.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from towzone.record.catalogue import say
from towzone.record.sections.marks import status_mark
from towzone.record.text import escape

__all__ = ["PRINTED", "Cell", "Column", "Command", "Entry", "Form", "Ledger", "ledger_data", "ledger_part"]

PRINTED = 200
"""Rows that stand in the page, and so on paper: some six sheets. Own choice."""

_LOCAL = re.compile(r"records/[A-Za-z0-9][A-Za-z0-9-]*\.html", re.ASCII)

Cell = tuple[str, str]
"""What stands first and what stands below it: plain text, cleaned where it comes from a file."""


class Form(StrEnum):
    """What the cells of a column are."""

    TEXT = "text"
    FIGURE = "figure"
    STATUS = "status"
    CODE = "code"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column; the first is the heading of each row.

    Parameters
    ----------
    name : str
        Our own word; its heading stands under it in the catalogue.
    form : Form
    sorted_by : str
        ``text``: by what stands first; ``key``: by the key of each row; empty: not at all.
    """

    name: str
    form: Form = Form.TEXT
    sorted_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """A command that makes a record: the words between head and tail, which all rows of a table share.

    Parameters
    ----------
    words : str
        Quoted for a shell.
    record : str
        Name of the file it makes; a safe name of our own.
    """

    words: str
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row.

    Parameters
    ----------
    look : str
        Class of the row; our own word.
    cells : tuple of Cell
        One a column.
    keys : mapping of str to float
        By name of the column; a column without one sorts last.
    note : str
        What must be said of it in full; cleaned text, may be empty.
    link : str
        Path of its record beside the page, may be empty.
    command : Command or None
    groups : tuple of int
        Numbers of choices that this row is shown for.
    """

    look: str
    cells: tuple[Cell, ...]
    keys: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    link: str = ""
    command: Command | None = None
    groups: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """A table.

    Parameters
    ----------
    name : str
        Our own word: id in the page, table in the catalogue.
    columns : tuple of Column
    entries : tuple of Entry
        In their first order.
    looks : tuple of (str, str)
        Choices by look: looks apart by blanks, words.
    groups : tuple of str
        Words of the choices that `Entry.groups` numbers; cleaned text.
    head, tail : str
        Beginning and end of every command.
    page : int
        Rows of a page on the screen.
    """

    name: str
    columns: tuple[Column, ...]
    entries: tuple[Entry, ...]
    looks: tuple[tuple[str, str], ...] = ()
    groups: tuple[str, ...] = ()
    head: str = ""
    tail: str = ""
    page: int = 20


def ledger_part(ledger: Ledger) -> str:
    """Return tools, the table with its first rows, and what is left out of it on paper, as HTML."""
    many = len(ledger.entries)
    left = many - PRINTED
    out = ""
    if left > 0:
        words = say(f"overview.{ledger.name}.left_out", printed=PRINTED, all=many)
        out = f'<p class="note left-out">{escape(words)}</p>\n'
    return f"{_tools(ledger)}{_table(ledger)}\n{out}{_pager(ledger)}"


def ledger_data(ledger: Ledger) -> dict[str, object]:
    """Return the same for the script."""
    return {
        "name": ledger.name,
        "columns": [[column.name, str(column.form), column.sorted_by] for column in ledger.columns],
        "head": ledger.head,
        "page": ledger.page,
        "printed": PRINTED,
        "tail": ledger.tail,
        "entries": [_entry_data(entry, ledger) for entry in ledger.entries],
    }


def _entry_data(entry: Entry, ledger: Ledger) -> list[object]:
    keys = [entry.keys.get(column.name) for column in ledger.columns if column.sorted_by == "key"]
    command = None if entry.command is None else [entry.command.words, entry.command.record]
    whole: list[object] = [
        entry.look,
        [first if not second else [first, second] for first, second in entry.cells],
        keys,
        entry.note,
        _checked(entry.link),
        command,
        list(entry.groups),
    ]
    while whole[-1] in ("", None, []):
        whole.pop()
    return whole


def _checked(link: str) -> str:
    """Return a link that leads to a record beside the page, and nowhere else."""
    if link and not _LOCAL.fullmatch(link):
        message = f"{link!r} is no record beside the page"
        raise ValueError(message)
    return link


def _table(ledger: Ledger) -> str:
    head = "".join(_heading(column, ledger) for column in ledger.columns)
    bodies = "\n".join(_body(entry, ledger) for entry in ledger.entries[:PRINTED])
    caption = escape(say(f"overview.{ledger.name}.caption"))
    return (
        f'<table class="ledger" id="{ledger.name}-table"><caption>{caption}</caption>\n'
        f"<thead><tr>{head}</tr></thead>\n{bodies}\n</table>"
    )


def _heading(column: Column, ledger: Ledger) -> str:
    words = escape(say(f"overview.{ledger.name}.heading.{column.name}"))
    return f'<th scope="col" class="l-{column.name}">{words}</th>'


def _body(entry: Entry, ledger: Ledger) -> str:
    cells = "".join(
        _cell(cell, column, i == 0, entry, ledger)
        for i, (cell, column) in enumerate(zip(entry.cells, ledger.columns, strict=True))
    )
    return f'<tbody class="entry s-{entry.look}"><tr>{cells}</tr>{_below(entry, ledger)}</tbody>'


def _cell(cell: Cell, column: Column, first: bool, entry: Entry, ledger: Ledger) -> str:
    top, below = cell
    if column.form is Form.STATUS:
        inner = status_mark(entry.look, top)
    elif column.form is Form.CODE:
        inner = f"<code>{escape(top)}</code>"
    elif column.form is Form.FIGURE:
        inner = f'<span class="nb">{escape(top)}</span>'
    else:
        inner = f"<strong><bdi>{escape(top)}</bdi></strong>" if first else f"<bdi>{escape(top)}</bdi>"
    if not top and not below:
        inner = ""
    if below:
        inner += f' <span class="second"><bdi>{escape(below)}</bdi></span>'
    if first:
        return f'<th class="l-{column.name}" scope="row">{inner}</th>'
    head = escape(say(f"overview.{ledger.name}.heading.{column.name}"))
    return f'<td class="l-{column.name}" data-head="{head}">{inner}</td>'


def _below(entry: Entry, ledger: Ledger) -> str:
    pieces = []
    if entry.note:
        pieces.append(f'<p class="entry-note"><bdi>{escape(entry.note)}</bdi></p>')
    if entry.link:
        words = escape(say("overview.script.record"))
        pieces.append(f'<p><a href="{_checked(entry.link)}">{words}</a></p>')
    if entry.command is not None:
        words = escape(say("overview.script.command"))
        line = escape(f"{ledger.head} {entry.command.words} {ledger.tail} {entry.command.record}")
        pieces.append(f'<details class="make"><summary>{words}</summary><code>{line}</code></details>')
    if not pieces:
        return ""
    return f'<tr class="below"><td colspan="{len(ledger.columns)}">{"".join(pieces)}</td></tr>'


def _tools(ledger: Ledger) -> str:
    """Return the choices above the table; the browser is not to restore an old choice unasked."""
    if len(ledger.entries) < 2:
        return ""
    name = ledger.name
    every = say("overview.tools.every")
    choices = []
    field = f'<input type="search" id="{name}-find" autocomplete="off">'
    choices.append(_choice(f"{name}-find", "find", say("overview.tools.find"), field))
    if ledger.looks:
        options = [("", every), *ledger.looks]
        choices.append(_select(name, "look", say(f"overview.{name}.choice.look"), options))
    if ledger.groups:
        options = [("", every), *((str(i), words) for i, words in enumerate(ledger.groups))]
        choices.append(_select(name, "group", say(f"overview.{name}.choice.group"), options))
    orders = [("", say("overview.tools.first_order"))]
    orders += [(c.name, say(f"overview.{name}.heading.{c.name}")) for c in ledger.columns if c.sorted_by]
    choices.append(_select(name, "order", say("overview.tools.order"), orders))
    label = escape(say(f"overview.{name}.tools"))
    reset = escape(say("overview.tools.reset"))
    return (
        f'<div class="row-tools needs-script" role="group" aria-label="{label}">\n'
        + "\n".join(choices)
        + f'\n<button type="button" id="{name}-reset" hidden>{reset}</button>\n'
        f'<p class="shown-count" id="{name}-count" role="status"></p></div>\n'
    )


def _select(name: str, what: str, words: str, options: Sequence[tuple[str, str]]) -> str:
    listed = "".join(f'<option value="{value}">{escape(text)}</option>' for value, text in options)
    control = f'<select id="{name}-{what}" autocomplete="off">{listed}</select>'
    return _choice(f"{name}-{what}", what, words, control)


def _choice(element_id: str, what: str, words: str, control: str) -> str:
    label = f'<label for="{element_id}">{escape(words)}</label>'
    return f'<span class="choice choice-{what}">{label} {control}</span>'


def _pager(ledger: Ledger) -> str:
    if len(ledger.entries) < 2:
        return ""
    name = ledger.name
    buttons = " ".join(
        f'<button type="button" id="{name}-{way}">{escape(say(f"overview.pager.{way}"))}</button>'
        for way in ("first", "before", "after", "last")
    )
    label = escape(say(f"overview.{name}.pages"))
    return (
        f'<nav class="pager needs-script" aria-label="{label}">{buttons} '
        f'<span id="{name}-page"></span></nav>\n'
    )
