"""The gear on the screen: what a row knows of it, what its figures rest on, what they do to the answer."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

import numpy as np

from towzone.gear.rigging import figure_words
from towzone.model.gear import Basis, Figure, FigureEffect, GearAccount, GearFlag, GearTow
from towzone.model.result import CheckResult, Row
from towzone.tables.cells import plain
from towzone.units import format_length, format_position, format_time
from towzone.words import counted

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

_SPANS_TOLD = 3

_DECIMALS = {"m": 1, "s": 0, "deg": 1}
_FIGURES = "    {:<22} {:<12} {:<20} {:<9} {}"
_EFFECTS = "  {:<22}{:<13}{:<10}{:<11}{:<12}{:<11}{}"


def reach_lines(row: Row) -> list[str]:
    """Return what a row knows of the gear beyond its clearance; nothing for a row of the vessel."""
    reach = row.gear
    if reach is None:
        return []
    likely, rope = _likely(reach.likely_clearance_m), _clearance(reach.rope_clearance_m)
    return [f"     likely corridor ({reach.sigmas:g} sigmas) {likely}, rope bound {rope}"]


def _likely(length_m: float | None) -> str:
    """Return the clearance of the likely corridor; one that reaches the zone is not known to be so deep."""
    if length_m is not None and length_m <= 0.0:
        return "reaches the boundary or beyond (how far is not computed)"
    return _clearance(length_m)


def _clearance(length_m: float | None) -> str:
    return "not computed" if length_m is None else format_length(length_m)


def gear_lines(result: CheckResult, *, verbose: bool) -> list[str]:
    """Return the section on the gear; empty where no figures of it were given.

    The figures are listed with ``verbose``: those of the first tow, and of further tows where they differ.
    """
    account = result.gear
    if account is None or not account.tows:
        return []
    several = len({tow.track_id for tow in account.tows}) > 1 or len(result.tracks) > 1
    lines, first = ["Gear:"], None
    for tow in account.tows:
        who = f"Tow {tow.tow}" + (f" of {plain(tow.track_id)}" if several else "")
        lines += list(_tow(tow, who))
        if not verbose:
            continue
        if first is None and tow.figures:
            first = (who, tow.figures)
            lines.append(_FIGURES.format("figure", "value", "± 1 sigma", "basis", "source"))
            lines += [line for figure in tow.figures for line in _figure(figure)]
        elif first is not None and tow.figures:
            lines += _figures_again(tow.figures, *first)
    return [*lines, "", *_sensitivity(account, result, verbose=verbose)]


def _tow(tow: GearTow, who: str) -> Iterator[str]:
    if tow.why_not:
        yield _wrapped(f"{who}: not computed. {tow.why_not}", "    ", first="  ")
        return
    least, most = tow.layback_m
    layback = ""
    if np.isfinite([least, most]).all():
        spread = f"{least:.0f} to {most:.0f}" if round(least) < round(most) else f"{most:.0f}"
        layback = f"layback {spread} m"
    rope = (
        f"no part farther than {tow.rope_bound_m:.0f} m from the antenna, whatever it did"
        if np.isfinite(tow.rope_bound_m)
        else ""
    )
    swept = f"swept {tow.swept_m2 / 1e6:.3f} km2" if np.isfinite(tow.swept_m2) else ""
    told = ", ".join(part for part in (layback, rope, swept) if part)
    yield _wrapped(f"{who}: {told or 'no figures'}.", "    ", first="  ")
    where = "On the bottom" if tow.on_bottom else "At its depth"
    yield _wrapped(f"{where} {_contact(tow)}.", "    ", first="    ")
    for kind in dict.fromkeys(flag.kind for flag in tow.flags):
        same = [flag for flag in tow.flags if flag.kind == kind]
        yield _wrapped(f"- {_spans(same)}{same[0].words}", "      ", first="    ")


def _contact(tow: GearTow) -> str:
    times = (tow.first_contact_utc, tow.last_contact_utc, tow.earliest_utc, tow.latest_utc)
    if all(np.isnat(time) for time in times):
        return "at times that are not known"
    by_figures = f"from {format_time(times[0])} to {format_time(times[1])} by the figures"
    return f"{by_figures}, at the most from {format_time(times[2])} to {format_time(times[3])}"


def _spans(flags: list[GearFlag]) -> str:
    """Say when flags of one kind held."""
    known = [flag for flag in flags if not np.isnat(flag.from_utc) and not np.isnat(flag.to_utc)]
    if known:
        ends = [(flag.from_utc, flag.to_utc) for flag in known[:_SPANS_TOLD]]
        spans = [f"{format_time(first)} to {format_time(last)}" for first, last in ends]
    else:
        places = [flag.at for flag in flags if flag.at is not None]
        spans = [f"from {format_position(*place)}" for place in places[:_SPANS_TOLD]]
    if not spans:
        return ""
    more = f" and {counted(len(flags) - len(spans), 'more stretch', 'more stretches')}"
    return f"{'; '.join(spans)}{more if len(flags) > len(spans) else ''}: "


def _figures_again(figures: tuple[Figure, ...], who: str, known: tuple[Figure, ...]) -> list[str]:
    if figures == known:
        return [f"    Figures as of {who[0].lower()}{who[1:]}."]
    return [line for figure in figures for line in _figure(figure)]


def _figure(figure: Figure) -> Iterator[str]:
    name = figure_words(figure.name)
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


def _sensitivity(account: GearAccount, result: CheckResult, *, verbose: bool) -> list[str]:
    if not account.effects:
        return []
    shown = [effect for effect in account.effects if verbose or _moves(effect, account)]
    lines = [
        _wrapped(f"What the least gear clearance depends on: {_row_named(account, result)}", "  "),
        _EFFECTS.format("figure", "value", "basis", "lower", "clearance", "higher", "clearance"),
        *(_effect(effect) for effect in shown),
    ]
    if len(shown) < len(account.effects):
        lines.append(f"  {len(account.effects) - len(shown)} more move it by less than 1 m (-v lists them)")
    if any(None in (effect.low_clearance_m, effect.high_clearance_m) for effect in shown):
        lines.append("  none: no contact with the bottom, or not to be computed")
    return [*lines, ""]


def _moves(effect: FigureEffect, account: GearAccount) -> bool:
    """Return whether a figure moves the clearance by a metre."""
    base = account.effects_clearance_m
    found = (effect.low_clearance_m, effect.high_clearance_m)
    return base is None or any(m is None or abs(m - base) >= 1.0 for m in found)


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
        plain(figure_words(figure.name)),
        _value(figure, figure.value),
        _BASIS[figure.basis],
        _value(figure, effect.low_value),
        _metres(effect.low_clearance_m),
        _value(figure, effect.high_value),
        _metres(effect.high_clearance_m),
    )


def _metres(length_m: float | None) -> str:
    return "none" if length_m is None else f"{length_m + 0.0:.1f} m"


def _wrapped(text: str, indent: str, *, first: str = "") -> str:
    return textwrap.fill(plain(text), _WIDTH, initial_indent=first, subsequent_indent=indent)
