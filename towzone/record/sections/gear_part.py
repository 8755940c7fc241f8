"""The section on the gear: how far astern it was, what that rests on, and what the answer depends on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.gear.rigging import figure_words
from towzone.model.gear import Basis, Figure, FigureEffect, GearAccount, GearFlag, GearTow
from towzone.model.result import CheckResult
from towzone.record.catalogue import markup, say, say_count
from towzone.record.clock import LocalClock
from towzone.record.sections.plain_table import plain_table, unbroken
from towzone.record.text import SENTENCE, escape, short, shown
from towzone.record.words import BASIS
from towzone.units import format_length, format_position

__all__ = ["gear_part"]

_NONE = "–"
_DECIMALS = {"m": 1, "s": 0, "deg": 1}


def gear_part(result: CheckResult, account: GearAccount, clock: LocalClock) -> str:
    """Return the section as HTML, without its heading."""
    introduction = f"<p>{escape(say('evidence.gear.introduction'))}</p>"
    parts = (_tows(account, clock), _figures(account), _flags(account, clock), _effects(result))
    return "\n".join((introduction, *parts))


def _table(caption: str, heads: tuple[str, ...], rows: Sequence[Sequence[str]]) -> str:
    return plain_table(caption, [say(f"evidence.gear.{head}") for head in heads], rows)


def _not_known() -> str:
    return escape(say("shared.not_known"))


def _tows(account: GearAccount, clock: LocalClock) -> str:
    heads = ("tow", "layback", "bound", "down", "most", "swept")
    return _table(say("evidence.gear.caption"), heads, [_tow(tow, clock) for tow in account.tows])


def _tow(tow: GearTow, clock: LocalClock) -> tuple[str, ...]:
    who = f'{tow.tow} <span class="second">{shown(tow.track_id, 120)}</span>'
    if tow.why_not:
        why = markup("evidence.gear.not_computed", why=shown(tow.why_not, SENTENCE))
        return (who, why, _NONE, _NONE, _NONE, _NONE)
    least_m, most_m = tow.layback_m
    known = bool(np.isfinite([least_m, most_m]).all())
    return (
        who,
        _layback(least_m, most_m) if known else _not_known(),
        unbroken(f"{tow.rope_bound_m:.0f} m") if np.isfinite(tow.rope_bound_m) else _not_known(),
        _times(tow.first_contact_utc, tow.last_contact_utc, clock),
        _times(tow.earliest_utc, tow.latest_utc, clock),
        unbroken(f"{tow.swept_m2 / 1e6:.3f} km²") if np.isfinite(tow.swept_m2) else _not_known(),
    )


def _layback(least_m: float, most_m: float) -> str:
    spread = f"{most_m:.0f}"
    if round(least_m) < round(most_m):
        spread = say("evidence.gear.spread", least=f"{least_m:.0f}", most=spread)
    return unbroken(f"{spread} m")


def _times(begin: np.datetime64, end: np.datetime64, clock: LocalClock) -> str:
    if np.isnat(begin) and np.isnat(end):
        return escape(say("evidence.gear.no_times"))
    return markup("evidence.span", begin=clock.html(begin), end=clock.html(end))


def _figures(account: GearAccount) -> str:
    """Return one table for all tows that share their figures."""
    shared: dict[tuple[Figure, ...], list[GearTow]] = {}
    for tow in account.tows:
        if tow.figures:
            shared.setdefault(tow.figures, []).append(tow)
    heads = ("figure", "value", "deviation", "basis", "source")
    several = len({tow.track_id for tow in account.tows}) > 1
    tables = []
    for figures, tows in shared.items():
        which = ", ".join(_which(tow, several) for tow in tows)
        assumed = BASIS[Basis.ASSUMED]
        caption = say_count("evidence.gear.figures", len(tows), which=which, assumed=assumed)
        tables.append(_table(short(caption, SENTENCE), heads, [_figure(f) for f in figures]))
    return "\n".join(tables)


def _which(tow: GearTow, several: bool) -> str:
    return say("evidence.gear.tow_of_track", tow=tow.tow, track=tow.track_id) if several else str(tow.tow)


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
    word = escape(BASIS[figure.basis])
    return f"<strong>{word}</strong>" if figure.basis is Basis.ASSUMED else word


def _value(figure: Figure, value: float) -> str:
    if not np.isfinite(value):
        return say("shared.not_known")
    return f"{value:.{_DECIMALS.get(figure.unit, 2)}f} {short(figure.unit, 20)}"


def _spread(figure: Figure) -> str:
    if figure.low is not None and figure.high is not None:
        low, high = _value(figure, figure.low), _value(figure, figure.high)
        return markup("evidence.gear.often", low=unbroken(low), high=unbroken(high))
    if not np.isfinite(figure.sigma):
        return _not_known()
    return unbroken(f"± {figure.sigma:.0f}" if figure.sigma >= 10.0 else f"± {figure.sigma:.2g}")


def _flags(account: GearAccount, clock: LocalClock) -> str:
    rows = [
        (
            f'{tow.tow} <span class="second">{shown(tow.track_id, 120)}</span>',
            _when(flag, clock),
            shown(flag.words, SENTENCE),
        )
        for tow in account.tows
        for flag in tow.flags
    ]
    return _table(say("evidence.gear.flags"), ("tow", "when", "what"), rows) if rows else ""


def _when(flag: GearFlag, clock: LocalClock) -> str:
    if not (np.isnat(flag.from_utc) and np.isnat(flag.to_utc)):
        return _times(flag.from_utc, flag.to_utc, clock)
    if flag.at is None:
        return escape(say("evidence.gear.whole_tow"))
    return markup("evidence.gear.from_place", place=unbroken(format_position(*flag.at)))


def _effects(result: CheckResult) -> str:
    account = result.gear
    if account is None or not account.effects:
        return ""
    heads = ("figure", "value", "basis", "if_lower", "then_lower", "if_higher", "then_higher")
    shown_effects = [effect for effect in account.effects if _matters(effect, account.effects_clearance_m)]
    rest = len(account.effects) - len(shown_effects)
    more = f" {say_count('evidence.gear.effects_rest', rest)}" if rest else ""
    caption = _effects_caption(account, result) + more
    return _table(caption, heads, [_effect(effect) for effect in shown_effects])


def _matters(effect: FigureEffect, base_m: float | None) -> bool:
    """Return whether a figure moves the least clearance by a metre."""
    found = (effect.low_clearance_m, effect.high_clearance_m)
    return base_m is None or any(m is None or abs(m - base_m) >= 1.0 for m in found)


def _effects_caption(account: GearAccount, result: CheckResult) -> str:
    zone_id = account.effects_zone_id or ""
    names = [zone.name for zone in result.zones if zone.zone_id == zone_id]
    clearance_m = account.effects_clearance_m
    now = "" if clearance_m is None else say("evidence.gear.now", length=format_length(clearance_m))
    return say(
        "evidence.gear.effects",
        tow=account.effects_tow,
        track=short(account.effects_track_id or "", 80),
        zone=short(names[0] if names else zone_id),
        now=now,
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
        return escape(say("evidence.gear.no_contact"))
    return unbroken(f"{length_m + 0.0:.1f} m")
