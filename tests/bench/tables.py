"""Tables of figures as text: columns in line, and good to paste where vertical bars make tables."""

from __future__ import annotations

from collections.abc import Sequence


def show(title: str, head: Sequence[str], rows: Sequence[Sequence[object]], notes: Sequence[str] = ()) -> str:
    """Return a table; numbers are rounded to what can be told apart."""
    cells = [list(head), *([figure(cell) for cell in row] for row in rows)]
    widths = [max(len(row[at]) for row in cells) for at in range(len(head))]
    lines = [f"## {title}", ""]
    for number, row in enumerate(cells):
        first, *rest = (
            cell.ljust(widths[0]) if at == 0 else cell.rjust(widths[at]) for at, cell in enumerate(row)
        )
        lines.append("| " + " | ".join([first, *rest]) + " |")
        if number == 0:
            lines.append(
                "|" + "|".join("-" * (w + 1) + ("-" if at == 0 else ":") for at, w in enumerate(widths)) + "|"
            )
    return "\n".join([*lines, *([""] if notes else []), *notes, ""])


def figure(value: object) -> str:
    """Return a number with three digits that matter, or a word as it is."""
    if value is None:
        return ""
    if isinstance(value, float):
        if value == 0.0:
            return "0"
        size = abs(value)
        return f"{value:,.0f}" if size >= 100.0 else f"{value:.1f}" if size >= 10.0 else f"{value:.3g}"
    return f"{value:,}" if isinstance(value, int) else str(value)
