"""A vessel profile to fill in, as TOML with a comment on every figure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from towzone.errors import UsageError, quoted
from towzone.files.vessel_words import TemplateLine, lines_of_gear, margin_lines, position_lines, vessel_lines
from towzone.gear.rigs import usual_rig, why_not_modelled
from towzone.model.gears import GEAR_NAMES

__all__ = ["vessel_template"]

_WIDTH = 96


def vessel_template(gear: str, *, filled: bool = False) -> str:
    """Return a vessel profile for a gear, as TOML with comments.

    Parameters
    ----------
    gear : str
        A code of `towzone.model.gears.GEAR_NAMES`.
    filled : bool
        Whether the example figures hold; else each has a ``#`` before it and states nothing.

    Raises
    ------
    UsageError
        No gear code.

    Examples
    --------
    >>> vessel_template("OTB").splitlines()[0]
    '# Vessel profile for towzone: what is known of a vessel and its gear before it sails.'
    """
    if gear not in GEAR_NAMES:
        message = f"{quoted(gear)} is not a gear code; known are {', '.join(GEAR_NAMES)}"
        raise UsageError(message)
    tables = {"vessel": vessel_lines(gear), "position": position_lines(gear), **lines_of_gear(gear)}
    parts = [_head(filled=filled), *(_table(name, lines, filled=filled) for name, lines in tables.items())]
    if usual_rig(gear) is None:
        parts.append(_comment(f"No table [gear]: {why_not_modelled(gear)}"))
    return "\n".join([*parts, _table("margins", margin_lines(), filled=filled)])


def _head(*, filled: bool) -> str:
    title = "Vessel profile for towzone: what is known of a vessel and its gear before it sails."
    use = (
        "The figures are those of an invented vessel, and none counts while a # stands before its name. Put "
        "in your own figure, then take that # away. Leave alone what you do not know: what is taken for it "
        "stands beside it, is printed as ASSUMED with every result, and makes the result less sure."
    )
    if filled:
        use = "The figures are those of an invented vessel."
    units = (
        "Every figure carries its unit: m, km, nmi or ftm (fathoms) for lengths; kn, km/h or m/s for speeds; "
        "s, min or h for times; l/h (litres an hour) for fuel."
    )
    return "".join(f"{_comment(text)}" for text in (title, use, units))


def _comment(text: str) -> str:
    return textwrap.fill(text, _WIDTH, initial_indent="# ", subsequent_indent="# ") + "\n"


def _table(name: str, lines: list[TemplateLine], *, filled: bool) -> str:
    empty = filled and all(line.spare for line in lines)
    body = "".join(part for line in lines for part in _written(line, filled=filled))
    return f"{'#' if empty else ''}[{name}]\n{body}"


def _written(line: TemplateLine, *, filled: bool) -> Iterator[str]:
    yield _comment(f"{line.words} If left out: {line.left_out}." if line.left_out else line.words)
    holds = (filled and not line.spare) or not line.left_out
    yield f"{'' if holds else '#'}{line.key} = {line.example}\n"
