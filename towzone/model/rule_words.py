"""A zone's rules in plain words, for results, records and lists."""

from __future__ import annotations

import calendar
from datetime import datetime

from towzone.model.rules import FEBRUARY_END, Rules, Window

__all__ = ["rule_words"]


def rule_words(rules: Rules) -> list[str]:
    """Return each condition of a rule as a phrase; nothing for a rule that always holds for everyone.

    Examples
    --------
    >>> rule_words(Rules(season=(Window(from_month=12, from_day=1, to_month=2, to_day=31),), gears=("OTB",)))
    ['season 1 December to the last day of February (UTC)', 'covers gear OTB']
    """
    words = []
    if rules.season:
        words.append(f"season {' and '.join(_window(w) for w in rules.season)} ({rules.time_zone})")
    if rules.valid_from is not None:
        words.append(f"from {_instant(rules.valid_from)}")
    if rules.valid_until is not None:
        words.append(f"until {_instant(rules.valid_until)}")
    if rules.gears:
        words.append(f"covers gear {', '.join(rules.gears)}")
    if rules.except_gears:
        words.append(f"spares gear {', '.join(rules.except_gears)}")
    if rules.transit_min_speed_kn is not None:
        words.append(f"crossing at {rules.transit_min_speed_kn:g} kn or more")
    if rules.allowed_only_inside:
        words.append("allowed only inside")
    return words


def _window(window: Window) -> str:
    return f"{_day(window.from_month, window.from_day)} to {_day(window.to_month, window.to_day)}"


def _day(month: int, day: int) -> str:
    name = calendar.month_name[month]
    return f"the last day of {name}" if month == 2 and day == FEBRUARY_END else f"{day} {name}"


def _instant(instant: datetime) -> str:
    return instant.strftime("%Y-%m-%d %H:%M UTC")
