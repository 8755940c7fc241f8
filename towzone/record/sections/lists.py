"""Sections that fold, and the tables of what a result rests on: remarks, inputs, settings."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from towzone.model.result import InputFile, Remark
from towzone.record.catalogue import markup, say
from towzone.record.sections.plain_table import none, plain_table
from towzone.record.text import SENTENCE, escape, shown

__all__ = ["evidence_table", "inputs_table", "pairs_table", "remarks_table", "section"]

_NONE = "–"


def section(name: str, content: str, count: int | None = None, *, opened: bool = False) -> str:
    """Return a section that a reader can fold; how much is in it stands beside its title."""
    title = escape(say(f"evidence.title.{name}"))
    how_many = "" if count is None else f' <span class="how-many">{count}</span>'
    return (
        f'<section class="evidence" id="{name.replace("_", "-")}"><details{" open" if opened else ""}>'
        f"<summary><h2>{title}</h2>{how_many}</summary>\n{content}\n</details></section>"
    )


def evidence_table(name: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table of finished cells; its words stand under its name in the catalogue."""
    titles = [say(f"evidence.{name}.{head}") for head in heads]
    return plain_table(say(f"evidence.{name}.caption"), titles, rows)


def _none_stated() -> str:
    return none(escape(say("evidence.none_stated")))


def remarks_table(name: str, remarks: Sequence[Remark]) -> str:
    """Return remarks as a table, whose words stand under its name in the catalogue."""
    if not remarks:
        return none(escape(say("evidence.none")))
    rows = [
        (shown(remark.file) if remark.file else _NONE, shown(remark.where), shown(remark.message, SENTENCE))
        for remark in remarks
    ]
    return evidence_table(name, ("file", "where", "what"), rows)


def inputs_table(inputs: Sequence[InputFile]) -> str:
    """Return the inputs with their digests as a table."""
    if not inputs:
        return _none_stated()
    rows = [
        (shown(entry.file), f"<code>{shown(entry.sha256, 80)}</code>", f"{entry.bytes}", _contents(entry))
        for entry in inputs
    ]
    return evidence_table("inputs", ("file", "sha", "bytes", "contents"), rows)


def _contents(entry: InputFile) -> str:
    counted = ", ".join(
        markup("evidence.inputs.tally", count=str(count), what=shown(word, 80).replace("_", " "))
        for word, count in entry.tally.items()
        if count
    )
    form = shown(entry.form, 80) if entry.form else ""
    return ": ".join(part for part in (form, counted) if part) or _NONE


def pairs_table(values: Mapping[str, object], caption: str) -> str:
    """Return settings or methods as a table; ``caption`` is its key in the catalogue."""
    if not values:
        return _none_stated()
    given = [name for name in sorted(values) if values[name] not in (None, [], ())]
    rows = [(f"<code>{shown(name, 80)}</code>", shown(_plain(values[name]), SENTENCE)) for name in given]
    silent = ", ".join(f"<code>{shown(name, 80)}</code>" for name in sorted(set(values) - set(given)))
    if silent:
        rows.append((escape(say("evidence.settings.not_given")), silent))
    heads = [say("evidence.settings.name"), say("evidence.settings.value")]
    return plain_table(say(caption), heads, rows)


def _plain(value: object) -> str:
    """Return a setting as text: JSON for all but text, without the last digits that binary fractions add."""
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        value = {name: _rounded(some) for name, some in value.items()}
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False)


def _rounded(value: object) -> object:
    return float(f"{value:.12g}") if isinstance(value, float) else value
