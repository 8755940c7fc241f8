"""What a result tells of the gear, as plain dictionaries and lists."""

from __future__ import annotations

from typing import Any

from towzone.model.gear import Figure, FigureEffect, GearAccount, GearFlag, GearReach, GearTow
from towzone.tables.rounding import DEGREE_DIGITS, known, rounded
from towzone.units import METRE_DIGITS, format_instant

__all__ = ["account_as_data", "reach_as_data"]

_FIGURE_DIGITS = {"m": METRE_DIGITS, "s": METRE_DIGITS}
_OTHER_DIGITS = 4
"""Of figures in other units: a speed in m/s or a share needs more than two digits. Own choice."""


def reach_as_data(reach: GearReach | None) -> dict[str, Any] | None:
    """Return what a row knows of the gear, ``None`` for a row of the vessel."""
    if reach is None:
        return None
    return {
        "nearest_part": reach.nearest_part,
        "tier": reach.tier.value,
        "sigmas": known(reach.sigmas),
        "likely_clearance_m": known(reach.likely_clearance_m),
        "likely_lon_deg": rounded(reach.likely_at[0], DEGREE_DIGITS) if reach.likely_at else None,
        "likely_lat_deg": rounded(reach.likely_at[1], DEGREE_DIGITS) if reach.likely_at else None,
        "rope_clearance_m": known(reach.rope_clearance_m),
        "flags": list(reach.flags),
    }


def account_as_data(account: GearAccount | None) -> dict[str, Any] | None:
    """Return the gear of a check; its paths and corridors are in the GeoJSON only."""
    if account is None:
        return None
    return {"tows": [_tow(tow) for tow in account.tows], "sensitivity": _sensitivity(account)}


def _tow(tow: GearTow) -> dict[str, Any]:
    return {
        "track_id": tow.track_id,
        "tow": tow.tow,
        "computed": not tow.why_not,
        "why_not": tow.why_not,
        "layback_m": [known(length_m) for length_m in tow.layback_m],
        "rope_bound_m": known(tow.rope_bound_m),
        "swept_m2": known(tow.swept_m2),
        "first_contact_utc": format_instant(tow.first_contact_utc),
        "last_contact_utc": format_instant(tow.last_contact_utc),
        "earliest_contact_utc": format_instant(tow.earliest_utc),
        "latest_contact_utc": format_instant(tow.latest_utc),
        "figures": [_figure(figure) for figure in tow.figures],
        "flags": [_flag(flag) for flag in tow.flags],
    }


def _figure(figure: Figure) -> dict[str, Any]:
    digits = _digits(figure)
    return {
        "name": figure.name,
        "value": known(figure.value, digits),
        "sigma": known(figure.sigma, digits),
        "low": known(figure.low, digits),
        "high": known(figure.high, digits),
        "unit": figure.unit,
        "basis": figure.basis.value,
        "source": figure.source,
    }


def _digits(figure: Figure) -> int:
    return _FIGURE_DIGITS.get(figure.unit, _OTHER_DIGITS)


def _flag(flag: GearFlag) -> dict[str, Any]:
    return {
        "kind": flag.kind,
        "from_utc": format_instant(flag.from_utc),
        "to_utc": format_instant(flag.to_utc),
        "words": flag.words,
        "lon_deg": rounded(flag.at[0], DEGREE_DIGITS) if flag.at is not None else None,
        "lat_deg": rounded(flag.at[1], DEGREE_DIGITS) if flag.at is not None else None,
    }


def _sensitivity(account: GearAccount) -> dict[str, Any] | None:
    if not account.effects:
        return None
    return {
        "track_id": account.effects_track_id,
        "tow": account.effects_tow,
        "zone_id": account.effects_zone_id,
        "clearance_m": known(account.effects_clearance_m),
        "effects": [_effect(effect) for effect in account.effects],
    }


def _effect(effect: FigureEffect) -> dict[str, Any]:
    figure, digits = effect.figure, _digits(effect.figure)
    return {
        "name": figure.name,
        "unit": figure.unit,
        "value": known(figure.value, digits),
        "basis": figure.basis.value,
        "low_value": known(effect.low_value, digits),
        "high_value": known(effect.high_value, digits),
        "low_clearance_m": known(effect.low_clearance_m),
        "high_clearance_m": known(effect.high_clearance_m),
    }
