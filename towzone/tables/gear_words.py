"""The gear on the screen: what a row knows of it, what its figures rest on, what they do to the answer."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

import numpy as np

from towzone.model.gear import Basis, Figure, FigureEffect, GearAccount, GearFlag, GearReach, GearTow
from towzone.model.result import CheckResult, Row
from towzone.tables.cells import plain
from towzone.units import format_length, format_time

__all__ = ["gear_lines", "reach_lines"]

_WIDTH = 100

_BASIS = {
    Basis.STATED: "stated",
    Basis.TRACK: "track",
    Basis.HAUL_LOG: "haul log",
    Basis.DERIVED: "derived",
    Basis.ASSUMED: "ASSUMED",
}
"""Capitals for the one that nobody stated: it must not be overlooked."""

_DECIMALS = {"m": 1, "s": 0, "deg": 1}
_FIGURES = "    {:<22} {:<12} {:<20} {:<9} {}"
_EFFECTS = "  {:<22}{:<13}{:<10}{:<10}{:<12}{:<10}{}"


def reach_lines(row: Row, result: CheckResult) -> list[str]:
    """Return what a row knows of the gear beyond its clearance; nothing for a row of the vessel."""
    reach = row.gear
    if reach is None:
        return []
    likely = _clearance(reach.likely_clearance_m)
    rope = _clearance(reach.rope_clearance_m)
    lines = [f"     likely corridor ({reach.sigmas:g} sigmas) {likely}, rope bound {rope}"]
    return lines + [
        _wrapped(f"- {words}", "       ", first="     ") for words in _flags_there(row, reach, result)
    ]


def _flags_there(row: Row, reach: GearReach, result: CheckResult) -> Iterator[str]:
    tows = result.gear.tows if result.gear is not None else ()
    said = {
        flag.kind: flag.words
        for tow in tows
        if (tow.track_id, tow.tow) == (row.track_id, row.tow)
        for flag in reversed(tow.flags)
    }
    for kind in reach.flags:
        yield said.get(kind, kind.replace("_", " "))


def _clearance(length_m: float | None) -> str:
    return "not computed" if length_m is None else format_length(length_m)


def gear_lines(result: CheckResult, *, verbose: bool) -> list[str]:
    """Return the section on the gear; empty where no figures of it were given.

    The figures of the first tow are listed, those of further tows with ``verbose`` where they differ.
    """
    account = result.gear
    if account is None or not account.tows:
        return []
    several = len({tow.track_id for tow in account.tows}) > 1 or len(result.tracks) > 1
    lines, first = ["Gear:"], None
    for tow in account.tows:
        who = f"Tow {tow.tow}" + (f" of {plain(tow.track_id)}" if several else "")
        lines += list(_tow(tow, who))
        if first is None and tow.figures:
            first = (who, tow.figures)
            lines.append(_FIGURES.format("figure", "value", "± 1 sigma", "basis", "source"))
            lines += [line for figure in tow.figures for line in _figure(figure)]
        elif first is not None and tow.figures:
            lines += _figures_again(tow.figures, *first, verbose=verbose)
    return [*lines, "", *_sensitivity(account, result)]


def _tow(tow: GearTow, who: str) -> Iterator[str]:
    if tow.why_not:
        yield _wrapped(f"{who}: not computed. {tow.why_not}", "    ", first="  ")
        return
    least, most = tow.layback_m
    layback = f"layback {least:.0f} to {most:.0f} m" if np.isfinite([least, most]).all() else ""
    rope = (
        f"no part farther than {tow.rope_bound_m:.0f} m from the antenna, whatever it did"
        if np.isfinite(tow.rope_bound_m)
        else ""
    )
    swept = f"swept {tow.swept_m2 / 1e6:.3f} km2" if np.isfinite(tow.swept_m2) else ""
    told = ", ".join(part for part in (layback, rope, swept) if part)
    yield _wrapped(f"{who}: {told or 'no figures'}.", "    ", first="  ")
    yield _wrapped(f"On the bottom {_contact(tow)}.", "    ", first="    ")
    for flag in tow.flags:
        yield _wrapped(f"- {_span(flag)}{flag.words}", "      ", first="    ")


def _contact(tow: GearTow) -> str:
    times = (tow.first_contact_utc, tow.last_contact_utc, tow.earliest_utc, tow.latest_utc)
    if all(np.isnat(time) for time in times):
        return "at times that are not known"
    by_figures = f"from {format_time(times[0])} to {format_time(times[1])} by the figures"
    return f"{by_figures}, at the most from {format_time(times[2])} to {format_time(times[3])}"


def _span(flag: GearFlag) -> str:
    if np.isnat(flag.from_utc) and np.isnat(flag.to_utc):
        return ""
    return f"{format_time(flag.from_utc)} to {format_time(flag.to_utc)}: "


def _figures_again(
    figures: tuple[Figure, ...], who: str, known: tuple[Figure, ...], *, verbose: bool
) -> list[str]:
    if figures == known:
        return [f"    Figures as of {who[0].lower()}{who[1:]}."]
    if not verbose:
        return [f"    Figures other than of {who[0].lower()}{who[1:]} (-v lists them)."]
    return [line for figure in figures for line in _figure(figure)]


def _figure(figure: Figure) -> Iterator[str]:
    name = figure.name.replace("_", " ")
    values = (name, _value(figure, figure.value), _spread(figure), _BASIS[figure.basis], figure.source)
    yield _wrapped(_FIGURES.format(*values), "      ")


def _value(figure: Figure, value: float) -> str:
    decimals = _DECIMALS.get(figure.unit, 2)
    return f"{value:.{decimals}f} {figure.unit}" if np.isfinite(value) else "not known"


def _spread(figure: Figure) -> str:
    if figure.low is not None and figure.high is not None:
        return f"({_value(figure, figure.low)} to {_value(figure, figure.high)})"
    if not np.isfinite(figure.sigma):
        return "spread not known"
    return f"± {figure.sigma:.0f}" if figure.sigma >= 10.0 else f"± {figure.sigma:.2g}"


def _sensitivity(account: GearAccount, result: CheckResult) -> list[str]:
    if not account.effects:
        return []
    lines = [
        _wrapped(f"What the least gear clearance depends on: {_row_named(account, result)}", "  "),
        _EFFECTS.format("figure", "value", "basis", "lower", "clearance", "higher", "clearance"),
        *(_effect(effect) for effect in account.effects),
    ]
    if any(None in (effect.low_clearance_m, effect.high_clearance_m) for effect in account.effects):
        lines.append("  none: no contact with the bottom, or not to be computed")
    return [*lines, ""]


def _row_named(account: GearAccount, result: CheckResult) -> str:
    whose = f" of {account.effects_track_id}" if len(result.tracks) > 1 else ""
    names = [zone.name for zone in result.zones if zone.zone_id == account.effects_zone_id]
    name = f"  {names[0]}" if names and names[0] != account.effects_zone_id else ""
    clearance = account.effects_clearance_m
    is_now = "" if clearance is None else f", {format_length(clearance)}"
    return f"tow {account.effects_tow}{whose}, {account.effects_zone_id}{name}{is_now}"


def _effect(effect: FigureEffect) -> str:
    figure = effect.figure
    return _EFFECTS.format(
        plain(figure.name.replace("_", " ")),
        _value(figure, figure.value),
        _BASIS[figure.basis],
        _bare(figure, effect.low_value),
        _metres(effect.low_clearance_m),
        _bare(figure, effect.high_value),
        _metres(effect.high_clearance_m),
    )


def _bare(figure: Figure, value: float) -> str:
    return _value(figure, value).removesuffix(f" {figure.unit}")


def _metres(length_m: float | None) -> str:
    return "none" if length_m is None else f"{length_m + 0.0:.1f} m"


def _wrapped(text: str, indent: str, *, first: str = "") -> str:
    return textwrap.fill(plain(text), _WIDTH, initial_indent=first, subsequent_indent=indent)
