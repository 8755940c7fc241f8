"""Lists of statistical rectangles to zones: the rectangles of a list, merged into one shape."""

from __future__ import annotations

from collections.abc import Mapping

from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.asking import Asker
from towzone.files.draft_check import check_drafts
from towzone.geodesy.lines import LineKind
from towzone.grids.cells import CodeGrid
from towzone.grids.dissolve import dissolve
from towzone.grids.lists import Item, ListedArea, grid_of, parse_rectangles
from towzone.model.draft import Converted, Draft, Echo
from towzone.model.zone import ZoneKind
from towzone.units import format_position
from towzone.words import counted

__all__ = ["convert_rectangles"]

_SAME_EDGES = (
    "rectangles are bounded by parallels and meridians, where rhumb lines and lon/lat lines are the same;"
    " the zone states rhumb"
)


def convert_rectangles(
    text: str,
    properties: Mapping[str, object],
    *,
    answers: Mapping[int, str] | None = None,
    file: str = "rectangle list",
) -> Converted:
    """Return one zone for each list of rectangles in a text.

    Parameters
    ----------
    text : str
        As `towzone.grids.lists.parse_rectangles` reads it.
    properties : mapping
        Zone properties for all of them; with several lists, labels are added to ``name`` and ``zone_id``.
    answers : mapping, optional
        Answers to questions, by number.
    file : str
        Named in messages.

    Raises
    ------
    InputError
        The text is not a list of rectangles; everything wrong is named.
    UsageError
        ``edges`` would leave the parallels, or an answer is not possible.
    """
    edges = properties.get("edges", LineKind.RHUMB.value)
    if edges not in (LineKind.RHUMB, LineKind.LONLAT):
        message = (
            f"edges {quoted(edges)} do not fit rectangles, which are bounded by parallels and meridians;"
            " use rhumb or lonlat, or leave it out"
        )
        raise UsageError(message)
    asker = Asker(answers or {})
    grid = grid_of(text)
    areas = parse_rectangles(text, ask=asker.ask, file=file)
    given = {key: value for key, value in properties.items() if value is not None}
    if "kind" not in given:
        question = "what kind of zone is this? (--kind answers it as well)"
        kind = asker.ask("", question, tuple(ZoneKind))
        given |= {"kind": kind} if kind else {}
    questions = asker.questions()
    remarks = [("", _SAME_EDGES)] if "edges" not in given else []
    remarks += [remark for area in areas for remark in _remarks(area, grid)] + asker.answered
    empty = [area for area in areas if not area.cells]
    if empty and not questions:
        problems = [Problem(area.where, "every rectangle listed is taken out again") for area in empty]
        raise InputError(file, problems)
    drafts = [
        (area.where, _draft(area, grid, {"edges": edges} | given, several=len(areas) > 1))
        for area in areas
        if area.cells
    ]
    if not questions:
        remarks += check_drafts(file, drafts)
    return Converted(
        drafts=tuple(draft for _, draft in drafts),
        echoes=tuple(_echo(item, grid) for area in areas for item in area.items),
        questions=questions,
        remarks=tuple(remarks),
    )


def _draft(area: ListedArea, grid: CodeGrid, given: Mapping[str, object], *, several: bool) -> Draft:
    listed = f"{grid.name.removesuffix(' grid')} statistical rectangles {_words(area)}"
    properties = dict(given)
    properties["note"] = f"{given['note']}; {listed}" if given.get("note") else listed
    if area.label and ("name" not in given or several):
        properties["name"] = f"{given['name']} {area.label}" if "name" in given else area.label
    if area.label and several and "zone_id" in given:
        properties["zone_id"] = f"{given['zone_id']}-{area.label}"
    return Draft(shape=dissolve(grid, area.cells), properties=properties)


def _words(area: ListedArea) -> str:
    put_in = "; ".join(item.words for item in area.items if not item.taken_out)
    out = ", ".join(item.words for item in area.items if item.taken_out)
    return f"{put_in} excluding {out}" if out else put_in


def _remarks(area: ListedArea, grid: CodeGrid) -> list[tuple[str, str]]:
    """Return what may be a misprint but changes nothing."""
    found: list[tuple[str, str]] = []
    seen: set[tuple[int, int]] = set()
    for item in (item for item in area.items if not item.taken_out):
        if twice := [grid.code(cell) for cell in item.cells if cell in seen]:
            found.append((item.where, f"{quoted(item.words)} lists {_some(twice)} again"))
        seen.update(item.cells)
    for item in (item for item in area.items if item.taken_out):
        if absent := [grid.code(cell) for cell in item.cells if cell not in seen]:
            message = f"{quoted(item.words)} takes out {_some(absent)}, which is not in the list: a misprint?"
            found.append((item.where, message))
    return found


def _some(codes: list[str]) -> str:
    return ", ".join(codes[:5]) + (f" and {len(codes) - 5} more" if len(codes) > 5 else "")


def _echo(item: Item, grid: CodeGrid) -> Echo:
    if item.is_open:
        return Echo(where=item.where, words=item.words, read="open: see the questions")
    low = min(row for row, _ in item.cells), min(column for _, column in item.cells)
    high = max(row for row, _ in item.cells), max(column for _, column in item.cells)
    south_west = grid.corner_deg(*low)
    north_east = grid.corner_deg(high[0] + 1, high[1] + 1)
    codes = grid.code(low) if low == high else f"{grid.code(low)} to {grid.code(high)}"
    word = "taken out, " if item.taken_out else ""
    read = (
        f"{word}{counted(len(item.cells), 'rectangle')}, {codes}: from {format_position(*south_west)}"
        f" to {format_position(*north_east)}"
    )
    return Echo(where=item.where, words=item.words, read=read)
