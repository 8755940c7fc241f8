"""The section on the gear: how far astern it was, what that rests on, and what the answer depends on."""

from __future__ import annotations

import numpy as np

from towzone.gear.rigging import figure_words
from towzone.model.gear import Basis, Figure, FigureEffect, GearAccount, GearFlag, GearTow
from towzone.model.result import CheckResult
from towzone.record.plain_table import plain_table, unbroken
from towzone.record.text import SENTENCE, short, shown
from towzone.record.words import BASIS, count_of
from towzone.units import format_length, format_position, format_time

__all__ = ["gear_part"]

_INTRODUCTION = (
    "<p>Where the gear was is computed from the track and the figures below, not measured. No sea trial was "
    "found that shows how trawl doors behave in turns, so there the computed paths are the least certain. "
    "What does not depend on them is the rope bound: whatever the gear did, no part of it was farther from "
    "the antenna than warp, sweeps and net reach.</p>"
)
_DECIMALS = {"m": 1, "s": 0, "deg": 1}


def gear_part(result: CheckResult, account: GearAccount) -> str:
    """Return the section as HTML, without its heading."""
    return "\n".join((_INTRODUCTION, _tows(account), _figures(account), _flags(account), _effects(result)))


def _tows(account: GearAccount) -> str:
    headings = ("Tow", "Layback", "Rope bound", "Down, by the figures", "At the most", "Swept")
    rows = [_tow(tow) for tow in account.tows]
    return plain_table("The gear of each tow.", headings, rows)


def _tow(tow: GearTow) -> tuple[str, ...]:
    who = f'{tow.tow} <span class="second">{shown(tow.track_id, 120)}</span>'
    if tow.why_not:
        return (who, f"not computed: {shown(tow.why_not, SENTENCE)}", "–", "–", "–", "–")
    least_m, most_m = tow.layback_m
    known = bool(np.isfinite([least_m, most_m]).all())
    return (
        who,
        _layback(least_m, most_m) if known else "not known",
        unbroken(f"{tow.rope_bound_m:.0f} m") if np.isfinite(tow.rope_bound_m) else "not known",
        _times(tow.first_contact_utc, tow.last_contact_utc),
        _times(tow.earliest_utc, tow.latest_utc),
        unbroken(f"{tow.swept_m2 / 1e6:.3f} km²") if np.isfinite(tow.swept_m2) else "not known",
    )


def _layback(least_m: float, most_m: float) -> str:
    spread = f"{least_m:.0f} to {most_m:.0f}" if round(least_m) < round(most_m) else f"{most_m:.0f}"
    return unbroken(f"{spread} m")


def _times(begin: np.datetime64, end: np.datetime64) -> str:
    if np.isnat(begin) and np.isnat(end):
        return "times not known"
    return f"{unbroken(format_time(begin))} to {unbroken(format_time(end))}"


def _figures(account: GearAccount) -> str:
    """Return one table for all tows that share their figures."""
    shared: dict[tuple[Figure, ...], list[GearTow]] = {}
    for tow in account.tows:
        if tow.figures:
            shared.setdefault(tow.figures, []).append(tow)
    headings = ("Figure", "Value", "Standard deviation", "Basis", "Source")
    several = len({tow.track_id for tow in account.tows}) > 1
    tables = []
    for figures, tows in shared.items():
        which = ", ".join(f"{tow.tow} of {tow.track_id}" if several else str(tow.tow) for tow in tows)
        word = "tow" if len(tows) == 1 else "tows"
        caption = f"Figures of {word} {which}. {BASIS[Basis.ASSUMED]} ones were stated nowhere."
        tables.append(plain_table(short(caption, SENTENCE), headings, [_figure(f) for f in figures]))
    return "\n".join(tables)


def _figure(figure: Figure) -> tuple[str, ...]:
    return (
        _name(figure),
        unbroken(_value(figure, figure.value)),
        _spread(figure),
        _basis(figure),
        shown(figure.source, SENTENCE),
    )


def _name(figure: Figure) -> str:
    return shown(figure_words(figure.name), 80)


def _basis(figure: Figure) -> str:
    word = BASIS[figure.basis]
    return f"<strong>{word}</strong>" if figure.basis is Basis.ASSUMED else word


def _value(figure: Figure, value: float) -> str:
    if not np.isfinite(value):
        return "not known"
    return f"{value:.{_DECIMALS.get(figure.unit, 2)}f} {short(figure.unit, 20)}"


def _spread(figure: Figure) -> str:
    if figure.low is not None and figure.high is not None:
        low, high = _value(figure, figure.low), _value(figure, figure.high)
        return f"{unbroken(low)} to {unbroken(high)}, 19 times in 20"
    if not np.isfinite(figure.sigma):
        return "not known"
    return unbroken(f"± {figure.sigma:.0f}" if figure.sigma >= 10.0 else f"± {figure.sigma:.2g}")


def _flags(account: GearAccount) -> str:
    rows = [
        (
            f'{tow.tow} <span class="second">{shown(tow.track_id, 120)}</span>',
            _when(flag),
            shown(flag.words, SENTENCE),
        )
        for tow in account.tows
        for flag in tow.flags
    ]
    if not rows:
        return ""
    return plain_table("Where less is known of the gear than elsewhere.", ("Tow", "When", "What"), rows)


def _when(flag: GearFlag) -> str:
    if np.isnat(flag.from_utc) and np.isnat(flag.to_utc):
        return "all of the tow" if flag.at is None else f"from {format_position(*flag.at)}, time not known"
    return _times(flag.from_utc, flag.to_utc)


def _effects(result: CheckResult) -> str:
    account = result.gear
    if account is None or not account.effects:
        return ""
    headings = ("Figure", "Value", "Basis", "If lower", "Clearance then", "If higher", "Clearance then")
    shown_effects = [effect for effect in account.effects if _matters(effect, account.effects_clearance_m)]
    rest = len(account.effects) - len(shown_effects)
    more = f" {count_of(rest, 'figure moves', 'figures move')} it by less than 1 m." if rest else ""
    caption = _effects_caption(account, result) + more
    return plain_table(caption, headings, [_effect(effect) for effect in shown_effects])


def _matters(effect: FigureEffect, base_m: float | None) -> bool:
    """Return whether a figure moves the least clearance by a metre."""
    found = (effect.low_clearance_m, effect.high_clearance_m)
    return base_m is None or any(m is None or abs(m - base_m) >= 1.0 for m in found)


def _effects_caption(account: GearAccount, result: CheckResult) -> str:
    zone_id = account.effects_zone_id or ""
    names = [zone.name for zone in result.zones if zone.zone_id == zone_id]
    clearance_m = account.effects_clearance_m
    is_now = "" if clearance_m is None else f", now {format_length(clearance_m)}"
    whose = short(account.effects_track_id or "", 80)
    zone = short(names[0] if names else zone_id)
    return (
        f"What the least gear clearance depends on: tow {account.effects_tow} of {whose} and {zone}{is_now}."
        " Each figure changed alone by two standard deviations, or to its known limits; the one that matters"
        " most first."
    )


def _effect(effect: FigureEffect) -> tuple[str, ...]:
    figure = effect.figure
    return (
        _name(figure),
        unbroken(_value(figure, figure.value)),
        _basis(figure),
        unbroken(_value(figure, effect.low_value)),
        _clearance(effect.low_clearance_m),
        unbroken(_value(figure, effect.high_value)),
        _clearance(effect.high_clearance_m),
    )


def _clearance(length_m: float | None) -> str:
    if length_m is None:
        return "none: no contact with the bottom, or not to be computed"
    return unbroken(f"{length_m + 0.0:.1f} m")
