"""The rule properties of a zone (season, validity, gears, transit) to `Rules`, strictly."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta

from towzone.errors import UsageError, quoted
from towzone.model.gears import GEAR_NAMES
from towzone.model.rules import FEBRUARY_END, Rules, Window
from towzone.units import parse_speed

__all__ = ["read_rules"]

_MONTH_DAY = re.compile(r"--(\d\d)-(\d\d|END)")
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_DATE = re.compile(r"\d{4}-\d\d-\d\d")
_END_OF_DAY = re.compile(r"(\d{4}-\d\d-\d\d)[T ]24:00(?::00(?:\.0+)?)?(Z|[+-]\d\d:?\d\d)?")
_OFFSET = re.compile(r"[T ]\d\d:.*(?:Z|[+-]\d\d:?\d\d)$")
_TRUE, _FALSE = ("true", "yes", "1"), ("false", "no", "0")


def read_rules(given: Mapping[str, object]) -> tuple[Rules, list[str], list[str]]:
    """Return the rules of a zone, the problems and the remarks.

    Parameters
    ----------
    given : mapping
        Properties by name, blanks left out, lists as lists.

    Returns
    -------
    Rules
        Of no use when there are problems.
    list of str
        What must be mended.
    list of str
        What a person should look at.
    """
    reader = _RuleReader(given)
    zone = reader.time_zone()
    rules = Rules(
        season=reader.season(),
        valid_from=reader.instant("valid_from", zone, end=False),
        valid_until=reader.instant("valid_until", zone, end=True),
        time_zone=zone.key,
        time_zone_stated="time_zone" in given or not reader.local_dates,
        gears=reader.gears("gears"),
        except_gears=reader.gears("except_gears"),
        transit_min_speed_kn=reader.speed_kn("transit_min_speed"),
        allowed_only_inside=reader.truth("allowed_only_inside"),
    )
    if rules.valid_from and rules.valid_until and rules.valid_from >= rules.valid_until:
        reader.problems.append("property 'valid_until' is not after 'valid_from': the rule would never hold")
    return rules, reader.problems, reader.remarks


class _RuleReader:
    """The properties that were given, and what was wrong with them."""

    def __init__(self, given: Mapping[str, object]) -> None:
        self.given = given
        self.problems: list[str] = []
        self.remarks: list[str] = []
        self.local_dates = False

    def time_zone(self) -> zoneinfo.ZoneInfo:
        name = self.given.get("time_zone", "UTC")
        try:
            return zoneinfo.ZoneInfo(str(name))
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            self._problem("time_zone", name, 'write an IANA name, for example "Europe/Dublin"')
            return zoneinfo.ZoneInfo("UTC")

    def season(self) -> tuple[Window, ...]:
        value = self.given.get("season", [])
        self.local_dates |= bool(value)
        items = value if isinstance(value, (list, tuple)) else [value]
        windows = [self._window(item) for item in items]
        return tuple(window for window in windows if window is not None)

    def _window(self, item: object) -> Window | None:
        form = '[{"from": "--10-01", "to": "--01-31"}], both days inside, --02-END for the last of February'
        if not isinstance(item, Mapping) or set(item) != {"from", "to"}:
            self._problem("season", item, f"write a list like {form}")
            return None
        first, last = self._month_day(item["from"], form), self._month_day(item["to"], form)
        if first is None or last is None:
            return None
        (from_month, from_day), (to_month, to_day) = first, last
        if (to_month, to_day) == (2, 28):
            self.remarks.append("the season ends on 28 February: by its words 29 February is outside it")
        return Window(from_month=from_month, from_day=from_day, to_month=to_month, to_day=to_day)

    def _month_day(self, value: object, form: str) -> tuple[int, int] | None:
        match = _MONTH_DAY.fullmatch(value) if isinstance(value, str) else None
        if match is not None and 1 <= int(match[1]) <= 12:
            month = int(match[1])
            if match[2] == "END" and month == 2:
                return month, FEBRUARY_END
            if match[2] != "END" and 1 <= int(match[2]) <= _DAYS[month - 1]:
                return month, int(match[2])
        self._problem("season", value, f"write a list like {form}")
        return None

    def instant(self, name: str, zone: zoneinfo.ZoneInfo, *, end: bool) -> datetime | None:
        """Return an instant, UTC: of a bare date its beginning, or as an end that of the next day."""
        if name not in self.given:
            return None
        text = str(self.given[name]).strip()
        self.local_dates |= _OFFSET.search(text) is None
        try:
            return _instant(text, zone, end=end)
        except (ValueError, OverflowError):
            example = "2026-05-26, 2026-05-26T24:00Z or 2026-05-26T06:00+01:00"
            self._problem(name, self.given[name], f"write a date or date-time, for example {example}")
            return None

    def gears(self, name: str) -> tuple[str, ...]:
        if name not in self.given:
            return ()
        value = self.given[name]
        items = value if isinstance(value, (list, tuple)) else [value]
        for item in items:
            if not isinstance(item, str) or item not in GEAR_NAMES:
                self._problem(name, item, _gear_advice(item))
        return tuple(str(item) for item in items)

    def speed_kn(self, name: str) -> float | None:
        if name not in self.given:
            return None
        value = self.given[name]
        try:
            return parse_speed(value if isinstance(value, str) else repr(value))
        except UsageError as error:
            self.problems.append(f"property '{name}': {error}")
            return None

    def truth(self, name: str) -> bool:
        if name not in self.given:
            return False
        text = str(self.given[name]).strip().lower()
        if text not in _TRUE + _FALSE:
            self._problem(name, self.given[name], "allowed are true and false")
        return text in _TRUE

    def _problem(self, name: str, value: object, advice: str) -> None:
        self.problems.append(f"property '{name}' has {quoted(value)}; {advice}")


def _gear_advice(item: object) -> str:
    """Return what to write instead of something that is not a gear code."""
    words = [word.strip().upper() for word in str(item).replace(";", ",").split(",")]
    if all(word in GEAR_NAMES for word in words):
        meant = ", ".join(f'"{word}"' for word in words)
        return f"write [{meant}]" if len(words) > 1 else f"did you mean {meant}?"
    return f'write a list of gear codes, for example ["OTB", "TBB"]; known are {", ".join(GEAR_NAMES)}'


def _instant(text: str, zone: zoneinfo.ZoneInfo, *, end: bool) -> datetime:
    if _DATE.fullmatch(text):
        day = date.fromisoformat(text) + timedelta(days=int(end))
        return datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
    late = _END_OF_DAY.fullmatch(text)
    if late is not None:  # 24:00 of a day is 00:00 of the next
        day = date.fromisoformat(late[1]) + timedelta(days=1)
        text = f"{day.isoformat()}T00:00{late[2] or ''}"
    if len(text) <= 10:
        raise ValueError(text)
    instant = datetime.fromisoformat(text)
    return (instant if instant.tzinfo is not None else instant.replace(tzinfo=zone)).astimezone(UTC)
