"""The rules of a zone on one day of the calendar."""

from __future__ import annotations

import zoneinfo
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from towzone.model.rules import Rules

__all__ = ["InForce", "day_span", "in_force_on", "next_change_after"]


class InForce(StrEnum):
    """Whether a rule holds on a day."""

    YES = "yes"
    NO = "no"
    PART = "part of the day"


def day_span(day: date, time_zone: str) -> tuple[datetime, datetime]:
    """Return the instants, UTC, at which a day begins and the next one does in a time zone."""
    zone = zoneinfo.ZoneInfo(time_zone)
    first, second = (
        datetime.combine(d, time(), zone).astimezone(UTC) for d in (day, day + timedelta(days=1))
    )
    return first, second


def in_force_on(rules: Rules, day: date) -> InForce:
    """Return whether a rule holds on a day of its own time zone."""
    begin, end = day_span(day, rules.time_zone)
    spans = rules.spans(begin, end)
    if not spans:
        return InForce.NO
    return InForce.YES if spans == [(begin, end)] else InForce.PART


def next_change_after(rules: Rules, day: date) -> datetime | None:
    """Return when, UTC, a rule first begins or ceases to hold after the beginning of a day."""
    return rules.next_change(day_span(day, rules.time_zone)[0])
